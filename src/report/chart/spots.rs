//! What pointing at a picture says: the values of its points, written as the report writes numbers.

use super::canvas::{Canvas, Point, printable};
use super::scale::Scale;
use crate::findings::{Axis, Line, Points};
use crate::report::numbers::{decimals, fixed};

/// "current 23.4 A (22.1 to 24.7)".
pub fn reading(axis: &Axis, value: f64, low: Option<f64>, high: Option<f64>) -> String {
    let digits = decimals(Some(value), low, high);
    let number = |v: f64| fixed(v, digits);
    let unit = if axis.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", axis.unit)
    };
    let interval = match (low, high) {
        (Some(low), Some(high)) => format!(" ({} to {})", number(low), number(high)),
        (Some(low), None) => format!(" (at least {})", number(low)),
        (None, Some(high)) => format!(" (at most {})", number(high)),
        (None, None) => String::new(),
    };
    format!("{} {}{unit}{interval}", axis.quantity, number(value))
}

/// The points of a line with what its band says.
pub fn of_line(canvas: &mut Canvas<'_>, line: &Line, axes: [&Axis; 2], x: &Scale, y: &Scale) {
    let series = canvas.series(&line.label);
    let end = |ends: &Option<Vec<f64>>, i: usize| ends.as_ref().and_then(|e| e.get(i)).copied();
    for (i, (vx, vy)) in line.x.iter().zip(&line.y).enumerate() {
        let words = format!(
            "{}, {}",
            reading(axes[0], *vx, None, None),
            reading(axes[1], *vy, end(&line.low, i), end(&line.high, i))
        );
        canvas.spot(series, (x.at(*vx), y.at(*vy)), words);
    }
}

/// Points with their intervals.
pub fn of_points(canvas: &mut Canvas<'_>, points: &Points, axes: [&Axis; 2], x: &Scale, y: &Scale) {
    of_points_at(canvas, points, axes[1], x, y, |v| {
        reading(axes[0], v, None, None)
    });
}

/// Points whose place across is said in words of its own, such as a day.
pub fn of_points_at(
    canvas: &mut Canvas<'_>,
    points: &Points,
    axis: &Axis,
    x: &Scale,
    y: &Scale,
    place: impl Fn(f64) -> String,
) {
    let series = canvas.series(&points.label);
    let end = |ends: &[Option<f64>], i: usize| ends.get(i).copied().flatten();
    for (i, (vx, vy)) in points.x.iter().zip(&points.y).enumerate() {
        let told = reading(axis, *vy, end(&points.low, i), end(&points.high, i));
        let words = format!("{}, {told}", place(*vx));
        canvas.spot(series, (x.at(*vx), y.at(*vy)), words);
    }
}

/// Pictures' readings while they are drawn: places in units of the `viewBox`.
#[derive(Debug, Default)]
pub struct Spots {
    series: Vec<String>,
    points: Vec<(i32, i32, usize, String)>,
}

/// Points of one series closer than this are one to a pointer, `viewBox` units.
const APART: f64 = 10.0;

impl Spots {
    pub fn series(&mut self, name: &str) -> usize {
        self.series.push(printable(name));
        self.series.len() - 1
    }

    /// `at` in `viewBox` units; a point without a place on the paper is left out.
    pub fn add(&mut self, series: usize, at: Point, words: String) {
        if !(at.0.is_finite() && at.1.is_finite()) {
            return;
        }
        let near = self.points.last().is_some_and(|(x, y, s, _)| {
            *s == series && (at.0 - f64::from(*x)).hypot(at.1 - f64::from(*y)) < APART
        });
        if !near {
            let place = (at.0.round() as i32, at.1.round() as i32);
            self.points
                .push((place.0, place.1, series, printable(&words)));
        }
    }

    /// As a `metadata` element; empty where nothing can be pointed at.
    pub fn metadata(&self) -> String {
        if self.points.is_empty() {
            return String::new();
        }
        let json = serde_json::json!({ "series": self.series, "points": self.points });
        // As escapes of JSON the markup's own characters cannot end the element.
        let safe = json
            .to_string()
            .replace('&', "\\u0026")
            .replace('<', "\\u003c")
            .replace('>', "\\u003e");
        format!("<metadata>{safe}</metadata>\n")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_in_a_name_stays_inside_the_metadata() {
        let mut spots = Spots::default();
        let series = spots.series("</metadata><script>&\"");
        spots.add(series, (4.0, 8.0), "throttle 50 %".to_owned());
        spots.add(series, (5.0, 8.0), "too near".to_owned());
        spots.add(series, (f64::NAN, 8.0), "nowhere".to_owned());
        let text = spots.metadata();
        let inside = text
            .trim_end()
            .strip_prefix("<metadata>")
            .and_then(|t| t.strip_suffix("</metadata>"))
            .unwrap();
        assert!(!inside.contains(['<', '>', '&']));
        let back: serde_json::Value = serde_json::from_str(inside).unwrap();
        assert_eq!(back["series"][0], "</metadata><script>&\"");
        assert_eq!(
            back["points"],
            serde_json::json!([[4, 8, 0, "throttle 50 %"]])
        );
    }

    #[test]
    fn a_reading_has_the_digits_of_its_interval() {
        let axis = Axis {
            quantity: "current".to_owned(),
            unit: "A".to_owned(),
        };
        assert_eq!(
            reading(&axis, 23.412, Some(22.1), Some(24.7)),
            "current 23.4 A (22.1 to 24.7)"
        );
        assert_eq!(reading(&axis, 71.96, None, None), "current 72.0 A");
    }
}
