//! The text of an annotated `season.toml`.
//!
//! `# guessed:` marks what was read from the files, `# fill in:` what only the pilot knows. Lines
//! that are not needed stand as comments with an example, so that nothing invented is computed
//! with; the one exception is the fan's diameter, without which nothing runs, and the title says so.

use std::collections::BTreeMap;
use std::path::Path;

use super::Found;
use super::patterns::{Source, slug};
use crate::ingest::Channel;
use crate::run::folder::Folder;
use crate::run::load;
use crate::run::look::{Certainty, ColumnLook, Kind, toml_string};
use crate::season::Severity;

/// Of a full cell at rest, V (lithium polymer; common practice, no source).
const FULL_CELL_V: f64 = 4.2;
/// A sensor may show this much too much, V a cell.
const CELL_SLACK_V: f64 = 0.1;

/// Characters of a comment line.
const COMMENT_WIDTH: usize = 96;

/// A power system and the bench tables it is guessed from.
#[derive(Debug, Clone)]
pub struct PowerGuess {
    pub id: String,
    pub tables: Vec<String>,
}

/// One power system a bench table; tables whose names differ by numbers alone share one, unless
/// that would leave a single system.
pub fn powers(found: &[Found]) -> Vec<PowerGuess> {
    let tables: Vec<&Found> = found
        .iter()
        .filter(|f| f.look.kind == Kind::BenchTable)
        .collect();
    let short = group(&tables, |f| slug(without_numbers(f.stem())));
    if short.len() > 1 || tables.len() < 2 {
        return short;
    }
    group(&tables, |f| slug(f.stem()))
}

/// `stock` of `stock-2` and of `stock_2025-04-12`.
fn without_numbers(stem: &str) -> &str {
    let mut rest = stem;
    loop {
        let name = rest.trim_end_matches(|c: char| c.is_ascii_digit());
        let bare = name.trim_end_matches(|c: char| !c.is_alphanumeric());
        if name.len() == rest.len() || bare.len() == name.len() || bare.is_empty() {
            return rest;
        }
        rest = bare;
    }
}

/// The power systems of the folder's own season file, where there is one that can be read.
pub fn declared_powers(dir: &Path) -> Option<Vec<PowerGuess>> {
    let (season, _) = load(&Folder::new(dir)).ok()?;
    let ids = season?.powers.into_keys();
    let guess = |id| PowerGuess {
        id,
        tables: Vec::new(),
    };
    Some(ids.map(guess).collect())
}

fn group(tables: &[&Found], id: impl Fn(&Found) -> String) -> Vec<PowerGuess> {
    let mut out: Vec<PowerGuess> = Vec::new();
    for table in tables {
        let id = Some(id(table)).filter(|id| !id.is_empty());
        let id = id.unwrap_or_else(|| "system".to_owned());
        match out.iter_mut().find(|p| p.id == id) {
            Some(power) => power.tables.push(table.name.clone()),
            None => out.push(PowerGuess {
                id,
                tables: vec![table.name.clone()],
            }),
        }
    }
    if out.is_empty() {
        out.push(PowerGuess {
            id: "system".to_owned(),
            tables: Vec::new(),
        });
    }
    out
}

/// A line with its remark, aligned.
fn line(out: &mut String, text: &str, remark: &str) {
    *out += &format!("{text:<32}  # {remark}\n");
}

pub fn text(
    title: &str,
    found: &[Found],
    sources: &[Source],
    powers: &[PowerGuess],
    faults: &BTreeMap<String, String>,
) -> String {
    let mut out = String::from(
        "# A first season, written by `benchborne new` from the files in this folder.\n\
         #   # guessed:   read from the files; correct it where it is wrong\n\
         #   # fill in:   only you know it; what stands there is an example\n\
         # Take the first # off a line to make it count. Values carry their unit; leave out what you\n\
         # do not know. Then `benchborne check` on this folder, and `benchborne run`.\n\n",
    );
    let title = toml_string(&format!("{title} (draft: fan diameters are examples)"));
    out += &format!("title = {title}    # fill in:\n\n");
    site(&mut out, found);
    out += "\n[airframe.jet]\n";
    line(&mut out, "# name = \"Alder\"", "fill in:");
    line(&mut out, "# mass = \"2.41 kg\"", "fill in: ready to fly");
    line(&mut out, "# wing_area = \"24 dm2\"", "fill in:");
    line(&mut out, "# stall_speed = \"13 m/s\"", "fill in:");
    line(
        &mut out,
        "# load_factor_limit = 6.0",
        "fill in: flown without trouble so far",
    );
    out += "# A sister: [airframe.birch], and the airframe of each flight in logbook.csv.\n\n";
    line(&mut out, "# [controller.esc]", "fill in:");
    line(&mut out, "# continuous = \"80 A\"", "fill in:");
    line(&mut out, "# burst = \"100 A\"", "fill in:");
    line(&mut out, "# burst_time = \"10 s\"", "fill in:");
    out.push('\n');
    pack(&mut out, found);
    for power in powers {
        power_section(&mut out, power);
    }
    out += "\n# What your instruments promise (usual values are assumed and marked as such):\n";
    line(&mut out, "# [instrument.meter]", "fill in:");
    out += "# [instrument.meter.current]\n";
    line(
        &mut out,
        "# accuracy = \"2 %\"",
        "fill in: and instruments = [\"meter\"] where it was used",
    );
    for power in powers {
        for name in &power.tables {
            if let Some(file) = found.iter().find(|f| f.name == *name) {
                bench(&mut out, file, &power.id, found, faults);
            }
        }
    }
    if sources.len() > 1 {
        out += "\n# Where two patterns match a file, the first counts.";
    }
    for source in sources {
        logs(&mut out, source);
    }
    out += "\n# Every question is asked, with the power system declared first as baseline.\n";
    if let [first, _, ..] = powers {
        out += &format!(
            "# guessed: '{}' is the baseline only because its name comes first; confirm it, or choose:\n",
            first.id
        );
    }
    let id = |n: usize| {
        powers
            .get(n)
            .or(powers.first())
            .map_or("", |p| p.id.as_str())
    };
    out += &format!(
        "# [[question]]\n# kind = \"carry-over\"\n# baseline = \"{}\"\n# candidate = \"{}\"\n",
        id(0),
        id(1)
    );
    line(
        &mut out,
        "# margin = \"2 %\"",
        "fill in: the smallest gain in speed that matters",
    );
    out
}

