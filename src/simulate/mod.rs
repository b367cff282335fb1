//! A simulator of seasons with a known truth. Imports nothing from the rest of the crate.
