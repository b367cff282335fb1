use benchborne::stats::monotone::MonotoneCubic;
use benchborne::stats::pava::isotonic;
use proptest::prelude::*;

use super::close;

/// Fritsch-Butland slopes as in SciPy's PchipInterpolator [C].
#[test]
fn small_set() {
    let curve = MonotoneCubic::new(&[0.0, 1.0, 2.0, 4.0, 5.0], &[0.0, 1.0, 1.0, 5.0, 5.5]).unwrap();
    for (got, expected) in curve.slopes().iter().zip([1.5, 0.0, 0.0, 0.75, 0.0]) {
        close(*got, expected, 1e-12);
    }
    for (x, y) in [(0.5, 0.6875), (1.5, 1.0), (3.0, 2.8125), (4.5, 5.34375)] {
        close(curve.at(x).unwrap(), y, 1e-12);
    }
}

/// The RPN-14 set of Fritsch and Carlson 1980 [data M]; slopes and values [C: SciPy].
#[test]
fn rpn_14() {
    let x = [7.99, 8.09, 8.19, 8.7, 9.2, 10.0, 12.0, 15.0, 20.0];
    let y = [
        0.0, 2.76429e-5, 4.37498e-2, 0.169183, 0.469428, 0.943740, 0.998636, 0.999919, 0.999994,
    ];
    let slopes = [
        0.0,
        5.52508682e-4,
        0.335876835,
        0.349449168,
        0.596958239,
        0.0603218455,
        9.00395383e-4,
        3.14246836e-5,
        0.0,
    ];
    let curve = MonotoneCubic::new(&x, &y).unwrap();
    for (got, expected) in curve.slopes().iter().zip(slopes) {
        close(*got, expected, 1e-8);
    }
    for (x, y) in [
        (8.45, 0.10658953776),
        (9.6, 0.76024763934),
        (11.0, 0.98604336254),
    ] {
        close(curve.at(x).unwrap(), y, 1e-10);
    }
}

#[test]
fn it_refuses_what_it_cannot_do() {
    let curve = MonotoneCubic::new(&[1.0, 2.0], &[10.0, 20.0]).unwrap();
    assert_eq!(curve.at(1.0), Some(10.0));
    assert_eq!(curve.at(2.0), Some(20.0));
    close(curve.at(1.3).unwrap(), 13.0, 1e-12);
    assert_eq!(curve.at(0.999), None);
    assert_eq!(curve.at(2.001), None);
    assert_eq!(curve.at(f64::NAN), None);
    assert!(MonotoneCubic::new(&[1.0], &[1.0]).is_none());
    assert!(MonotoneCubic::new(&[1.0, 1.0], &[1.0, 2.0]).is_none());
    assert!(MonotoneCubic::new(&[2.0, 1.0], &[1.0, 2.0]).is_none());
    assert!(MonotoneCubic::new(&[1.0, 2.0], &[1.0, f64::NAN]).is_none());
    assert!(MonotoneCubic::new(&[1.0, 2.0], &[1.0]).is_none());
}

proptest! {
    /// Through the points, and between two points never beyond them.
    #[test]
    fn between_its_neighbours(
        steps in prop::collection::vec((0.01..3.0f64, -4.0..4.0f64), 2..12), share in 0.0..1.0f64
    ) {
        let mut at = 0.0;
        let x: Vec<f64> = steps.iter().map(|s| { at += s.0; at }).collect();
        let y: Vec<f64> = steps.iter().map(|s| s.1).collect();
        let curve = MonotoneCubic::new(&x, &y).unwrap();
        for i in 0..x.len() - 1 {
            prop_assert!((curve.at(x[i]).unwrap() - y[i]).abs() < 1e-12);
            let value = curve.at(x[i] + share * (x[i + 1] - x[i])).unwrap();
            let (low, high) = (y[i].min(y[i + 1]), y[i].max(y[i + 1]));
            prop_assert!(value >= low - 1e-12 && value <= high + 1e-12);
        }
    }

    /// Rising points, rising curve.
    #[test]
    fn monotone(steps in prop::collection::vec((0.01..3.0f64, 0.0..4.0f64), 3..10)) {
        let (mut x, mut y) = (vec![0.0], vec![0.0]);
        for (dx, dy) in steps {
            x.push(x[x.len() - 1] + dx);
            y.push(y[y.len() - 1] + dy);
        }
        let curve = MonotoneCubic::new(&x, &y).unwrap();
        let end = x[x.len() - 1];
        let values: Vec<f64> =
            (0..=500).map(|i| curve.at(end * (f64::from(i) / 500.0)).unwrap()).collect();
        prop_assert!(values.windows(2).all(|w| w[1] >= w[0] - 1e-10));
    }
}

/// Input of SciPy's isotonic_regression docstring [V], and a weighted set [C: SciPy, scikit-learn].
#[test]
fn isotonic_sequences() {
    let y = [1.5, 1.0, 4.0, 6.0, 5.7, 5.0, 7.8, 9.0, 7.5, 9.5, 9.0];
    let third = 16.7 / 3.0;
    let expected = [
        1.25, 1.25, 4.0, third, third, third, 7.8, 8.25, 8.25, 9.25, 9.25,
    ];
    for (got, expected) in isotonic(&y, &[1.0; 11]).unwrap().iter().zip(expected) {
        close(*got, expected, 1e-12);
    }
    let y = [1.0, 3.0, 2.0, 4.0, 3.5, 3.5, 6.0, 5.0, 8.0, 7.0];
    let w = [1.0, 1.0, 2.0, 1.0, 1.0, 3.0, 1.0, 1.0, 1.0, 2.0];
    let (a, b) = (7.0 / 3.0, 22.0 / 3.0);
    let expected = [1.0, a, a, 3.6, 3.6, 3.6, 5.5, 5.5, b, b];
    for (got, expected) in isotonic(&y, &w).unwrap().iter().zip(expected) {
        close(*got, expected, 1e-12);
    }
    assert!(isotonic(&[1.0], &[0.0]).is_none());
}
