use benchborne::stats::anova::one_way;
use benchborne::stats::linear::fit;
use benchborne::stats::theil_sen::theil_sen;
use proptest::prelude::*;

use super::close;

/// NIST StRD Norris, y then x [V].
const NORRIS: [(f64, f64); 36] = [
    (0.1, 0.2),
    (338.8, 337.4),
    (118.1, 118.2),
    (888.0, 884.6),
    (9.2, 10.1),
    (228.1, 226.5),
    (668.5, 666.3),
    (998.5, 996.3),
    (449.1, 448.6),
    (778.9, 777.0),
    (559.2, 558.2),
    (0.3, 0.4),
    (0.1, 0.6),
    (778.1, 775.5),
    (668.8, 666.9),
    (339.3, 338.0),
    (448.9, 447.5),
    (10.8, 11.6),
    (557.7, 556.0),
    (228.3, 228.1),
    (998.0, 995.8),
    (888.8, 887.6),
    (119.6, 120.2),
    (0.3, 0.3),
    (0.6, 0.3),
    (557.6, 556.8),
    (339.3, 339.1),
    (888.0, 887.2),
    (998.5, 999.0),
    (778.9, 779.0),
    (10.2, 11.1),
    (117.6, 118.3),
    (228.9, 229.2),
    (668.4, 669.1),
    (449.2, 448.9),
    (0.2, 0.5),
];

/// NIST StRD SiRstv, five instruments, less 196 save the two written in full [V].
pub fn silicon_resistivity() -> Vec<Vec<f64>> {
    [
        [0.3052, 0.1240, 0.1890, 0.2569, 0.3403],
        [0.3042, 0.3825, 0.1669, 0.3257, 0.0422],
        [0.1303, 0.2005, 0.2889, 0.0343, 0.1811],
        [0.2795, 0.1748, 0.1494, 0.1485, -0.0115],
        [0.2119, 0.1051, 0.1850, 0.0052, 0.2090],
    ]
    .iter()
    .map(|instrument| instrument.iter().map(|v| 196.0 + v).collect())
    .collect()
}

#[test]
fn nist_norris() {
    let (y, x): (Vec<f64>, Vec<f64>) = NORRIS.into_iter().unzip();
    let fit = fit(&[x], &y).unwrap();
    let (b0, b1) = (fit.coefficient(0).unwrap(), fit.coefficient(1).unwrap());
    close(b0.value, -0.262323073774029, 1e-9);
    close(b0.se, 0.232818234301152, 1e-9);
    close(b1.value, 1.00211681802045, 1e-9);
    close(b1.se, 4.29796848199937e-4, 1e-9);
    close(fit.s, 0.884796396144373, 1e-9);
    close(fit.r_squared, 0.999993745883712, 1e-12);
    close(fit.f, 5436385.54079785, 1e-8);
    assert_eq!((fit.df, fit.rank), (34, 2));
}

/// The Theil-Sen line through Norris [C: scipy theilslopes].
#[test]
fn theil_sen_of_norris() {
    let (y, x): (Vec<f64>, Vec<f64>) = NORRIS.into_iter().unzip();
    let line = theil_sen(&x, &y, 0.95).unwrap();
    close(line.slope, 1.0021968366, 1e-10);
    close(line.low, 1.0011153246, 1e-10);
    close(line.high, 1.0030534351, 1e-10);
}

/// One wild point [C: scipy]; least squares on the same data shows what it does there.
#[test]
fn theil_sen_and_least_squares_with_a_wild_point() {
    let x: Vec<f64> = (0..10).map(f64::from).collect();
    let y = [1.1, 2.9, 5.2, 7.1, 8.8, 11.2, 13.1, 30.0, 17.2, 18.9];
    let line = theil_sen(&x, &y, 0.95).unwrap();
    close(line.slope, 2.0, 1e-12);
    close(line.intercept, 1.0, 1e-12);
    close(line.low, 1.957142857, 1e-9);
    close(line.high, 2.1, 1e-9);
    let least_squares = fit(&[x], &y).unwrap();
    close(least_squares.coefficients[0], 0.51272727, 1e-7);
    close(least_squares.coefficients[1], 2.45272727, 1e-8);
    assert!(theil_sen(&[1.0, 1.0], &[1.0, 2.0], 0.95).is_none());
}

