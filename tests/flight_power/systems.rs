//! Unloading over flights, and power estimated without a current sensor.

use benchborne::flight::bench_draw::BenchDraw;
use benchborne::flight::energy::draw;
use benchborne::flight::estimated_power::{Kappa, SensoredFlight, estimate, leave_one_flight_out};
use benchborne::flight::holds::{Hold, HoldRules, holds};
use benchborne::flight::phases::Phases;
use benchborne::flight::unloading::{
    FlightHolds, NoUnloading, Unloading, hold_unloading, unloading,
};
use benchborne::ingest::{Channel, Log};
use benchborne::season::Finding;

use super::made::{DENSITY, LIFT_OFF_S, Truth, airborne, curve, without};

struct Flown {
    id: String,
    log: Log,
    phases: Phases,
    holds: Vec<Hold>,
}

/// Flights whose kappa scatters by half a percent about 0.92.
fn season(count: u64, base: &Truth) -> Vec<Flown> {
    (0..count)
        .map(|n| {
            let scatter = 0.005 * (n as f64 * 2.4).sin();
            let truth = Truth {
                kappa: base.kappa + scatter,
                seed: n + 1,
                current_noise_a: 0.3,
                ..base.clone()
            };
            let log = truth.fly();
            let phases = airborne(&[(LIFT_OFF_S, truth.end() - 5.0)]);
            let holds = holds(&log, 0.7, Some(&phases), None, &HoldRules::default()).holds;
            Flown {
                id: format!("f{n}"),
                log,
                phases,
                holds,
            }
        })
        .collect()
}

fn beside_bench(flights: &[Flown], level: Option<f64>) -> (Option<Unloading>, Vec<Finding>) {
    let held: Vec<FlightHolds<'_>> = flights
        .iter()
        .map(|f| FlightHolds {
            flight: &f.id,
            holds: &f.holds,
            density_kg_m3: DENSITY,
            level_speed_m_s: level,
        })
        .collect();
    unloading(&held, &curve(), 0.95, 0.0)
}

#[test]
fn unloading_by_throttle_is_recovered() {
    let flights = season(6, &Truth::default());
    let (found, findings) = beside_bench(&flights, None);
    let found = found.unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(found.bins.len(), 4, "0.3, 0.5, 0.7 and full throttle");
    for bin in &found.bins {
        assert_eq!(bin.flights, 6);
        assert!((bin.kappa - 0.92).abs() < 0.006, "{bin:?}");
        let (low, high) = bin.kappa_interval.unwrap();
        assert!(low < 0.92 && 0.92 < high && high - low < 0.06, "{bin:?}");
        assert!((bin.flight_current_a - bin.kappa * bin.bench_current_a).abs() < 1e-9);
    }
}

#[test]
fn slope_in_airspeed_and_value_at_level_speed() {
    let truth = Truth {
        slope: -0.002,
        ..Truth::default()
    };
    let flights = season(5, &truth);
    let speed = beside_bench(&flights, Some(55.0)).0.unwrap().speed.unwrap();
    let (low, high) = speed.slope_interval_s_m.unwrap();
    assert!((speed.slope_s_m + 0.002).abs() < 2e-4, "{speed:?}");
    assert!(low <= speed.slope_s_m && speed.slope_s_m <= high);
    let level = speed.kappa_at_level_speed.unwrap();
    assert!((level - (0.92 - 0.002 * 15.0)).abs() < 0.005, "{speed:?}");
    let (low, high) = speed.kappa_at_level_speed_interval.unwrap();
    assert!(low < 0.89 && 0.89 < high);

    let (far, findings) = beside_bench(&flights, Some(80.0));
    assert_eq!(far.unwrap().speed.unwrap().kappa_at_level_speed, None);
    assert!(findings.iter().any(|f| f.code == "level-speed-not-held"));
}

#[test]
fn one_flight_has_values_but_no_intervals() {
    let found = beside_bench(&season(1, &Truth::default()), None).0.unwrap();
    assert!(found.bins.iter().all(|b| b.kappa_interval.is_none()));
    assert_eq!(found.speed.and_then(|s| s.slope_interval_s_m), None);
}

