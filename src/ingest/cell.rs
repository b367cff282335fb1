//! One cell of a table: a number, nothing, or a bound.
//!
//! Decimal comma and decimal point are both read. A mark that could be either a thousands mark or
//! a decimal mark (`1,234` in a file of decimal points) is ambiguous and reads as [`Cell::Bad`]:
//! a factor of a thousand is not guessed.

/// What a cell says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cell {
    /// Empty, `nan`, `-`, `n/a` and the like: no value was recorded.
    Blank,
    Number(f64),
    /// Censored: the true value lies above (`>100`).
    Above(f64),
    /// Censored: the true value lies below (`<5`).
    Below(f64),
    /// Text, or a number that cannot be read in one way only.
    Bad,
}

impl Cell {
    /// The exact number, if it is one.
    pub fn number(self) -> Option<f64> {
        match self {
            Self::Number(value) => Some(value),
            _ => None,
        }
    }

    /// What a cell is that should hold two numbers.
    pub(super) fn unpaired(self) -> Self {
        if self == Self::Blank {
            Self::Blank
        } else {
            Self::Bad
        }
    }

    /// `raw * factor + offset`; a negative factor turns an upper bound into a lower one.
    pub fn linear(self, factor: f64, offset: f64) -> Self {
        let f = |x: f64| x * factor + offset;
        match self {
            Self::Number(x) => Self::Number(f(x)),
            Self::Above(x) if factor < 0.0 => Self::Below(f(x)),
            Self::Below(x) if factor < 0.0 => Self::Above(f(x)),
            Self::Above(x) => Self::Above(f(x)),
            Self::Below(x) => Self::Below(f(x)),
            other => other,
        }
    }
}

/// Reads one cell where the file's thousands mark is known (see [`parse`]).
pub(super) fn parse_grouped(text: &str, decimal_comma: bool, thousands: Option<char>) -> Cell {
    let cell = parse(text, decimal_comma);
    match thousands {
        Some(mark) if cell == Cell::Bad && text.contains(mark) => {
            let text = text.trim();
            let start = text.trim_start_matches(['-', '−', '+', '>', '<', '≥', '≤', '=', ' ']);
            let grouped = start.split(mark).skip(1).all(|g| g.len() >= 3);
            let digits = start.chars().all(|c| c.is_ascii_digit() || c == mark);
            if grouped && digits {
                parse(&text.replace(mark, ""), decimal_comma)
            } else {
                cell
            }
        }
        _ => cell,
    }
}

/// Reads one cell. `decimal_comma` says which mark the file uses.
pub fn parse(text: &str, decimal_comma: bool) -> Cell {
    let text = text.trim();
    // The common case costs one scan and one conversion.
    if plain(text, decimal_comma)
        && let Ok(value) = text.parse::<f64>()
    {
        return finite(value);
    }
    if is_blank_word(text) {
        return Cell::Blank;
    }
    if let Some(rest) = text.strip_prefix(['>', '≥']) {
        let rest = rest.strip_prefix('=').unwrap_or(rest);
        return number(rest, decimal_comma).map_or(Cell::Bad, Cell::Above);
    }
    if let Some(rest) = text.strip_prefix(['<', '≤']) {
        let rest = rest.strip_prefix('=').unwrap_or(rest);
        return number(rest, decimal_comma).map_or(Cell::Bad, Cell::Below);
    }
    number(text, decimal_comma).map_or(Cell::Bad, Cell::Number)
}

fn finite(value: f64) -> Cell {
    if value.is_finite() {
        Cell::Number(value)
    } else {
        Cell::Bad
    }
}

/// Nothing but digits and marks that mean one thing only.
fn plain(text: &str, decimal_comma: bool) -> bool {
    text.bytes().all(|b| match b {
        b'0'..=b'9' | b'-' => true,
        b'.' | b'+' | b'e' | b'E' => !decimal_comma,
        _ => false,
    })
}

fn is_blank_word(text: &str) -> bool {
    const WORDS: &[&str] = &[
        "", "-", "--", "---", "–", "—", "nan", "-nan", "n/a", "na", "#n/a", "null", "none", "nil",
        "n.a.", "?", "k.a.",
    ];
    text.len() <= 6 && WORDS.iter().any(|w| w.eq_ignore_ascii_case(text))
}

