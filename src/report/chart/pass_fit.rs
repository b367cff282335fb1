//! One flight's passes: airspeed gained since the start of each, the joint fit, and the level speed
//! that all of them run towards.

use super::Sheet;
use super::canvas::{Align, fit, paint, width};
use super::frame::{
    Sample, X_AXIS_ROOM, Y_TITLE_ROOM, axis_title, key, strong, tick_count, tick_room, x_axis,
    y_axis,
};
use super::palette::{INK, Look, SHADE, look};
use super::place::{Area, Placer};
use super::scale::{Scale, extent, widen};
use super::series::path;
use super::spots::of_line;
use crate::findings::{Line, PassFit};
use crate::report::ReportError;

const HEIGHT: f64 = 320.0;

pub fn draw(data: &PassFit, sheet: Sheet) -> Result<Option<String>, ReportError> {
    let all = || data.measured.iter().chain(&data.fitted);
    let Some(time) = extent(all().flat_map(|l| l.x.iter().copied())) else {
        return Ok(None);
    };
    let ends = [
        data.level_speed.low,
        data.level_speed.high,
        data.level_value,
    ];
    let Some(speed) = extent(all().flat_map(|l| l.y.iter().copied()).chain(ends)) else {
        return Ok(None);
    };
    let keys = keys(data);
    let key_room = key(None, (0.0, 12.0), sheet.width(), &keys);
    let top = key_room + Y_TITLE_ROOM + 4.0;
    let bottom = HEIGHT - X_AXIS_ROOM;
    // Room above the band for its name.
    let (lowest, highest) = widen(speed, 0.06);
    let headroom = (highest - lowest) * 22.0 / (bottom - top);
    let y = Scale::linear((lowest, highest + headroom), bottom, top);
    let y_ticks = tick_count(bottom - top, 44.0);
    let left = tick_room(&y, y_ticks);
    let plot = Area {
        x: left,
        y: top,
        w: sheet.width() - left - 8.0,
        h: bottom - top,
    };
    let x = Scale::linear(widen(time, 0.02), plot.x, plot.right());

    paint(sheet.width(), HEIGHT, |canvas| {
        key(Some(canvas), (0.0, 12.0), sheet.width(), &keys);
        let (high, low) = (y.at(data.level_speed.high), y.at(data.level_speed.low));
        if high.is_finite() && low.is_finite() {
            canvas.rect(plot.x, high, plot.w, (low - high).max(1.0), SHADE);
        }
        y_axis(canvas, &plot, &y, &axis_title(&data.y), y_ticks);
        x_axis(
            canvas,
            &plot,
            &x,
            &axis_title(&data.x),
            tick_count(plot.w, 60.0),
        );
        let mut placer = Placer::default();
        for line in &data.measured {
            let style = look(line.colour);
            let points = path(&line.x, &line.y, &x, &y);
            placer.keep_off_line(&points);
            of_line(canvas, line, [&data.x, &data.y], &x, &y);
            for at in points {
                canvas.disc(at, 1.5, style.colour);
            }
        }
        for line in &data.fitted {
            let points = path(&line.x, &line.y, &x, &y);
            placer.keep_off_line(&points);
            canvas.line(&points, INK, 1.4, &[]);
        }
        let level = y.at(data.level_value);
        if level.is_finite() {
            canvas.line(
                &[(plot.x, level), (plot.right(), level)],
                INK,
                1.0,
                &[5.0, 3.0],
            );
            let face = strong(INK);
            let text = fit(&data.level_speed.label, face, plot.w - 8.0);
            let w = width(&text, face);
            let above = high.min(level) - 18.0;
            let below = low.max(level) + 4.0;
            let spot = |x: f64, y: f64| Area { x, y, w, h: 14.0 };
            let (start, end) = (plot.x + 6.0, plot.right() - w - 4.0);
            let wishes = [
                spot(start, above),
                spot(end, above),
                spot(start, below),
                spot(end, below),
            ];
            if let Some(at) = placer.place(&wishes, &plot) {
                canvas.text(&text, at.x, at.y + 11.0, Align::Left, face);
            }
        }
    })
    .map(Some)
}

fn keys(data: &PassFit) -> Vec<(Sample, String)> {
    let name = |lines: &[Line], many: &str| {
        let first = lines.first()?;
        let alike = lines.iter().all(|l| l.label == first.label) && !first.label.is_empty();
        Some(if alike {
            first.label.clone()
        } else {
            many.to_owned()
        })
    };
    let mut keys = Vec::new();
    if let (Some(words), Some(line)) = (name(&data.measured, "measured"), data.measured.first()) {
        keys.push((Sample::Dot(look(line.colour).colour), words));
    }
    if let Some(words) = name(&data.fitted, "joint fit") {
        keys.push((
            Sample::Line(
                Look {
                    colour: INK,
                    dash: &[],
                    ..look(0)
                },
                1.4,
            ),
            words,
        ));
    }
    keys
}
