//! Turning the true effects asked for into fans and airframes that have exactly these effects.

use super::jet::Jet;
use super::physics::{Pack, PowerSystem, Supply, air_density};
use super::season::{AirframePlan, FanPlan, PackPlan, SeasonPlan};

/// Parasite drag area of an airframe without an effect, m².
const DRAG_AREA_M2: f64 = 0.001_45;
/// Charge used at which "same pack" is meant, fraction of capacity.
const REFERENCE_USED: f64 = 0.4;

/// The conditions in which effects are defined: a new first pack at 40 % used, ISO standard day
/// temperature, the first airframe.
#[derive(Debug, Clone, Copy)]
pub struct Reference {
    pub rho: f64,
    pub supply: Supply,
    /// Terminal voltage of the baseline at level top speed on `supply`, V.
    pub terminal_v: f64,
    pub jet: Jet,
}

/// Every fan and airframe of a plan, tuned.
#[derive(Debug, Clone)]
pub struct Tuned {
    pub reference: Reference,
    pub powers: Vec<PowerSystem>,
    pub jets: Vec<Jet>,
    /// d ln(level speed) / d ln(drag area), baseline.
    pub drag_elasticity: f64,
}

/// The root of an increasing or decreasing function between `low` and `high`.
fn bisect(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (low, high);
    let rising = f(high) > f(low);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if (f(middle) > 0.0) == rising {
            high = middle;
        } else {
            low = middle;
        }
    }
    0.5 * (low + high)
}

pub fn pack(plan: &PackPlan, flights_before: usize) -> Pack {
    Pack {
        cells: plan.cells,
        capacity_c: plan.capacity_mah * 3.6,
        resistance: plan.resistance_ohm * (1.0 + plan.ageing * flights_before as f64),
        polarisation: 0.0035,
        polarisation_s: 7.0,
    }
}

fn bare_jet(plan: &AirframePlan) -> Jet {
    Jet {
        mass_kg: plan.mass_kg,
        span_m: plan.span_m,
        stall_m_s: plan.stall_m_s,
        drag_area_m2: DRAG_AREA_M2,
    }
}

impl Tuned {
    /// `None` for a plan without airframe, fan or pack.
    pub fn new(plan: &SeasonPlan) -> Option<Self> {
        let base = PowerSystem::baseline();
        let first = plan.airframes.first()?;
        let rho = air_density(15.0, 985.0);
        let supply = pack(plan.packs.first()?, 0).settled(1.0 - REFERENCE_USED);
        let stock = bare_jet(first);
        let level = |jet: &Jet| jet.level(&base, supply, rho).0;
        let level_stock = level(&stock);
        let with_area = |jet: &Jet, factor: f64| Jet {
            drag_area_m2: jet.drag_area_m2 * factor,
            ..*jet
        };
        let jets: Vec<Jet> = plan
            .airframes
            .iter()
            .map(|airframe| {
                let jet = bare_jet(airframe);
                let target = level_stock * (1.0 + airframe.speed_effect);
                let factor = bisect(0.3, 3.0, |f| level(&with_area(&jet, f)) - target);
                with_area(&jet, factor)
            })
            .collect();
        let jet = *jets.first()?;
        let drag_elasticity = (level(&with_area(&jet, 1.05)) / level(&with_area(&jet, 1.0 / 1.05)))
            .ln()
            / (1.05_f64 * 1.05).ln();
        let terminal_v = jet.level(&base, supply, rho).1.electric.terminal_v;
        let reference = Reference {
            rho,
            supply,
            terminal_v,
            jet,
        };
        let powers = plan
            .fans
            .iter()
            .map(|fan| tune_fan(&base, fan, &reference))
            .collect();
        Some(Self {
            reference,
            powers,
            jets,
            drag_elasticity,
        })
    }
}

/// Torque from the static current, thrust from the static thrust, then the fall of thrust with the
/// advance ratio (which standing still does not show) from the level speed.
fn tune_fan(base: &PowerSystem, fan: &FanPlan, at: &Reference) -> PowerSystem {
    let terminal = Supply::Terminal(at.terminal_v);
    let still = base.steady(terminal, 1.0, 0.0, at.rho);
    let mut power = *base;
    power.fan.cq[2] = fan.unloading;
    let current = still.electric.pack_current_a * (1.0 + fan.current_gain);
    power.fan.cq[0] *= bisect(0.4, 3.0, |factor| {
        let mut trial = power;
        trial.fan.cq[0] *= factor;
        trial
            .steady(terminal, 1.0, 0.0, at.rho)
            .electric
            .pack_current_a
            - current
    });
    let thrust = still.thrust_n * (1.0 + fan.thrust_gain);
    power.fan.ct[0] *= thrust / power.steady(terminal, 1.0, 0.0, at.rho).thrust_n;
    let speed = at.jet.level(base, at.supply, at.rho).0 * (1.0 + fan.speed_effect);
    power.fan.ct[1] = bisect(0.3, 4.0, |fall| {
        let mut trial = power;
        trial.fan.ct[1] = fall;
        at.jet.level(&trial, at.supply, at.rho).0 - speed
    });
    power
}
