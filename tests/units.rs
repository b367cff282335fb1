//! Unit factors against NIST Special Publication 811 (2008), Appendix B. The values were taken
//! from a table prepared beforehand with scipy.constants (CODATA and SP 811 factors); the
//! publication itself was not opened here.

use benchborne::units::{
    G0, MAH, Quantity, QuantityError, RPM, UNITS, WH, find, guess, nearest, number, parse,
    parse_difference, words,
};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

fn si(text: &str, quantity: Quantity) -> f64 {
    parse(text, quantity).unwrap_or_else(|e| panic!("{text}: {e}"))
}

fn close(value: f64, wanted: f64, tolerance: f64) -> bool {
    (value - wanted).abs() <= tolerance * wanted.abs()
}

#[test]
fn factors_are_those_of_sp_811() {
    use Quantity::*;
    let cases = [
        ("1 lbf", Force, 4.448_221_615_260_5),
        ("1 ozf", Force, 0.278_013_850_953_781_2),
        ("1 gf", Force, 9.806_65e-3),
        ("1 kgf", Force, 9.806_65),
        ("1 mph", Speed, 0.447_04),
        ("1 kt", Speed, 1852.0 / 3600.0),
        ("1 ft/s", Speed, 0.3048),
        ("1 km/h", Speed, 1.0 / 3.6),
        ("1 hPa", Pressure, 100.0),
        ("1 psi", Pressure, 6_894.757_293_168),
        ("1 lbf/ft2", Pressure, 47.880_258_98),
        ("1 slug/ft3", Density, 515.378_818_4),
        ("1 hp", Power, 745.699_871_6),
        ("1 oz", Mass, 28.349_523_125e-3),
        ("1 in2", Area, 6.4516e-4),
        ("150 mph", Speed, 67.056),
        ("241.4016 km/h", Speed, 67.056),
        ("453.59237 gf", Force, 4.448_221_615_260_5),
        ("59 degF", Temperature, 288.15),
        ("15 degC", Temperature, 288.15),
        ("-40 °F", Temperature, 233.15),
        ("-40 °C", Temperature, 233.15),
        ("100 °F", Temperature, 310.927_777_777_8),
    ];
    for (text, quantity, wanted) in cases {
        let value = si(text, quantity);
        assert!(close(value, wanted, 1e-9), "{text}: {value}, not {wanted}");
    }
    // Conventional inch of mercury: 13595.1 x 9.80665 x 0.0254, printed as 3386.389 Pa.
    for (text, wanted) in [
        ("1 inHg", 3_386.389),
        ("29.92 inHg", 101_320.76),
        ("29.92125 inHg", 101_325.0),
    ] {
        let value = si(text, Pressure);
        assert!(close(value, wanted, 1e-6), "{text}: {value}, not {wanted}");
    }
    assert!(close(
        si("1 kgf", Force) / si("1 ozf", Force),
        35.273_961_95,
        1e-9
    ));
    // Conventional millimetre of mercury, SP 811: 133.3224 Pa.
    assert!(close(si("1 mmHg", Pressure), 133.322_4, 1e-6));
}

#[test]
fn trade_units_follow_from_the_definitions() {
    use Quantity::*;
    assert!(close(si("3300 mAh", Charge), 3.3 * 3600.0, 1e-12));
    assert!(close(si("3.3 Ah", Charge), 3300.0 * MAH, 1e-12));
    assert!(close(si("48.84 Wh", Energy), 48.84 * WH, 1e-12));
    assert!(close(
        si("60 rpm", AngularSpeed),
        std::f64::consts::TAU,
        1e-12
    ));
    assert!(close(
        si("2900 rpm/V", VelocityConstant),
        2900.0 * RPM,
        1e-12
    ));
    assert!(close(si("12 mohm", Resistance), 0.012, 1e-12));
    assert!(close(si("2 %", Ratio), 0.02, 1e-12));
    assert_eq!(si("0.02", Ratio), 0.02);
    // A hanging scale marked in mass means the force; the same word is a mass on a mass.
    assert!(close(si("1 kg", Force), G0, 1e-12));
    assert_eq!(si("1 kg", Mass), 1.0);
    assert!(close(si("1 g", Acceleration), G0, 1e-12));
    assert_eq!(si("1 C", Charge), 1.0);
    assert_eq!(si("1 C", Temperature), 274.15);
    assert_eq!(parse_difference("1 °C", Temperature), Ok(1.0));
    assert!(close(
        parse_difference("9 °F", Temperature).unwrap(),
        5.0,
        1e-12
    ));
}

#[test]
fn the_first_unit_of_a_quantity_is_the_si_unit() {
    for unit in UNITS {
        let first = UNITS.iter().find(|u| u.quantity == unit.quantity).unwrap();
        assert_eq!((first.factor, first.offset), (1.0, 0.0), "{}", first.word);
        assert_eq!(words(unit.quantity)[0], first.word);
        assert!(unit.factor > 0.0 && unit.factor.is_finite());
    }
}

