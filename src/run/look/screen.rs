//! One screen a file, at most [`super::words::WIDTH`] characters wide.

use std::collections::BTreeSet;

use super::columns::{Certainty, ColumnLook};
use super::motion::{TimeLook, TrackLook};
use super::words::{WIDTH, clean, cut, duration, figures, pair, shortened, size, wrap};
use super::{Kind, Look};
use crate::ingest::{Channel, Dialect, LineEnd};
use crate::season::Finding;

const INDENT: usize = 12;
/// More columns than these that never change are named on one line.
const STILL_SHOWN: usize = 8;

/// The whole screen, ending with a blank line.
pub fn screen(look: &Look) -> String {
    let mut out = String::new();
    let head = format!(
        "{}: {} ({}, {})",
        look.file,
        look.kind.words(),
        match look.format {
            Some(format) => format.words(),
            None if look.bytes == 0 => "not opened",
            None => "no table",
        },
        size(look.bytes)
    );
    out += &wrap(&clean(&head), 0, 4);
    if let Some(dialect) = &look.dialect {
        item(&mut out, "Text", &text_line(dialect));
        item(&mut out, "Header", &header_line(dialect));
    }
    if look.ledger.rows_in > 0 {
        item(&mut out, "Rows", &rows_line(look));
    }
    if !look.restart_lines.is_empty() {
        let gaps = look.time.iter().flat_map(|t| &t.gaps);
        let stops: BTreeSet<u32> = gaps.map(|g| g.line).collect();
        let (restarts, repeats): (Vec<u32>, Vec<u32>) = look
            .restart_lines
            .iter()
            .partition(|line| look.time.is_none() || stops.contains(line));
        for (label, lines, more) in [
            ("Restarts", restarts, ""),
            ("Repeats", repeats, "; the clock runs on"),
        ] {
            let lines: Vec<String> = lines.iter().map(u32::to_string).collect();
            if !lines.is_empty() {
                let lines = shortened(&lines, 8);
                let text = format!("the header stands again before line {lines}{more}");
                item(&mut out, label, &text);
            }
        }
    }
    if let Some(time) = &look.time {
        item(&mut out, "Time", &time_line(time));
    }
    if let Some(track) = &look.track {
        item(&mut out, "Track", &track_line(track));
    }
    if !look.columns.is_empty() {
        out += &table(&look.columns);
    }
    if look.is_readable() {
        guesses(&mut out, look);
        remarks(&mut out, look);
    }
    out.push('\n');
    out
}

fn item(out: &mut String, label: &str, text: &str) {
    *out += &wrap(&format!("  {label:<10}{}", clean(text)), 0, INDENT);
}

fn text_line(d: &Dialect) -> String {
    let ends = match d.line_end {
        LineEnd::Lf => "LF",
        LineEnd::CrLf => "CRLF",
        LineEnd::Cr => "bare CR",
        LineEnd::Mixed => "mixed",
    };
    format!(
        "{}{}{}, delimiter {}, decimal {}, line ends {ends}{}",
        d.encoding,
        if d.encoding_is_guess {
            " (a guess)"
        } else {
            ""
        },
        if d.bom { " with byte-order mark" } else { "" },
        match d.delimiter {
            ',' => "comma".to_owned(),
            ';' => "semicolon".to_owned(),
            '\t' => "tab".to_owned(),
            '|' => "bar".to_owned(),
            ' ' => "blanks".to_owned(),
            other => format!("'{other}'"),
        },
        if d.decimal_comma { "comma" } else { "point" },
        match (d.quotes, d.quoted_lines) {
            (true, false) => "",
            (true, true) => ", whole lines in quotes",
            (false, _) => ", quotes read as plain characters",
        },
    )
}

fn header_line(d: &Dialect) -> String {
    let mut text = match (d.header_line, d.unit_line) {
        (None, _) => "none".to_owned(),
        (Some(line), None) => format!("line {line}"),
        (Some(line), Some(units)) => format!("line {line}, units in line {units}"),
    };
    if let Some((_, first)) = d.preamble.first() {
        text += &format!(
            "; {} line(s) of preamble above: \"{}\"{}",
            d.preamble.len(),
            cut(first, 40),
            if d.preamble.len() > 1 { ", …" } else { "" }
        );
    }
    text
}

fn rows_line(look: &Look) -> String {
    let l = &look.ledger;
    let mut text = format!(
        "{} in, {} used, {} set aside",
        l.rows_in, l.rows_used, l.rows_set_aside
    );
    for (index, reason) in l.reasons.iter().enumerate() {
        text += if index == 0 { ": " } else { "; " };
        text += &format!(
            "{} {} ({}, first in line {})",
            reason.count, reason.code, reason.what, reason.first_line
        );
    }
    text
}

