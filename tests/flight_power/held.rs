//! The current-duration curve.

use benchborne::flight::current_duration::{
    Between, bench_current_duration, current_duration, largest_mean,
};
use benchborne::flight::track::Track;
use benchborne::ingest::Channel;
use proptest::prelude::*;

use super::made::log;

/// Integral of the signal over a window by adding up every piece anew.
fn by_hand(track: &Track, between: Between, from: f64, to: f64) -> f64 {
    let mut sum = 0.0;
    for i in 1..track.time.len() {
        let (a, b) = (track.time[i - 1].max(from), track.time[i].min(to));
        if b <= a {
            continue;
        }
        let (t0, t1) = (track.time[i - 1], track.time[i]);
        let (v0, v1) = (track.value[i - 1], track.value[i]);
        let at = |t: f64| match between {
            Between::Linear => v0 + (v1 - v0) * (t - t0) / (t1 - t0),
            Between::Held => v0,
        };
        sum += 0.5 * (at(a) + at(b)) * (b - a);
    }
    sum
}

/// Every window start at which an end meets a sample, and a search between each two of them: the
/// window's integral is a quadratic there, whose top lies where three values say it does.
fn brute_force(track: &Track, between: Between, duration: f64) -> f64 {
    let last = track.time[track.time.len() - 1] - duration;
    let mut starts: Vec<f64> = track.time.iter().flat_map(|t| [*t, t - duration]).collect();
    starts.push(last);
    starts.retain(|s| (track.time[0]..=last).contains(s));
    starts.sort_by(f64::total_cmp);
    let area = |s: f64| by_hand(track, between, s, s + duration);
    let mut best = starts
        .iter()
        .map(|s| area(*s))
        .fold(f64::NEG_INFINITY, f64::max);
    for pair in starts.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let (fa, fm, fb) = (area(a), area(0.5 * (a + b)), area(b));
        let bend = fa - 2.0 * fm + fb;
        if bend < 0.0 {
            let x = 0.5 + 0.25 * (fa - fb) / bend;
            if (0.0..=1.0).contains(&x) {
                best = best.max(area(a + x * (b - a)));
            }
        }
    }
    best / duration
}

proptest! {
    #[test]
    fn equals_brute_force(
        steps in prop::collection::vec((0.01..0.7_f64, 0.0..100.0_f64), 2..40),
        share in 0.01..1.0_f64,
        held in any::<bool>(),
    ) {
        let mut t = 0.0;
        let mut track = Track::default();
        for (dt, v) in steps {
            track.time.push(t);
            track.value.push(v);
            t += dt;
        }
        let duration = share * track.length();
        let between = if held { Between::Held } else { Between::Linear };
        let fast = largest_mean(&track, between, duration).unwrap();
        let slow = brute_force(&track, between, duration);
        // Window starts are rounded to 1e-15 of the time; over a short window that is what the
        // mean is uncertain by.
        let rounding = 1e-12 * slow.abs().max(1.0) * (1.0 + track.length() / duration);
        prop_assert!((fast - slow).abs() <= rounding, "{} {}", fast, slow);
    }
}

/// Window ends that meet samples exactly (regular sampling, window a whole number of steps).
#[test]
fn whole_steps_equal_brute_force() {
    let n = 400;
    let track = Track {
        time: (0..n).map(|i| f64::from(i) * 0.1).collect(),
        value: (0..n)
            .map(|i| 40.0 + 30.0 * (f64::from(i) * 0.7).sin() + f64::from(i % 7))
            .collect(),
    };
    for steps in [1, 2, 5, 10, 37, 200, 399] {
        let duration = f64::from(steps) * 0.1;
        for between in [Between::Linear, Between::Held] {
            let Some(fast) = largest_mean(&track, between, duration.min(track.length())) else {
                panic!("{steps}")
            };
            let slow = brute_force(&track, between, duration.min(track.length()));
            assert!((fast - slow).abs() < 1e-12 * 100.0, "{steps} {fast} {slow}");
        }
    }
}

/// A triangle of 10 A peak and 2 s base: a window of t about its top holds 10·(1 − t/4) A.
#[test]
fn a_triangle_is_met_between_samples() {
    let track = Track {
        time: vec![0.0, 1.0, 2.0],
        value: vec![0.0, 10.0, 0.0],
    };
    for t in [0.2, 0.5, 1.0, 2.0] {
        let mean = largest_mean(&track, Between::Linear, t).unwrap();
        assert!((mean - 10.0 * (1.0 - t / 4.0)).abs() < 1e-12, "{t} {mean}");
    }
    assert_eq!(largest_mean(&track, Between::Linear, 2.1), None);
}

#[test]
fn windows_do_not_cross_gaps() {
    let time: Vec<f64> = (0..=50)
        .chain(150..=200)
        .map(|i| f64::from(i) * 0.1)
        .collect();
    let n = time.len();
    let curve = current_duration(
        &log(time, &[(Channel::Current, vec![50.0; n])]),
        Between::Linear,
        &[3.0, 8.0],
    );
    assert!(
        (curve.last().unwrap().duration_s - 5.0).abs() < 1e-9,
        "longest track"
    );
    assert!(
        curve.iter().any(|h| h.duration_s == 3.0),
        "the burst time is a point of its own"
    );
    assert!(curve.iter().all(|h| (h.current_a - 50.0).abs() < 1e-9));
    assert!((curve[0].duration_s - 0.2).abs() < 1e-12);
}

#[test]
fn no_current_no_curve() {
    let made = log(vec![0.0, 1.0, 2.0], &[(Channel::Current, vec![0.0; 3])]);
    assert!(current_duration(&made, Between::Linear, &[]).is_empty());
}

#[test]
fn a_bench_point_is_a_level_line() {
    let unknown = bench_current_duration(72.0, None, &[1.0, 10.0, 100.0]);
    assert_eq!((unknown.held_s, unknown.curve.len()), (None, 3));
    let known = bench_current_duration(72.0, Some(10.0), &[1.0, 10.0, 100.0]);
    assert_eq!((known.held_s, known.curve.len()), (Some(10.0), 2));
    assert!(known.curve.iter().all(|h| h.current_a == 72.0));
}
