//! Each power system: what was declared of it, what the bench made of it, and where it flew.

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable, Ledger};
use crate::findings::evidence::{Evidence, counted};
use crate::findings::rows;
use crate::findings::sheets::{
    ComparisonSheet, PowerSheet, Sheet, bare, between, without_blank_columns,
};
use crate::season::{Declared, Power, QuestionKind};
use crate::stats::estimate::Estimate;
use crate::units::{MAH, RPM, ZERO_CELSIUS};

const DECLARED: &str = "declared in season.toml";
const DEFAULT: &str = "a default: not declared in season.toml";

/// Every declared power system, in the order of the season file's ids.
pub(super) fn sheets(
    evidence: &Evidence,
    answers: &[Answer],
    comparisons: &[ComparisonSheet],
    ledger: &Ledger,
) -> (Vec<PowerSheet>, Vec<DataTable>) {
    let mut tables = Vec::new();
    let sheets = evidence
        .season
        .powers
        .iter()
        .map(|(id, power)| {
            let flights = evidence.flights_of(id);
            let benches: Vec<String> = evidence
                .season
                .benches
                .iter()
                .filter(|b| b.power == *id)
                .map(|b| b.file.clone())
                .collect();
            let is_of = |file: &str| {
                benches.iter().any(|b| b == file)
                    || flights.iter().any(|f| rows::is_log_of(f, file))
            };
            let mut sheet = Sheet {
                questions: answers
                    .iter()
                    .filter(|a| asks_of_system(a, id))
                    .map(|a| a.id.clone())
                    .collect(),
                findings: rows::findings_of(ledger, is_of),
                rows: rows::over(ledger, |file| is_of(&file.file)),
                ..Sheet::default()
            };
            set_up(evidence, power, &mut sheet);
            bench(evidence, id, &mut sheet);
            in_flight(evidence, id, &mut sheet);
            for table in [bench_runs(evidence, id), bench_readings(evidence, id)] {
                let Some(table) = table else { continue };
                sheet.tables.push(table.id.clone());
                tables.push(table);
            }
            PowerSheet {
                id: id.clone(),
                name: power.name.clone(),
                colour: evidence.colour(id),
                sentence: format!(
                    "{} and {} were recorded with it.",
                    counted(benches.len(), "bench run"),
                    counted(flights.len(), "flight")
                ),
                flights: flights.iter().map(|f| f.flight.clone()).collect(),
                comparisons: comparisons
                    .iter()
                    .filter(|c| c.baseline == *id || c.candidate == *id)
                    .map(|c| c.id.clone())
                    .collect(),
                benches,
                sheet,
            }
        })
        .collect();
    (sheets, tables)
}

/// Questions about one system alone; those that compare two have pages of their own.
fn asks_of_system(answer: &Answer, power: &str) -> bool {
    let alone = match answer.question {
        QuestionKind::PowerAndDuration | QuestionKind::Controller => true,
        // With a single system declared it is held against nothing.
        QuestionKind::CarryOver | QuestionKind::Airframe => {
            answer.baseline.is_none() || answer.baseline == answer.candidate
        }
        _ => false,
    };
    alone && answer.candidate.as_deref().or(answer.baseline.as_deref()) == Some(power)
}

fn set_up(evidence: &Evidence, power: &Power, sheet: &mut Sheet) {
    const GROUP: &str = "Set-up as declared";
    let declared = |value: Option<f64>, unit: &str| bare(value, unit, DECLARED);
    let or_default = |value: Option<Declared>, factor: f64, unit: &str| -> Option<Estimate> {
        let value = value?;
        let method = if value.is_default { DEFAULT } else { DECLARED };
        bare(Some(value.value * factor), unit, method)
    };
    let scaled = |value: Option<f64>, factor: f64| value.map(|v| v * factor);
    for (key, estimate) in [
        (
            "fan_diameter",
            declared(scaled(power.fan_diameter_m, 1e3), "mm"),
        ),
        (
            "hub_diameter",
            declared(scaled(power.hub_diameter_m, 1e3), "mm"),
        ),
        ("blades", declared(power.blades.map(f64::from), "1")),
        ("outlet_area", or_default(power.outlet_area_m2, 1e4, "cm2")),
        (
            "motor_velocity_constant",
            declared(scaled(power.motor_kv_rad_s_v, 1.0 / RPM), "/min/V"),
        ),
        (
            "motor_resistance",
            declared(scaled(power.motor_resistance_ohm, 1e3), "mOhm"),
        ),
        (
            "motor_no_load_current",
            declared(power.motor_no_load_current_a, "A"),
        ),
        ("unit_mass", declared(scaled(power.unit_mass_kg, 1e3), "g")),
    ] {
        sheet.put(GROUP, key, estimate);
    }
    let controller = power
        .controller
        .as_ref()
        .and_then(|id| evidence.season.controllers.get(id));
    if let Some(controller) = controller {
        for (key, value, unit) in [
            ("controller_continuous_rating", controller.continuous_a, "A"),
            ("controller_burst_rating", controller.burst_a, "A"),
            ("controller_burst_time", controller.burst_s, "s"),
        ] {
            sheet.put(GROUP, key, declared(value, unit));
        }
    }
    let pack = power
        .pack
        .as_ref()
        .and_then(|id| evidence.season.packs.get(id));
    if let Some(pack) = pack {
        sheet.put(
            GROUP,
            "pack_cells",
            declared(Some(f64::from(pack.cells)), "1"),
        );
        sheet.put(
            GROUP,
            "pack_capacity",
            declared(Some(pack.capacity_c / MAH), "mA.h"),
        );
    }
}

