use benchborne::physics::wind::*;
use proptest::prelude::*;

use super::close;

fn legs<const N: usize>(speed_and_degrees: [(f64, f64); N]) -> [Velocity; N] {
    speed_and_degrees.map(|(v, track)| from_track(v, track.to_radians()))
}

/// Direction the wind blows from, degrees.
fn from_degrees(fit: &WindFit) -> f64 {
    (-fit.wind_east)
        .atan2(-fit.wind_north)
        .to_degrees()
        .rem_euclid(360.0)
}

/// Gray 1998 [V: a public transcription quotes TAS 130, wind 20.6 from 314.8°]; full digits [C].
#[test]
fn three_legs_of_gray() {
    let fit = three_legs(legs([(140.0, 192.0), (112.0, 283.0), (120.0, 20.0)])).unwrap();
    close(fit.airspeed, 129.99852349653, 1e-8);
    close(fit.wind_east.hypot(fit.wind_north), 20.63344402, 1e-8);
    close(from_degrees(&fit), 314.7584467, 1e-8);
}

/// National Test Pilot School spreadsheet sample, four legs taken three at a time [V].
#[test]
fn four_legs_of_ntps() {
    let all = legs([
        (178.0, 178.0),
        (185.0, 82.0),
        (188.0, 355.0),
        (184.0, 265.0),
    ]);
    // Speed, direction, half of the last digit printed for it.
    let published = [
        (5.2608369, 194.516737, 0.5e-6),
        (3.5823966, 181.521746, 0.5e-6),
        (5.1495218, 162.698034, 0.5e-6),
        (6.4436728, 177.948, 0.5e-3),
    ];
    let fits: Vec<WindFit> = (0..4)
        .rev()
        .map(|left_out| {
            let three: Vec<Velocity> = (0..4).filter(|i| *i != left_out).map(|i| all[i]).collect();
            three_legs([three[0], three[1], three[2]]).unwrap()
        })
        .collect();
    for (speed, direction, digit) in published {
        assert!(
            fits.iter()
                .any(|f| (f.wind_east.hypot(f.wind_north) - speed).abs() < 1e-7
                    && (from_degrees(f) - direction).abs() <= digit),
            "no triple has the wind {speed} from {direction}"
        );
    }
    let mean = fits.iter().map(|f| f.airspeed).sum::<f64>() / 4.0;
    close(mean, 183.726_695_571_146_2, 1e-8);
    let variance = fits
        .iter()
        .map(|f| (f.airspeed - mean).powi(2))
        .sum::<f64>()
        / 3.0;
    close(variance.sqrt(), 0.8270963, 1e-6);
    // All four at once lie among the triples.
    let all_at_once = circle_fit(&all).unwrap();
    assert!((all_at_once.airspeed - mean).abs() < 0.83);
    assert!(all_at_once.u_airspeed > 0.0 && all_at_once.rms > 0.0);
}

/// Legs 120° of heading apart: V 50, wind 8 toward 030° [C; formula V].
#[test]
fn headings_120_degrees_apart() {
    let (v, w) = three_headings([57.89513108, 45.27438473, 47.85795530]).unwrap();
    close(v, 50.0, 1e-8);
    close(w, 8.0, 1e-7);
}

/// V 60, along-wind 5, crosswind 8 [D/C].
#[test]
fn reciprocal_pairs() {
    close(
        airspeed_track_held(64.46427499, 54.46427499, 8.0),
        60.0,
        1e-9,
    );
    // Along-wind and crosswind 5: the plain mean reads 59.79.
    close(
        airspeed_track_held(64.79130372, 54.79130372, 5.0),
        60.0,
        1e-9,
    );
    let wind = 5.0_f64.hypot(8.0);
    close(
        airspeed_heading_held(65.49045732, 55.57877293, wind).unwrap(),
        60.0,
        1e-9,
    );
    assert!(airspeed_heading_held(3.0, 3.0, 8.0).is_none());
}

#[test]
fn legs_on_a_line_are_refused() {
    assert!(three_legs(legs([(50.0, 90.0), (60.0, 90.0), (40.0, 270.0)])).is_none());
    assert!(circle_fit(&legs([(50.0, 90.0), (60.0, 180.0)])).is_none());
}

proptest! {
    /// Clean legs on any four different headings give back what made them.
    #[test]
    fn circle_gives_back_its_making(
        v in 20.0..90.0f64, east in -12.0..12.0f64, north in -12.0..12.0f64, turn in 0.0..6.0f64
    ) {
        let g: Vec<Velocity> = [0.0, 1.1, 2.9, 4.4]
            .iter()
            .map(|h| { let (e, n) = from_track(v, h + turn); (e + east, n + north) })
            .collect();
        let fit = circle_fit(&g).unwrap();
        prop_assert!((fit.airspeed - v).abs() < 1e-8 * v);
        prop_assert!((fit.wind_east - east).abs() < 1e-7);
        prop_assert!((fit.wind_north - north).abs() < 1e-7);
    }
}