/// NIST StRD SiRstv, certified [V]; variance components and design effect [C].
#[test]
fn nist_silicon_resistivity() {
    let groups = silicon_resistivity();
    let table = one_way(&groups).unwrap();
    close(table.ss_between, 5.11462616e-2, 1e-8);
    close(table.ss_within, 2.1663656e-1, 1e-8);
    assert_eq!((table.df_between, table.df_within), (4, 20));
    close(table.f, 1.18046237440255, 1e-9);
    close(table.r_squared, 0.190999039051129, 1e-9);
    close(table.s, 0.104076068334656, 1e-9);
    close(table.variance_between, 3.9094748e-4, 1e-7);
    close(table.intraclass_correlation(), 0.034835187, 1e-7);
    close(1.0 + 4.0 * table.intraclass_correlation(), 1.13934075, 1e-8);
    // Standard error of the grand mean with instruments as the unit.
    close((table.ss_between / 4.0 / 25.0).sqrt(), 0.02261553926, 1e-8);
}

/// NIST StRD AtmWtAg (data and certified values in the file, as published). The values agree to seven
/// digits before they differ: double precision holds their differences to nine.
#[test]
fn nist_atomic_weight_of_silver() {
    let text = include_str!("../data/nist/AtmWtAg.txt");
    let mut groups = vec![Vec::new(), Vec::new()];
    for line in text.lines().filter(|l| !l.starts_with('#')) {
        let (instrument, weight) = line.split_once(' ').unwrap();
        let instrument: usize = instrument.parse().unwrap();
        groups[instrument - 1].push(weight.parse::<f64>().unwrap());
    }
    assert_eq!((groups[0].len(), groups[1].len()), (24, 24));
    let table = one_way(&groups).unwrap();
    close(table.f, 15.946_733_567_793, 1e-8);
    close(table.r_squared, 0.257_426_544_538_321, 1e-8);
    close(table.s, 1.510_483_144_464_1e-5, 1e-8);
}

/// The same table as a regression on indicators: F, R² and s must be the certified ones too.
#[test]
fn analysis_of_variance_is_least_squares() {
    let groups = silicon_resistivity();
    let y: Vec<f64> = groups.concat();
    let columns: Vec<Vec<f64>> = (0..4)
        .map(|g| (0..25).map(|i| f64::from(i / 5 == g)).collect())
        .collect();
    let fit = fit(&columns, &y).unwrap();
    close(fit.f, 1.18046237440255, 1e-9);
    close(fit.r_squared, 0.190999039051129, 1e-9);
    close(fit.s, 0.104076068334656, 1e-9);
    close(fit.f_p, one_way(&groups).unwrap().p, 1e-9);
}

/// Aliased columns: what is estimable and what is not, by hand [D].
#[test]
fn estimability() {
    // Two groups coded by two indicators beside the intercept: only their difference is there.
    let a = vec![1.0, 1.0, 0.0, 0.0];
    let b = vec![0.0, 0.0, 1.0, 1.0];
    let fit = fit(&[a, b], &[3.0, 5.0, 10.0, 12.0]).unwrap();
    assert_eq!((fit.rank, fit.df), (2, 2));
    assert!(fit.coefficient(1).is_none() && fit.coefficient(0).is_none());
    let difference = fit.contrast(&[0.0, 1.0, -1.0]).unwrap();
    close(difference.value, -7.0, 1e-12);
    // Pooled variance 2, two in each group.
    close(difference.se, 2.0_f64.sqrt(), 1e-12);
    for (got, expected) in difference.influence.iter().zip([0.5, 0.5, -0.5, -0.5]) {
        close(*got, expected, 1e-12);
    }
    close(fit.contrast(&[1.0, 1.0, 0.0]).unwrap().value, 4.0, 1e-12);
}

#[test]
fn bad_input_has_no_fit() {
    assert!(fit(&[], &[]).is_none());
    assert!(fit(&[vec![1.0]], &[1.0, 2.0]).is_none());
    assert!(fit(&[vec![1.0, f64::NAN]], &[1.0, 2.0]).is_none());
    assert!(one_way(&[vec![1.0], vec![2.0]]).is_none());
}

