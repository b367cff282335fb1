//! Loads as pictures and tables: load factor against speed, exceedances, cycles (part of question 4).

use crate::findings::airframe_static::{airframe_of, mean_chord};
use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable, Step};
use crate::findings::evidence::{Evidence, counted, over_flights, with_interval};
use crate::findings::figure::{
    Across, AxisRange, CellMap, CellPanel, Figure, FigureData, Line, MapCell, Mark, NEUTRAL, Plot,
    Plots, Points,
};
use crate::findings::pictures::axis;
use crate::findings::series::thin;
use crate::physics::atmosphere::{G0, standard};
use crate::physics::gust::{GUSTS_M_S, Wing, lift_slope};
use crate::physics::turn::stall_load_factor;
use crate::season::Airframe;
use crate::stats;
use crate::stats::clopper_pearson::share;
use crate::stats::estimate::Estimate;
use crate::store::FlightLoadRow;

/// Points of a limit's line.
const STEPS: usize = 60;
/// The greater gust is a rule for cruising speed; a model's whole range is below it.
const GUST_M_S: f64 = GUSTS_M_S[1];

pub(super) fn all(
    evidence: &Evidence,
    powers: &[&str],
    answer: &Answer,
) -> (Vec<Figure>, Vec<DataTable>) {
    let mut figures = Vec::new();
    figures.extend(load_against_speed(evidence, powers));
    let exceeded = exceedances(evidence, powers);
    let cycled = cycles(evidence, powers, answer);
    let mut tables = Vec::new();
    tables.extend(by_flight(evidence, powers));
    for (figure, table) in [exceeded, cycled].into_iter().flatten() {
        figures.push(figure);
        tables.push(table);
    }
    (figures, tables)
}

fn rows<'a>(evidence: &Evidence<'a>, power: &str) -> Vec<&'a FlightLoadRow> {
    evidence
        .tables
        .flight_loads
        .iter()
        .filter(|l| l.power.as_deref() == Some(power))
        .collect()
}

/// How many flights left the declared envelope.
pub(super) fn envelope_remarks(evidence: &Evidence, powers: &[&str], answer: &mut Answer) {
    let Some((_, airframe)) = powers.last().and_then(|p| airframe_of(evidence, p)) else {
        return;
    };
    let Some(limit) = airframe.load_factor_limit else {
        answer.missing.push(Step::declare(
            "The load factor flown so far without trouble (load_factor_limit of the airframe), to \
             hold the flights against.",
        ));
        return;
    };
    for power in powers {
        let flights = rows(evidence, power);
        let above = flights
            .iter()
            .filter(|l| l.greatest_load_factor > limit)
            .count();
        if let Some(found) = share(above, flights.len(), 0.95) {
            answer.estimates.insert(
                format!("share_of_flights_above_declared_load_factor_{power}"),
                Estimate::interval(
                    above as f64 / flights.len() as f64,
                    found.low,
                    found.high,
                    0.95,
                    "1",
                    "flights whose greatest load factor exceeded the declared one, exact binomial \
                     interval; none at all is an upper bound",
                )
                .at("load_factor", limit, "1")
                .count("flights above", above)
                .count("flights", flights.len()),
            );
        }
    }
    rough_air(evidence, powers, limit, answer);
}

/// The wing as the gust rule takes it, and the density of the air it flew in; with wing area, span
/// and mass declared.
fn wing(
    evidence: &Evidence,
    powers: &[&str],
    id: &str,
    airframe: &Airframe,
) -> Option<(Wing, f64)> {
    let (area, span) = (airframe.wing_area_m2?, airframe.span_m?);
    let densities: Vec<f64> = powers
        .iter()
        .flat_map(|p| evidence.flights_of(p))
        .filter(|f| f.airframe.as_deref() == Some(id))
        .map(|f| f.density_kg_m3)
        .collect();
    let density = if densities.is_empty() {
        standard(0.0).density_kg_m3
    } else {
        stats::mean(&densities)
    };
    let wing = Wing {
        wing_loading_pa: airframe.mass_kg? * G0 / area,
        mean_chord_m: mean_chord(airframe)?,
        lift_slope: lift_slope(span, area),
    };
    Some((wing, density))
}

