//! Every sentence of a warning, a refusal and a remedy, in one place.
//! Say what is, then what to do; no blame, no exclamation marks.
//!
//! How parts and places for numbers become a sentence stands in [`super::wording`].

use super::notice::Code;
use super::wording::fill;
use std::collections::BTreeMap;

/// Message and remedy for a code; numbers are woven in where they help.
pub fn words(code: Code, numbers: &BTreeMap<String, f64>) -> (String, String) {
    let Words { message, remedy } = of(code);
    (fill(message, numbers), fill(remedy, numbers))
}

/// The same message, said of one of two drivers.
pub fn of_driver(number: usize, message: &str) -> String {
    format!("Driver {number}: {message}")
}

/// Message and remedy as parts.
struct Words {
    message: &'static [&'static str],
    remedy: &'static [&'static str],
}

fn of(code: Code) -> Words {
    match code {
        Code::Clipped => CLIPPED,
        Code::Gap => GAP,
        Code::Silent => SILENT,
        Code::DeadChannel => DEAD_CHANNEL,
        Code::SameChannels => SAME_CHANNELS,
        Code::SwappedChannels => SWAPPED_CHANNELS,
        Code::GainRiding => GAIN_RIDING,
        Code::Hum => HUM,
        Code::Noise => NOISE,
        Code::DirectCurrent => DIRECT_CURRENT,
        Code::OpenCircuit => OPEN_CIRCUIT,
        Code::ShortCircuit => SHORT_CIRCUIT,
        Code::WrongResistor => WRONG_RESISTOR,
        Code::NoKnock => NO_KNOCK,
        Code::TooFewKnocks => TOO_FEW_KNOCKS,
        Code::Contradiction => CONTRADICTION,
        Code::ModelMisfit => MODEL_MISFIT,
        Code::SecondMode => SECOND_MODE,
        Code::Friction => FRICTION,
        Code::BandTooNarrow => BAND_TOO_NARROW,
        Code::SixteenBit => SIXTEEN_BIT,
        Code::TooShort => TOO_SHORT,
        Code::Overdamped => OVERDAMPED,
        Code::LowRate => LOW_RATE,
        Code::TooQuiet => TOO_QUIET,
        Code::TooFewChannels => TOO_FEW_CHANNELS,
        Code::NotOneClip => NOT_ONE_CLIP,
        Code::NotShorted => NOT_SHORTED,
        Code::NotOpen => NOT_OPEN,
        Code::CrumblingFoam => CRUMBLING_FOAM,
        Code::LightWeight => LIGHT_WEIGHT,
        Code::HeavyWeight => HEAVY_WEIGHT,
        Code::LargeBox => LARGE_BOX,
        Code::LeakyBox => LEAKY_BOX,
        Code::NoStimulus => NO_STIMULUS,
        Code::SetAside => SET_ASIDE,
        Code::OutputNotResistive => OUTPUT_NOT_RESISTIVE,
        Code::TooFewReadings => TOO_FEW_READINGS,
        Code::CoarseReadings => COARSE_READINGS,
        Code::SlowMeter => SLOW_METER,
        Code::LooseJoint => LOOSE_JOINT,
        Code::NotMoved => NOT_MOVED,
        Code::NoMovement => NO_MOVEMENT,
        Code::PolarityUnclear => POLARITY_UNCLEAR,
        Code::InputSignUnknown => INPUT_SIGN_UNKNOWN,
        Code::MovesInwards => MOVES_INWARDS,
        Code::OtherDriver => OTHER_DRIVER,
        Code::UnlikeDrivers => UNLIKE_DRIVERS,
    }
}

// The take itself.

