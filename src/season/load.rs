//! The three texts of a season folder in, a checked season and everything wrong with it out.

use std::collections::BTreeMap;

use toml::de::DeTable;

use super::benches::{benches, logs};
use super::instruments::{assume_instruments, instruments};
use super::logbook::{Ids, logbook};
use super::passes::passes;
use super::questions::{options, questions, rules};
use super::sections::{airframes, controllers, packs, powers, site};
use super::source::Source;
use super::toml_reader::{Context, Node};
use super::{Controller, Finding, LogbookRow, Pack, Power, Season, UnitsWritten};

const FILE: &str = "season.toml";

/// The texts of a season folder, decoded .
#[derive(Debug, Clone, Copy, Default)]
pub struct SeasonText<'a> {
    pub season_toml: &'a str,
    pub logbook_csv: Option<&'a str>,
    pub passes_csv: Option<&'a str>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Loaded {
    /// None where nothing can run: the TOML does not parse, or no power system could be read.
    pub season: Option<Season>,
    pub findings: Vec<Finding>,
}

/// Reads a season. What is wrong in one entry leaves out that entry or value, with a finding.
pub fn load(texts: &SeasonText) -> Loaded {
    let text = without_mark(texts.season_toml);
    let mut cx = Context {
        source: Source::new(FILE, text),
        findings: Vec::new(),
        defaults: Vec::new(),
        units_written: UnitsWritten::default(),
    };
    let (tree, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        for error in errors {
            let what = format!("this is not valid TOML: {}", error.message());
            let span = error.span().unwrap_or(0..0);
            let to_do = match quoted(cx.source.line(span.start)) {
                _ if error.message().contains("duplicate key") => {
                    "Write each section and each key only once; rename or remove this one.".into()
                }
                Some(line) => format!("Put the value in quotes: {line}."),
                None => "Correct this place; until then nothing else is checked.".to_owned(),
            };
            cx.report(Finding::error("toml-syntax", what, to_do), &span);
        }
        return Loaded {
            season: None,
            findings: cx.findings,
        };
    }
    let (mut season, ids) = declared(&mut cx, tree.get_ref());
    if season.powers.is_empty() {
        let what = "no power system could be read, so there is nothing to compare";
        let to_do = "Declare at least one under [power.ID].";
        cx.findings
            .push(Finding::error("no-power-system", what, to_do).in_file(FILE));
    }
    if let Some(text) = texts.logbook_csv {
        let (rows, findings) = logbook(without_mark(text), &ids);
        season.logbook = rows;
        cx.findings.extend(findings);
        drop_unread(&mut cx, &mut season);
    }
    if let Some(text) = texts.passes_csv {
        let flights = texts.logbook_csv.map(|_| season.logbook.as_slice());
        let (rows, findings) = passes(without_mark(text), flights);
        season.passes = rows;
        cx.findings.extend(findings);
    }
    let usable = !season.powers.is_empty();
    season.defaults = cx.defaults;
    season.units_written = cx.units_written;
    Loaded {
        season: usable.then_some(season),
        findings: cx.findings,
    }
}

/// A line whose value is a number with something after it and lacks its quotes, with them.
fn quoted(line: &str) -> Option<String> {
    let line = line.split('#').next().unwrap_or(line);
    let (key, value) = line.split_once('=')?;
    let (key, value) = (key.trim(), value.trim());
    let bare = !value.contains(['"', '\'', '[', '{']) && value.parse::<f64>().is_err();
    (bare && value.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '+' | '.')))
        .then(|| format!("{key} = \"{value}\""))
}

/// Rows that name something declared but not readable lose that field. The section was reported;
/// that flights hang on it is said once for each power system.
fn drop_unread(cx: &mut Context, season: &mut Season) {
    let mut lost: BTreeMap<String, usize> = BTreeMap::new();
    for row in &mut season.logbook {
        if let Some(id) = row.power.take_if(|id| !season.powers.contains_key(id)) {
            *lost.entry(id).or_default() += 1;
        }
        row.pack.take_if(|id| !season.packs.contains_key(id));
    }
    for (id, flights) in lost {
        let what = format!(
            "flights in logbook.csv with power system '{id}', which could not be read: {flights}"
        );
        let to_do = format!("Correct [power.{id}] first.");
        let finding = Finding::warning("flights-without-power", what, to_do).in_file(FILE);
        cx.findings.push(finding);
    }
}

fn without_mark(text: &str) -> &str {
    text.strip_prefix('\u{feff}').unwrap_or(text)
}

/// Everything that `season.toml` declares.
fn declared(cx: &mut Context, table: &DeTable) -> (Season, Ids) {
    let known = [
        "title",
        "invented",
        "site",
        "airframe",
        "controller",
        "pack",
        "power",
        "instrument",
        "bench",
        "logs",
        "question",
        "rules",
        "option",
    ];
    let root = Node::new(cx, "", table, 0..0, &known);
    let title = root.text(cx, "title").map(|(title, _)| title);
    let invented = root.boolean(cx, "invented").unwrap_or(false);
    let site = site(cx, &root);
    let airframes = airframes(cx, &root);
    let controllers = controllers(cx, &root);
    let packs = packs(cx, &root);
    let mut powers = powers(cx, &root, &controllers.ids, &packs.ids);
    for power in powers.entries.values_mut() {
        // A pack that could not be read was reported where it is declared.
        power.pack = power
            .pack
            .take()
            .filter(|id| packs.entries.contains_key(id));
    }
    let mut instruments = instruments(cx, &root);
    let mut benches = benches(cx, &root, &powers, &airframes, &instruments.ids);
    let logs = logs(cx, &root, &instruments.ids);
    let questions = questions(cx, &root, &powers, &airframes);
    let rules = rules(cx, &root);
    let mut options = options(cx, &root, &controllers.ids, &packs.ids);
    for option in &mut options {
        option.pack = option
            .pack
            .take()
            .filter(|id| packs.entries.contains_key(id));
    }
    assume_instruments(cx, &mut benches, &mut instruments.entries);
    let ids = Ids {
        airframes: airframes.ids,
        powers: powers.ids,
        packs: packs.ids,
    };
    let season = Season {
        title: title.unwrap_or_else(|| "Season".to_owned()),
        invented,
        site,
        airframes: airframes.entries,
        powers: powers.entries,
        controllers: controllers.entries,
        packs: packs.entries,
        instruments: instruments.entries,
        benches,
        logs,
        questions,
        rules,
        options,
        logbook: Vec::new(),
        passes: Vec::new(),
        defaults: Vec::new(),
        units_written: UnitsWritten::default(),
    };
    (season, ids)
}

impl Season {
    pub fn power(&self, id: &str) -> Option<&Power> {
        self.powers.get(id)
    }

    /// The controller of a power system, where declared.
    pub fn controller_of(&self, power: &str) -> Option<&Controller> {
        self.controllers
            .get(self.power(power)?.controller.as_ref()?)
    }

    /// The pack of a flight: written in its row, else what its power system usually flies with.
    pub fn pack_of(&self, row: &LogbookRow) -> Option<&Pack> {
        let usual = || self.power(row.power.as_ref()?)?.pack.as_ref();
        self.packs.get(row.pack.as_ref().or_else(usual)?)
    }
}
