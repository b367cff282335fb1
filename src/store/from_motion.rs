//! What flights show of excess power, drag, thrust and energy per distance, as rows.

use super::tables::{
    DistanceEnergyRow, ExcessPowerRow, IdleDragRow, PitotRow, SpoolUpRow, ThrustRow,
};
use crate::flight::distance_energy::DistanceEnergy;
use crate::flight::excess_power::Excess;
use crate::flight::glide::{IdleDrag, Induced};
use crate::flight::spool_up::PooledSpoolUp;
use crate::flight::thrust_in_flight::Thrust;
use crate::store::from_flight::Flown;
use crate::units::WH;

/// Windows of one flight.
pub fn excess_rows(flight: &Flown, windows: &[Excess]) -> Vec<ExcessPowerRow> {
    let believed = flight.survey.has_current();
    windows
        .iter()
        .map(|w| ExcessPowerRow {
            flight: flight.row.flight.clone(),
            power: flight.row.power.clone(),
            airframe: flight.row.airframe.clone(),
            place: w.place.word().to_owned(),
            start_s: w.motion.start_s,
            end_s: w.motion.end_s,
            throttle: w.motion.throttle,
            voltage_v: w.motion.voltage_v,
            power_w: w
                .motion
                .voltage_v
                .zip(w.motion.current_a.filter(|_| believed))
                .map(|(v, i)| v * i),
            airspeed_m_s: w.motion.airspeed_m_s,
            climb_m_s: w.motion.climb_m_s,
            load_factor: w.motion.load_factor,
            excess_power_m_s: w.motion.excess_power_m_s,
            density_kg_m3: flight.density_kg_m3,
        })
        .collect()
}

pub fn idle_drag_row(power: &str, airframe: &str, mass_kg: f64, drag: &IdleDrag) -> IdleDragRow {
    IdleDragRow {
        power: power.to_owned(),
        airframe: airframe.to_owned(),
        mass_kg,
        drag_area_m2: drag.drag_area_m2,
        induced_n2_m2: drag.induced,
        induced_from: match drag.induced_from {
            Induced::Fitted => "glides",
            Induced::OfSpan => "span",
            Induced::Left => "none",
        }
        .to_owned(),
        slowest_m_s: drag.slowest_m_s,
        fastest_m_s: drag.fastest_m_s,
        flights: drag.flights as i64,
        glides: drag.glides as i64,
        windows: drag.windows as i64,
    }
}

/// What the bench says standing still, at a row's voltage and density.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Static {
    pub thrust_n: f64,
    pub u_n: f64,
    /// Of that thrust in the outlet area; `None` without one.
    pub jet_speed_m_s: Option<f64>,
}

/// Thrust over one flight's speeds; `bench` by voltage.
pub fn thrust_rows(
    flight: &Flown,
    thrust: &[Thrust],
    bench: impl Fn(f64) -> Option<Static>,
) -> Vec<ThrustRow> {
    thrust
        .iter()
        .map(|t| {
            let still = t.voltage_v.and_then(&bench);
            ThrustRow {
                flight: flight.row.flight.clone(),
                power: flight.row.power.clone().unwrap_or_default(),
                airframe: flight.row.airframe.clone().unwrap_or_default(),
                level: t.level,
                airspeed_m_s: t.airspeed_m_s,
                thrust_n: t.thrust_n,
                thrust_low_n: t.low_n,
                thrust_high_n: t.high_n,
                drag_n: t.drag_n,
                voltage_v: t.voltage_v,
                density_kg_m3: flight.density_kg_m3,
                windows: t.windows as i64,
                static_thrust_n: still.map(|s| s.thrust_n),
                static_thrust_u_n: still.map(|s| s.u_n),
                jet_speed_m_s: still.and_then(|s| s.jet_speed_m_s),
            }
        })
        .collect()
}

pub fn distance_energy_rows(
    power: &str,
    airframes: &str,
    found: &[DistanceEnergy],
) -> Vec<DistanceEnergyRow> {
    let wh_km = |j_m: f64| j_m * 1000.0 / WH;
    found
        .iter()
        .map(|e| DistanceEnergyRow {
            power: power.to_owned(),
            airframes: airframes.to_owned(),
            airspeed_m_s: e.airspeed_m_s,
            energy_wh_km: wh_km(e.energy_j_m),
            low_wh_km: wh_km(e.low_j_m),
            high_wh_km: wh_km(e.high_j_m),
            flights: e.flights as i64,
            windows: e.windows as i64,
        })
        .collect()
}

pub fn spool_up_row(power: &str, pooled: &PooledSpoolUp) -> SpoolUpRow {
    SpoolUpRow {
        power: power.to_owned(),
        lag_s: pooled.lag_s,
        lag_low_s: pooled.interval_s.map(|i| i.0),
        lag_high_s: pooled.interval_s.map(|i| i.1),
        ninety_s: pooled.ninety_s,
        flights: pooled.flights as i64,
        steps: pooled.steps as i64,
    }
}

/// Calibration of a flight's airspeed sensor; none where it logged none, or it could not be calibrated.
pub fn pitot_row(flight: &Flown) -> Option<PitotRow> {
    let pitot = flight.survey.pitot.as_ref()?;
    let (scale_low, scale_high) = pitot.interval(pitot.scale);
    let offset = pitot
        .offset_fitted
        .then(|| pitot.interval(pitot.offset_m_s));
    let (lag_low_s, lag_high_s) = pitot.interval(pitot.lag_s);
    Some(PitotRow {
        flight: flight.row.flight.clone(),
        scale: pitot.scale.value,
        scale_low,
        scale_high,
        offset_m_s: offset.map(|_| pitot.offset_m_s.value),
        offset_low_m_s: offset.map(|o| o.0),
        offset_high_m_s: offset.map(|o| o.1),
        lag_s: pitot.lag_s.value,
        lag_low_s,
        lag_high_s,
        wind_to_north_m_s: pitot.wind_north_m_s,
        wind_to_east_m_s: pitot.wind_east_m_s,
        residual_m_s: pitot.residual_m_s,
        readings: pitot.readings as i64,
        corrected: pitot.is_off(),
    })
}
