//! Everything the season's tables hold of each flight, for a page of its own.

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable, Ledger};
use crate::findings::evidence::{Evidence, counted};
use crate::findings::rows;
use crate::findings::sheets::{FlightSheet, Sheet, bare, between, without_blank_columns};
use crate::stats::NORMAL_95;
use crate::stats::estimate::Estimate;
use crate::store::FlightRow;
use crate::store::from_flight::JOINT_FIT;
use crate::units::ZERO_CELSIUS;

const READING: &str =
    "a reading of the logger; no interval: its accuracy is a limit for all flights alike";
const LOGBOOK: &str = "written in the logbook; no interval was given";
const RELATIVE: &str = "relative: only ratios between flights mean something";

/// Each flight, with the tables that only its page shows. Its own pictures stand in a [`FlightDocument`].
pub(super) fn sheets(
    evidence: &Evidence,
    answers: &[Answer],
    ledger: &Ledger,
) -> (Vec<FlightSheet>, Vec<DataTable>) {
    let mut tables = Vec::new();
    let sheets = evidence
        .tables
        .flights
        .iter()
        .map(|row| {
            let mut flight = named(evidence, row);
            let sheet = &mut flight.sheet;
            air(evidence, row, sheet);
            power(evidence, row, sheet);
            speed(row, sheet);
            loads(evidence, row, sheet);
            pack(evidence, row, sheet);
            clocks(row, sheet);
            if let Some(passes) = passes(evidence, row) {
                sheet.tables.push(passes.id.clone());
                tables.push(passes);
            }
            sheet.questions = answers
                .iter()
                .filter(|a| rows::asks_of(a, row))
                .map(|a| a.id.clone())
                .collect();
            sheet.findings = rows::findings_of(ledger, |file| rows::is_log_of(row, file));
            sheet.rows = rows::over(ledger, |file| rows::is_log_of(row, &file.file));
            flight.logs = ledger
                .files
                .iter()
                .filter(|file| rows::is_log_of(row, &file.file))
                .map(|file| file.file.clone())
                .collect();
            flight
        })
        .collect();
    (sheets, tables)
}

fn named(evidence: &Evidence, row: &FlightRow) -> FlightSheet {
    let pack = |id: &String| {
        let declared = evidence.season.packs.get(id);
        declared.map_or_else(|| id.clone(), |p| p.name.clone())
    };
    FlightSheet {
        id: row.flight.clone(),
        day: row.day.clone(),
        order_in_day: u64::try_from(row.order_in_day).unwrap_or(0),
        airframe_name: row.airframe.as_deref().map(|a| evidence.airframe_name(a)),
        power_name: row.power.as_deref().map(|p| evidence.power_name(p)),
        pack_name: row.pack.as_ref().map(pack),
        airframe: row.airframe.clone(),
        power: row.power.clone(),
        pack: row.pack.clone(),
        remarks: row.remarks.clone(),
        sentence: sentence(row),
        ..FlightSheet::default()
    }
}

/// What the flight gave and what it lacks.
fn sentence(row: &FlightRow) -> String {
    let speed = match (row.level_speed_m_s, row.level_speed_source.as_str()) {
        (None, _) => "no level top speed".to_owned(),
        (Some(_), source) => format!(
            "a level top speed from {} ({source})",
            counted(usize::try_from(row.passes).unwrap_or(0), "pass")
        ),
    };
    let power = match row.power_source.as_str() {
        "measured" => "its power was measured",
        "estimated" => "its power is estimated from the bench, no current was logged",
        _ => "its power is not known",
    };
    let lacks: Vec<&str> = [
        (row.has_throttle, "throttle"),
        (row.has_current, "current"),
        (row.has_position, "position or speed"),
    ]
    .into_iter()
    .filter(|(has, _)| !has)
    .map(|(_, what)| what)
    .collect();
    let lacks = if lacks.is_empty() {
        String::new()
    } else {
        format!(" Not logged: {}.", lacks.join(", "))
    };
    format!("It gives {speed}; {power}.{lacks}")
}

