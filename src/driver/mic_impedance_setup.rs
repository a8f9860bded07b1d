//! Setup of the impedance check by microphone, and what may not stand in it.

use super::impedance_setup::{within, CoilChoice, ImpedanceSetup, LOWEST_HZ};
use crate::electrical::calibration::RESISTOR_RELATIVE_UNCERTAINTY;
use crate::electrical::one_channel::Resistor;
use crate::signal::role_take::{RoleTake, SetupError};
use crate::signal::stimulus::travel_factor;
use serde::{Deserialize, Serialize};

/// Band in Hz where none is asked for: below it rooms rumble, above it the pressure at one place is not the cone's mean.
const BAND_HZ: [f64; 2] = [8.0, 800.0];

/// What a take can show.
const ROLES: [&str; 5] = ["without", "with", "with_shaped", "loaded", "silence"];

/// Setup of the check; the takes come apart from it, in the order in which they were taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct MicImpedanceSetup {
    /// Resistor that is put in series in Ω.
    pub series_resistor_ohm: f64,
    /// Its relative standard uncertainty (0.005 where absent).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub series_resistor_relative_uncertainty: Option<f64>,
    /// Channel of the microphone, counted from 1.
    pub channel: usize,
    /// Resistance of the amplifier's output in Ω; it adds to the impedance, so without it R_e is that of both.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub output_resistance_ohm: Option<f64>,
    /// By how much the takes `with_shaped` were played louder, in dB (0 where absent).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub shaped_louder_db: Option<f64>,
    /// How they were shaped besides, so that the cone travels alike (`travel_factor` of the stimulus): resonance in Hz, and
    /// its Q without and with the resistor. All three or none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub shaped_at_hz: Option<f64>,
    /// Q without the resistor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub shaped_q_without: Option<f64>,
    /// Q with the resistor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub shaped_q_with: Option<f64>,
    /// The coil's resistance by a meter: a second opinion on the series resistor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub r_e_ohm: Option<f64>,
    /// Band to be used in Hz.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub band_hz: Option<[f64; 2]>,
    /// Voice-coil model.
    #[serde(default)]
    pub coil_model: CoilChoice,
    /// Whether the suspension creeps in the model; the criterion decides where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub suspension_creep: Option<bool>,
}

/// The takes by what they are for.
pub enum Sorted<'a> {
    /// Everything that a reading needs.
    Reading {
        /// Without the resistor, before and after.
        without: [&'a RoleTake; 2],
        /// With the resistor in series, played as those without.
        with: Vec<&'a RoleTake>,
        /// With the resistor in series, played louder and shaped.
        shaped: Vec<&'a RoleTake>,
        /// Without it, another resistor across the output.
        loaded: Option<&'a RoleTake>,
    },
    /// What a forecast needs: silence and one take of the driver.
    Forecast {
        /// Nothing played.
        silence: &'a RoleTake,
        /// Without the resistor.
        without: &'a RoleTake,
    },
}

impl MicImpedanceSetup {
    /// A setup with nothing but the resistor, on channel 1.
    pub fn plain(series_resistor_ohm: f64) -> Self {
        MicImpedanceSetup {
            series_resistor_ohm,
            series_resistor_relative_uncertainty: None,
            channel: 1,
            output_resistance_ohm: None,
            shaped_louder_db: None,
            shaped_at_hz: None,
            shaped_q_without: None,
            shaped_q_with: None,
            r_e_ohm: None,
            band_hz: None,
            coil_model: CoilChoice::Automatic,
            suspension_creep: None,
        }
    }

    /// The series resistor as believed.
    pub fn series(&self) -> Resistor {
        let relative = self.series_resistor_relative_uncertainty.unwrap_or(RESISTOR_RELATIVE_UNCERTAINTY);
        Resistor { ohm: self.series_resistor_ohm, relative }
    }

    /// The resistor across the output, believed as the one in series.
    pub fn across(&self, take: &RoleTake) -> Resistor {
        Resistor { ohm: take.resistor_ohm.unwrap_or_default(), ..self.series() }
    }

