//! Change points, and the holds and phases that rest on them.

use benchborne::flight::change_points::{constant_segments, noise_sd, steady};
use benchborne::flight::track::Track;
use benchborne::simulate::{SeasonPlan, Sharing, Tuned, fly_one};
use benchborne::stats;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Steps of a throttle at known times, with noise of the stick.
fn stepped(rate_hz: f64, noise: f64, seed: u64) -> (Vec<f64>, Vec<f64>) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let levels = [0.0, 1.0, 0.5, 0.62, 0.3, 1.0, 0.0];
    let value = (0..(60.0 * rate_hz) as usize)
        .map(|i| {
            let t = i as f64 / rate_hz;
            let level = levels[((t / 9.0) as usize).min(levels.len() - 1)];
            // Mean of twelve uniform numbers: near enough a normal one (sum has variance one).
            let z: f64 = (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
            level + noise * z
        })
        .collect();
    ((1..7).map(|k| 9.0 * f64::from(k)).collect(), value)
}

#[test]
fn steps_are_found_at_any_rate_and_nothing_else() {
    for rate in [1.0, 5.0, 20.0, 50.0, 200.0] {
        for seed in 0..5 {
            let (steps, value) = stepped(rate, 0.01, seed);
            let sd = noise_sd(&value);
            if rate > 1.0 {
                assert!((sd / 0.01 - 1.0).abs() < 0.4, "{rate} Hz: {sd}");
            }
            let found = constant_segments(&value, sd.max(0.005));
            assert_eq!(found.len(), 7, "{rate} Hz, seed {seed}: {found:?}");
            for (segment, step) in found[1..].iter().zip(&steps) {
                let off = segment.from as f64 / rate - step;
                assert!(off.abs() <= 1.0 / rate + 1e-9, "{rate} Hz: {off}");
            }
        }
    }
}

#[test]
fn spikes_and_rests_do_not_move_the_noise() {
    let (_, mut value) = stepped(20.0, 0.01, 3);
    let sd = noise_sd(&value);
    for i in (0..value.len()).step_by(97) {
        value[i] = 5.0;
    }
    assert!((noise_sd(&value) / sd - 1.0).abs() < 0.1);
    assert_eq!(noise_sd(&[]), 0.0);
    assert!(constant_segments(&[], 0.01).is_empty());
    assert_eq!(constant_segments(&[0.4], 0.01).len(), 1);
}

/// Optimality against every segmentation of a short signal, by enumeration.
#[test]
fn the_segmentation_is_the_best_of_all() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    for _ in 0..50 {
        let value: Vec<f64> = (0..11)
            .map(|i| f64::from(u8::from(i > 4)) + 0.6 * rng.random::<f64>())
            .collect();
        let sd = 0.15;
        let penalty = benchborne::flight::change_points::PENALTY * 11.0_f64.ln() * sd * sd;
        let cost = |from: usize, to: usize| {
            let part = &value[from..to];
            let mean = benchborne::stats::mean(part);
            part.iter().map(|v| (v - mean).powi(2)).sum::<f64>() + penalty
        };
        let mut least = f64::INFINITY;
        for cuts in 0_u32..1 << 10 {
            let mut total = 0.0;
            let mut from = 0;
            for i in 0..10 {
                if cuts >> i & 1 == 1 {
                    total += cost(from, i + 1);
                    from = i + 1;
                }
            }
            least = least.min(total + cost(from, 11));
        }
        let found: f64 = constant_segments(&value, sd)
            .iter()
            .map(|s| cost(s.from, s.to))
            .sum();
        assert!((found - least).abs() < 1e-9, "{found} {least}");
    }
}

/// Ten minutes at 200 Hz, most of it at rest: no quadratic time (this would take minutes).
#[test]
fn a_long_fast_log_is_no_burden() {
    let value: Vec<f64> = (0..120_000)
        .map(|i| if (i / 10_000) % 2 == 0 { 0.0 } else { 0.7 })
        .collect();
    assert_eq!(constant_segments(&value, 0.005).len(), 12);
}

/// Rests of simulated flights, seen by slow loggers with a stick noise of 2 %. Truth is the stick's own
/// throttle at 50 Hz: a rest stays within ±1 % for 2.5 s; a span is no rest where a tenth of it is more
/// than 4 % off its mean. Before the scatter of a span was judged, 24, 18 and 9 of some 230 spans were
/// none; the hits were 203, 206 and 206 of 206.
#[test]
fn slow_logs_show_few_rests_that_are_none() {
    let plan = SeasonPlan::coverage(6, 0.04, Sharing::EachDay, 4.0).rate(50.0, 10.0);
    let tuned = Tuned::new(&plan).unwrap();
    let flights: Vec<_> = (0..8)
        .map(|n| fly_one(&plan, &tuned, 7, n).unwrap().log)
        .collect();
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    for (every, hit_share, most_false) in [(50, 0.92, 12), (25, 0.95, 9), (10, 0.98, 5)] {
        let (mut rests, mut hits, mut none) = (0, 0, 0);
        for log in &flights {
            let seen: Vec<usize> = (0..log.len()).step_by(every).collect();
            let track = Track {
                time: seen.iter().map(|&i| log.time[i]).collect(),
                value: seen
                    .iter()
                    .map(|&i| {
                        let z: f64 = (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
                        (log.throttle[i] + 0.02 * z).clamp(0.0, 1.0)
                    })
                    .collect(),
            };
            let found: Vec<_> = steady(&track, 0.02)
                .into_iter()
                .filter(|s| s.end_s - s.start_s >= 1.5)
                .collect();
            for s in &found {
                let off: Vec<f64> = (0..log.len())
                    .filter(|&i| log.time[i] > s.start_s && log.time[i] < s.end_s)
                    .map(|i| (log.throttle[i] - s.mean).abs())
                    .collect();
                none += usize::from(stats::quantile(&off, 0.9) > 0.04);
            }
            let mut i = 0;
            while i < log.len() {
                let (mut low, mut high) = (log.throttle[i], log.throttle[i]);
                let mut j = i;
                while j < log.len() && log.throttle[j].max(high) - log.throttle[j].min(low) <= 0.02
                {
                    (low, high) = (log.throttle[j].min(low), log.throttle[j].max(high));
                    j += 1;
                }
                let (start, end) = (log.time[i], log.time[j - 1]);
                if end - start < 2.5 {
                    i += 1;
                    continue;
                }
                i = j;
                rests += 1;
                let covered = |s: &&benchborne::flight::change_points::Steady| {
                    s.end_s.min(end) - s.start_s.max(start) > 0.5 * (end - start)
                };
                hits += usize::from(found.iter().find(covered).is_some());
            }
        }
        assert!(rests > 190, "{rests}");
        let hit = hits as f64 / f64::from(rests);
        assert!(
            hit >= hit_share && none <= most_false,
            "every {every}th row: {hits} of {rests} rests, {none} that are none"
        );
    }
}
