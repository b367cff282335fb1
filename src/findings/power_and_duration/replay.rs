//! How long would it fly: the baseline's flights flown again with this system's bench curve.

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable};
use crate::findings::evidence::{Evidence, counted, percent, with_interval};
use crate::findings::figure::{
    Across, AxisRange, Figure, FigureData, Line, NEUTRAL, Plot, Plots, Points,
};
use crate::findings::pictures::axis;
use crate::stats;
use crate::stats::estimate::Estimate;
use crate::store::ReplayRow;

fn rows<'a>(evidence: &'a Evidence, power: &str) -> Vec<&'a ReplayRow> {
    let rows = &evidence.tables.replays;
    rows.iter().filter(|r| r.candidate == power).collect()
}

/// Predicted time to the reserve, and how far it was off where the system has flown. Words for the
/// sentence of a system that has not.
pub(super) fn estimates(evidence: &Evidence, power: &str, answer: &mut Answer) -> String {
    let rows = rows(evidence, power);
    let Some(first) = rows.first() else {
        return String::new();
    };
    let baseline = evidence.power_name(&first.baseline);
    let times: Vec<f64> = rows.iter().map(|r| r.predicted_s).collect();
    let n = times.len();
    let mean = stats::mean(&times);
    let scatter = if n > 1 {
        let size = n as f64;
        stats::t_quantile(0.975, size - 1.0) * stats::sd(&times) / size.sqrt()
    } else {
        stats::NORMAL_95 * first.own_u * mean
    };
    let shared_u = stats::mean(&rows.iter().map(|r| r.shared_u).collect::<Vec<_>>());
    let shared = stats::NORMAL_95 * shared_u * mean;
    let reached = rows.iter().filter(|r| r.reached).count();
    let mut method = format!(
        "replay: {} of {baseline} flown again with this system's bench curve and the pack that flew, \
         halfway between the same throttle and, below full throttle, the same power; interval from \
         the scatter of the flights, those two cases, the two benches, the unloading taken to be alike \
         and the scale of the charge",
        counted(n, "flight")
    );
    if reached < n {
        method += &format!(
            "; {} end before the reserve and are carried on at their mean draw",
            n - reached
        );
    }
    let predicted = Estimate::plus_minus(mean, scatter.hypot(shared), "s", &method)
        .at("reserve", evidence.season.rules.reserve.value, "1")
        .count("flights", n)
        .count("reached in the replay", reached)
        .input("table replays".to_owned());
    let words = format!(
        "; {} of {baseline} flown again with its bench curve would reach the reserve after {} in the \
         air",
        counted(n, "flight"),
        with_interval(&predicted, 1.0, 0, " s")
    );
    answer
        .estimates
        .insert("replayed_time_to_reserve".to_owned(), predicted);
    type Pick = fn(&ReplayRow) -> f64;
    let cases: [(&str, Pick); 2] = [
        ("replayed_time_at_the_same_throttle", |r| r.same_throttle_s),
        ("replayed_time_at_the_same_power", |r| r.same_power_s),
    ];
    for (key, pick) in cases {
        let times: Vec<f64> = rows.iter().map(|r| pick(r)).collect();
        let case = Estimate {
            low: None,
            high: None,
            ..Estimate::plus_minus(
                stats::mean(&times),
                0.0,
                "s",
                "one of the two cases between which the replay lies, mean over flights",
            )
        };
        answer
            .estimates
            .insert(key.to_owned(), case.count("flights", n));
    }
    check(evidence, power, &times, shared_u, answer);
    let below = rows.iter().map(|r| r.below_bench).fold(0.0, f64::max);
    if below > 0.01 {
        answer.remarks.push(format!(
            "Up to {} of the replayed charge was drawn below the throttle that both benches reach; \
             there the ratio of their lowest point stands in.",
            percent(below)
        ));
    }
    words
}

/// A replay's error (95 %) above this tells nothing of whether it is right: a tenth is half a minute of
/// a flight of five (default of ours).
const TELLS_WITHIN: f64 = 0.10;

/// The prediction against what the system flew, which it never saw.
fn check(evidence: &Evidence, power: &str, times: &[f64], shared_u: f64, answer: &mut Answer) {
    let flown = flown(evidence, power);
    if flown.is_empty() || times.is_empty() {
        return;
    }
    let (predicted, seen) = (stats::mean(times), stats::mean(&flown));
    let error = predicted / seen - 1.0;
    let relative = |x: &[f64]| (x.len() > 1).then(|| stats::sd(x) / stats::mean(x));
    let half = relative(times).zip(relative(&flown)).map(|(a, b)| {
        let (n, m) = (times.len() as f64, flown.len() as f64);
        let (va, vb) = (a * a / n, b * b / m);
        let df = (va + vb).powi(2) / (va * va / (n - 1.0) + vb * vb / (m - 1.0));
        (stats::t_quantile(0.975, df) * (va + vb).sqrt()).hypot(stats::NORMAL_95 * shared_u)
            * (1.0 + error)
    });
    answer.estimates.insert(
        "replay_error".to_owned(),
        Estimate {
            low: half.map(|h| error - h),
            high: half.map(|h| error + h),
            ..Estimate::plus_minus(
                error,
                0.0,
                "1",
                "mean time to the reserve as replayed over that of the flights flown, less one; either \
                 side with its scatter. The replay saw none of the flights it is held against.",
            )
        }
        .count("flights replayed", times.len())
        .count("flights flown", flown.len()),
    );
    answer.remarks.push(format!(
        "Replaying the baseline's flights foretold {predicted:.0} s to the reserve; {} gave {seen:.0} s, \
         so the replay was {} {}{}.",
        counted(flown.len(), "flight"),
        percent(error.abs()),
        if error >= 0.0 { "too long" } else { "too short" },
        match half {
            Some(h) if error.abs() > h =>
                ", which is more than its error: look for what the flights did otherwise".to_owned(),
            Some(h) if h > TELLS_WITHIN => format!(
                "; with an error of ±{} that is too wide to tell whether the replay is right",
                percent(h)
            ),
            Some(_) => ", within its error".to_owned(),
            None => String::new(),
        }
    ));
}

