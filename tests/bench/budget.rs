//! What limits a static gain, and bounds by likelihood.

use benchborne::bench::{Contribution, budget};
use benchborne::stats::censored::{Seen, normal_fit};
use benchborne::stats::t_quantile;

use super::*;

fn repeated() -> Bench {
    pair(
        "14.00,50.00,28.0,70,700\n14.00,50.00,28.4,70,700\n14.00,50.00,27.6,70,700",
        "14.00,55.00,32.0,75,770",
    )
}

fn of<'a>(budget: &'a [Contribution], kind: &str) -> Option<&'a Contribution> {
    budget.iter().find(|c| c.kind == kind)
}

/// Parts of 3 and 4 with 8 degrees of freedom on the second: 36 and 64 % of 25; with the second
/// halved the result is good to sqrt(9 + 4), by hand.
#[test]
fn shares_and_what_half_an_error_buys() {
    let scatter = Source::Repeatability {
        power: "a".into(),
        channel: Channel::Thrust,
    };
    let result = Uncertain::exact(100.0)
        .with(Source::PackResistance, 3.0, f64::INFINITY)
        .with(scatter, -4.0, 8.0);
    let budget = budget(&result);
    assert_eq!(budget.len(), 2);
    let (first, second) = (&budget[0], &budget[1]);
    assert_eq!(
        (first.kind, second.kind),
        ("scatter of repeats", "pack resistance")
    );
    assert!((first.share - 0.64).abs() < 1e-12 && (second.share - 0.36).abs() < 1e-12);
    assert!((first.u - 4.0).abs() < 1e-12);
    let df = 5f64.powi(4) / (4f64.powi(4) / 8.0);
    assert!((first.half_width - 5.0 * t_quantile(0.975, df)).abs() < 1e-9);
    let halved = 13f64.powi(2) / (2f64.powi(4) / 8.0);
    let expected = 13f64.sqrt() * t_quantile(0.975, halved);
    assert!((first.half_width_if_halved - expected).abs() < 1e-9);
    assert!(super::bench::budget(&Uncertain::exact(1.0)).is_empty());
}

/// JCGM 100:2008, H.1: contributions 25, 9.7, 2.9 and 16.7 nm to 32 nm; the temperature difference's
/// and the standard's lead the budget (published values; shares by hand).
#[test]
fn gum_end_gauge_budget() {
    let source = |line| Source::Reading {
        run: "h1".into(),
        line,
        channel: Channel::Thrust,
    };
    let result = Uncertain::exact(50_000_838.0)
        .with(Source::PackResistance, 25.0, 18.0)
        .with(source(1), 9.7, 25.6)
        .with(source(2), 2.9, 50.0)
        .with(Source::Density { run: "h1".into() }, 16.7, 2.0);
    assert!((result.u() - 32.0).abs() < 0.5);
    assert_eq!(result.degrees_of_freedom().trunc(), 16.0);
    let budget = budget(&result);
    let shares: Vec<f64> = budget.iter().map(|c| c.share).collect();
    let u2: f64 = 25f64.powi(2) + 9.7f64.powi(2) + 2.9f64.powi(2) + 16.7f64.powi(2);
    // Both readings of one quantity count together.
    let expected = [625.0, 16.7f64.powi(2), 9.7f64.powi(2) + 2.9f64.powi(2)];
    for (share, own) in shares.iter().zip(expected) {
        assert!((share - own / u2).abs() < 1e-12, "{shares:?}");
    }
    // A thermometer twice as good: 29.0 nm and many more degrees of freedom.
    let air = of(&budget, "air density").unwrap();
    assert!(air.half_width_if_halved < 0.9 * air.half_width);
}

/// The shared scale cancels and is no contributor; scatter of repeats leads; everything adds up.
#[test]
fn what_two_readings_share_does_not_limit_their_ratio() {
    let b = repeated();
    let gains = bench::static_gains(
        &b.curve("stock"),
        &b.curve("swap"),
        GainConditions::default(),
    );
    let g = gain(&gains, "thrust", "as_measured");
    let budget = budget(g.ratio.as_ref().unwrap());
    assert!(of(&budget, "accuracy").is_none(), "{budget:?}");
    assert_eq!(budget[0].kind, "scatter of repeats");
    assert!(budget[0].share > 0.9);
    let resolution = of(&budget, "resolution and failed checks").unwrap();
    assert_eq!(
        (resolution.of.as_str(), resolution.quantity),
        ("scale", "thrust")
    );
    let sum: f64 = budget.iter().map(|c| c.share).sum();
    assert!((sum - 1.0).abs() < 1e-12);
    let u: f64 = budget.iter().map(|c| c.u * c.u).sum::<f64>().sqrt();
    assert!((u - g.u.unwrap()).abs() < 1e-12);
    assert!((budget[0].half_width - (g.high.unwrap() - g.gain.unwrap())).abs() < 1e-12);
}

