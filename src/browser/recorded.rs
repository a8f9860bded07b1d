//! The part of an action that matters once its take is there. Reading a whole `Action` back would put the readers of
//! all its texts, drawings and fields into the page's first load (about 40 kB) for nothing.

use super::shapes::reads;
use crate::procedure::step::Action;
use crate::signal::stimulus::Stimulus;

/// What was recorded; fields as in [`Action::Play`] and [`Action::Listen`].
pub struct Recorded {
    stimulus: Option<Stimulus>,
    role: String,
    resistor_ohm: Option<f64>,
    channels: Vec<usize>,
    channel: Option<usize>,
    second_channel: Option<usize>,
    load_ohm: Option<f64>,
    added_mass_kg: Option<f64>,
    box_volume_m3: Option<f64>,
}

reads! { open Recorded { stimulus, resistor_ohm, channel, second_channel, load_ohm, added_mass_kg, box_volume_m3; role, channels } }

impl Recorded {
    /// The action, as far as a note depends on it.
    pub fn action(self) -> Action {
        match self.stimulus {
            Some(stimulus) => Action::Play {
                stimulus,
                role: self.role,
                tail_s: 0.0,
                resistor_ohm: self.resistor_ohm,
                added_mass_kg: self.added_mass_kg,
                box_volume_m3: self.box_volume_m3,
                channels: self.channels,
                by_itself: false,
                button: String::new(),
            },
            None => Action::Listen {
                channel: self.channel.unwrap_or(1),
                second_channel: self.second_channel,
                wanted_knocks: 0,
                max_s: 0.0,
                end_after_s: None,
                load_ohm: self.load_ohm,
                added_mass_kg: self.added_mass_kg,
                box_volume_m3: self.box_volume_m3,
                button: String::new(),
            },
        }
    }
}
