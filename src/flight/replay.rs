//! Replay: a flight's throttle history flown again with another power system, which need not have
//! flown yet.
//!
//! At each moment the flight shows its throttle, terminal voltage and current, hence the open-circuit
//! voltage behind the pack's resistance, and how its current stands to the bench of the system flown
//! (unloading at that airspeed and density, spool-up, all there is). The other system draws as many
//! times more or less as its bench curve says at the same throttle, at the terminal voltage that its
//! own draw leaves of a pack from which it took its own charge. Taken over: that it unloads alike; an
//! allowance says by how much it may not.
//!
//! What the sticks would do is not known, but lies between two cases. *The same throttle*: the pilot
//! holds the stick where it was, and flies faster with a stronger fan. *The same power*: below full
//! throttle the pilot asks for the speed flown before, and that takes the power it took before, for in
//! flight neither fan makes more of its power than the other (the reference case from power, see
//! [`crate::physics::reference`]). The same static thrust instead of the same power would make too
//! much of a gain that seldom carries over: on simulated flights it foretold 29 % too long.

use serde::{Deserialize, Serialize};

use crate::flight::pack::PackFit;
use crate::flight::phases::Phases;
use crate::flight::track::{at, tracks};
use crate::flight::unloading::STOP_JITTER;
use crate::ingest::{Channel, Log};
use crate::physics::power_curve::{AtThrottle, PowerCurve};

/// A flight to be flown again.
#[derive(Debug, Clone, Copy)]
pub struct History<'a> {
    pub log: &'a Log,
    pub phases: &'a Phases,
    pub density_kg_m3: f64,
    pub pack: &'a PackFit,
    /// Rated charge, C, and the share of it that stays in.
    pub capacity_c: f64,
    pub reserve: f64,
}

/// What the pilot does with the other system.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sticks {
    SameThrottle,
    /// Below this throttle the power drawn stays as it was.
    SamePowerBelow(f64),
}

/// The flight with the other system.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Replay {
    /// Airborne time to the reserve, s.
    pub to_reserve_s: f64,
    /// False: the history ends before the reserve, and is carried on at its mean draw.
    pub reached: bool,
    /// Charge drawn over the whole history, C; and what the flight itself drew over it.
    pub charge_c: f64,
    pub flown_charge_c: f64,
    /// Share of the charge drawn at a throttle below either bench, where the lowest point's ratio
    /// stands in.
    pub below_bench: f64,
}

/// Why a flight cannot be replayed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum NoReplay {
    /// Without throttle, volts and amps side by side.
    MissingChannels,
    /// The recording has gaps: what was drawn meanwhile is not known.
    Gaps,
    /// It flew above the throttle that both benches reach.
    AboveBench,
    /// The benches have no throttle in common.
    NoCommonThrottle,
    NotAirborne,
}

/// Rounds of current and terminal voltage; each leaves a fifth of the error of the one before.
const ROUNDS: usize = 8;
/// As for the time to reserve: more of the recording missing than this and the charge is not known.
const MOST_MISSING: f64 = 0.01;

