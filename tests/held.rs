//! An interval of a study beside its truth. Shared with the studies under examples/.

#![allow(dead_code)]

/// An interval and the truth that it should hold.
#[derive(Debug, Clone, Copy)]
pub struct Held {
    pub value: f64,
    pub low: f64,
    pub high: f64,
    pub truth: f64,
}

impl Held {
    pub fn covers(&self) -> bool {
        (self.low..=self.high).contains(&self.truth)
    }
    pub fn error(&self) -> f64 {
        self.value - self.truth
    }
    pub fn half_width(&self) -> f64 {
        0.5 * (self.high - self.low)
    }
}
