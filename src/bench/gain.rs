//! Static gain candidate / baseline − 1 (design 4.4): as measured, at the same terminal voltage,
//! and as on the same pack.

use crate::bench::checks::check_pair;
use crate::bench::curve::{Bounded, PowerSystemCurve, exact};
use crate::bench::model::{Censor, Check};
use crate::bench::repeats::Repeats;
use crate::bench::side::{Side, brought, measured, on_pack};
use crate::bench::uncertainty::{Source, Uncertain};
use crate::physics::momentum::figure_of_merit;
use crate::season::Finding;
use crate::stats::t_quantile;

/// Conditions of a comparison; what is absent is derived from the bench runs.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct GainConditions {
    /// Terminal voltage, V; else the mean of the two full-throttle voltages.
    pub reference_voltage: Option<f64>,
    /// kg/m³; else the mean of the two sides.
    pub density: Option<f64>,
    /// V; else such that the baseline's terminal voltage is the reference voltage.
    pub pack_open_circuit_v: Option<f64>,
    /// Resistance of the pack and its standard uncertainty, ohm; without it there is no gain on the
    /// same pack.
    pub pack_resistance: Option<(f64, f64)>,
}

/// One static gain.
#[derive(Debug, Clone, PartialEq)]
pub struct StaticGain {
    pub baseline: String,
    pub candidate: String,
    /// `thrust`, `power`, `current`, `thrust_per_watt`, `figure_of_merit`, `exhaust_speed`.
    pub quantity: &'static str,
    /// `as_measured`, `same_terminal_voltage` or `same_pack`.
    pub condition: &'static str,
    pub gain: Option<f64>,
    /// Ends of the 95 % interval; of a censored gain only one, at one-sided 95 %.
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// Standard uncertainty.
    pub u: Option<f64>,
    /// Effective (Welch-Satterthwaite); `None` where infinite.
    pub degrees_of_freedom: Option<f64>,
    pub reference_voltage_v: Option<f64>,
    pub reference_density_kg_m3: Option<f64>,
    /// SI.
    pub baseline_value: Option<f64>,
    pub candidate_value: Option<f64>,
    pub method: String,
    /// Full-throttle readings used.
    pub points: usize,
    /// candidate / baseline with its sources, for correlations between gains.
    pub ratio: Option<Uncertain>,
}

const LEVEL: f64 = 0.95;

/// Static gains of `candidate` over `baseline`, every quantity under every condition. A gain that
/// the readings do not allow has no value, and its method says why.
pub fn static_gains(
    baseline: &PowerSystemCurve,
    candidate: &PowerSystemCurve,
    conditions: GainConditions,
) -> Vec<StaticGain> {
    let comparison = Comparison::new(baseline, candidate, conditions);
    let mut gains = comparison.rows("as_measured", &comparison.measured, (None, None));
    gains.extend(comparison.same_terminal_voltage());
    gains.extend(comparison.same_pack());
    gains
}

/// Exhaust ratio of two systems against the root of their thrust ratio, as a check on the
/// candidate's reading, with a finding when it fails. `None` without both exhaust figures.
pub fn exhaust_pair(
    baseline: &PowerSystemCurve,
    candidate: &PowerSystemCurve,
) -> Option<(Check, Option<Finding>)> {
    let comparison = Comparison::new(baseline, candidate, GainConditions::default());
    let check = comparison.exhaust_pair()?;
    let finding = (!check.passed).then(|| {
        Finding::warning(
            "exhaust-pair",
            format!(
                "{} against {}: {}",
                candidate.power, baseline.power, check.what
            ),
            "One of the two anemometer figures cannot stand. Measure both again at the same spot \
             of the outlet; until then the comparison rests on thrust.",
        )
    });
    Some((check, finding))
}

/// Correlation of two quantities through the sources that they share.
pub fn correlation(a: &Uncertain, b: &Uncertain) -> f64 {
    let shared: f64 = a
        .parts
        .iter()
        .filter_map(|(source, part)| Some(part.u * b.parts.get(source)?.u))
        .sum();
    let product = a.u() * b.u();
    if product > 0.0 { shared / product } else { 0.0 }
}

struct Comparison<'a> {
    sides: [&'a PowerSystemCurve; 2],
    conditions: GainConditions,
    repeats: Repeats,
    measured: [Side; 2],
}

impl<'a> Comparison<'a> {
    fn new(
        baseline: &'a PowerSystemCurve,
        candidate: &'a PowerSystemCurve,
        conditions: GainConditions,
    ) -> Self {
        let sides = [baseline, candidate];
        let repeats = Repeats::of(&sides);
        let measured = sides.map(|side| measured(side, &repeats));
        Self {
            sides,
            conditions,
            repeats,
            measured,
        }
    }

