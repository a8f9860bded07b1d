//! The types that every visit reads, field by field. A type that is not named here is read by serde: right, but larger.

use super::reader::{Wrong, KIND};
use super::shapes::{names, reads, Fields, Read};
use super::tree::Tree;
use super::wire::{Check, Head, TakeEntry};
use crate::driver::impedance_setup::{CoilChoice, ImpedanceSetup};
use crate::driver::knock_check::{KnockSensor, KnockSetup};
use crate::driver::meter_setup::MeterSetup;
use crate::driver::mic_impedance_check::MicImpedanceSetup;
use crate::driver::one_channel_check::OneChannelSetup;
use crate::driver::pair_check::PairSetup;
use crate::electrical::meter_accuracy::MeterAccuracy;
use crate::electrical::meter_reading::{Across, MeterReading};
use crate::procedure::bench::{
    ImpedanceBench, KnockBench, MeterBench, MicrophoneBench, OneChannelBench, Output, PairBench, Socket,
};
use crate::procedure::step::{Answer, ChannelNote, Happening, KnockNote, ReadingNote, TakeNote};
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::Outcome;
use crate::signal::stimulus::{Shape, Stimulus};
use crate::signal::wav::Format;

names!(Across, Check, CoilChoice, Code, Format, KnockSensor, Outcome, Output, Shape, Socket);

reads! {
    open Head { check; takes, seed }
    strict TakeEntry { file, role, resistor_ohm, load_ohm, added_mass_kg, box_volume_m3; set_aside }
    strict ImpedanceSetup {
        series_resistor_ohm, series_resistor_relative_uncertainty, source_channel, driver_channel, input_resistance_ohm,
        output_resistance_ohm, r_e_ohm, band_hz, suspension_creep, effective_diameter_m, driver_displacement_m3,
        air_temperature_c, air_pressure_pa; coil_model
    }
    strict OneChannelSetup {
        series_resistor_ohm, series_resistor_relative_uncertainty, known_resistor_relative_uncertainty, channel,
        input_resistance_ohm, output_resistance_ohm, band_hz, suspension_creep; coil_model
    }
    strict MicImpedanceSetup {
        series_resistor_ohm, series_resistor_relative_uncertainty, channel, output_resistance_ohm, shaped_louder_db,
        shaped_at_hz, shaped_q_without, shaped_q_with, r_e_ohm, band_hz, suspension_creep; coil_model
    }
    strict OneChannelBench {
        series_resistor_ohm, series_resistor_relative_uncertainty, channel, rate_hz; new_device, practice
    }
    strict MicrophoneBench {
        series_resistor_ohm, series_resistor_relative_uncertainty, channel, limit_v, rate_hz; practice
    }
    strict KnockSetup {
        sensor, channel, r_e_ohm, input_resistance_ohm, effective_diameter_m, driver_displacement_m3, air_temperature_c,
        air_pressure_pa;
    }
    strict ImpedanceBench {
        series_resistor_ohm, series_resistor_relative_uncertainty, source_channel, driver_channel, output, limit_v, rate_hz;
        new_device, practice
    }
    strict PairSetup { first_channel, second_channel, first_r_e_ohm, second_r_e_ohm, input_resistance_ohm; }
    strict PairBench { first_channel, second_channel, input_resistance_ohm; practice }
    strict KnockBench { sensor, channel, socket, r_e_ohm, input_resistance_ohm, effective_diameter_m; practice }
    strict MeterAccuracy { percent_of_reading, resolution_v, resolution_above_v; counts }
    strict MeterReading { frequency_hz, source_v, driver_v, resistor_v; }
    strict MeterSetup {
        series_resistor_ohm, series_resistor_relative_uncertainty, readings, accuracy, r_e_ohm,
        r_e_standard_uncertainty_ohm, frequency_relative_uncertainty;
    }
    strict MeterBench {
        series_resistor_ohm, series_resistor_relative_uncertainty, accuracy, across, output, limit_v, rate_hz;
        by_hand, practice
    }
    strict Stimulus { shape, rate_hz, period_s, periods, low_hz, high_hz, peak_dbfs, seed, travel_shape; }
    open ChannelNote { peak_dbfs, rms_dbfs, clipped_samples, snr_db, signal_dbfs, drift_db; }
    open KnockNote { time_s, peak_dbfs, frequency_hz, q, set_aside; channel }
    open TakeNote {
        id, role, stimulus_peak_dbfs, resistor_ohm, load_ohm, added_mass_kg, box_volume_m3, duration_s, channels, knocks,
        notices;
    }
    open ReadingNote { takes, outcome, refusal, warnings, values; }
    open Notice { code, message, remedy, numbers; }
}

impl Read for Answer {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        match tree {
            Tree::Bool(value) => Ok(Answer::Bool(*value)),
            Tree::Number(value) => Ok(Answer::Number(*value)),
            Tree::Text(value) => Ok(Answer::Text(value.clone())),
            _ => Err(Wrong::new("true or false, a number, or text is wanted".to_owned())),
        }
    }
}

impl Read for Happening {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        let fields = Fields::open(tree, &[])?;
        let kind: String = fields.get(KIND)?;
        Ok(match kind.as_str() {
            "confirmed" => Happening::Confirmed { step: fields.get("step")?, answers: fields.or_default("answers")? },
            "chosen" => Happening::Chosen { step: fields.get("step")?, choice: fields.get("choice")? },
            "heard" => Happening::Heard { step: fields.get("step")?, knocks: fields.get("knocks")? },
            "took" => Happening::Took { step: fields.get("step")?, take: fields.get("take")? },
            "voided" => Happening::Voided { step: fields.get("step")?, reason: fields.get("reason")? },
            "set_aside" => Happening::SetAside { take: fields.get("take")?, knock: fields.get("knock")? },
            "read" => Happening::Read { reading: fields.get("reading")? },
            "stepped_back" => Happening::SteppedBack,
            "finished" => Happening::Finished,
            _ => {
                const KNOWN: [&str; 9] =
                    ["confirmed", "chosen", "heard", "took", "voided", "set_aside", "read", "stepped_back", "finished"];
                return Err(Wrong::new(Wrong::one_of("kind", &kind, &KNOWN)).under(KIND));
            }
        })
    }
}