/// A number with at most one decimal mark and well-formed groups of three.
fn number(text: &str, decimal_comma: bool) -> Option<f64> {
    let text = text.trim();
    let (negative, text) = match text.strip_prefix(['-', '−']) {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    };
    let (mantissa, exponent) = match text.find(['e', 'E']) {
        Some(at) => (&text[..at], Some(text[at + 1..].parse::<i32>().ok()?)),
        None => (text, None),
    };
    let (whole, fraction) = split_decimal(mantissa, decimal_comma)?;
    let digits = ungroup(whole)?;
    if fraction.is_some_and(|f| !f.bytes().all(|b| b.is_ascii_digit())) {
        return None;
    }
    if digits.is_empty() && fraction.is_none_or(str::is_empty) {
        return None;
    }
    let plain = format!(
        "{}{}.{}e{}",
        if negative { "-" } else { "" },
        if digits.is_empty() { "0" } else { &digits },
        fraction.filter(|f| !f.is_empty()).unwrap_or("0"),
        exponent.unwrap_or(0)
    );
    plain.parse::<f64>().ok().filter(|x| x.is_finite())
}

/// Whole part (with its group marks) and fraction; `None` when the mark is ambiguous or repeated.
fn split_decimal(text: &str, decimal_comma: bool) -> Option<(&str, Option<&str>)> {
    let last_comma = text.rfind(',');
    let last_point = text.rfind('.');
    let at = match (last_comma, last_point) {
        (None, None) => return Some((text, None)),
        (Some(c), Some(p)) => {
            let at = c.max(p);
            let mark = &text[at..=at];
            // 1.234.567,8: the last mark is the decimal one and stands once.
            (text.matches(mark).count() == 1).then_some(at)?
        }
        (Some(at), None) | (None, Some(at)) => {
            let mark = &text[at..=at];
            if text.matches(mark).count() > 1 {
                return Some((text, None));
            }
            let is_decimal_here = (mark == ",") == decimal_comma;
            let (before, after) = (&text[..at], &text[at + 1..]);
            let looks_grouped =
                after.len() == 3 && (1..=3).contains(&before.len()) && !before.starts_with('0');
            if looks_grouped && !is_decimal_here {
                return None;
            }
            at
        }
    };
    Some((&text[..at], Some(&text[at + 1..])))
}

/// Takes out thousands marks; `None` unless every group after the first has three digits and one
/// mark is used throughout.
fn ungroup(whole: &str) -> Option<String> {
    let mark = whole.chars().find(|c| !c.is_ascii_digit());
    let Some(mark) = mark else {
        return Some(whole.to_owned());
    };
    if !matches!(
        mark,
        ',' | '.' | '\'' | '’' | ' ' | '\u{a0}' | '\u{2009}' | '\u{202f}'
    ) {
        return None;
    }
    let groups: Vec<&str> = whole.split(mark).collect();
    let well_formed = groups.iter().enumerate().all(|(i, g)| {
        g.bytes().all(|b| b.is_ascii_digit())
            && if i == 0 {
                (1..=3).contains(&g.len())
            } else {
                g.len() == 3
            }
    });
    well_formed.then(|| groups.concat())
}

/// True for a date, a time of day or both, by its characters alone.
pub(super) fn is_stamp(text: &str) -> bool {
    let text = text.trim();
    let (mut digits, mut colons, mut dashes, mut other) = (0, 0, 0, 0);
    for b in text.bytes() {
        match b {
            b'0'..=b'9' => digits += 1,
            b':' => colons += 1,
            b'-' | b'/' | b'.' => dashes += 1,
            b' ' | b'T' | b'Z' | b'+' | b',' | b'A' | b'P' | b'M' | b'a' | b'p' | b'm' => {}
            _ => other += 1,
        }
    }
    let is_basic = text.as_bytes().get(8) == Some(&b'T') && digits >= 14;
    other == 0 && digits >= 3 && (colons >= 1 || dashes == 2 || is_basic) && text.len() <= 40
}