const CLIPPED: Words = Words {
    message: &[
        "The tops are cut off.",
        "{clipped_samples} samples lie at the rail.",
        "The peak reached {peak_dbfs} dBFS.",
        "It shows in channel {channel}.",
        "{knocks_set_aside} knocks were set aside for it.",
    ],
    remedy: &["Turn the input gain down, or play or knock more softly, then take it again.", "Louder is not better."],
};
const GAP: Words = Words {
    message: &[
        "Samples were lost or repeated inside the take.",
        "The first break lies at {time_s} s.",
        "There are {breaks}.",
        "{longest_zero_run_samples} samples in a row are nought.",
        "{periods_dropped} periods of the signal were set aside.",
        "The place moved {slips} times.",
        "A mark came {mark_moved_samples} samples off its place.",
        "{marks_found} of the 3 marks were heard.",
    ],
    remedy: &["Close other programs and browser tabs, keep this page in front, then take it again."],
};
const SILENT: Words = Words {
    message: &[
        "The take is silent.",
        "No signal at all arrived: all {constant_samples} samples are one and the same.",
        "Its peak is {-peak_dbfs} dB below full scale.",
        "Its level is {-rms_dbfs} dB below full scale.",
    ],
    remedy: &[
        "Check that the right input is chosen, that its gain is up, and that the cable sits firmly at both ends.",
    ],
};
const DEAD_CHANNEL: Words = Words {
    message: &[
        "One input carries no signal.",
        "It is channel {channel}.",
        "Nothing at all arrived: its {constant_samples} samples are one and the same.",
        "Its level is {-rms_dbfs} dB below full scale.",
    ],
    remedy: &["Check the lead and the clip of that input, then take it again."],
};
const SAME_CHANNELS: Words = Words {
    message: &[
        "Both channels carry the same signal.",
        "Source and driver are both set to channel {channel}.",
        "Of the sound in the two inputs {%alike} % is alike: a single driver hangs at both, or a cable joins them.",
    ],
    remedy: &[
        "Choose a stereo input with one channel for each of the two signals; many microphone inputs are mono.",
        "Part what a cable joins.",
    ],
};
const SWAPPED_CHANNELS: Words = Words {
    message: &[
        "Source and driver are swapped.",
        "The driver's channel is {excess_db} dB louder than the source, and a resistor can only take away.",
        "In {=readings_swapped} readings the driver's volts are the larger, and a resistor can only take away.",
        "Near {dip_hz} Hz the impedance is lowest where it should be highest.",
    ],
    remedy: &["Swap the two input plugs, or the two channels or columns of volts in the setup."],
};
const GAIN_RIDING: Words = Words {
    message: &[
        "The input gain was riding.",
        "It moved by {|change_db} dB; {allowed_db} dB is allowed.",
        "Two tones 20 dB apart came back {apart_db} dB apart.",
        "Noise after a knock is {noise_after_over_before_db} dB off that before; {allowed_db} dB is allowed.",
        "Strong rings die {decay_faster_when_strong_percent} % faster than weak ones: the gain is pulled down.",
        "The decay bends, as a gain that moves behind the ring makes it; it changes Q by {|q_bent_by_gain_percent} %.",
        "Q scatters by {q_scatter_percent} % from knock to knock; noise explains {noise_explains_percent} %.",
        "The takes to be compared came back {|level_apart_db} dB apart; gain that follows level is met at one level only.",
        "It follows level; the takes that are compared came back within {|met_within_db} dB, which it treats alike.",
    ],
    remedy: &["Switch off automatic gain, noise suppression and sound effects for this input, then take it again."],
};
const HUM: Words = Words {
    message: &[
        "Mains hum is in the take.",
        "It lies at {hum_hz} Hz.",
        "It lies at {frequency_hz} Hz.",
        "Its level is {-hum_dbfs} dB below full scale.",
        "It lies {|below_signal_db} dB below the signal.",
        "It is {%hum_over_ring} % of the ring.",
        "It shows in channel {channel}.",
    ],
    remedy: &["Unplug the charger, move leads away from transformers, and join all grounds at one point."],
};
const NOISE: Words = Words {
    message: &[
        "Noise is large against the signal.",
        "The signal stands {snr_db} dB above it.",
        "{wanted_db} dB is wanted.",
        "The resonance is certain to {%f_s_relative_uncertainty} %, Q to {%q_relative_uncertainty} %.",
        "In this room and at this level Q_ts would be certain to {%forecast_q_ts_relative} % at best.",
        "{lines} lines of the spectrum can be used.",
        "The resonance is certain to {%f_s_relative_uncertainty} %, Q_ts to {%q_ts_relative_uncertainty} %.",
        "It is {%noise_over_ring} % of the ring.",
        "It is {%noise_over_loudest} % of the loudest knock.",
        "It stands at {noise_dbfs} dBFS.",
        "The tone scatters by {%tone_scatter} %.",
        "{figures_left_out} figures are left out: the knocks do not part them from nought.",
        "{periods_dropped} periods of the signal differ from the others and were set aside.",
    ],
    remedy: &["Wait for quiet, shorten the leads, or raise the level within its limit; more takes help too."],
};
const DIRECT_CURRENT: Words = Words {
    message: &[
        "A constant voltage lies on the input.",
        "It is {%dc} % of full scale.",
        "It is {-dc_dbfs} dB below full scale.",
        "It shows in channel {channel}.",
    ],
    remedy: &["Switch phantom power off, or put a capacitor in series with the coil."],
};
const SIXTEEN_BIT: Words = Words {
    message: &[
        "The path is 16 bit.",
        "One step is {-step_dbfs} dB below full scale.",
        "The signal is {-rms_dbfs} dB below full scale.",
    ],
    remedy: &["Choose 24 bit in the system's sound settings where they offer it; otherwise keep the level high."],
};
const TOO_SHORT: Words = Words {
    message: &[
        "The take is too short.",
        "It lasts {duration_s} s; {wanted_s} s is wanted.",
        "{periods} whole periods are there; {wanted_periods} are wanted.",
        "A ring lasts {ring_s} s until the next sound; {ring_at_least_s} s is wanted.",
        "{knocks_set_aside} knocks were set aside for it.",
    ],
    remedy: &["Take it again, wait until each knock has died away, and let it run to its end."],
};
const NO_STIMULUS: Words = Words {
    message: &[
        "The take holds no signal that a ratio can be read from: no repeated one, no single sweep, no steady noise.",
    ],
    remedy: &["Play the page's own signal, or a single sweep with silence before and after it."],
};
const LOW_RATE: Words = Words {
    message: &["The sample rate is low.", "It is {rate_hz} Hz.", "{wanted_hz} Hz is wanted."],
    remedy: &["Choose a wired input instead of a wireless headset, and 44.1 or 48 kHz in the system's sound settings."],
};
const TOO_FEW_CHANNELS: Words = Words {
    message: &["The take lacks a channel.", "It has {channels}.", "Channel {wanted_channel} is asked for."],
    remedy: &["Choose a stereo input, or set the channel to one that the device has."],
};
const TOO_QUIET: Words = Words {
    message: &[
        "The signal is weak, even at the loudest level allowed here.",
        "It stands {snr_db} dB above the noise.",
        "The level was {-level_dbfs} dB below full scale.",
        "The knock peaked {-peak_dbfs} dB below full scale.",
    ],
    remedy: &["Turn the output's own volume or the input gain up a little, or take a smaller series resistor."],
};

