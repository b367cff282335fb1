//! Interval ladder: what was measured standing, what the reference cases make of it, what flew.

use super::Sheet;
use super::canvas::{Align, Canvas, Point, Type, fit, paint, width, wrap};
use super::frame::{
    LEADING, SMALL, TEXT, X_AXIS_ROOM, axis_title, plain, small, strong, tick_count, x_axis,
};
use super::palette::{AXIS, Colour, INK, Look, Marker, PAPER, QUIET, SHADE};
use super::place::Area;
use super::scale::{Scale, extent, widen};
use crate::findings::{Ladder, Mark, Rung, RungGroup};
use crate::report::ReportError;
use crate::report::numbers::{decimals, decimals_known, fixed};

const NOTE_LINES: usize = 2;
/// Height under the words of a rung that its interval has to itself on a narrow sheet.
const NARROW_ZONE: f64 = 38.0;

struct Row<'a> {
    finest: Option<usize>,
    rung: &'a Rung,
    notes: Vec<String>,
    top: f64,
    height: f64,
}

pub fn draw(data: &Ladder, sheet: Sheet) -> Result<Option<String>, ReportError> {
    let Some(range) = range(data) else {
        return Ok(None);
    };
    let wide = sheet.is_wide();
    let label_room = if wide { 236.0 } else { sheet.width() - 8.0 };
    let value_room = value_room(data);
    let head = if data.band.is_some() { 22.0 } else { 6.0 };
    let rows = layout(data, wide, label_room, head);
    let bottom = rows.last().map_or(head, |r| r.top + r.height) + 4.0;
    let foot = if data.margin.is_some() || data.limit.is_some() {
        16.0
    } else {
        0.0
    };
    let plot = Area {
        x: if wide { label_room + 14.0 } else { 10.0 },
        y: head,
        w: if wide {
            sheet.width() - label_room - 14.0 - value_room
        } else {
            sheet.width() - 10.0 - value_room
        },
        h: bottom - head,
    };
    let x = Scale::linear(range, plot.x, plot.right());
    paint(sheet.width(), bottom + foot + X_AXIS_ROOM, |canvas| {
        let zones: Vec<Area> = if wide {
            vec![plot]
        } else {
            rows.iter()
                .map(|r| Area {
                    y: r.top + r.height - NARROW_ZONE,
                    h: NARROW_ZONE - 6.0,
                    ..plot
                })
                .collect()
        };
        backdrop(canvas, data, &plot, &x, foot, &zones);
        let under = Area {
            h: plot.h + foot,
            ..plot
        };
        x_axis(
            canvas,
            &under,
            &x,
            &axis_title(&data.x),
            tick_count(plot.w, 55.0),
        );
        let mut group = None;
        for row in &rows {
            if group.is_some_and(|g| g != row.rung.group) {
                canvas.line(
                    &[(0.0, row.top), (sheet.width(), row.top)],
                    super::palette::GRID,
                    1.0,
                    &[],
                );
            }
            group = Some(row.rung.group);
            draw_row(canvas, row, &plot, (&x, &data.x.unit), wide, label_room);
        }
    })
    .map(Some)
}

fn range(data: &Ladder) -> Option<(f64, f64)> {
    let rungs = data
        .rungs
        .iter()
        .flat_map(|r| [r.value, r.low, r.high])
        .flatten();
    let (low, high) = extent(rungs)?;
    let band = data.band.iter().flat_map(|b| [b.low, b.high]);
    let margin = data.margin.iter().flat_map(|m| [-m, *m]);
    let limit = data.limit.iter().map(|m| m.at);
    let all = [low, high, 0.0].into_iter().chain(band).chain(margin);
    extent(all.chain(limit)).map(|r| widen(r, 0.05))
}

fn layout<'a>(data: &'a Ladder, wide: bool, label_room: f64, head: f64) -> Vec<Row<'a>> {
    let mut top = head;
    data.rungs
        .iter()
        .map(|rung| {
            let notes = wrap(&rung.note, small(QUIET), label_room, NOTE_LINES);
            let text = LEADING + notes.len() as f64 * (SMALL + 2.5);
            let height = if wide {
                text.max(24.0) + 14.0
            } else {
                text + 6.0 + NARROW_ZONE
            };
            let row = Row {
                finest: finest(data),
                rung,
                notes,
                top,
                height,
            };
            top += height;
            row
        })
        .collect()
}

