//! How a setup comes in: JSON text, checked field by field before anything is computed. Free of JavaScript, so that
//! the ordinary tests reach it.

use super::reader::{Reader, Wrong};
use super::shapes::Read;
use super::tree::Tree;
use crate::signal::role_take::{RoleTake, SetupError};
use crate::signal::take::{Take, TakeError};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::fmt;

/// What is thrown at JavaScript: why a request cannot be answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct CoreFault {
    /// `setup`, `take`, `wav` or `request`.
    pub kind: String,
    /// What is wrong and what is wanted.
    pub message: String,
    /// Where in the setup, e.g. `takes[1].role`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub field: Option<String>,
}

impl CoreFault {
    /// A fault without a field.
    pub fn new(kind: &str, message: impl fmt::Display) -> Self {
        CoreFault { kind: kind.to_owned(), message: message.to_string(), field: None }
    }

    pub(super) fn at(field: String, message: impl fmt::Display) -> Self {
        let message = if field.is_empty() { message.to_string() } else { format!("{field}: {message}") };
        CoreFault { kind: "setup".to_owned(), message, field: Some(field).filter(|f| !f.is_empty()) }
    }
}

impl From<SetupError> for CoreFault {
    fn from(error: SetupError) -> Self {
        CoreFault::at(error.field, error.wanted)
    }
}

impl From<Wrong> for CoreFault {
    fn from(wrong: Wrong) -> Self {
        CoreFault::at(wrong.place(), wrong.what)
    }
}

impl From<TakeError> for CoreFault {
    fn from(error: TakeError) -> Self {
        CoreFault::new("take", error)
    }
}

/// A recording as JavaScript holds it (converted in `values`, never through JSON); full scale is ±1.
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[cfg_attr(feature = "typescript", ts(rename_all = "camelCase"))]
pub struct PageTake {
    /// Samples a second.
    pub rate_hz: f64,
    /// One array a channel, all of one length.
    #[cfg_attr(feature = "typescript", ts(type = "Float32Array[]"))]
    pub channels: Vec<Vec<f32>>,
}

/// The checks that a setup can ask for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Check {
    /// Impedance by two channels and a known resistor.
    Impedance,
    /// Impedance by one channel, take over take.
    ImpedanceOneChannel,
    /// Impedance by what a microphone at the cone hears, without and with a resistor.
    ImpedanceByMicrophone,
    /// Ring-down after a knock.
    Knock,
    /// Ring-down of two drivers, one on each channel.
    Pair,
    /// Which way the cone moves.
    Polarity,
    /// A joint that opens while leads and cone are moved.
    LooseJoint,
    /// Typed voltages.
    Meter,
}

/// One entry of a setup's `takes`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct TakeEntry {
    /// Path of the recording, relative to the setup; the page has none.
    #[serde(default)]
    pub file: Option<String>,
    /// What the take shows, see [`RoleTake::role`].
    pub role: String,
    /// Known resistor in the driver's place.
    #[serde(default)]
    pub resistor_ohm: Option<f64>,
    /// Resistor across the terminals.
    #[serde(default)]
    pub load_ohm: Option<f64>,
    /// Mass fixed to the cone.
    #[serde(default)]
    pub added_mass_kg: Option<f64>,
    /// Inner volume of the closed box around the driver's back.
    #[serde(default)]
    pub box_volume_m3: Option<f64>,
    /// Knocks that the person set aside, counted from 1 in order of time.
    #[serde(default)]
    pub set_aside: Vec<u32>,
}

impl TakeEntry {
    fn with(&self, take: Take) -> RoleTake {
        RoleTake {
            role: self.role.clone(),
            take,
            resistor_ohm: self.resistor_ohm,
            load_ohm: self.load_ohm,
            added_mass_kg: self.added_mass_kg,
            box_volume_m3: self.box_volume_m3,
            set_aside: self.set_aside.clone(),
        }
    }
}

/// A setup, with the fields that are the check's own still unread.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// Which check.
    pub check: Check,
    /// Takes in order.
    pub takes: Vec<TakeEntry>,
    /// All further fields.
    own: Tree,
}

pub(super) struct Head {
    pub check: Check,
    pub takes: Vec<TakeEntry>,
    /// Allowed in every setup; the analyses of this version draw no random numbers.
    #[allow(dead_code)]
    pub seed: Option<u64>,
}

impl Setup {
    /// Reads the fields that all checks share and keeps the others.
    ///
    /// # Errors
    /// A [`CoreFault`] that names the field: text that is no JSON, no object, a field twice, a wrong type, an unknown
    /// field in an entry of `takes`.
    pub fn parse(json: &str) -> Result<Self, CoreFault> {
        let Tree::Object(fields) = parsed(json)? else {
            return Err(CoreFault::at(String::new(), "a setup is an object, which begins with {"));
        };
        let (shared, own) =
            fields.into_iter().partition(|(name, _)| ["check", "takes", "seed"].contains(&name.as_str()));
        let head = Head::read(&Tree::Object(shared))?;
        Ok(Setup { check: head.check, takes: head.takes, own: Tree::Object(own) })
    }

