//! `passes.csv`: speeds by stopwatch or radar.

use super::bounds;
use super::sheet::{Column, Sheet};
use super::wording::{did_you_mean, one_of};
use super::{Finding, LogbookRow, PassRow};
use crate::units::nearest;

const COLUMNS: &[Column] = &[
    Column::text("flight", &["flightno", "flightid", "flug", "flugnr"]),
    Column::text("direction", &["heading", "course", "way", "richtung"]),
    Column::number(
        "speed",
        &["groundspeed", "velocity", "geschwindigkeit"],
        bounds::PASS_SPEED,
    ),
    Column::number(
        "distance",
        &["base", "length", "strecke", "basis"],
        bounds::BASE,
    ),
    Column::number("time", &["seconds", "stopwatch", "zeit"], bounds::WATCH),
    Column::number("run-up", &["runupdistance", "anlauf"], bounds::RUN_UP),
    Column::number(
        "run-up time",
        &["runup", "runuptime", "runupseconds", "anlauf"],
        bounds::RUN_UP_TIME,
    ),
    Column::number(
        "minutes since take-off",
        &[
            "sincetakeoff",
            "minutes",
            "age",
            "minutensincestart",
            "flugzeit",
        ],
        bounds::AIRBORNE,
    ),
];

/// Two speeds of one pass that differ by more contradict each other: radar and stopwatch agree
/// within 2 or 3 % each (common practice, no source).
const SPEEDS_AGREE: f64 = 0.05;

/// `logbook` is None where there is none, so that flight ids cannot be checked.
pub(super) fn passes(text: &str, logbook: Option<&[LogbookRow]>) -> (Vec<PassRow>, Vec<Finding>) {
    let mut sheet = Sheet::read("passes.csv", text, COLUMNS);
    if !sheet.has("direction") && !sheet.rows.is_empty() {
        let what = "no pass has a direction, so none can be paired against the wind";
        let to_do = "Add a column 'direction' with words such as N and S, or upwind and downwind.";
        let finding = Finding::warning("no-direction", what, to_do).in_file(sheet.source.file);
        sheet.findings.push(finding);
    }
    let mut rows = Vec::new();
    for index in 0..sheet.rows.len() {
        rows.extend(pass(&mut sheet, index, logbook));
    }
    (rows, sheet.findings)
}

fn pass(sheet: &mut Sheet, index: usize, logbook: Option<&[LogbookRow]>) -> Option<PassRow> {
    let flight = flight(sheet, index, logbook);
    let direction = direction(sheet, index);
    let shown = sheet.quantity(index, "speed", None);
    let base_m = sheet.quantity(index, "distance", Some("m"));
    let time_s = sheet.quantity(index, "time", Some("s"));
    let (mut run_up_m, mut run_up_s) = run_up(sheet, index);
    run_up_m = run_up_m.filter(|m| *m > 0.0);
    run_up_s = run_up_s.filter(|s| *s > 0.0);
    let since_take_off = sheet.quantity(index, "minutes since take-off", Some("min"));
    let timed = base_m.zip(time_s).map(|(base, time)| base / time);
    let timed = timed.filter(|speed| timed_speed_fits(sheet, index, *speed));
    if let (Some(timed), Some(shown)) = (timed, shown)
        && (timed / shown - 1.0).abs() > SPEEDS_AGREE
    {
        let what = format!(
            "distance over time is {timed:.1} m/s, the speed beside it {shown:.1} m/s; the stopwatch is used"
        );
        let span = sheet.rows[index].span.clone();
        sheet.report(
            Finding::warning("speeds-differ", what, "Correct one of them."),
            &span,
        );
    }
    let Some(speed_m_s) = timed.or(shown) else {
        let row = &sheet.rows[index];
        let (span, words) = (row.span.clone(), ["speed", "distance", "time"]);
        // A cell that could not be read was reported where it stands.
        if words.iter().all(|word| row.cell(word).is_none()) || half_timed(row) {
            let what = "the pass has neither a speed nor a distance with a time; it is left out";
            let finding = Finding::error("no-speed", what, "Fill in the one or the other.");
            sheet.report(finding, &span);
        }
        return None;
    };
    Some(PassRow {
        flight: flight?,
        direction,
        speed_m_s,
        base_m: timed.and(base_m),
        time_s: timed.and(time_s),
        run_up_m,
        run_up_s,
        minutes_since_take_off: since_take_off.map(|s| s / 60.0),
        line: sheet.rows[index].line,
    })
}

/// One of distance and time without the other, and no speed.
fn half_timed(row: &super::sheet::Row) -> bool {
    row.cell("speed").is_none() && row.cell("distance").is_some() != row.cell("time").is_some()
}

fn timed_speed_fits(sheet: &mut Sheet, index: usize, speed: f64) -> bool {
    if bounds::PASS_SPEED.holds(speed) {
        return true;
    }
    let what = format!("distance over time would be {speed:.1} m/s");
    let finding = Finding::error(
        "not-physical",
        what,
        "Correct the distance, the time or a unit.",
    )
    .expected(bounds::PASS_SPEED.words);
    let span = sheet.rows[index].span.clone();
    sheet.report(finding, &span);
    false
}

fn flight(sheet: &mut Sheet, index: usize, logbook: Option<&[LogbookRow]>) -> Option<String> {
    let row = sheet.rows.get(index)?;
    let Some(cell) = row.cell("flight") else {
        let span = row.span.clone();
        let what = "the pass names no flight; it is left out";
        let finding = Finding::error("no-flight", what, "Name the flight it belongs to.");
        sheet.report(finding, &span);
        return None;
    };
    let (id, span) = (cell.text.clone(), cell.span.clone());
    let Some(logbook) = logbook else {
        return Some(id);
    };
    if logbook.iter().any(|row| row.flight == id) {
        return Some(id);
    }
    let words = || logbook.iter().map(|row| row.flight.as_str());
    let finding = Finding::error(
        "unknown-flight",
        format!("no flight '{id}' stands in logbook.csv; the pass is left out"),
        did_you_mean(nearest(&id, words()), "Add the flight to logbook.csv."),
    );
    // A long season would make a long list.
    let finding = if logbook.len() <= 12 {
        finding.expected(one_of(words()))
    } else {
        finding
    };
    sheet.report(finding, &span);
    None
}

fn direction(sheet: &mut Sheet, index: usize) -> String {
    let Some(row) = sheet.rows.get(index) else {
        return String::new();
    };
    if let Some(cell) = row.cell("direction") {
        return cell.text.clone();
    }
    let span = row.span.clone();
    if sheet.has("direction") {
        let what = "the pass has no direction, so it cannot be paired against the wind";
        let finding = Finding::warning("no-direction", what, "Fill it in, e.g. N or upwind.");
        sheet.report(finding, &span);
    }
    String::new()
}

/// `run_up` is a distance or a time by the unit in its header.
fn run_up(sheet: &mut Sheet, index: usize) -> (Option<f64>, Option<f64>) {
    (
        sheet.quantity(index, "run-up", None),
        sheet.quantity(index, "run-up time", Some("s")),
    )
}
