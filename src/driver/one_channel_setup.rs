//! Setup of the impedance check with one input, and what may not stand in it.

use super::impedance_setup::{within, CoilChoice, ImpedanceSetup, LOWEST_HZ};
use crate::electrical::calibration::RESISTOR_RELATIVE_UNCERTAINTY;
use crate::electrical::one_channel::Resistor;
use crate::signal::role_take::{RoleTake, SetupError};
use serde::{Deserialize, Serialize};

/// A second known resistor must differ from the first by this factor at least, or S follows from a small difference.
const SECOND_DIFFERS: f64 = 1.5;

/// Setup of the check; the takes come apart from it, in the order in which they were taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct OneChannelSetup {
    /// Series resistor in Ω.
    pub series_resistor_ohm: f64,
    /// Its relative standard uncertainty (0.005 where absent).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub series_resistor_relative_uncertainty: Option<f64>,
    /// The same of the known resistors (0.005 where absent).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub known_resistor_relative_uncertainty: Option<f64>,
    /// Input across driver and known resistor, counted from 1.
    pub channel: usize,
    /// Resistance of that input in Ω.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub input_resistance_ohm: Option<f64>,
    /// Resistance of the output itself in Ω; needed where no second load tells it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub output_resistance_ohm: Option<f64>,
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
pub struct Sorted<'a> {
    /// The known resistor before and after the driver.
    pub known: [&'a RoleTake; 2],
    /// The driver.
    pub drivers: Vec<&'a RoleTake>,
    /// Another known resistor, or nothing connected.
    pub second: Option<&'a RoleTake>,
}

impl OneChannelSetup {
    /// A setup with nothing but the series resistor, on channel 1.
    pub fn plain(series_resistor_ohm: f64) -> Self {
        OneChannelSetup {
            series_resistor_ohm,
            series_resistor_relative_uncertainty: None,
            known_resistor_relative_uncertainty: None,
            channel: 1,
            input_resistance_ohm: None,
            output_resistance_ohm: None,
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

    /// A known resistor as believed.
    pub fn known(&self, ohm: f64) -> Resistor {
        Resistor { ohm, relative: self.known_resistor_relative_uncertainty.unwrap_or(RESISTOR_RELATIVE_UNCERTAINTY) }
    }

    /// What the fit is to be told.
    pub fn fit(&self, series_ohm: f64) -> ImpedanceSetup {
        ImpedanceSetup {
            band_hz: self.band_hz,
            coil_model: self.coil_model,
            suspension_creep: self.suspension_creep,
            ..ImpedanceSetup::plain(series_ohm)
        }
    }

    /// Checks the setup together with its takes and sorts them.
    ///
    /// # Errors
    /// [`SetupError`] naming the field: a value that no jig has, an unknown role, a take that is missing or not in its
    /// place, an output resistance that is neither stated nor to be found.
    pub fn check<'a>(&self, takes: &'a [RoleTake]) -> Result<Sorted<'a>, SetupError> {
        within("series_resistor_ohm", Some(self.series_resistor_ohm), 1e-2, 1e6)?;
        within("series_resistor_relative_uncertainty", self.series_resistor_relative_uncertainty, 0.0, 0.5)?;
        within("known_resistor_relative_uncertainty", self.known_resistor_relative_uncertainty, 0.0, 0.5)?;
        within("input_resistance_ohm", self.input_resistance_ohm, 1.0, 1e9)?;
        within("output_resistance_ohm", self.output_resistance_ohm, 0.0, 1e6)?;
        if self.band_hz.is_some_and(|[low, high]| !(low >= LOWEST_HZ && high > low && high.is_finite())) {
            let wanted = format!("two frequencies in Hz are wanted, the lower one first and at least {LOWEST_HZ}");
            return Err(SetupError::new("band_hz", &wanted));
        }
        for (i, take) in takes.iter().enumerate() {
            self.check_take(i, take)?;
        }
        self.sort(takes)
    }

    fn check_take(&self, i: usize, take: &RoleTake) -> Result<(), SetupError> {
        let field = |name: &str| format!("takes[{i}].{name}");
        let role = take.role.as_str();
        if !["driver", "known_resistor", "open"].contains(&role) {
            return Err(SetupError::new(&field("role"), "one of driver, known_resistor, open is wanted"));
        }
        match (role == "known_resistor", take.resistor_ohm) {
            (true, None) => {
                return Err(SetupError::new(&field("resistor_ohm"), "the known resistor in ohms is wanted"))
            }
            (false, Some(_)) => {
                return Err(SetupError::new(&field("resistor_ohm"), "belongs to the role known_resistor only"))
            }
            (_, ohm) => within(&field("resistor_ohm"), ohm, 1e-2, 1e6)?,
        }
        let superfluous = [
            ("load_ohm", take.load_ohm.is_some()),
            ("added_mass_kg", take.added_mass_kg.is_some()),
            ("box_volume_m3", take.box_volume_m3.is_some()),
        ];
        for (name, given) in superfluous {
            if given {
                return Err(SetupError::new(&field(name), "is of no use in an impedance check"));
            }
        }
        if take.take.channel(self.channel).is_none() {
            let wanted = format!("takes[{i}] has {} channels, counted from 1", take.take.channel_count());
            return Err(SetupError::new("channel", &wanted));
        }
        Ok(())
    }

