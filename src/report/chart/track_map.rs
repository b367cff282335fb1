//! A flight from above: the path thin, its passes bold and numbered, arrow heads where they end.
//! North is up; east and north have one scale, told by a bar.

use super::Sheet;
use super::canvas::{Align, Canvas, Point, fit, paint, width, wrap};
use super::frame::{LEADING, Sample, arrow, arrow_head, key, plain, small, strong, tick_count};
use super::palette::{AXIS, INK, Look, PAPER, QUIET, look};
use super::place::{Area, Placer};
use super::scale::{Scale, extent, widen};
use super::series::path;
use super::spots::of_line;
use crate::findings::{Axis, MapPass, MapWind, TrackMap};
use crate::report::ReportError;

/// Height of the strip under the map: bar, north, wind.
const FOOT: f64 = 66.0;
const TALLEST: f64 = 430.0;
const LOWEST: f64 = 130.0;

pub fn draw(data: &TrackMap, sheet: Sheet) -> Result<Option<String>, ReportError> {
    let east = data.path.iter().flat_map(|l| l.x.iter().copied());
    let north = data.path.iter().flat_map(|l| l.y.iter().copied());
    let (Some(east), Some(north)) = (extent(east), extent(north)) else {
        return Ok(None);
    };
    let keys = keys(data);
    let head = key(None, (0.0, 12.0), sheet.width(), &keys);
    let (east, north) = (widen(east, 0.04), widen(north, 0.04));
    let (wide, tall) = (east.1 - east.0, north.1 - north.0);
    // One scale: as large as the sheet's width and a sensible height allow.
    let per_metre = (sheet.width() / wide).min(TALLEST / tall);
    let h = (tall * per_metre).max(LOWEST);
    let centre = (sheet.width() / 2.0, head + 6.0 + h / 2.0);
    let (mid_east, mid_north) = (east.0 + wide / 2.0, north.0 + tall / 2.0);
    let x = Scale::linear((mid_east, mid_east + 1.0), centre.0, centre.0 + per_metre);
    let y = Scale::linear((mid_north, mid_north + 1.0), centre.1, centre.1 - per_metre);
    let map = Area {
        x: 0.0,
        y: head + 6.0,
        w: sheet.width(),
        h,
    };
    let foot = map.bottom() + 14.0;
    paint(sheet.width(), foot + FOOT, |canvas| {
        key(Some(canvas), (0.0, 12.0), sheet.width(), &keys);
        for line in &data.path {
            canvas.line(&path(&line.x, &line.y, &x, &y), AXIS, 0.9, &[]);
        }
        let axes = ["east", "north"].map(|quantity| Axis {
            quantity: quantity.to_owned(),
            unit: data.unit.clone(),
        });
        let passes = data.passes.iter().map(|p| &p.line);
        // Where both are near, the pass is meant.
        for line in passes.chain(&data.path) {
            of_line(canvas, line, [&axes[0], &axes[1]], &x, &y);
        }
        for pass in data.passes.iter().filter(|p| !p.used) {
            pass_line(canvas, pass, &x, &y);
        }
        for pass in data.passes.iter().filter(|p| p.used) {
            pass_line(canvas, pass, &x, &y);
        }
        labels(canvas, data, &map, &x, &y);
        canvas.line(
            &[(0.0, foot), (sheet.width(), foot)],
            super::palette::GRID,
            1.0,
            &[],
        );
        bar(
            canvas,
            (8.0, foot + 30.0),
            per_metre,
            sheet.width() * 0.3,
            &data.unit,
        );
        let north_at = sheet.width() * if sheet.is_wide() { 0.45 } else { 0.42 };
        north_arrow(canvas, (north_at, foot + 12.0));
        if let Some(wind) = &data.wind {
            let from = sheet.width() * if sheet.is_wide() { 0.58 } else { 0.5 };
            wind_arrow(canvas, wind, (from, foot + 12.0), sheet.width() - from);
        }
    })
    .map(Some)
}