fn air(evidence: &Evidence, row: &FlightRow, sheet: &mut Sheet) {
    const GROUP: &str = "The flight and its air";
    sheet.put(
        GROUP,
        "airborne",
        bare(
            row.airborne_s,
            "s",
            "phases by speed, height and current; take-off to touchdown",
        ),
    );
    sheet.put(
        GROUP,
        "recorded",
        bare(
            Some(row.recorded_s).filter(|s| *s > 0.0),
            "s",
            "length of the log without its gaps",
        ),
    );
    let written = evidence
        .season
        .logbook
        .iter()
        .find(|r| r.flight == row.flight);
    let kelvin = written.and_then(|r| r.temperature_k);
    sheet.put(
        GROUP,
        "air_temperature",
        bare(kelvin.map(|k| k - ZERO_CELSIUS), "Cel", LOGBOOK),
    );
    let pascal = written.and_then(|r| r.pressure_pa);
    sheet.put(
        GROUP,
        "air_pressure",
        bare(pascal.map(|p| p / 100.0), "hPa", LOGBOOK),
    );
    let from = match (kelvin, pascal) {
        (Some(_), Some(_)) => "pressure and temperature of the logbook (ISO 2533)",
        (None, None) => {
            "the standard atmosphere at the site's elevation (ISO 2533): neither temperature nor pressure \
             was written down"
        }
        _ => {
            "what the logbook holds, the rest from the standard atmosphere at the site's elevation (ISO \
             2533)"
        }
    };
    sheet.put(
        GROUP,
        "air_density",
        bare(Some(row.density_kg_m3), "kg/m3", from),
    );
    sheet.put(
        GROUP,
        "greatest_height",
        bare(row.max_height_m, "m", READING),
    );
}

fn power(evidence: &Evidence, row: &FlightRow, sheet: &mut Sheet) {
    const GROUP: &str = "Power and charge";
    let source = match row.power_source.as_str() {
        "measured" => "current times voltage while airborne; the interval is the sensors' accuracy",
        "estimated" => {
            "bench curve at throttle, voltage and density times the unloading of the same power system; no \
             current was logged"
        }
        _ => "",
    };
    sheet.put(
        GROUP,
        "mean_power",
        between(
            row.mean_power_w,
            row.mean_power_low_w,
            row.mean_power_high_w,
            "W",
            source,
        ),
    );
    sheet.put(GROUP, "peak_power", bare(row.peak_power_w, "W", READING));
    sheet.put(
        GROUP,
        "energy",
        between(
            row.energy_wh,
            row.energy_low_wh,
            row.energy_high_wh,
            "W.h",
            source,
        ),
    );
    sheet.put(
        GROUP,
        "charge",
        between(
            row.charge_mah,
            row.charge_low_mah,
            row.charge_high_mah,
            "mA.h",
            "current summed over time, its sensor scaled by what the charger put back where that is known",
        ),
    );
    sheet.put(
        GROUP,
        "charge_put_back",
        bare(row.put_back_mah, "mA.h", LOGBOOK),
    );
    let reserve = if row.reserve_reached {
        "airborne time at which the charge left was the reserve"
    } else {
        "extrapolated at this flight's mean draw: it landed before the reserve"
    };
    sheet.put(
        GROUP,
        "time_to_reserve",
        bare(row.to_reserve_s, "s", reserve),
    );
    sheet.put(
        GROUP,
        "peak_current",
        bare(row.peak_current_a, "A", READING),
    );
    for (seconds, key) in [
        (10.0, "current_held_for_10_s"),
        (30.0, "current_held_for_30_s"),
    ] {
        let held = evidence
            .tables
            .current_duration
            .iter()
            .find(|r| r.source == "flight" && r.id == row.flight && r.duration_s == seconds);
        sheet.put(
            GROUP,
            key,
            bare(
                held.map(|r| r.current_a),
                "A",
                "largest mean current over any such span; no interval: the sensor's accuracy is a limit",
            ),
        );
    }
    let heat = evidence
        .tables
        .controller_heat
        .iter()
        .find(|h| h.flight == row.flight);
    sheet.put(
        GROUP,
        "controller_temperature_greatest",
        bare(heat.map(|h| h.greatest_k - ZERO_CELSIUS), "Cel", READING),
    );
}

