//! Positions as cells write them: `48.2 S`, `N48°12.5'`, `16°18'14"E`, degrees and minutes in one
//! number (`4812.5000`, the form of NMEA 0183), latitude and longitude in one cell (`48.2 16.3`).

use super::cell::{self, Cell};
use super::log::Channel;
use super::plausible::Profile;
use super::table::Table;
use super::words::{self, Purpose};

/// Unit word of degrees and minutes in one number.
pub(super) const DEGREES_MINUTES: &str = "ddmm.mmmm";
/// Rows that show how a column is written.
const ROWS: usize = 50;
const MARKS: [char; 10] = [
    '°', 'º', '\'', '\u{2019}', '′', '"', '″', '\u{201d}', ':', ' ',
];

/// Degrees, south and west negative; of a number without marks the number itself. `None` where no
/// side of the world and no mark of degrees is written.
pub(super) fn degrees(text: &str, decimal_comma: bool) -> Option<f64> {
    let text = text.trim();
    let side = |c: char| match c {
        'N' | 'E' => Some(1.0),
        'S' | 'W' => Some(-1.0),
        _ => None,
    };
    let first = text.chars().next().and_then(side);
    let last = text.chars().next_back().and_then(side);
    let rest = match (first, last) {
        (Some(_), Some(_)) => return None,
        (Some(_), None) => &text[1..],
        (None, Some(_)) => &text[..text.len() - 1],
        (None, None) if text.contains(['°', 'º']) => text,
        (None, None) => return None,
    };
    let rest = rest.trim();
    let (rest, minus) = match rest.strip_prefix(['-', '−']) {
        Some(_) if first.or(last).is_some() => return None,
        Some(rest) => (rest, -1.0),
        None => (rest, 1.0),
    };
    let parts: Option<Vec<f64>> = rest
        .split(MARKS)
        .map(str::trim)
        .filter(|p| !p.is_empty())
        .map(|p| cell::parse(p, decimal_comma).number().filter(|x| *x >= 0.0))
        .collect();
    let sixtieths = |x: f64| (x < 60.0).then_some(x);
    let size = match *parts?.as_slice() {
        [degrees] => degrees,
        [degrees, minutes] => degrees + sixtieths(minutes)? / 60.0,
        [degrees, minutes, seconds] => {
            degrees + sixtieths(minutes)? / 60.0 + sixtieths(seconds)? / 3600.0
        }
        _ => return None,
    };
    Some(first.or(last).unwrap_or(1.0) * minus * size)
}

/// Degrees of `4812.5000`, degrees and minutes in one number.
pub(super) fn of_minutes(x: f64) -> f64 {
    let whole = (x.abs() / 100.0).floor();
    x.signum() * (whole + (x.abs() - 100.0 * whole) / 60.0)
}

/// Whether the numbers can be degrees and minutes in one and no plain degrees.
pub(super) fn are_minutes(channel: Channel, profile: &Profile) -> bool {
    let most = match channel {
        Channel::Latitude => 90.0,
        Channel::Longitude => 180.0,
        _ => return false,
    };
    let largest = profile
        .values
        .iter()
        .fold(0.0, |most: f64, x| most.max(x.abs()));
    let fits = |x: &f64| (x.abs() / 100.0).floor() <= most && x.abs() % 100.0 < 60.0;
    largest > most && profile.values.iter().all(fits)
}

/// The parts of a cell of two numbers.
pub(super) fn pair(text: &str) -> Option<(&str, &str)> {
    let text = text.trim();
    let mark = [';', ' ', ',']
        .into_iter()
        .find(|mark| text.contains(*mark))?;
    let mut parts = text
        .split(mark)
        .map(|p| p.trim_matches([',', ' ']))
        .filter(|p| !p.is_empty());
    let both = (parts.next()?, parts.next()?);
    parts.next().is_none().then_some(both)
}

/// A coordinate of a pair.
pub(super) fn coordinate(text: &str, decimal_comma: bool) -> Cell {
    match degrees(text, decimal_comma) {
        Some(degrees) => Cell::Number(degrees),
        None => cell::parse(text, decimal_comma),
    }
}

impl Table {
    fn filled(&self, column: usize) -> impl Iterator<Item = &str> {
        (0..self.rows.len())
            .map(move |row| self.text(row, column).trim())
            .filter(|text| cell::parse(text, self.dialect.decimal_comma) != Cell::Blank)
            .take(ROWS)
    }

    /// Whether a column of latitudes or longitudes names sides of the world or marks degrees.
    pub(super) fn holds_degrees(&self, column: usize) -> bool {
        let comma = self.dialect.decimal_comma;
        let name = self.header.get(column).map_or("", |h| &h.name);
        let is_position = words::recognise(name, None, Purpose::Log)
            .is_some_and(|m| matches!(m.channel, Channel::Latitude | Channel::Longitude));
        is_position
            && self.filled(column).next().is_some()
            && self
                .filled(column)
                .all(|text| degrees(text, comma).is_some())
    }

    /// Whether every cell holds a latitude and a longitude.
    pub(super) fn holds_pairs(&self, column: usize) -> bool {
        let comma = self.dialect.decimal_comma;
        let within = |text: &str, most: f64| {
            let number = coordinate(text, comma).number();
            text.contains(['.', ',', '°']) && number.is_some_and(|x| x.abs() <= most)
        };
        let is_pair = |text: &str| {
            pair(text).is_some_and(|(lat, lon)| within(lat, 90.0) && within(lon, 180.0))
        };
        self.filled(column).next().is_some() && self.filled(column).all(is_pair)
    }
}
