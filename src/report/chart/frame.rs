//! Axes, grid, keys and end labels: the parts that several pictures share.

use super::canvas::{Align, Canvas, Point, Type, fit, width};
use super::palette::{AXIS, Colour, GRID, INK, Look, QUIET};
use super::place::{Area, spread};
use super::scale::Scale;
use crate::findings::Axis;
use crate::findings::evidence::capital;

/// Type sizes in logical pixels.
pub const SMALL: f64 = 11.0;
pub const TEXT: f64 = 12.0;
pub const LEADING: f64 = 15.0;

pub fn plain(colour: Colour) -> Type {
    Type {
        size: TEXT,
        bold: false,
        colour,
    }
}

pub fn strong(colour: Colour) -> Type {
    Type {
        size: TEXT,
        bold: true,
        colour,
    }
}

pub fn small(colour: Colour) -> Type {
    Type {
        size: SMALL,
        bold: false,
        colour,
    }
}

/// "Throttle, %": the quantity with a capital, then its unit.
pub fn axis_title(axis: &Axis) -> String {
    let quantity = capital(&axis.quantity);
    if axis.unit.is_empty() {
        quantity
    } else {
        format!("{quantity}, {}", axis.unit)
    }
}

/// Room for the widest tick label of a vertical scale, tick included.
pub fn tick_room(scale: &Scale, wanted: usize) -> f64 {
    scale
        .ticks(wanted)
        .iter()
        .map(|(_, label)| width(label, small(QUIET)))
        .fold(0.0, f64::max)
        + 9.0
}

/// Height that a horizontal axis takes under the plot: ticks, labels, title.
pub const X_AXIS_ROOM: f64 = 38.0;
/// Height that the title of a vertical axis takes above the plot.
pub const Y_TITLE_ROOM: f64 = 20.0;

/// Grid lines and labels of the vertical scale; its title stands level above the axis.
pub fn y_axis(canvas: &mut Canvas<'_>, plot: &Area, scale: &Scale, title: &str, wanted: usize) {
    let left = plot.x - tick_room(scale, wanted);
    for (value, label) in scale.ticks(wanted) {
        let y = scale.at(value);
        canvas.line(&[(plot.x, y), (plot.right(), y)], GRID, 0.75, &[]);
        canvas.text(
            &label,
            plot.x - 6.0,
            y + 0.36 * SMALL,
            Align::Right,
            small(QUIET),
        );
    }
    let title = fit(title, plain(INK), plot.right() - left);
    canvas.text(&title, left, plot.y - 9.0, Align::Left, plain(INK));
}

/// Ticks, labels and title of the horizontal scale.
pub fn x_axis(canvas: &mut Canvas<'_>, plot: &Area, scale: &Scale, title: &str, wanted: usize) {
    let y = plot.bottom();
    canvas.line(&[(plot.x, y), (plot.right(), y)], AXIS, 1.0, &[]);
    for (value, label) in scale.ticks(wanted) {
        let x = scale.at(value);
        canvas.line(&[(x, y), (x, y + 4.0)], AXIS, 1.0, &[]);
        canvas.text(&label, x, y + 16.0, Align::Centre, small(QUIET));
    }
    let title = fit(title, plain(INK), plot.w);
    canvas.text(&title, plot.right(), y + 33.0, Align::Right, plain(INK));
}

/// How many ticks suit a length.
pub fn tick_count(length: f64, each: f64) -> usize {
    ((length / each) as usize).max(2)
}

/// A label for something that ends at `at`, set in the right margin.
pub struct EndLabel {
    pub text: String,
    pub at: Point,
    pub colour: Colour,
}

/// Margin that end labels need, at most `most`.
pub fn end_label_room<'a>(labels: impl Iterator<Item = &'a str>, most: f64) -> f64 {
    let widest = labels.map(|l| width(l, strong(INK))).fold(0.0, f64::max);
    if widest > 0.0 {
        (widest + 10.0).min(most)
    } else {
        8.0
    }
}

