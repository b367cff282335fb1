//! Lines with bands, points with intervals and labelled marks, a panel each: bench curves, bench
//! against flight, and every plot of one quantity against another.

use super::Sheet;
use super::canvas::{Align, Canvas, Point, fit, paint, width};
use super::frame::{
    EndLabel, Sample, X_AXIS_ROOM, Y_TITLE_ROOM, axis_title, end_label_room, end_labels, key,
    strong, tick_count, tick_room, x_axis, y_axis,
};
use super::palette::{INK, look};
use super::place::{Area, Placer};
use super::scale::{Scale, extent, from_zero, widen};
use crate::findings::{
    Across, Axis, AxisRange, BenchAgainstFlight, BenchCurves, Line, Mark, Panel, Plots, Points,
};
use crate::report::ReportError;

const GAP: f64 = 26.0;

/// One panel, whatever kind of figure it belongs to.
struct View<'a> {
    title: &'a str,
    axes: [&'a Axis; 2],
    spans: [AxisRange; 2],
    lines: &'a [Line],
    points: &'a [Points],
    marks: &'a [Mark],
}

impl<'a> View<'a> {
    fn of(title: &'a str, panel: &'a Panel) -> Self {
        Self {
            title,
            axes: [&panel.x, &panel.y],
            spans: [AxisRange::Fitted, AxisRange::FromZero],
            lines: &panel.lines,
            points: &panel.points,
            marks: &[],
        }
    }
}

pub fn curves(data: &BenchCurves, sheet: Sheet) -> Result<Option<String>, ReportError> {
    draw(data.panels.iter().map(|p| View::of("", p)), sheet)
}

pub fn against_flight(
    data: &BenchAgainstFlight,
    sheet: Sheet,
) -> Result<Option<String>, ReportError> {
    let panels = data.panels.iter();
    draw(panels.map(|p| View::of(&p.title, &p.panel)), sheet)
}

pub fn plots(data: &Plots, sheet: Sheet) -> Result<Option<String>, ReportError> {
    let views = data.panels.iter().map(|p| View {
        title: &p.title,
        axes: [&p.x, &p.y],
        spans: [p.x_range, p.y_range],
        lines: &p.lines,
        points: &p.points,
        marks: &p.marks,
    });
    draw(views, sheet)
}

/// Places of the panels on the sheet, two abreast where it is wide, and the height they take.
pub fn tile(count: usize, sheet: Sheet, head: f64) -> (Vec<Area>, f64) {
    let columns = if sheet.is_wide() { count.min(2) } else { 1 };
    let w = (sheet.width() - GAP * (columns as f64 - 1.0)) / columns as f64;
    let h = if columns == 2 { 300.0 } else { 330.0 };
    let areas = (0..count)
        .map(|i| Area {
            x: (i % columns) as f64 * (w + GAP),
            y: head + (i / columns) as f64 * (h + GAP),
            w,
            h,
        })
        .collect();
    let rows = count.div_ceil(columns.max(1));
    (areas, head + rows as f64 * (h + GAP) - GAP)
}

fn draw<'a>(
    views: impl Iterator<Item = View<'a>>,
    sheet: Sheet,
) -> Result<Option<String>, ReportError> {
    let views: Vec<View> = views.filter(|v| ranges(v).is_some()).collect();
    if views.is_empty() {
        return Ok(None);
    }
    let width = tile(views.len(), sheet, 0.0).0[0].w;
    // Lines are named at their ends where the names fit there, else once in a key on top.
    let widest = end_label_room(views.iter().flat_map(names), f64::INFINITY);
    let direct = widest <= 0.27 * width;
    let keys = if direct {
        Vec::new()
    } else {
        line_keys(views.iter().flat_map(|v| v.lines))
    };
    let head = key(None, (0.0, 12.0), sheet.width(), &keys);
    let (areas, height) = tile(views.len(), sheet, head);
    paint(sheet.width(), height, |canvas| {
        key(Some(canvas), (0.0, 12.0), sheet.width(), &keys);
        for (view, area) in views.iter().zip(&areas) {
            draw_panel(canvas, area, view, direct);
        }
    })
    .map(Some)
}

fn names<'a>(view: &View<'a>) -> impl Iterator<Item = &'a str> {
    view.lines
        .iter()
        .filter(|l| !l.x.is_empty())
        .map(|l| l.label.as_str())
}

/// A key entry for every look and name among the lines.
pub fn line_keys<'a>(lines: impl Iterator<Item = &'a Line>) -> Vec<(Sample, String)> {
    let mut keys: Vec<(Sample, String)> = Vec::new();
    for line in lines.filter(|l| !l.x.is_empty()) {
        let entry = (Sample::Line(look(line.colour), 2.0), line.label.clone());
        if !keys.contains(&entry) {
            keys.push(entry);
        }
    }
    keys
}

