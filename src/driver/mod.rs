//! One driver: equivalent circuit, fit, ring-down and what is derived from them.
