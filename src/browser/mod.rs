//! The only area that knows JavaScript: typed requests and results; converts and calls, computes nothing.
