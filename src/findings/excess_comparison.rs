//! Excess power of two power systems at matched throttle, voltage and airspeed, flights as the unit.

use std::collections::BTreeMap;

use crate::findings::evidence::Evidence;
use crate::physics::drag::polar_drag;
use crate::physics::turn::dynamic_pressure;
use crate::stats;
use crate::stats::linear;
use crate::store::ExcessPowerRow;
use crate::units::G0;

/// Throttle counts as matched within this, either way.
const THROTTLE_BAND: f64 = 0.03;
/// Thrust in flight goes with voltage as rho·A·w·(w − v) does with w ~ V^0.97 (design 4.2): in
/// static thrusts, 0.97·(2 − v/w). Where no bench tells the static thrust, the thrust itself to the
/// power of 1.94.
const JET_SPEED_EXPONENT: f64 = 0.97;
/// How far that sensitivity may be off, relative (one standard deviation; a fan loses less or more of
/// its thrust with speed than the momentum curve says).
const SENSITIVITY_SPREAD: f64 = 0.2;
/// v/w where no outlet area tells the jet speed (common practice, no source).
const SPEED_RATIO: f64 = 0.6;
/// Flights a side that a comparison wants.
const FLIGHTS: usize = 2;

/// One flight's excess power at the matched conditions.
#[derive(Debug, Clone, PartialEq)]
pub struct FlightExcess {
    pub flight: String,
    pub candidate: bool,
    pub excess_power_m_s: f64,
    pub windows: usize,
}

/// A comparison in one place of the flight.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    pub place: &'static str,
    pub throttle: f64,
    pub voltage_v: Option<f64>,
    pub airspeed_m_s: f64,
    pub flights: Vec<FlightExcess>,
    /// Candidate over baseline less one, with its 95 % interval; `None` where an excess power is not
    /// above zero.
    pub gain: Option<(f64, f64, f64)>,
}

impl Comparison {
    pub fn of_side(&self, candidate: bool) -> Vec<f64> {
        self.flights
            .iter()
            .filter(|f| f.candidate == candidate)
            .map(|f| f.excess_power_m_s)
            .collect()
    }
}

/// Compares the two systems in `place`, or says in words why it cannot.
pub fn compare(
    evidence: &Evidence,
    powers: [&str; 2],
    place: &'static str,
) -> Result<Comparison, String> {
    let of_place: Vec<&ExcessPowerRow> = evidence
        .tables
        .excess_power
        .iter()
        .filter(|r| r.place == place && r.power.as_deref().is_some_and(|p| powers.contains(&p)))
        .collect();
    let throttle = matched_throttle(evidence, powers, &of_place).ok_or_else(|| {
        format!(
            "too few windows of steady throttle on both sides {}",
            spot(place)
        )
    })?;
    let rows: Vec<&ExcessPowerRow> = of_place
        .into_iter()
        .filter(|r| (r.throttle - throttle).abs() <= THROTTLE_BAND)
        .collect();
    let shared = |airframe: &Option<String>| {
        powers.iter().all(|p| {
            rows.iter()
                .any(|r| r.power.as_deref() == Some(p) && r.airframe == *airframe)
        })
    };
    let rows: Vec<&ExcessPowerRow> = rows
        .iter()
        .copied()
        .filter(|r| shared(&r.airframe))
        .collect();
    if rows.is_empty() {
        return Err(
            "the two were flown on different airframes, whose weight and drag differ".into(),
        );
    }
    let volts: Option<Vec<f64>> = rows.iter().map(|r| r.voltage_v).collect();
    let voltage_v = volts.as_deref().map(stats::mean);
    let airspeed_m_s = common_airspeed(evidence, powers, &rows)?;
    let at_voltage = |sensitivity: f64| -> Vec<FlightExcess> {
        let ratio: Vec<f64> = rows
            .iter()
            .map(|r| {
                let step = voltage_v
                    .zip(r.voltage_v)
                    .map_or(0.0, |(to, from)| (to / from).ln());
                r.excess_power_m_s / r.airspeed_m_s + sensitivity * by_voltage(evidence, r) * step
            })
            .collect();
        at_speed(&rows, &ratio, airspeed_m_s, powers[1])
    };
    let flights = at_voltage(1.0);
    for (candidate, power) in [(false, powers[0]), (true, powers[1])] {
        let n = flights.iter().filter(|f| f.candidate == candidate).count();
        if n < FLIGHTS {
            return Err(format!(
                "{} has {n} flights with such windows {}, and {FLIGHTS} are the least",
                evidence.power_name(power),
                spot(place)
            ));
        }
    }
    let gain = gain(evidence, &flights, &at_voltage(1.0 + SENSITIVITY_SPREAD));
    Ok(Comparison {
        place,
        throttle,
        voltage_v,
        airspeed_m_s,
        flights,
        gain,
    })
}