fn time_line(t: &TimeLook) -> String {
    let mut text = if t.rate_hz > 0.0 {
        format!("{} Hz over {}", figures(t.rate_hz), duration(t.duration_s))
    } else {
        "a single row".to_owned()
    };
    match t.start {
        Some(start) => {
            let zone = if t.zone_unknown {
                "on the logger's clock, zone unknown"
            } else {
                "UTC"
            };
            text += &format!(", starts {} {zone}", start.format("%Y-%m-%d %H:%M:%S%.f"));
        }
        None => text += ", no date in the file",
    }
    let longest = t.gaps.iter().max_by(|a, b| a.seconds.total_cmp(&b.seconds));
    match longest {
        None if t.rate_hz > 0.0 => text += "; no gaps",
        None => {}
        Some(gap) => {
            text += &format!(
                "; {} gap(s), the longest {} before line {}",
                t.gaps.len(),
                duration(gap.seconds),
                gap.line
            );
        }
    }
    text
}

fn track_line(t: &TrackLook) -> String {
    let mut text = format!(
        "{} points, {} m over the ground, at most {} m from the first; latitude {:.5} to {:.5}, \
         longitude {:.5} to {:.5} deg",
        t.points,
        t.length_m.round(),
        t.farthest_m.round(),
        t.latitude_deg.0,
        t.latitude_deg.1,
        t.longitude_deg.0,
        t.longitude_deg.1
    );
    if let Some((low, high)) = t.height_m {
        text += &format!("; height {low:.0} to {high:.0} m");
    }
    if let Some(speed) = t.greatest_speed_m_s {
        text += &format!("; at most {speed:.1} m/s ({:.0} km/h)", speed * 3.6);
    }
    text
}

fn table(columns: &[ColumnLook]) -> String {
    let still: Vec<&ColumnLook> = columns.iter().filter(|c| is_still(c)).collect();
    let fold = still.len() > STILL_SHOWN;
    let shown = || columns.iter().filter(|c| !(fold && is_still(c)));
    let longest = |words: &dyn Fn(&ColumnLook) -> String, least: usize| {
        let lengths = shown().map(|c| words(c).chars().count());
        lengths.fold(least, usize::max)
    };
    let headers = longest(&|c| cut(&clean(&c.header), 20), 6);
    let channels = longest(&|c| cut(&channel_words(c), 17), 7);
    // The range takes the room that is left, and a second line where that is too little.
    let others = 24 + headers + channels + longest(&certainty_words, 8);
    let ranges = longest(&|c| clean(&range_words(c)), 26).min(WIDTH.saturating_sub(others).max(20));
    let mut out = format!(
        "\n{:>3} {:<headers$} {:<channels$} {:<ranges$} {:>4} {:<10} how sure\n",
        "#",
        "header",
        "channel",
        cut("range (as written = in SI)", ranges),
        "full",
        "course"
    );
    for c in shown() {
        let (range, rest) = broken(&clean(&range_words(c)), ranges);
        let line = format!(
            "{:>3} {:<headers$} {:<channels$} {:<ranges$} {:>4} {:<10} {}",
            c.number,
            cut(&clean(&c.header), 20),
            cut(&channel_words(c), 17),
            range,
            percent(c.present),
            c.sparkline,
            certainty_words(c)
        );
        out += line.trim_end();
        out.push('\n');
        if let Some(rest) = rest {
            let indent = 6 + headers + channels;
            let rest = cut(&rest, WIDTH.saturating_sub(indent));
            out += &format!("{:indent$}{rest}\n", "");
        }
    }
    if fold {
        let names: Vec<String> = still.iter().map(|c| cut(&c.name(), 30)).collect();
        let text = format!(
            "    {} more columns, not recognised, are empty or hold one value throughout: {}",
            names.len(),
            shortened(&names, 6)
        );
        out += &wrap(&clean(&text), 0, 6);
    }
    out
}

/// A range that is wider than its column goes on in a second line: from its SI half or its second
/// stamp on, or all of it.
fn broken(text: &str, width: usize) -> (String, Option<String>) {
    if text.chars().count() <= width {
        return (text.to_owned(), None);
    }
    let at = text.find(" = ").or_else(|| text.find(" … "));
    match at.map(|at| (&text[..at], text[at..].trim_start())) {
        Some((first, rest)) if first.chars().count() <= width => {
            (first.to_owned(), Some(rest.to_owned()))
        }
        _ => (String::new(), Some(text.to_owned())),
    }
}