    /// The takes in their roles.
    ///
    /// # Errors
    /// A [`CoreFault`] where the number of takes is another than the setup's.
    pub fn with(&self, takes: Vec<Take>) -> Result<Vec<RoleTake>, CoreFault> {
        if takes.len() != self.takes.len() {
            let wanted = format!("{} entries stand here, {} takes came with them", self.takes.len(), takes.len());
            return Err(CoreFault::at("takes".to_owned(), wanted));
        }
        Ok(self.takes.iter().zip(takes).map(|(entry, take)| entry.with(take)).collect())
    }

    /// As [`Setup::own`] for a type that `read_types` names.
    ///
    /// # Errors
    /// A [`CoreFault`] that names the unknown, missing or wrong field.
    #[cfg(any(test, all(target_arch = "wasm32", target_os = "unknown")))]
    pub(super) fn named<T: Read>(&self) -> Result<T, CoreFault> {
        Ok(T::read(&self.own)?)
    }

    /// Reads the fields that are the check's own.
    ///
    /// # Errors
    /// A [`CoreFault`] that names the unknown, missing or wrong field.
    pub fn own<T: DeserializeOwned>(&self) -> Result<T, CoreFault> {
        read(&self.own)
    }
}

/// Reads a request of the page's own making.
///
/// # Errors
/// A [`CoreFault`] with what is wrong and where.
pub fn parse_plain<T: DeserializeOwned>(json: &str) -> Result<T, CoreFault> {
    read(&parsed(json)?)
}

/// As [`parse_plain`] for a type that `read_types` names.
///
/// # Errors
/// A [`CoreFault`] with what is wrong and where.
#[cfg(any(test, all(target_arch = "wasm32", target_os = "unknown")))]
pub(super) fn parse_named<T: Read>(json: &str) -> Result<T, CoreFault> {
    Ok(T::read(&parsed(json)?)?)
}

fn parsed(json: &str) -> Result<Tree, CoreFault> {
    Tree::parse(json).map_err(|what| CoreFault::at(String::new(), format!("not usable: {what}")))
}