/// Sets end labels beside the plot, moved apart where they would touch.
pub fn end_labels(canvas: &mut Canvas<'_>, plot: &Area, labels: &[EndLabel], room: f64) {
    let wishes: Vec<f64> = labels.iter().map(|l| l.at.1).collect();
    let heights = spread(&wishes, LEADING - 1.0, plot.y + 4.0, plot.bottom() - 2.0);
    for (label, y) in labels.iter().zip(heights) {
        let x = plot.right() + 8.0;
        if (y - label.at.1).abs() > 4.0 || x - label.at.0 > 16.0 {
            canvas.line(
                &[(label.at.0 + 1.0, label.at.1), (x - 2.0, y)],
                AXIS,
                0.6,
                &[],
            );
        }
        let text = fit(&label.text, strong(label.colour), room - 8.0);
        canvas.text(&text, x, y + 0.36 * TEXT, Align::Left, strong(label.colour));
    }
}

/// What a key shows beside its words.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sample {
    Point(Look),
    Dot(Colour),
    Line(Look, f64),
    Box(Colour),
    /// A shading under a bar.
    Barred(Colour, Colour),
}

/// One row of samples with words, broken where the width ends. Returns the height it takes.
pub fn key(
    canvas: Option<&mut Canvas<'_>>,
    at: Point,
    room: f64,
    items: &[(Sample, String)],
) -> f64 {
    let mut canvas = canvas;
    let (mut x, mut y) = at;
    for (sample, words) in items {
        let words = fit(words, small(INK), room - 34.0);
        let needed = 26.0 + width(&words, small(INK));
        if x > at.0 && x + needed > at.0 + room {
            x = at.0;
            y += LEADING + 1.0;
        }
        if let Some(canvas) = canvas.as_deref_mut() {
            let middle = y - 4.0;
            match sample {
                Sample::Point(look) => canvas.marker((x + 10.0, middle), *look, 7.0),
                Sample::Dot(colour) => {
                    for shift in [4.0, 10.0, 16.0] {
                        canvas.disc((x + shift, middle), 1.5, *colour);
                    }
                }
                Sample::Line(look, stroke) => {
                    canvas.line(
                        &[(x, middle), (x + 20.0, middle)],
                        look.colour,
                        *stroke,
                        look.dash,
                    );
                }
                Sample::Box(colour) => canvas.rect(x, middle - 5.0, 20.0, 10.0, *colour),
                Sample::Barred(colour, bar) => {
                    canvas.rect(x, middle - 5.0, 20.0, 10.0, *colour);
                    canvas.rect(x, middle - 6.0, 20.0, 3.0, *bar);
                }
            }
            canvas.text(&words, x + 25.0, y, Align::Left, small(INK));
        }
        x += needed + 16.0;
    }
    if items.is_empty() {
        0.0
    } else {
        y - at.1 + LEADING + 5.0
    }
}

/// An arrow; a dot where it would be too short to see.
pub fn arrow(canvas: &mut Canvas<'_>, from: Point, to: Point, colour: Colour) {
    let length = (to.0 - from.0).hypot(to.1 - from.1);
    if length < 2.0 {
        canvas.disc(from, 2.5, colour);
        return;
    }
    let head = 9.0_f64.min(0.6 * length);
    let share = 1.0 - head / length;
    let base = (
        from.0 + share * (to.0 - from.0),
        from.1 + share * (to.1 - from.1),
    );
    canvas.line(&[from, base], colour, 2.2, &[]);
    arrow_head(canvas, from, to, head, colour);
}

/// The head of an arrow of which the last part runs from `from` to its tip at `to`.
pub fn arrow_head(canvas: &mut Canvas<'_>, from: Point, to: Point, size: f64, colour: Colour) {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy);
    if length <= 0.0 {
        return;
    }
    let (ux, uy) = (dx / length, dy / length);
    let base = (to.0 - size * ux, to.1 - size * uy);
    let wing = 0.45 * size;
    canvas.area(
        &[
            to,
            (base.0 - wing * uy, base.1 + wing * ux),
            (base.0 + wing * uy, base.1 - wing * ux),
        ],
        colour,
        1.0,
    );
}

/// Digits that a declared number such as 2, 2.5 or 0.25 is written with.
pub fn short_decimals(value: f64) -> usize {
    (0..4)
        .find(|d| (value * 10f64.powi(*d) - (value * 10f64.powi(*d)).round()).abs() < 1e-6)
        .unwrap_or(4) as usize
}
