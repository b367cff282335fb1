//! Season tables to finished series for the pictures of bench and flight power.

use crate::findings::evidence::Evidence;
use crate::findings::figure::{
    Axis, BenchAgainstFlight, BenchCurves, CurrentDuration, FAINT, Figure, FigureData, Line, Panel,
    Points, PowerPanel, Rating,
};
use crate::findings::series::{MOST_LINES, evenly, thin};
use crate::stats::NORMAL_95;
use crate::store::BenchCurveRow;

pub(super) fn axis(quantity: &str, unit: &str) -> Axis {
    Axis {
        quantity: quantity.to_owned(),
        unit: unit.to_owned(),
    }
}

pub(super) fn percent(fraction: f64) -> f64 {
    fraction * 100.0
}

/// Thrust and current by throttle at reference conditions, both systems in one picture.
/// `None` when no system has a bench curve or reading.
pub fn bench_curves(evidence: &Evidence, powers: &[&str], caption: String) -> Option<Figure> {
    let mut thrust = Panel::new(axis("throttle", "%"), axis("static thrust", "N"));
    let mut current = Panel::new(axis("throttle", "%"), axis("current", "A"));
    for power in powers {
        let (label, colour) = (evidence.power_name(power), evidence.colour(power));
        let rows: Vec<_> = evidence
            .tables
            .bench_curves
            .iter()
            .filter(|r| r.power == *power)
            .collect();
        let line = |y: &dyn Fn(usize) -> Option<(f64, f64, f64)>| {
            let mut line = Line::new(&label, colour);
            for (i, row) in rows.iter().enumerate() {
                if let Some((value, low, high)) = y(i) {
                    line.push_band(percent(row.throttle), value, low, high);
                }
            }
            line
        };
        current.add(line(&|i| {
            let r = rows[i];
            Some((r.current_a, r.current_low_a, r.current_high_a))
        }));
        thrust.add(line(&|i| {
            let r = rows[i];
            Some((r.thrust_n?, r.thrust_low_n?, r.thrust_high_n?))
        }));
        let mut currents = Points::new(&label, colour);
        let mut thrusts = Points::new(&label, colour);
        for point in evidence
            .tables
            .bench_points
            .iter()
            .filter(|p| p.power == *power)
        {
            let Some(throttle) = point.throttle else {
                continue;
            };
            // Reading uncertainties are standard ones; the picture shows 95 %.
            let ends = |value: f64, u: Option<f64>| {
                (
                    u.map(|u| value - NORMAL_95 * u),
                    u.map(|u| value + NORMAL_95 * u),
                )
            };
            if let Some(value) = point.reference_current_a {
                let (low, high) = ends(value, point.current_u_a);
                currents.push(percent(throttle), value, low, high);
            }
            if let Some(value) = point.reference_thrust_n {
                let (low, high) = ends(value, point.thrust_u_n);
                thrusts.push(percent(throttle), value, low, high);
            }
        }
        current.scatter(currents);
        thrust.scatter(thrusts);
    }
    let panels: Vec<Panel> = [thrust, current]
        .into_iter()
        .filter(|p| !p.is_empty())
        .collect();
    if panels.is_empty() {
        return None;
    }
    Some(Figure {
        id: format!("bench-curves-{}", powers.join("-")),
        alt: format!(
            "Thrust and current on the bench against throttle, brought to the same voltage and air \
             density, for {}.",
            names(evidence, powers)
        ),
        caption,
        data: FigureData::BenchCurves(BenchCurves { panels }),
    })
}

/// Bench current by throttle as a line, holds in flight as points.
pub fn bench_against_flight(
    evidence: &Evidence,
    powers: &[&str],
    caption: String,
) -> Option<Figure> {
    let mut panels = Vec::new();
    for power in powers {
        let colour = evidence.colour(power);
        let mut panel = Panel::new(axis("throttle", "%"), axis("current", "A"));
        let curve: Vec<&BenchCurveRow> = evidence
            .tables
            .bench_curves
            .iter()
            .filter(|r| r.power == *power)
            .collect();
        let mut bench = Line::new("bench", colour);
        for row in &curve {
            bench.push_band(
                percent(row.throttle),
                row.current_a,
                row.current_low_a,
                row.current_high_a,
            );
        }
        // Holds differ in voltage; times unloading, the bench's own conditions hold for all.
        let mut flown = Points::new("mean over flights, at the bench's voltage and air", colour);
        for row in evidence
            .tables
            .unloading
            .iter()
            .filter(|r| r.power == *power)
        {
            if let Some(amps) = bench_current(&curve, row.throttle) {
                flown.push(
                    percent(row.throttle),
                    row.unloading * amps,
                    row.unloading_low.map(|k| k * amps),
                    row.unloading_high.map(|k| k * amps),
                );
            }
        }
        let mut single = Points::new("one hold", colour + FAINT);
        for hold in evidence.tables.holds.iter().filter(|h| h.airborne) {
            if hold.power.as_deref() != Some(power) {
                continue;
            }
            if let (Some(kappa), Some(amps)) =
                (hold.unloading, bench_current(&curve, hold.throttle))
            {
                single.push(percent(hold.throttle), kappa * amps, None, None);
            }
        }
        panel.add(bench);
        panel.scatter(single);
        panel.scatter(flown);
        if !panel.is_empty() {
            panels.push(PowerPanel {
                title: evidence.power_name(power),
                panel,
            });
        }
    }
    if panels.is_empty() {
        return None;
    }
    let thinned = thin(panels.iter_mut().flat_map(|p| &mut p.panel.points));
    Some(Figure {
        id: format!("bench-against-flight-{}", powers.join("-")),
        alt: format!(
            "Current against throttle: the bench as a line, holds in flight as points with \
             intervals over flights, for {}.",
            names(evidence, powers)
        ),
        caption: caption + &thinned,
        data: FigureData::BenchAgainstFlight(BenchAgainstFlight { panels }),
    })
}

