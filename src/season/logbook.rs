//! `logbook.csv`: one row a flight.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::benches::{inside, path_outside};
use super::bounds;
use super::dates::{self, DATE_EXPECTED, Order, TIME_EXPECTED};
use super::sections::unknown_id;
use super::sheet::{Column, Sheet};
use super::{Finding, LogbookRow};

const COLUMNS: &[Column] = &[
    Column::text(
        "flight",
        &["flightno", "flightid", "id", "no", "nr", "flug", "flugnr"],
    ),
    Column::text("date", &["day", "datum", "tag"]),
    Column::text(
        "start",
        &[
            "time",
            "starttime",
            "takeoff",
            "launch",
            "zeit",
            "uhrzeit",
            "startzeit",
        ],
    ),
    Column::text(
        "log",
        &[
            "logs", "logfile", "logfiles", "file", "files", "datei", "logdatei",
        ],
    ),
    Column::text(
        "airframe",
        &["model", "plane", "aircraft", "jet", "modell", "zelle"],
    ),
    Column::text("power", &["powersystem", "setup", "antrieb"]),
    Column::text("pack", &["battery", "akku", "batterie", "lipo"]),
    Column::number(
        "put-back",
        &["charged", "recharged", "charge", "geladen", "nachgeladen"],
        bounds::PUT_BACK,
    ),
    Column::number(
        "temperature",
        &["temp", "airtemperature", "temperatur"],
        bounds::TEMPERATURE,
    ),
    Column::number(
        "pressure",
        &["airpressure", "qfe", "luftdruck", "druck"],
        bounds::PRESSURE,
    ),
    Column::text(
        "remarks",
        &[
            "remark",
            "notes",
            "note",
            "comment",
            "comments",
            "bemerkung",
            "bemerkungen",
        ],
    ),
];

/// The declared ids that rows may name; a blank stands for the only one there is.
pub(super) struct Ids {
    pub airframes: Vec<String>,
    pub powers: Vec<String>,
    pub packs: Vec<String>,
}

pub(super) fn logbook(text: &str, known: &Ids) -> (Vec<LogbookRow>, Vec<Finding>) {
    let mut sheet = Sheet::read("logbook.csv", text, COLUMNS);
    let order = column_order(&mut sheet);
    let mut rows = Vec::new();
    for index in 0..sheet.rows.len() {
        let line = sheet.rows[index].line;
        let date = date(&mut sheet, index, order);
        let row = LogbookRow {
            flight: text_of(&sheet, index, "flight").unwrap_or_default(),
            date,
            start: start(&mut sheet, index, date),
            logs: log_files(&mut sheet, index),
            airframe: id(&mut sheet, index, "airframe", &known.airframes),
            power: id(&mut sheet, index, "power", &known.powers),
            pack: id(&mut sheet, index, "pack", &known.packs),
            put_back_c: sheet.quantity(index, "put-back", None),
            put_back_column: sheet.rows[index]
                .cell("put-back")
                .map(|cell| sheet.source.position(cell.span.start).1),
            temperature_k: sheet.quantity(index, "temperature", None),
            pressure_pa: sheet.quantity(index, "pressure", None),
            remarks: text_of(&sheet, index, "remarks").unwrap_or_default(),
            line,
        };
        rows.push(row);
    }
    let rows = name_flights(&mut sheet, rows);
    (rows, sheet.findings)
}

fn text_of(sheet: &Sheet, index: usize, word: &str) -> Option<String> {
    Some(sheet.rows.get(index)?.cell(word)?.text.clone())
}

/// How the whole column writes dates; an open order is reported once, at its first date.
fn column_order(sheet: &mut Sheet) -> Order {
    let cells = || sheet.rows.iter().filter_map(|row| row.cell("date"));
    let (order, open) = dates::order(cells().map(|cell| dates::split(&cell.text).0));
    let first = cells()
        .find(|cell| cell.text.contains(['/', '-']))
        .map(|cell| (cell.text.clone(), cell.span.clone()));
    if let (true, Some((text, span))) = (open, first) {
        let what = format!(
            "dates such as '{text}' can be day/month or month/day; day/month was taken throughout"
        );
        let to_do = "Write dates as year-month-day where that is wrong.";
        sheet.report(Finding::warning("ambiguous-date", what, to_do), &span);
    }
    order
}

fn date(sheet: &mut Sheet, index: usize, order: Order) -> Option<NaiveDate> {
    let cell = sheet.rows.get(index)?.cell("date")?;
    let found = dates::date(dates::split(&cell.text).0, order);
    if found.is_none() {
        let what = format!("'{}' is no date", cell.text);
        let order = match order {
            Order::DayFirst => "day/month",
            Order::MonthFirst => "month/day",
            Order::YearFirst => "year/month/day",
        };
        let to_do = format!("Correct it (the column is read as {order} where that is open).");
        let finding = Finding::error("not-a-date", what, to_do).expected(DATE_EXPECTED);
        let span = cell.span.clone();
        sheet.report(finding, &span);
    }
    found
}