/// Value and interval in words; a rung without two ends is written as finely as the finest of the others.
fn rung_text(rung: &Rung, finest: Option<usize>) -> (String, String) {
    let bare = decimals(rung.value, rung.low, rung.high);
    let digits = decimals_known(rung.value, rung.low, rung.high)
        .unwrap_or(finest.map_or(bare, |f| bare.min(f)));
    let value = rung.value.map(|v| fixed(v, digits)).unwrap_or_default();
    let interval = match (rung.low, rung.high) {
        (Some(low), Some(high)) => format!("{} to {}", fixed(low, digits), fixed(high, digits)),
        (Some(low), None) => format!("at least {}", fixed(low, digits)),
        (None, Some(high)) => format!("at most {}", fixed(high, digits)),
        (None, None) if rung.value.is_some() => "no interval".to_owned(),
        (None, None) => "not known".to_owned(),
    };
    (value, interval)
}

fn finest(data: &Ladder) -> Option<usize> {
    data.rungs
        .iter()
        .filter_map(|r| decimals_known(r.value, r.low, r.high))
        .max()
}

fn value_room(data: &Ladder) -> f64 {
    data.rungs
        .iter()
        .map(|rung| rung_text(rung, finest(data)))
        .map(|(value, interval)| width(&value, strong(INK)).max(width(&interval, small(QUIET))))
        .fold(0.0, f64::max)
        + 14.0
}

/// Band, zero and margin, within `zones`: where no words stand.
fn backdrop(
    canvas: &mut Canvas<'_>,
    data: &Ladder,
    plot: &Area,
    x: &Scale,
    foot: f64,
    zones: &[Area],
) {
    if let Some(band) = &data.band {
        let (from, to) = (x.at(band.low), x.at(band.high));
        for zone in zones {
            canvas.rect(from, zone.y, (to - from).max(1.0), zone.h, SHADE);
        }
        let face = small(INK);
        let text = fit(&band.label, face, plot.w);
        let half = width(&text, face) / 2.0;
        let middle =
            ((from + to) / 2.0).clamp(plot.x + half, (plot.right() - half).max(plot.x + half));
        canvas.text(&text, middle, plot.y - 7.0, Align::Centre, face);
    }
    let full = plot.bottom() + foot;
    let mut upright = |value: f64, dash: &[f64]| {
        for zone in zones {
            canvas.line(
                &[(x.at(value), zone.y), (x.at(value), zone.bottom())],
                AXIS,
                1.0,
                dash,
            );
        }
        canvas.line(
            &[(x.at(value), plot.bottom()), (x.at(value), full)],
            AXIS,
            1.0,
            dash,
        );
    };
    upright(0.0, &[]);
    if let Some(margin) = data.margin.filter(|m| m.is_finite()) {
        for end in [-margin, margin] {
            upright(end, &[2.0, 3.0]);
        }
        let unit = if data.x.unit.is_empty() {
            String::new()
        } else {
            format!(" {}", data.x.unit)
        };
        let digits = super::frame::short_decimals(margin);
        let text = format!("margin ±{}{unit}", fixed(margin, digits));
        let at = x.at(margin) + 4.0;
        let fits = at + width(&text, small(QUIET)) <= plot.right();
        let (at, align) = if fits {
            (at, Align::Left)
        } else {
            (x.at(-margin) - 4.0, Align::Right)
        };
        canvas.text(&text, at, full - 4.0, align, small(QUIET));
    }
    if let Some(limit) = data.limit.as_ref().filter(|m| m.at.is_finite()) {
        draw_limit(canvas, limit, plot, x, full, zones);
    }
}

/// A line that the intervals are held against, named under the rungs.
fn draw_limit(
    canvas: &mut Canvas<'_>,
    limit: &Mark,
    plot: &Area,
    x: &Scale,
    full: f64,
    zones: &[Area],
) {
    let at = x.at(limit.at);
    let parts = zones.iter().map(|zone| (zone.y, zone.bottom()));
    for (from, to) in parts.chain([(plot.bottom(), full)]) {
        canvas.line(&[(at, from), (at, to)], INK, 1.3, &[5.0, 3.0]);
    }
    let text = fit(&limit.label, strong(INK), plot.w / 2.0);
    let w = width(&text, strong(INK));
    let left = if at + 4.0 + w <= plot.right() {
        at + 4.0
    } else {
        at - 4.0 - w
    };
    canvas.text(&text, left, full - 4.0, Align::Left, strong(INK));
}