fn speed(row: &FlightRow, sheet: &mut Sheet) {
    const GROUP: &str = "Speed and wind";
    let passes = usize::try_from(row.passes).unwrap_or(0);
    let half = row.level_speed_se_m_s.map(|se| NORMAL_95 * se);
    let level = row.level_speed_m_s;
    let end = |sign: f64| Some(level? + sign * half?);
    let method = match row.level_speed_source.as_str() {
        JOINT_FIT => {
            "one joint fit over the flight's full-throttle straights, at its own pass voltage; interval \
             from a jackknife over passes, the model's error and what other methods differ by"
        }
        "stopwatch" | "radar" => "timed passes, brought to level top speed by their run-up",
        _ => "",
    };
    sheet.put(
        GROUP,
        "level_speed",
        between(level, end(-1.0), end(1.0), "m/s", method).map(|e| e.count("passes", passes)),
    );
    sheet.put(
        GROUP,
        "share_of_level_speed_reached",
        bare(
            row.share_reached,
            "1",
            "fastest pass over the level top speed behind it; below 95 % the speed extrapolates",
        ),
    );
    let passes_mean = "mean over the passes";
    sheet.put(
        GROUP,
        "voltage_on_passes",
        bare(row.pass_voltage_v, "V", passes_mean),
    );
    sheet.put(
        GROUP,
        "current_on_passes",
        bare(row.pass_current_a, "A", passes_mean),
    );
    sheet.put(
        GROUP,
        "share_of_charge_used_before_passes",
        bare(row.pass_charge_used, "1", passes_mean),
    );
    let wind = |value: Option<f64>| -> Option<Estimate> {
        let half = row.wind_se_m_s.map(|se| NORMAL_95 * se);
        between(
            value,
            value.zip(half).map(|(v, h)| v - h),
            value.zip(half).map(|(v, h)| v + h),
            "m/s",
            "common to the passes of the joint fit; the direction it blows to",
        )
    };
    sheet.put(GROUP, "wind_to_north", wind(row.wind_to_north_m_s));
    sheet.put(GROUP, "wind_to_east", wind(row.wind_to_east_m_s));
    sheet.put(
        GROUP,
        "time_constant",
        bare(
            row.time_constant_s,
            "s",
            "of the run-up to level speed, pooled over the power system's flights",
        ),
    );
}

fn loads(evidence: &Evidence, row: &FlightRow, sheet: &mut Sheet) {
    const GROUP: &str = "Loads";
    let q = match row.dynamic_pressure_source.as_str() {
        "ground speed" => "from ground speed: wrong by the wind",
        _ => "from airspeed (logged, or ground velocity less the wind)",
    };
    sheet.put(
        GROUP,
        "greatest_dynamic_pressure",
        bare(row.max_dynamic_pressure_pa, "Pa", q),
    );
    let load = evidence
        .tables
        .flight_loads
        .iter()
        .find(|l| l.flight == row.flight);
    let source = load.map_or("", |l| l.source.as_str());
    sheet.put(
        GROUP,
        "greatest_load_factor",
        bare(load.map(|l| l.greatest_load_factor), "1", source),
    );
    sheet.put(
        GROUP,
        "least_load_factor",
        bare(load.map(|l| l.least_load_factor), "1", source),
    );
    sheet.put(
        GROUP,
        "load_factor_of_99_in_100_readings",
        bare(row.load_factor_p99, "1", &row.load_factor_source),
    );
    sheet.put(
        GROUP,
        "damage_exponent_5",
        bare(load.and_then(|l| l.damage_exponent_5), "/h", RELATIVE),
    );
}