fn bench(evidence: &Evidence, power: &str, sheet: &mut Sheet) {
    const GROUP: &str = "On the bench";
    let top = evidence
        .tables
        .bench_curves
        .iter()
        .filter(|r| r.power == power)
        .max_by(|a, b| a.throttle.total_cmp(&b.throttle));
    if let Some(top) = top {
        let at = |e: Estimate| {
            e.at("throttle", top.throttle, "1")
                .at("voltage", top.reference_voltage_v, "V")
                .at("density", top.reference_density_kg_m3, "kg/m3")
        };
        let method =
            "bench curve at the highest throttle read, brought to reference voltage and density";
        sheet.put(
            GROUP,
            "static_thrust_at_highest_throttle",
            between(
                top.thrust_n,
                top.thrust_low_n,
                top.thrust_high_n,
                "N",
                method,
            )
            .map(at),
        );
        sheet.put(
            GROUP,
            "current_at_highest_throttle",
            between(
                Some(top.current_a),
                Some(top.current_low_a),
                Some(top.current_high_a),
                "A",
                method,
            )
            .map(at),
        );
    }
    for exponent in evidence
        .tables
        .bench_exponents
        .iter()
        .filter(|e| e.power == power)
    {
        let method = match exponent.origin.as_str() {
            "fitted" => "fitted to readings at several voltages",
            "motor-constants" => "from the motor's constants",
            _ => "a default with its spread: no run sweeps it",
        };
        sheet.put(
            GROUP,
            &format!("{}_exponent_with_{}", exponent.quantity, exponent.with),
            between(
                Some(exponent.exponent),
                Some(exponent.low),
                Some(exponent.high),
                "1",
                method,
            ),
        );
    }
    let points = evidence
        .tables
        .bench_points
        .iter()
        .filter(|p| p.power == power);
    let (mut readings, mut failed) = (0_u32, 0_u32);
    for point in points {
        readings += 1;
        failed += u32::from(!point.checks_failed.is_empty());
    }
    if readings > 0 {
        sheet.put(
            GROUP,
            "bench_readings",
            bare(Some(f64::from(readings)), "1", "counted"),
        );
        sheet.put(
            GROUP,
            "bench_readings_that_fail_a_check",
            bare(
                Some(f64::from(failed)),
                "1",
                "counted; what failed and what was done stands in the findings",
            ),
        );
    }
}

fn in_flight(evidence: &Evidence, power: &str, sheet: &mut Sheet) {
    const GROUP: &str = "In the air";
    let lag = evidence.tables.spool_up.iter().find(|s| s.power == power);
    if let Some(lag) = lag {
        let counts = |e: Estimate| {
            e.count("flights", usize::try_from(lag.flights).unwrap_or(0))
                .count("steps", usize::try_from(lag.steps).unwrap_or(0))
        };
        sheet.put(
            GROUP,
            "spool_up_lag",
            between(
                Some(lag.lag_s),
                lag.lag_low_s,
                lag.lag_high_s,
                "s",
                "delay of the current behind the throttle, over flights",
            )
            .map(counts),
        );
        sheet.put(
            GROUP,
            "time_to_ninety_percent_of_a_step",
            bare(
                Some(lag.ninety_s),
                "s",
                "until the current stays within a tenth of its step about where it ends",
            ),
        );
    }
    let flights = evidence.flights_of(power);
    let airborne: Vec<f64> = flights.iter().filter_map(|f| f.airborne_s).collect();
    if !airborne.is_empty() {
        let total = airborne.iter().sum();
        sheet.put(
            GROUP,
            "airborne_over_the_season",
            bare(Some(total), "s", "sum over its flights")
                .map(|e| e.count("flights", airborne.len())),
        );
    }
    let peak = flights.iter().filter_map(|f| f.peak_current_a);
    sheet.put(
        GROUP,
        "peak_current",
        bare(
            peak.max_by(f64::total_cmp),
            "A",
            "greatest reading of any flight; no interval: the sensor's accuracy is a limit",
        ),
    );
}