// The jig.

const OPEN_CIRCUIT: Words = Words {
    message: &[
        "The driver reads as open.",
        "Its impedance comes out above {impedance_ohm} Ω.",
        "The modulus is {magnitude_ohm} Ω.",
    ],
    remedy: &["Check both clips at the terminals, then the lead-out wires, then the coil with a meter."],
};
const SHORT_CIRCUIT: Words = Words {
    message: &[
        "The driver reads as shorted.",
        "Its impedance comes out at {impedance_ohm} Ω.",
        "The modulus is {magnitude_ohm} Ω.",
    ],
    remedy: &["Check that the two clips do not touch, then the coil with a meter."],
};
const WRONG_RESISTOR: Words = Words {
    message: &[
        "The resistor is not what the setup says.",
        "It reads as {found_ohm} Ω; {expected_ohm} Ω is stated.",
        "{series_resistor_ohm} Ω lies outside 1 to 10 000 Ω.",
        "The coil's resistance comes out as {r_e_ohm} Ω.",
        "A meter reads {meter_r_e_ohm} Ω there; a series resistor of {fitting_ohm} Ω would agree with it.",
        "That is {deviations} standard deviations off.",
    ],
    remedy: &["Measure the resistor with a meter, check that both its ends are connected, and correct the value."],
};
const NOT_ONE_CLIP: Words = Words {
    message: &[
        "The two inputs do not hang on one clip.",
        "Their levels differ by {|difference_db} dB; 3 dB is allowed.",
    ],
    remedy: &["Put both input leads on the source side of the resistor, set both gain knobs alike, then play again."],
};
const OUTPUT_NOT_RESISTIVE: Words = Words {
    message: &[
        "The output does not act like a plain resistance.",
        "Its low end comes out {%low_end_off} % off the middle when the load changes: a capacitor lies in it.",
    ],
    remedy: &["Use another output, one without a coupling capacitor, or two inputs, where it takes no part."],
};
const NOT_OPEN: Words = Words {
    message: &[
        "Something is still connected in the driver's place.",
        "The driver's input stands {|difference_db} dB below the source; with nothing there it is less than 1 dB.",
    ],
    remedy: &["Take the driver and every resistor off the two leads, then play again."],
};
const NOT_SHORTED: Words = Words {
    message: &[
        "The clips are not joined.",
        "The driver's input still sees the source at {difference_db} dB; a short leaves less than \u{2212}20 dB.",
    ],
    remedy: &["Clip the two driver leads to each other, without the driver, then play again."],
};