fn certainty_words(c: &ColumnLook) -> String {
    let mut text = c.certainty.words().to_owned();
    if c.unreadable > 0 {
        text += &format!(", {} unreadable", c.unreadable);
    }
    if c.bounds > 0 {
        text += &format!(", {} bounds", c.bounds);
    }
    text
}

/// A column that means nothing here and never changes.
fn is_still(c: &ColumnLook) -> bool {
    c.certainty == Certainty::NotRecognised
        && c.range.is_none_or(|(low, high)| low == high)
        && (c.range.is_some() || c.present == 0.0)
}

/// Anything missing shows as less than the whole.
fn percent(share: f64) -> String {
    format!("{}%", (100.0 * share).floor())
}

fn channel_words(c: &ColumnLook) -> String {
    c.channel.map_or_else(String::new, |channel| {
        channel
            .word()
            .replace('_', " ")
            .replace("temperature", "temp.")
    })
}

fn range_words(c: &ColumnLook) -> String {
    if let Some((first, last)) = &c.stamps {
        return if first == last {
            first.clone()
        } else {
            format!("{first} … {last}")
        };
    }
    let Some((low, high)) = c.range else {
        return String::new();
    };
    // A throttle's scale stands with its guess.
    let unit = if c.channel == Some(Channel::Throttle) {
        c.unit.split(' ').next().unwrap_or_default()
    } else {
        c.unit.as_str()
    };
    let unit = if unit == "1" { "" } else { unit };
    let ends = pair(low, high);
    let ends = match (ends.split_once('…'), c.open_ends) {
        (Some((a, b)), (below, above)) => {
            let mark = |open: bool, mark| if open { mark } else { "" };
            format!("{}{a}…{}{b}", mark(below, "<"), mark(above, ">"))
        }
        (None, (_, true)) => format!(">{ends}"),
        (None, (true, _)) => format!("<{ends}"),
        (None, _) => ends,
    };
    let own = format!("{ends} {unit}").trim_end().to_owned();
    match (c.range_si, c.unit_si) {
        (Some((a, b)), Some(si)) if (a, b) != (low, high) => {
            let si = if si == "1" { "" } else { si };
            format!("{own} = {} {si}", pair(a, b)).trim_end().to_owned()
        }
        _ => own,
    }
}

fn guesses(out: &mut String, look: &Look) {
    let section = match look.kind {
        Kind::BenchTable => "[bench.channels]",
        _ => "[logs.channels]",
    };
    let guessed: Vec<&ColumnLook> = look
        .columns
        .iter()
        .filter(|c| !c.reasons.is_empty())
        .collect();
    if !guessed.is_empty() {
        *out += &format!(
            "\nGuesses; where one is wrong, the line for {section} of season.toml that reads it another \
             way:\n"
        );
    }
    for c in guessed {
        let of = match c.channel {
            Some(_) => channel_words(c),
            None => "nothing".to_owned(),
        };
        let why = format!("  '{}' as {of}: {}", c.name(), c.reasons.join("; "));
        *out += &wrap(&clean(&why), 0, 6);
        if let Some(line) = &c.overrule {
            *out += &format!("    {}\n", clean(line));
        }
    }
    if let Some(line) = look
        .example
        .as_ref()
        .filter(|_| look.kind != Kind::OtherTable)
    {
        *out += &format!(
            "\nTo use a column that is not recognised, name its channel and unit under {section}, such as\n\
             \u{20}   {}\n",
            clean(line)
        );
    }
    if !look.overrule.is_empty() {
        *out += "\nFor the whole file, in season.toml:\n";
        for line in &look.overrule {
            *out += &format!("    {line}\n");
        }
    }
}

fn remarks(out: &mut String, look: &Look) {
    // What stands above already: columns not recognised, reasons of guesses, rows set aside.
    let told = |f: &Finding| {
        f.code == "unknown-columns"
            || (look.columns.iter().flat_map(|c| &c.reasons)).any(|r| f.what.ends_with(r.as_str()))
            || (look.ledger.reasons.iter())
                .any(|r| r.code == f.code && f.what.ends_with(&format!("set aside: {}", r.what)))
    };
    let rest: Vec<&Finding> = look.findings.iter().filter(|f| !told(f)).collect();
    if rest.is_empty() {
        return;
    }
    *out += "\nFindings:\n";
    for finding in rest {
        let mut shown = finding.clone();
        if let Some(place) = &mut shown.place {
            // The file is named on top.
            place.file = "line".to_owned();
            if place.line.is_none() {
                shown.place = None;
            }
        }
        let text = shown.to_string().replacen("line:", "line ", 1);
        *out += &wrap(&format!("  {}", clean(&text)), 0, 6);
    }
}
