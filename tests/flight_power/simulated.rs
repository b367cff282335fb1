//! Simulated flights, whose truth is known and whose physics is not the analysis's.

use benchborne::flight::duration::to_reserve;
use benchborne::flight::energy::draw;
use benchborne::flight::estimated_power::{SensoredFlight, leave_one_flight_out};
use benchborne::flight::holds::{Hold, HoldRules, holds};
use benchborne::flight::loads::loads;
use benchborne::flight::pack::pack_fit;
use benchborne::flight::phases::{Phases, phases};
use benchborne::flight::spool_up::spool_up;
use benchborne::flight::unloading::{FlightHolds, unloading};
use benchborne::ingest::{Channel, Log};
use benchborne::physics::power_curve::{Exponent, PowerCurve};
use benchborne::simulate::bench::static_truth;
use benchborne::simulate::{FlightTruth, SeasonPlan, Sharing, SimLog, Tuned, fly_one};
use benchborne::stats;

use super::made::{accuracy, log};

struct Flown {
    log: Log,
    truth: FlightTruth,
    phases: Phases,
    holds: Vec<Hold>,
    load_factor_p99: f64,
}

fn as_log(sim: &SimLog) -> Log {
    log(
        sim.time.clone(),
        &[
            (Channel::Throttle, sim.throttle.clone()),
            (Channel::Voltage, sim.voltage.clone()),
            (Channel::Current, sim.current.clone()),
            (Channel::VelocityNorth, sim.vn.clone()),
            (Channel::VelocityEast, sim.ve.clone()),
            (Channel::Height, sim.height.clone()),
        ],
    )
}

/// The first fan's flights of a season of six flights a fan, and the first fan on the bench.
fn season() -> (Vec<Flown>, PowerCurve, f64) {
    let plan = SeasonPlan::coverage(6, 0.04, Sharing::EachDay, 4.0);
    let tuned = Tuned::new(&plan).unwrap();
    let flights = (0..plan.flights.len())
        .filter(|n| plan.flights[*n].fan == 0)
        .map(|n| {
            let flown = fly_one(&plan, &tuned, 7, n).unwrap();
            let log = as_log(&flown.log);
            let phases = phases(&log, Some(13.0)).0.unwrap();
            let lag = spool_up(&log).0.unwrap();
            let wind = (flown.truth.wind_north, flown.truth.wind_east);
            let holds = holds(
                &log,
                lag.ninety_s,
                Some(&phases),
                Some(wind),
                &HoldRules::default(),
            )
            .holds;
            let loaded: Vec<f64> = flown
                .log
                .time
                .iter()
                .zip(&flown.log.load_factor_true)
                .filter(|(t, _)| phases.is_airborne(**t))
                .map(|(_, n)| *n)
                .collect();
            let load_factor_p99 = stats::quantile(&loaded, 0.99);
            Flown {
                log,
                truth: flown.truth,
                phases,
                holds,
                load_factor_p99,
            }
        })
        .collect();
    let power = tuned.powers[0];
    let (volts, rho) = (tuned.reference.terminal_v, tuned.reference.rho);
    let throttle: Vec<f64> = (3..=10).map(|n| f64::from(n) / 10.0).collect();
    let at = |u: f64, v: f64, rho: f64| static_truth(&power, v, u, rho).1;
    let exponent = |a: f64, b: f64, step: f64| Exponent {
        value: (a / b).ln() / step.ln(),
        spread: 0.02,
    };
    let full = at(1.0, volts, rho);
    let current_a: Vec<f64> = throttle.iter().map(|u| at(*u, volts, rho)).collect();
    let curve = PowerCurve {
        power: "stock".to_owned(),
        current_u_a: current_a.iter().map(|i| 0.005 * i).collect(),
        throttle,
        current_a,
        reference_voltage_v: volts,
        reference_density_kg_m3: rho,
        voltage_exponent: exponent(at(1.0, 1.05 * volts, rho), full, 1.05),
        density_exponent: exponent(at(1.0, volts, 1.05 * rho), full, 1.05),
    };
    (flights, curve, plan.packs[0].capacity_mah)
}

/// The simulated sensor's scale has a standard deviation of 1.2 %, its zero of 0.15 A.
const SCALE_U: f64 = 0.012;

#[test]
fn power_of_a_simulated_season() {
    let (flights, curve, capacity_mah) = season();
    for flown in &flights {
        let truth = &flown.truth;
        let sensor = accuracy(0.012 * 3.0_f64.sqrt());
        let drawn = draw(&flown.log, None, Some(&sensor), Some(&accuracy(0.01)))
            .0
            .unwrap();
        println!(
            "charge {:?} {} energy {:?} {}",
            drawn.charge_mah, truth.charge_mah, drawn.energy_wh, truth.energy_wh
        );
        println!(
            "air {:?} {} {}",
            flown.phases.airborne, truth.take_off_s, truth.landing_s
        );
        let fit = pack_fit(&flown.log).0.unwrap();
        println!(
            "pack {:?} {:?} {} {} rms {} order {}",
            fit.resistance_ohm,
            fit.resistance_interval_ohm,
            truth.pack_resistance,
            truth.pack_resistance_settled,
            fit.residual_rms_v,
            fit.ocv_v.len()
        );
        let reserve = to_reserve(&flown.log, &flown.phases, 3.6 * capacity_mah, 0.2, 1.0);
        println!(
            "reserve {:?} {:?} {}",
            reserve, truth.reserve_s, truth.time_to_reserve_s
        );
        println!(
            "load {:?} {}",
            loads(&flown.log, truth.density, Some(&flown.phases)).load_factor_p99,
            flown.load_factor_p99
        );
        println!(
            "holds {} lag {:?}",
            flown.holds.len(),
            spool_up(&flown.log).0
        );
    }
    let held: Vec<FlightHolds<'_>> = flights
        .iter()
        .map(|f| FlightHolds {
            flight: "f",
            holds: &f.holds,
            density_kg_m3: f.truth.density,
            level_speed_m_s: Some(f.truth.level_speed),
        })
        .collect();
    let (found, findings) = unloading(&held, &curve, 0.95, SCALE_U);
    println!(
        "{found:#?} {findings:?} {:?}",
        flights
            .iter()
            .map(|f| f.truth.kappa_level)
            .collect::<Vec<_>>()
    );
    let sensored: Vec<SensoredFlight<'_>> = flights
        .iter()
        .map(|f| SensoredFlight {
            flight: "f",
            log: &f.log,
            phases: Some(&f.phases),
            holds: &f.holds,
            density_kg_m3: f.truth.density,
            energy_wh: draw(&f.log, None, None, None)
                .0
                .unwrap()
                .energy_wh
                .unwrap()
                .value,
        })
        .collect();
    println!("{:?}", leave_one_flight_out(&sensored, &curve, 0.95));
    panic!();
}
