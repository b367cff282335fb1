//! Numbers and text as the screen shows them.

use crate::report::text::wrapped;
pub use crate::season::clean;

/// Characters a line, at most.
pub const WIDTH: usize = 100;

/// Four significant figures, no exponent for what people write without one.
pub fn figures(x: f64) -> String {
    if x == 0.0 {
        return "0".to_owned();
    }
    if x.abs() >= 1e12 || x.abs() < 1e-4 {
        return format!("{x:.3e}");
    }
    let places = (3 - x.abs().log10().floor() as i32).max(0) as usize;
    plain(x, places)
}

/// Both ends to four figures of their span, so that positions show where they differ.
pub fn pair(low: f64, high: f64) -> String {
    let span = high - low;
    if span <= 0.0 || !span.is_finite() {
        return figures(low);
    }
    let places = 3 - span.log10().floor() as i32;
    let end = |x: f64| {
        if x == 0.0 || ((-9..=9).contains(&places) && x.abs() < 1e12) {
            plain(x, places.max(0) as usize)
        } else {
            figures(x)
        }
    };
    format!("{}…{}", end(low), end(high))
}

pub fn plain(x: f64, places: usize) -> String {
    let text = format!("{x:.places$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

pub fn duration(seconds: f64) -> String {
    let whole = seconds.round() as i64;
    match whole {
        _ if seconds < 60.0 => format!("{} s", figures(seconds)),
        0..3600 => format!("{} min {} s", whole / 60, whole % 60),
        _ => format!("{} h {} min", whole / 3600, whole % 3600 / 60),
    }
}

pub fn size(bytes: u64) -> String {
    match bytes {
        0..1000 => format!("{bytes} bytes"),
        1000..1_000_000 => format!("{:.0} kB", bytes as f64 / 1e3),
        _ => format!("{:.1} MB", bytes as f64 / 1e6),
    }
}

pub fn shortened(words: &[String], most: usize) -> String {
    let mut text = words[..words.len().min(most)].join(", ");
    if words.len() > most {
        text += &format!(" and {} more", words.len() - most);
    }
    text
}

pub fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    text.chars().take(most - 1).chain(['…']).collect()
}

/// Breaks at blanks; `first` blanks before the first line, `hanging` before every other.
pub fn wrap(text: &str, first: usize, hanging: usize) -> String {
    let [first, hanging] = [first, hanging].map(|n| " ".repeat(n));
    wrapped(&first, &hanging, text, WIDTH).join("\n") + "\n"
}