/// The drawn bench curve's current, straight lines between its points; none beyond them but for the
/// jitter of a stick at its stop.
fn bench_current(curve: &[&BenchCurveRow], throttle: f64) -> Option<f64> {
    let (first, last) = (curve.first()?, curve.last()?);
    if throttle < first.throttle - 0.005 || throttle > last.throttle + 0.005 {
        return None;
    }
    let after = curve.partition_point(|r| r.throttle < throttle);
    let (Some(a), Some(b)) = (
        after.checked_sub(1).and_then(|i| curve.get(i)),
        curve.get(after),
    ) else {
        return Some(if after == 0 {
            first.current_a
        } else {
            last.current_a
        });
    };
    let share = (throttle - a.throttle) / (b.throttle - a.throttle);
    Some(a.current_a + share * (b.current_a - a.current_a))
}

/// Largest mean current held for t seconds: each flight's envelope and the bench, with ratings.
pub fn current_duration(evidence: &Evidence, power: &str, caption: String) -> Option<Figure> {
    let colour = evidence.colour(power);
    let mut flights = held_lines(evidence, power, "flight", "each flight");
    let mut lines: Vec<Line> = Vec::new();
    let flown = flights.len();
    let mut thinned = String::new();
    if flights.len() > 1 {
        lines.push(envelope(
            &flights,
            &format!("the most of {} flights", flights.len()),
            colour,
        ));
        flights.iter_mut().for_each(|l| l.colour += FAINT);
        let drawn: Vec<Line> = evenly(flown, MOST_LINES)
            .map(|i| flights[i].clone())
            .collect();
        if drawn.len() < flown {
            thinned = format!(
                " Of {flown} flights {} are drawn, evenly taken.",
                drawn.len()
            );
        }
        flights = drawn;
    }
    lines.extend(flights);
    lines.extend(held_lines(evidence, power, "bench", "bench"));
    if lines.is_empty() {
        return None;
    }
    let longest = lines
        .iter()
        .flat_map(|l| l.x.last())
        .fold(1.0_f64, |a, &b| a.max(b));
    let mut ratings = Vec::new();
    if let Some(controller) = evidence
        .season
        .powers
        .get(power)
        .and_then(|p| p.controller.as_ref())
        .and_then(|c| evidence.season.controllers.get(c))
    {
        if let Some(current) = controller.continuous_a {
            ratings.push(Rating {
                label: "continuous rating".to_owned(),
                current,
                from_s: controller
                    .burst_s
                    .filter(|_| controller.burst_a.is_some())
                    .unwrap_or(0.1),
                to_s: longest,
            });
        }
        if let (Some(current), Some(seconds)) = (controller.burst_a, controller.burst_s) {
            ratings.push(Rating {
                label: "burst rating".to_owned(),
                current,
                from_s: 0.1,
                to_s: seconds,
            });
        }
    }
    Some(Figure {
        id: format!("current-duration-{power}"),
        alt: format!(
            "Largest mean current held for a given time, each flight of {} and the bench, with the \
             controller's ratings.",
            evidence.power_name(power)
        ),
        caption: caption + &thinned,
        data: FigureData::CurrentDuration(CurrentDuration {
            x: axis("held for", "s"),
            y: axis("mean current", "A"),
            lines,
            ratings,
        }),
    })
}

/// One line a flight (or bench run), all with one label.
fn held_lines(evidence: &Evidence, power: &str, source: &str, label: &str) -> Vec<Line> {
    let mut lines: Vec<(&str, Line)> = Vec::new();
    for row in &evidence.tables.current_duration {
        if row.source != source || row.power.as_deref() != Some(power) {
            continue;
        }
        if lines.last().is_none_or(|(id, _)| *id != row.id) {
            lines.push((&row.id, Line::new(label, evidence.colour(power))));
        }
        if let Some((_, line)) = lines.last_mut() {
            line.push(row.duration_s, row.current_a);
        }
    }
    lines.into_iter().map(|(_, line)| line).collect()
}

/// The largest value of any line at each of their durations.
fn envelope(lines: &[Line], label: &str, colour: u32) -> Line {
    let mut points: Vec<(f64, f64)> = lines
        .iter()
        .flat_map(|l| l.x.iter().copied().zip(l.y.iter().copied()))
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.total_cmp(&a.1)));
    points.dedup_by(|later, first| later.0 == first.0);
    let mut out = Line::new(label, colour);
    for (x, y) in points {
        out.push(x, y);
    }
    out
}

fn names(evidence: &Evidence, powers: &[&str]) -> String {
    powers
        .iter()
        .map(|p| evidence.power_name(p))
        .collect::<Vec<_>>()
        .join(" and ")
}
