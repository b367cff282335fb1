use benchborne::physics::atmosphere::{
    density, density_moist, geopotential, pressure_altitude, standard,
};
use benchborne::physics::geodesy::{LocalFrame, distance};

use super::close;

/// ISO 2533 / US Standard Atmosphere 1976. Constants [V], values [C], in agreement with the
/// five-digit tables as remembered [M]. Height (geopotential m), T, p, rho, speed of sound.
#[test]
fn standard_atmosphere() {
    let table = [
        (0.0, 288.15, 101325.0, 1.2249992, 340.2941),
        (500.0, 284.90, 95460.839, 1.1672681, 338.3696),
        (1000.0, 281.65, 89874.571, 1.1116418, 336.4341),
        (2000.0, 275.15, 79495.216, 1.0064896, 332.5293),
        (3000.0, 268.65, 70108.545, 0.9091215, 328.5780),
    ];
    for (h, t, p, rho, a) in table {
        let air = standard(h);
        close(air.temperature_k, t, 1e-9);
        close(air.pressure_pa, p, 1e-5);
        close(air.density_kg_m3, rho, 1e-5);
        close(air.sound_speed_m_s(), a, 1e-5);
    }
    // Top of the isothermal layer, US76 table [M].
    close(standard(20_000.0).pressure_pa, 5474.89, 1e-4);
}

/// 3000 m of geometric height [C].
#[test]
fn geometric_height_is_not_geopotential() {
    // Printed to 0.1 mm.
    assert!((geopotential(3000.0) - 2998.5849).abs() <= 0.5e-4);
    close(standard(geopotential(3000.0)).pressure_pa, 70121.162, 1e-5);
}

/// Pressure altitude, ISA [C], within 0.01 m.
#[test]
fn pressure_altitude_inverts_the_atmosphere() {
    for (p, h) in [
        (100_000.0, 110.8845),
        (89_874.0, 1000.0523),
        (97_772.565, 300.0010),
    ] {
        assert!((pressure_altitude(p) - h).abs() < 0.01);
    }
    for h in [-200.0, 0.0, 312.0, 2500.0] {
        assert!((pressure_altitude(standard(h).pressure_pa) - h).abs() < 1e-6);
    }
}

/// Moist air: (°C, Pa, humidity, kg/m³).
#[test]
fn moist_air() {
    let published = [
        // "Mass metrology appendix p. 205" through an R package's test [V].
        (10.0, 97_325.329, 0.40, 1.19569),
        (40.0, 101_325.0, 0.40, 1.11497),
        // NBS Jones 1978: 22.3 °C, 748.1 mmHg, 37 % [V, same file]; another formula, 5e-5 apart.
        (22.3, 748.1 * 133.322_387_4, 0.37, 1.17194),
    ];
    for (c, p, h, rho) in published {
        close(density_moist(p, c + 273.15, h), rho, 1e-4);
    }
    // CIPM-2007 by an independent evaluation [C].
    let computed = [
        (20.0, 101_325.0, 0.5, 1.1993139),
        (15.0, 101_325.0, 0.0, 1.2255213),
        (30.0, 101_325.0, 0.8, 1.1500117),
        (35.0, 95_000.0, 0.2, 1.0694258),
    ];
    for (c, p, h, rho) in computed {
        close(density_moist(p, c + 273.15, h), rho, 1e-7);
    }
}

/// Dry CIPM air and the ideal gas differ by the compressibility and the constant only.
#[test]
fn dry_air_two_ways() {
    close(
        density(101_325.0, 288.15),
        density_moist(101_325.0, 288.15, 0.0),
        5e-4,
    );
}

/// WGS84 at 52° N, 5° E: metres per 0.001° [C: geographiclib].
#[test]
fn local_metres() {
    let frame = LocalFrame::new(52.0, 5.0);
    close(frame.east_north(52.001, 5.0).1, 111.267363, 1e-8);
    close(frame.east_north(52.0, 5.001).0, 68.678016, 1e-7);
    // A whole degree from the equator [C: geographiclib]. The remainder of the middle latitude is
    // 3·e²·Δφ²/24 = 2.55e-7 of the way there; at a flying site it is nothing.
    close(distance(0.0, 0.0, 0.0, 1.0), 111_319.490793, 1e-9);
    close(distance(0.0, 0.0, 1.0, 0.0), 110_574.388558, 3e-7);
}

#[test]
fn local_metres_cross_the_date_line() {
    let (east, north) = LocalFrame::new(-17.0, 179.9995).east_north(-17.0, -179.9995);
    close(
        east,
        LocalFrame::new(-17.0, 5.0).east_north(-17.0, 5.001).0,
        1e-6,
    );
    assert!(north.abs() < 1e-9);
}