    fn reference(&self) -> Option<(f64, f64)> {
        let middle = |of: fn(&Side) -> Option<&Uncertain>| {
            Some(0.5 * (of(&self.measured[0])?.value + of(&self.measured[1])?.value))
        };
        Some((
            self.conditions
                .reference_voltage
                .or_else(|| middle(|s| s.voltage.as_ref()))?,
            self.conditions
                .density
                .or_else(|| middle(|s| s.density.as_ref()))?,
        ))
    }

    fn areas_known(&self) -> bool {
        self.sides.iter().all(|side| side.outlet_area.is_some())
    }

    /// Outlet areas of both sides; unit ones, which drop out of a ratio, unless both are known.
    fn areas(&self) -> [Uncertain; 2] {
        self.sides.map(|side| {
            side.outlet_area
                .clone()
                .filter(|_| self.areas_known())
                .unwrap_or_else(|| Uncertain::exact(1.0))
        })
    }

    fn same_terminal_voltage(&self) -> Vec<StaticGain> {
        let condition = "same_terminal_voltage";
        let Some(to) = self.reference() else {
            return self.nothing(condition, "no voltage at full throttle on both sides");
        };
        let sides = self.sides.map(|side| brought(side, to, &self.repeats));
        self.rows(condition, &sides, (Some(to.0), Some(to.1)))
    }

    fn same_pack(&self) -> Vec<StaticGain> {
        let condition = "same_pack";
        let Some(to) = self.reference() else {
            return self.nothing(condition, "no voltage at full throttle on both sides");
        };
        let Some((resistance, u)) = self.conditions.pack_resistance else {
            return self.nothing(condition, "no pack resistance known");
        };
        let resistance =
            Uncertain::exact(resistance).with(Source::PackResistance, u, f64::INFINITY);
        let at = self.sides.map(|side| brought(side, to, &self.repeats));
        let Some(drawn) = exact(at[0].current.clone()).map(|i| i.value) else {
            return self.nothing(condition, "no current at full throttle on both sides");
        };
        let open = self
            .conditions
            .pack_open_circuit_v
            .unwrap_or(to.0 + resistance.value * drawn);
        let mut sides = [Side::default(), Side::default()];
        for k in 0..2 {
            match on_pack(self.sides[k], &at[k], to.0, open, &resistance) {
                Some(side) => sides[k] = side,
                None => return self.nothing(condition, "the pack cannot feed it at that voltage"),
            }
        }
        self.rows(condition, &sides, (None, Some(to.1)))
            .into_iter()
            .map(|mut gain| {
                gain.method += &format!(
                    "; pack with {open:.2} V open circuit and {:.1} mohm",
                    1000.0 * resistance.value
                );
                gain
            })
            .collect()
    }

    fn exhaust_pair(&self) -> Option<Check> {
        let [b, c] = &self.measured;
        let ((xb, cb), (xc, cc)) = (b.exhaust.as_ref()?, c.exhaust.as_ref()?);
        let flow = |k: usize| {
            let rho = self.measured[k].density.as_ref()?;
            Uncertain::apply(&[rho, &self.areas()[k]], |x| x[0] * x[1])
        };
        let line = self.sides[1].full_throttle.first()?.line;
        check_pair(
            line,
            (xb, *cb, xc, *cc),
            (&exact(b.thrust.clone())?, &exact(c.thrust.clone())?),
            (&flow(0)?, &flow(1)?),
        )
    }

    /// A gain without a value, for every quantity.
    fn nothing(&self, condition: &'static str, why: &str) -> Vec<StaticGain> {
        QUANTITIES
            .iter()
            .map(|q| self.blank(q, condition, why.to_owned()))
            .collect()
    }

    fn blank(&self, quantity: &'static str, condition: &'static str, why: String) -> StaticGain {
        StaticGain {
            baseline: self.sides[0].power.clone(),
            candidate: self.sides[1].power.clone(),
            quantity,
            condition,
            gain: None,
            low: None,
            high: None,
            u: None,
            degrees_of_freedom: None,
            reference_voltage_v: None,
            reference_density_kg_m3: None,
            baseline_value: None,
            candidate_value: None,
            method: why,
            points: 0,
            ratio: None,
        }
    }

