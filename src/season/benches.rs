//! `[[bench]]` and `[[logs]]`: which file holds what, and the channel maps.

use std::collections::BTreeSet;
use std::ops::Range;

use chrono::NaiveDate;
use toml::Spanned;
use toml::de::DeValue;

use super::bounds;
use super::channels::{channel, channel_words};
use super::dates::{self, DATE_EXPECTED};
use super::sections::{Read, reference, unknown_id};
use super::text_form::text_form;
use super::toml_reader::{Context, Node, as_number, by_place};
use super::wording::{did_you_mean, one_of};
use super::{Airframe, BenchDecl, ChannelDecl, ChannelMap, DateOrder, Finding, LogSource, Power};
use crate::units::{self, Quantity, nearest};

pub(super) fn benches(
    cx: &mut Context,
    root: &Node,
    powers: &Read<Power>,
    airframes: &Read<Airframe>,
    instrument_ids: &[String],
) -> Vec<BenchDecl> {
    let known = [
        "id",
        "power",
        "airframe",
        "file",
        "date",
        "temperature",
        "pressure",
        "humidity",
        "instruments",
        "equal_duty",
        "encoding",
        "row_numbers",
        "channels",
    ];
    let mut seen = BTreeSet::new();
    let mut benches = Vec::new();
    for (table, span) in root.entries(cx, "bench") {
        let node = Node::new(cx, "bench", table, span, &known);
        let has_file = node.require(cx, "file", "\"bench/stock.csv\"");
        let file = path(cx, &node, "file").map(|(path, _)| path);
        let power = system(cx, &node, powers);
        let airframe = reference(cx, &node, "airframe", "airframe", &airframes.ids);
        let id = node.text(cx, "id");
        let date = date(cx, &node, "date");
        let temperature_k = node.quantity(cx, "temperature", &bounds::TEMPERATURE);
        let pressure_pa = node.quantity(cx, "pressure", &bounds::PRESSURE);
        let relative_humidity = node.quantity(cx, "humidity", &bounds::HUMIDITY);
        let instruments = known_instruments(cx, &node, instrument_ids);
        let equal_duty = node.boolean(cx, "equal_duty").unwrap_or(false);
        let text = text_form(cx, &node);
        let channels = channels(cx, &node);
        let (true, Some(file), Some(power)) = (has_file, file, power) else {
            continue;
        };
        let (id, id_span) = id.unwrap_or_else(|| (stem(&file), node.span.clone()));
        if !seen.insert(id.clone()) {
            let what = format!("two bench runs are called '{id}'; this one is left out");
            let finding = Finding::error("duplicate-bench", what, "Give each its own id.");
            cx.report(finding, &id_span);
            continue;
        }
        benches.push(BenchDecl {
            id,
            power,
            airframe,
            file,
            date,
            temperature_k,
            pressure_pa,
            relative_humidity,
            instruments,
            channels,
            text,
            equal_duty,
            line: cx.line(&node.span),
        });
    }
    benches
}

/// The power system a bench run belongs to: named, or the only one there is.
fn system(cx: &mut Context, node: &Node, powers: &Read<Power>) -> Option<String> {
    if node.get("power").is_none() {
        if let [only] = powers.ids.as_slice() {
            return powers.entries.contains_key(only).then(|| only.clone());
        }
        node.require(cx, "power", "\"stock\"");
        return None;
    }
    let id = reference(cx, node, "power", "power", &powers.ids)?;
    if powers.entries.contains_key(&id) {
        return Some(id);
    }
    let what = format!("this bench run is left out: power system '{id}' could not be read");
    let to_do = format!("Correct [power.{id}] first.");
    cx.report(Finding::warning("bench-left-out", what, to_do), &node.span);
    None
}

pub(super) fn logs(cx: &mut Context, root: &Node, instrument_ids: &[String]) -> Vec<LogSource> {
    let known = [
        "id",
        "files",
        "rate",
        "dates",
        "preamble_date",
        "encoding",
        "row_numbers",
        "instruments",
        "channels",
    ];
    let mut logs = Vec::new();
    for (table, span) in root.entries(cx, "logs") {
        let node = Node::new(cx, "logs", table, span, &known);
        let present = node.require(cx, "files", "\"logs/*.csv\"");
        let id = node.text(cx, "id").map(|(id, _)| id);
        let files = path(cx, &node, "files").filter(|(path, span)| is_pattern(cx, path, span));
        let rate_hz = node.quantity(cx, "rate", &bounds::RATE);
        let dates = date_order(cx, &node);
        let preamble_date = node.boolean(cx, "preamble_date").unwrap_or(true);
        let instruments = known_instruments(cx, &node, instrument_ids);
        let text = text_form(cx, &node);
        let channels = channels(cx, &node);
        if let (true, Some((files, _))) = (present, files) {
            logs.push(LogSource {
                id: id.unwrap_or_else(|| format!("logs-{}", logs.len() + 1)),
                files,
                channels,
                text,
                rate_hz,
                dates,
                preamble_date,
                instruments,
                line: cx.line(&node.span),
            });
        }
    }
    logs
}

