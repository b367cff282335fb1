//! From a quantity to a place on the paper, and where the ticks go.

use crate::report::numbers::fixed;

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    pub from: f64,
    pub to: f64,
    /// Places on the paper of `from` and `to`.
    pub start: f64,
    pub end: f64,
    pub log: bool,
}

impl Scale {
    pub fn linear(range: (f64, f64), start: f64, end: f64) -> Self {
        Self {
            from: range.0,
            to: range.1,
            start,
            end,
            log: false,
        }
    }

    pub fn log(range: (f64, f64), start: f64, end: f64) -> Self {
        Self {
            from: range.0,
            to: range.1,
            start,
            end,
            log: true,
        }
    }

    pub fn at(&self, value: f64) -> f64 {
        let share = if self.log {
            (value / self.from).ln() / (self.to / self.from).ln()
        } else {
            (value - self.from) / (self.to - self.from)
        };
        self.start + share * (self.end - self.start)
    }

    /// Ticks with their labels, about `wanted` of them.
    pub fn ticks(&self, wanted: usize) -> Vec<(f64, String)> {
        if self.log {
            self.log_ticks(wanted)
        } else {
            self.linear_ticks(wanted)
        }
    }

    fn linear_ticks(&self, wanted: usize) -> Vec<(f64, String)> {
        let (step, decimals) = nice_step((self.to - self.from) / wanted.max(1) as f64);
        let slack = step * 1e-9;
        let first = ((self.from - slack) / step).ceil() as i64;
        let last = ((self.to + slack) / step).floor() as i64;
        (first..=last)
            .take(100)
            .map(|i| {
                let value = i as f64 * step;
                (value, fixed(value, decimals))
            })
            .collect()
    }

    fn log_ticks(&self, wanted: usize) -> Vec<(f64, String)> {
        let decades = (self.to / self.from).log10();
        let marks: &[f64] = if decades * 3.0 <= wanted as f64 + 1.0 {
            &[1.0, 2.0, 5.0]
        } else {
            &[1.0]
        };
        let (low, high) = (
            self.from.log10().floor() as i32,
            self.to.log10().ceil() as i32,
        );
        let ticks: Vec<(f64, String)> = (low..=high)
            .flat_map(|e| marks.iter().map(move |m| (m * 10f64.powi(e), e)))
            .filter(|(v, _)| *v >= self.from * (1.0 - 1e-9) && *v <= self.to * (1.0 + 1e-9))
            .map(|(v, e)| (v, fixed(v, (-e).max(0) as usize)))
            .collect();
        // Within half a decade even steps say more than the one round power.
        if ticks.len() < 3 {
            return self.linear_ticks(wanted.min(4));
        }
        ticks
    }
}

/// The nearest of 1, 2 or 5 times a power of ten, with the decimals it needs.
fn nice_step(wished: f64) -> (f64, usize) {
    if !(wished.is_finite() && wished > 0.0) {
        return (1.0, 0);
    }
    let exponent = wished.log10().floor() as i32;
    let (factor, exponent) = match wished / 10f64.powi(exponent) {
        m if m < 1.5 => (1.0, exponent),
        m if m < 3.2 => (2.0, exponent),
        m if m < 7.1 => (5.0, exponent),
        _ => (1.0, exponent + 1),
    };
    let step = factor * 10f64.powi(exponent);
    (step, (-exponent).max(0) as usize)
}

/// Least and greatest of the finite values.
pub fn extent(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    values
        .into_iter()
        .filter(|v| v.is_finite())
        .fold(None, |range, v| match range {
            None => Some((v, v)),
            Some((low, high)) => Some((f64::min(low, v), f64::max(high, v))),
        })
}

/// A range widened by `share` on both sides; a point becomes a range.
pub fn widen((low, high): (f64, f64), share: f64) -> (f64, f64) {
    let width = high - low;
    let pad = if width > 0.0 {
        width * share
    } else {
        (low.abs() * 0.05).max(0.5)
    };
    (low - pad, high + pad)
}

/// A range that begins at zero where its values allow: for quantities whose zero means something.
pub fn from_zero((low, high): (f64, f64)) -> (f64, f64) {
    if low < 0.0 {
        return widen((low, high), 0.05);
    }
    (0.0, if high > 0.0 { high * 1.06 } else { 1.0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        let labels = |scale: Scale, n| -> Vec<String> {
            scale.ticks(n).into_iter().map(|(_, label)| label).collect()
        };
        let linear = Scale::linear((-2.5, 7.1), 0.0, 100.0);
        assert_eq!(labels(linear, 5), ["−2", "0", "2", "4", "6"]);
        let fine = Scale::linear((0.91, 0.97), 0.0, 100.0);
        assert_eq!(
            labels(fine, 6),
            ["0.91", "0.92", "0.93", "0.94", "0.95", "0.96", "0.97"]
        );
        let log = Scale::log((0.5, 200.0), 0.0, 100.0);
        assert_eq!(
            labels(log, 9),
            ["0.5", "1", "2", "5", "10", "20", "50", "100", "200"]
        );
        assert!((log.at(10.0) - 50.0).abs() < 1e-9);
        let short = Scale::log((120.0, 260.0), 0.0, 100.0);
        assert_eq!(labels(short, 6), ["150", "200", "250"]);
    }

    #[test]
    fn degenerate_ranges_still_have_width() {
        let (low, high) = widen((3.0, 3.0), 0.1);
        assert!(low < 3.0 && high > 3.0);
        assert_eq!(extent([f64::NAN]), None);
    }
}
