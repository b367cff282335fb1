//! Lines thinned for pictures.

use benchborne::flight::thin::{kept, path, trace};

/// Vertices that GEOS 3.14.1 keeps (through shapely 2.2.0, `simplify(t, preserve_topology=False)`).
#[test]
fn a_path_keeps_the_points_that_geos_keeps() {
    let north = [
        7.0, 13.088, 24.735, 33.659, 38.878, 46.816, 36.372, 28.923, 18.291, 5.645, -0.623,
        -20.051, -30.272, -37.161, -39.958, -31.357, -32.533, -23.128, -11.177, 2.005, 21.966,
        26.279, 34.7, 39.3,
    ];
    let east: Vec<f64> = (0..north.len()).map(|i| 10.0 * i as f64).collect();
    // Distance to the straight piece between two points, by its definition.
    let off = |a: usize, b: usize, i: usize| {
        let (dx, dy) = (east[b] - east[a], north[b] - north[a]);
        let (px, py) = (east[i] - east[a], north[i] - north[a]);
        let along = ((px * dx + py * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
        (px - along * dx).hypot(py - along * dy)
    };
    assert_eq!(
        kept(24, 1.0, off),
        [
            0, 1, 3, 4, 5, 6, 7, 9, 10, 11, 12, 13, 14, 15, 16, 17, 19, 20, 21, 22, 23
        ]
    );
    assert_eq!(kept(24, 5.0, off), [0, 5, 10, 12, 14, 16, 20, 23]);
    assert_eq!(kept(24, 12.0, off), [0, 5, 14, 23]);
}

#[test]
fn a_path_keeps_fixed_points_and_its_limit() {
    let t: Vec<f64> = (0..4000).map(|i| f64::from(i) * 0.05).collect();
    let east: Vec<f64> = t
        .iter()
        .map(|t| 200.0 * t.cos() + 9.0 * (7.0 * t).sin())
        .collect();
    let north: Vec<f64> = t.iter().map(|t| 80.0 * (1.3 * t).sin()).collect();
    let out = path(&east, &north, &[17, 1234], 600);
    assert!(out.len() <= 600 && out.len() > 100, "{}", out.len());
    for i in [0, 17, 1234, 3999] {
        assert!(out.contains(&i), "{i}");
    }
    assert!(out.windows(2).all(|w| w[0] < w[1]));
}

#[test]
fn a_trace_keeps_extremes_and_holds_cost_two_points() {
    let time: Vec<f64> = (0..30_000).map(|i| f64::from(i) * 0.02).collect();
    let mut value: Vec<f64> = time
        .iter()
        .map(|t| if *t < 300.0 { 20.0 } else { 60.0 })
        .collect();
    value[7_777] = 95.0;
    value[20_001] = -3.0;
    let out = trace(&time, &value, (0.0, 600.0), 300, 0.4);
    assert!(out.contains(&7_777) && out.contains(&20_001));
    assert!(out.len() < 20, "{}", out.len());
    // Between kept points a straight line misses no value by more than the tolerance.
    let worst = out
        .windows(2)
        .flat_map(|w| w[0]..=w[1])
        .zip(0..)
        .map(|(i, _): (usize, usize)| {
            let after = out.partition_point(|k| *k < i).max(1);
            let (a, b) = (out[after - 1], out[after]);
            let share = (time[i] - time[a]) / (time[b] - time[a]);
            // The two seconds of a part are where the line may lie between its extremes.
            if (time[i] - time[a]).min(time[b] - time[i]) < 2.0 {
                return 0.0;
            }
            (value[a] + share * (value[b] - value[a]) - value[i]).abs()
        })
        .fold(0.0, f64::max);
    assert!(worst <= 0.4, "{worst}");
}

#[test]
fn nothing_and_one_point_are_kept_as_they_are() {
    let off = |_: usize, _: usize, _: usize| 0.0;
    assert!(kept(0, 1.0, off).is_empty());
    assert_eq!(kept(1, 1.0, off), [0]);
    assert!(path(&[], &[], &[], 600).is_empty());
    assert_eq!(path(&[1.0], &[2.0], &[0], 600), [0]);
    assert!(trace(&[], &[], (0.0, 1.0), 300, 0.1).is_empty());
    assert_eq!(trace(&[0.5], &[2.0], (0.0, 1.0), 300, 0.1), [0]);
}