/// `dates = "month-first"`.
fn date_order(cx: &mut Context, node: &Node) -> Option<DateOrder> {
    const ORDERS: [(&str, DateOrder); 3] = DateOrder::ALL;
    let (written, span) = node.text(cx, "dates")?;
    let order = ORDERS.iter().find(|(word, _)| *word == written.trim());
    if order.is_none() {
        let words = || ORDERS.iter().map(|(word, _)| *word);
        let what = format!("'{written}' is no order of day, month and year");
        let to_do = did_you_mean(nearest(&written, words()), "Use one of these words.");
        let finding = Finding::error("unknown-order", what, to_do).expected(one_of(words()));
        cx.report(finding, &span);
    }
    order.map(|(_, order)| *order)
}

fn is_pattern(cx: &mut Context, path: &str, span: &Range<usize>) -> bool {
    let Err(error) = glob::Pattern::new(path) else {
        return true;
    };
    let what = format!("'{path}' is no file pattern: {}", error.msg);
    let to_do = "Write * for any part of a name, ? for one letter, [ab] for one of these.";
    cx.report(Finding::error("bad-pattern", what, to_do), span);
    false
}

fn known_instruments(cx: &mut Context, node: &Node, declared: &[String]) -> Vec<String> {
    let mut known = Vec::new();
    for (id, span) in node.texts(cx, "instruments") {
        if declared.contains(&id) {
            known.push(id);
        } else {
            cx.report(unknown_id("instrument", &id, declared), &span);
        }
    }
    known
}

pub(super) fn date(cx: &mut Context, node: &Node, key: &str) -> Option<NaiveDate> {
    let value = node.get(key)?;
    let text = match value.get_ref() {
        DeValue::String(text) => text.to_string(),
        DeValue::Datetime(date) => date.to_string(),
        _ => {
            node.wrong_type(cx, key, value, DATE_EXPECTED);
            return None;
        }
    };
    // Of a TOML date with a time only the day counts.
    let day = dates::split(&text).0;
    let (order, open) = dates::order(std::iter::once(day));
    let date = dates::date(day, order);
    if date.is_none() {
        let what = format!("'{text}' is no date");
        let finding = Finding::error("not-a-date", what, "Write the date as year-month-day.");
        cx.report(finding.expected(DATE_EXPECTED), &value.span());
    } else if open {
        let what = format!("'{text}' can be day/month or month/day; day/month was taken");
        let finding = Finding::warning("ambiguous-date", what, "Write it as year-month-day.");
        cx.report(finding, &value.span());
    }
    date
}

/// The channel map under `channels`.
fn channels(cx: &mut Context, parent: &Node) -> ChannelMap {
    let mut map = ChannelMap::new();
    let Some((table, _)) = parent.table(cx, "channels") else {
        return map;
    };
    for (key, value) in by_place(table) {
        let word: &str = key.get_ref();
        let Some((name, quantity)) = channel(word) else {
            let what = format!("no channel is called '{word}'");
            let to_do = did_you_mean(nearest(word, channel_words()), "Use one of these words.");
            let finding =
                Finding::error("unknown-channel", what, to_do).expected(one_of(channel_words()));
            cx.report(finding, &key.span());
            continue;
        };
        let Some(decl) = column(cx, parent, word, quantity, value) else {
            continue;
        };
        if map.insert(name.to_owned(), decl).is_some() {
            let what = format!("'{word}' names the channel {name} a second time; this one is used");
            let finding = Finding::warning("duplicate-channel", what, "Remove one of them.");
            cx.report(finding, &key.span());
        }
    }
    map
}

fn column(
    cx: &mut Context,
    parent: &Node,
    word: &str,
    quantity: Quantity,
    value: &Spanned<DeValue>,
) -> Option<ChannelDecl> {
    let table = match value.get_ref() {
        DeValue::String(column) if !column.trim().is_empty() => {
            return Some(ChannelDecl {
                column: column.to_string(),
                ..ChannelDecl::default()
            });
        }
        DeValue::Boolean(false) => {
            return Some(ChannelDecl {
                unused: true,
                ..ChannelDecl::default()
            });
        }
        DeValue::Table(table) => table,
        _ => {
            let expected = "the header of a column in quotes, { column = \"...\", unit = \"...\" }, \
                            or false where no column is it";
            parent.wrong_type(cx, &format!("channels.{word}"), value, expected);
            return None;
        }
    };
    let path = parent.join(&format!("channels.{word}"));
    let known = ["column", "unit", "ends", "scale", "decimal"];
    let node = Node::new(cx, path, table, value.span(), &known);
    node.require(cx, "column", "\"header of the column\"");
    let column = node.text(cx, "column").map(|(column, _)| column);
    let unit = node
        .text(cx, "unit")
        .filter(|(unit, span)| unit_fits(cx, unit, quantity, span))
        .map(|(unit, _)| unit);
    let ends = ends(cx, &node);
    let scale = node
        .number(cx, "scale", (-1e12, 1e12))
        .filter(|scale| *scale != 0.0);
    Some(ChannelDecl {
        column: column?,
        unit,
        ends,
        scale,
        decimal: decimal(cx, &node),
        unused: false,
    })
}

