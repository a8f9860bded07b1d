//! Setup of the two-channel impedance check, and what may not stand in it.

use super::coil::CoilModel;
use super::mounted::{assumed_displacement_m3, too_small_a_box};
use crate::electrical::calibration::RESISTOR_RELATIVE_UNCERTAINTY;
use crate::signal::role_take::{RoleTake, SetupError};
use serde::{Deserialize, Serialize};

/// Heavier than any cone bears.
const HEAVIEST_KG: f64 = 1.0;
/// Lowest frequency that a band may begin with: no sound card reaches lower.
pub(super) const LOWEST_HZ: f64 = 0.1;

/// Voice-coil model as asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum CoilChoice {
    /// The information criterion decides.
    #[default]
    Automatic,
    /// One inductance.
    Inductance,
    /// K(jω)^n.
    SemiInductance,
    /// L in series with L₂ ‖ R₂.
    TwoInductances,
}

impl CoilChoice {
    /// The model asked for; none where the criterion decides.
    pub fn wanted(self) -> Option<CoilModel> {
        match self {
            CoilChoice::Automatic => None,
            CoilChoice::Inductance => Some(CoilModel::Inductance),
            CoilChoice::SemiInductance => Some(CoilModel::SemiInductance),
            CoilChoice::TwoInductances => Some(CoilModel::TwoInductances),
        }
    }
}

/// Setup of the check; the takes come apart from it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct ImpedanceSetup {
    /// Series resistor in Ω.
    pub series_resistor_ohm: f64,
    /// Its relative standard uncertainty (0.005 where absent).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub series_resistor_relative_uncertainty: Option<f64>,
    /// Channel before the resistor, counted from 1.
    pub source_channel: usize,
    /// Channel at the driver, counted from 1.
    pub driver_channel: usize,
    /// Resistance of the driver channel's input in Ω.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub input_resistance_ohm: Option<f64>,
    /// Resistance of the source in Ω. It lies before both nodes and takes no part in their ratio; kept with the reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub output_resistance_ohm: Option<f64>,
    /// Coil resistance in Ω as a meter read it: a second opinion on the series resistor.
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
    /// Effective diameter of the cone: the cone and half the surround.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub effective_diameter_m: Option<f64>,
    /// Volume that the driver itself takes in a box; assumed from its diameter where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub driver_displacement_m3: Option<f64>,
    /// Temperature of the air; 20 °C where not stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub air_temperature_c: Option<f64>,
    /// Pressure of the air; 101325 Pa where not stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub air_pressure_pa: Option<f64>,
}

impl ImpedanceSetup {
    /// A setup with nothing but the resistor, source on channel 1 and driver on channel 2.
    pub fn plain(series_resistor_ohm: f64) -> Self {
        ImpedanceSetup {
            series_resistor_ohm,
            series_resistor_relative_uncertainty: None,
            source_channel: 1,
            driver_channel: 2,
            input_resistance_ohm: None,
            output_resistance_ohm: None,
            r_e_ohm: None,
            band_hz: None,
            coil_model: CoilChoice::Automatic,
            suspension_creep: None,
            effective_diameter_m: None,
            driver_displacement_m3: None,
            air_temperature_c: None,
            air_pressure_pa: None,
        }
    }

    /// Relative standard uncertainty of the series resistor.
    pub fn resistor_uncertainty(&self) -> f64 {
        self.series_resistor_relative_uncertainty.unwrap_or(RESISTOR_RELATIVE_UNCERTAINTY)
    }

    /// Checks the setup together with its takes.
    ///
    /// # Errors
    /// [`SetupError`] naming the field: a value that no jig has, a channel that a take has not, a role that the check
    /// does not know, a missing or superfluous value of a take, no take of the driver.
    pub fn check(&self, takes: &[RoleTake]) -> Result<(), SetupError> {
        within("series_resistor_ohm", Some(self.series_resistor_ohm), 1e-2, 1e6)?;
        within("series_resistor_relative_uncertainty", self.series_resistor_relative_uncertainty, 0.0, 0.5)?;
        within("input_resistance_ohm", self.input_resistance_ohm, 1.0, 1e9)?;
        within("output_resistance_ohm", self.output_resistance_ohm, 0.0, 1e6)?;
        within("r_e_ohm", self.r_e_ohm, 0.1, 1000.0)?;
        within("effective_diameter_m", self.effective_diameter_m, 0.005, 1.0)?;
        within("driver_displacement_m3", self.driver_displacement_m3, 0.0, 0.1)?;
        within("air_temperature_c", self.air_temperature_c, -30.0, 60.0)?;
        within("air_pressure_pa", self.air_pressure_pa, 50_000.0, 110_000.0)?;
        if let Some([low, high]) = self.band_hz {
            if !(low >= LOWEST_HZ && high > low && high.is_finite()) {
                let wanted = format!("two frequencies in Hz are wanted, the lower one first and at least {LOWEST_HZ}");
                return Err(SetupError::new("band_hz", &wanted));
            }
        }
        if self.source_channel == self.driver_channel {
            return Err(SetupError::new("driver_channel", "a channel other than source_channel is wanted"));
        }
        for (i, take) in takes.iter().enumerate() {
            self.check_take(i, take)?;
            let again = takes[..i].iter().any(|earlier| earlier.role == take.role);
            if again && ["same_node", "short", "open"].contains(&take.role.as_str()) {
                let wanted = format!("one take of role {} is wanted, this is the second", take.role);
                return Err(SetupError::new(&format!("takes[{i}].role"), &wanted));
            }
        }
        if takes.iter().any(|t| t.role == "driver" && t.added_mass_kg.is_none() && t.box_volume_m3.is_none()) {
            Ok(())
        } else {
            Err(SetupError::new("takes", "at least one take of role driver, without weight and box, is wanted"))
        }
    }

