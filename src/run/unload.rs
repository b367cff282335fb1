//! The unloading of each power system, and the draw of flights without a current sensor from it.

use super::benches::Benches;
use super::flights::Flights;
use crate::flight::energy::Bounded;
use crate::flight::estimated_power::{Kappa, SensoredFlight, estimate, leave_one_flight_out};
use crate::flight::unloading::{FlightHolds, unloading};
use crate::season::{Finding, Season};
use crate::stats;
use crate::store::EstimateErrorRow;
use crate::store::from_flight::Flown;

/// Unloading of each power system, and the draw of flights without a current sensor from it.
pub fn unload(
    season: &Season,
    benches: &Benches,
    flights: &mut [Flown],
    out: &mut Flights,
    complaints: &mut Vec<Finding>,
) {
    let full = season.rules.full_throttle.value;
    for (power, found) in &benches.curves {
        let Some(curve) = &found.current else {
            continue;
        };
        let of_power: Vec<usize> = (0..flights.len())
            .filter(|i| flights[*i].row.power.as_ref() == Some(power))
            .collect();
        let holds: Vec<FlightHolds> = of_power
            .iter()
            .map(|i| &flights[*i])
            .filter(|f| f.survey.has_sound_current() && !f.holds.is_empty())
            .map(|f| FlightHolds {
                flight: &f.row.flight,
                holds: &f.holds,
                density_kg_m3: f.density_kg_m3,
                level_speed_m_s: f.level.as_ref().map(|l| l.fit.level_speed_m_s),
            })
            .collect();
        if holds.is_empty() {
            continue;
        }
        // A wrong voltage asks the bench at a wrong voltage. What an energy's interval has beyond the
        // charge's is the voltage's.
        let (energy_u, current_u) = (
            energy_u(&of_power, flights),
            sensor_scale_u(&of_power, flights),
        );
        let voltage_u = (energy_u.powi(2) - current_u.powi(2)).max(0.0).sqrt();
        let shared_u = current_u.hypot(curve.voltage_exponent.value * voltage_u);
        let (found, findings) = unloading(&holds, curve, full, shared_u);
        complaints.extend(findings);
        let Some(found) = found else { continue };
        let sensored: Vec<SensoredFlight> = of_power
            .iter()
            .map(|i| &flights[*i])
            .filter_map(|f| {
                // What a saturated sensor counted is a lower bound: no measure of an estimate.
                let draw = f.survey.draw.as_ref();
                let draw = draw.filter(|_| f.survey.has_sound_current())?;
                Some(SensoredFlight {
                    flight: &f.row.flight,
                    drawn: f.bench_draw.as_ref()?,
                    holds: &f.holds,
                    energy_wh: draw.energy_wh?.value,
                })
            })
            .collect();
        let (error, findings) = leave_one_flight_out(&sensored, curve, full, energy_u);
        let without: Vec<usize> = of_power
            .iter()
            .copied()
            .filter(|i| flights[*i].survey.draw.is_none() && flights[*i].bench_draw.is_some())
            .collect();
        if !without.is_empty() {
            complaints.extend(findings);
        }
        if let Some(error) = &error {
            out.estimate_errors
                .extend(error.by_flight.iter().map(|of| EstimateErrorRow {
                    power: power.clone(),
                    flight: of.flight.clone(),
                    relative_error: of.relative,
                    low: of.interval.map(|i| i.0),
                    high: of.interval.map(|i| i.1),
                    low_90: of.interval_90.map(|i| i.0),
                    high_90: of.interval_90.map(|i| i.1),
                }));
        }
        let voltages: Vec<f64> = of_power
            .iter()
            .filter_map(|i| flights[*i].passes.map(|p| p.voltage_v))
            .collect();
        let assumed = (!voltages.is_empty()).then(|| stats::mean(&voltages));
        if let Some(kappa) = Kappa::of(&found, full) {
            for i in without {
                let Some(drawn) = &flights[i].bench_draw else {
                    continue;
                };
                let (drawn, findings) = estimate(drawn, curve, &kappa, assumed, error.as_ref());
                complaints.extend(findings);
                flights[i].estimated = drawn;
            }
        }
        out.unloading.insert(power.clone(), found);
    }
}

/// Relative standard uncertainty that the measured energies share: of a half-width at 95 % the half.
fn energy_u(of_power: &[usize], flights: &[Flown]) -> f64 {
    let energies = of_power
        .iter()
        .filter_map(|i| flights[*i].survey.draw.as_ref()?.energy_wh);
    0.5 * half_width(energies)
}

/// The same of the current sensors' scale, from the charges.
fn sensor_scale_u(of_power: &[usize], flights: &[Flown]) -> f64 {
    let draws = of_power
        .iter()
        .filter_map(|i| flights[*i].survey.draw.as_ref());
    0.5 * half_width(draws.map(|d| d.charge_mah))
}

fn half_width(of: impl Iterator<Item = Bounded>) -> f64 {
    stats::median_relative_half_width(of.map(|b| (Some(b.low), Some(b.value), b.high)))
}