#[test]
fn holds_outside_the_bench_are_refused() {
    let hold = Hold {
        start_s: 0.0,
        end_s: 2.0,
        throttle: 0.12,
        voltage_v: Some(22.0),
        current_a: Some(3.0),
        power_w: None,
        ground_speed_m_s: None,
        airspeed_m_s: None,
        airborne: true,
    };
    assert_eq!(
        hold_unloading(&hold, &curve(), 1.2),
        Err(NoUnloading::OutsideBench)
    );
    let blind = Hold {
        voltage_v: None,
        throttle: 0.5,
        ..hold.clone()
    };
    assert_eq!(
        hold_unloading(&blind, &curve(), 1.2),
        Err(NoUnloading::NoVoltage)
    );
    let jitter = Hold {
        throttle: 1.002,
        current_a: Some(70.0),
        ..hold.clone()
    };
    assert!(hold_unloading(&jitter, &curve(), 1.2).is_ok());
    let held = [FlightHolds {
        flight: "f",
        holds: &[hold],
        density_kg_m3: 1.2,
        level_speed_m_s: None,
    }];
    let (none, findings) = unloading(&held, &curve(), 0.95, 0.0);
    assert_eq!(none, None);
    assert_eq!(findings[0].code, "hold-outside-bench");
}

#[test]
fn a_reversed_throttle_is_refused() {
    let mut flights = season(2, &Truth::default());
    for flight in &mut flights {
        flight
            .log
            .channels
            .get_mut(&Channel::Throttle)
            .unwrap()
            .iter_mut()
            .for_each(|u| *u = 1.2 - *u);
        flight.holds = holds(
            &flight.log,
            0.7,
            Some(&flight.phases),
            None,
            &HoldRules::default(),
        )
        .holds;
    }
    let (none, findings) = beside_bench(&flights, None);
    assert_eq!(none, None);
    assert_eq!(findings[0].code, "throttle-reversed");
}

#[test]
fn an_impossible_ratio_is_refused() {
    let mut flights = season(2, &Truth::default());
    flights
        .iter_mut()
        .flat_map(|f| &mut f.holds)
        .for_each(|h| h.current_a = h.current_a.map(|i| 0.3 * i));
    let (none, findings) = beside_bench(&flights, None);
    assert_eq!(none, None);
    assert_eq!(findings[0].code, "unloading-impossible");
}

#[test]
fn throttle_never_above_half_says_so() {
    let mut truth = Truth::default();
    truth.programme.iter_mut().for_each(|p| p.1 = p.1.min(0.45));
    let flights = season(2, &truth);
    let (found, findings) = beside_bench(&flights, Some(50.0));
    assert_eq!(found.unwrap().speed, None);
    assert!(findings.iter().any(|f| f.code == "no-full-throttle"));
}

fn beside(log: &Log, phases: Option<&Phases>) -> BenchDraw {
    BenchDraw::of(log, phases, DENSITY, &curve(), 0.95)
}