    fn check_take(&self, i: usize, take: &RoleTake) -> Result<(), SetupError> {
        const ROLES: [&str; 5] = ["driver", "same_node", "known_resistor", "short", "open"];
        let field = |name: &str| format!("takes[{i}].{name}");
        if !ROLES.contains(&take.role.as_str()) {
            let wanted = format!("one of {} is wanted, not `{}`", ROLES.join(", "), take.role);
            return Err(SetupError::new(&field("role"), &wanted));
        }
        match (take.role.as_str(), take.resistor_ohm) {
            ("known_resistor", None) => {
                return Err(SetupError::new(&field("resistor_ohm"), "the known resistor in ohms is wanted"));
            }
            ("known_resistor", ohm) => within(&field("resistor_ohm"), ohm, 1e-2, 1e6)?,
            (_, Some(_)) => {
                return Err(SetupError::new(&field("resistor_ohm"), "belongs to the role known_resistor only"));
            }
            _ => {}
        }
        if take.load_ohm.is_some() {
            return Err(SetupError::new(&field("load_ohm"), "is of no use in an impedance check"));
        }
        self.check_mounting(take, &field)?;
        if !take.set_aside.is_empty() {
            return Err(SetupError::new(&field("set_aside"), "is of no use in an impedance check: it numbers knocks"));
        }
        for (name, channel) in [("source_channel", self.source_channel), ("driver_channel", self.driver_channel)] {
            if take.take.channel(channel).is_none() {
                let count = take.take.channel_count();
                let wanted = format!("channels count from 1, and take {} has {count}, not {channel}", i + 1);
                return Err(SetupError::new(name, &wanted));
            }
        }
        Ok(())
    }
}

impl ImpedanceSetup {
    /// Weight and box: driver takes only, one of them, and neither beyond sense.
    fn check_mounting(&self, take: &RoleTake, field: &dyn Fn(&str) -> String) -> Result<(), SetupError> {
        let given = [("added_mass_kg", take.added_mass_kg), ("box_volume_m3", take.box_volume_m3)];
        if let Some((name, _)) = given.iter().find(|(_, v)| v.is_some()).filter(|_| take.role != "driver") {
            return Err(SetupError::new(&field(name), "belongs to the role driver only"));
        }
        within(&field("added_mass_kg"), take.added_mass_kg, 1e-6, HEAVIEST_KG)?;
        within(&field("box_volume_m3"), take.box_volume_m3, 1e-5, 2.0)?;
        if take.added_mass_kg.is_some() && take.box_volume_m3.is_some() {
            return Err(SetupError::new(&field("box_volume_m3"), "a take has a weight or a box, not both"));
        }
        let too_small = take.box_volume_m3.and_then(|volume| too_small_a_box(volume, self.displacement_m3()));
        too_small.map_or(Ok(()), |wanted| Err(SetupError::new(&field("box_volume_m3"), &wanted)))
    }

    /// Volume that the driver takes in a box: as stated, or by its diameter.
    pub(super) fn displacement_m3(&self) -> f64 {
        let assumed = self.effective_diameter_m.map_or(0.0, assumed_displacement_m3);
        self.driver_displacement_m3.unwrap_or(assumed)
    }
}

