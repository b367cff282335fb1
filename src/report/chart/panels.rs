//! Lines with bands, points with intervals and labelled marks, a panel each: bench curves, bench
//! against flight, and every plot of one quantity against another.

use super::Sheet;
use super::canvas::{Align, Canvas, fit, paint};
use super::frame::{
    EndLabel, Sample, X_AXIS_ROOM, Y_TITLE_ROOM, axis_title, end_label_room, end_labels, key,
    strong, tick_count, tick_room, x_axis, y_axis,
};
use super::marks::{draw_marks, obstacles};
use super::naming::{self, Label, Named};
use super::palette::{INK, look};
use super::place::Area;
use super::scale::{Scale, extent, from_zero, widen};
use super::series::{draw_band, draw_points, path};
use super::spots::{of_line, of_points};
use crate::findings::{
    Across, Axis, AxisRange, BenchAgainstFlight, BenchCurves, Line, Mark, Panel, Plots, Points,
};
use crate::report::ReportError;

const GAP: f64 = 26.0;
/// Height of a panel's title.
const TITLE: f64 = 20.0;

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
    // Lines are named at their ends where the names fit there.
    let widest = end_label_room(views.iter().flat_map(names), f64::INFINITY);
    let direct = widest <= 0.27 * width;
    let (areas, _) = tile(views.len(), sheet, 0.0);
    let mut keys: Vec<Vec<Entry>> = views
        .iter()
        .zip(&areas)
        .map(|(view, area)| own_key(view, area, direct))
        .collect();
    // Where panels show the same series and one of them needs a key, one key serves them all.
    let mut common = entries(&views[0], direct);
    let alike = views.iter().all(|view| entries(view, direct) == common);
    if views.len() > 1 && alike && keys.iter().any(|k| !k.is_empty()) {
        keys.iter_mut().for_each(Vec::clear);
    } else {
        common.clear();
    }
    let head = key(None, (0.0, 12.0), sheet.width(), &common);
    let (areas, height) = tile(views.len(), sheet, head);
    paint(sheet.width(), height, |canvas| {
        key(Some(canvas), (0.0, 12.0), sheet.width(), &common);
        for ((view, area), keys) in views.iter().zip(&areas).zip(&keys) {
            let said: Vec<&str> = common.iter().chain(keys).map(|k| k.1.as_str()).collect();
            draw_panel(canvas, area, view, keys, &said, direct);
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

type Entry = (Sample, String);

/// Every series of a panel that is not named at its line's end, as a key would show it.
fn entries(view: &View, direct: bool) -> Vec<Entry> {
    let lines = view.lines.iter().filter(|l| !l.x.is_empty());
    let mut entries: Vec<Entry> = if direct {
        Vec::new()
    } else {
        line_keys(lines.clone())
    };
    let named = |label: &str| {
        label.is_empty() || label == view.title || lines.clone().any(|l| l.label == label)
    };
    let points = view.points.iter().filter(|p| !p.x.is_empty());
    for p in points.filter(|p| !named(&p.label)) {
        entries.push((Sample::Point(look(p.colour)), p.label.clone()));
    }
    entries
}

/// What the plot cannot name by itself. A key takes height, which moves the series: what is in it once
/// stays in it, until the rest can be named beside it.
fn own_key(view: &View, area: &Area, direct: bool) -> Vec<Entry> {
    let all = entries(view, direct);
    let mut keys: Vec<Entry> = Vec::new();
    loop {
        let said: Vec<&str> = keys.iter().map(|k| k.1.as_str()).collect();
        let Some(set) = layout(view, area, &keys, direct) else {
            return all;
        };
        let placed = place_names(view, &set, &said, direct);
        let mut lacking = all
            .iter()
            .filter(|e| !said.contains(&e.1.as_str()) && !placed.iter().any(|l| l.name == e.1));
        match lacking.next() {
            None => return keys,
            Some(first) => {
                let more: Vec<Entry> = std::iter::once(first).chain(lacking).cloned().collect();
                keys.extend(more);
                // In the order of the series.
                keys.sort_by_key(|k| all.iter().position(|e| e == k));
            }
        }
    }
}

/// Where a panel's parts lie.
struct Layout {
    plot: Area,
    x: Scale,
    y: Scale,
    y_ticks: usize,
    right: f64,
}

fn layout(view: &View, area: &Area, keys: &[Entry], direct: bool) -> Option<Layout> {
    let (x_range, y_range) = ranges(view)?;
    let title = if view.title.is_empty() { 0.0 } else { TITLE };
    let head = key(None, (area.x, 0.0), area.w, keys);
    let top = area.y + 2.0 + title + head + Y_TITLE_ROOM;
    let bottom = area.bottom() - X_AXIS_ROOM;
    let right = if direct {
        end_label_room(names(view), area.w)
    } else {
        8.0
    };
    let y = scale(view.spans[1], y_range, 0.06, bottom, top);
    let y_ticks = tick_count(bottom - top, 40.0);
    let left = tick_room(&y, y_ticks);
    let plot = Area {
        x: area.x + left,
        y: top,
        w: area.w - left - right,
        h: bottom - top,
    };
    let x = scale(view.spans[0], x_range, 0.03, plot.x, plot.right());
    Some(Layout {
        plot,
        x,
        y,
        y_ticks,
        right,
    })
}

/// Names set in the plot itself, but for those said elsewhere.
fn place_names<'a>(view: &View<'a>, set: &Layout, said: &[&str], direct: bool) -> Vec<Label<'a>> {
    let mut placer = obstacles(view.lines, view.points, &set.x, &set.y);
    let on_paper = |x: &[f64], y: &[f64]| path(x, y, &set.x, &set.y);
    let open = |label: &str| !label.is_empty() && label != view.title && !said.contains(&label);
    let lines = view
        .lines
        .iter()
        .filter(|l| !direct && open(&l.label))
        .map(|l| Named {
            name: &l.label,
            colour: l.colour,
            path: on_paper(&l.x, &l.y),
            is_line: true,
        });
    let by_line = |label: &str| view.lines.iter().any(|l| l.label == label);
    let points = view
        .points
        .iter()
        .filter(|p| open(&p.label) && !by_line(&p.label))
        .map(|p| Named {
            name: &p.label,
            colour: p.colour,
            path: on_paper(&p.x, &p.y),
            is_line: false,
        });
    let series: Vec<Named> = lines.chain(points).filter(|s| !s.path.is_empty()).collect();
    naming::labels(&series, &set.plot, &mut placer)
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

fn draw_panel(
    canvas: &mut Canvas<'_>,
    area: &Area,
    view: &View,
    keys: &[Entry],
    said: &[&str],
    direct: bool,
) {
    let Some(set) = layout(view, area, keys, direct) else {
        return;
    };
    let (plot, x_scale, y_scale) = (set.plot, set.x, set.y);
    let lines: Vec<&Line> = view.lines.iter().filter(|l| !l.x.is_empty()).collect();
    let mut top = area.y + 2.0;
    if !view.title.is_empty() {
        canvas.text(
            &fit(view.title, strong(INK), area.w),
            area.x,
            top + 12.0,
            Align::Left,
            strong(INK),
        );
        top += TITLE;
    }
    key(Some(canvas), (area.x, top + 12.0), area.w, keys);
    y_axis(
        canvas,
        &plot,
        &y_scale,
        &axis_title(view.axes[1]),
        set.y_ticks,
    );
    x_axis(
        canvas,
        &plot,
        &x_scale,
        &axis_title(view.axes[0]),
        x_ticks(view, &plot, &x_scale),
    );
    for line in &lines {
        draw_band(canvas, line, &x_scale, &y_scale);
    }
    let mut labels: Vec<EndLabel> = Vec::new();
    for line in &lines {
        let path = path(&line.x, &line.y, &x_scale, &y_scale);
        let style = look(line.colour);
        canvas.line(&path, style.colour, 2.0, style.dash);
        of_line(canvas, line, view.axes, &x_scale, &y_scale);
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
        of_points(canvas, points, view.axes, &x_scale, &y_scale);
    }
    let named = place_names(view, &set, said, direct);
    let mut placer = obstacles(view.lines, view.points, &x_scale, &y_scale);
    named.iter().for_each(|label| placer.keep_off(label.area()));
    draw_marks(canvas, &plot, view.marks, (&x_scale, &y_scale), &mut placer);
    named.iter().for_each(|label| label.draw(canvas));
    if direct {
        end_labels(canvas, &plot, &labels, set.right);
    }
}

/// How many ticks an axis gets; things that are counted have none between whole numbers.
fn x_ticks(view: &View, plot: &Area, x: &Scale) -> usize {
    let wanted = tick_count(plot.w, 45.0);
    let counted = view.axes[0].unit.is_empty() && !x.log && {
        let lines = view.lines.iter().flat_map(|l| &l.x);
        let mut all = lines.chain(view.points.iter().flat_map(|p| &p.x));
        all.all(|v| v.fract() == 0.0)
    };
    if counted {
        wanted.min((x.to - x.from).floor().max(1.0) as usize)
    } else {
        wanted
    }
}