fn keys(data: &TrackMap) -> Vec<(Sample, String)> {
    let thin = Look {
        colour: AXIS,
        dash: &[],
        ..look(crate::findings::NEUTRAL)
    };
    let mut keys = vec![(Sample::Line(thin, 0.9), "path over the ground".to_owned())];
    if let Some(pass) = data.passes.iter().find(|p| p.used) {
        let style = pass_look(pass);
        keys.push((Sample::Line(style, 3.0), "full-throttle pass".to_owned()));
    }
    if let Some(pass) = data.passes.iter().find(|p| !p.used) {
        let style = pass_look(pass);
        keys.push((Sample::Line(style, 1.8), "pass set aside".to_owned()));
    }
    keys
}

fn pass_look(pass: &MapPass) -> Look {
    let style = look(pass.line.colour);
    Look {
        dash: if pass.used { &[] } else { &[3.0, 3.0] },
        ..style
    }
}

fn pass_line(canvas: &mut Canvas<'_>, pass: &MapPass, x: &Scale, y: &Scale) {
    let style = pass_look(pass);
    let line = path(&pass.line.x, &pass.line.y, x, y);
    let stroke = if pass.used { 3.0 } else { 1.8 };
    if pass.used {
        canvas.line(&line, PAPER, stroke + 2.0, &[]);
    }
    canvas.line(&line, style.colour, stroke, style.dash);
    if let [.., from, to] = line[..] {
        arrow_head(canvas, from, to, 11.0, style.colour);
    }
}

/// Numbers of the passes near their ends, names of the places, where they cover least.
fn labels(canvas: &mut Canvas<'_>, data: &TrackMap, map: &Area, x: &Scale, y: &Scale) {
    let mut placer = Placer::default();
    let drawn: Vec<(&MapPass, Vec<Point>)> = data
        .passes
        .iter()
        .map(|p| (p, path(&p.line.x, &p.line.y, x, y)))
        .filter(|(_, line)| line.len() > 1)
        .collect();
    for (_, line) in &drawn {
        placer.keep_off_line(line);
    }
    for place in &data.places {
        let at = (x.at(place.east), y.at(place.north));
        if !(at.0.is_finite() && at.1.is_finite()) {
            continue;
        }
        canvas.disc(at, 4.6, PAPER);
        canvas.disc(at, 3.4, INK);
        placer.keep_off(around(at, 10.0, 10.0));
    }
    let mut put =
        |canvas: &mut Canvas<'_>, text: &str, face, wishes: &[Point], leader: Option<Point>| {
            let text = fit(text, face, map.w * 0.45);
            let w = width(&text, face);
            let areas: Vec<Area> = wishes.iter().map(|p| around(*p, w + 4.0, 14.0)).collect();
            let Some(at) = placer.place(&areas, map) else {
                return;
            };
            let centre = (at.x + at.w / 2.0, at.y + 7.0);
            if let Some(end) = leader
                && (centre.0 - end.0).hypot(centre.1 - end.1) > 22.0
            {
                canvas.line(&[end, centre], QUIET, 0.6, &[]);
            }
            canvas.area(&corners(&at), PAPER, 0.85);
            canvas.text(&text, at.x + 2.0, at.y + 11.0, Align::Left, face);
        };
    for (pass, line) in &drawn {
        let face = strong(pass_look(pass).colour);
        let number = pass.number.to_string();
        let (Some(start), Some(end)) = (line.first(), line.last()) else {
            continue;
        };
        // Beyond the arrow head first, then ever farther around it.
        let out = (end.1 - start.1).atan2(end.0 - start.0);
        let wishes: Vec<Point> = [15.0, 24.0, 34.0, 46.0, 60.0, 78.0]
            .iter()
            .flat_map(|r| {
                [0.0, 0.5, -0.5, 1.0, -1.0, 1.6, -1.6, 2.3, -2.3_f64].map(|turn| {
                    (
                        end.0 + r * (out + turn).cos(),
                        end.1 + r * (out + turn).sin(),
                    )
                })
            })
            .collect();
        put(canvas, &number, face, &wishes, Some(*end));
    }
    for place in &data.places {
        let at = (x.at(place.east), y.at(place.north));
        if !(at.0.is_finite() && at.1.is_finite()) {
            continue;
        }
        let half = width(&place.label, small(INK)) / 2.0 + 9.0;
        let wishes: Vec<Point> = [1.0, 1.6, 2.4]
            .iter()
            .flat_map(|f| {
                [
                    (at.0 + half * f, at.1),
                    (at.0 - half * f, at.1),
                    (at.0, at.1 + 15.0 * f),
                    (at.0, at.1 - 15.0 * f),
                    (at.0 + half * f, at.1 + 14.0 * f),
                    (at.0 - half * f, at.1 + 14.0 * f),
                    (at.0 + half * f, at.1 - 14.0 * f),
                    (at.0 - half * f, at.1 - 14.0 * f),
                ]
            })
            .collect();
        put(canvas, &place.label, small(INK), &wishes, Some(at));
    }
}

