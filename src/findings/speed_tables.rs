//! The level speeds and the straights left out, as tables for the carry-over page.

use crate::findings::answer::{DataCell, DataColumn, DataTable};
use crate::findings::evidence::{Evidence, over_flights, with_interval};
use crate::stats::NORMAL_95;
use crate::store::FlightRow;
use crate::store::from_flight::JOINT_FIT;

/// Level top speed of every flight of the two systems, with its wind and passes.
pub fn level_speeds(evidence: &Evidence, powers: [&str; 2]) -> Option<DataTable> {
    let rows: Vec<Vec<DataCell>> = evidence
        .tables
        .flights
        .iter()
        .filter_map(|f| {
            let power = f.power.as_deref().filter(|p| powers.contains(p))?;
            let speed = f.level_speed_m_s?;
            let half = f.level_speed_se_m_s.map(|se| NORMAL_95 * se);
            Some(vec![
                DataCell::text(Some(&f.flight)),
                DataCell::text(f.day.as_deref()),
                DataCell::Text(evidence.power_name(power)),
                DataCell::text(
                    f.airframe
                        .as_ref()
                        .map(|a| evidence.airframe_name(a))
                        .as_deref(),
                ),
                DataCell::interval(
                    Some(speed),
                    half.map(|h| speed - h),
                    half.map(|h| speed + h),
                ),
                DataCell::text(Some(&f.level_speed_source)),
                DataCell::Number(f.passes as f64),
                DataCell::number(f.share_reached),
                DataCell::number(f.pass_voltage_v),
                DataCell::number(f.wind_to_north_m_s),
                DataCell::number(f.wind_to_east_m_s),
                DataCell::number(f.wind_se_m_s),
            ])
        })
        .collect();
    (!rows.is_empty()).then(|| DataTable {
        id: format!("level-speeds-{}", powers.join("-")),
        title: "Level top speed of each flight at its own pass voltage, and the wind found"
            .to_owned(),
        columns: vec![
            DataColumn::new("flight", "", 0),
            DataColumn::new("day", "", 0),
            DataColumn::new("power system", "", 0),
            DataColumn::new("airframe", "", 0),
            DataColumn::new("level top speed", "m/s", 2),
            DataColumn::new("from", "", 0),
            DataColumn::new("passes", "1", 0),
            DataColumn::new("share reached", "1", 2),
            DataColumn::new("pass voltage", "V", 2),
            DataColumn::new("wind to north", "m/s", 1),
            DataColumn::new("wind to east", "m/s", 1),
            DataColumn::new("wind standard error", "m/s", 1),
        ],
        rows,
    })
}

type Pick = fn(&FlightRow) -> Option<f64>;

/// Ways to the level speed besides the joint fit.
pub const METHODS: [(&str, Pick); 4] = [
    ("speed and acceleration", |f| f.level_speed_dvdt_m_s),
    ("reciprocal pairs", |f| f.level_speed_reciprocal_m_s),
    ("circle", |f| f.level_speed_circle_m_s),
    ("airspeed sensor", |f| f.level_speed_pitot_m_s),
];

/// Level top speed by every method, flight by flight, and the mean difference of each from the joint
/// fit, flights as the unit.
pub fn methods(evidence: &Evidence, powers: [&str; 2]) -> Option<(DataTable, String)> {
    let flights: Vec<(&FlightRow, f64)> = evidence
        .tables
        .flights
        .iter()
        .filter(|f| f.level_speed_source == JOINT_FIT)
        .filter(|f| f.power.as_deref().is_some_and(|p| powers.contains(&p)))
        .filter_map(|f| Some((f, f.level_speed_m_s?)))
        .collect();
    let mut rows: Vec<Vec<DataCell>> = flights
        .iter()
        .map(|(f, speed)| {
            let half = f.level_speed_se_m_s.map(|se| NORMAL_95 * se);
            let mut row = vec![
                DataCell::text(Some(&f.flight)),
                DataCell::interval(
                    Some(*speed),
                    half.map(|h| speed - h),
                    half.map(|h| speed + h),
                ),
            ];
            row.extend(METHODS.iter().map(|(_, pick)| DataCell::number(pick(f))));
            row.push(DataCell::number(f.level_speed_method_error_m_s));
            row
        })
        .collect();
    let mut words = Vec::new();
    let mut difference = vec![
        DataCell::Text("mean less the joint fit".to_owned()),
        DataCell::Blank(()),
    ];
    for (name, pick) in METHODS {
        let off: Vec<f64> = flights
            .iter()
            .filter_map(|(f, speed)| Some(pick(f)? - speed))
            .collect();
        let Some(mean) = over_flights(&off, "m/s", name) else {
            difference.push(DataCell::Blank(()));
            continue;
        };
        difference.push(DataCell::interval(mean.value, mean.low, mean.high));
        words.push(format!("{name} {}", with_interval(&mean, 1.0, 2, " m/s")));
    }
    if words.is_empty() {
        return None;
    }
    difference.push(DataCell::Blank(()));
    rows.push(difference);
    let mut columns = vec![
        DataColumn::new("flight", "", 0),
        DataColumn::new("joint fit", "m/s", 2),
    ];
    columns.extend(
        METHODS
            .iter()
            .map(|(name, _)| DataColumn::new(name, "m/s", 2)),
    );
    columns.push(DataColumn::new("charged as model error", "m/s", 2));
    let table = DataTable {
        id: format!("level-speed-methods-{}", powers.join("-")),
        title: "Level top speed of each flight by every method".to_owned(),
        columns,
        rows,
    };
    let remark = format!(
        "Other methods against the joint fit of the same passes, mean over flights: {}.",
        words.join("; ")
    );
    Some((table, remark))
}

/// Full-throttle straights that were not used, and why.
pub fn left_out(evidence: &Evidence, powers: [&str; 2]) -> Option<DataTable> {
    let of_pair =
        |flight: &str| {
            evidence.tables.flights.iter().any(|f| {
                f.flight == flight && f.power.as_deref().is_some_and(|p| powers.contains(&p))
            })
        };
    let rows: Vec<Vec<DataCell>> = evidence
        .tables
        .passes
        .iter()
        .filter(|p| !p.used && of_pair(&p.flight))
        .map(|p| {
            vec![
                DataCell::text(Some(&p.flight)),
                DataCell::number(p.start_s),
                DataCell::number(p.end_s),
                DataCell::text(Some(&p.why_not)),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| DataTable {
        id: format!("straights-left-out-{}", powers.join("-")),
        title: "Full-throttle straights left out".to_owned(),
        columns: vec![
            DataColumn::new("flight", "", 0),
            DataColumn::new("from", "s", 1),
            DataColumn::new("to", "s", 1),
            DataColumn::new("why", "", 0),
        ],
        rows,
    })
}
