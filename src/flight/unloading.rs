//! Unloading: what the motor draws in flight against the bench at equal throttle, voltage and
//! density. kappa = flight current / bench current.

use std::collections::BTreeMap;

use crate::flight::holds::Hold;
use crate::flight::kappa_map::{self, KappaCell};
use crate::flight::unloading_by_speed::{Clusters, SpeedSlope, speed_slope, with_speed};
use crate::physics::power_curve::PowerCurve;
use crate::season::Finding;
use crate::stats;

/// A hold beside the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoldUnloading {
    pub bench_current_a: f64,
    pub bench_current_u_a: f64,
    /// Flight current / bench current.
    pub kappa: f64,
}

/// Why a hold says nothing about unloading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum NoUnloading {
    NoCurrent,
    NoVoltage,
    /// The bench has no point at or beyond this throttle: no extrapolation.
    OutsideBench,
}

/// A stick at its stop jitters by this much; that is no extrapolation beyond the bench.
pub(crate) const STOP_JITTER: f64 = 0.005;

/// Bench current at the hold's throttle, voltage and density.
pub(crate) fn bench_current(
    curve: &PowerCurve,
    throttle: f64,
    voltage_v: f64,
    density_kg_m3: f64,
) -> Option<(f64, f64)> {
    let (first, last) = (*curve.throttle.first()?, *curve.throttle.last()?);
    if throttle < first - STOP_JITTER || throttle > last + STOP_JITTER {
        return None;
    }
    curve
        .current(throttle.clamp(first, last), voltage_v, density_kg_m3)
        .filter(|(current, _)| *current > 0.0)
}

pub fn hold_unloading(
    hold: &Hold,
    curve: &PowerCurve,
    density_kg_m3: f64,
) -> Result<HoldUnloading, NoUnloading> {
    let current = hold.current_a.ok_or(NoUnloading::NoCurrent)?;
    let voltage = hold.voltage_v.ok_or(NoUnloading::NoVoltage)?;
    let (bench_current_a, bench_current_u_a) =
        bench_current(curve, hold.throttle, voltage, density_kg_m3)
            .ok_or(NoUnloading::OutsideBench)?;
    Ok(HoldUnloading {
        bench_current_a,
        bench_current_u_a,
        kappa: current / bench_current_a,
    })
}

/// The holds of one flight and what they need to be put beside the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlightHolds<'a> {
    pub flight: &'a str,
    pub holds: &'a [Hold],
    pub density_kg_m3: f64,
    pub level_speed_m_s: Option<f64>,
}

/// Unloading in one bin of throttle. Intervals (95 %) exist from two flights on.
#[derive(Debug, Clone, PartialEq)]
pub struct UnloadingBin {
    pub throttle_low: f64,
    pub throttle_high: f64,
    pub throttle: f64,
    pub holds: usize,
    pub flights: usize,
    pub airspeed_m_s: Option<f64>,
    pub bench_current_a: f64,
    pub flight_current_a: f64,
    pub flight_current_interval_a: Option<(f64, f64)>,
    pub kappa: f64,
    pub kappa_interval: Option<(f64, f64)>,
}

/// Unloading of one power system over its flights.
#[derive(Debug, Clone, PartialEq)]
pub struct Unloading {
    pub bins: Vec<UnloadingBin>,
    pub speed: Option<SpeedSlope>,
    /// By throttle and airspeed.
    pub cells: Vec<KappaCell>,
    /// The bench's throttle range.
    pub bench_throttle: (f64, f64),
    /// Airborne holds that say nothing, by reason.
    pub refused: BTreeMap<NoUnloading, usize>,
}

/// An airborne hold beside the bench.
pub(super) struct Point {
    pub flight: usize,
    pub throttle: f64,
    pub airspeed: Option<f64>,
    pub current: f64,
    pub voltage: f64,
    pub bench: HoldUnloading,
}

/// Bins of ten points of throttle about the tens, full throttle (95 % and up) by itself.
const EDGES: [f64; 12] = [
    0.0, 0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95, 1.01,
];
/// Median kappa beyond these is no unloading but a wrong throttle, sensor or bench run: in trial
/// and by momentum theory it lies between 0.8 and 1.05; common practice, no source.
const POSSIBLE: (f64, f64) = (0.5, 1.5);

