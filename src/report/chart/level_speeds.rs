//! Level top speed flight by flight, in days, each fan in its colour and marker.

use super::Sheet;
use super::canvas::{Align, fit, paint, width};
use super::frame::{
    LEADING, Sample, Y_TITLE_ROOM, axis_title, key, small, tick_count, tick_room, y_axis,
};
use super::palette::{AXIS, Colour, INK, look};
use super::place::Area;
use super::scale::{Scale, extent, widen};
use super::series::draw_points;
use super::spots::of_points_at;
use crate::findings::LevelSpeeds;
use crate::report::ReportError;

const PLOT: f64 = 230.0;
const BAND: Colour = Colour(0xf4, 0xf4, 0xf1);

pub fn draw(data: &LevelSpeeds, sheet: Sheet) -> Result<Option<String>, ReportError> {
    let values = data.points.iter().flat_map(|p| {
        let bounds = p.low.iter().chain(&p.high).flatten();
        p.y.iter().chain(bounds).copied()
    });
    let Some(range) = extent(values) else {
        return Ok(None);
    };
    let days = data.days.len().max(1);
    let keys: Vec<(Sample, String)> = data
        .points
        .iter()
        .filter(|p| !p.x.is_empty())
        .map(|p| (Sample::Point(look(p.colour)), p.label.clone()))
        .collect();
    let key_room = key(None, (0.0, 12.0), sheet.width(), &keys);
    let top = key_room + Y_TITLE_ROOM + 4.0;
    let bottom = top + PLOT;
    let y = Scale::linear(widen(range, 0.06), bottom, top);
    let y_ticks = tick_count(PLOT, 42.0);
    let left = tick_room(&y, y_ticks);
    let plot = Area {
        x: left,
        y: top,
        w: sheet.width() - left - 4.0,
        h: PLOT,
    };
    let x = Scale::linear((-0.5, days as f64 - 0.5), plot.x, plot.right());
    let day_width = plot.w / days as f64;

    // Where day labels would touch, they stand on two levels in turn; where that is too little, some are left out.
    let widest = data
        .days
        .iter()
        .map(|d| width(d, small(INK)))
        .fold(0.0, f64::max)
        + 8.0;
    let levels = ((widest / day_width).ceil() as usize).clamp(1, 2);
    let foot = 8.0 + levels as f64 * LEADING;

    paint(sheet.width(), bottom + foot, |canvas| {
        key(Some(canvas), (0.0, 12.0), sheet.width(), &keys);
        for i in (0..days).step_by(2) {
            canvas.rect(x.at(i as f64 - 0.5), plot.y, day_width, plot.h, BAND);
        }
        y_axis(canvas, &plot, &y, &axis_title(&data.y), y_ticks);
        canvas.line(&[(plot.x, bottom), (plot.right(), bottom)], AXIS, 1.0, &[]);
        let each = day_width * levels as f64;
        let skip = (widest / each).ceil().max(1.0) as usize;
        let room = (each * skip as f64).min(sheet.width()) - 8.0;
        for (i, day) in data.days.iter().enumerate().step_by(skip) {
            let at = x.at(i as f64);
            let level = (i / skip) % levels;
            let baseline = bottom + 15.0 + level as f64 * LEADING;
            canvas.line(&[(at, bottom), (at, baseline - 11.0)], AXIS, 0.8, &[]);
            let text = fit(day, small(INK), room);
            let half = width(&text, small(INK)) / 2.0;
            let at = at.clamp(half, (sheet.width() - half).max(half));
            canvas.text(&text, at, baseline, Align::Centre, small(INK));
        }
        for points in &data.points {
            draw_points(canvas, points, &x, &y);
            of_points_at(canvas, points, &data.y, &x, &y, |at| {
                let day = data.days.get(at.round().max(0.0) as usize);
                day.cloned().unwrap_or_default()
            });
        }
    })
    .map(Some)
}
