//! The types that every visit writes, field by field. A type that is not named here is written by serde: right, but larger.

use super::shapes::{writes, Write, Writing};
use super::tree::Tree;
use super::wire::{CoreFault, TakeEntry};
use super::writer::tree_of;
use crate::electrical::meter_reading::MeterReading;
use crate::math::budget::Contribution;
use crate::procedure::step::{
    Action, Caution, ChannelNote, Choice, Drawing, DrawingKind, Field, KnockNote, Pick, PickOption, Progress, Stage,
    Step, TakeNote, TakeUse, TickItem,
};
use crate::signal::gaps::Gap;
use crate::signal::health::{ChannelHealth, Health};
use crate::signal::hum::Hum;
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::{ComputedWith, Figure, Outcome, Reading};
use crate::signal::stimulus::{Shape, Stimulus};
use crate::signal::wav::Format;

macro_rules! names {
    ($($type:ident),*) => {$(
        impl Write for $type {
            fn write(&self) -> Tree {
                tree_of(self).unwrap_or(Tree::Null)
            }
        }
    )*};
}
names!(Code, DrawingKind, Format, Outcome, Shape, Stage);

writes! {
    TakeEntry { file, role, resistor_ohm, load_ohm, added_mass_kg, box_volume_m3, set_aside }
    Notice { code, message, remedy, numbers }
    Contribution { source, effect, common }
    Figure { value, standard_uncertainty, half_width_95, reason, budget }
    ComputedWith { version, method }
    Stimulus { shape, rate_hz, period_s, periods, low_hz, high_hz, peak_dbfs, seed, travel_shape }
    Hum { mains_hz, frequency_hz, rms }
    Gap { time_s, samples }
    ChannelHealth { channel, peak_dbfs, rms_dbfs, clipped_samples, dc, on_16_bit_grid, hum }
    Health {
        rate_hz, duration_s, channels, zero_runs, repeated_blocks, identical_channels, level_change_db, notices
    }
    ChannelNote { peak_dbfs, rms_dbfs, clipped_samples, snr_db, signal_dbfs, drift_db }
    KnockNote { channel, time_s, peak_dbfs, frequency_hz, q, set_aside }
    TakeNote {
        id, role, stimulus_peak_dbfs, resistor_ohm, load_ohm, added_mass_kg, box_volume_m3, duration_s, channels, knocks,
        notices
    }
    Caution { id, title, text }
    Drawing { kind, labels }
    TickItem { id, label, help, required }
    PickOption { id, label }
    Pick { id, label, options, default }
    Field { id, label, unit, scale, low, high, default, optional, help }
    TakeUse { id, role, resistor_ohm, load_ohm, added_mass_kg, box_volume_m3, set_aside }
    Choice { id, label, help }
    Progress { done, of, seconds }
    Step { stage, id, sentence, note, cautions, drawing, action, progress, choices, notices, readings }
}

/// All but the curves, which cross as typed arrays.
impl Write for Reading {
    fn write(&self) -> Tree {
        let Reading { schema, check, outcome, values, alongside, chosen, curves: _, warnings, refusal, computed_with } =
            self;
        let mut out = Writing::default();
        out.add("schema", schema);
        out.add("check", check);
        out.add("outcome", outcome);
        out.add("values", values);
        out.add("alongside", alongside);
        out.add("chosen", chosen);
        out.add("warnings", warnings);
        out.add("refusal", refusal);
        out.add("computed_with", computed_with);
        out.done()
    }
}

impl Write for MeterReading {
    fn write(&self) -> Tree {
        let mut out = Writing::default();
        out.add("frequency_hz", &self.frequency_hz);
        if self.source_v.is_some() {
            out.add("source_v", &self.source_v);
        }
        out.add("driver_v", &self.driver_v);
        if self.resistor_v.is_some() {
            out.add("resistor_v", &self.resistor_v);
        }
        out.done()
    }
}

impl Write for CoreFault {
    fn write(&self) -> Tree {
        let mut out = Writing::default();
        out.add("kind", &self.kind);
        out.add("message", &self.message);
        if self.field.is_some() {
            out.add("field", &self.field);
        }
        out.done()
    }
}

macro_rules! variants {
    ($value:ident, $type:ident { $($variant:ident $name:literal { $($field:ident),* })* }) => {
        match $value {$(
            $type::$variant { $($field),* } => {
                let mut out = Writing::kind($name);
                $(out.add(stringify!($field), $field);)*
                out.done()
            }
        )*}
    };
}