#[test]
fn estimated_energy_is_close_and_its_error_known() {
    let truth = Truth {
        slope: -0.001,
        ..Truth::default()
    };
    let flights = season(5, &truth);
    let energies: Vec<f64> = flights
        .iter()
        .map(|f| {
            draw(&f.log, None, None, None)
                .0
                .unwrap()
                .energy_wh
                .unwrap()
                .value
        })
        .collect();
    let drawn: Vec<BenchDraw> = flights
        .iter()
        .map(|f| beside(&f.log, Some(&f.phases)))
        .collect();
    let sensored: Vec<SensoredFlight<'_>> = flights
        .iter()
        .zip(&energies)
        .zip(&drawn)
        .map(|((f, &energy_wh), drawn)| SensoredFlight {
            flight: &f.id,
            drawn,
            holds: &f.holds,
            energy_wh,
        })
        .collect();
    let (error, _) = leave_one_flight_out(&sensored, &curve(), 0.95, 0.0);
    let error = error.unwrap();
    assert_eq!(error.by_flight.len(), 5);
    assert!(
        error.bias().abs() < 0.02 && error.sd_log < 0.01,
        "{error:?}"
    );

    let kappa = Kappa::of(&beside_bench(&flights, None).0.unwrap(), 0.95).unwrap();
    let fresh = Truth {
        seed: 99,
        ..truth.clone()
    }
    .fly();
    let true_wh = draw(&fresh, None, None, None)
        .0
        .unwrap()
        .energy_wh
        .unwrap()
        .value;
    let blind = without(&fresh, &[Channel::Current]);
    let phases = airborne(&[(LIFT_OFF_S, truth.end() - 5.0)]);
    let drawn = beside(&blind, Some(&phases));
    let (estimated, findings) = estimate(&drawn, &curve(), &kappa, None, Some(&error));
    let estimated = estimated.unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    assert!(
        (estimated.energy_wh.value / true_wh - 1.0).abs() < 0.01,
        "{estimated:?} {true_wh}"
    );
    assert!(estimated.energy_wh.low < true_wh && true_wh < estimated.energy_wh.high.unwrap());

    let (few, findings) = leave_one_flight_out(&sensored[..2], &curve(), 0.95, 0.0);
    assert_eq!(few, None);
    assert_eq!(findings[0].code, "estimate-error-unknown");
}

/// The rows' own sum by the trapezoid rule, each with the unloading at its own throttle.
#[test]
fn a_flight_gathered_by_throttle_draws_what_its_rows_draw() {
    let truth = Truth {
        // Throttles that nothing is rounded to, and a ramp through all of them.
        programme: vec![(30.0, 0.4137), (60.0, 0.7731), (90.0, 0.31), (120.0, 1.0)],
        ..Truth::default()
    };
    let mut log = without(&truth.fly(), &[Channel::Current]);
    let rows = log.len();
    let throttle = log.channels.get_mut(&Channel::Throttle).unwrap();
    for (i, u) in throttle.iter_mut().enumerate().skip(rows / 2) {
        *u = 0.3 + 0.65 * (i - rows / 2) as f64 / rows as f64;
    }
    let phases = airborne(&[(LIFT_OFF_S, truth.end() - 5.0)]);
    let season = season(5, &Truth::default());
    let kappa = Kappa::of(&beside_bench(&season, None).0.unwrap(), 0.95).unwrap();
    let power: Vec<f64> = (0..rows)
        .map(|i| {
            let at = |c| log.get(c).unwrap()[i];
            let (u, v) = (at(Channel::Throttle), at(Channel::Voltage));
            let flying = phases.is_airborne(log.time[i]);
            let airspeed = log.get(Channel::Airspeed).map(|a| a[i]);
            let k = if flying { kappa.at(u, airspeed) } else { 1.0 };
            curve().current(u, v, DENSITY).map_or(0.0, |c| c.0) * v * k
        })
        .collect();
    let rows_j: f64 = (1..rows)
        .map(|i| 0.5 * (power[i] + power[i - 1]) * (log.time[i] - log.time[i - 1]))
        .sum();
    let drawn = beside(&log, Some(&phases));
    assert!(
        drawn.classes.len() > 300 && drawn.classes.len() < rows / 2,
        "{} of {rows}",
        drawn.classes.len()
    );
    let found = estimate(&drawn, &curve(), &kappa, None, None).0.unwrap();
    let apart = found.energy_wh.value / (rows_j / 3600.0) - 1.0;
    assert!(apart.abs() < 1e-5, "{apart:e}");
    let peak = power.iter().copied().fold(0.0, f64::max);
    assert!((found.peak_power_w / peak - 1.0).abs() < 2e-3);
}

