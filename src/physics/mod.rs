//! Physics: pure functions in SI, each with its source.