    fn sort<'a>(&self, takes: &'a [RoleTake]) -> Result<Sorted<'a>, SetupError> {
        let drivers: Vec<usize> = (0..takes.len()).filter(|&i| takes[i].role == "driver").collect();
        let wanted = |what: &str| Err(SetupError::new("takes", what));
        let (Some(&first), Some(&last)) = (drivers.first(), drivers.last()) else {
            return wanted("at least one take of role driver is wanted");
        };
        let before = takes[..first].iter().find(|t| t.role == "known_resistor");
        let after = |ohm| takes[last..].iter().rfind(|t| t.role == "known_resistor" && t.resistor_ohm == ohm);
        let Some((before, after)) = before.and_then(|b| Some((b, after(b.resistor_ohm)?))) else {
            return wanted("one known resistor is wanted twice, before the driver and after it");
        };
        let ohm = before.resistor_ohm.unwrap_or_default();
        let differs = |other: f64| (other / ohm).max(ohm / other) >= SECOND_DIFFERS;
        let second = takes.iter().find(|t| t.role == "open" || t.resistor_ohm.is_some_and(differs));
        if second.is_none() && self.output_resistance_ohm.is_none() {
            let wanted = "the output's resistance is wanted, or a take of role open, or of another known resistor";
            return Err(SetupError::new("output_resistance_ohm", wanted));
        }
        let drivers = drivers.into_iter().map(|i| &takes[i]).collect();
        Ok(Sorted { known: [before, after], drivers, second })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::take::Take;

    fn take(role: &str, ohm: Option<f64>) -> RoleTake {
        let mut take = RoleTake::new(role, Take::new(48_000.0, vec![vec![0.1; 10]]).unwrap());
        take.resistor_ohm = ohm;
        take
    }

    fn known(ohm: f64) -> RoleTake {
        take("known_resistor", Some(ohm))
    }

    #[test]
    fn each_fault_names_its_field() {
        let good = OneChannelSetup::plain(47.0);
        let takes = [known(8.2), take("open", None), take("driver", None), known(8.2)];
        assert!(good.check(&takes).is_ok());
        let field = |setup: &OneChannelSetup, takes: &[RoleTake]| setup.check(takes).err().map(|e| e.field).unwrap();
        let with = |change: fn(&mut OneChannelSetup)| {
            let mut setup = good.clone();
            change(&mut setup);
            field(&setup, &takes)
        };
        assert_eq!(with(|s| s.series_resistor_ohm = -1.0), "series_resistor_ohm");
        assert_eq!(
            with(|s| s.series_resistor_relative_uncertainty = Some(2.0)),
            "series_resistor_relative_uncertainty"
        );
        assert_eq!(with(|s| s.known_resistor_relative_uncertainty = Some(2.0)), "known_resistor_relative_uncertainty");
        assert_eq!(with(|s| s.input_resistance_ohm = Some(0.0)), "input_resistance_ohm");
        assert_eq!(with(|s| s.output_resistance_ohm = Some(-1.0)), "output_resistance_ohm");
        assert_eq!(with(|s| s.band_hz = Some([200.0, 20.0])), "band_hz");
        assert_eq!(with(|s| s.channel = 2), "channel");
        assert_eq!(field(&good, &[take("short", None)]), "takes[0].role");
        assert_eq!(field(&good, &[take("known_resistor", None)]), "takes[0].resistor_ohm");
        assert_eq!(field(&good, &[take("driver", Some(8.0))]), "takes[0].resistor_ohm");
        assert_eq!(field(&good, &[known(8.2), take("open", None), known(8.2)]), "takes");
        // The same resistor before and after, not another one.
        assert_eq!(field(&good, &[known(8.2), take("driver", None), known(8.3)]), "takes");
        assert_eq!(field(&good, &[known(8.2), take("driver", None), known(8.2)]), "output_resistance_ohm");
        let stated = OneChannelSetup { output_resistance_ohm: Some(0.5), ..good };
        assert!(stated.check(&[known(8.2), take("driver", None), known(8.2)]).is_ok());
        assert!(stated.check(&[known(8.2), known(33.0), take("driver", None), known(8.2)]).unwrap().second.is_some());
    }
}