/// An airspeed with windows of both sides on either hand: the mean of all windows, kept to the middle
/// half of what the two have in common; words where they have nothing.
fn common_airspeed(
    evidence: &Evidence,
    powers: [&str; 2],
    rows: &[&ExcessPowerRow],
) -> Result<f64, String> {
    let ranges = powers.map(|power| {
        rows.iter()
            .filter(|r| r.power.as_deref() == Some(power))
            .map(|r| r.airspeed_m_s)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                (low.min(v), high.max(v))
            })
    });
    let (low, high) = (ranges[0].0.max(ranges[1].0), ranges[0].1.min(ranges[1].1));
    if low > high {
        let flew = |side: usize| {
            format!(
                "{} flew at {:.0} to {:.0} m/s",
                evidence.power_name(powers[side]),
                ranges[side].0,
                ranges[side].1
            )
        };
        return Err(format!(
            "{}, {}: they have no airspeed in common",
            flew(0),
            flew(1)
        ));
    }
    let mean = stats::mean(&rows.iter().map(|r| r.airspeed_m_s).collect::<Vec<_>>());
    let quarter = 0.25 * (high - low);
    Ok(mean.clamp(low + quarter, high - quarter))
}

/// Where a place is, in a sentence.
pub fn spot(place: &str) -> &'static str {
    match place {
        "take-off" => "in the take-off run",
        "climb" => "in the climb",
        _ => "in level flight",
    }
}

/// Full throttle where both sides have it, else what the baseline climbs with.
fn matched_throttle(
    evidence: &Evidence,
    powers: [&str; 2],
    rows: &[&ExcessPowerRow],
) -> Option<f64> {
    let flights_at = |power: &str, throttle: f64| {
        let mut names: Vec<&str> = rows
            .iter()
            .filter(|r| r.power.as_deref() == Some(power))
            .filter(|r| (r.throttle - throttle).abs() <= THROTTLE_BAND)
            .map(|r| r.flight.as_str())
            .collect();
        names.dedup();
        names.len()
    };
    let enough = |u: f64| powers.iter().all(|p| flights_at(p, u) >= FLIGHTS);
    let full = rows
        .iter()
        .map(|r| r.throttle)
        .filter(|u| *u >= evidence.season.rules.full_throttle.value)
        .collect::<Vec<f64>>();
    if !full.is_empty() && enough(stats::median(&full)) {
        return Some(stats::median(&full));
    }
    let baseline: Vec<f64> = rows
        .iter()
        .filter(|r| r.power.as_deref() == Some(powers[0]))
        .map(|r| r.throttle)
        .collect();
    if baseline.is_empty() {
        return None;
    }
    Some(stats::median(&baseline)).filter(|u| enough(*u))
}

/// d(excess thrust over weight)/d ln(voltage).
fn by_voltage(evidence: &Evidence, row: &ExcessPowerRow) -> f64 {
    let (Some(power), Some(airframe)) = (row.power.as_deref(), row.airframe.as_deref()) else {
        return 0.0;
    };
    let Some(mass) = evidence
        .season
        .airframes
        .get(airframe)
        .and_then(|a| a.mass_kg)
    else {
        return 0.0;
    };
    let weight = mass * G0;
    let still = evidence
        .tables
        .bench_curves
        .iter()
        .filter(|b| b.power == power)
        .filter_map(|b| Some(((b.throttle - row.throttle).abs(), b.thrust_n?)))
        .filter(|(off, _)| *off <= THROTTLE_BAND)
        .min_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((_, thrust)) = still {
        let outlet = evidence
            .season
            .powers
            .get(power)
            .and_then(|p| p.outlet_area_m2.as_ref());
        let ratio = outlet.map_or(SPEED_RATIO, |a| {
            row.airspeed_m_s / (thrust / (row.density_kg_m3 * a.value)).sqrt()
        });
        return JET_SPEED_EXPONENT * thrust * (2.0 - ratio) / weight;
    }
    let drag = evidence
        .tables
        .idle_drag
        .iter()
        .find(|d| d.power == power && d.airframe == airframe)
        .map_or(0.0, |d| {
            let q = dynamic_pressure(row.density_kg_m3, row.airspeed_m_s);
            polar_drag(d.drag_area_m2, d.induced_n2_m2, q, row.load_factor)
        });
    2.0 * JET_SPEED_EXPONENT * (row.excess_power_m_s / row.airspeed_m_s + drag / weight)
}

