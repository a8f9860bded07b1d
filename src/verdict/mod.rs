//! Limits as data; pass, fail, not proven. Filled by later checks.
