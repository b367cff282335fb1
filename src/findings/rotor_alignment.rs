//! Flight and tunnel held together by rotor speed, where no throttle was logged (part of question 2).

use std::f64::consts::TAU;

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable, Step};
use crate::findings::evidence::Evidence;
use crate::findings::figure::{BenchAgainstFlight, Figure, FigureData, Panel, Points, PowerPanel};
use crate::findings::pictures::axis;
use crate::stats::estimate::Estimate;
use crate::store::RotorAlignmentRow;

/// The flight has the power system's own place in the palette, the tunnel the one after it.
const TUNNEL_COLOUR: u32 = 1;

/// Adds power in flight against power in the tunnel to the answer; picture and table, where there
/// is anything to show. The words for the answer's sentence come with them.
pub fn align(
    evidence: &Evidence,
    power: &str,
    answer: &mut Answer,
) -> Option<(String, Figure, DataTable)> {
    let rows: Vec<&RotorAlignmentRow> = evidence
        .tables
        .rotor_alignment
        .iter()
        .filter(|r| r.power == power)
        .collect();
    let first = rows.first()?;
    let rpm = first.angular_speed_rad_s * 60.0 / TAU;
    answer.how.method.push(
        "Flight against tunnel without a throttle: means over steady seconds, power carried to the \
         flight's median rotor speed by the cube of the rotor speed (over a tenth at most), side by \
         side in bins of airspeed."
            .to_owned(),
    );
    answer.how.inputs.push("table rotor_alignment".to_owned());
    for limit in &evidence.tables.rotor_alignment_limits {
        if limit.power == power && !answer.remarks.contains(&limit.limit) {
            answer.remarks.push(limit.limit.clone());
        }
    }
    // The bin that rests on most seconds of both.
    let best = rows
        .iter()
        .copied()
        .filter(|r| r.ratio.is_some())
        .max_by_key(|r| r.flight_readings.min(r.bench_readings));
    let words = match best {
        Some(row) => compared(row, rpm, answer),
        None => {
            answer.missing.push(Step::measure(format!(
                "Tunnel and flight at one airspeed and about {rpm:.0} rpm: they have no bin of \
                 airspeed in common."
            )));
            String::new()
        }
    };
    let caption = caption(&rows, best, rpm);
    let figure = picture(evidence, power, &rows, rpm, caption);
    let table = table(power, &rows, rpm);
    Some((words, figure, table))
}

fn compared(row: &RotorAlignmentRow, rpm: f64, answer: &mut Answer) -> String {
    let (Some(ratio), Some(flight), Some(tunnel), Some(airspeed)) = (
        row.ratio,
        row.flight_power_w,
        row.bench_power_w,
        row.flight_airspeed_m_s,
    ) else {
        return String::new();
    };
    let (low, high) = (row.ratio_low, row.ratio_high);
    let less_one = |end: Option<f64>| end.map(|r| r - 1.0);
    let method = "means over steady seconds at the flight's median rotor speed";
    let apart = match low {
        Some(_) => {
            "means over steady seconds at the flight's median rotor speed; interval from blocks of ten \
             seconds on either side (Welch), so it holds for this one flight and its sensors"
        }
        None => {
            "means over steady seconds at the flight's median rotor speed; too few blocks of ten \
             seconds for an interval"
        }
    };
    for (key, value, ends, unit, method) in [
        (
            "flight_power_over_tunnel_power",
            ratio,
            (low, high),
            "1",
            apart,
        ),
        (
            "difference_of_flight_from_tunnel_power",
            ratio - 1.0,
            (less_one(low), less_one(high)),
            "1",
            apart,
        ),
        (
            "power_in_flight_at_median_rotor_speed",
            flight,
            (None, None),
            "W",
            method,
        ),
        (
            "power_in_tunnel_at_median_rotor_speed",
            tunnel,
            (None, None),
            "W",
            method,
        ),
    ] {
        let estimate = Estimate {
            low: ends.0,
            high: ends.1,
            ..Estimate::plus_minus(value, 0.0, unit, method)
        };
        answer.estimates.insert(
            key.to_owned(),
            estimate
                .at("airspeed", airspeed, "m/s")
                .at("rotor_speed", rpm, "1/min")
                .count("seconds in flight", row.flight_readings as usize)
                .count("seconds in the tunnel", row.bench_readings as usize)
                .count("blocks in flight", row.flight_blocks as usize)
                .count("blocks in the tunnel", row.bench_blocks as usize)
                .input(format!("flight {}", row.flight))
                .input(format!("tunnel run {}", row.bench)),
        );
    }
    let alike = match low.zip(high) {
        Some((low, high)) => format!(
            ", a difference of {:.0} % ({:.0} to {:.0} %)",
            100.0 * (ratio - 1.0),
            100.0 * (low - 1.0),
            100.0 * (high - 1.0)
        ),
        None => String::new(),
    };
    format!(
        "; at {rpm:.0} rpm and about {airspeed:.0} m/s it drew {flight:.0} W in flight against \
         {tunnel:.0} W in the tunnel{alike}"
    )
}

