//! Intervals against known truths.

use benchborne::simulate::bench::{self as simulate, BenchPlan, Meters};
use benchborne::simulate::tune::{self, Tuned};
use benchborne::simulate::{SeasonPlan, Sharing};

use super::*;

/// Seeded draws by a congruential generator (Knuth's MMIX constants), normal by twelve sums.
struct Draws(u64);

impl Draws {
    fn uniform(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
    fn within(&mut self, limit: f64) -> f64 {
        limit * (2.0 * self.uniform() - 1.0)
    }
}

/// The 95 % interval of the static gain covers the truth: benches with known gains, scale errors
/// within the declared limits, scatter of 1 %, and motors spread about the usual exponents.
#[test]
fn intervals_of_static_gains_cover_the_truth() {
    let mut draws = Draws(20_250_412);
    let (mut covered, mut trials) = ([0, 0], 0);
    for trial in 0..400 {
        let repeats = [3, 1, 2][trial % 3];
        let scale = [draws.within(0.01), draws.within(0.02), draws.within(0.01)];
        let common = draws.normal();
        let mut table = |volts: f64, thrust: f64, amps: f64| {
            let own = draws.normal();
            let soft = (common + own) * 0.5f64.sqrt();
            let mut text = format!("{HEADER}\n");
            for _ in 0..repeats {
                let v = volts + draws.within(0.1);
                let t = thrust * (v / 14.0).powf(1.94 + 0.08 * soft);
                let i = amps * (v / 14.0).powf(1.88 + 0.10 * soft);
                let (t, i) = (
                    t * (1.0 + 0.01 * draws.normal()),
                    i * (1.0 + 0.01 * draws.normal()),
                );
                text += &format!(
                    "{:.2},{:.2},{:.1},,\n",
                    v * (1.0 + scale[0]),
                    i * (1.0 + scale[1]),
                    t * (1.0 + scale[2])
                );
            }
            text
        };
        let (a, b) = (
            table(14.4, 28.0, 50.0),
            table(13.5, 28.0 * 1.15, 50.0 * 1.12),
        );
        let b = Bench::new(
            &two_systems(""),
            &[("bench/a.csv", a.as_bytes()), ("bench/b.csv", b.as_bytes())],
        );
        let at = GainConditions {
            reference_voltage: Some(14.0),
            ..GainConditions::default()
        };
        let gains = bench::static_gains(&b.curve("stock"), &b.curve("swap"), at);
        for (k, (quantity, truth)) in [("thrust", 0.15), ("power", 0.12)].into_iter().enumerate() {
            let g = gain(&gains, quantity, "same_terminal_voltage");
            if (g.low.unwrap()..=g.high.unwrap()).contains(&truth) {
                covered[k] += 1;
            }
        }
        trials += 1;
    }
    for n in covered {
        let share = f64::from(n) / f64::from(trials);
        // 93 % and more is asked for (design 5).
        assert!(share >= 0.93, "{covered:?} of {trials}");
    }
}

/// Benches of the simulator, which shares no physics with the analysis: a motor with resistance and
/// no-load current behind a controller, on a pack that drains, read from meters with scale errors
/// and scatter. Truth: +20 % thrust and +12 % current at equal terminal voltage.
#[test]
fn simulated_benches_give_back_gains_and_curves() {
    let plan = SeasonPlan::coverage(1, 0.04, Sharing::EachDay, 0.0);
    let tuned = Tuned::new(&plan).unwrap();
    let pack = tune::pack(&plan.packs[0], 0);
    // 980 hPa and 15 °C, dry (ISO 2533 gas constant).
    let rho = 98_000.0 / (287.05287 * 288.15);
    let toml = two_systems("").replace(
        "[instrument.scale.thrust]\naccuracy = \"1 %\"",
        "[instrument.scale.thrust]\naccuracy = \"2 %\"",
    );
    let truth = |fan: usize, u: f64| simulate::static_truth(&tuned.powers[fan], 14.5, u, rho);
    let (mut covered, mut bias, mut curve_covered) = ([0; 2], [0.0; 2], 0);
    let seeds = 400;
    for seed in 0..seeds {
        let meters = Meters::draw(seed);
        let table = |fan: usize| {
            let readings = simulate::run(
                &BenchPlan::tens(rho, 3),
                &tuned.powers[fan],
                &pack,
                &meters,
                seed,
                fan,
            );
            let rows = readings.iter().map(|r| {
                format!(
                    "{:.0},{:.2},{:.1},{:.1}\n",
                    100.0 * r.throttle,
                    r.voltage,
                    r.current,
                    r.thrust_n / 0.278_013_850_953_781_2
                )
            });
            format!(
                "Throttle (%),Volts (V),Amps (A),Thrust (ozf)\n{}",
                rows.collect::<String>()
            )
        };
        let (a, b) = (table(0), table(1));
        let b = Bench::new(
            &toml,
            &[("bench/a.csv", a.as_bytes()), ("bench/b.csv", b.as_bytes())],
        );
        let (stock, swap) = (b.curve("stock"), b.curve("swap"));
        let at = GainConditions {
            reference_voltage: Some(14.5),
            ..GainConditions::default()
        };
        let gains = bench::static_gains(&stock, &swap, at);
        let (base, other) = (truth(0, 1.0), truth(1, 1.0));
        for (k, (quantity, truth)) in [
            ("thrust", other.0 / base.0 - 1.0),
            ("current", other.1 / base.1 - 1.0),
        ]
        .into_iter()
        .enumerate()
        {
            let g = gain(&gains, quantity, "same_terminal_voltage");
            bias[k] += (g.gain.unwrap() - truth) / f64::from(seeds as u32);
            if (g.low.unwrap()..=g.high.unwrap()).contains(&truth) {
                covered[k] += 1;
            }
        }
        // Between the bench's throttles, at a voltage that was not the bench's.
        let (current, u) = stock.current.unwrap().current(0.65, 14.5, rho).unwrap();
        if (current - truth(0, 0.65).1).abs() <= 1.96 * u {
            curve_covered += 1;
        }
    }
    let least = (0.93 * f64::from(seeds as u32)) as u32;
    assert!(covered.iter().all(|n| *n >= least), "{covered:?}");
    assert!(bias.iter().all(|b| b.abs() < 0.002), "{bias:?}");
    assert!(curve_covered >= least, "{curve_covered}");
}
