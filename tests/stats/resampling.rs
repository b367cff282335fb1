use benchborne::stats::jackknife::jackknife;
use benchborne::stats::permutation::within_blocks;
use benchborne::stats::{mean, sd};

use super::close;

/// Efron's law schools [data M].
const LSAT: [f64; 15] = [
    576.0, 635.0, 558.0, 578.0, 666.0, 580.0, 555.0, 661.0, 651.0, 605.0, 653.0, 575.0, 545.0,
    572.0, 594.0,
];
const GPA: [f64; 15] = [
    3.39, 3.30, 2.81, 3.03, 3.44, 3.07, 3.00, 3.43, 3.36, 3.13, 3.12, 2.74, 2.76, 2.88, 2.96,
];

fn correlation(rows: &[usize]) -> Option<f64> {
    let x: Vec<f64> = rows.iter().map(|i| LSAT[*i]).collect();
    let y: Vec<f64> = rows.iter().map(|i| GPA[*i]).collect();
    let (mx, my) = (mean(&x), mean(&y));
    let sum: f64 = x.iter().zip(&y).map(|(x, y)| (x - mx) * (y - my)).sum();
    Some(sum / ((x.len() as f64 - 1.0) * sd(&x) * sd(&y)))
}

/// Correlation 0.776374491, jackknife standard error 0.142518619 [C]; 0.143 in Efron's book [M].
#[test]
fn jackknife_of_the_law_schools() {
    let result = jackknife(15, |left_out| {
        let rows: Vec<usize> = (0..15).filter(|i| Some(*i) != left_out).collect();
        correlation(&rows)
    })
    .unwrap();
    close(result.value, 0.776374491, 1e-9);
    close(result.se, 0.142518619, 1e-8);
    assert!(jackknife(1, |_| Some(0.0)).is_none());
    assert!(jackknife(3, |g| (g != Some(1)).then_some(0.0)).is_none());
}

/// For a mean the jackknife is the textbook standard error, without bias [D].
#[test]
fn jackknife_of_a_mean() {
    let result = jackknife(15, |left_out| {
        let rest: Vec<f64> = (0..15)
            .filter(|i| Some(*i) != left_out)
            .map(|i| LSAT[i])
            .collect();
        Some(mean(&rest))
    })
    .unwrap();
    close(result.se, sd(&LSAT) / 15.0_f64.sqrt(), 1e-12);
    assert!(result.bias.abs() < 1e-9);
}

/// Smallest p values by counting arrangements [D]: three days with one flight of each, 2 of 2³;
/// two days with two of each, 2 of C(4,2)²; three of each on one day, 2 of C(6,3).
#[test]
fn smallest_p() {
    let three_days = within_blocks(
        &[0.0, 1.0, 0.1, 1.2, -0.1, 0.7],
        &[false, true, false, true, false, true],
        &[0, 0, 1, 1, 2, 2],
        0,
    )
    .unwrap();
    assert_eq!((three_days.p, three_days.smallest_p), (0.25, 0.25));
    assert!(three_days.exact && three_days.arrangements == 8);
    let two_days = within_blocks(
        &[0.0, 0.3, 1.0, 1.1, 5.0, 5.1, 6.0, 6.2],
        &[false, false, true, true, false, false, true, true],
        &[3, 3, 3, 3, 9, 9, 9, 9],
        0,
    )
    .unwrap();
    close(two_days.smallest_p, 2.0 / 36.0, 1e-12);
    close(two_days.p, 2.0 / 36.0, 1e-12);
    let one_day = within_blocks(
        &[1.0, 2.0, 3.0, 4.0, 5.0, 6.0],
        &[false, false, false, true, true, true],
        &[0; 6],
        0,
    )
    .unwrap();
    close(one_day.p, 0.1, 1e-12);
    assert!(within_blocks(&[1.0, 2.0], &[false, true], &[0, 1], 0).is_none());
}

/// Darwin's maize: sum of differences 314 over 15 pairs; one-sided 863 of 32768 arrangements reach
/// it (Fisher, The Design of Experiments, section 21) [M].
#[test]
fn darwins_maize() {
    let differences = [
        49.0, -67.0, 8.0, 16.0, 6.0, 23.0, 28.0, 41.0, 14.0, 29.0, 56.0, 24.0, 75.0, 60.0, -48.0,
    ];
    let (mut values, mut treated, mut pairs) = (Vec::new(), Vec::new(), Vec::new());
    for (pair, difference) in differences.iter().enumerate() {
        values.extend([*difference, 0.0]);
        treated.extend([true, false]);
        pairs.extend([pair; 2]);
    }
    let test = within_blocks(&values, &treated, &pairs, 0).unwrap();
    assert_eq!(test.arrangements, 32_768);
    assert_eq!((test.p * 32_768.0).round(), 2.0 * 863.0);
}

/// Beyond what is counted it draws: the same data eight to a side agree with Student's t.
#[test]
fn drawn_arrangements() {
    let a = [
        10.1, 9.7, 10.4, 10.0, 9.9, 10.6, 9.5, 10.2, 10.3, 9.8, 10.1, 9.9,
    ];
    let b = a.map(|v| v + 0.25);
    let values: Vec<f64> = a.into_iter().chain(b).collect();
    let treated: Vec<bool> = (0..24).map(|i| i >= 12).collect();
    let test = within_blocks(&values, &treated, &[0; 24], 5).unwrap();
    assert!(!test.exact);
    let t = benchborne::stats::welch::welch(&b, &a).unwrap();
    assert!(
        (test.p - t.p()).abs() < 0.01,
        "{} against {}",
        test.p,
        t.p()
    );
    assert_eq!(test, within_blocks(&values, &treated, &[0; 24], 5).unwrap());
}