fn caption(rows: &[&RotorAlignmentRow], best: Option<&RotorAlignmentRow>, rpm: f64) -> String {
    let tunnel: Vec<(f64, f64)> = rows
        .iter()
        .filter_map(|r| Some((r.bench_airspeed_m_s?, r.bench_power_w?)))
        .collect();
    match (tunnel.first(), tunnel.last()) {
        (Some(slow), Some(fast)) if fast.0 > slow.0 => format!(
            "At {rpm:.0} rpm the unit draws {:.0} W at {:.0} m/s and {:.0} W at {:.0} m/s in the \
             tunnel{}. Bars: standard deviation between seconds.",
            slow.1,
            slow.0,
            fast.1,
            fast.0,
            best.and_then(|r| Some((r.flight_power_w?, r.flight_airspeed_m_s?)))
                .map_or_else(String::new, |(power, airspeed)| format!(
                    "; in flight {power:.0} W at {airspeed:.0} m/s"
                ))
        ),
        _ => format!(
            "Power at {rpm:.0} rpm by airspeed, in flight and in the tunnel. Bars: standard deviation \
             between seconds."
        ),
    }
}

fn picture(
    evidence: &Evidence,
    power: &str,
    rows: &[&RotorAlignmentRow],
    rpm: f64,
    caption: String,
) -> Figure {
    let colour = evidence.colour(power);
    let mut flight = Points::new("in flight", colour);
    let mut tunnel = Points::new("in the tunnel", colour + TUNNEL_COLOUR);
    for row in rows {
        // One second alone has no standard deviation.
        let ends = |value: f64, sd: Option<f64>, n: i64| {
            let sd = sd.filter(|_| n > 1);
            (sd.map(|sd| value - sd), sd.map(|sd| value + sd))
        };
        if let (Some(x), Some(y)) = (row.flight_airspeed_m_s, row.flight_power_w) {
            let (low, high) = ends(y, row.flight_power_sd_w, row.flight_readings);
            flight.push(x, y, low, high);
        }
        if let (Some(x), Some(y)) = (row.bench_airspeed_m_s, row.bench_power_w) {
            let (low, high) = ends(y, row.bench_power_sd_w, row.bench_readings);
            tunnel.push(x, y, low, high);
        }
    }
    let mut panel = Panel::new(axis("airspeed", "m/s"), axis("power", "W"));
    panel.scatter(flight);
    panel.scatter(tunnel);
    Figure {
        id: format!("rotor-alignment-{power}"),
        alt: format!(
            "Power against airspeed at {rpm:.0} rpm for {}: means over the seconds in flight and in \
             the wind tunnel, with their scatter.",
            evidence.power_name(power)
        ),
        caption,
        data: FigureData::BenchAgainstFlight(BenchAgainstFlight {
            panels: vec![PowerPanel {
                title: evidence.power_name(power),
                panel,
            }],
        }),
    }
}

fn table(power: &str, rows: &[&RotorAlignmentRow], rpm: f64) -> DataTable {
    DataTable {
        id: format!("rotor-alignment-{power}"),
        title: format!("Power at {rpm:.0} rpm by airspeed, in flight and in the tunnel"),
        columns: vec![
            DataColumn::new("flight", "", 0),
            DataColumn::new("tunnel run", "", 0),
            DataColumn::new("airspeed from", "m/s", 0),
            DataColumn::new("airspeed to", "m/s", 0),
            DataColumn::new("power in flight", "W", 1),
            DataColumn::new("scatter in flight", "W", 1),
            DataColumn::new("seconds in flight", "1", 0),
            DataColumn::new("power in the tunnel", "W", 1),
            DataColumn::new("scatter in the tunnel", "W", 1),
            DataColumn::new("seconds in the tunnel", "1", 0),
            DataColumn::new("flight ÷ tunnel", "1", 2),
        ],
        rows: rows
            .iter()
            .map(|r| {
                vec![
                    DataCell::Text(r.flight.clone()),
                    DataCell::Text(r.bench.clone()),
                    DataCell::Number(r.airspeed_low_m_s),
                    DataCell::Number(r.airspeed_high_m_s),
                    DataCell::number(r.flight_power_w),
                    DataCell::number(r.flight_power_sd_w.filter(|_| r.flight_readings > 1)),
                    DataCell::Number(r.flight_readings as f64),
                    DataCell::number(r.bench_power_w),
                    DataCell::number(r.bench_power_sd_w.filter(|_| r.bench_readings > 1)),
                    DataCell::Number(r.bench_readings as f64),
                    DataCell::interval(r.ratio, r.ratio_low, r.ratio_high),
                ]
            })
            .collect(),
    }
}