fn site(out: &mut String, found: &[Found]) {
    *out += "[site]\n";
    line(out, "# name = \"Meadow strip\"", "fill in:");
    let height = found
        .iter()
        .filter_map(|f| Some((f, f.look.track.as_ref()?.first_height_m?)))
        // A logger that counts from the start says nothing of the sea level.
        .find(|(_, h)| (30.0..5000.0).contains(&h.abs()));
    match height {
        Some((file, h)) => line(
            out,
            &format!("elevation = \"{h:.0} m\""),
            &format!("guessed: first height in {}", one_line(&file.name)),
        ),
        None => line(out, "# elevation = \"312 m\"", "fill in: above sea level"),
    }
    line(
        out,
        "# zone = \"Europe/Vienna\"",
        "fill in: of the logbook and of loggers that name none",
    );
}

fn pack(out: &mut String, found: &[Found]) {
    let voltage = |f: &Found| f.look.column(Channel::Voltage).and_then(|c| c.range_si);
    let flown = found.iter().filter(|f| f.look.kind == Kind::OnboardLog);
    let most = flown
        .filter_map(voltage)
        .map(|(_, most)| most)
        .fold(0.0, f64::max);
    line(out, "# [pack.main]", "fill in:");
    line(out, "# chemistry = \"LiPo\"", "fill in:");
    if most > 0.0 {
        let cells = (most / (FULL_CELL_V + CELL_SLACK_V)).ceil();
        line(
            out,
            &format!("# cells = {cells}"),
            &format!("guessed: {most:.1} V at most in flight"),
        );
    } else {
        line(out, "# cells = 4", "fill in:");
    }
    line(out, "# capacity = \"3300 mAh\"", "fill in:");
    line(out, "# c_rating = 45", "fill in:");
}

fn power_section(out: &mut String, power: &PowerGuess) {
    *out += &format!("\n[power.{}]", power.id);
    *out += &match power.tables.as_slice() {
        [] => "    # no bench table was found; name it as you like\n".to_owned(),
        [one] => format!(
            "    # guessed: a power system by its bench table {}\n",
            one_line(one)
        ),
        many => format!(
            "    # guessed: one power system of {} bench tables\n",
            many.len()
        ),
    };
    line(out, "# fan_diameter = \"70 mm\"", "fill in:");
    line(out, "# blades = 6", "fill in:");
    line(
        out,
        "# outlet_area = \"33 cm2\"",
        "fill in: or outlet_diameter",
    );
    line(out, "# motor_kv = \"2900 rpm/V\"", "fill in:");
    line(out, "# controller = \"esc\"", "fill in:");
    line(
        out,
        "# pack = \"main\"",
        "fill in: the pack it usually flies with",
    );
}

fn bench(
    out: &mut String,
    file: &Found,
    power: &str,
    found: &[Found],
    faults: &BTreeMap<String, String>,
) {
    let mut entry = String::from("[[bench]]\n");
    let id = slug(file.stem());
    let alone = found
        .iter()
        .filter(|f| f.look.kind == Kind::BenchTable && slug(f.stem()) == id)
        .count()
        == 1;
    let id = if alone && !id.is_empty() {
        id
    } else {
        slug_of_place(&file.name)
    };
    entry += &format!("id = {}\n", toml_string(&id));
    line(
        &mut entry,
        &format!("power = {}", toml_string(power)),
        "guessed: by the file's name",
    );
    entry += &format!("file = {}\n", toml_string(&file.name));
    line(&mut entry, "# date = \"2025-04-12\"", "fill in:");
    line(&mut entry, "# temperature = \"14 degC\"", "fill in:");
    line(
        &mut entry,
        "# pressure = \"986 hPa\"",
        "fill in: at the bench, not reduced to sea level",
    );
    line(
        &mut entry,
        "# equal_duty = true",
        "fill in: same controller, end points and timing as the others",
    );
    entry += &recognised(&[file]);
    entry += &map("bench", &[file]);
    emit(out, &entry, &[file], faults.get(&file.name));
}

