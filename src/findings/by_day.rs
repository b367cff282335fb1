//! One value a flight, by day and power system: the picture behind several answers.

use crate::findings::evidence::Evidence;
use crate::findings::figure::{Figure, FigureData, LevelSpeeds, Points};
use crate::findings::pictures::axis;

/// One flight's value with its 95 % interval where there is one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlightValue<'a> {
    pub day: &'a str,
    pub power: &'a str,
    pub value: f64,
    pub interval: Option<(f64, f64)>,
}

/// The values side by side within their days, one colour a power system; `None` without any.
pub fn figure(
    evidence: &Evidence,
    values: &[FlightValue],
    (quantity, unit): (&str, &str),
    id: String,
    caption: String,
) -> Option<Figure> {
    let mut days: Vec<String> = values.iter().map(|v| v.day.to_owned()).collect();
    days.sort();
    days.dedup();
    let mut powers: Vec<&str> = values.iter().map(|v| v.power).collect();
    powers.sort_unstable();
    powers.dedup();
    let mut points: Vec<Points> = powers
        .iter()
        .map(|p| Points::new(&evidence.power_name(p), evidence.colour(p)))
        .collect();
    for (d, day) in days.iter().enumerate() {
        let today: Vec<&FlightValue> = values.iter().filter(|v| v.day == day).collect();
        for (i, value) in today.iter().enumerate() {
            let Some(system) = powers.iter().position(|p| *p == value.power) else {
                continue;
            };
            // Spread side by side over the middle of the day's slot.
            let x = d as f64 + 0.7 * ((i as f64 + 0.5) / today.len() as f64 - 0.5);
            points[system].push(
                x,
                value.value,
                value.interval.map(|i| i.0),
                value.interval.map(|i| i.1),
            );
        }
    }
    (!values.is_empty()).then(|| Figure {
        id,
        alt: format!(
            "{quantity} of each flight{}, grouped by day, one colour and marker a power system.",
            if values.iter().any(|v| v.interval.is_some()) {
                " with its 95 % interval"
            } else {
                ""
            }
        ),
        caption,
        data: FigureData::LevelSpeeds(LevelSpeeds {
            y: axis(quantity, unit),
            days,
            points,
        }),
    })
}
