//! Walking a spanned TOML tree: every problem of a file is found in one go, each with its place.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeString, DeTable, DeValue};

use super::bounds::Bound;
use super::source::Source;
use super::wording::{did_you_mean, one_of, quantity_code, quantity_to_do};
use super::{DefaultUsed, Finding, UnitsWritten};
use crate::units::{self, nearest};

/// What accumulates while a season is read.
pub(super) struct Context<'a> {
    pub source: Source<'a>,
    pub findings: Vec<Finding>,
    pub defaults: Vec<DefaultUsed>,
    pub units_written: UnitsWritten,
}

impl Context<'_> {
    pub fn report(&mut self, finding: Finding, span: &Range<usize>) {
        self.findings.push(self.source.place(finding, span));
    }

    pub fn line(&self, span: &Range<usize>) -> u32 {
        self.source.position(span.start).0
    }

    pub fn default(&mut self, key: String, value: String, would_buy: &str) {
        self.defaults.push(DefaultUsed {
            key,
            value,
            would_buy: would_buy.to_owned(),
        });
    }
}

/// Words that pilots use for keys that have another name here.
const OTHER_WORDS: &[(&str, &str)] = &[
    ("weight", "mass"),
    ("auw", "mass"),
    ("kv", "motor_kv"),
    ("esc", "controller"),
    ("battery", "pack"),
    ("lipo", "pack"),
    ("motor", "power"),
    ("setup", "power"),
    ("plane", "airframe"),
    ("model", "airframe"),
    ("diameter", "fan_diameter"),
    ("timezone", "zone"),
    ("altitude", "elevation"),
    ("path", "file"),
    ("glob", "files"),
    ("precision", "accuracy"),
    ("error", "accuracy"),
    ("step", "resolution"),
];

/// One table with its path, e.g. `power.stock`.
pub(super) struct Node<'t, 'a> {
    table: &'t DeTable<'a>,
    pub path: String,
    pub span: Range<usize>,
}

impl<'t, 'a> Node<'t, 'a> {
    /// Unknown keys are reported here.
    pub fn new(
        cx: &mut Context,
        path: impl Into<String>,
        table: &'t DeTable<'a>,
        span: Range<usize>,
        known: &[&'static str],
    ) -> Self {
        let node = Self {
            table,
            path: path.into(),
            span,
        };
        for (key, _) in by_place(table) {
            let word: &str = key.get_ref();
            if known.contains(&word) {
                continue;
            }
            let what = format!("unknown key '{}'", node.join(word));
            let meant = OTHER_WORDS
                .iter()
                .find(|(other, name)| *other == word.to_lowercase() && known.contains(name))
                .map(|(_, name)| *name)
                .or_else(|| nearest(word, known.iter().copied()));
            let to_do = did_you_mean(meant, "Remove the key, or use one of these.");
            let finding =
                Finding::error("unknown-key", what, to_do).expected(one_of(known.iter().copied()));
            cx.report(finding, &key.span());
        }
        node
    }

    pub fn join(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    pub fn get(&self, key: &str) -> Option<&'t Spanned<DeValue<'a>>> {
        self.table.get(key)
    }

    /// Reports a missing key at the head of the section.
    pub fn require(&self, cx: &mut Context, key: &str, example: &str) -> bool {
        let present = self.get(key).is_some();
        if !present {
            let what = format!("'{}' is missing", self.join(key));
            let to_do = format!("Add a line such as {key} = {example}.");
            cx.report(Finding::error("missing-key", what, to_do), &self.span);
        }
        present
    }

    pub fn wrong_type(
        &self,
        cx: &mut Context,
        key: &str,
        value: &Spanned<DeValue>,
        expected: &str,
    ) {
        let what = format!("'{}' is {}", self.join(key), type_of(value.get_ref()));
        let finding = Finding::error("wrong-type", what, format!("Write {key} as {expected}."))
            .expected(expected);
        cx.report(finding, &value.span());
    }

    pub fn text(&self, cx: &mut Context, key: &str) -> Option<(String, Range<usize>)> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::String(text) if !text.trim().is_empty() => {
                Some((text.trim().to_owned(), value.span()))
            }
            DeValue::String(_) => {
                let what = format!("'{}' is empty", self.join(key));
                let to_do = format!("Fill it in, or remove the line with {key}.");
                cx.report(Finding::error("empty-text", what, to_do), &value.span());
                None
            }
            _ => {
                self.wrong_type(cx, key, value, "a text in quotes");
                None
            }
        }
    }

    pub fn boolean(&self, cx: &mut Context, key: &str) -> Option<bool> {
        let value = self.get(key)?;
        let found = value.get_ref().as_bool();
        if found.is_none() {
            self.wrong_type(cx, key, value, "true or false, without quotes");
        }
        found
    }

    /// A plain number within `range`.
    pub fn number(&self, cx: &mut Context, key: &str, range: (f64, f64)) -> Option<f64> {
        let value = self.get(key)?;
        let Some(number) = as_number(value.get_ref()) else {
            self.wrong_type(cx, key, value, "a plain number, without quotes");
            return None;
        };
        let words = format!("{} to {}", range.0, range.1);
        self.checked(cx, key, number, range, &words, None, &value.span())
    }

    /// A whole number within `range`.
    pub fn count(&self, cx: &mut Context, key: &str, range: (u32, u32)) -> Option<u32> {
        let value = self.get(key)?;
        let Some(number) = as_number(value.get_ref()).filter(|n| n.fract() == 0.0) else {
            self.wrong_type(cx, key, value, "a whole number, without quotes or unit");
            return None;
        };
        let words = format!("{} to {}", range.0, range.1);
        let range = (f64::from(range.0), f64::from(range.1));
        self.checked(cx, key, number, range, &words, None, &value.span())
            .map(|n| n as u32)
    }