    fn rows(
        &self,
        condition: &'static str,
        sides: &[Side; 2],
        at: (Option<f64>, Option<f64>),
    ) -> Vec<StaticGain> {
        let contradicted =
            condition != "as_measured" && self.exhaust_pair().is_some_and(|check| !check.passed);
        QUANTITIES
            .iter()
            .map(|quantity| {
                if *quantity == "exhaust_speed" && contradicted {
                    let why = "set aside: the exhaust ratio contradicts the thrust ratio";
                    return self.blank(quantity, condition, why.to_owned());
                }
                let areas = self.areas();
                let values = [0, 1].map(|k| value(quantity, &sides[k], &areas[k]));
                let [Some(b), Some(c)] = values else {
                    let why = format!("no {quantity} at full throttle on both sides");
                    return self.blank(quantity, condition, why);
                };
                let mut gain = self.blank(quantity, condition, self.method(condition));
                (gain.reference_voltage_v, gain.reference_density_kg_m3) = at;
                gain.points = sides[0].points + sides[1].points;
                compare(&mut gain, b, c);
                if *quantity == "figure_of_merit" && !self.areas_known() {
                    (gain.baseline_value, gain.candidate_value) = (None, None);
                    gain.method += "; outlet areas not known, taken as equal";
                }
                gain
            })
            .collect()
    }

    fn method(&self, condition: &str) -> String {
        let repeats = self.repeats.words();
        if condition == "as_measured" {
            return format!("ratio of full-throttle means; {repeats}; GUM");
        }
        let [b, c] = self.sides.map(|side| {
            let e = &side.exponents;
            format!(
                "thrust V^{}, current V^{}",
                e.thrust_by_voltage.words(),
                e.current_by_voltage.words()
            )
        });
        format!("baseline {b}; candidate {c}; {repeats}; GUM")
    }
}

const QUANTITIES: [&str; 6] = [
    "thrust",
    "power",
    "current",
    "thrust_per_watt",
    "figure_of_merit",
    "exhaust_speed",
];

fn value(quantity: &str, side: &Side, area: &Uncertain) -> Option<Bounded> {
    match quantity {
        "thrust" => side.thrust.clone(),
        "power" => side.power.clone(),
        "current" => side.current.clone(),
        "thrust_per_watt" => {
            let ((t, above), (p, below)) = (side.thrust.as_ref()?, side.power.as_ref()?);
            let ratio = Uncertain::apply(&[t, p], |x| x[0] / x[1])?;
            Some((ratio, quotient(*above, *below)?))
        }
        "figure_of_merit" => {
            let ((t, above), (p, below)) = (side.thrust.as_ref()?, side.power.as_ref()?);
            let inputs = [t, p, side.density.as_ref()?, area];
            let merit = Uncertain::apply(&inputs, |x| figure_of_merit(x[0], x[1], x[2], x[3]))?;
            Some((merit, quotient(*above, *below)?))
        }
        _ => side.exhaust.clone(),
    }
}

/// What a quotient of two bounds is bounded by; `None` where by nothing.
fn quotient(above: Censor, below: Censor) -> Option<Censor> {
    match (above, below) {
        (Censor::Exact, Censor::Exact) => Some(Censor::Exact),
        (Censor::Above, Censor::Exact | Censor::Below) | (Censor::Exact, Censor::Below) => {
            Some(Censor::Above)
        }
        (Censor::Below, Censor::Exact | Censor::Above) | (Censor::Exact, Censor::Above) => {
            Some(Censor::Below)
        }
        _ => None,
    }
}

/// Fills in the gain with its interval, or its bound.
fn compare(gain: &mut StaticGain, b: Bounded, c: Bounded) {
    gain.baseline_value = Some(b.0.value);
    gain.candidate_value = Some(c.0.value);
    let Some(ratio) = Uncertain::apply(&[&b.0, &c.0], |x| x[1] / x[0]) else {
        gain.method = "the baseline reads zero".to_owned();
        return;
    };
    let (u, df) = (ratio.u(), ratio.degrees_of_freedom());
    let value = ratio.value - 1.0;
    gain.u = Some(u);
    gain.degrees_of_freedom = df.is_finite().then_some(df);
    let one_sided = t_quantile(LEVEL, df) * u;
    match (b.1, c.1) {
        (Censor::Exact, Censor::Exact) => {
            gain.gain = Some(value);
            gain.low = Some(value - ratio.half_width(LEVEL));
            gain.high = Some(value + ratio.half_width(LEVEL));
        }
        (Censor::Exact | Censor::Below, Censor::Exact | Censor::Above) => {
            gain.low = Some(value - one_sided);
            gain.method += "; only a lower bound: a reading is at its instrument's end";
        }
        (Censor::Exact | Censor::Above, Censor::Exact | Censor::Below) => {
            gain.high = Some(value + one_sided);
            gain.method += "; only an upper bound: a reading is at its instrument's end";
        }
        _ => gain.method = "both readings are bounds: nothing follows".to_owned(),
    }
    gain.ratio = Some(ratio);
}
