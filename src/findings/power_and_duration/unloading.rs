//! What the air takes off the bench's current: by throttle, by airspeed, as a map.

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable};
use crate::findings::evidence::Evidence;
use crate::findings::figure::{CellMap, CellPanel, Figure, FigureData, MapCell};
use crate::findings::pictures::axis;
use crate::stats::estimate::Estimate;
use crate::store::{UnloadingCellRow, UnloadingRow};

/// Unloading at the highest throttle, its slope in airspeed and its value at level speed.
pub(super) fn estimates(evidence: &Evidence, power: &str, answer: &mut Answer) {
    highest_throttle(evidence, power, answer);
    by_speed(evidence, power, answer);
}

/// The unloading of the highest throttle bin.
fn top_bin<'a>(evidence: &'a Evidence, power: &str) -> Option<&'a UnloadingRow> {
    evidence
        .tables
        .unloading
        .iter()
        .filter(|r| r.power == power)
        .max_by(|a, b| a.throttle.total_cmp(&b.throttle))
}

fn highest_throttle(evidence: &Evidence, power: &str, answer: &mut Answer) {
    let Some(row) = top_bin(evidence, power) else {
        return;
    };
    answer.estimates.insert(
        "unloading_at_highest_throttle".to_owned(),
        Estimate {
            low: row.unloading_low,
            high: row.unloading_high,
            ..Estimate::plus_minus(
                row.unloading,
                0.0,
                "1",
                "flight current over bench current at equal throttle, voltage and density; t \
                 interval over flights",
            )
        }
        .at("throttle", row.throttle, "1")
        .count("flights", row.flights as usize)
        .count("holds", row.holds as usize),
    );
}

fn by_speed(evidence: &Evidence, power: &str, answer: &mut Answer) {
    let rows = &evidence.tables.unloading_by_speed;
    let Some(row) = rows.iter().find(|r| r.power == power) else {
        return;
    };
    let counted = |estimate: Estimate| {
        estimate
            .count("flights", row.flights as usize)
            .count("holds", row.holds as usize)
    };
    let method = "flight current over bench current at full throttle against airspeed; the slope from \
                  within flights; jackknife over flights, t interval";
    answer.estimates.insert(
        "unloading_slope_with_airspeed".to_owned(),
        counted(Estimate {
            low: row.slope_low_s_m,
            high: row.slope_high_s_m,
            ..Estimate::plus_minus(row.slope_s_m, 0.0, "s/m", method)
        }),
    );
    if let (Some(value), Some(speed)) = (row.unloading_at_level_speed, row.level_speed_m_s) {
        answer.estimates.insert(
            "unloading_at_level_speed".to_owned(),
            counted(Estimate {
                low: row.unloading_at_level_speed_low,
                high: row.unloading_at_level_speed_high,
                ..Estimate::plus_minus(value, 0.0, "1", method)
            })
            .at("airspeed", speed, "m/s"),
        );
    }
}

fn cells<'a>(evidence: &'a Evidence, power: &str) -> Vec<&'a UnloadingCellRow> {
    let rows = &evidence.tables.unloading_map;
    rows.iter().filter(|r| r.power == power).collect()
}

/// Edges of classes in ascending order, each once; classes between two that hold nothing stay empty.
fn edges(mut ends: Vec<f64>, width: f64) -> Vec<f64> {
    ends.sort_by(f64::total_cmp);
    let (Some(&first), Some(&last)) = (ends.first(), ends.last()) else {
        return ends;
    };
    let count = ((last - first) / width).round() as usize;
    (0..=count).map(|n| first + n as f64 * width).collect()
}

/// The map of unloading over throttle and airspeed.
pub(super) fn map(evidence: &Evidence, power: &str) -> Option<Figure> {
    let cells = cells(evidence, power);
    let first = *cells.first()?;
    let name = evidence.power_name(power);
    let (wide, high) = (
        first.airspeed_high_m_s - first.airspeed_low_m_s,
        first.throttle_high - first.throttle_low,
    );
    let ends = |low: fn(&UnloadingCellRow) -> f64, high: fn(&UnloadingCellRow) -> f64| {
        cells.iter().flat_map(|c| [low(c), high(c)]).collect()
    };
    let x_edges = edges(ends(|c| c.airspeed_low_m_s, |c| c.airspeed_high_m_s), wide);
    let y_edges = edges(ends(|c| c.throttle_low, |c| c.throttle_high), high);
    let place = |edges: &[f64], low: f64, width: f64| ((low - edges[0]) / width).round() as u32;
    let drawn = cells
        .iter()
        .map(|c| MapCell {
            column: place(&x_edges, c.airspeed_low_m_s, wide),
            row: place(&y_edges, c.throttle_low, high),
            value: 100.0 * c.unloading,
            note: format!("{} in {}", c.holds, c.flights),
        })
        .collect();
    let most = cells
        .iter()
        .max_by(|a, b| a.unloading.total_cmp(&b.unloading))?;
    let least = cells
        .iter()
        .min_by(|a, b| a.unloading.total_cmp(&b.unloading))?;
    let at = |c: &UnloadingCellRow| {
        format!(
            "{:.0} % at about {:.0} % throttle and {:.0} m/s",
            100.0 * c.unloading,
            50.0 * (c.throttle_low + c.throttle_high),
            0.5 * (c.airspeed_low_m_s + c.airspeed_high_m_s)
        )
    };
    Some(Figure {
        id: format!("unloading-map-{power}"),
        caption: format!(
            "Of its bench current {name} draws between {} and {}. Small print: holds, in how many \
             flights. The bench reaches from {:.0} to {:.0} % throttle; nothing is compared outside.",
            at(least),
            at(most),
            100.0 * first.bench_throttle_low,
            100.0 * first.bench_throttle_high
        ),
        alt: format!(
            "A grid of throttle and airspeed for {name}: in each cell that was held, flight current as \
             a percentage of bench current, with the number of holds and of flights."
        ),
        data: FigureData::CellMap(CellMap {
            panels: vec![CellPanel {
                title: name,
                x: axis("airspeed", "m/s"),
                y: axis("throttle", "%"),
                value: axis("flight current ÷ bench current", "%"),
                digits: 0,
                x_edges,
                y_edges: y_edges.iter().map(|e| 100.0 * e).collect(),
                cells: drawn,
            }],
        }),
    })
}

pub(super) fn table(evidence: &Evidence, power: &str) -> Option<DataTable> {
    let cells = cells(evidence, power);
    (!cells.is_empty()).then(|| DataTable {
        id: format!("unloading-map-{power}"),
        title: format!(
            "Flight current over bench current of {} by throttle and airspeed",
            evidence.power_name(power)
        ),
        columns: vec![
            DataColumn::new("throttle from", "1", 0),
            DataColumn::new("throttle to", "1", 0),
            DataColumn::new("airspeed from", "m/s", 0),
            DataColumn::new("airspeed to", "m/s", 0),
            DataColumn::new("flight ÷ bench, median", "1", 3),
            DataColumn::new("holds", "1", 0),
            DataColumn::new("flights", "1", 0),
        ],
        rows: cells
            .iter()
            .map(|c| {
                vec![
                    DataCell::Number(c.throttle_low),
                    DataCell::Number(c.throttle_high),
                    DataCell::Number(c.airspeed_low_m_s),
                    DataCell::Number(c.airspeed_high_m_s),
                    DataCell::Number(c.unloading),
                    DataCell::Number(c.holds as f64),
                    DataCell::Number(c.flights as f64),
                ]
            })
            .collect(),
    })
}