    /// A quantity with its unit, in SI, within its bound.
    pub fn quantity(&self, cx: &mut Context, key: &str, bound: &Bound) -> Option<f64> {
        let value = self.get(key)?;
        let span = value.span();
        let text = match value.get_ref() {
            DeValue::String(text) => text.trim().to_owned(),
            other => match as_number(other) {
                Some(number) => number.to_string(),
                None => {
                    let expected = format!("{} in quotes", bound.quantity.with_article());
                    self.wrong_type(cx, key, value, &expected);
                    return None;
                }
            },
        };
        let parsed = if bound.difference {
            units::parse_difference(&text, bound.quantity)
        } else {
            units::parse(&text, bound.quantity)
        };
        match parsed {
            Ok(si) => {
                let word = units::number_and_unit(&text).1;
                if let Some(unit) = units::find(word, bound.quantity) {
                    cx.units_written.add(unit);
                }
                let other = bound.other_unit(&text);
                let range = (bound.low, bound.high);
                self.checked(cx, key, si, range, bound.words, other, &span)
            }
            Err(error) => {
                let what = format!("'{}': {error}", self.join(key));
                let finding = Finding::error(quantity_code(&error), what, quantity_to_do(&error))
                    .expected(error.expected());
                cx.report(finding, &span);
                None
            }
        }
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "one finding, worded in one place"
    )]
    fn checked(
        &self,
        cx: &mut Context,
        key: &str,
        value: f64,
        (low, high): (f64, f64),
        words: &str,
        other_unit: Option<String>,
        span: &Range<usize>,
    ) -> Option<f64> {
        if (low..=high).contains(&value) {
            return Some(value);
        }
        let written = cx.source.text.get(span.clone()).unwrap_or_default();
        let what = format!("'{}' = {written} cannot be", self.join(key));
        let to_do = match other_unit {
            Some(other) => format!("Did you mean \"{other}\"?"),
            None => "Correct the value or its unit.".to_owned(),
        };
        cx.report(
            Finding::error("not-physical", what, to_do).expected(words),
            span,
        );
        None
    }

    /// The table under `key`.
    pub fn table(&self, cx: &mut Context, key: &str) -> Option<(&'t DeTable<'a>, Range<usize>)> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::Table(table) => Some((table, value.span())),
            _ => {
                let expected = format!("a section [{}]", self.join(key));
                self.wrong_type(cx, key, value, &expected);
                None
            }
        }
    }

    /// The named sections `[key.id]`, in file order.
    pub fn sections(
        &self,
        cx: &mut Context,
        key: &str,
    ) -> Vec<(String, &'t DeTable<'a>, Range<usize>)> {
        let Some((table, _)) = self.table(cx, key) else {
            return Vec::new();
        };
        let mut found = Vec::new();
        for (id, value) in by_place(table) {
            match value.get_ref() {
                DeValue::Table(inner) => {
                    found.push((id.get_ref().to_string(), inner, id.span()));
                }
                other => {
                    let what = format!(
                        "'{key}.{}' is {}, where the id of a {key} should stand",
                        id.get_ref(),
                        type_of(other)
                    );
                    let to_do = format!("Give the section an id of your choice: [{key}.my-{key}].");
                    cx.report(Finding::error("wrong-type", what, to_do), &id.span());
                }
            }
        }
        found
    }

    /// The entries `[[key]]`, in file order.
    pub fn entries(&self, cx: &mut Context, key: &str) -> Vec<(&'t DeTable<'a>, Range<usize>)> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        let DeValue::Array(array) = value.get_ref() else {
            let expected = format!("a list of entries, each under [[{key}]]");
            self.wrong_type(cx, key, value, &expected);
            return Vec::new();
        };
        let mut found = Vec::new();
        for item in array.iter() {
            match item.get_ref() {
                DeValue::Table(table) => found.push((table, item.span())),
                _ => self.wrong_type(cx, key, item, &format!("entries, each under [[{key}]]")),
            }
        }
        found
    }

    /// A list of texts, each with its place.
    pub fn texts(&self, cx: &mut Context, key: &str) -> Vec<(String, Range<usize>)> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        let expected = "a list of texts such as [\"meter\", \"scale\"]";
        let items = match value.get_ref() {
            DeValue::Array(items) => items,
            DeValue::String(text) => return vec![(text.to_string(), value.span())],
            _ => {
                self.wrong_type(cx, key, value, expected);
                return Vec::new();
            }
        };
        let mut found = Vec::new();
        for item in items.iter() {
            match item.get_ref().as_str() {
                Some(text) => found.push((text.to_owned(), item.span())),
                None => self.wrong_type(cx, key, item, expected),
            }
        }
        found
    }
}

/// The entries of a table in file order (the tree itself is sorted by key).
pub(super) fn by_place<'t, 'a>(
    table: &'t DeTable<'a>,
) -> Vec<(&'t Spanned<DeString<'a>>, &'t Spanned<DeValue<'a>>)> {
    let mut entries: Vec<_> = table.iter().collect();
    entries.sort_by_key(|(key, _)| key.span().start);
    entries
}

pub(super) fn as_number(value: &DeValue) -> Option<f64> {
    match value {
        DeValue::Integer(n) => i64::from_str_radix(n.as_str(), n.radix())
            .ok()
            .map(|n| n as f64),
        DeValue::Float(n) => n.as_str().parse().ok().filter(|n: &f64| n.is_finite()),
        _ => None,
    }
}

pub(super) fn type_of(value: &DeValue) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a section",
    }
}
