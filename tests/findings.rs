//! The answers, from tables made by hand.
