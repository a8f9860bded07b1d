//! The box around the driver. Filled by later checks (closed, vented, leak).
