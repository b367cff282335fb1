//! A column beside latitude or longitude that holds nothing but the side of the world.

use super::cell::Cell;
use super::channels::Assigner;
use super::log::Channel;
use super::table::{CellsOf, Table};
use crate::season::Finding;

/// Sign of a side of the world; `None` where the cell names none of this channel's.
fn sign(channel: Channel, text: &str) -> Option<f64> {
    let text = text.trim();
    let is = |words: [&str; 2]| words.iter().any(|w| text.eq_ignore_ascii_case(w));
    match channel {
        Channel::Latitude if is(["N", "north"]) => Some(1.0),
        Channel::Latitude if is(["S", "south"]) => Some(-1.0),
        Channel::Longitude if is(["E", "east"]) => Some(1.0),
        Channel::Longitude if is(["W", "west"]) => Some(-1.0),
        _ => None,
    }
}

/// A coordinate without a sign on the side that another cell names; none where that cell names none.
pub(super) fn on_side(value: Cell, channel: Channel, cells: &impl CellsOf, side: usize) -> Cell {
    let text = cells.text(side);
    match (value, sign(channel, text)) {
        (Cell::Number(x), Some(sign)) => Cell::Number(sign * x),
        (Cell::Number(_), None) if text.trim().is_empty() => Cell::Blank,
        (Cell::Number(_), None) => Cell::Bad,
        (other, _) => other,
    }
}

/// The nearest column whose filled cells all name a side, where the coordinate has no sign itself.
fn column_beside(table: &Table, channel: Channel, index: usize) -> Option<usize> {
    if table.header.get(index).is_none_or(|h| h.degrees) {
        return None;
    }
    let signed = (0..table.rows.len())
        .filter_map(|row| table.raw(row, index).number())
        .any(|x| x < 0.0);
    let names_sides = |column: &usize| {
        let mut filled = (0..table.rows.len())
            .map(|row| table.text(row, *column))
            .filter(|text| !text.trim().is_empty())
            .peekable();
        filled.peek().is_some() && filled.all(|text| sign(channel, text).is_some())
    };
    (0..table.header.len())
        .filter(|column| *column != index && !signed)
        .filter(names_sides)
        .min_by_key(|column| column.abs_diff(index))
}

impl Assigner<'_> {
    /// The column of sides beside a coordinate, told where there is one.
    pub(super) fn side(&mut self, channel: Channel, index: usize) -> Option<usize> {
        if !matches!(channel, Channel::Latitude | Channel::Longitude) {
            return None;
        }
        let side = column_beside(self.table, channel, index)?;
        self.taken[side] = true;
        let what = format!(
            "'{}': its side of the world was read from '{}'",
            self.table.column_name(index),
            self.table.column_name(side)
        );
        self.say(Finding::note("side-column", what, "Nothing."), index);
        Some(side)
    }
}