fn pack(evidence: &Evidence, row: &FlightRow, sheet: &mut Sheet) {
    const GROUP: &str = "Pack";
    sheet.put(
        GROUP,
        "voltage_at_rest",
        bare(row.rest_voltage_v, "V", "before take-off"),
    );
    sheet.put(
        GROUP,
        "least_voltage",
        bare(row.min_voltage_v, "V", READING),
    );
    let own = evidence
        .tables
        .pack_flights
        .iter()
        .find(|p| p.flight == row.flight);
    let milli = |v: Option<f64>| v.map(|ohm| ohm * 1e3);
    let stepped = own.and_then(|p| {
        between(
            milli(p.resistance_ohm),
            milli(p.resistance_low_ohm),
            milli(p.resistance_high_ohm),
            "mOhm",
            "voltage over current one to three seconds after steps of the current",
        )
        .map(|e| e.count("steps", usize::try_from(p.steps).unwrap_or(0)))
    });
    let regressed = between(
        milli(row.pack_resistance_ohm),
        milli(row.pack_resistance_low_ohm),
        milli(row.pack_resistance_high_ohm),
        "mOhm",
        "regression of voltage on current and charge drawn",
    );
    sheet.put(GROUP, "resistance", stepped.or(regressed));
    sheet.put(
        GROUP,
        "volts_lost_at_peak_current",
        bare(
            own.and_then(|p| p.sag_at_peak_v),
            "V",
            "open-circuit voltage at the charge drawn less terminal voltage",
        ),
    );
    sheet.put(
        GROUP,
        "pack_temperature",
        bare(
            own.and_then(|p| p.pack_temperature_k)
                .map(|k| k - ZERO_CELSIUS),
            "Cel",
            READING,
        ),
    );
}

fn clocks(row: &FlightRow, sheet: &mut Sheet) {
    const GROUP: &str = "Clocks and lags";
    sheet.put(
        GROUP,
        "spool_up_lag",
        between(
            row.spool_up_lag_s,
            row.spool_up_lag_low_s,
            row.spool_up_lag_high_s,
            "s",
            "delay of the current behind the throttle",
        ),
    );
    let half = row.gps_clock_offset_se_s.map(|se| NORMAL_95 * se);
    let offset = row.gps_clock_offset_s;
    sheet.put(
        GROUP,
        "position_clock_offset",
        between(
            offset,
            offset.zip(half).map(|(v, h)| v - h),
            offset.zip(half).map(|(v, h)| v + h),
            "s",
            "clock of the position log against the power log's, found from the data",
        ),
    );
    sheet.put(
        GROUP,
        "position_lag",
        bare(
            row.gps_lag_s,
            "s",
            "speed of the position log behind the throttle, removed before the fit",
        ),
    );
}

/// The full-throttle straights of a flight, used or not.
fn passes(evidence: &Evidence, row: &FlightRow) -> Option<DataTable> {
    let rows: Vec<Vec<DataCell>> = evidence
        .tables
        .passes
        .iter()
        .filter(|p| p.flight == row.flight)
        .map(|p| {
            let why = match (p.used, p.why_not.as_str()) {
                (true, _) => "used",
                (false, "") => "not used",
                (false, why) => why,
            };
            vec![
                DataCell::Text(p.pass.to_string()),
                DataCell::Text(p.source.clone()),
                DataCell::Text(p.direction.clone()),
                DataCell::number(p.start_s),
                DataCell::number(p.end_s),
                DataCell::number(p.entry_airspeed_m_s),
                DataCell::number(p.exit_airspeed_m_s),
                DataCell::Number(p.mean_ground_speed_m_s),
                DataCell::number(p.height_change_m),
                DataCell::number(p.voltage_v),
                DataCell::number(p.current_a),
                DataCell::number(p.residual_rms_m_s),
                DataCell::Text(why.to_owned()),
            ]
        })
        .collect();
    let columns = vec![
        DataColumn::new("pass", "", 0),
        DataColumn::new("timed by", "", 0),
        DataColumn::new("direction", "", 0),
        DataColumn::new("from", "s", 1),
        DataColumn::new("to", "s", 1),
        DataColumn::new("airspeed at entry", "m/s", 1),
        DataColumn::new("at exit", "m/s", 1),
        DataColumn::new("mean ground speed", "m/s", 1),
        DataColumn::new("height gained", "m", 1),
        DataColumn::new("voltage", "V", 2),
        DataColumn::new("current", "A", 1),
        DataColumn::new("residual, rms", "m/s", 2),
        DataColumn::new("used, or why not", "", 0),
    ];
    let table = DataTable {
        id: format!("passes-{}", evidence.flight_slug(&row.flight)),
        title: format!("Full-throttle straights of flight {}", row.flight),
        columns,
        rows,
    };
    (!table.rows.is_empty()).then(|| without_blank_columns(table))
}
