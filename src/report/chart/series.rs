//! Lines, bands and points on the paper.

use super::canvas::{Canvas, Point};
use super::palette::look;
use super::scale::Scale;
use crate::findings::{Line, Points};

/// The finite points of a series, on the paper; a logarithmic axis has no place for zero and below.
pub fn path(x: &[f64], y: &[f64], x_scale: &Scale, y_scale: &Scale) -> Vec<Point> {
    x.iter()
        .zip(y)
        .map(|(x, y)| (x_scale.at(*x), y_scale.at(*y)))
        .filter(|(x, y)| x.is_finite() && y.is_finite())
        .collect()
}

pub fn draw_band(canvas: &mut Canvas<'_>, line: &Line, x_scale: &Scale, y_scale: &Scale) {
    let (Some(low), Some(high)) = (&line.low, &line.high) else {
        return;
    };
    let mut outline = path(&line.x, high, x_scale, y_scale);
    let mut back = path(&line.x, low, x_scale, y_scale);
    back.reverse();
    outline.extend(back);
    canvas.area(&outline, look(line.colour).colour, 0.18);
}

/// The intervals of the points, end to end, on the paper.
pub fn whiskers<'a>(
    points: &'a Points,
    x: &'a Scale,
    y: &'a Scale,
) -> impl Iterator<Item = (Point, Point)> + 'a {
    let ends = points.x.iter().zip(points.low.iter().zip(&points.high));
    ends.filter_map(|(at, (low, high))| {
        let at = x.at(*at);
        Some(((at, y.at((*low)?)), (at, y.at((*high)?))))
    })
    .filter(|(low, high)| low.0.is_finite() && low.1.is_finite() && high.1.is_finite())
}

/// Markers with their vertical intervals.
pub fn draw_points(canvas: &mut Canvas<'_>, points: &Points, x_scale: &Scale, y_scale: &Scale) {
    let style = look(points.colour);
    let bound = |bounds: &[Option<f64>], i: usize| bounds.get(i).copied().flatten();
    let place = |i: usize| {
        let (x, y) = (x_scale.at(*points.x.get(i)?), y_scale.at(*points.y.get(i)?));
        (x.is_finite() && y.is_finite()).then_some((x, y))
    };
    let size = match points.x.len() {
        0..=12 => 6.5,
        13..=60 => 5.0,
        _ => 3.5,
    };
    for i in 0..points.x.len() {
        let Some((x, y)) = place(i) else { continue };
        for end in [bound(&points.low, i), bound(&points.high, i)]
            .into_iter()
            .flatten()
        {
            let end = y_scale.at(end);
            if !end.is_finite() {
                continue;
            }
            canvas.line(&[(x, y), (x, end)], style.colour, 1.2, &[]);
            canvas.line(&[(x - 3.0, end), (x + 3.0, end)], style.colour, 1.2, &[]);
        }
    }
    for at in (0..points.x.len()).filter_map(place) {
        canvas.marker(at, style, size);
    }
}