impl Write for Action {
    fn write(&self) -> Tree {
        variants!(self, Action {
            Tick "tick" { items, picks, fields, button }
            Confirm "confirm" { button }
            Ask "ask" { fields, button }
            Play "play" {
                stimulus, role, tail_s, resistor_ohm, added_mass_kg, box_volume_m3, channels, by_itself, button
            }
            Listen "listen" { channel, second_channel, wanted_knocks, max_s, end_after_s, load_ohm, added_mass_kg, box_volume_m3, button }
            Sound "sound" { stimulus, fields, button }
            Analyse "analyse" { takes, fields }
            Done "done" { next }
            Refuse "refuse" { notice }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::procedure::bench::ImpedanceBench;
    use crate::procedure::bench::Output;
    use crate::procedure::impedance;
    use crate::signal::health::assess;
    use crate::signal::take::Take;
    use serde::Serialize;

    /// The same as serde writes it; fields named here may not be named otherwise there.
    fn same(value: &(impl Write + Serialize)) {
        assert_eq!(value.write(), tree_of(value).unwrap());
    }

    #[test]
    fn what_is_written_here_is_what_serde_writes() {
        let bench = ImpedanceBench {
            series_resistor_ohm: 10.0,
            series_resistor_relative_uncertainty: None,
            source_channel: 1,
            driver_channel: 2,
            output: Output::Headphones,
            limit_v: None,
            rate_hz: 48_000.0,
            new_device: false,
            practice: true,
        };
        same(&impedance::step(&bench, &[]));
        let samples: Vec<f64> = (0..96_000).map(|n| 0.5 * (f64::from(n) * 0.01).sin() + 0.1).collect();
        same(&assess(&Take::new(48_000.0, vec![samples.clone(), samples]).unwrap()));
        same(&Notice::new(Code::Hum, &[("hum_dbfs", -40.0)]));
        let field = Some("takes[0].role".to_owned());
        same(&CoreFault { kind: "setup".to_owned(), message: "m".to_owned(), field });
        same(&CoreFault::new("take", "m"));
        let mut reading = Reading::new("knock", "by ear");
        let figure = Figure::without_uncertainty(1.0, "no reason");
        reading.values.insert("q".to_owned(), figure);
        let Tree::Object(mut fields) = tree_of(&reading).unwrap() else { panic!("no object") };
        fields.retain(|(name, _)| name != "curves");
        assert_eq!(reading.write(), Tree::Object(fields));
        let action = |action: Action| same(&action);
        action(Action::Confirm { button: "go".to_owned() });
        action(Action::Done { next: vec![Choice { id: "a".to_owned(), label: "b".to_owned(), help: "c".to_owned() }] });
        action(Action::Refuse { notice: Notice::new(Code::Silent, &[]) });
        action(Action::Ask { fields: Vec::new(), button: String::new() });
        let (button, role) = (String::new(), "driver".to_owned());
        action(Action::Listen {
            channel: 1,
            second_channel: Some(2),
            wanted_knocks: 3,
            max_s: 30.0,
            end_after_s: Some(1.0),
            load_ohm: None,
            added_mass_kg: None,
            box_volume_m3: Some(0.06),
            button: button.clone(),
        });
        let take = TakeUse {
            id: "t".to_owned(),
            role: role.clone(),
            resistor_ohm: None,
            load_ohm: None,
            added_mass_kg: None,
            box_volume_m3: None,
            set_aside: vec![1],
        };
        action(Action::Analyse { takes: vec![take], fields: [("r_e_ohm".to_owned(), 6.0)].into() });
        let stimulus = Stimulus {
            shape: Shape::Sweep,
            rate_hz: 48_000.0,
            period_s: 1.0,
            periods: 3,
            low_hz: 10.0,
            high_hz: 20_000.0,
            peak_dbfs: -12.0,
            seed: 1,
            travel_shape: Some([40.0, 0.4, 0.9]),
        };
        let channels = vec![1, 2];
        let tone = Stimulus { shape: Shape::Tone, ..stimulus.clone() };
        action(Action::Sound { stimulus: tone, fields: Vec::new(), button: button.clone() });
        let reading = MeterReading { frequency_hz: 30.0, source_v: None, driver_v: 0.5, resistor_v: Some(0.2) };
        same(&vec![reading, MeterReading { source_v: Some(1.0), resistor_v: None, ..reading }]);
        action(Action::Play {
            stimulus,
            role,
            tail_s: 0.1,
            resistor_ohm: None,
            added_mass_kg: Some(0.05),
            box_volume_m3: Some(0.06),
            channels,
            by_itself: true,
            button,
        });
    }
}
