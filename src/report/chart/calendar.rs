//! Flights by day and power system: one mark a flight, in the order flown, rows named beside them.

use super::Sheet;
use super::canvas::{Align, fit, paint, width};
use super::frame::{LEADING, small, strong};
use super::palette::{AXIS, Colour, GRID, INK, look};
use crate::findings::Calendar;
use crate::report::ReportError;

const ROW: f64 = 30.0;
const BAND: Colour = Colour(0xf4, 0xf4, 0xf1);

pub fn draw(data: &Calendar, sheet: Sheet) -> Result<Option<String>, ReportError> {
    let days = data.days.len();
    if days == 0 || data.rows.iter().all(|r| r.flights.is_empty()) {
        return Ok(None);
    }
    let names = data.rows.iter().map(|r| width(&r.label, strong(INK)));
    let widest = names.fold(0.0, f64::max);
    // Where the names leave too little room they stand over their rows.
    let beside = sheet.is_wide() && widest <= 0.3 * sheet.width();
    let left = if beside { widest + 16.0 } else { 0.0 };
    let step = if beside { ROW } else { ROW + LEADING };
    let day_width = (sheet.width() - left) / days as f64;
    let most = data
        .rows
        .iter()
        .flat_map(|r| &r.flights)
        .map(|f| f.order)
        .max()
        .unwrap_or(1)
        .max(1);
    // Marks shrink before they would touch.
    let pitch = (day_width / f64::from(most)).min(26.0);
    let size = (0.62 * pitch).clamp(2.0, 9.0);
    let top = 4.0;
    let bottom = top + data.rows.len() as f64 * step;
    let label = |d: &str| width(d, small(INK)) + 8.0;
    let widest_day = data.days.iter().map(|d| label(d)).fold(0.0, f64::max);
    let levels = ((widest_day / day_width).ceil() as usize).clamp(1, 2);
    let skip = (widest_day / (day_width * levels as f64)).ceil().max(1.0) as usize;

    let foot = 8.0 + levels as f64 * LEADING;
    paint(sheet.width(), bottom + foot, |canvas| {
        for day in (0..days).step_by(2) {
            let x = left + day as f64 * day_width;
            canvas.rect(x, top, day_width, bottom - top, BAND);
        }
        for (r, row) in data.rows.iter().enumerate() {
            let style = look(row.colour);
            let floor = top + (r + 1) as f64 * step;
            let middle = floor - ROW / 2.0;
            if beside {
                let name = fit(&row.label, strong(style.colour), left - 12.0);
                canvas.text(&name, 0.0, middle + 4.0, Align::Left, strong(style.colour));
            } else {
                let name = fit(&row.label, strong(style.colour), sheet.width() - 8.0);
                let y = floor - ROW - 1.0;
                canvas.text(&name, 4.0, y, Align::Left, strong(style.colour));
            }
            if r > 0 {
                let y = floor - step;
                canvas.line(&[(0.0, y), (sheet.width(), y)], GRID, 1.0, &[]);
            }
            let series = canvas.series(&row.label);
            for flight in row.flights.iter().filter(|f| (f.day as usize) < days) {
                let centre = left + (f64::from(flight.day) + 0.5) * day_width;
                let place = f64::from(flight.order) - f64::from(most + 1) / 2.0;
                let at = (centre + place * pitch, middle);
                canvas.marker(at, style, size);
                let day = data.days.get(flight.day as usize);
                let words = format!(
                    "flight {}, {}, number {} of the day",
                    flight.flight,
                    day.map_or("", String::as_str),
                    flight.order
                );
                canvas.spot(series, at, words);
            }
        }
        canvas.line(&[(left, bottom), (sheet.width(), bottom)], AXIS, 1.0, &[]);
        for (d, day) in data.days.iter().enumerate().step_by(skip) {
            let at = left + (d as f64 + 0.5) * day_width;
            let level = (d / skip) % levels;
            let baseline = bottom + 15.0 + level as f64 * LEADING;
            canvas.line(&[(at, bottom), (at, baseline - 11.0)], AXIS, 0.8, &[]);
            let room = (day_width * (levels * skip) as f64).min(sheet.width()) - 4.0;
            let text = fit(day, small(INK), room);
            let half = width(&text, small(INK)) / 2.0;
            let at = at.clamp(half, (sheet.width() - half).max(half));
            canvas.text(&text, at, baseline, Align::Centre, small(INK));
        }
    })
    .map(Some)
}
