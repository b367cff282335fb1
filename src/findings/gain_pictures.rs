//! Pictures of where the gain went.

use crate::findings::answer::Answer;
use crate::findings::evidence::{Evidence, percent_interval, with_interval};
use crate::findings::excess_comparison::{Comparison, spot};
use crate::findings::figure::{AxisRange, FAINT, Figure, FigureData, Line, Plot, Plots, Points};
use crate::findings::pictures::axis;
use crate::findings::series::thin;
use crate::physics::momentum;
use crate::stats;
use crate::store::ThrustRow;

/// Points of a drawn curve.
const CURVE_POINTS: usize = 40;

/// Thrust against airspeed: static point, momentum curve, flights.
pub fn thrust(evidence: &Evidence, powers: [&str; 2], answer: &Answer) -> Option<Figure> {
    let mut plot = Plot::new(
        "",
        (axis("airspeed", "m/s"), AxisRange::FromZero),
        (axis("thrust", "N"), AxisRange::FromZero),
    );
    let mut words = Vec::new();
    for power in powers {
        let (name, colour) = (evidence.power_name(power), evidence.colour(power));
        let rows: Vec<&ThrustRow> = evidence
            .tables
            .thrust_in_flight
            .iter()
            .filter(|r| r.power == power)
            .collect();
        let level: Vec<&&ThrustRow> = rows.iter().filter(|r| r.level).collect();
        let mean = |pick: fn(&ThrustRow) -> Option<f64>| {
            let values: Vec<f64> = level.iter().filter_map(|r| pick(r)).collect();
            (!values.is_empty()).then(|| stats::mean(&values))
        };
        if let Some(still) = mean(|r| r.static_thrust_n) {
            let u = mean(|r| r.static_thrust_u_n).unwrap_or(0.0);
            let mut bench = Points::new(&format!("{name}, bench"), colour);
            bench.push(
                0.0,
                still,
                Some(still - stats::NORMAL_95 * u),
                Some(still + stats::NORMAL_95 * u),
            );
            plot.points.push(bench);
            if let (Some(w), Some(rho)) =
                (mean(|r| r.jet_speed_m_s), mean(|r| Some(r.density_kg_m3)))
            {
                let outlet = still / (rho * w * w);
                let mut curve = Line::new(&format!("{name}, momentum curve"), colour);
                for k in 0..=CURVE_POINTS {
                    let v = w * k as f64 / CURVE_POINTS as f64;
                    curve.push(v, momentum::thrust(rho, outlet, w, v));
                }
                plot.lines.push(curve);
            }
        }
        let mut flown = Points::new(&format!("{name}, one flight"), colour + FAINT);
        let mut top = Points::new(&format!("{name}, at top speed"), colour);
        for row in &rows {
            if row.level {
                top.push(
                    row.airspeed_m_s,
                    row.thrust_n,
                    Some(row.thrust_low_n),
                    Some(row.thrust_high_n),
                );
            } else {
                flown.push(row.airspeed_m_s, row.thrust_n, None, None);
            }
        }
        for points in [flown, top] {
            if !points.x.is_empty() {
                plot.points.push(points);
            }
        }
        if let Some(e) = answer
            .estimates
            .get(&format!("thrust_over_idling_fan_at_level_speed_{power}"))
        {
            words.push(format!("{} with {name}", with_interval(e, 1.0, 1, " N")));
        }
    }
    if words.is_empty() {
        return None;
    }
    Some(Figure {
        id: format!("thrust-in-flight-{}", powers.join("-")),
        caption: format!(
            "At level top speed the thrust over the idling fan is {}. Points in flight are counted from \
             the idling fan, whose drag is in them; the momentum curve is net thrust. They do not lie on \
             one ground: points above the curve are no gain.",
            words.join("; ")
        ),
        alt: "Thrust against airspeed: the bench's static thrust at rest, the net thrust of the \
              momentum curve through it, and the thrust over the idling fan found in flight."
            .to_owned(),
        data: FigureData::Plots(Plots { panels: vec![plot] }),
    })
}

