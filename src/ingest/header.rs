//! A header cell: the name and the unit, wherever the unit is written.
//!
//! `Current (A)`, `current[A]`, `Strom / A`, `I_batt_A`, `v_north_m_s`, `Motor temperature °C`,
//! `Batt.V(V)`; a second header row of units overrules.

use super::cell::{self, Cell};
use super::table::HeaderCell;
use super::words;
use crate::units;
pub(super) use crate::units::canonical as canonical_unit;

/// Splits a header text. `unit_row` is the cell of the row of units, if there is one.
pub(super) fn parse(text: &str, unit_row: Option<&str>) -> HeaderCell {
    let written = text.to_owned();
    let text: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let (bare, multiplier) = multiplied(&words::mended(&text));
    let (name, unit) = split(&bare);
    HeaderCell {
        unit: unit_row.map(str::to_owned).or(unit),
        name,
        written,
        text,
        unit_in_cells: None,
        degrees: false,
        multiplier,
        marks: None,
    }
}

/// A power of ten behind a name or a unit, taken off: of `erpm/100` and `Temp (°C/10)` the numbers
/// are hundreds and tenths of what is meant, so that they count 100 and 0.1.
fn multiplied(text: &str) -> (String, Option<f64>) {
    let inner = text.trim_end_matches([')', ']', ' ']);
    let digits = inner.len() - inner.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let (before, number) = inner.split_at(inner.len() - digits);
    let is_power = (2..=7).contains(&digits) && number.trim_end_matches('0') == "1";
    let (Some(rest), Ok(power)) = (before.trim_end().strip_suffix('/'), number.parse::<f64>())
    else {
        return (text.to_owned(), None);
    };
    let rest = rest.trim_end();
    if !is_power || !rest.ends_with(|c: char| c.is_alphabetic() || c == '%') {
        return (text.to_owned(), None);
    }
    (format!("{rest}{}", &text[inner.len()..]), Some(power))
}

/// True if the text is a unit known here.
pub(super) fn is_unit(text: &str) -> bool {
    !text.is_empty() && !units::guess(canonical_unit(text)).is_empty()
}

/// A number with its unit behind it: `12.3 V`, `45%`.
pub(super) fn number_with_unit(text: &str) -> Option<(&str, &str)> {
    let text = text.trim();
    let last_digit = text.rfind(|c: char| c.is_ascii_digit())?;
    let (number, unit) = text.split_at(last_digit + 1);
    let unit = unit.trim_start();
    let is_number = |comma| !matches!(cell::parse(number, comma), Cell::Bad | Cell::Blank);
    (is_unit(unit) && (is_number(false) || is_number(true))).then_some((number, unit))
}

fn split(text: &str) -> (String, Option<String>) {
    bracketed(text)
        .or_else(|| suffixed(text))
        .unwrap_or_else(|| (text.to_owned(), None))
}

/// A unit in brackets, anywhere in the text.
fn bracketed(text: &str) -> Option<(String, Option<String>)> {
    for (open, close) in [('(', ')'), ('[', ']'), ('{', '}'), ('<', '>')] {
        let Some(end) = text.rfind(close) else {
            continue;
        };
        let Some(start) = text[..end].rfind(open) else {
            continue;
        };
        let inside = text[start + 1..end].trim();
        // `voltage_cell_v[3]` counts cells; a long remark is no unit.
        if inside.is_empty() || inside.chars().all(|c| c.is_ascii_digit()) {
            continue;
        }
        if is_unit(inside) || (inside.chars().count() <= 6 && end + 1 == text.len()) {
            let name = format!("{} {}", text[..start].trim(), text[end + 1..].trim());
            return Some((name.trim().to_owned(), Some(inside.to_owned())));
        }
    }
    None
}

/// A unit as the last one or two words: `voltage_V`, `v_north_m_s`, `Strom / A`.
fn suffixed(text: &str) -> Option<(String, Option<String>)> {
    let is_mark = |c: char| matches!(c, '_' | ' ' | ',' | '.' | '-' | ':' | ';');
    let cuts: Vec<usize> = text
        .char_indices()
        .filter(|(_, c)| is_mark(*c))
        .map(|(i, _)| i)
        .collect();
    // Two words first: the `s` of `m_s` is not the unit. Two marks in a row leave an empty word.
    for words_back in [2usize, 1] {
        let Some(&cut) = cuts.len().checked_sub(words_back).and_then(|i| cuts.get(i)) else {
            continue;
        };
        let tail = text[cut + 1..].trim_matches(is_mark);
        let name = text[..cut].trim_matches(|c| is_mark(c) || c == '/');
        let unit = match words_back {
            2 if tail.contains('_') => tail.replace('_', "/"),
            _ => tail.trim_start_matches('/').trim().to_owned(),
        };
        if name.is_empty() || unit.is_empty() || !is_unit(&unit) {
            continue;
        }
        // `vel_n` is no force and `voltage_min` no time: where the rest of the name means a
        // quantity that the unit does not measure, a short word is no unit; a longer one is
        // (`capacity_wh`), and a single letter needs a name that it measures.
        let counts = match words::measures(name, &unit) {
            Some(true) => true,
            // `bat_A`: the pack and its ampere.
            None if words::names_source(name) => {
                words::measures_source(name, &unit) || unit.chars().count() > 1
            }
            Some(false) => unit.chars().count() > 1 && !matches!(unit.as_str(), "min" | "in"),
            None => unit.chars().count() > 1,
        };
        if counts {
            return Some((name.to_owned(), Some(unit)));
        }
    }
    None
}
