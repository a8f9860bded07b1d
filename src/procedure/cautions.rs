//! Cautions, each shown at the step where it matters. Local codes and licensed practice come before all of them.

use super::step::Caution;

fn caution(id: &str, title: &str, text: &str) -> Caution {
    Caution { id: id.to_owned(), title: title.to_owned(), text: text.to_owned() }
}

/// Before anything is played. Limit: NIOSH recommended exposure limit, 85 dB(A) over 8 h, 3 dB exchange rate.
pub fn hearing() -> Caution {
    caution(
        "hearing",
        "Hearing",
        "A driver close by makes about 94 to 106 dB at one volt. 85 dB(A) is the recommended limit for eight hours, and \
         every 3 dB more halves the time. Start low, and wear ear defenders for loud sweeps.",
    )
}

/// Where an amplifier and an input share a ground.
pub fn amplifier_ground() -> Caution {
    caution(
        "amplifier_ground",
        "Amplifier and ground",
        "Check with a meter that the amplifier's minus terminal is the input's ground. A bridged output has no grounded \
         terminal and must never be joined to an input's ground. Never lift the protective earth.",
    )
}

/// Where volts could be too many for an input.
pub fn input_volts() -> Caution {
    caution(
        "input_volts",
        "Volts into an input",
        "10 V into a line input destroys it. Behind an amplifier use a divider of 10 kΩ to 1 kΩ with clamp diodes, or a \
         transformer, in front of each input.",
    )
}

/// Where an amplifier drives the jig.
pub fn amplifier_load() -> Caution {
    caution(
        "amplifier_load",
        "The amplifier's output",
        "Do not run a valve amplifier without a load, and short no amplifier's output: the series resistor stays in \
         circuit at every step.",
    )
}

/// Where a meter is held to an amplifier.
pub fn amplifier_output() -> Caution {
    caution(
        "amplifier_output",
        "A meter at the amplifier",
        "Only the meter and the driver hang on the output: a bridged output has no grounded terminal and must never be \
         joined to the ground of an input or of another instrument. Hold the tips by their grips, and let them touch \
         nothing else.",
    )
}

/// Where the cone is driven.
pub fn excursion() -> Caution {
    caution(
        "excursion",
        "Travel",
        "Frequencies below a driver's resonance are hardly heard and move the cone most, so do not turn up because \
         nothing is heard. A tweeter is never swept below its resonance; a series capacitor of 10 to 47 µF protects it.",
    )
}

/// Foam surrounds.
pub fn foam() -> Caution {
    caution(
        "foam",
        "Crumbling foam",
        "Where the foam of the surround crumbles, do not drive the cone. Repair it first.",
    )
}

/// Magnets, at the first handling of a bare driver.
pub fn magnet() -> Caution {
    caution(
        "magnet",
        "Magnets",
        "The magnet pulls steel: keep fingers, tools, cards and pacemakers away from it, and blades away from the cone.",
    )
}

/// Opening a cabinet or an amplifier.
pub fn mains() -> Caution {
    caution(
        "mains",
        "Mains and charged parts",
        "Work on mains equipment is for those licensed for it, and local codes rule. Capacitors are discharged before \
         they are touched.",
    )
}

/// A cable into a socket that feeds a microphone.
pub fn socket_feed() -> Caution {
    caution(
        "socket_feed",
        "Sockets that feed a microphone",
        "Phantom power is switched off before the coil is connected. A headset socket reads a bare coil as a pressed \
         button: put about 2.2 kΩ and a capacitor in series, so that no direct current passes the coil.",
    )
}

/// A weight on the cone.
pub fn weight() -> Caution {
    caution(
        "weight",
        "Weight on the cone",
        "Fix the weight with putty that comes off clean, close to the middle but never on a soft cap, and use brass or \
         lead, not steel: the magnet would catch it. Lay the driver face up for this.",
    )
}

/// A cell at a coil or an input.
pub fn direct_current() -> Caution {
    caution(
        "direct_current",
        "Direct current",
        "One 1.5 V cell for under a second is enough. 9 V hurts tweeters. Into an input the cell goes through 10 kΩ with \
         1 kΩ across the input, never straight.",
    )
}

/// Where a mark at a terminal is believed.
pub fn old_professional() -> Caution {
    caution(
        "old_professional",
        "Older professional drivers",
        "Some older professional drivers move inwards for plus on the marked terminal, and rewound coils may do either. \
         Before a system is wired anew, mark what was measured.",
    )
}

/// Every caution, for tests and the printed guide.
pub fn all() -> Vec<Caution> {
    vec![
        hearing(),
        amplifier_ground(),
        input_volts(),
        amplifier_load(),
        amplifier_output(),
        excursion(),
        foam(),
        magnet(),
        mains(),
        socket_feed(),
        weight(),
        direct_current(),
        old_professional(),
    ]
}