fn start(
    sheet: &mut Sheet,
    index: usize,
    date: Option<NaiveDate>,
) -> Option<chrono::NaiveDateTime> {
    let row = sheet.rows.get(index)?;
    let own = row.cell("start").map(|cell| {
        let (day, time) = dates::split(&cell.text);
        (time.unwrap_or(day).to_owned(), cell.span.clone())
    });
    let beside_date = row.cell("date").and_then(|cell| {
        let time = dates::split(&cell.text).1?;
        Some((time.to_owned(), cell.span.clone()))
    });
    let (text, span) = own.or(beside_date)?;
    let Some(time) = dates::time(&text) else {
        let what = format!("'{text}' is no time of day");
        let finding = Finding::error("not-a-time", what, "Correct it, or leave it blank.")
            .expected(TIME_EXPECTED);
        sheet.report(finding, &span);
        return None;
    };
    if date.is_none() {
        let what = format!("the start at {text} has no date");
        let to_do = "Write the date of the flight, so that its log can be found by its time.";
        sheet.report(Finding::warning("no-date", what, to_do), &span);
    }
    date.map(|date| date.and_time(time))
}

fn log_files(sheet: &mut Sheet, index: usize) -> Vec<String> {
    let Some(cell) = sheet.rows.get(index).and_then(|row| row.cell("log")) else {
        return Vec::new();
    };
    let (text, span) = (cell.text.clone(), cell.span.clone());
    let mut files = Vec::new();
    for name in text
        .split('+')
        .map(str::trim)
        .filter(|name| !name.is_empty())
    {
        match inside(name) {
            Ok(path) => files.push(path),
            Err(what) => {
                sheet.report(path_outside(what), &span);
            }
        }
    }
    files
}

fn id(sheet: &mut Sheet, index: usize, word: &str, declared: &[String]) -> Option<String> {
    let Some(cell) = sheet.rows.get(index)?.cell(word) else {
        return match declared {
            [only] => Some(only.clone()),
            _ => None,
        };
    };
    let (text, span) = (cell.text.clone(), cell.span.clone());
    if declared.contains(&text) {
        return Some(text);
    }
    // Case is a habit of writing where it cannot be mistaken.
    let mut alike = declared
        .iter()
        .filter(|id| id.to_lowercase() == text.to_lowercase());
    if let (Some(id), None) = (alike.next(), alike.next()) {
        return Some(id.clone());
    }
    sheet.report(unknown_id(word, &text, declared), &span);
    None
}

/// Gives flights without id `YYYY-MM-DD/n`, and tells apart ids that start again each day.
fn name_flights(sheet: &mut Sheet, mut rows: Vec<LogbookRow>) -> Vec<LogbookRow> {
    let mut uses: BTreeMap<String, BTreeSet<Option<NaiveDate>>> = BTreeMap::new();
    for row in rows.iter().filter(|row| !row.flight.is_empty()) {
        uses.entry(row.flight.clone()).or_default().insert(row.date);
    }
    let again: Vec<&String> = uses
        .iter()
        .filter(|(_, d)| d.len() > 1)
        .map(|(id, _)| id)
        .collect();
    if let Some(first) = again.first() {
        let what = format!("flight '{first}' stands on several days; its date was put before it");
        let to_do = "In passes.csv name such flights as year-month-day/flight.";
        let finding = Finding::note("flight-by-day", what, to_do).in_file(sheet.source.file);
        sheet.findings.push(finding);
    }
    let mut count: BTreeMap<Option<NaiveDate>, usize> = BTreeMap::new();
    for row in &mut rows {
        let n = count.entry(row.date).or_default();
        *n += 1;
        let day = row
            .date
            .map_or_else(|| "undated".to_owned(), |date| date.to_string());
        if row.flight.is_empty() {
            row.flight = format!("{day}/{n}");
        } else if again.contains(&&row.flight) {
            row.flight = format!("{day}/{}", row.flight);
        }
    }
    let mut first_line: BTreeMap<String, u32> = BTreeMap::new();
    let mut kept = Vec::new();
    for (index, row) in rows.into_iter().enumerate() {
        if let Some(line) = first_line.get(&row.flight) {
            let what = format!(
                "flight '{}' stands in line {line} already; this row is left out",
                row.flight
            );
            let span = sheet.rows[index]
                .cell("flight")
                .map(|cell| cell.span.clone());
            let span = span.unwrap_or_else(|| sheet.rows[index].span.clone());
            let to_do = "Give each flight its own id, or leave the ids blank.";
            sheet.report(Finding::error("duplicate-flight", what, to_do), &span);
            continue;
        }
        first_line.insert(row.flight.clone(), row.line);
        kept.push(row);
    }
    kept
}
