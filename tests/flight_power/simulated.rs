//! Simulated flights, whose truth is known and whose physics is not the analysis's.

use benchborne::flight::bench_draw::BenchDraw;
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

fn relative(value: f64, truth: f64) -> f64 {
    value / truth - 1.0
}

#[test]
fn every_flight_of_a_simulated_season() {
    let (flights, _, capacity_mah) = season();
    let sensor = accuracy(SCALE_U * 3.0_f64.sqrt());
    for flown in &flights {
        let truth = &flown.truth;
        let drawn = draw(&flown.log, None, Some(&sensor), Some(&accuracy(0.01)))
            .0
            .unwrap();
        let energy = drawn.energy_wh.unwrap();
        assert!(drawn.charge_mah.low < truth.charge_mah, "{drawn:?}");
        assert!(
            truth.charge_mah < drawn.charge_mah.high.unwrap(),
            "{drawn:?}"
        );
        assert!(energy.low < truth.energy_wh && truth.energy_wh < energy.high.unwrap());

        let &[(up, down)] = flown.phases.airborne.as_slice() else {
            panic!("one flight")
        };
        // The jet leaves the ground at its stall speed and lands on it while the barometer, noisy by
        // half a metre, is a second or two from telling.
        assert!(
            (up - truth.take_off_s).abs() < 0.5,
            "{up} {}",
            truth.take_off_s
        );
        assert!(
            (down - truth.landing_s).abs() < 2.5,
            "{down} {}",
            truth.landing_s
        );

        // A pack answers a step with its ohmic part at once and with polarisation in seconds: a fit
        // without memory must lie between.
        let r = pack_fit(&flown.log).0.unwrap().resistance_ohm;
        assert!(
            (0.98 * truth.pack_resistance..truth.pack_resistance_settled).contains(&r),
            "{r}"
        );

        let reserve = to_reserve(&flown.log, &flown.phases, 3.6 * capacity_mah, 0.2, 1.0).unwrap();
        assert_eq!(reserve.reached, truth.reserve_s.is_some());
        let off = relative(reserve.airborne_s, truth.time_to_reserve_s);
        assert!(off.abs() < 0.03, "{reserve:?} {}", truth.time_to_reserve_s);

        let found = loads(&flown.log, truth.density, Some(&flown.phases))
            .load_factor_p99
            .unwrap();
        assert!(
            relative(found, flown.load_factor_p99).abs() < 0.03,
            "{found}"
        );
        assert!(flown.holds.len() > 40);
    }
}

#[test]
fn unloading_of_a_simulated_season() {
    let (flights, curve, _) = season();
    let held: Vec<FlightHolds<'_>> = flights
        .iter()
        .map(|f| FlightHolds {
            flight: "f",
            holds: &f.holds,
            density_kg_m3: f.truth.density,
            level_speed_m_s: Some(f.truth.level_speed),
        })
        .collect();
    let speed = unloading(&held, &curve, 0.95, SCALE_U)
        .0
        .unwrap()
        .speed
        .unwrap();
    let truth = stats::mean(
        &flights
            .iter()
            .map(|f| f.truth.kappa_level)
            .collect::<Vec<_>>(),
    );
    let (low, high) = speed.kappa_at_level_speed_interval.unwrap();
    assert!(low < truth && truth < high, "{speed:?} {truth}");
    assert!(high - low < 0.07, "{speed:?}");
    assert!(
        (speed.kappa_at_level_speed.unwrap() - truth).abs() < 0.01,
        "{speed:?} {truth}"
    );
    assert!(
        speed.slope_interval_s_m.unwrap().1 < 0.0,
        "unloads with speed"
    );
}

#[test]
fn estimates_of_a_simulated_season() {
    let (flights, curve, _) = season();
    let drawn: Vec<BenchDraw> = flights
        .iter()
        .map(|f| BenchDraw::of(&f.log, Some(&f.phases), f.truth.density, &curve, 0.95))
        .collect();
    let sensored: Vec<SensoredFlight<'_>> = flights
        .iter()
        .zip(&drawn)
        .map(|(f, drawn)| SensoredFlight {
            flight: "f",
            drawn,
            holds: &f.holds,
            energy_wh: draw(&f.log, None, None, None)
                .0
                .unwrap()
                .energy_wh
                .unwrap()
                .value,
        })
        .collect();
    let error = leave_one_flight_out(&sensored, &curve, 0.95, SCALE_U)
        .0
        .unwrap();
    assert_eq!(error.by_flight.len(), flights.len());
    assert!(
        error.bias().abs() < 0.02 && error.sd_log < 0.01,
        "{error:?}"
    );
}