// The knock.

const NO_KNOCK: Words = Words {
    message: &[
        "No knock was found in the take.",
        "{sounds_set_aside} sounds were heard and set aside, because none rings like a cone.",
        "Nothing rose more than {rise_db} dB above the background.",
        "The peak is {-peak_dbfs} dB below full scale.",
    ],
    remedy: &["Knock on the cone itself with something soft, and let each knock die away before the next."],
};
const TOO_FEW_KNOCKS: Words = Words {
    message: &[
        "Too few knocks can be used.",
        "{knocks} are there; {wanted} are wanted.",
        "{knocks} are there; {knocks_wanted} are wanted.",
        "It is take {take}.",
        "It shows in channel {channel}.",
    ],
    remedy: &["Take it again with five or six knocks, two or three seconds apart, and keep quiet in between."],
};
const SECOND_MODE: Words = Words {
    message: &[
        "A second, weaker mode rings along.",
        "It lies at {frequency_hz} Hz.",
        "Its Q is {q}.",
        "It holds {%energy_share} % of the energy.",
    ],
    remedy: &["The room or the frame? Stand the driver on foam, hold the frame, and knock twice more."],
};
const FRICTION: Words = Words {
    message: &[
        "The ring dies faster the smaller it gets: something rubs.",
        "{rings_that_jerk} of {knocks} rings jerk where the cone turns round.",
        "{knocks_that_stop_dead} of {knocks} knocks stop dead instead of dying away.",
        "Q falls from {q_at_full_amplitude} at the top to {q_at_a_third} at a third of it.",
        "The sign is {statistic} strong; chance gives less than {limit}.",
    ],
    remedy: &["Push the cone straight by hand and feel for a scrape; look at the gap, the spider and the lead-outs."],
};
const OVERDAMPED: Words = Words {
    message: &[
        "The ring is damped too strongly to be read.",
        "Its Q is {q}; {wanted_q} is wanted.",
        "Its Q is {q}; at least {q_at_least} is wanted.",
        "The load is {load_ohm} Ω.",
        "{knocks_set_aside} knocks were set aside for it.",
    ],
    remedy: &["Take a larger resistor across the terminals. A short tells nothing here."],
};
const LIGHT_WEIGHT: Words = Words {
    message: &[
        "The weight is light for this cone.",
        "The resonance fell by {%drop} %; 12 to 29 % is good.",
        "It is {%of_cone} % of the moving mass; 30 to 100 % is good.",
    ],
    remedy: &["Take about {suggested_g} g.", "A heavier weight, fixed with putty, makes the mass more certain."],
};
const HEAVY_WEIGHT: Words = Words {
    message: &[
        "The weight is heavy for this cone.",
        "The resonance fell by {%drop} %; 12 to 29 % is good.",
        "It is {%of_cone} % of the moving mass; 30 to 100 % is good.",
    ],
    remedy: &["Take about {suggested_g} g.", "A lighter weight lets the cone sag less."],
};
const LARGE_BOX: Words = Words {
    message: &[
        "The box is large for this driver.",
        "It adds {%stiffening} % to the stiffness of the suspension; 50 % and more is good.",
        "Net of the driver it holds {box_l} L.",
    ],
    remedy: &["Take a smaller box; one of about the driver's V_as or less makes the figure more certain."],
};
const LEAKY_BOX: Words = Words {
    message: &[
        "The box does not behave like a closed, empty one.",
        "The moving mass comes out {mass_ratio} times that in free air.",
        "The loss comes out {loss_ratio} times that in free air.",
    ],
    remedy: &["Seal the rim and every hole with putty or tape, take wadding out, then take it again."],
};
const CRUMBLING_FOAM: Words = Words {
    message: &["The foam of the surround crumbles, so the cone is not driven."],
    remedy: &["Have the surround replaced first. The coil's resistance can be read with a meter meanwhile."],
};