fn read<T: DeserializeOwned>(tree: &Tree) -> Result<T, CoreFault> {
    Ok(T::deserialize(Reader(tree))?)
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::driver::impedance_setup::ImpedanceSetup;
    use crate::driver::knock_check::KnockSetup;
    use proptest::prelude::*;
    use serde_json::Value;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code)]
    struct Own {
        series_resistor_ohm: f64,
        #[serde(default)]
        band_hz: Option<[f64; 2]>,
    }

    fn field(json: &str) -> Option<String> {
        Setup::parse(json).and_then(|setup| setup.own::<Own>()).expect_err("must be refused").field
    }

    #[test]
    fn a_good_setup_is_read() {
        let setup = Setup::parse(
            r#"{"check":"impedance","seed":3,"series_resistor_ohm":10,
                "takes":[{"file":"a.wav","role":"driver"},
                         {"file":"b.wav","role":"known_resistor","resistor_ohm":8.2}]}"#,
        )
        .unwrap();
        assert_eq!(setup.takes[1].resistor_ohm, Some(8.2));
        assert_eq!(setup.own::<Own>().unwrap().series_resistor_ohm, 10.0);
    }

    #[test]
    fn the_wrong_field_is_named_at_every_level() {
        let own = r#""series_resistor_ohm":10"#;
        for (json, wanted) in [
            (format!(r#"{{"check":"impedance",{own},"colour":1}}"#), "colour"),
            (r#"{"check":"impedance"}"#.to_owned(), "series_resistor_ohm"),
            (r#"{"check":"impedance","series_resistor_ohm":"10"}"#.to_owned(), "series_resistor_ohm"),
            (format!(r#"{{"check":"impedance",{own},"band_hz":[20,"x"]}}"#), "band_hz[1]"),
            (format!(r#"{{"check":"weighing",{own}}}"#), "check"),
            (format!(r#"{{{own}}}"#), "check"),
            (format!(r#"{{"check":"impedance",{own},"takes":{{}}}}"#), "takes"),
            (format!(r#"{{"check":"impedance",{own},"takes":[{{"file":"a"}}]}}"#), "takes[0].role"),
            (format!(r#"{{"check":"impedance",{own},"takes":[{{"role":"a"}},{{"role":"b","x":1}}]}}"#), "takes[1].x"),
            (format!(r#"{{"check":"impedance",{own},"takes":[{{"role":"a","load_ohm":true}}]}}"#), "takes[0].load_ohm"),
            (format!(r#"{{"check":"impedance",{own},"seed":-1}}"#), "seed"),
        ] {
            assert_eq!(field(&json).as_deref(), Some(wanted), "{json}");
        }
    }

    #[test]
    fn text_that_is_no_object_is_told_with_its_place() {
        for (json, wanted) in [
            ("", "line 1"),
            ("[1]", "an object"),
            ("{\"check\":\"knock\",\n!}", "line 2"),
            (r#"{"check":"knock","check":"knock"}"#, "twice"),
            (r#"{"check":"knock","r_e_ohm":1e999}"#, "out of range"),
        ] {
            let message = Setup::parse(json).expect_err("must be refused").message;
            assert!(message.contains(wanted), "{json} gave {message}");
        }
    }

    /// What is wrong with a text as a setup of each check.
    fn read_all(json: &str) -> (Result<(), CoreFault>, Result<(), CoreFault>) {
        let setup = Setup::parse(json);
        let own = |read: fn(&Setup) -> Result<(), CoreFault>| setup.as_ref().map_err(Clone::clone).and_then(read);
        (own(|s| s.named::<ImpedanceSetup>().map(drop)), own(|s| s.named::<KnockSetup>().map(drop)))
    }

    /// Any JSON: leaves, lists and objects whose names are often those of a setup.
    fn any_json() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            any::<i64>().prop_map(Value::from),
            any::<f64>().prop_map(Value::from),
            prop_oneof!["impedance", "knock", "driver", "coil", ".*"].prop_map(Value::from),
        ];
        leaf.prop_recursive(4, 32, 6, |inner| {
            let list = prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from);
            prop_oneof![list, prop::collection::vec((any_name(), inner), 0..6).prop_map(|f| f.into_iter().collect())]
        })
    }

    fn any_name() -> impl Strategy<Value = String> {
        prop_oneof!["check|takes|seed|role|sensor|channel|band_hz", "(series|input)_(resistor|resistance)_ohm", ".*"]
    }

    /// Short enough to be drawn by chance; the longer ones of the contract are not.
    const KNOWN: [&str; 7] = ["check", "takes", "seed", "sensor", "channel", "file", "role"];
    const IMPEDANCE: &str = r#""check":"impedance","series_resistor_ohm":10,"source_channel":1,"driver_channel":2"#;
    const KNOCK: &str = r#""check":"knock","sensor":"coil","channel":1"#;

    #[test]
    fn happenings_cross_both_ways() {
        use crate::browser::writer::tree_of;
        use crate::procedure::step::Happening;
        let json = r#"[{"kind":"confirmed","step":"card","answers":{"foam":true,"r_e_ohm":6.2,"who":"me"}},
            {"kind":"confirmed","step":"a"},{"kind":"set_aside","take":"","knock":2},{"kind":"stepped_back"},
            {"kind":"heard","step":"b","knocks":[{"time_s":1,"peak_dbfs":-3,"frequency_hz":null,"q":null,"set_aside":
              {"code":"second_mode","message":"m","remedy":"r","numbers":{"share":0.4}}}]}]"#;
        let happenings: Vec<Happening> = parse_named(json).unwrap();
        assert_eq!(parse_plain::<Vec<Happening>>(json).unwrap(), happenings);
        assert!(matches!(&happenings[2], Happening::SetAside { knock: Some(2), .. }));
        assert_eq!(read::<Vec<Happening>>(&tree_of(&happenings).unwrap()).unwrap(), happenings);
        for (json, wanted) in [
            (r#"[{"kind":"read","reading":{"takes":[3]}}]"#, "[0].reading.takes[0]"),
            (r#"[{"kind":"finished"},{"kind":"forgotten"}]"#, "[1].kind"),
            (r#"[{"kind":"chosen","step":"a"}]"#, "[0].choice"),
            (r#"[{"kind":"confirmed","step":"a","answers":{"x":[1]}}]"#, "[0].answers.x"),
            (r#"[{"step":"a","choice":"b"}]"#, "[0].kind"),
        ] {
            let fault = parse_named::<Vec<Happening>>(json).expect_err("must be refused");
            assert_eq!(fault.field.as_deref(), Some(wanted), "{fault:?}");
        }
    }

    proptest! {
        #[test]
        fn no_text_panics(text in ".*", json in any_json()) {
            for setup in [text, json.to_string()] {
                for fault in [read_all(&setup).0, read_all(&setup).1].into_iter().filter_map(Result::err) {
                    prop_assert!(fault.kind == "setup" && !fault.message.is_empty(), "{:?}", fault);
                }
            }
        }

        #[test]
        fn an_unknown_field_is_refused_by_its_name(name in "[^`]{1,12}|[a-z_.]{1,12}", value in any_json()) {
            prop_assume!(!KNOWN.contains(&name.as_str()));
            let quoted = Value::from(name.as_str());
            let at_top = |own: &str| format!("{{{own},{quoted}:{value}}}");
            let in_take = |own: &str| format!(r#"{{{own},"takes":[{{"role":"a",{quoted}:{value}}}]}}"#);
            let faults = [
                (read_all(&at_top(IMPEDANCE)).0, name.clone()),
                (read_all(&at_top(KNOCK)).1, name.clone()),
                (read_all(&in_take(IMPEDANCE)).0, format!("takes[0].{name}")),
            ];
            for (read, wanted) in faults {
                prop_assert_eq!(read.expect_err("must be refused").field, Some(wanted));
            }
        }
    }
}