/// Times to the reserve that the system flew, those landed before carried on as in the replay.
fn flown(evidence: &Evidence, power: &str) -> Vec<f64> {
    let flights = evidence.flights_of(power);
    flights.iter().filter_map(|f| f.to_reserve_s).collect()
}

pub(super) fn picture(evidence: &Evidence, power: &str, answer: &Answer) -> Option<Figure> {
    let rows = rows(evidence, power);
    let first = rows.first()?;
    let (baseline, name) = (
        evidence.power_name(&first.baseline),
        evidence.power_name(power),
    );
    let mut points = Points::new("each flight, replayed", evidence.colour(power));
    for row in &rows {
        if let Some(flown) = row.flown_s {
            let (low, high) = (row.predicted_low_s, row.predicted_high_s);
            points.push(flown, row.predicted_s, Some(low), Some(high));
        }
    }
    if points.x.is_empty() {
        return None;
    }
    let ends = |x: &[f64]| {
        let low = x.iter().copied().fold(f64::INFINITY, f64::min);
        (low, x.iter().copied().fold(f64::NEG_INFINITY, f64::max))
    };
    let (low, high) = ends(&points.x);
    let mut same = Line::new("as long as before", NEUTRAL);
    same.push(low, low);
    same.push(high, high);
    let mut plot = Plot::new(
        "",
        (
            axis(&format!("time to the reserve with {baseline}"), "s"),
            AxisRange::Fitted,
        ),
        (
            axis(&format!("the same flight with {name}"), "s"),
            AxisRange::Fitted,
        ),
    );
    plot.points.push(points);
    plot.lines.push(same);
    let flown = flown(evidence, power);
    if !flown.is_empty() {
        let mean = stats::mean(&flown);
        plot.mark(&format!("flown, mean {mean:.0} s"), mean, Across::Y);
    }
    let predicted = answer.estimates.get("replayed_time_to_reserve")?;
    let error = answer
        .estimates
        .get("replay_error")
        .map_or_else(String::new, |e| {
            format!(
                "; against what it flew that is off by {}",
                with_interval(e, 100.0, 1, " %")
            )
        });
    Some(Figure {
        id: format!("replay-{power}"),
        caption: format!(
            "Flown again with {name}, the flights of {baseline} reach the reserve after {}{error}.",
            with_interval(predicted, 1.0, 0, " s")
        ),
        alt: format!(
            "Time to the reserve of each flight of {baseline} (across) and of the same flight replayed \
             with {name} (upright, with its interval); a line where both are equal and, where {name} has \
             flown, a level line at its mean."
        ),
        data: FigureData::Plots(Plots { panels: vec![plot] }),
    })
}

pub(super) fn table(evidence: &Evidence, power: &str) -> Option<DataTable> {
    let rows = rows(evidence, power);
    let first = rows.first()?;
    Some(DataTable {
        id: format!("replays-{power}"),
        title: format!(
            "Flights of {} flown again with {}",
            evidence.power_name(&first.baseline),
            evidence.power_name(power)
        ),
        columns: vec![
            DataColumn::new("flight", "", 0),
            DataColumn::new("time to reserve, flown", "s", 0),
            DataColumn::new("time to reserve, replayed", "s", 0),
            DataColumn::new("at the same throttle", "s", 0),
            DataColumn::new("at the same power", "s", 0),
            DataColumn::new("reserve reached in the replay", "", 0),
            DataColumn::new("charge, replayed ÷ flown", "1", 3),
            DataColumn::new("charge fraction left at the landing", "1", 0),
        ],
        rows: rows
            .iter()
            .map(|r| {
                vec![
                    DataCell::Text(r.flight.clone()),
                    DataCell::number(r.flown_s),
                    DataCell::interval(
                        Some(r.predicted_s),
                        Some(r.predicted_low_s),
                        Some(r.predicted_high_s),
                    ),
                    DataCell::Number(r.same_throttle_s),
                    DataCell::Number(r.same_power_s),
                    DataCell::Text(if r.reached { "yes" } else { "no" }.to_owned()),
                    DataCell::Number(r.charge_ratio),
                    DataCell::Number(r.left_at_landing),
                ]
            })
            .collect(),
    })
}