/// `decimal = ","`.
fn decimal(cx: &mut Context, node: &Node) -> Option<char> {
    let (written, span) = node.text(cx, "decimal")?;
    match written.trim() {
        "." => Some('.'),
        "," => Some(','),
        other => {
            let what = format!("'{other}' is no decimal mark");
            let to_do = "Write the mark before the decimals; the other one then groups thousands.";
            let finding = Finding::error("not-a-mark", what, to_do).expected("\".\" or \",\"");
            cx.report(finding, &span);
            None
        }
    }
}

/// Throttle may be in percent or in microseconds of the controller's signal.
fn unit_fits(cx: &mut Context, unit: &str, quantity: Quantity, span: &Range<usize>) -> bool {
    let throttle = quantity == Quantity::Ratio && units::find(unit, Quantity::Time).is_some();
    if throttle || units::find(unit, quantity).is_some() {
        return true;
    }
    let words = units::words(quantity);
    let is: BTreeSet<_> = units::guess(unit)
        .iter()
        .map(|u| u.quantity.name())
        .collect();
    let (code, what) = if is.is_empty() {
        ("unknown-unit", format!("unknown unit '{unit}'"))
    } else {
        let is: Vec<_> = is.into_iter().collect();
        let what = format!(
            "'{unit}' is a unit of {}, not of {}",
            is.join(" or "),
            quantity.name()
        );
        ("wrong-unit", what)
    };
    let to_do = did_you_mean(
        units::nearest_unit(unit, words.iter().copied()),
        "Use one of these units.",
    );
    let finding = Finding::error(code, what, to_do).expected(one_of(words));
    cx.report(finding, span);
    false
}

fn ends(cx: &mut Context, node: &Node) -> Option<(f64, f64)> {
    let value = node.get("ends")?;
    let expected = "the raw values for no and full throttle, such as [1100, 1900]";
    let numbers: Option<Vec<f64>> = value
        .get_ref()
        .as_array()
        .and_then(|items| items.iter().map(|v| as_number(v.get_ref())).collect());
    match numbers.as_deref() {
        Some(&[low, high]) if low != high => Some((low, high)),
        Some(&[low, _]) => {
            let what = format!("both ends of '{}' are {low}", node.path);
            let to_do = "Write the raw value at no throttle, then the one at full throttle.";
            let finding = Finding::error("not-physical", what, to_do).expected(expected);
            cx.report(finding, &value.span());
            None
        }
        _ => {
            node.wrong_type(cx, "ends", value, expected);
            None
        }
    }
}

fn stem(file: &str) -> String {
    let name = file.rsplit('/').next().unwrap_or(file);
    name.rsplit_once('.')
        .map_or(name, |(stem, _)| stem)
        .to_owned()
}

/// A path in the season folder, with `/` between its parts; Err says what is wrong with it.
pub(super) fn inside(path: &str) -> Result<String, String> {
    let path = path.trim().replace('\\', "/");
    let drive = path.as_bytes().get(1) == Some(&b':');
    if path.starts_with(['/', '~']) || drive {
        return Err(format!("'{path}' is an absolute path"));
    }
    let mut parts: Vec<&str> = Vec::new();
    for part in path.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                if parts.pop().is_none() {
                    return Err(format!("'{path}' leaves the season folder"));
                }
            }
            part => parts.push(part),
        }
    }
    if parts.is_empty() {
        return Err(format!("'{path}' names no file"));
    }
    Ok(parts.join("/"))
}

/// The path under `key`, if it stays in the season folder.
fn path(cx: &mut Context, node: &Node, key: &str) -> Option<(String, Range<usize>)> {
    let (written, span) = node.text(cx, key)?;
    match inside(&written) {
        Ok(path) => Some((path, span)),
        Err(what) => {
            cx.report(path_outside(what), &span);
            None
        }
    }
}

pub(super) fn path_outside(what: String) -> Finding {
    let to_do = "Copy the file into the season folder and name it from there.";
    Finding::error("path-outside", what, to_do)
        .expected("a path relative to season.toml that stays in its folder")
}