/// Flies `history`, flown with `flown`, again with `other`.
pub fn replay(
    history: &History<'_>,
    flown: &PowerCurve,
    other: &PowerCurve,
    sticks: Sticks,
) -> Result<Replay, NoReplay> {
    let (low, high) = common_throttle(flown, other).ok_or(NoReplay::NoCommonThrottle)?;
    let throttle = tracks(history.log, Channel::Throttle);
    let voltage = tracks(history.log, Channel::Voltage);
    let current = tracks(history.log, Channel::Current);
    let (Some(first), Some(last)) = (history.log.time.first(), history.log.time.last()) else {
        return Err(NoReplay::MissingChannels);
    };
    if throttle.is_empty() || voltage.is_empty() || current.is_empty() {
        return Err(NoReplay::MissingChannels);
    }
    let covered: f64 = current.iter().map(|t| t.length()).sum();
    if covered < (1.0 - MOST_MISSING) * (last - first) {
        return Err(NoReplay::Gaps);
    }
    let flown_ah = current
        .iter()
        .map(|t| t.integral(t.start(), t.end()).0)
        .sum::<f64>()
        / 3600.0;
    let usable_c = history.capacity_c * (1.0 - history.reserve);
    let (mut used_c, mut flown_c, mut below_c) = (0.0, 0.0, 0.0);
    let (mut airborne_c, mut airborne_s) = (0.0, 0.0);
    let mut reached: Option<f64> = None;
    for track in &current {
        let mut before: Option<(f64, f64, f64)> = None;
        for (&t, &amps) in track.time.iter().zip(&track.value) {
            let (Some(u), Some(volts)) = (at(&throttle, t), at(&voltage, t)) else {
                continue;
            };
            if u > high + STOP_JITTER {
                return Err(NoReplay::AboveBench);
            }
            let open_circuit = volts
                + amps * history.pack.resistance_ohm
                + falls_further(history.pack, flown_ah, flown_c, used_c);
            let moment = Moment {
                throttle: u.clamp(low, high),
                same_power: matches!(sticks, Sticks::SamePowerBelow(full) if u < full),
                amps,
                volts,
                open_circuit,
                resistance_ohm: history.pack.resistance_ohm,
                density_kg_m3: history.density_kg_m3,
            };
            let drawn = moment
                .drawn(flown, other)
                .ok_or(NoReplay::NoCommonThrottle)?;
            if let Some((t0, amps0, drawn0)) = before {
                let dt = t - t0;
                let more = 0.5 * (drawn + drawn0) * dt;
                if reached.is_none() && used_c + more >= usable_c && more > 0.0 {
                    reached = Some(t0 + dt * (usable_c - used_c) / more);
                }
                used_c += more;
                flown_c += 0.5 * (amps + amps0) * dt;
                if u < low {
                    below_c += more;
                }
                if history.phases.is_airborne(t) {
                    airborne_c += more;
                    airborne_s += dt;
                }
            }
            before = Some((t, amps, drawn));
        }
    }
    if !(airborne_s > 0.0 && airborne_c > 0.0) {
        return Err(NoReplay::NotAirborne);
    }
    let to_reserve_s = match reached {
        Some(time) => history.phases.airborne_until(time),
        None => history.phases.airborne_s() + (usable_c - used_c) / (airborne_c / airborne_s),
    };
    Ok(Replay {
        to_reserve_s,
        reached: reached.is_some(),
        charge_c: used_c,
        flown_charge_c: flown_c,
        below_bench: below_c / used_c,
    })
}

/// The throttle range that both benches cover.
fn common_throttle(a: &PowerCurve, b: &PowerCurve) -> Option<(f64, f64)> {
    let low = a.throttle.first()?.max(*b.throttle.first()?);
    let high = a.throttle.last()?.min(*b.throttle.last()?);
    (low < high).then_some((low, high))
}

/// How much lower (negative) the open-circuit voltage lies after `used_c` than after `flown_c`, V.
/// Beyond the charge that the flight saw (`end`, A.h) its curve goes on straight from its last fifth.
fn falls_further(pack: &PackFit, end: f64, flown_c: f64, used_c: f64) -> f64 {
    let v = |c: f64| {
        let ah = c / 3600.0;
        if ah <= end {
            return pack.open_circuit_v(ah);
        }
        let slope = (pack.open_circuit_v(end) - pack.open_circuit_v(0.8 * end)) / (0.2 * end);
        pack.open_circuit_v(end) + slope * (ah - end)
    };
    v(used_c) - v(flown_c)
}

/// One reading, and the pack behind it.
struct Moment {
    throttle: f64,
    same_power: bool,
    amps: f64,
    volts: f64,
    open_circuit: f64,
    resistance_ohm: f64,
    density_kg_m3: f64,
}

impl Moment {
    /// What the other system draws: bench over bench, each at its own terminal voltage, or the same
    /// power.
    fn drawn(&self, flown: &PowerCurve, other: &PowerCurve) -> Option<f64> {
        let at = |curve: &PowerCurve| curve.at(self.throttle, self.density_kg_m3);
        let bench = |curve: &AtThrottle, volts: f64| {
            let amps = curve.current(volts).map(|(amps, _)| amps);
            amps.filter(|amps| *amps > 0.0)
        };
        let share = self.amps / bench(&at(flown)?, self.volts)?;
        let other = at(other);
        let mut amps = self.amps;
        for _ in 0..ROUNDS {
            let volts = (self.open_circuit - amps * self.resistance_ohm).max(0.1 * self.volts);
            amps = if self.same_power {
                self.amps * self.volts / volts
            } else {
                share * bench(other.as_ref()?, volts)?
            };
        }
        Some(amps)
    }
}