    /// What the fit is to be told of curves that begin at a frequency.
    pub fn fit(&self, begins_hz: f64) -> ImpedanceSetup {
        let [low, high] = self.band();
        ImpedanceSetup {
            r_e_ohm: self.r_e_ohm,
            band_hz: Some([if begins_hz.is_finite() { begins_hz.max(low) } else { low }, high]),
            coil_model: self.coil_model,
            suspension_creep: self.suspension_creep,
            ..ImpedanceSetup::plain(self.series_resistor_ohm)
        }
    }

    /// Band that is used, in Hz.
    pub fn band(&self) -> [f64; 2] {
        self.band_hz.unwrap_or(BAND_HZ)
    }

    /// By how much a line of the takes `with_shaped` was played louder.
    pub fn played(&self, hz: f64) -> f64 {
        let shape = [self.shaped_at_hz, self.shaped_q_without, self.shaped_q_with].map(|x| x.unwrap_or(0.0));
        let factor = if self.shaped_at_hz.is_some() { travel_factor(shape, hz) } else { 1.0 };
        factor * 10f64.powf(self.shaped_louder_db.unwrap_or(0.0) / 20.0)
    }

    /// Checks the setup together with its takes and sorts them.
    ///
    /// # Errors
    /// [`SetupError`] naming the field: a value that cannot be, an unknown role, a take that is missing.
    pub fn check<'a>(&self, takes: &'a [RoleTake]) -> Result<Sorted<'a>, SetupError> {
        within("series_resistor_ohm", Some(self.series_resistor_ohm), 1e-2, 1e6)?;
        within("series_resistor_relative_uncertainty", self.series_resistor_relative_uncertainty, 0.0, 0.5)?;
        within("output_resistance_ohm", self.output_resistance_ohm, 0.0, 1e3)?;
        within("r_e_ohm", self.r_e_ohm, 1e-2, 1e6)?;
        within("shaped_louder_db", self.shaped_louder_db, -60.0, 60.0)?;
        let shape = [
            ("shaped_at_hz", self.shaped_at_hz),
            ("shaped_q_without", self.shaped_q_without),
            ("shaped_q_with", self.shaped_q_with),
        ];
        let some = shape.iter().any(|(_, value)| value.is_some());
        for (name, value) in shape {
            within(name, value, 1e-2, 1e4)?;
            if some && value.is_none() {
                return Err(SetupError::new(name, "a shape is a resonance and both Q's"));
            }
        }
        if self.band_hz.is_some_and(|[low, high]| !(low >= LOWEST_HZ && high > low && high.is_finite())) {
            let wanted = format!("two frequencies in Hz are wanted, the lower one first and at least {LOWEST_HZ}");
            return Err(SetupError::new("band_hz", &wanted));
        }
        for (i, take) in takes.iter().enumerate() {
            self.check_take(i, take)?;
        }
        sort(takes)
    }

    fn check_take(&self, i: usize, take: &RoleTake) -> Result<(), SetupError> {
        let field = |name: &str| format!("takes[{i}].{name}");
        if !ROLES.contains(&take.role.as_str()) {
            let wanted = "one of without, with, with_shaped, loaded, silence is wanted";
            return Err(SetupError::new(&field("role"), wanted));
        }
        match (take.role == "loaded", take.resistor_ohm) {
            (true, None) => {
                return Err(SetupError::new(&field("resistor_ohm"), "the resistor across the output in ohms is wanted"))
            }
            (false, Some(_)) => return Err(SetupError::new(&field("resistor_ohm"), "belongs to the role loaded only")),
            (_, ohm) => within(&field("resistor_ohm"), ohm, 0.1, 1e4)?,
        }
        let given =
            [("load_ohm", take.load_ohm), ("added_mass_kg", take.added_mass_kg), ("box_volume_m3", take.box_volume_m3)];
        if let Some((name, _)) = given.iter().find(|(_, value)| value.is_some()) {
            return Err(SetupError::new(&field(name), "is of no use in this check"));
        }
        if take.take.channel(self.channel).is_none() {
            let wanted = format!("takes[{i}] has {} channels, counted from 1", take.take.channel_count());
            return Err(SetupError::new("channel", &wanted));
        }
        Ok(())
    }
}