/// Each flight's excess power at one airspeed: the fall of the excess thrust with speed is common to
/// all flights of a fan. A fan that pulls harder also loses more of it with speed, and flies its passes
/// faster: one slope for both would bring the two together.
fn at_speed(
    rows: &[&ExcessPowerRow],
    ratio: &[f64],
    airspeed_m_s: f64,
    candidate: &str,
) -> Vec<FlightExcess> {
    let mut by_flight: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (i, row) in rows.iter().enumerate() {
        by_flight.entry(&row.flight).or_default().push(i);
    }
    let mean = |of: &[usize], value: &dyn Fn(usize) -> f64| {
        stats::mean(&of.iter().map(|i| value(*i)).collect::<Vec<_>>())
    };
    let is_candidate = |own: &[usize]| rows[own[0]].power.as_deref() == Some(candidate);
    let slope = |side: bool| {
        let (mut sxx, mut sxy) = (0.0, 0.0);
        for own in by_flight.values().filter(|own| is_candidate(own) == side) {
            let v = mean(own, &|i| rows[i].airspeed_m_s);
            let y = mean(own, &|i| ratio[i]);
            for i in own {
                let off = rows[*i].airspeed_m_s - v;
                sxx += off * off;
                sxy += off * (ratio[*i] - y);
            }
        }
        if sxx > 0.0 { sxy / sxx } else { 0.0 }
    };
    let slopes = [slope(false), slope(true)];
    by_flight
        .iter()
        .map(|(flight, own)| {
            let v = mean(own, &|i| rows[i].airspeed_m_s);
            let side = is_candidate(own);
            let at = mean(own, &|i| ratio[i]) + slopes[usize::from(side)] * (airspeed_m_s - v);
            FlightExcess {
                flight: (*flight).to_owned(),
                candidate: side,
                excess_power_m_s: at * airspeed_m_s,
                windows: own.len(),
            }
        })
        .collect()
}

/// Log excess power on fan and airframe: t interval, and what the step to one voltage leaves open
/// (`more`: the flights with a thrust that goes one standard deviation more with voltage).
fn gain(
    evidence: &Evidence,
    flights: &[FlightExcess],
    more: &[FlightExcess],
) -> Option<(f64, f64, f64)> {
    let (effect, half) = effect(evidence, flights)?;
    let shift = effect_of(evidence, more)?.value - effect;
    let half = half.hypot(stats::normal_quantile(0.975) * shift);
    Some((
        effect.exp() - 1.0,
        (effect - half).exp() - 1.0,
        (effect + half).exp() - 1.0,
    ))
}

/// The fan's effect on the log and the half-width of its t interval.
fn effect(evidence: &Evidence, flights: &[FlightExcess]) -> Option<(f64, f64)> {
    let found = effect_of(evidence, flights)?;
    (found.df > 0 && found.se.is_finite()).then(|| {
        let half = stats::t_quantile(0.975, found.df as f64) * found.se;
        (found.value, half)
    })
}

struct Effect {
    value: f64,
    se: f64,
    df: usize,
}

fn effect_of(evidence: &Evidence, flights: &[FlightExcess]) -> Option<Effect> {
    let airframe = |id: &str| {
        evidence
            .tables
            .flights
            .iter()
            .find(|f| f.flight == id)
            .and_then(|f| f.airframe.as_deref())
    };
    let mut frames: Vec<Option<&str>> = flights.iter().map(|f| airframe(&f.flight)).collect();
    let of_flight = frames.clone();
    frames.sort_unstable();
    frames.dedup();
    let logs: Vec<f64> = flights.iter().map(|f| f.excess_power_m_s.ln()).collect();
    let fan: Vec<f64> = flights
        .iter()
        .map(|f| f64::from(u8::from(f.candidate)))
        .collect();
    // Airframes first, so that what they tell alone is not the fan's.
    let mut columns: Vec<Vec<f64>> = frames
        .iter()
        .skip(1)
        .map(|frame| {
            of_flight
                .iter()
                .map(|own| f64::from(u8::from(own == frame)))
                .collect()
        })
        .collect();
    columns.push(fan);
    let fit = linear::fit(&columns, &logs)?;
    let effect = fit.coefficient(columns.len())?;
    Some(Effect {
        value: effect.value,
        se: effect.se,
        df: fit.df,
    })
}
