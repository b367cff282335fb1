use benchborne::physics::momentum::{level_speed_at_power, static_jet_power};
use benchborne::physics::reference::{Gain, Outlets, reference_band};
use proptest::prelude::*;

use super::close;

fn exact(gain: f64) -> Gain {
    Gain { gain, u: 0.0 }
}

/// +1 % of thrust, +1 % of power at equal areas [D].
#[test]
fn one_per_cent() {
    let band = reference_band(exact(0.01), exact(0.01), 0.0, Outlets::Equal).unwrap();
    close(band.from_thrust.gain, 0.004988, 1e-4);
    close(band.from_power.gain, 0.003322, 1e-4);
    assert_eq!(band.low, band.from_power);
    assert_eq!(band.high, band.from_thrust);
}

/// More power for no more thrust: the ends change places and stay sorted.
#[test]
fn either_case_may_be_the_larger() {
    let band = reference_band(exact(0.02), exact(0.15), 0.0, Outlets::Equal).unwrap();
    assert_eq!(band.low, band.from_thrust);
    assert_eq!(band.high, band.from_power);
    let weaker = reference_band(exact(-0.10), exact(-0.02), 0.0, Outlets::Equal).unwrap();
    assert!(weaker.low.gain < weaker.high.gain && weaker.high.gain < 0.0);
}

/// First-order propagation by hand: d sqrt(1+g) = dg/(2·sqrt(1+g)), d cbrt(1+g) = dg/(3·cbrt²).
#[test]
fn uncertainty_reaches_both_ends() {
    let (t, p) = (
        Gain {
            gain: 0.21,
            u: 0.02,
        },
        Gain {
            gain: 0.331,
            u: 0.01,
        },
    );
    let band = reference_band(t, p, 0.0, Outlets::Equal).unwrap();
    close(band.from_thrust.u, 0.02 / (2.0 * 1.1), 1e-12);
    close(band.from_power.u, 0.01 / (3.0 * 1.21), 1e-12);
    close(
        band.u_difference,
        band.from_thrust.u.hypot(band.from_power.u),
        1e-12,
    );
    let fully = reference_band(t, p, 1.0, Outlets::Equal).unwrap();
    close(
        fully.u_difference,
        (band.from_thrust.u - band.from_power.u).abs(),
        1e-12,
    );
    // Both cases are at 10 %: the lower end may be as low as the less certain case reaches down,
    // and no higher than the more certain one reaches up; the upper end in mirror image.
    let (t, p) = (band.from_thrust.u, band.from_power.u);
    let (low, high) = (band.low_limits(2.0), band.high_limits(2.0));
    close(low.0, 0.1 - 2.0 * t, 1e-9);
    close(low.1, 0.1 + 2.0 * p, 1e-9);
    close(high.0, 0.1 - 2.0 * p, 1e-9);
    close(high.1, 0.1 + 2.0 * t, 1e-9);
}

/// Unequal outlets against the level speeds of momentum theory themselves (whose numbers are
/// checked in `momentum`).
#[test]
fn unequal_outlets() {
    let (a, b, s, rho) = (30e-4, 36e-4, 40e-4, 1.2);
    let (t0, t1, p0, p1) = (14.0, 15.4, 700.0, 763.0);
    let outlets = Outlets::Known {
        baseline_m2: a,
        candidate_m2: b,
        drag_area_m2: s,
    };
    let band = reference_band(exact(t1 / t0 - 1.0), exact(p1 / p0 - 1.0), 0.0, outlets).unwrap();
    let speed = |power, area| level_speed_at_power(power, rho, area, s);
    let from_thrust =
        speed(static_jet_power(t1, rho, b), b) / speed(static_jet_power(t0, rho, a), a);
    close(band.from_thrust.gain, from_thrust - 1.0, 1e-9);
    close(
        band.from_power.gain,
        speed(p1, b) / speed(p0, a) - 1.0,
        1e-9,
    );
    let unknown = Outlets::DragUnknown {
        baseline_m2: a,
        candidate_m2: b,
    };
    let wide = reference_band(exact(0.1), exact(0.09), 0.0, unknown).unwrap();
    for drag_area_m2 in [1e-4, 10e-4, 40e-4, 200e-4, 3000e-4] {
        let outlets = Outlets::Known {
            baseline_m2: a,
            candidate_m2: b,
            drag_area_m2,
        };
        let known = reference_band(exact(0.1), exact(0.09), 0.0, outlets).unwrap();
        assert!(wide.low.gain <= known.low.gain + 1e-12);
        assert!(wide.high.gain >= known.high.gain - 1e-12);
    }
}

#[test]
fn impossible_input_has_no_band() {
    assert!(reference_band(exact(-1.0), exact(0.1), 0.0, Outlets::Equal).is_none());
    let outlets = Outlets::DragUnknown {
        baseline_m2: 0.0,
        candidate_m2: 1.0,
    };
    assert!(reference_band(exact(0.1), exact(0.1), 0.0, outlets).is_none());
}

proptest! {
    /// Equal outlets, however declared, give the closed forms.
    #[test]
    fn equal_outlets_need_no_drag(t in -0.4..1.0f64, p in -0.4..1.0f64, s in 1e-4..1e-1f64) {
        let outlets = Outlets::Known { baseline_m2: 3e-3, candidate_m2: 3e-3, drag_area_m2: s };
        let band = reference_band(exact(t), exact(p), 0.0, outlets).unwrap();
        prop_assert!((band.from_thrust.gain - ((1.0 + t).sqrt() - 1.0)).abs() < 1e-12);
        prop_assert!((band.from_power.gain - ((1.0 + p).cbrt() - 1.0)).abs() < 1e-12);
        prop_assert!(band.low.gain <= band.high.gain);
    }
}
