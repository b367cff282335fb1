//! Bench curves, and bench against flight: lines with bands, points with intervals, a panel each.

use super::Sheet;
use super::canvas::{Align, Canvas, Point, paint};
use super::frame::{
    EndLabel, Sample, X_AXIS_ROOM, Y_TITLE_ROOM, axis_title, end_label_room, end_labels, key,
    strong, tick_count, tick_room, x_axis, y_axis,
};
use super::palette::{INK, look};
use super::place::Area;
use super::scale::{Scale, extent, from_zero, widen};
use crate::findings::{BenchAgainstFlight, BenchCurves, Line, Panel, Points};
use crate::report::ReportError;

const GAP: f64 = 26.0;

pub fn curves(data: &BenchCurves, sheet: Sheet) -> Result<Option<String>, ReportError> {
    let panels: Vec<(&str, &Panel)> = data.panels.iter().map(|p| ("", p)).collect();
    draw(&panels, sheet)
}

pub fn against_flight(
    data: &BenchAgainstFlight,
    sheet: Sheet,
) -> Result<Option<String>, ReportError> {
    let panels: Vec<(&str, &Panel)> = data
        .panels
        .iter()
        .map(|p| (p.title.as_str(), &p.panel))
        .collect();
    draw(&panels, sheet)
}

fn draw(panels: &[(&str, &Panel)], sheet: Sheet) -> Result<Option<String>, ReportError> {
    let panels: Vec<&(&str, &Panel)> = panels.iter().filter(|(_, p)| ranges(p).is_some()).collect();
    if panels.is_empty() {
        return Ok(None);
    }
    let columns = if sheet.is_wide() {
        panels.len().min(2)
    } else {
        1
    };
    let rows = panels.len().div_ceil(columns);
    let width = (sheet.width() - GAP * (columns as f64 - 1.0)) / columns as f64;
    let height = if columns == 2 { 300.0 } else { 330.0 };
    // Lines are named at their ends where the names fit there, else once in a key on top.
    let widest = end_label_room(panels.iter().flat_map(|(_, p)| names(p)), f64::INFINITY);
    let direct = widest <= 0.27 * width;
    let keys = if direct {
        Vec::new()
    } else {
        line_keys(&panels)
    };
    let head = key(None, (0.0, 12.0), sheet.width(), &keys);
    let sheet_height = head + rows as f64 * (height + GAP) - GAP;
    paint(sheet.width(), sheet_height, |canvas| {
        key(Some(canvas), (0.0, 12.0), sheet.width(), &keys);
        for (i, (title, panel)) in panels.iter().enumerate() {
            let x = (i % columns) as f64 * (width + GAP);
            let y = head + (i / columns) as f64 * (height + GAP);
            draw_panel(
                canvas,
                &Area {
                    x,
                    y,
                    w: width,
                    h: height,
                },
                title,
                panel,
                direct,
            );
        }
    })
    .map(Some)
}

fn names(panel: &Panel) -> impl Iterator<Item = &str> {
    panel
        .lines
        .iter()
        .filter(|l| !l.x.is_empty())
        .map(|l| l.label.as_str())
}

fn line_keys(panels: &[&(&str, &Panel)]) -> Vec<(Sample, String)> {
    let mut keys: Vec<(Sample, String)> = Vec::new();
    for line in panels
        .iter()
        .flat_map(|(_, p)| &p.lines)
        .filter(|l| !l.x.is_empty())
    {
        let entry = (Sample::Line(look(line.colour), 2.0), line.label.clone());
        if !keys.contains(&entry) {
            keys.push(entry);
        }
    }
    keys
}

type Range = (f64, f64);

fn ranges(panel: &Panel) -> Option<(Range, Range)> {
    let lines = panel.lines.iter();
    let x = extent(
        lines
            .clone()
            .flat_map(|l| l.x.iter().copied())
            .chain(panel.points.iter().flat_map(|p| p.x.iter().copied())),
    )?;
    let y = extent(
        lines
            .flat_map(|l| {
                let bounds = [&l.low, &l.high].into_iter().flatten().flatten();
                l.y.iter().chain(bounds).copied()
            })
            .chain(panel.points.iter().flat_map(|p| {
                let bounds = p.low.iter().chain(&p.high).flatten();
                p.y.iter().chain(bounds).copied()
            })),
    )?;
    Some((x, y))
}

