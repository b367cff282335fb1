//! Ground velocities of the passes, east and north to one scale: in still air they would lie on a
//! circle about the origin; the wind moves the circle.

use super::Sheet;
use super::canvas::{Align, Canvas, Point, paint, width};
use super::frame::{
    Sample, X_AXIS_ROOM, Y_TITLE_ROOM, arrow, axis_title, key, small, strong, tick_count,
    tick_room, x_axis, y_axis,
};
use super::palette::{AXIS, INK, QUIET, look};
use super::place::{Area, Placer};
use super::scale::{Scale, extent, widen};
use super::series::draw_points;
use super::spots::of_points;
use crate::findings::{Axis, VelocityVectors};
use crate::report::ReportError;

const WIDEST: f64 = 430.0;

pub fn draw(data: &VelocityVectors, sheet: Sheet) -> Result<Option<String>, ReportError> {
    let numbers = [data.wind_east, data.wind_north, data.radius];
    if data.points.iter().all(|p| p.x.is_empty()) || numbers.iter().any(|v| !v.is_finite()) {
        return Ok(None);
    }
    let (wind, r) = ((data.wind_east, data.wind_north), data.radius.abs());
    let east = data.points.iter().flat_map(|p| p.x.iter().copied());
    let north = data.points.iter().flat_map(|p| p.y.iter().copied());
    let (Some(east), Some(north)) = (
        extent(east.chain([wind.0 - r, wind.0 + r, 0.0])),
        extent(north.chain([wind.1 - r, wind.1 + r, 0.0])),
    ) else {
        return Ok(None);
    };
    let (east, north) = (widen(east, 0.06), widen(north, 0.06));

    let keys: Vec<(Sample, String)> = data
        .points
        .iter()
        .filter(|p| !p.x.is_empty())
        .map(|p| (Sample::Point(look(p.colour)), p.label.clone()))
        .collect();
    let total = sheet.width().min(WIDEST);
    let x0 = (sheet.width() - total) / 2.0;
    let key_room = key(None, (x0, 12.0), total, &keys);
    let ticks = tick_count(total, 55.0);
    let left = x0 + tick_room(&Scale::linear(north, 1.0, 0.0), ticks);
    let w = x0 + total - left - 6.0;
    // One scale for both directions: the height follows from the width.
    let h = w * (north.1 - north.0) / (east.1 - east.0);
    let plot = Area {
        x: left,
        y: key_room + Y_TITLE_ROOM + 4.0,
        w,
        h,
    };
    let x = Scale::linear(east, plot.x, plot.right());
    let y = Scale::linear(north, plot.bottom(), plot.y);
    let of = |quantity: &str| Axis {
        quantity: quantity.to_owned(),
        unit: data.unit.clone(),
    };
    let axis = |quantity: &str| axis_title(&of(quantity));

    paint(sheet.width(), plot.bottom() + X_AXIS_ROOM, |canvas| {
        key(Some(canvas), (x0, 12.0), total, &keys);
        y_axis(canvas, &plot, &y, &axis("velocity to the north"), ticks);
        x_axis(canvas, &plot, &x, &axis("velocity to the east"), ticks);
        let origin = (x.at(0.0), y.at(0.0));
        canvas.line(
            &[(origin.0, plot.y), (origin.0, plot.bottom())],
            AXIS,
            0.7,
            &[],
        );
        canvas.line(
            &[(plot.x, origin.1), (plot.right(), origin.1)],
            AXIS,
            0.7,
            &[],
        );
        let circle = ring(wind, r, &x, &y);
        canvas.line(&circle, INK, 1.4, &[]);
        if data.wind_se.is_finite() && data.wind_se > 0.0 {
            canvas.line(&ring(wind, data.wind_se, &x, &y), QUIET, 0.9, &[2.0, 2.0]);
        }
        let tip = (x.at(wind.0), y.at(wind.1));
        arrow(canvas, origin, tip, INK);
        for points in &data.points {
            draw_points(canvas, points, &x, &y);
            let [east, north] = ["velocity to the east", "velocity to the north"].map(of);
            of_points(canvas, points, [&east, &north], &x, &y);
        }
        label(canvas, data, &plot, (&x, &y), (origin, tip), &circle);
    })
    .map(Some)
}

fn ring(centre: Point, r: f64, x: &Scale, y: &Scale) -> Vec<Point> {
    (0..=120)
        .map(|i| {
            let a = f64::from(i) * std::f64::consts::TAU / 120.0;
            (x.at(centre.0 + r * a.cos()), y.at(centre.1 + r * a.sin()))
        })
        .collect()
}

fn label(
    canvas: &mut Canvas<'_>,
    data: &VelocityVectors,
    plot: &Area,
    (x, y): (&Scale, &Scale),
    (origin, tip): (Point, Point),
    circle: &[Point],
) {
    let mut placer = Placer::default();
    placer.keep_off_line(circle);
    placer.keep_off_line(&[origin, tip]);
    for points in &data.points {
        for (east, north) in points.x.iter().zip(&points.y) {
            placer.keep_off(Area {
                x: x.at(*east) - 6.0,
                y: y.at(*north) - 6.0,
                w: 12.0,
                h: 12.0,
            });
        }
    }
    let mut put = |text: &str, face, wishes: &[Point]| {
        // Wished places are the middles of the words.
        let w = width(text, face);
        let areas: Vec<Area> = wishes
            .iter()
            .map(|p| Area {
                x: p.0 - w / 2.0,
                y: p.1 - 7.0,
                w,
                h: 14.0,
            })
            .collect();
        if let Some(at) = placer.place(&areas, plot) {
            canvas.text(text, at.x, at.y + 11.0, Align::Left, face);
        }
    };
    let (far, high) = (width("wind", strong(INK)) / 2.0 + 10.0, 17.0);
    let around = [
        (far, 0.0),
        (-far, 0.0),
        (0.0, -high),
        (0.0, high),
        (far, -high),
        (-far, high),
    ];
    put(
        "wind",
        strong(INK),
        &around.map(|(dx, dy)| (tip.0 + dx, tip.1 + dy)),
    );
    // Inside the circle, lower left first: away from the axes through the origin.
    let inside = 0.8 * data.radius.abs();
    let diagonals = [225.0, 135.0, 315.0, 45.0, 205.0, 155.0, 335.0, 25.0_f64].map(|degrees| {
        let (sin, cos) = degrees.to_radians().sin_cos();
        (
            x.at(data.wind_east + inside * cos),
            y.at(data.wind_north + inside * sin),
        )
    });
    put("level speed", small(INK), &diagonals);
}