/// Puts the airborne holds of a power system's flights beside its bench curve.
///
/// `shared_u` is the relative standard uncertainty that all flights share and the bench does not:
/// the scale of the flight's current sensor (put-back's, or the declared accuracy / sqrt(3)) and that
/// of its voltage sensor, which moves the bench current it is compared with; 0 where one and the same
/// meter was used for both.
pub fn unloading(
    flights: &[FlightHolds<'_>],
    curve: &PowerCurve,
    full_throttle: f64,
    shared_u: f64,
) -> (Option<Unloading>, Vec<Finding>) {
    let (points, refused) = beside_bench(flights, curve);
    let mut findings = Vec::new();
    let of_all: Vec<&Point> = points.iter().collect();
    if let Some(finding) = impossible(&of_all, &curve.power) {
        return (None, vec![finding]);
    }
    let (Some(&lowest), Some(&highest)) = (curve.throttle.first(), curve.throttle.last()) else {
        return (None, findings);
    };
    let reach = (lowest, highest);
    if let Some(&outside) = refused.get(&NoUnloading::OutsideBench) {
        findings.push(Finding::note(
            "hold-outside-bench",
            format!(
                "{outside} holds of power system `{}` lie outside the throttle its bench runs \
                 cover ({:.0} to {:.0} %) and are not compared",
                curve.power,
                100.0 * lowest,
                100.0 * highest
            ),
            "Add bench points down to the throttle you fly at.",
        ));
    }
    if points.is_empty() {
        findings.push(Finding::note(
            "no-unloading",
            format!(
                "no airborne hold of power system `{}` can be put beside its bench run",
                curve.power
            ),
            "Log throttle, volts and amps together, and hold the throttle still for three seconds \
             now and then.",
        ));
        return (None, findings);
    }
    let bins = EDGES
        .windows(2)
        .filter_map(|edge| bin(&of_all, edge[0], edge[1], shared_u))
        .collect();
    let full: Vec<&Point> = points
        .iter()
        .filter(|p| p.throttle >= full_throttle)
        .collect();
    if full.is_empty() {
        findings.push(Finding::note(
            "no-full-throttle",
            format!(
                "power system `{}` was never held at full throttle in flight",
                curve.power
            ),
            "Unloading at level speed stays open: hold full throttle for three seconds or more.",
        ));
    }
    let speed = speed_slope(&full, flights, shared_u, &mut findings);
    (
        Some(Unloading {
            bins,
            speed,
            cells: kappa_map::cells(&points),
            bench_throttle: reach,
            refused,
        }),
        findings,
    )
}

/// The airborne holds beside the bench, and how many say nothing, by reason.
pub(super) fn beside_bench(
    flights: &[FlightHolds<'_>],
    curve: &PowerCurve,
) -> (Vec<Point>, BTreeMap<NoUnloading, usize>) {
    let mut refused = BTreeMap::new();
    let mut points = Vec::new();
    for (n, flight) in flights.iter().enumerate() {
        for hold in flight.holds.iter().filter(|h| h.airborne) {
            match hold_unloading(hold, curve, flight.density_kg_m3) {
                Ok(bench) => points.push(Point {
                    flight: n,
                    throttle: hold.throttle,
                    airspeed: hold.airspeed_m_s,
                    current: hold.current_a.unwrap_or(f64::NAN),
                    voltage: hold.voltage_v.unwrap_or(f64::NAN),
                    bench,
                }),
                Err(why) => *refused.entry(why).or_insert(0) += 1,
            }
        }
    }
    (points, refused)
}

/// Holds by bin of throttle and flight, so that the unloading over some of the flights costs no more
/// than a sum over flights.
pub(super) struct Gathered {
    /// Of each bin: flight, mean throttle, mean kappa.
    bins: Vec<Vec<(usize, f64, f64)>>,
    full: Clusters,
}

/// What an estimate needs of an unloading: the numbers of [`unloading`] without their intervals.
pub(super) struct Bare {
    /// (throttle, kappa) of each bin.
    pub knots: Vec<(f64, f64)>,
    /// (slope, airspeed, kappa) where kappa's slope in airspeed at full throttle is known.
    pub speed: Option<(f64, f64, f64)>,
}

impl Gathered {
    pub fn of(points: &[Point], full_throttle: f64) -> Self {
        let points: Vec<&Point> = points.iter().collect();
        let bin = |edge: &[f64]| {
            let of = ByFlight::of(&inside(&points, edge[0], edge[1]));
            let means = of.means(&|p| p.throttle).into_iter();
            let means = means.zip(of.means(&|p| p.bench.kappa));
            let flights = of.0.into_keys().zip(means);
            flights
                .map(|(flight, (u, kappa))| (flight, u, kappa))
                .collect()
        };
        let at_full = points.iter().filter(|p| p.throttle >= full_throttle);
        Self {
            bins: EDGES.windows(2).map(bin).collect(),
            full: Clusters::of(&with_speed(&at_full.copied().collect::<Vec<_>>()), &|p| {
                p.airspeed
            }),
        }
    }

    /// Over the flights that `with` names; `None` where none of them was held.
    pub fn over(&self, with: &dyn Fn(usize) -> bool) -> Option<Bare> {
        let knot = |bin: &Vec<(usize, f64, f64)>| {
            let of = bin.iter().filter(|f| with(f.0));
            let (u, kappa): (Vec<f64>, Vec<f64>) = of.map(|f| (f.1, f.2)).unzip();
            (!u.is_empty()).then(|| (stats::mean(&u), stats::mean(&kappa)))
        };
        let knots: Vec<(f64, f64)> = self.bins.iter().filter_map(knot).collect();
        (!knots.is_empty()).then(|| Bare {
            knots,
            speed: self.full.line(with),
        })
    }
}

/// The complaint where flight and bench cannot be about the same throttle.
pub(super) fn impossible(points: &[&Point], power: &str) -> Option<Finding> {
    let (throttle, current): (Vec<f64>, Vec<f64>) =
        points.iter().map(|p| (p.throttle, p.current)).unzip();
    let spread = throttle.iter().fold(0.0_f64, |a, &b| a.max(b))
        - throttle.iter().fold(f64::INFINITY, |a, &b| a.min(b));
    if points.len() >= 5 && spread >= 0.2 {
        let (mt, mc) = (stats::mean(&throttle), stats::mean(&current));
        let together: f64 = throttle
            .iter()
            .zip(&current)
            .map(|(t, c)| (t - mt) * (c - mc))
            .sum();
        if together < 0.0 {
            return Some(Finding::error(
                "throttle-reversed",
                format!(
                    "in flight with power system `{power}` less throttle goes with more current: the throttle column runs backwards"
                ),
                "Give the throttle's ends in the channel map the other way round, e.g. ends = [1900, 1100].",
            ));
        }
    }
    let kappas: Vec<f64> = points.iter().map(|p| p.bench.kappa).collect();
    if kappas.is_empty() {
        return None;
    }
    let median = stats::median(&kappas);
    (!(POSSIBLE.0..=POSSIBLE.1).contains(&median)).then(|| {
        Finding::error(
            "unloading-impossible",
            format!(
                "flight current is {median:.2} of bench current at equal throttle and voltage \
                 with power system `{power}`: no fan unloads to that"
            ),
            "Check the ends of the throttle column, the unit of the current, and that the bench \
             run is of this power system.",
        )
        .expected(format!("a ratio between {} and {}", POSSIBLE.0, POSSIBLE.1))
    })
}

fn inside<'a>(points: &[&'a Point], low: f64, high: f64) -> Vec<&'a Point> {
    let inside = |p: &&&Point| p.throttle >= low && p.throttle < high;
    points.iter().filter(inside).copied().collect()
}