fn group_look(group: RungGroup) -> Look {
    match group {
        RungGroup::Static => Look {
            colour: QUIET,
            marker: Marker::Square,
            dash: &[],
            hollow: false,
        },
        RungGroup::Reference => Look {
            colour: QUIET,
            marker: Marker::Ring,
            dash: &[],
            hollow: false,
        },
        RungGroup::Observed => Look {
            colour: INK,
            marker: Marker::Circle,
            dash: &[],
            hollow: false,
        },
    }
}

fn draw_row(
    canvas: &mut Canvas<'_>,
    row: &Row<'_>,
    plot: &Area,
    (x, unit): (&Scale, &str),
    wide: bool,
    room: f64,
) {
    let rung = row.rung;
    let text_height = LEADING + row.notes.len() as f64 * (SMALL + 2.5);
    let first = row.top
        + if wide {
            (row.height - text_height) / 2.0 + 11.0
        } else {
            17.0
        };
    let label_face = if rung.group == RungGroup::Observed {
        strong(INK)
    } else {
        plain(INK)
    };
    canvas.text(
        &fit(&rung.label, label_face, room),
        0.0,
        first,
        Align::Left,
        label_face,
    );
    for (i, note) in row.notes.iter().enumerate() {
        let y = first + (i + 1) as f64 * (SMALL + 2.5) + 1.0;
        canvas.text(note, 0.0, y, Align::Left, small(QUIET));
    }

    let y = if wide {
        row.top + row.height / 2.0
    } else {
        row.top + row.height - 6.0 - (NARROW_ZONE - 6.0) / 2.0
    };
    let style = group_look(rung.group);
    interval(canvas, rung, y, plot, x, style.colour);
    if let Some(value) = rung.value.filter(|v| v.is_finite()) {
        canvas.disc((x.at(value), y), 5.6, PAPER);
        canvas.marker((x.at(value), y), style, 8.5);
    }
    let (value, interval) = rung_text(rung, row.finest);
    let told = rung.value.or(rung.low).or(rung.high);
    if let Some(place) = told {
        let series = canvas.series(&rung.label);
        let unit = if unit.is_empty() {
            String::new()
        } else {
            format!(" {unit}")
        };
        let words = match value.as_str() {
            "" => format!("{interval}{unit}"),
            value => format!("{value}{unit}, {interval}{unit}"),
        };
        canvas.spot(series, (x.at(place), y), words);
    }
    let at = plot.right() + 12.0;
    let face = Type {
        size: TEXT,
        bold: true,
        colour: style.colour,
    };
    if value.is_empty() {
        canvas.text(&interval, at, y + 4.0, Align::Left, small(QUIET));
    } else {
        canvas.text(&value, at, y - 1.5, Align::Left, face);
        canvas.text(&interval, at, y + 11.0, Align::Left, small(QUIET));
    }
}

/// The bar of an interval; an open end runs to the plot's edge with an arrow head.
fn interval(canvas: &mut Canvas<'_>, rung: &Rung, y: f64, plot: &Area, x: &Scale, colour: Colour) {
    if rung.low.is_none() && rung.high.is_none() {
        return;
    }
    let stroke = if rung.group == RungGroup::Observed {
        3.0
    } else {
        2.0
    };
    let from = rung.low.map_or(plot.x, |v| x.at(v));
    let to = rung.high.map_or(plot.right(), |v| x.at(v));
    canvas.line(&[(from, y), (to, y)], colour, stroke, &[]);
    let mut end = |at: f64, closed: bool, inward: f64| {
        let head: [Point; 2] = [(at, y - 4.5), (at, y + 4.5)];
        if closed {
            canvas.line(&head, colour, 1.5, &[]);
        } else {
            canvas.area(
                &[(at, y), (at + inward, y - 4.5), (at + inward, y + 4.5)],
                colour,
                1.0,
            );
        }
    };
    end(from, rung.low.is_some(), 8.0);
    end(to, rung.high.is_some(), -8.0);
}