#[test]
fn numbers_are_written_in_more_than_one_way() {
    use Quantity::Mass;
    for text in [
        "2.41 kg",
        "2,41 kg",
        "2.41kg",
        " 2,41kg ",
        "+2.41 KG",
        "241e-2 kg",
        "2410 g",
    ] {
        assert!(close(si(text, Mass), 2.41, 1e-12), "{text}");
    }
    assert!(close(si("0,982 kg", Mass), 0.982, 1e-12));
    assert_eq!(number("-0,5"), Some(Ok(-0.5)));
    assert_eq!(number("2,"), None);
    assert_eq!(number("1.234,5"), None);
    assert_eq!(number("inf"), None);
    assert!(matches!(
        number("2,410"),
        Some(Err(QuantityError::Ambiguous { .. }))
    ));
    assert!(matches!(
        parse("1e999 kg", Mass),
        Err(QuantityError::NotFinite { .. })
    ));
}

#[test]
fn case_is_forgiven_where_it_means_nothing() {
    use Quantity::*;
    assert!(close(si("3300 MAH", Charge), 11_880.0, 1e-12));
    assert_eq!(si("5 MM", Length), 5e-3);
    assert_eq!(find("mW", Power).map(|u| u.factor), Some(1e-3));
    // SI Brochure, 9th edition, table 7: M is mega, m is milli.
    for (word, quantity) in [
        ("MW", Power),
        ("MV", Voltage),
        ("MA", Current),
        ("MOHM", Resistance),
    ] {
        assert_eq!(find(word, quantity), None, "{word}");
        assert!(guess(word).is_empty(), "{word}");
    }
}

#[test]
fn errors_say_what_is_wrong_and_what_would_be_right() {
    use Quantity::*;
    let told = |text, quantity| {
        let error = parse(text, quantity).unwrap_err();
        (error.to_string(), error.expected())
    };
    let (what, expected) = told("2.41", Mass);
    assert_eq!(what, "2.41 has no unit, and a mass needs one");
    assert_eq!(expected, "a mass in kg, g, lb, lbs, oz");
    assert_eq!(told("33", Area).0, "33 has no unit, and an area needs one");
    assert_eq!(
        told("2.41 m", Mass).0,
        "'m' is a unit of length, not of mass"
    );
    assert_eq!(
        told("5 g", Length).0,
        "'g' is a unit of mass or force or acceleration, not of length"
    );
    assert_eq!(
        told("3300 mAhh", Charge).0,
        "unknown unit 'mAhh'; did you mean 'mAh'?"
    );
    assert_eq!(told("12 zorkmids", Speed).0, "unknown unit 'zorkmids'");
    assert_eq!(
        told("heavy", Mass).0,
        "'heavy' does not start with a number (mass wanted)"
    );
    assert_eq!(
        told("", Mass).0,
        "'' does not start with a number (mass wanted)"
    );
    assert!(told("2,410 kg", Mass).0.contains("decimal comma"));
}

#[test]
fn the_nearest_word_is_near() {
    let words = ["mass", "wing_area", "span"];
    assert_eq!(nearest("masss", words), Some("mass"));
    assert_eq!(nearest("Wing Area", words), Some("wing_area"));
    assert_eq!(nearest("wing-aera", words), Some("wing_area"));
    assert_eq!(nearest("capacity", words), None);
    assert_eq!(nearest("x", ["y"]), None);
    assert_eq!(nearest("", words), None);
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 500,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(811),
        ..ProptestConfig::default()
    })]

    /// What a unit turns into SI comes back as the number that was written.
    #[test]
    fn every_unit_goes_there_and_back(index in 0..UNITS.len(), raw in -1e6f64..1e6) {
        let unit = &UNITS[index];
        let value = parse(&format!("{raw} {}", unit.word), unit.quantity).unwrap();
        let back = (value - unit.offset) / unit.factor;
        // Adding and taking off 273.15 costs digits of a small number.
        let rounding = 1e-12 * raw.abs() + 1e-12 * unit.offset.abs() / unit.factor;
        prop_assert!((back - raw).abs() <= rounding, "{} {}: {back}", raw, unit.word);
        prop_assert_eq!(find(unit.word, unit.quantity), Some(unit));
    }

    #[test]
    fn a_decimal_comma_reads_like_a_point(whole in 0u32..100_000, part in "[0-9]{1,2}") {
        let comma = number(&format!("{whole},{part}"));
        prop_assert_eq!(&comma, &number(&format!("{whole}.{part}")));
        prop_assert!(comma.is_some_and(|n| n.is_ok()));
    }

    #[test]
    fn arbitrary_text_never_panics(text in "\\PC{0,24}", numeric in "[0-9eE.,+ %a-z-]{0,12}") {
        for quantity in [Quantity::Mass, Quantity::Ratio, Quantity::Temperature] {
            for text in [&text, &numeric] {
                match parse(text, quantity) {
                    Ok(value) => prop_assert!(value.is_finite()),
                    Err(error) => prop_assert!(!error.to_string().is_empty()),
                }
            }
        }
    }
}

#[test]
fn no_unit_is_offered_that_is_a_thousand_times_off() {
    use benchborne::units::nearest_unit;
    assert_eq!(nearest_unit("uV", ["V", "mV"]), None);
    assert_eq!(nearest_unit("cA", ["A", "mA"]), None);
    assert_eq!(nearest_unit("kmm/h", ["km/h", "m/s"]), Some("km/h"));
    // Units of loggers that had none but a neighbour of another size.
    for (word, factor) in [("mm/s", 1e-3), ("cm/s", 1e-2), ("m/min", 1.0 / 60.0)] {
        let unit = find(word, Quantity::Speed).unwrap();
        assert_eq!(unit.word, word);
        assert!((unit.factor - factor).abs() < 1e-15);
    }
}
