//! The propeller study's arithmetic on propellers whose answer is known (the measured table behind the
//! figures in `physics::reference` states no licence and is not part of the project).

use std::fmt::Write;

use crate::propeller_pairs::{pairs, read, shares};

/// A propeller with CT = a·(1 − J/J0) and CP = b·(1 − J/J1), as rows of the table.
fn rows(name: &str, diameter: f64, pitch: f64, (a, j0): (f64, f64), (b, j1): (f64, f64)) -> String {
    let mut text = String::new();
    for n in 0..=40 {
        let j = 0.02 * f64::from(n);
        let (ct, cp) = (a * (1.0 - j / j0), b * (1.0 - j / j1));
        let _ = writeln!(text, "{name},2,{diameter},{pitch},{j},6000,{ct},{cp},0");
    }
    text
}

const HEADER: &str = "propeller,blades,diameter_in,pitch_in,advance_ratio,rpm,thrust_coefficient,power_coefficient,efficiency\n";

/// Drag takes CT/J² = c = S/D²/2: c·J² = a·(1 − J/J0) by the quadratic formula.
fn by_hand(a: f64, j0: f64, b: f64, j1: f64, drag_over_disk: f64) -> f64 {
    let c = drag_over_disk * std::f64::consts::PI / 8.0;
    let p = a / j0;
    let j = (-p + (p * p + 4.0 * c * a).sqrt()) / (2.0 * c);
    j / (b * (1.0 - j / j1)).cbrt()
}

#[test]
fn pairs_of_known_propellers() {
    let (one, other) = (((0.10, 0.9), (0.05, 1.2)), ((0.11, 0.7), (0.05, 0.9)));
    let text = HEADER.to_owned()
        + &rows("p1", 9.0, 6.0, one.0, one.1)
        + &rows("p2", 9.0, 4.5, other.0, other.1)
        + &rows("p3", 8.0, 6.0, one.0, one.1);
    let found = pairs(&read(&text), 0.2, f64::INFINITY);
    assert_eq!(found.len(), 1, "only equal diameters are compared");
    let pair = found[0];
    assert!((pair.thrust_gain - 0.10).abs() < 1e-9, "{pair:?}");
    // sqrt(1.1) − 1 from thrust, nothing from equal power.
    assert!((pair.band.1 - 0.048_808_848).abs() < 1e-8 && pair.band.0.abs() < 1e-12);
    let truth = by_hand(0.11, 0.7, 0.05, 0.9, 0.2) / by_hand(0.10, 0.9, 0.05, 1.2, 0.2) - 1.0;
    assert!((pair.speed_gain - truth).abs() < 1e-3, "{pair:?} {truth}");
    // The one that pulls more standing still is the slower one.
    assert!(truth < 0.0);
    assert_eq!(shares(&found), (1.0, 0.0, 0.0));
    assert!(pairs(&read(&text), 0.2, 0.05).is_empty(), "pitches differ");
}

/// A propeller that needs a tenth less power for everything it does keeps its static figure of merit
/// in flight: it gains what the case from thrust says, the upper end of the band.
#[test]
fn an_evenly_better_propeller_lies_in_the_band() {
    let text = HEADER.to_owned()
        + &rows("p1", 9.0, 6.0, (0.10, 0.9), (0.055, 1.2))
        + &rows("p2", 9.0, 6.0, (0.10, 0.9), (0.050, 1.2));
    let found = pairs(&read(&text), 0.2, 0.05);
    let pair = found[0];
    assert!((pair.speed_gain - (1.1_f64.cbrt() - 1.0)).abs() < 1e-9);
    assert!((pair.thrust_gain - (1.1_f64.powf(2.0 / 3.0) - 1.0)).abs() < 1e-9);
    assert!((pair.band.1 - pair.speed_gain).abs() < 1e-9);
}

#[test]
fn what_the_tunnel_did_not_reach_is_left_out() {
    let text = HEADER.to_owned()
        + &rows("p1", 9.0, 6.0, (0.10, 3.0), (0.055, 4.0))
        + &rows("p2", 9.0, 6.0, (0.10, 3.0), (0.050, 4.0));
    // So little drag that the equilibrium lies beyond the last row.
    assert!(pairs(&read(&text), 0.001, 0.05).is_empty());
    assert!(read("propeller,blades\nnonsense\n").is_empty());
}