fn around(centre: Point, w: f64, h: f64) -> Area {
    Area {
        x: centre.0 - w / 2.0,
        y: centre.1 - h / 2.0,
        w,
        h,
    }
}

fn corners(area: &Area) -> [Point; 4] {
    [
        (area.x, area.y),
        (area.right(), area.y),
        (area.right(), area.bottom()),
        (area.x, area.bottom()),
    ]
}

/// A round length as a bar, at most `room` wide.
fn bar(canvas: &mut Canvas<'_>, at: Point, per_metre: f64, room: f64, unit: &str) {
    let longest = room / per_metre;
    let lengths = Scale::linear((0.0, longest), 0.0, room).ticks(tick_count(room, 60.0));
    let Some((metres, words)) = lengths.last() else {
        return;
    };
    let length = metres * per_metre;
    canvas.line(&[at, (at.0 + length, at.1)], INK, 2.0, &[]);
    for end in [at.0, at.0 + length] {
        canvas.line(&[(end, at.1 - 5.0), (end, at.1 + 1.0)], INK, 1.5, &[]);
    }
    let words = fit(&format!("{words} {unit}"), plain(INK), room);
    canvas.text(&words, at.0, at.1 + 17.0, Align::Left, plain(INK));
}

fn north_arrow(canvas: &mut Canvas<'_>, top: Point) {
    arrow(canvas, (top.0, top.1 + 30.0), top, INK);
    let y = top.1 + 30.0 + LEADING;
    canvas.text("north", top.0, y, Align::Centre, small(INK));
}

/// The direction the wind blows to, in a ring; an empty ring where its error leaves it open.
fn wind_arrow(canvas: &mut Canvas<'_>, wind: &MapWind, at: Point, room: f64) {
    let r = 18.0;
    let centre = (at.0 + r, at.1 + r);
    let ring: Vec<Point> = (0..=48)
        .map(|i| {
            let a = f64::from(i) * std::f64::consts::TAU / 48.0;
            (centre.0 + r * a.cos(), centre.1 + r * a.sin())
        })
        .collect();
    canvas.line(&ring, AXIS, 0.9, &[2.0, 2.0]);
    let speed = wind.to_east.hypot(wind.to_north);
    if !wind.direction_open && speed > 0.0 {
        let (dx, dy) = (r * wind.to_east / speed, -r * wind.to_north / speed);
        arrow(
            canvas,
            (centre.0 - dx, centre.1 - dy),
            (centre.0 + dx, centre.1 + dy),
            INK,
        );
    }
    let left = at.0 + 2.0 * r + 10.0;
    let lines: Vec<String> = wind
        .words
        .iter()
        .flat_map(|w| wrap(w, small(INK), room - 2.0 * r - 12.0, 2))
        .collect();
    let mut y = centre.1 + 4.0 - (lines.len() as f64 - 1.0) * 6.5;
    for line in &lines {
        canvas.text(line, left, y, Align::Left, small(INK));
        y += 13.0;
    }
}
