//! Driver, faults, jig, room and sound-card input integrated in the time domain.
