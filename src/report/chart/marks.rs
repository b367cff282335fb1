//! Limits and ratings as straight lines, named where their names cover nothing.

use super::canvas::{Align, Canvas, fit, width};
use super::frame::strong;
use super::palette::INK;
use super::place::{Area, Placer};
use super::scale::Scale;
use super::series::{path, whiskers};
use crate::findings::{Across, Line, Mark, Points};

/// All that a name must not cover.
pub fn obstacles(lines: &[Line], points: &[Points], x: &Scale, y: &Scale) -> Placer {
    let mut placer = Placer::default();
    for line in lines {
        placer.keep_off_line(&path(&line.x, &line.y, x, y));
    }
    for points in points {
        for (x, y) in path(&points.x, &points.y, x, y) {
            placer.keep_off(Area {
                x: x - 4.0,
                y: y - 4.0,
                w: 8.0,
                h: 8.0,
            });
        }
        for (low, high) in whiskers(points, x, y) {
            placer.keep_off_line(&[low, high]);
        }
    }
    placer
}

/// Straight lines over the plot, each named where its name covers nothing.
pub fn draw_marks(
    canvas: &mut Canvas<'_>,
    plot: &Area,
    marks: &[Mark],
    (x, y): (&Scale, &Scale),
    placer: &mut Placer,
) {
    let ends = |mark: &Mark| {
        let at = match mark.across {
            Across::X => x.at(mark.at),
            Across::Y => y.at(mark.at),
        };
        match mark.across {
            Across::X => [(at, plot.y), (at, plot.bottom())],
            Across::Y => [(plot.x, at), (plot.right(), at)],
        }
    };
    let drawn = marks.iter().filter(|m| {
        let [a, b] = ends(m);
        a.0.is_finite() && a.1.is_finite() && b.0.is_finite() && b.1.is_finite()
    });
    for mark in drawn.clone() {
        canvas.line(&ends(mark), INK, 1.3, &[5.0, 3.0]);
        placer.keep_off_line(&ends(mark));
    }
    let face = strong(INK);
    for mark in drawn {
        let [a, b] = ends(mark);
        let room = match mark.across {
            Across::Y => plot.w,
            Across::X => (a.0 - plot.x).max(plot.right() - a.0),
        };
        let name = fit(&mark.label, face, room - 7.0);
        let w = width(&name, face);
        let spot = |x: f64, y: f64| Area { x, y, w, h: 14.0 };
        let wishes: Vec<Area> = match mark.across {
            Across::Y => [plot.right() - w - 2.0, plot.x + 4.0, (a.0 + b.0 - w) / 2.0]
                .into_iter()
                .chain((1..12).map(|i| plot.x + f64::from(i) * (plot.w - w) / 12.0))
                .flat_map(|x| [spot(x, a.1 - 17.0), spot(x, a.1 + 4.0)])
                .collect(),
            Across::X => (0..8)
                .map(|i| plot.y + 2.0 + f64::from(i) * (plot.h - 18.0) / 7.0)
                .flat_map(|y| [spot(a.0 + 5.0, y), spot(a.0 - w - 5.0, y)])
                .collect(),
        };
        if let Some(at) = placer.place(&wishes, plot) {
            canvas.text(&name, at.x, at.y + 11.5, Align::Left, face);
        }
    }
}
