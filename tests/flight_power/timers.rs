//! The timer: seen, censored, extrapolated, refused.

use benchborne::flight::duration::ToReserve;
use benchborne::flight::timer::{TimerBasis, timer};

fn reached(airborne_s: f64) -> ToReserve {
    ToReserve {
        airborne_s,
        reached: true,
        flown_s: airborne_s + 10.0,
        mean_current_a: 30.0,
    }
}

/// Landed after `flown_s`; at its mean draw it would have lasted `airborne_s`.
fn landed(flown_s: f64, airborne_s: f64) -> ToReserve {
    ToReserve {
        airborne_s,
        reached: false,
        flown_s,
        mean_current_a: 30.0,
    }
}

const SECONDS: [f64; 10] = [
    295.0, 305.0, 300.0, 290.0, 310.0, 300.0, 297.0, 303.0, 296.0, 304.0,
];

/// k(10; 0.95, 0.95) = 2.911 (ISO 16269-6, table; 2.9109634 by noncentral t).
#[test]
fn the_timer_is_the_tolerance_limit() {
    let times = SECONDS.map(reached);
    let (limit, findings) = timer(&times, 0.0);
    let limit = limit.unwrap();
    let sd = (SECONDS.iter().map(|s| (s - 300.0_f64).powi(2)).sum::<f64>() / 9.0).sqrt();
    assert!((limit.mean_s - 300.0).abs() < 1e-9);
    assert!((limit.sd_s - sd).abs() < 1e-6);
    assert!((limit.limit_s - (300.0 - 2.910_963_4 * sd)).abs() < 1e-4);
    // t(0.975; 9) = 2.262157 [C].
    let half = 2.262_157 * sd / 10.0_f64.sqrt();
    assert!((limit.mean_interval_s.1 - 300.0 - half).abs() < 1e-4);
    assert_eq!((limit.basis, limit.landed_before), (TimerBasis::Seen, 0));
    assert!(findings.is_empty());
    let shared = timer(&times, 0.02).0.unwrap();
    assert!((limit.limit_s - shared.limit_s - 1.644_853_6 * 0.02 * 300.0).abs() < 1e-4);
}

#[test]
fn a_timer_is_refused_below_five_flights() {
    let (limit, findings) = timer(&[300.0, 310.0, 290.0, 305.0].map(reached), 0.0);
    assert_eq!(limit, None);
    assert_eq!(findings[0].code, "timer-needs-flights");
    assert!(findings[0].to_do.contains("1 more"));
}

/// A flight landed before its reserve lasted longer than it flew, whatever its mean draw promises.
#[test]
fn a_flight_landed_before_the_reserve_is_censored() {
    let mut times = SECONDS.map(reached).to_vec();
    times.extend([landed(302.0, 900.0), landed(299.0, 20.0)]);
    let limit = timer(&times, 0.0).0.unwrap();
    assert_eq!((limit.basis, limit.landed_before), (TimerBasis::Seen, 2));
    assert!(limit.mean_s > 300.0 && limit.mean_s < 303.0, "{limit:?}");
    for times in &mut times[10..] {
        times.airborne_s = 400.0;
    }
    assert_eq!(timer(&times, 0.0).0.unwrap(), limit);
}

/// Flights of 40 s say nothing of a reserve at 300 s: they neither move the timer nor tighten it.
#[test]
fn flights_of_forty_seconds_do_not_move_the_timer() {
    let plain = timer(&SECONDS.map(reached), 0.0).0.unwrap();
    let mut times = SECONDS.map(reached).to_vec();
    times.extend([landed(40.0, 280.0); 8]);
    let with = timer(&times, 0.0).0.unwrap();
    assert!((with.limit_s - plain.limit_s).abs() < 1e-6, "{with:?}");
    assert!((with.mean_s - plain.mean_s).abs() < 1e-6);
}

#[test]
fn without_three_flights_at_the_reserve_the_timer_is_called_extrapolated() {
    let mut times = vec![reached(300.0), reached(305.0)];
    times.extend([290.0, 310.0, 296.0, 304.0].map(|s| landed(250.0, s)));
    let (limit, findings) = timer(&times, 0.0);
    let limit = limit.unwrap();
    assert_eq!(limit.basis, TimerBasis::Extrapolated);
    assert!(limit.method.starts_with("extrapolated"));
    assert_eq!(findings[0].code, "reserve-extrapolated");
    assert!(findings[0].what.contains("only 2 of 6"), "{findings:?}");
    let all = timer(
        &[290.0, 310.0, 296.0, 304.0, 299.0].map(|s| landed(250.0, s)),
        0.0,
    );
    assert_eq!(all.0.unwrap().basis, TimerBasis::Extrapolated);
    assert!(all.1[0].what.contains("only 0 of 5"));
}

#[test]
fn flights_that_differ_too_much_have_no_timer() {
    let (limit, findings) = timer(&[60.0, 500.0, 120.0, 430.0, 300.0].map(reached), 0.0);
    assert_eq!(limit, None);
    assert_eq!(findings[0].code, "timer-impossible");
}

/// Half of the flights landed early: the limit that was seen falls to nothing that a pilot could set.
#[test]
fn a_limit_far_below_the_mean_is_no_timer() {
    let mut times = vec![reached(240.0), reached(262.0), reached(291.0)];
    times.extend([
        landed(238.0, 255.0),
        landed(236.0, 260.0),
        landed(231.0, 250.0),
    ]);
    let (limit, findings) = timer(&times, 0.0);
    assert_eq!(findings[0].code, "reserve-extrapolated");
    let limit = limit.unwrap();
    assert_eq!(limit.basis, TimerBasis::Extrapolated);
    assert!(limit.limit_s > 0.5 * limit.mean_s, "{limit:?}");
}