/// Energy for a kilometre against airspeed.
pub fn energy(evidence: &Evidence, powers: [&str; 2], answer: &Answer) -> Option<Figure> {
    let mut plot = Plot::new(
        "",
        (axis("airspeed", "m/s"), AxisRange::Fitted),
        (axis("energy for a kilometre", "Wh/km"), AxisRange::FromZero),
    );
    for power in powers {
        let mut line = Line::new(&evidence.power_name(power), evidence.colour(power));
        for r in evidence
            .tables
            .energy_per_distance
            .iter()
            .filter(|r| r.power == power)
        {
            line.push_band(r.airspeed_m_s, r.energy_wh_km, r.low_wh_km, r.high_wh_km);
        }
        if !line.x.is_empty() {
            plot.lines.push(line);
        }
    }
    if plot.lines.is_empty() {
        return None;
    }
    let change = answer.estimates.get("energy_per_kilometre_change");
    Some(Figure {
        id: format!("energy-per-kilometre-{}", powers.join("-")),
        caption: match change {
            Some(e) => format!(
                "At {:.0} m/s the energy for a kilometre changes by {}; bands are 95 % intervals \
                 over flights.",
                e.at.get("airspeed").map_or(f64::NAN, |a| a.value),
                percent_interval(e)
            ),
            None => "Energy for a kilometre by airspeed; the two have no airspeed in common to \
                     compare."
                .to_owned(),
        },
        alt:
            "Electrical energy for a kilometre through the air in level flight against airspeed, a \
              line with its interval for each power system."
                .to_owned(),
        data: FigureData::Plots(Plots { panels: vec![plot] }),
    })
}

/// Excess power by place, flights as points at the matched conditions.
pub fn excess_power(
    evidence: &Evidence,
    powers: [&str; 2],
    compared: &[Comparison],
) -> Option<Figure> {
    let mut panels = Vec::new();
    let mut words = Vec::new();
    for found in compared {
        let mut plot = Plot::new(
            &format!(
                "{}, {:.0} % throttle",
                spot(found.place).trim_start_matches("in "),
                100.0 * found.throttle
            ),
            (axis("airspeed", "m/s"), AxisRange::Fitted),
            (axis("excess power", "m/s"), AxisRange::FromZero),
        );
        for (side, power) in powers.into_iter().enumerate() {
            let (name, colour) = (evidence.power_name(power), evidence.colour(power));
            let mut windows = Points::new(&format!("{name}, one window"), colour + FAINT);
            for row in evidence.tables.excess_power.iter().filter(|r| {
                r.place == found.place
                    && r.power.as_deref() == Some(power)
                    && (r.throttle - found.throttle).abs() <= 0.03
            }) {
                windows.push(row.airspeed_m_s, row.excess_power_m_s, None, None);
            }
            plot.points.push(windows);
            let own = found.of_side(side == 1);
            if let Some(e) = crate::findings::evidence::over_flights(&own, "m/s", "")
                && let Some(value) = e.value
            {
                let mut mean = Points::new(&format!("{name}, mean over flights"), colour);
                mean.push(found.airspeed_m_s, value, e.low, e.high);
                plot.points.push(mean);
            }
        }
        if let Some((gain, low, high)) = found.gain {
            words.push(format!(
                "{:.0} % ({:.0} to {:.0} %) {}",
                100.0 * gain,
                100.0 * low,
                100.0 * high,
                spot(found.place)
            ));
        }
        panels.push(plot);
    }
    if panels.is_empty() {
        return None;
    }
    let thinned = thin(panels.iter_mut().flat_map(|plot| &mut plot.points));
    let caption = if words.is_empty() {
        "Excess power at matched throttle, voltage and airspeed.".to_owned()
    } else {
        format!(
            "Excess power changes by {} at matched throttle, voltage and airspeed.",
            words.join(", ")
        )
    };
    Some(Figure {
        id: format!("excess-power-{}", powers.join("-")),
        caption: caption + &thinned,
        alt: "Excess power against airspeed in the take-off run, the climb and level flight: windows \
              of steady throttle, and the mean over flights at the matched airspeed."
            .to_owned(),
        data: FigureData::Plots(Plots { panels }),
    })
}