const SET_ASIDE: Words = Words {
    message: &["Knocks were set aside by hand.", "They are {knocks_set_aside}."],
    remedy: &["Nothing needs to be done; knock again if too few are left."],
};

const OTHER_DRIVER: Words = Words {
    message: &[
        "Some knocks on one driver were heard by the other input too, and do not count there.",
        "They are {knocks_set_aside}.",
    ],
    remedy: &[
        "Lay each driver on a cloth of its own, part the two leads, and let one ring die before the other knock.",
    ],
};
const UNLIKE_DRIVERS: Words = Words {
    message: &[
        "These are hardly two of a kind.",
        "The resonances differ by a factor of {resonance_ratio}.",
        "What two of a make share is counted as shared in the uncertainty of their difference.",
    ],
    remedy: &["Compare two of one make, or read each by itself and compare the two readings."],
};

// Polarity.

const NO_MOVEMENT: Words = Words {
    message: &[
        "Too few movements stand clear of the noise.",
        "{movements} are there; {movements_wanted} are wanted.",
        "It is take {take}.",
    ],
    remedy: &["Check the lead, push more firmly or play louder, and leave two seconds between pushes."],
};
const POLARITY_UNCLEAR: Words = Words {
    message: &[
        "The movements do not begin alike.",
        "{began_plus} began with plus, {began_minus} with minus, {unclear} are not clear.",
        "It is take {take}.",
    ],
    remedy: &[
        "Take it again: push straight in from rest and let go within half a second, or hold the microphone closer.",
    ],
};
const INPUT_SIGN_UNKNOWN: Words = Words {
    message: &["It is not known whether this input turns signals upside down, so only drivers can be compared."],
    remedy: &["Learn it once with a 1.5 V cell through a divider, or with a driver that is known to move outwards."],
};
const MOVES_INWARDS: Words = Words {
    message: &["A driver moves inwards for plus on its marked terminal.", "It is driver {driver}."],
    remedy: &[
        "Some older professional drivers are made that way, others were rewired. Mark it, and wire by the measured motion.",
    ],
};

// The joint.

const LOOSE_JOINT: Words = Words {
    message: &[
        "A joint opens while leads and cone are moved.",
        "It opened {openings} times.",
        "The first time lies at {first_at_s} s.",
        "The deepest opening changes the voltage by {%deepest} %.",
    ],
    remedy: &["Flex the clips alone first; if it stays, the lead-outs, the tinsel leads at the cone or a cold joint are loose."],
};
const NOT_MOVED: Words = Words {
    message: &[
        "Nothing was moved, so a joint that holds proves nothing.",
        "The cone's own voltage is {moved_over_noise} times the noise; four times is wanted.",
    ],
    remedy: &["Take it again, and push the cone gently in and out while the leads are flexed one by one."],
};

// The reading.