fn draw_panel(canvas: &mut Canvas<'_>, area: &Area, title: &str, panel: &Panel, direct: bool) {
    let Some((x_range, y_range)) = ranges(panel) else {
        return;
    };
    let lines: Vec<&Line> = panel.lines.iter().filter(|l| !l.x.is_empty()).collect();
    let named = |label: &str| !label.is_empty() && lines.iter().any(|l| l.label == label);
    let keys: Vec<(Sample, String)> = panel
        .points
        .iter()
        .filter(|p| !p.x.is_empty() && !p.label.is_empty() && !named(&p.label))
        .map(|p| (Sample::Point(look(p.colour)), p.label.clone()))
        .collect();

    let mut top = area.y + 2.0;
    if !title.is_empty() {
        canvas.text(
            &super::canvas::fit(title, strong(INK), area.w),
            area.x,
            top + 12.0,
            Align::Left,
            strong(INK),
        );
        top += 20.0;
    }
    top += key(Some(canvas), (area.x, top + 12.0), area.w, &keys);

    let right = if direct {
        end_label_room(names(panel), area.w)
    } else {
        8.0
    };
    let top = top + Y_TITLE_ROOM;
    let bottom = area.bottom() - X_AXIS_ROOM;
    let y_scale = Scale::linear(from_zero(y_range), bottom, top);
    let y_ticks = tick_count(bottom - top, 40.0);
    let left = tick_room(&y_scale, y_ticks);
    let plot = Area {
        x: area.x + left,
        y: top,
        w: area.w - left - right,
        h: bottom - top,
    };
    let x_scale = Scale::linear(widen(x_range, 0.03), plot.x, plot.right());

    y_axis(canvas, &plot, &y_scale, &axis_title(&panel.y), y_ticks);
    x_axis(
        canvas,
        &plot,
        &x_scale,
        &axis_title(&panel.x),
        tick_count(plot.w, 45.0),
    );
    for line in &lines {
        draw_band(canvas, line, &x_scale, &y_scale);
    }
    let mut labels: Vec<EndLabel> = Vec::new();
    for line in &lines {
        let path = path(&line.x, &line.y, &x_scale, &y_scale);
        let style = look(line.colour);
        canvas.line(&path, style.colour, 2.0, style.dash);
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
    for points in &panel.points {
        draw_points(canvas, points, &x_scale, &y_scale);
    }
    if direct {
        end_labels(canvas, &plot, &labels, right);
    }
}

/// The finite points of a series, on the paper.
pub fn path(x: &[f64], y: &[f64], x_scale: &Scale, y_scale: &Scale) -> Vec<Point> {
    x.iter()
        .zip(y)
        .filter(|(x, y)| x.is_finite() && y.is_finite())
        .map(|(x, y)| (x_scale.at(*x), y_scale.at(*y)))
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

/// Markers with their vertical intervals.
pub fn draw_points(canvas: &mut Canvas<'_>, points: &Points, x_scale: &Scale, y_scale: &Scale) {
    let style = look(points.colour);
    let bound = |bounds: &[Option<f64>], i: usize| bounds.get(i).copied().flatten();
    let place = |i: usize| {
        let (x, y) = (*points.x.get(i)?, *points.y.get(i)?);
        (x.is_finite() && y.is_finite()).then(|| (x_scale.at(x), y_scale.at(y)))
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
            canvas.line(&[(x, y), (x, end)], style.colour, 1.2, &[]);
            canvas.line(&[(x - 3.0, end), (x + 3.0, end)], style.colour, 1.2, &[]);
        }
    }
    for at in (0..points.x.len()).filter_map(place) {
        canvas.marker(at, style, size);
    }
}