/// Three readings of the anemometer and one at its end: the bound lifts the mean above that of the
/// three, by the likelihood (whose values are checked in stats/censored.rs).
#[test]
fn a_bound_among_readings_counts_by_its_likelihood() {
    let b = pair(
        "14.00,50.00,30.0,70,700",
        "14.00,55.00,38.0,93,770\n14.00,55.00,38.0,96,770\n14.00,55.00,38.0,98,770\n14.00,55.00,38.0,>99,770",
    );
    let gains = bench::static_gains(
        &b.curve("stock"),
        &b.curve("swap"),
        GainConditions::default(),
    );
    let g = gain(&gains, "exhaust_speed", "as_measured");
    let mph = 0.44704;
    let fitted = normal_fit(&[
        Seen::Exact(93.0),
        Seen::Exact(96.0),
        Seen::Exact(98.0),
        Seen::Above(99.0),
    ])
    .unwrap();
    assert!(fitted.mean > 96.0 && fitted.mean < 99.0, "{fitted:?}");
    let value = g.candidate_value.unwrap();
    assert!((value / mph - fitted.mean).abs() < 1e-6, "{value}");
    let (low, gained, high) = (g.low.unwrap(), g.gain.unwrap(), g.high.unwrap());
    assert!(low < gained && gained < high);
    assert!(
        (gained - (fitted.mean / 70.0 - 1.0)).abs() < 1e-6,
        "{gained}"
    );
}

/// The same for a fishing scale and a current meter at their ends; a single reading at the end bounds.
#[test]
fn thrust_and_current_beyond_scale_count_by_their_likelihood() {
    let b = pair(
        "14.00,50.00,28.0,70,700",
        "14.00,53.00,31.0,75,770\n14.00,54.00,32.0,75,770\n14.00,56.00,33.0,75,770\n14.00,>55.00,>33.0,75,770",
    );
    let gains = bench::static_gains(
        &b.curve("stock"),
        &b.curve("swap"),
        GainConditions::default(),
    );
    for (quantity, exact, end, unit, old) in [
        ("thrust", [31.0, 32.0, 33.0], 33.0, 0.2780139, 28.0),
        ("current", [53.0, 54.0, 56.0], 55.0, 1.0, 50.0),
    ] {
        let mut seen: Vec<Seen> = exact.map(Seen::Exact).to_vec();
        seen.push(Seen::Above(end));
        let fitted = normal_fit(&seen).unwrap();
        let plain = exact.iter().sum::<f64>() / 3.0;
        assert!(fitted.mean > plain, "{quantity}: {fitted:?}");
        let g = gain(&gains, quantity, "as_measured");
        let value = g.candidate_value.unwrap() / unit;
        assert!(
            (value / fitted.mean - 1.0).abs() < 1e-6,
            "{quantity}: {value}"
        );
        assert!((g.gain.unwrap() - (fitted.mean / old - 1.0)).abs() < 1e-6);
        let at = gain(&gains, quantity, "same_terminal_voltage");
        assert!((at.gain.unwrap() - g.gain.unwrap()).abs() < 1e-4, "{at:?}");
    }
    let one = pair("14.00,50.00,28.0,70,700", "14.00,>55.00,>33.0,75,770");
    let gains = bench::static_gains(
        &one.curve("stock"),
        &one.curve("swap"),
        GainConditions::default(),
    );
    for quantity in ["thrust", "current"] {
        let g = gain(&gains, quantity, "same_terminal_voltage");
        assert!(
            g.gain.is_none() && g.low.is_some() && g.high.is_none(),
            "{g:?}"
        );
    }
    // More thrust for more current: their quotient is bounded by nothing.
    let g = gain(&gains, "thrust_per_watt", "same_terminal_voltage");
    assert!(
        g.gain.is_none() && g.low.is_none() && g.high.is_none(),
        "{g:?}"
    );
}