/// From which speed on the reference gust reaches the declared load factor.
fn rough_air(evidence: &Evidence, powers: &[&str], limit: f64, answer: &mut Answer) {
    let Some((id, airframe)) = powers.last().and_then(|p| airframe_of(evidence, p)) else {
        return;
    };
    let Some((wing, density)) = wing(evidence, powers, id, airframe) else {
        return;
    };
    let speed = (limit - 1.0) / wing.gust_increment(GUST_M_S, 1.0, density);
    answer.remarks.push(format!(
        "By the reference gust of {GUST_M_S:.1} m/s the declared load factor of {limit:.1} is reached \
         from {speed:.0} m/s on: rougher air than a model flies in by choice, and a reason to slow down \
         in it."
    ));
    answer.estimates.insert(
        "speed_of_reference_gust_at_declared_load_factor".to_owned(),
        Estimate {
            low: None,
            high: None,
            ..Estimate::plus_minus(
                speed,
                0.0,
                "m/s",
                "equivalent airspeed at which 1 + gust increment is the declared load factor; 14 CFR \
                 23.341(c), historic, for full-size aeroplanes: a reference only",
            )
        }
        .at("gust", GUST_M_S, "m/s")
        .at("load_factor", limit, "1"),
    );
}

fn load_against_speed(evidence: &Evidence, powers: &[&str]) -> Option<Figure> {
    let mut points: Vec<Points> = Vec::new();
    for power in powers {
        let mut own = Points::new(&evidence.power_name(power), evidence.colour(power));
        for sample in &evidence.tables.load_samples {
            if sample.power.as_deref() == Some(power)
                && sample.equivalent_airspeed_m_s.is_finite()
                && sample.load_factor.is_finite()
            {
                own.push(
                    sample.equivalent_airspeed_m_s,
                    sample.load_factor,
                    None,
                    None,
                );
            }
        }
        if !own.x.is_empty() {
            points.push(own);
        }
    }
    let of_all = |pick: fn(&Points) -> &Vec<f64>| {
        points.iter().flat_map(pick).copied().max_by(f64::total_cmp)
    };
    let (fastest, greatest) = (of_all(|p| &p.x)?, of_all(|p| &p.y)?);
    let thinned = thin(points.iter_mut());
    let (id, airframe) = powers.last().and_then(|p| airframe_of(evidence, p))?;
    let (lines, marks) = envelope(evidence, id, airframe, powers, fastest, greatest);
    let measured = powers
        .iter()
        .flat_map(|p| rows(evidence, p))
        .any(|l| l.source == "accelerometer");
    Some(Figure {
        id: format!("load-against-speed-{}", powers.join("-")),
        caption: format!(
            "The greatest load factor flown is {greatest:.1}, the greatest equivalent airspeed \
             {fastest:.0} m/s{}.{thinned}",
            match airframe.load_factor_limit {
                Some(limit) if greatest > limit =>
                    format!(": beyond the declared load factor of {limit:.1}"),
                Some(limit) => format!(": inside the declared load factor of {limit:.1}"),
                None => "; no limit is declared to hold it against".to_owned(),
            }
        ),
        alt: format!(
            "Load factor {} against equivalent airspeed, one marker a power system, with the stall \
             line, declared limits and gust lines where they are known.",
            if measured {
                "by accelerometer"
            } else {
                "by turn rate"
            }
        ),
        data: FigureData::Plots(Plots {
            panels: vec![Plot {
                title: String::new(),
                x: axis("equivalent airspeed", "m/s"),
                y: axis("load factor", ""),
                x_range: AxisRange::FromZero,
                y_range: AxisRange::Fitted,
                lines,
                points,
                marks,
            }],
        }),
    })
}

/// Stall line, declared limits, gust lines.
fn envelope(
    evidence: &Evidence,
    id: &str,
    airframe: &Airframe,
    powers: &[&str],
    fastest: f64,
    greatest: f64,
) -> (Vec<Line>, Vec<Mark>) {
    let mut lines = Vec::new();
    let top = airframe.load_factor_limit.unwrap_or(greatest).max(greatest);
    if let Some(stall) = airframe.stall_speed_m_s {
        let mut line = Line::new("stall", NEUTRAL);
        let until = (stall * top.sqrt()).min(fastest);
        for k in 0..=STEPS {
            let v = until * k as f64 / STEPS as f64;
            line.push(v, stall_load_factor(v, stall));
        }
        lines.push(line);
    }
    if let Some((wing, density)) = wing(evidence, powers, id, airframe) {
        for sign in [1.0, -1.0] {
            let mut line = Line::new(
                &format!("gust of {GUST_M_S:.1} m/s (reference)"),
                NEUTRAL + 1,
            );
            for k in 0..=STEPS {
                let v = fastest * k as f64 / STEPS as f64;
                line.push(v, 1.0 + sign * wing.gust_increment(GUST_M_S, v, density));
            }
            lines.push(line);
        }
    }
    let mut marks = Vec::new();
    let mut mark = |label: &str, at: Option<f64>, across: Across| {
        marks.extend(at.map(|at| Mark {
            label: label.to_owned(),
            at,
            across,
        }));
    };
    mark("declared limit", airframe.load_factor_limit, Across::Y);
    mark(
        "declared limit, pushing",
        airframe.negative_load_factor_limit,
        Across::Y,
    );
    mark("declared speed limit", airframe.speed_limit_m_s, Across::X);
    (lines, marks)
}