const CONTRADICTION: Words = Words {
    message: &[
        "What was measured contradicts itself.",
        "They differ by {%difference} %; {%allowed} % is allowed.",
        "With the weight the resonance lies at {f_with_hz} Hz, without it at {f_without_hz} Hz.",
        "The input's sign comes out both ways from {input_signs} sources.",
        "In the box the resonance lies at {f_in_box_hz} Hz, without it at {f_free_hz} Hz.",
        "V_as is {v_as_weight_l} L by the weight and {v_as_box_l} L by the box.",
        "With the resistor Q is {q_loaded}, without it {q_open}.",
        "With the resistor the resonance lies at {f_loaded_hz} Hz, without it at {f_open_hz} Hz.",
        "With {load_ohm} Ω Q is {q_found}, and {q_expected} is what the other loads ask for.",
        "Takes of one kind differ by a factor of {frequency_ratio} in frequency and {q_ratio} in Q.",
        "The resonance lies between {low_hz} and {high_hz} Hz from take to take.",
        "Reading {=reading}, at {=frequency_hz} Hz, does not fit the others.",
        "Across the driver {=driver_typed_v} V is typed; {=driver_probably_v} V was probably meant.",
        "Across the resistor {=resistor_typed_v} V is typed; {=resistor_probably_v} V was probably meant.",
        "At the source {=source_typed_v} V is typed; {=source_probably_v} V was probably meant.",
        "Across the driver {=driver_typed_v} V is typed; the others ask for {driver_expected_v} V.",
        "Across the resistor {=resistor_typed_v} V is typed; the others ask for {resistor_expected_v} V.",
        "At the source {=source_typed_v} V is typed; the others ask for {source_expected_v} V.",
        "Readings {=reading} and {=exchanged_with_reading} were probably exchanged.",
        "By ohms the coil has {r_e_typed_ohm} Ω; the tones ask for {r_e_by_tones_ohm} Ω.",
    ],
    remedy: &[
        "Check the values typed and that nothing else moved in between, then take again in one go what is in doubt.",
    ],
};
const MODEL_MISFIT: Words = Words {
    message: &[
        "This does not follow the model of a single driver.",
        "The fit misses it by {%relative_misfit} %.",
        "The miss lies at {frequency_hz} Hz.",
        "{%energy_share_of_one_sinusoid} % of the sound is one ring; {%share_at_least} % is wanted.",
        "{%energy_share_of_free_motion} % of the sound is the free ring of a cone; {%share_at_least} % is wanted.",
        "The others ring at {others_ring_at_hz} Hz.",
        "{knocks_set_aside} knocks were set aside for it.",
    ],
    remedy: &[
        "Free the vent, hold the frame, move other drivers away, and keep quiet.",
        "A driver in a box has a curve of its own.",
    ],
};
const BAND_TOO_NARROW: Words = Words {
    message: &[
        "The band does not hold what is asked.",
        "It reaches from {low_hz} to {high_hz} Hz.",
        "The resonance lies near {f_s_hz} Hz.",
        "The impedance is highest at {highest_hz} Hz, where the readings end.",
        "The nearest reading to it lies at {nearest_hz} Hz.",
    ],
    remedy: &[
        "Take it again from an octave below the resonance to well above it, on both sides of the peak; a sweep to 10 kHz or more.",
    ],
};

// The readings of a meter.

const TOO_FEW_READINGS: Words = Words {
    message: &[
        "There are too few readings.",
        "{=readings} are there; {=readings_wanted} are wanted, each at a frequency of its own.",
    ],
    remedy: &["Read at more frequencies on both sides of the resonance; nine or ten in all serve well."],
};
const COARSE_READINGS: Words = Words {
    message: &[
        "The readings are too coarse.",
        "The resonance is certain to {%f_s_relative_uncertainty} %, Q_ts to {%q_ts_relative_uncertainty} %.",
    ],
    remedy: &[
        "Choose the meter's finest range, turn the level up within its limit, or read at more frequencies near the peak.",
    ],
};
const SLOW_METER: Words = Words {
    message: &[
        "Some readings lie below 30 Hz, where many meters are slow.",
        "There are {=readings}, the lowest at {=frequency_hz} Hz.",
    ],
    remedy: &["Wait until the display stands still. One that keeps jumping tells nothing there."],
};

#[cfg(test)]
#[path = "sentences_tests.rs"]
mod tests;
