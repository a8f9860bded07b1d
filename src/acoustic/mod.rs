//! Pascals and pulses. Filled by later checks (response, scrape and buzz, polarity).
