//! Current held for t seconds against the ratings, on a logarithmic time axis.

use super::Sheet;
use super::canvas::{Align, fit, paint, width};
use super::frame::{
    EndLabel, Sample, X_AXIS_ROOM, Y_TITLE_ROOM, axis_title, end_label_room, end_labels, key,
    strong, tick_count, tick_room, x_axis, y_axis,
};
use super::palette::{INK, Look, look};
use super::place::{Area, Placer};
use super::scale::{Scale, extent, from_zero};
use super::series::{draw_band, path};
use super::spots::of_line;
use crate::findings::{CurrentDuration, Line};
use crate::report::ReportError;

const HEIGHT: f64 = 340.0;
const MOST_END_LABELS: usize = 12;

/// How a line is drawn: bold the first of a power system, thin its single flights, dotted what else has
/// its colour (the bench).
fn pen(lines: &[&Line], i: usize) -> (Look, f64) {
    let Some(line) = lines.get(i) else {
        return (look(0), 1.0);
    };
    let own = look(line.colour);
    let again = lines[..i]
        .iter()
        .any(|l| l.colour == line.colour && l.label != line.label);
    match (own.hollow, again) {
        (true, _) => (own, 1.0),
        (false, false) => (own, 2.3),
        (false, true) => (
            Look {
                dash: &[1.5, 3.0],
                ..own
            },
            1.8,
        ),
    }
}

pub fn draw(data: &CurrentDuration, sheet: Sheet) -> Result<Option<String>, ReportError> {
    let lines: Vec<&Line> = data.lines.iter().filter(|l| !l.x.is_empty()).collect();
    let durations = lines
        .iter()
        .flat_map(|l| l.x.iter().copied())
        .filter(|t| *t > 0.0);
    let Some((shortest, longest)) = extent(durations) else {
        return Ok(None);
    };
    // A rating's end in time belongs on the axis if it is near what was held; "for ever" is not.
    let ends = data.ratings.iter().flat_map(|r| [r.from_s, r.to_s]);
    let near = ends.filter(|t| *t >= shortest / 2.0 && *t <= longest * 2.0);
    let (from, to) = extent(near.chain([shortest, longest])).unwrap_or((shortest, longest));
    let to = if to > from { to } else { from * 10.0 };
    let currents = lines.iter().flat_map(|l| l.y.iter().copied());
    let bounds = lines
        .iter()
        .flat_map(|l| [&l.low, &l.high].into_iter().flatten().flatten().copied());
    let ratings = data.ratings.iter().map(|r| r.current);
    let Some(range) = extent(currents.chain(bounds).chain(ratings)) else {
        return Ok(None);
    };

    // Lines are named at their ends where the names fit there, else in a key on top.
    let widest = end_label_room(lines.iter().map(|l| l.label.as_str()), f64::INFINITY);
    let direct = widest <= sheet.width() * 0.3 && lines.len() <= MOST_END_LABELS;
    let mut keys: Vec<(Sample, String)> = Vec::new();
    for (i, line) in lines.iter().enumerate().filter(|_| !direct) {
        let (look, stroke) = pen(&lines, i);
        let entry = (Sample::Line(look, stroke), line.label.clone());
        if !keys.contains(&entry) {
            keys.push(entry);
        }
    }
    let head = key(None, (0.0, 12.0), sheet.width(), &keys);
    let right = if direct { widest } else { 8.0 };
    let top = head + Y_TITLE_ROOM + 4.0;
    let bottom = head + HEIGHT - X_AXIS_ROOM;
    let (_, highest) = from_zero(range);
    let y = Scale::linear((range.0.min(0.0), highest * 1.06), bottom, top);
    let y_ticks = tick_count(bottom - top, 44.0);
    let left = tick_room(&y, y_ticks);
    let plot = Area {
        x: left,
        y: top,
        w: sheet.width() - left - right,
        h: bottom - top,
    };
    let x = Scale::log((from, to), plot.x, plot.right());

    paint(sheet.width(), head + HEIGHT, |canvas| {
        key(Some(canvas), (0.0, 12.0), sheet.width(), &keys);
        y_axis(canvas, &plot, &y, &axis_title(&data.y), y_ticks);
        x_axis(
            canvas,
            &plot,
            &x,
            &axis_title(&data.x),
            tick_count(plot.w, 48.0),
        );
        let mut placer = Placer::default();
        let mut labels: Vec<EndLabel> = Vec::new();
        for line in &lines {
            draw_band(canvas, line, &x, &y);
        }
        for (i, line) in lines.iter().enumerate() {
            let (style, stroke) = pen(&lines, i);
            let path: Vec<_> = path(&line.x, &line.y, &x, &y)
                .into_iter()
                .filter(|p| p.0.is_finite())
                .collect();
            canvas.line(&path, style.colour, stroke, style.dash);
            placer.keep_off_line(&path);
            of_line(canvas, line, [&data.x, &data.y], &x, &y);
            if let Some(&at) = path.last()
                && !labels.iter().any(|l| l.text == line.label)
            {
                labels.push(EndLabel {
                    text: line.label.clone(),
                    at,
                    colour: style.colour,
                });
            }
        }
        let spans: Vec<_> = data
            .ratings
            .iter()
            .map(|r| {
                let to = if r.to_s.is_finite() && r.to_s > 0.0 {
                    r.to_s.min(to)
                } else {
                    to
                };
                (r, x.at(r.from_s.max(from)), x.at(to), y.at(r.current))
            })
            .collect();
        for (_, start, end, height) in &spans {
            canvas.line(&[(*start, *height), (*end, *height)], INK, 1.6, &[]);
            placer.keep_off_line(&[(*start, *height), (*end, *height)]);
            // The end of a rating in time is a limit too: drop a short edge.
            if *end < plot.right() - 1.0 {
                canvas.line(&[(*end, *height), (*end, *height + 10.0)], INK, 1.6, &[]);
            }
        }
        for (rating, start, end, height) in spans {
            let face = strong(INK);
            let name = fit(&rating.label, face, plot.w);
            let w = width(&name, face);
            let up = |x: f64| Area {
                x,
                y: height - 17.0,
                w,
                h: 14.0,
            };
            let down = |x: f64| Area {
                x,
                y: height + 4.0,
                w,
                h: 14.0,
            };
            let middle = (start + end - w) / 2.0;
            let xs = [start + 4.0, end - w - 4.0, middle, end + 6.0];
            let wishes: Vec<Area> = xs.map(up).into_iter().chain(xs.map(down)).collect();
            if let Some(at) = placer.place(&wishes, &plot) {
                canvas.text(&name, at.x, at.y + 11.5, Align::Left, face);
            }
        }
        if direct {
            end_labels(canvas, &plot, &labels, right);
        }
    })
    .map(Some)
}