/// An id from the whole path, told apart by length where all else fails.
fn slug_of_place(name: &str) -> String {
    let id = slug(name);
    if id.is_empty() {
        format!("bench-{}", name.len())
    } else {
        id
    }
}

fn logs(out: &mut String, source: &Source) {
    let mut entry = String::from("[[logs]]\n");
    entry += &format!("id = {}\n", toml_string(&source.id));
    let kind = source.files.first().map_or("", |f| f.look.kind.words());
    line(
        &mut entry,
        &format!("files = {}", toml_string(&source.pattern)),
        &format!(
            "guessed: {kind}, {} file(s) of one header",
            source.files.len()
        ),
    );
    for text in source.files.first().iter().flat_map(|f| &f.look.overrule) {
        if text.starts_with("rate") {
            line(
                &mut entry,
                "rate = \"10 Hz\"",
                "fill in: there is no time column",
            );
        } else if text.starts_with("dates") {
            let key = text.split("  ").next().unwrap_or_default();
            line(
                &mut entry,
                &format!("# {key}"),
                "guessed: the day first; if that is wrong",
            );
        }
    }
    entry += &recognised(&source.files);
    entry += &map("logs", &source.files);
    emit(out, &entry, &source.files, None);
}

/// An entry none of whose files can be used as it stands is left as a comment.
fn emit(out: &mut String, entry: &str, files: &[&Found], refused: Option<&String>) {
    out.push('\n');
    let fault = |f: &&Found| {
        let mut errors = f.look.findings.iter();
        let error = errors.find(|x| x.severity == Severity::Error)?;
        Some(format!("{}. {}", error.what, error.to_do))
    };
    let faults: Vec<String> = files.iter().filter_map(fault).collect();
    let whole = faults.first().filter(|_| faults.len() == files.len());
    let Some(why) = refused.or(whole) else {
        *out += entry;
        return;
    };
    *out += &format!("# fill in: not usable as it stands: {}\n", one_line(why));
    for text in entry.lines() {
        *out += &format!("# {text}\n");
    }
}

/// The file with the most rows stands for the others.
fn largest<'a>(files: &[&'a Found]) -> Option<&'a Found> {
    files
        .iter()
        .copied()
        .max_by_key(|f| (f.look.ledger.rows_used, std::cmp::Reverse(&f.name)))
}

/// Columns with names of their own, not those of the format.
fn has_headers(file: &Found) -> bool {
    file.look.columns.iter().any(|c| !c.header.is_empty())
}

fn recognised(files: &[&Found]) -> String {
    let Some(file) = largest(files).filter(|f| has_headers(f)) else {
        return String::new();
    };
    let sure = |c: &&ColumnLook| c.certainty == Certainty::Recognised;
    let words: Vec<String> = file
        .look
        .columns
        .iter()
        .filter(sure)
        .filter_map(|c| Some(format!("{}: {}", c.channel?.word(), one_line(&c.name()))))
        .collect();
    if words.is_empty() {
        return String::new();
    }
    let mut out = String::from("# guessed: recognised by name and unit:");
    let mut column = out.chars().count();
    for word in words {
        if column + word.chars().count() > COMMENT_WIDTH {
            out += "\n#  ";
            column = 3;
        }
        out += &format!(" {word};");
        column += word.chars().count() + 2;
    }
    out.truncate(out.len() - 1);
    out + "\n"
}

/// The channel map, every line a comment: each reads a guess another way.
fn map(section: &str, files: &[&Found]) -> String {
    let Some(first) = largest(files) else {
        return String::new();
    };
    let others = files.iter().copied().filter(|f| f.name != first.name);
    let mut told: Vec<Channel> = Vec::new();
    let mut out = String::new();
    for column in std::iter::once(first)
        .chain(others)
        .flat_map(|f| &f.look.columns)
    {
        let (Some(channel), Some(overrule)) = (column.channel, &column.overrule) else {
            continue;
        };
        if told.contains(&channel) {
            continue;
        }
        told.push(channel);
        out += &format!(
            "# guessed: {}; if that is wrong:\n# {overrule}\n",
            one_line(&column.reasons.join("; "))
        );
    }
    let time_missing = first.look.column(Channel::Time).is_none() && section == "logs";
    if time_missing && has_headers(first) {
        out += "# fill in: time = \"…\", if one of the columns is a clock\n";
    }
    if out.is_empty() {
        return out;
    }
    format!("[{section}.channels]\n{out}")
}

/// Text for a comment: a line end in it would end the comment.
fn one_line(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}
