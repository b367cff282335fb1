//! A pack's resistance over its flights, as a picture and a table (part of question 5).

use crate::findings::answer::{DataCell, DataColumn, DataTable};
use crate::findings::evidence::Evidence;
use crate::findings::figure::{AxisRange, Figure, FigureData, Line, NEUTRAL, Plot, Plots, Points};
use crate::findings::pack_trend::Trend;
use crate::findings::pictures::axis;
use crate::store::PackFlightRow;
use crate::units::ZERO_CELSIUS;

/// Resistance by flight with its interval, one marker a power system, and the trend.
pub(super) fn resistance_trend(
    evidence: &Evidence,
    pack: &str,
    rows: &[&PackFlightRow],
    places: &[f64],
    trend: Option<&Trend>,
) -> Option<Figure> {
    let measured: Vec<&PackFlightRow> = rows
        .iter()
        .copied()
        .filter(|r| r.resistance_ohm.is_some())
        .collect();
    let mut points: Vec<(&str, Points)> = Vec::new();
    for (row, order) in measured.iter().zip(places) {
        let power = row.power.as_deref().unwrap_or("unknown");
        let place = points
            .iter()
            .position(|(p, _)| *p == power)
            .unwrap_or_else(|| {
                points.push((
                    power,
                    Points::new(&evidence.power_name(power), evidence.colour(power)),
                ));
                points.len() - 1
            });
        let milliohm = |ohm: Option<f64>| ohm.map(|r| r * 1000.0);
        if let Some(value) = milliohm(row.resistance_ohm) {
            points[place].1.push(
                order + 1.0,
                value,
                milliohm(row.resistance_low_ohm),
                milliohm(row.resistance_high_ohm),
            );
        }
    }
    if points.is_empty() {
        return None;
    }
    let last = places.last().copied().unwrap_or_default();
    let line = trend.map(|t| {
        let mut line = Line::new("trend", NEUTRAL);
        for order in [0.0, last] {
            line.push(
                order + 1.0,
                1000.0 * (t.line.intercept + t.line.slope * order),
            );
        }
        line
    });
    let caption = match trend {
        Some(t) if t.rises() => format!(
            "Its resistance rises by {:.2} mΩ a flight ({:.2} to {:.2} mΩ).",
            1000.0 * t.line.slope,
            1000.0 * t.line.low,
            1000.0 * t.line.high
        ),
        Some(t) => format!(
            "Its resistance changes by {:.2} mΩ a flight ({:.2} to {:.2} mΩ): ageing is not settled.",
            1000.0 * t.line.slope,
            1000.0 * t.line.low,
            1000.0 * t.line.high
        ),
        None => "Resistance of the pack in each flight; too few flights for a trend.".to_owned(),
    };
    Some(Figure {
        id: format!("resistance-{pack}"),
        caption,
        alt:
            "Resistance of the pack one to three seconds after a step of the current, by flight in \
              order, with its 95 % interval, and the Theil-Sen line where there are flights enough."
                .to_owned(),
        data: FigureData::Plots(Plots {
            panels: vec![Plot {
                title: String::new(),
                x: axis("flights with this pack", ""),
                y: axis("pack resistance", "mΩ"),
                x_range: AxisRange::Fitted,
                y_range: AxisRange::Fitted,
                lines: line.into_iter().collect(),
                points: points.into_iter().map(|(_, p)| p).collect(),
                marks: Vec::new(),
            }],
        }),
    })
}

pub(super) fn by_flight(
    evidence: &Evidence,
    pack: &str,
    rows: &[&PackFlightRow],
) -> Option<DataTable> {
    let milliohm = |ohm: Option<f64>| ohm.map(|r| r * 1000.0);
    let rows: Vec<Vec<DataCell>> = rows
        .iter()
        .map(|r| {
            vec![
                DataCell::Text(r.flight.clone()),
                DataCell::text(r.day.as_deref()),
                DataCell::interval(
                    milliohm(r.resistance_ohm),
                    milliohm(r.resistance_low_ohm),
                    milliohm(r.resistance_high_ohm),
                ),
                DataCell::number(milliohm(r.resistance_sooner_ohm)),
                DataCell::number(milliohm(r.resistance_later_ohm)),
                DataCell::Number(r.steps as f64),
                DataCell::number(r.pack_temperature_k.map(|k| k - ZERO_CELSIUS)),
                DataCell::number(r.open_circuit_start_v),
                DataCell::number(r.sag_at_peak_v),
                DataCell::number(r.charge_mah),
                DataCell::number(r.put_back_mah),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| DataTable {
        id: format!("pack-flights-{pack}"),
        title: format!("'{}' in each flight", evidence.season.packs[pack].name),
        columns: vec![
            DataColumn::new("flight", "", 0),
            DataColumn::new("day", "", 0),
            DataColumn::new("resistance, 1 to 3 s after a step", "mOhm", 1),
            DataColumn::new("0.5 to 1.5 s", "mOhm", 1),
            DataColumn::new("2 to 5 s", "mOhm", 1),
            DataColumn::new("steps", "1", 0),
            DataColumn::new("pack temperature", "Cel", 0),
            DataColumn::new("open circuit at the start", "V", 2),
            DataColumn::new("volts lost at peak current", "V", 2),
            DataColumn::new("charge logged", "mA.h", 0),
            DataColumn::new("charge put back", "mA.h", 0),
        ],
        rows,
    })
}