fn by_flight(evidence: &Evidence, powers: &[&str]) -> Option<DataTable> {
    let rows: Vec<Vec<DataCell>> = evidence
        .tables
        .flight_loads
        .iter()
        .filter(|l| l.power.as_deref().is_some_and(|p| powers.contains(&p)))
        .map(|l| {
            vec![
                DataCell::Text(l.flight.clone()),
                DataCell::text(l.day.as_deref()),
                DataCell::Text(
                    l.power
                        .as_deref()
                        .map_or_else(String::new, |p| evidence.power_name(p)),
                ),
                DataCell::Text(l.source.clone()),
                DataCell::Number(l.hours_watched * 60.0),
                DataCell::Number(l.greatest_load_factor),
                DataCell::Number(l.least_load_factor),
                DataCell::number(l.damage_exponent_5),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| DataTable {
        id: format!("loads-{}", powers.join("-")),
        title: "Loads of each flight".to_owned(),
        columns: vec![
            DataColumn::new("flight", "", 0),
            DataColumn::new("day", "", 0),
            DataColumn::new("power system", "", 0),
            DataColumn::new("load factor from", "", 0),
            DataColumn::new("watched", "min", 1),
            DataColumn::new("greatest load factor", "1", 2),
            DataColumn::new("least load factor", "1", 2),
            DataColumn::new("damage at exponent 5 (relative)", "/h", 0),
        ],
        rows,
    })
}

/// Crossings an hour of each load factor: flights' mean with its t interval.
fn exceedances(evidence: &Evidence, powers: &[&str]) -> Option<(Figure, DataTable)> {
    let mut levels: Vec<f64> = evidence
        .tables
        .load_crossings
        .iter()
        .map(|r| r.load_factor)
        .collect();
    levels.sort_by(f64::total_cmp);
    levels.dedup();
    let rate = |power: &str, level: f64| -> Option<Estimate> {
        let rates: Vec<f64> = evidence
            .tables
            .load_crossings
            .iter()
            .filter(|r| r.power.as_deref() == Some(power) && r.load_factor == level)
            .map(|r| r.crossings as f64 / r.hours_watched)
            .collect();
        let mut mean = over_flights(&rates, "/h", "")?;
        mean.low = mean.low.map(|l| l.max(0.0));
        Some(mean)
    };
    levels.retain(|l| {
        powers
            .iter()
            .any(|p| rate(p, *l).and_then(|r| r.value).is_some_and(|v| v > 0.0))
    });
    if levels.is_empty() {
        return None;
    }
    let hours =
        |power: &str| -> f64 { rows(evidence, power).iter().map(|l| l.hours_watched).sum() };
    let lines: Vec<Line> = powers
        .iter()
        .filter_map(|power| {
            let mut line = Line::new(&evidence.power_name(power), evidence.colour(power));
            // A logarithmic axis ends somewhere: here at a tenth of one crossing in all that was watched.
            let least = 0.1 / hours(power);
            for level in levels.iter().filter(|l| **l > 1.0) {
                let Some(found) = rate(power, *level) else {
                    continue;
                };
                let Some(value) = found.value.filter(|v| *v > 0.0) else {
                    continue;
                };
                match (found.low, found.high) {
                    (Some(low), Some(high)) => {
                        line.push_band(*level, value, low.max(least), high);
                    }
                    _ => line.push(*level, value),
                }
            }
            (!line.x.is_empty()).then_some(line)
        })
        .collect();
    let mut columns = vec![DataColumn::new("load factor crossed", "1", 1)];
    columns.extend(
        powers
            .iter()
            .map(|p| DataColumn::new(&format!("{}, an hour", evidence.power_name(p)), "/h", 1)),
    );
    let table = DataTable {
        id: format!("exceedances-{}", powers.join("-")),
        title: "How often an hour a load factor is crossed".to_owned(),
        columns,
        rows: levels
            .iter()
            .map(|level| {
                let mut row = vec![DataCell::Number(*level)];
                row.extend(powers.iter().map(|p| match rate(p, *level) {
                    Some(r) => DataCell::interval(r.value, r.low, r.high),
                    None => DataCell::Blank(()),
                }));
                row
            })
            .collect(),
    };
    let watched: Vec<String> = powers
        .iter()
        .map(|p| format!("{} {:.1} h", evidence.power_name(p), hours(p)))
        .collect();
    let figure = Figure {
        id: table.id.clone(),
        caption: format!(
            "Load factors crossed upwards an hour of flight; bands are 95 % intervals over flights; watched: \
             {}.",
            watched.join(", ")
        ),
        alt:
            "Crossings an hour against load factor, one line a power system, on a logarithmic axis."
                .to_owned(),
        data: FigureData::Plots(Plots {
            panels: vec![Plot {
                title: String::new(),
                x: axis("load factor", ""),
                y: axis("crossed upwards", "an hour"),
                x_range: AxisRange::Fitted,
                y_range: AxisRange::Logarithmic,
                lines,
                points: Vec::new(),
                marks: Vec::new(),
            }],
        }),
    };
    Some((figure, table))
}

/// Cycles an hour by range and mean, a panel a power system.
fn cycles(evidence: &Evidence, powers: &[&str], answer: &Answer) -> Option<(Figure, DataTable)> {
    let width = evidence.tables.load_cycles.first()?.cell;
    let cell = |v: f64| (v / width).round() as i64;
    let of = |power: &str, at: (i64, i64)| -> f64 {
        let hours: f64 = rows(evidence, power).iter().map(|l| l.hours_watched).sum();
        let counted: f64 = evidence
            .tables
            .load_cycles
            .iter()
            .filter(|c| c.power.as_deref() == Some(power))
            .filter(|c| (cell(c.range_low), cell(c.mean_low)) == at)
            .map(|c| c.cycles)
            .sum();
        counted / hours
    };
    let mut places: Vec<(i64, i64)> = evidence
        .tables
        .load_cycles
        .iter()
        .filter(|c| c.power.as_deref().is_some_and(|p| powers.contains(&p)))
        .map(|c| (cell(c.range_low), cell(c.mean_low)))
        .collect();
    places.sort_unstable();
    places.dedup();
    let (first, last) = (places.first()?.0, places.last()?.0);
    let means = || places.iter().map(|p| p.1);
    let (low, high) = (means().min()?, means().max()?);
    let edges = |from: i64, to: i64| {
        (from..=to + 1)
            .map(|k| width * k as f64)
            .collect::<Vec<_>>()
    };
    let panels = powers
        .iter()
        .map(|power| CellPanel {
            title: evidence.power_name(power),
            x: axis("range of load factor", ""),
            y: axis("mean of the cycle", ""),
            value: axis("cycles", "an hour"),
            digits: 0,
            x_edges: edges(first, last),
            y_edges: edges(low, high),
            cells: places
                .iter()
                .map(|at| (at, of(power, *at)))
                .filter(|(_, v)| *v > 0.0)
                .map(|(at, value)| MapCell {
                    column: (at.0 - first) as u32,
                    row: (at.1 - low) as u32,
                    value,
                    note: String::new(),
                })
                .collect(),
        })
        .collect();
    let mut columns = vec![
        DataColumn::new("range from", "1", 1),
        DataColumn::new("mean from", "1", 1),
    ];
    columns.extend(powers.iter().map(|p| {
        DataColumn::new(
            &format!("{}, cycles an hour", evidence.power_name(p)),
            "/h",
            1,
        )
    }));
    let table = DataTable {
        id: format!("load-cycles-{}", powers.join("-")),
        title: format!("Rainflow cycles an hour, in cells of {width:.1}"),
        columns,
        rows: places
            .iter()
            .map(|at| {
                let mut row = vec![
                    DataCell::Number(width * at.0 as f64),
                    DataCell::Number(width * at.1 as f64),
                ];
                row.extend(powers.iter().map(|p| DataCell::Number(of(p, *at))));
                row
            })
            .collect(),
    };
    let flights: usize = powers.iter().map(|p| rows(evidence, p).len()).sum();
    let figure = Figure {
        id: table.id.clone(),
        caption: match answer.estimates.get("damage_ratio_exponent_5") {
            Some(ratio) => format!(
                "Load cycles an hour by range and mean; at exponent 5 they tire the airframe {} times as \
                 fast as before.",
                with_interval(ratio, 1.0, 2, "")
            ),
            None => format!(
                "Load cycles an hour by range and mean, from {}.",
                counted(flights, "flight")
            ),
        },
        alt: "Cells of range and mean of the load factor's cycles with their number an hour, a panel a \
              power system."
            .to_owned(),
        data: FigureData::CellMap(CellMap { panels }),
    };
    Some((figure, table))
}
