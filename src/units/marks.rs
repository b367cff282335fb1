//! The decimal mark that a file's own numbers show: one rule for logs, bench tables and logbooks.

/// The decimal mark of a number that can be read one way only: a single mark with other than three
/// digits behind it, or behind a zero. `digits` holds digits and marks alone.
pub fn clear_mark(digits: &str) -> Option<char> {
    let at = digits.find(['.', ','])?;
    let (before, after) = (&digits[..at], &digits[at + 1..]);
    let whole = before.trim_start_matches(['-', '+']);
    let clear = !after.contains(['.', ','])
        && !after.is_empty()
        && (after.len() != 3 || whole.starts_with('0') || whole.is_empty());
    clear.then(|| {
        if digits[at..].starts_with('.') {
            '.'
        } else {
            ','
        }
    })
}

/// The mark that all clear numbers agree on; `None` without one, or where they differ.
pub fn decimal_mark<'t>(numbers: impl IntoIterator<Item = &'t str>) -> Option<char> {
    let mut found = None;
    for mark in numbers.into_iter().filter_map(clear_mark) {
        match found {
            None => found = Some(mark),
            Some(other) if other != mark => return None,
            Some(_) => {}
        }
    }
    found
}

/// A number of a file with this decimal mark, written with a point and without groups: `3.012` is
/// 3012 where the comma is decimal. Text that is no such number comes back as it is.
pub fn with_decimal(digits: &str, decimal: char) -> String {
    let grouping = if decimal == ',' { '.' } else { ',' };
    let (whole, decimals) = match digits.split_once(decimal) {
        Some((whole, decimals)) => (whole, Some(decimals)),
        None => (digits, None),
    };
    let mut groups = whole.trim_start_matches(['-', '+']).split(grouping);
    let first = groups.next().unwrap_or_default();
    let groups: Vec<&str> = groups.collect();
    let grouped = (1..=3).contains(&first.len())
        && !first.starts_with('0')
        && groups.iter().all(|g| g.len() == 3);
    let odd = decimals.is_some_and(|d| d.contains(['.', ',']));
    if odd || (!groups.is_empty() && !grouped) {
        return digits.to_owned();
    }
    let mut out = whole.replace(grouping, "");
    if let Some(decimals) = decimals {
        out.push('.');
        out += decimals;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_by_the_mark_of_their_file() {
        assert_eq!(decimal_mark(["3.012", "14,5", "2060"]), Some(','));
        assert_eq!(decimal_mark(["3.012", "2060"]), None);
        assert_eq!(decimal_mark(["14,5", "14.5"]), None);
        assert_eq!(decimal_mark(["0,125"]), Some(','));
        for (text, decimal, read) in [
            ("3.012", ',', "3012"),
            ("3,012", ',', "3.012"),
            ("3,012", '.', "3012"),
            ("1.234,5", ',', "1234.5"),
            ("986.4", ',', "986.4"),
            ("0.512", ',', "0.512"),
            ("2060", ',', "2060"),
            ("-1.234", ',', "-1234"),
        ] {
            assert_eq!(with_decimal(text, decimal), read, "{text} {decimal}");
        }
    }
}
