//! The reference cases for the flight gain: what two simple assumptions make of a static gain.
//!
//! Both say that level top speed follows the power in the jet. *The static figure of merit
//! survives in flight*: that power is the one seen standing still, so it follows from thrust. *It
//! does not survive*: both fans turn electrical power into jet power alike once they fly. At equal
//! outlet and drag area the gains are sqrt(1 + g_T) − 1 and (1 + g_P)^⅓ − 1 (momentum theory, see
//! [`super::momentum`]). It is a band to hold a flight gain against and proves nothing.
//!
//! How little it proves where the outlet is not fixed, a wind tunnel shows (UIUC propeller data,
//! volume 1, Brandt and Selig, AIAA 2011-1255; `scripts/study-propellers` recomputes it from such a
//! table). Of open propellers in pairs of equal diameter at equal shaft power, flown at the level
//! speed where thrust meets a drag area of a fifth of the disk, the truth lies in the band for 8 % of
//! 857 pairs, below it for 63 % and above it for 28 %: the one that pulls more standing still is
//! usually the slower one. Of 116 pairs whose pitches agree within 5 %, 17 % lie in the band, 47 %
//! below and 36 % above.
//!
//! Why: an open propeller has no outlet. Its wake contracts as far as its load makes it, and its pitch,
//! not its diameter, decides the advance ratio at which it works. Coarse pitch stalls standing still
//! and does best in flight; fine pitch pulls hard standing still and runs out of advance. The cases
//! take one outlet area for both states; a duct fixes that area, so that a ducted fan may keep to them
//! where an open propeller does not, yet static blade stall and a bellmouth that helps only on the
//! bench act the same way, and no static figure shows them.

use super::momentum::level_jet_ratio;

/// A relative gain with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    pub gain: f64,
    pub u: f64,
}

/// What is known of the outlets, areas in m².
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outlets {
    /// The same outlet, or none declared: then equality is an assumption to be said.
    Equal,
    /// Both outlets and the drag area S = Cd·A of the airframe.
    Known {
        baseline_m2: f64,
        candidate_m2: f64,
        drag_area_m2: f64,
    },
    /// Both outlets, drag area unknown: the band takes in every drag area.
    DragUnknown { baseline_m2: f64, candidate_m2: f64 },
}

/// The two cases, and the band that they span.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReferenceBand {
    /// The static figure of merit survives: from thrust.
    pub from_thrust: Gain,
    /// It does not: from power.
    pub from_power: Gain,
    /// Lower and upper end, sorted.
    pub low: Gain,
    pub high: Gain,
    /// Standard uncertainty of the difference between the two cases.
    pub u_difference: f64,
}

impl ReferenceBand {
    /// Limits of the lower end, `k` standard uncertainties to either side: both cases count, for
    /// where they lie close together either may truly be the lower one.
    pub fn low_limits(&self, k: f64) -> (f64, f64) {
        self.extreme(k, f64::min)
    }

    /// Limits of the upper end, in the same way.
    pub fn high_limits(&self, k: f64) -> (f64, f64) {
        self.extreme(k, f64::max)
    }

    fn extreme(&self, k: f64, pick: fn(f64, f64) -> f64) -> (f64, f64) {
        let (low, high) = (self.low, self.high);
        (
            pick(low.gain - k * low.u, high.gain - k * high.u),
            pick(low.gain + k * low.u, high.gain + k * high.u),
        )
    }
}

/// Reference gains in level top speed from the static gains in thrust and electrical power
/// (fractions, with standard uncertainties) and the correlation of the two.
///
/// `None` where a gain is −1 or below, or an area is not positive.
pub fn reference_band(
    thrust: Gain,
    power: Gain,
    correlation: f64,
    outlets: Outlets,
) -> Option<ReferenceBand> {
    if !(thrust.gain > -1.0 && power.gain > -1.0) {
        return None;
    }
    let (factors, ratio) = power_to_speed(outlets)?;
    // At equal thrust a smaller outlet needs more jet power: P ~ T^1.5/sqrt(A).
    let thrust_to_power = 1.0 / ratio.sqrt();
    let case = |g: Gain, exponent: f64, factor: f64| {
        let speed = (1.0 + g.gain).powf(exponent) * factor;
        Gain {
            gain: speed - 1.0,
            u: exponent * speed / (1.0 + g.gain) * g.u,
        }
    };
    let from_thrust = |f: f64| case(thrust, 0.5, f * thrust_to_power.cbrt());
    let from_power = |f: f64| case(power, 1.0 / 3.0, f);
    let mut ends: Vec<Gain> = factors
        .iter()
        .flat_map(|f| [from_thrust(*f), from_power(*f)])
        .collect();
    ends.sort_by(|a, b| a.gain.total_cmp(&b.gain));
    let middle = 0.5 * (factors[0] + factors[1]);
    let (t, p) = (from_thrust(middle), from_power(middle));
    Some(ReferenceBand {
        from_thrust: t,
        from_power: p,
        low: ends[0],
        high: ends[3],
        u_difference: (t.u * t.u + p.u * p.u - 2.0 * correlation * t.u * p.u)
            .max(0.0)
            .sqrt(),
    })
}

/// Factor on level speed at equal jet power from the outlets alone (smallest, largest), and the
/// ratio of the outlets.
fn power_to_speed(outlets: Outlets) -> Option<([f64; 2], f64)> {
    let positive = |x: f64| x.is_finite() && x > 0.0;
    match outlets {
        Outlets::Equal => Some(([1.0, 1.0], 1.0)),
        Outlets::Known {
            baseline_m2: a,
            candidate_m2: b,
            drag_area_m2: s,
        } => {
            if !(positive(a) && positive(b) && positive(s)) {
                return None;
            }
            let load = |area: f64| {
                let r = level_jet_ratio(s / area);
                area * r * (r * r - 1.0)
            };
            let factor = (load(a) / load(b)).cbrt();
            Some(([factor; 2], b / a))
        }
        Outlets::DragUnknown {
            baseline_m2: a,
            candidate_m2: b,
        } => {
            if !(positive(a) && positive(b)) {
                return None;
            }
            // A·r·(r² − 1) tends to S for little drag and to (S³/8A)^½ for much of it: the
            // outlet's share in speed lies between A^0 and A^(1/6).
            let most = (b / a).powf(1.0 / 6.0);
            Some(([most.min(1.0), most.max(1.0)], b / a))
        }
    }
}