type Range = (f64, f64);

fn ranges(view: &View) -> Option<(Range, Range)> {
    // A logarithmic axis has no place for zero and below.
    let shown = |span: AxisRange| move |v: &f64| span != AxisRange::Logarithmic || *v > 0.0;
    let marks = |across: Across| {
        let on_it = view.marks.iter().filter(move |m| m.across == across);
        on_it.map(|m| m.at)
    };
    let lines = view.lines.iter();
    let x = lines.clone().flat_map(|l| &l.x);
    let x = x.chain(view.points.iter().flat_map(|p| &p.x)).copied();
    let y = lines.flat_map(|l| {
        let bounds = [&l.low, &l.high].into_iter().flatten().flatten();
        l.y.iter().chain(bounds).copied()
    });
    let y = y.chain(view.points.iter().flat_map(|p| {
        let bounds = p.low.iter().chain(&p.high).flatten();
        p.y.iter().chain(bounds).copied()
    }));
    let x: Vec<f64> = x.filter(shown(view.spans[0])).collect();
    let y: Vec<f64> = y.filter(shown(view.spans[1])).collect();
    if extent(x.iter().copied()).is_none() || extent(y.iter().copied()).is_none() {
        return None;
    }
    let x = extent(
        x.into_iter()
            .chain(marks(Across::X).filter(shown(view.spans[0]))),
    )?;
    let y = extent(
        y.into_iter()
            .chain(marks(Across::Y).filter(shown(view.spans[1]))),
    )?;
    Some((x, y))
}

fn scale(span: AxisRange, range: Range, pad: f64, start: f64, end: f64) -> Scale {
    match span {
        AxisRange::Fitted => Scale::linear(widen(range, pad), start, end),
        AxisRange::FromZero => Scale::linear(from_zero(range), start, end),
        AxisRange::Logarithmic => {
            let grown = (range.1 / range.0).max(1.2).powf(pad);
            Scale::log((range.0 / grown, range.1 * grown), start, end)
        }
    }
}

fn draw_panel(canvas: &mut Canvas<'_>, area: &Area, view: &View, direct: bool) {
    let Some((x_range, y_range)) = ranges(view) else {
        return;
    };
    let lines: Vec<&Line> = view.lines.iter().filter(|l| !l.x.is_empty()).collect();
    let named = |label: &str| !label.is_empty() && lines.iter().any(|l| l.label == label);
    let keys: Vec<(Sample, String)> = view
        .points
        .iter()
        .filter(|p| !p.x.is_empty() && !p.label.is_empty() && !named(&p.label))
        .map(|p| (Sample::Point(look(p.colour)), p.label.clone()))
        .collect();

    let mut top = area.y + 2.0;
    if !view.title.is_empty() {
        canvas.text(
            &fit(view.title, strong(INK), area.w),
            area.x,
            top + 12.0,
            Align::Left,
            strong(INK),
        );
        top += 20.0;
    }
    top += key(Some(canvas), (area.x, top + 12.0), area.w, &keys);

    let right = if direct {
        end_label_room(names(view), area.w)
    } else {
        8.0
    };
    let top = top + Y_TITLE_ROOM;
    let bottom = area.bottom() - X_AXIS_ROOM;
    let y_scale = scale(view.spans[1], y_range, 0.06, bottom, top);
    let y_ticks = tick_count(bottom - top, 40.0);
    let left = tick_room(&y_scale, y_ticks);
    let plot = Area {
        x: area.x + left,
        y: top,
        w: area.w - left - right,
        h: bottom - top,
    };
    let x_scale = scale(view.spans[0], x_range, 0.03, plot.x, plot.right());

    y_axis(canvas, &plot, &y_scale, &axis_title(view.axes[1]), y_ticks);
    x_axis(
        canvas,
        &plot,
        &x_scale,
        &axis_title(view.axes[0]),
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
    for points in view.points {
        draw_points(canvas, points, &x_scale, &y_scale);
    }
    draw_marks(canvas, &plot, view, &x_scale, &y_scale);
    if direct {
        end_labels(canvas, &plot, &labels, right);
    }
}

/// Straight lines over the plot, each named where its name covers nothing.
fn draw_marks(canvas: &mut Canvas<'_>, plot: &Area, view: &View, x: &Scale, y: &Scale) {
    let mut placer = Placer::default();
    for line in view.lines {
        placer.keep_off_line(&path(&line.x, &line.y, x, y));
    }
    for points in view.points {
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
    let drawn = view.marks.iter().filter(|m| {
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
fn whiskers<'a>(
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