/// Holds by flight. The flight is the unit: a mean a flight, then over flights.
struct ByFlight<'a>(BTreeMap<usize, Vec<&'a Point>>);

impl<'a> ByFlight<'a> {
    fn of(points: &[&'a Point]) -> Self {
        let mut by_flight: BTreeMap<usize, Vec<&Point>> = BTreeMap::new();
        for p in points {
            by_flight.entry(p.flight).or_default().push(p);
        }
        Self(by_flight)
    }

    fn means(&self, f: &dyn Fn(&Point) -> f64) -> Vec<f64> {
        let mean = |ps: &Vec<&Point>| stats::mean(&ps.iter().map(|p| f(p)).collect::<Vec<_>>());
        self.0.values().map(mean).collect()
    }
}

fn bin(points: &[&Point], low: f64, high: f64, shared_u: f64) -> Option<UnloadingBin> {
    let inside = inside(points, low, high);
    if inside.is_empty() {
        return None;
    }
    let by_flight = ByFlight::of(&inside);
    let over_flights = |f: &dyn Fn(&Point) -> f64| by_flight.means(f);
    let kappas = over_flights(&|p| p.bench.kappa);
    let bench = stats::mean(&over_flights(&|p| p.bench.bench_current_a));
    let bench_u = stats::mean(&over_flights(&|p| p.bench.bench_current_u_a));
    let kappa = stats::mean(&kappas);
    let kappa_interval = (kappas.len() >= 2).then(|| {
        let n = kappas.len() as f64;
        let half = (stats::t_quantile(0.975, n - 1.0) * stats::sd(&kappas) / n.sqrt())
            .hypot(shared_half(kappa, shared_u.hypot(bench_u / bench)));
        (kappa - half, kappa + half)
    });
    let airspeeds: Vec<f64> = inside.iter().filter_map(|p| p.airspeed).collect();
    Some(UnloadingBin {
        throttle_low: low,
        throttle_high: high.min(1.0),
        throttle: stats::mean(&over_flights(&|p| p.throttle)),
        holds: inside.len(),
        flights: kappas.len(),
        airspeed_m_s: (!airspeeds.is_empty()).then(|| stats::mean(&airspeeds)),
        bench_current_a: bench,
        flight_current_a: kappa * bench,
        flight_current_interval_a: kappa_interval.map(|(a, b)| (a * bench, b * bench)),
        kappa,
        kappa_interval,
    })
}

/// What all flights share of a half-width at 95 % (bench, sensor scale): it does not average out.
pub(super) fn shared_half(kappa: f64, relative_u: f64) -> f64 {
    stats::normal_quantile(0.975) * kappa * relative_u
}
