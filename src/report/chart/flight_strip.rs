//! One flight, quantities stacked over one time axis; holds and passes shaded, gaps left open.

use super::Sheet;
use super::canvas::paint;
use super::frame::{Sample, X_AXIS_ROOM, axis_title, key, tick_count, tick_room, x_axis, y_axis};
use super::palette::{AXIS, BARRED, Colour, SHADE, SHADE_WARM, look};
use super::place::Area;
use super::scale::{Scale, extent, widen};
use super::series::path;
use super::spots::of_line;
use crate::findings::{FlightStrip, Strip};
use crate::report::ReportError;

const STRIP: f64 = 74.0;
const TITLE: f64 = 30.0;
const TICKS: usize = 3;

/// Height of the bar over a pass: in grey its shading is that of a hold.
const BAR: f64 = 3.0;

fn shading(what: &str) -> Colour {
    if what == "pass" { SHADE_WARM } else { SHADE }
}

pub fn draw(data: &FlightStrip, sheet: Sheet) -> Result<Option<String>, ReportError> {
    let strips: Vec<(&Strip, (f64, f64))> = data
        .strips
        .iter()
        .filter_map(|s| {
            let range = extent(s.segments.iter().flat_map(|l| l.y.iter().copied()))?;
            Some((s, widen(range, 0.06)))
        })
        .collect();
    let times = strips
        .iter()
        .flat_map(|(s, _)| &s.segments)
        .flat_map(|l| l.x.iter().copied());
    let Some(mut time) = extent(times) else {
        return Ok(None);
    };
    if time.1 <= time.0 {
        time = widen(time, 0.5);
    }
    let mut kinds: Vec<&str> = Vec::new();
    for shade in &data.shades {
        if !kinds.contains(&shade.what.as_str()) {
            kinds.push(&shade.what);
        }
    }
    let keys: Vec<(Sample, String)> = kinds
        .iter()
        .map(|k| {
            let sample = match *k {
                "pass" => Sample::Barred(shading(k), BARRED),
                k => Sample::Box(shading(k)),
            };
            (sample, (*k).to_owned())
        })
        .collect();
    let key_room = key(None, (0.0, 12.0), sheet.width(), &keys);
    let height = key_room + strips.len() as f64 * (STRIP + TITLE) + X_AXIS_ROOM;
    let left = strips
        .iter()
        .map(|(_, range)| tick_room(&Scale::linear(*range, STRIP, 0.0), TICKS))
        .fold(0.0, f64::max);
    let x = Scale::linear(time, left, sheet.width() - 6.0);

    paint(sheet.width(), height, |canvas| {
        key(Some(canvas), (0.0, 12.0), sheet.width(), &keys);
        for (i, (strip, range)) in strips.iter().enumerate() {
            let y = key_room + i as f64 * (STRIP + TITLE) + TITLE - 6.0;
            let plot = Area {
                x: left,
                y,
                w: sheet.width() - 6.0 - left,
                h: STRIP,
            };
            for shade in &data.shades {
                let (from, to) = (shade.from.max(time.0), shade.to.min(time.1));
                if to > from {
                    let start = x.at(from);
                    let wide = (x.at(to) - start).max(0.75);
                    canvas.rect(start, plot.y, wide, plot.h, shading(&shade.what));
                    if shade.what == "pass" {
                        canvas.rect(start, plot.y - BAR, wide, BAR, BARRED);
                    }
                }
            }
            let scale = Scale::linear(*range, plot.bottom(), plot.y);
            y_axis(canvas, &plot, &scale, &axis_title(&strip.y), TICKS);
            for segment in &strip.segments {
                let path = path(&segment.x, &segment.y, &x, &scale);
                canvas.line(&path, look(segment.colour).colour, 1.2, &[]);
                of_line(canvas, segment, [&data.x, &strip.y], &x, &scale);
            }
            if i + 1 == strips.len() {
                let wanted = tick_count(plot.w, 60.0);
                x_axis(canvas, &plot, &x, &axis_title(&data.x), wanted);
            } else {
                canvas.line(
                    &[(plot.x, plot.bottom()), (plot.right(), plot.bottom())],
                    AXIS,
                    0.6,
                    &[],
                );
            }
        }
    })
    .map(Some)
}
