//! Values in classes of two quantities, written in their cells; the tint only helps the eye.

use super::Sheet;
use super::canvas::{Align, Canvas, fit, paint, width};
use super::frame::{SMALL, X_AXIS_ROOM, Y_TITLE_ROOM, axis_title, plain, small, strong};
use super::palette::{AXIS, Colour, GRID, INK, QUIET, tint};
use super::panels::tile;
use super::place::Area;
use super::scale::extent;
use crate::findings::{Axis, CellMap, CellPanel, MapCell};
use crate::report::ReportError;
use crate::report::numbers::fixed;

pub fn draw(data: &CellMap, sheet: Sheet) -> Result<Option<String>, ReportError> {
    let panels: Vec<&CellPanel> = data
        .panels
        .iter()
        .filter(|p| p.x_edges.len() > 1 && p.y_edges.len() > 1 && !p.cells.is_empty())
        .collect();
    if panels.is_empty() {
        return Ok(None);
    }
    let (areas, height) = tile(panels.len(), sheet, 0.0);
    paint(sheet.width(), height, |canvas| {
        for (panel, area) in panels.iter().zip(&areas) {
            draw_panel(canvas, panel, area);
        }
    })
    .map(Some)
}

fn draw_panel(canvas: &mut Canvas<'_>, panel: &CellPanel, area: &Area) {
    let mut top = area.y + 2.0;
    let heading = match (panel.title.as_str(), axis_title(&panel.value)) {
        ("", value) => value,
        (title, value) if value.is_empty() => title.to_owned(),
        (title, value) => format!("{title}: {}", value.to_lowercase()),
    };
    let heading = fit(&heading, strong(INK), area.w);
    canvas.text(&heading, area.x, top + 12.0, Align::Left, strong(INK));
    top += 20.0 + Y_TITLE_ROOM;
    let (columns, rows) = (panel.x_edges.len() - 1, panel.y_edges.len() - 1);
    let limits = |edges: &[f64]| -> Vec<String> {
        let digits = edges.iter().map(|e| super::short_decimals(*e)).max();
        edges
            .iter()
            .map(|e| fixed(*e, digits.unwrap_or(0)))
            .collect()
    };
    let (x_limits, y_limits) = (limits(&panel.x_edges), limits(&panel.y_edges));
    let left = y_limits
        .iter()
        .map(|l| width(l, small(QUIET)))
        .fold(0.0, f64::max)
        + 9.0;
    let plot = Area {
        x: area.x + left,
        y: top,
        w: area.w - left - 10.0,
        h: area.bottom() - X_AXIS_ROOM - top,
    };
    let (w, h) = (plot.w / columns as f64, plot.h / rows as f64);
    let title = fit(&axis_title(&panel.y), plain(INK), area.w);
    canvas.text(&title, area.x, plot.y - 9.0, Align::Left, plain(INK));
    let title = fit(&axis_title(&panel.x), plain(INK), plot.w);
    canvas.text(
        &title,
        plot.right(),
        plot.bottom() + 33.0,
        Align::Right,
        plain(INK),
    );

    let range = extent(panel.cells.iter().map(|c| c.value)).unwrap_or((0.0, 1.0));
    let inside = |c: &&MapCell| (c.column as usize) < columns && (c.row as usize) < rows;
    for cell in panel.cells.iter().filter(inside) {
        let share = if range.1 > range.0 {
            (cell.value - range.0) / (range.1 - range.0)
        } else {
            0.5
        };
        let (x, y) = (
            plot.x + f64::from(cell.column) * w,
            plot.bottom() - f64::from(cell.row + 1) * h,
        );
        canvas.rect(x, y, w, h, tint(share));
    }
    let line = |canvas: &mut Canvas<'_>, from, to, colour: Colour| {
        canvas.line(&[from, to], colour, 0.75, &[]);
    };
    // Limits are named only as closely as their names fit.
    let widest = x_limits.iter().map(|l| width(l, small(QUIET)) + 6.0);
    let every = (widest.fold(0.0, f64::max) / w).ceil().max(1.0) as usize;
    for (i, limit) in x_limits.iter().enumerate() {
        let x = plot.x + i as f64 * w;
        line(canvas, (x, plot.y), (x, plot.bottom()), GRID);
        if i % every == 0 {
            line(canvas, (x, plot.bottom()), (x, plot.bottom() + 4.0), AXIS);
            canvas.text(limit, x, plot.bottom() + 16.0, Align::Centre, small(QUIET));
        }
    }
    for (i, limit) in y_limits.iter().enumerate() {
        let y = plot.bottom() - i as f64 * h;
        line(canvas, (plot.x, y), (plot.right(), y), GRID);
        canvas.text(
            limit,
            plot.x - 6.0,
            y + 0.36 * SMALL,
            Align::Right,
            small(QUIET),
        );
    }
    line(
        canvas,
        (plot.x, plot.bottom()),
        (plot.right(), plot.bottom()),
        AXIS,
    );
    let series = canvas.series(&panel.title);
    for cell in panel.cells.iter().filter(inside) {
        write_cell(canvas, panel, cell, &plot, (w, h));
        let (column, row) = (cell.column as usize, cell.row as usize);
        let within = |axis: &Axis, limits: &[String], i: usize| {
            let [low, high] = [&limits[i], &limits[i + 1]];
            format!("{} {low} to {high} {}", axis.quantity, axis.unit)
        };
        let words = format!(
            "{}, {}: {} {}{}",
            within(&panel.x, &x_limits, column).trim_end(),
            within(&panel.y, &y_limits, row).trim_end(),
            fixed(cell.value, usize::from(panel.digits)),
            panel.value.unit,
            if cell.note.is_empty() {
                String::new()
            } else {
                format!(" ({})", cell.note)
            }
        );
        let middle = plot.x + (f64::from(cell.column) + 0.5) * w;
        let centre = plot.bottom() - (f64::from(cell.row) + 0.5) * h;
        canvas.spot(series, (middle, centre), words);
    }
}

/// The value in the middle of its cell, with its note under it where both fit.
fn write_cell(
    canvas: &mut Canvas<'_>,
    panel: &CellPanel,
    cell: &MapCell,
    plot: &Area,
    (w, h): (f64, f64),
) {
    let middle = plot.x + (f64::from(cell.column) + 0.5) * w;
    let centre = plot.bottom() - (f64::from(cell.row) + 0.5) * h;
    let value = fixed(cell.value, usize::from(panel.digits));
    let fits = |text: &str, face| width(text, face) <= w - 4.0;
    let with_note = !cell.note.is_empty() && h >= 28.0 && fits(&cell.note, small(QUIET));
    let shift = if with_note { -2.5 } else { 4.0 };
    let face = if fits(&value, plain(INK)) {
        plain(INK)
    } else {
        small(INK)
    };
    if fits(&value, face) && h >= 11.0 {
        canvas.text(&value, middle, centre + shift, Align::Centre, face);
    } else {
        canvas.disc((middle, centre), 2.0, INK);
    }
    if with_note {
        canvas.text(
            &cell.note,
            middle,
            centre + 10.5,
            Align::Centre,
            small(QUIET),
        );
    }
}