/// An error unless the value, where given, lies from `low` to `high`.
pub(super) fn within(field: &str, value: Option<f64>, low: f64, high: f64) -> Result<(), SetupError> {
    match value {
        Some(v) if !(low..=high).contains(&v) => {
            Err(SetupError::new(field, &format!("a number from {low} to {high} is wanted, not {v}")))
        }
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::take::Take;

    fn take(role: &str, channels: usize) -> RoleTake {
        RoleTake::new(role, Take::new(48_000.0, vec![vec![0.1; 10]; channels]).unwrap())
    }

    fn field_of(setup: &ImpedanceSetup, takes: &[RoleTake]) -> String {
        setup.check(takes).unwrap_err().field
    }

    #[test]
    fn each_fault_names_its_field() {
        let good = ImpedanceSetup::plain(10.0);
        assert_eq!(good.check(&[take("driver", 2)]), Ok(()));
        let with = |change: fn(&mut ImpedanceSetup)| {
            let mut setup = good.clone();
            change(&mut setup);
            field_of(&setup, &[take("driver", 2)])
        };
        assert_eq!(with(|s| s.series_resistor_ohm = -10.0), "series_resistor_ohm");
        assert_eq!(with(|s| s.series_resistor_ohm = f64::NAN), "series_resistor_ohm");
        assert_eq!(with(|s| s.input_resistance_ohm = Some(0.0)), "input_resistance_ohm");
        assert_eq!(
            with(|s| s.series_resistor_relative_uncertainty = Some(5.0)),
            "series_resistor_relative_uncertainty"
        );
        assert_eq!(with(|s| s.output_resistance_ohm = Some(-1.0)), "output_resistance_ohm");
        assert_eq!(with(|s| s.band_hz = Some([200.0, 20.0])), "band_hz");
        assert_eq!(with(|s| s.driver_channel = 1), "driver_channel");
        assert_eq!(with(|s| s.driver_channel = 3), "driver_channel");
        assert_eq!(with(|s| s.source_channel = 0), "source_channel");
        assert_eq!(field_of(&good, &[]), "takes");
        assert_eq!(field_of(&good, &[take("driver", 2), take("speech", 2)]), "takes[1].role");
        assert_eq!(field_of(&good, &[take("known_resistor", 2)]), "takes[0].resistor_ohm");
        assert_eq!(field_of(&good, &[take("driver", 1)]), "driver_channel");
        assert_eq!(with(|s| s.band_hz = Some([5e-324, 100.0])), "band_hz");
        assert_eq!(field_of(&good, &[take("driver", 2), take("short", 2), take("short", 2)]), "takes[2].role");
        let mut ideal = good.clone();
        (ideal.output_resistance_ohm, ideal.series_resistor_relative_uncertainty) = (Some(0.0), Some(0.0));
        assert_eq!(ideal.check(&[take("driver", 2)]), Ok(()));
        let mut loaded = take("driver", 2);
        loaded.load_ohm = Some(47.0);
        assert_eq!(field_of(&good, &[loaded]), "takes[0].load_ohm");
    }

    #[test]
    fn weights_and_boxes_beyond_sense_are_named() {
        let mounted = |role: &str, kg: Option<f64>, m3: Option<f64>| {
            let take = RoleTake { added_mass_kg: kg, box_volume_m3: m3, ..take(role, 2) };
            let mut setup = ImpedanceSetup::plain(10.0);
            setup.effective_diameter_m = Some(0.26);
            setup.check(&[RoleTake::new("driver", take.take.clone()), take]).map_err(|e| (e.field, e.wanted))
        };
        assert_eq!(mounted("driver", Some(0.05), None), Ok(()));
        assert_eq!(mounted("driver", None, Some(0.06)), Ok(()));
        // 50 g typed as 50 kg; a litre around a driver of 0.2 · 26³ cm³ = 3.52 L.
        assert_eq!(mounted("driver", Some(50.0), None).unwrap_err().0, "takes[1].added_mass_kg");
        let (field, wanted) = mounted("driver", None, Some(0.001)).unwrap_err();
        assert!(field == "takes[1].box_volume_m3" && wanted.contains("itself takes 3.52"), "{wanted}");
        assert_eq!(mounted("driver", Some(0.05), Some(0.06)).unwrap_err().0, "takes[1].box_volume_m3");
        assert_eq!(mounted("short", Some(0.05), None).unwrap_err().0, "takes[1].added_mass_kg");
        let mut setup = ImpedanceSetup::plain(10.0);
        setup.effective_diameter_m = Some(26.0);
        assert_eq!(field_of(&setup, &[take("driver", 2)]), "effective_diameter_m");
        let weighted_only = RoleTake { added_mass_kg: Some(0.05), ..take("driver", 2) };
        assert_eq!(field_of(&ImpedanceSetup::plain(10.0), &[weighted_only]), "takes");
    }

    #[test]
    fn json_is_read_strictly() {
        let read = |json: &str| serde_json::from_str::<ImpedanceSetup>(json);
        let setup =
            read(r#"{"series_resistor_ohm":10,"source_channel":1,"driver_channel":2,"coil_model":"semi_inductance"}"#);
        assert_eq!(setup.unwrap().coil_model.wanted(), Some(CoilModel::SemiInductance));
        assert!(read(r#"{"series_resistor_ohm":10,"source_channel":1,"driver_channel":2,"colour":1}"#).is_err());
        assert!(read(r#"{"series_resistor_ohm":"10","source_channel":1,"driver_channel":2}"#).is_err());
    }
}