#[test]
fn throttle_below_the_bench_is_charged_to_the_interval() {
    let truth = Truth {
        programme: vec![(30.0, 1.0), (90.0, 0.1), (120.0, 1.0)],
        ..Truth::default()
    };
    let flown = without(&truth.fly(), &[Channel::Current]);
    let kappa = Kappa::of(
        &beside_bench(&season(3, &Truth::default()), None).0.unwrap(),
        0.95,
    )
    .unwrap();
    let (estimated, findings) = estimate(&beside(&flown, None), &curve(), &kappa, None, None);
    let estimated = estimated.unwrap();
    assert!(
        (estimated.below_bench_s - 60.0).abs() < 0.2,
        "{}",
        estimated.below_bench_s
    );
    assert_eq!(findings[0].code, "throttle-below-bench");
    // Lowest bench point: 80·0.2^2.5 = 1.43 A at reference; half of it, for a minute.
    let bound = 0.5 * 0.92 * 1.43 * 60.0 / 3.6;
    let charge = estimated.charge_mah;
    let widened = (charge.value - charge.low)
        - charge.value * (1.0 - (-2.0 * kappa.relative_u.unwrap()).exp());
    assert!(widened > 0.6 * bound, "{widened} {bound}");
}

#[test]
fn estimates_refuse_what_they_do_not_have() {
    let kappa = Kappa::of(
        &beside_bench(&season(2, &Truth::default()), None).0.unwrap(),
        0.95,
    )
    .unwrap();
    let flown = Truth::default().fly();
    let no_throttle = without(&flown, &[Channel::Current, Channel::Throttle]);
    let no_voltage = without(&flown, &[Channel::Current, Channel::Voltage]);
    for log in [&no_throttle, &no_voltage] {
        let (none, findings) = estimate(&beside(log, None), &curve(), &kappa, None, None);
        assert_eq!(none, None);
        assert_eq!(findings[0].code, "power-not-estimated");
    }
    let blind = beside(&no_voltage, None);
    let assumed = estimate(&blind, &curve(), &kappa, Some(22.2), None);
    let assumed = assumed.0.unwrap();
    assert!(assumed.voltage_assumed);
    let drawn = beside(&without(&flown, &[Channel::Current]), None);
    let logged = estimate(&drawn, &curve(), &kappa, None, None).0.unwrap();
    let width = |b: benchborne::flight::energy::Bounded| (b.high.unwrap() - b.low) / b.value;
    assert!(width(assumed.energy_wh) > width(logged.energy_wh));
}

/// A fan whose torque falls with the square of the advance ratio: kappa bends, and a straight line
/// through a climb and the passes reads 0.6 % too high at level speed.
#[test]
fn a_bent_unloading_is_followed_to_level_speed() {
    // A bench without error: what is left of the interval is the bend's.
    let mut bench = curve();
    bench.current_u_a.fill(0.0);
    (bench.reference_voltage_v, bench.reference_density_kg_m3) = (15.0, DENSITY);
    let still = bench.current(1.0, 15.0, DENSITY).unwrap().0;
    let bent = |v: f64| 0.98 - 0.12 * (v / 60.0_f64).powi(2);
    let holds: Vec<Hold> = [26.0, 48.0, 50.0, 52.0, 54.0, 56.0, 57.0]
        .into_iter()
        .map(|v| Hold {
            start_s: v,
            end_s: v + 2.0,
            throttle: 1.0,
            voltage_v: Some(15.0),
            current_a: Some(bent(v) * still),
            power_w: None,
            ground_speed_m_s: None,
            airspeed_m_s: Some(v),
            airborne: true,
        })
        .collect();
    let at_level = |holds: &[Hold]| {
        let flights = ["a", "b", "c"].map(|flight| FlightHolds {
            flight,
            holds,
            density_kg_m3: DENSITY,
            level_speed_m_s: Some(60.0),
        });
        unloading(&flights, &bench, 0.95, 0.0)
            .0
            .unwrap()
            .speed
            .unwrap()
    };
    let speed = at_level(&holds);
    let found = speed.kappa_at_level_speed.unwrap();
    assert!((found - bent(60.0)).abs() < 1e-9, "{found}");
    // Without the climb the bend cannot be told: what it may take off is charged.
    let speed = at_level(&holds[1..]);
    let (low, high) = speed.kappa_at_level_speed_interval.unwrap();
    let found = speed.kappa_at_level_speed.unwrap();
    assert!(
        found > bent(60.0) + 0.001 && low < bent(60.0) + 1e-9,
        "{speed:?}"
    );
    assert!(bent(60.0) < high);
}