proptest! {
    /// Residuals are at right angles to every column, and influence gives the value back.
    #[test]
    fn least_squares_properties(
        rows in prop::collection::vec((-5.0..5.0f64, -5.0..5.0f64, -9.0..9.0f64), 5..20)
    ) {
        let (a, (b, y)): (Vec<f64>, (Vec<f64>, Vec<f64>)) =
            rows.iter().map(|r| (r.0, (r.1, r.2))).unzip();
        let fit = fit(&[a.clone(), b.clone()], &y).unwrap();
        let dot = |u: &[f64], v: &[f64]| u.iter().zip(v).map(|(u, v)| u * v).sum::<f64>();
        prop_assert!(dot(&a, &fit.residuals).abs() < 1e-9);
        prop_assert!(dot(&b, &fit.residuals).abs() < 1e-9);
        let c = fit.coefficient(1).unwrap();
        prop_assert!((dot(&c.influence, &y) - c.value).abs() < 1e-7 * (1.0 + c.value.abs()));
    }
}

/// Many days as classes against the same days as ordinary columns (a class by any other scale is none),
/// and flights left out by the update formula against fits without them.
#[test]
fn classes_are_fitted_as_the_columns_they_are() {
    let days: Vec<usize> = (0..60).map(|i| i * 7 % 15).collect();
    let fan: Vec<f64> = (0..60).map(|i| f64::from(i * i % 7 < 3)).collect();
    let slope: Vec<f64> = (0..60).map(|i| f64::from(i * 37 % 11) - 5.0).collect();
    let y: Vec<f64> = (0..60)
        .map(|i| {
            4.0 + 0.1 * fan[i]
                + 0.02 * slope[i]
                + 0.3 * (days[i] as f64).sin()
                + 0.01 * (i as f64 * 1.7).cos()
        })
        .collect();
    let columns = |scale: f64, without: Option<usize>| -> (Vec<Vec<f64>>, Vec<f64>) {
        let keep = |v: Vec<f64>| -> Vec<f64> {
            let kept = v
                .into_iter()
                .enumerate()
                .filter(|(i, _)| Some(*i) != without);
            kept.map(|(_, x)| x).collect()
        };
        let day = |d: usize| {
            days.iter()
                .map(|own| scale * f64::from(u8::from(*own == d)))
                .collect()
        };
        let mut columns: Vec<Vec<f64>> = (1..15).map(|d| keep(day(d))).collect();
        columns.extend([keep(slope.clone()), keep(fan.clone())]);
        (columns, keep(y.clone()))
    };
    let fitted = |scale, without| {
        let (columns, y) = columns(scale, without);
        fit(&columns, &y).unwrap()
    };
    let (classes, plain) = (fitted(1.0, None), fitted(2.0, None));
    assert_eq!((classes.df, classes.rank), (plain.df, plain.rank));
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-11 * (1.0 + b.abs()), "{a} {b}");
    near(classes.s, plain.s);
    near(classes.r_squared, plain.r_squared);
    near(classes.coefficients[0], plain.coefficients[0]);
    near(classes.coefficients[3], 2.0 * plain.coefficients[3]);
    for (a, b) in classes.residuals.iter().zip(&plain.residuals) {
        near(*a, *b);
    }
    let both = |k| {
        (
            classes.coefficient(k).unwrap(),
            plain.coefficient(k).unwrap(),
        )
    };
    for k in [15, 16] {
        let (a, b) = both(k);
        near(a.value, b.value);
        near(a.se, b.se);
        a.influence
            .iter()
            .zip(&b.influence)
            .for_each(|(a, b)| near(*a, *b));
    }
    let makers = classes
        .residual_maker()
        .into_iter()
        .zip(plain.residual_maker());
    makers.for_each(|(a, b)| near(a, b));
    let mut vector = y.clone();
    classes.residual_of(&mut vector);
    vector
        .iter()
        .zip(&plain.residuals)
        .for_each(|(a, b)| near(*a, *b));
    let (fan_effect, _) = both(16);
    for (i, change) in classes.without_each(&fan_effect).into_iter().enumerate() {
        let without = fitted(1.0, Some(i)).coefficient(16).unwrap().value;
        near(fan_effect.value + change, without);
    }
    // What the days leave nothing of cannot be told, whichever way they are fitted.
    let of_day: Vec<f64> = days.iter().map(|d| *d as f64).collect();
    for scale in [1.0, 2.0] {
        let (mut columns, y) = columns(scale, None);
        columns.push(of_day.clone());
        let found = fit(&columns, &y).unwrap();
        assert!(found.coefficient(17).is_none() && found.coefficient(16).is_some());
    }
}