/// When, in what air and with what each bench run was taken.
fn bench_runs(evidence: &Evidence, power: &str) -> Option<DataTable> {
    let season = evidence.season;
    let instrument = |id: &String| {
        let known = season.instruments.get(id);
        known.map_or_else(|| id.clone(), |i| i.name.clone())
    };
    let runs = season.benches.iter().filter(|b| b.power == power);
    let rows: Vec<Vec<DataCell>> = runs
        .map(|run| {
            let points = evidence.tables.bench_points.iter();
            let points: Vec<_> = points.filter(|p| p.run == run.id).collect();
            let failed = points.iter().filter(|p| !p.checks_failed.is_empty());
            let with: Vec<String> = run.instruments.iter().map(instrument).collect();
            vec![
                DataCell::Text(run.id.clone()),
                DataCell::Text(run.file.clone()),
                DataCell::text(run.date.map(|d| d.to_string()).as_deref()),
                DataCell::number(run.temperature_k.map(|k| k - ZERO_CELSIUS)),
                DataCell::number(run.pressure_pa.map(|p| p / 100.0)),
                DataCell::Text(with.join(", ")),
                DataCell::Text(
                    if run.equal_duty {
                        "yes"
                    } else {
                        "not declared"
                    }
                    .to_owned(),
                ),
                DataCell::Number(points.len() as f64),
                DataCell::Number(failed.count() as f64),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| DataTable {
        id: format!("bench-runs-{power}"),
        title: "Bench runs".to_owned(),
        columns: vec![
            DataColumn::new("run", "", 0),
            DataColumn::new("file", "", 0),
            DataColumn::new("date", "", 0),
            DataColumn::new("air", "Cel", 1),
            DataColumn::new("pressure", "hPa", 0),
            DataColumn::new("instruments", "", 0),
            DataColumn::new("equal duty", "", 0),
            DataColumn::new("readings", "1", 0),
            DataColumn::new("failing a check", "1", 0),
        ],
        rows,
    })
}

/// Every reading as measured, and what failed.
fn bench_readings(evidence: &Evidence, power: &str) -> Option<DataTable> {
    let points = evidence.tables.bench_points.iter();
    let points: Vec<_> = points.filter(|p| p.power == power).collect();
    let one_run = points.windows(2).all(|pair| pair[0].run == pair[1].run);
    let rows: Vec<Vec<DataCell>> = points
        .into_iter()
        .map(|p| {
            let name = if one_run {
                format!("line {}", p.line)
            } else {
                format!("{}, line {}", p.run, p.line)
            };
            vec![
                DataCell::Text(name),
                DataCell::number(p.throttle),
                DataCell::number(p.voltage_v),
                DataCell::number(p.current_a),
                DataCell::number(p.power_w),
                DataCell::number(p.thrust_n),
                DataCell::number(p.exhaust_speed_m_s),
                DataCell::Text(match p.exhaust_censor.as_str() {
                    "above" => "at least".to_owned(),
                    "below" => "at most".to_owned(),
                    _ => String::new(),
                }),
                DataCell::number(p.angular_speed_rad_s),
                DataCell::Text(p.checks_failed.replace(' ', ", ")),
            ]
        })
        .collect();
    let table = DataTable {
        id: format!("bench-readings-{power}"),
        title: "Bench readings as measured".to_owned(),
        columns: vec![
            DataColumn::new("reading", "", 0),
            DataColumn::new("throttle", "1", 2),
            DataColumn::new("voltage", "V", 2),
            DataColumn::new("current", "A", 1),
            DataColumn::new("power", "W", 0),
            DataColumn::new("static thrust", "N", 2),
            DataColumn::new("exhaust speed", "m/s", 1),
            DataColumn::new("range end", "", 0),
            DataColumn::new("rotor speed", "rad/s", 0),
            DataColumn::new("checks failed", "", 0),
        ],
        rows,
    };
    (!table.rows.is_empty()).then(|| without_blank_columns(table))
}