fn sort(takes: &[RoleTake]) -> Result<Sorted<'_>, SetupError> {
    let of = |role: &'static str| takes.iter().filter(move |t| t.role == role);
    let behind = |i: &usize| ["with", "with_shaped"].contains(&takes[*i].role.as_str());
    let with: Vec<usize> = (0..takes.len()).filter(behind).collect();
    let (Some(&first), Some(&last)) = (with.first(), with.last()) else {
        return match (of("silence").next(), of("without").next()) {
            (Some(silence), Some(without)) => Ok(Sorted::Forecast { silence, without }),
            _ => {
                Err(SetupError::new("takes", "takes of role without, with, without are wanted, or silence and without"))
            }
        };
    };
    let missing =
        || SetupError::new("takes", "a take of role without is wanted before and after those with the resistor");
    let before = takes[..first].iter().find(|t| t.role == "without").ok_or_else(missing)?;
    let after = takes[last..].iter().rfind(|t| t.role == "without").ok_or_else(missing)?;
    let loaded = of("loaded").next_back();
    let (with, shaped) = with.into_iter().map(|i| &takes[i]).partition(|t| t.role == "with");
    Ok(Sorted::Reading { without: [before, after], with, shaped, loaded })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::take::Take;

    fn takes(roles: &[&str]) -> Vec<RoleTake> {
        roles.iter().map(|r| RoleTake::new(r, Take::new(48_000.0, vec![vec![0.1; 10]]).unwrap())).collect()
    }

    #[test]
    fn each_fault_names_its_field() {
        let good = MicImpedanceSetup::plain(8.2);
        let road = takes(&["without", "with", "without"]);
        assert!(matches!(good.check(&road), Ok(Sorted::Reading { .. })));
        assert!(matches!(good.check(&takes(&["silence", "without"])), Ok(Sorted::Forecast { .. })));
        let field = |setup: &MicImpedanceSetup, takes: &[RoleTake]| setup.check(takes).err().map(|e| e.field).unwrap();
        let with = |change: fn(&mut MicImpedanceSetup)| {
            let mut setup = good.clone();
            change(&mut setup);
            field(&setup, &road)
        };
        assert_eq!(with(|s| s.series_resistor_ohm = 0.0), "series_resistor_ohm");
        assert_eq!(with(|s| s.output_resistance_ohm = Some(-1.0)), "output_resistance_ohm");
        assert_eq!(with(|s| s.shaped_louder_db = Some(f64::NAN)), "shaped_louder_db");
        assert_eq!(with(|s| (s.shaped_at_hz, s.shaped_q_without) = (Some(40.0), Some(0.0))), "shaped_q_without");
        assert_eq!(with(|s| (s.shaped_at_hz, s.shaped_q_without) = (Some(40.0), Some(0.4))), "shaped_q_with");
        assert_eq!(field(&good, &takes(&["without", "loaded", "with", "without"])), "takes[1].resistor_ohm");
        assert_eq!(with(|s| s.band_hz = Some([80.0, 8.0])), "band_hz");
        assert_eq!(with(|s| s.channel = 2), "channel");
        assert_eq!(field(&good, &takes(&["with", "without"])), "takes");
        assert_eq!(field(&good, &takes(&["without"])), "takes");
        assert_eq!(field(&good, &takes(&["driver"])), "takes[0].role");
        let mut known = takes(&["without", "with", "without"]);
        known[1].resistor_ohm = Some(8.0);
        assert_eq!(field(&good, &known), "takes[1].resistor_ohm");
    }

    /// At the frequency of the shape it is the ratio of the two Q's, far from it nothing; 6.02 dB are a factor of two.
    #[test]
    fn what_was_played_louder() {
        let setup = MicImpedanceSetup {
            shaped_louder_db: Some(6.0206),
            shaped_at_hz: Some(50.0),
            shaped_q_without: Some(0.4),
            shaped_q_with: Some(0.9),
            ..MicImpedanceSetup::plain(8.2)
        };
        assert!((setup.played(50.0) - 2.0 * 0.4 / 0.9).abs() < 1e-5);
        assert!((setup.played(5000.0) - 2.0).abs() < 1e-3);
    }
}
