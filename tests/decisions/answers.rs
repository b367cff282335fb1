//! What the answers say, from tables made by hand, and that what is missing is said plainly while the
//! rest is answered.

use benchborne::findings::evidence::Evidence;
use benchborne::findings::{
    Answer, DataCell, FigureData, Ladder, Verdict, airframe, controller, options, pack,
};
use benchborne::season::{Season, SeasonText, load};
use benchborne::store::{
    ControllerHeatRow, CurrentDurationRow, FlightLoadRow, FlightRow, PackFlightRow, SeasonTables,
};

const SEASON: &str = r#"
title = "By hand"
invented = true
[airframe.alder]
mass = "2.0 kg"
wing_area = "24 dm2"
span = "1.0 m"
stall_speed = "13 m/s"
load_factor_limit = 6
negative_load_factor_limit = -3
speed_limit = "80 m/s"
joint_arm = "40 mm"
unit_arm = "10 cm"
[controller.small]
continuous = "80 A"
burst = "100 A"
burst_time = "10 s"
temperature_limit = "100 degC"
[controller.large]
name = "larger controller"
continuous = "100 A"
burst = "120 A"
burst_time = "10 s"
[pack.p1]
name = "red pack"
chemistry = "LiPo"
cells = 4
capacity = "2600 mAh"
c_rating = 40
[pack.p2]
chemistry = "LiPo"
cells = 4
capacity = "3200 mAh"
[power.stock]
fan_diameter = "70 mm"
unit_mass = "150 g"
controller = "small"
pack = "p1"
[power.swap]
name = "eleven-blade fan"
fan_diameter = "70 mm"
unit_mass = "180 g"
controller = "small"
pack = "p1"
[rules]
headroom = "25 %"
hot_day = "35 degC"
[[question]]
kind = "carry-over"
baseline = "stock"
candidate = "swap"
[[option]]
name = "keep"
[[option]]
name = "larger controller"
controller = "large"
added_mass = "40 g"
added_mass_arm = "-10 cm"
cost = "65 EUR"
[[option]]
name = "other pack"
pack = "p2"
[[option]]
name = "stiffeners"
added_mass = "60 g"
"#;

fn season(toml: &str) -> Season {
    let loaded = load(&SeasonText {
        season_toml: toml,
        logbook_csv: None,
        passes_csv: None,
    });
    assert!(
        loaded
            .findings
            .iter()
            .all(|f| f.severity != benchborne::season::Severity::Error),
        "{:?}",
        loaded.findings
    );
    loaded.season.unwrap()
}

/// Four flights a system on two days; currents held for 10 s, loads, resistances by flight.
struct Made {
    /// Of the candidate, in A; the baseline draws 50 A.
    held: [f64; 4],
    /// Of the candidate, over the baseline's.
    pressure: f64,
    damage: f64,
    resistance: [f64; 8],
}

const CALM: Made = Made {
    held: [60.0, 60.5, 59.5, 60.2],
    pressure: 1.0,
    damage: 1.0,
    resistance: [
        0.012, 0.0121, 0.0119, 0.012, 0.01205, 0.01195, 0.0121, 0.0119,
    ],
};

fn tables(made: &Made) -> SeasonTables {
    let mut tables = SeasonTables::default();
    for i in 0..8_usize {
        let candidate = i % 2 == 1;
        let power = if candidate { "swap" } else { "stock" }.to_owned();
        let flight = format!("f{i}");
        let day = Some(format!("2025-04-0{}", 1 + i / 4));
        // To and fro by 1 %.
        let jitter = [1.0, -1.0, -1.0, 1.0, 1.0, 1.0, -1.0, -1.0][i] * 0.01 + 1.0;
        tables.flights.push(FlightRow {
            flight: flight.clone(),
            day: day.clone(),
            airframe: Some("alder".to_owned()),
            power: Some(power.clone()),
            pack: Some("p1".to_owned()),
            has_current: true,
            charge_mah: Some(2000.0),
            charge_low_mah: Some(1980.0),
            charge_high_mah: Some(2020.0),
            max_dynamic_pressure_pa: Some(
                2000.0 * jitter * if candidate { made.pressure } else { 1.0 },
            ),
            dynamic_pressure_source: "airspeed".to_owned(),
            load_factor_p99: Some(3.5 * (2.0 - jitter)),
            load_factor_source: "accelerometer".to_owned(),
            density_kg_m3: 1.2,
            ..FlightRow::default()
        });
        let damage = 1000.0 * jitter.powi(3) * if candidate { made.damage } else { 1.0 };
        tables.flight_loads.push(FlightLoadRow {
            flight: flight.clone(),
            day: day.clone(),
            airframe: Some("alder".to_owned()),
            power: Some(power.clone()),
            source: "accelerometer".to_owned(),
            hours_watched: 0.07,
            greatest_load_factor: 4.0,
            least_load_factor: -0.2,
            saturated_at: None,
            damage_exponent_3: Some(damage),
            damage_exponent_5: Some(damage),
            damage_exponent_8: Some(damage),
        });
        for (duration_s, factor) in [(1.0, 1.1), (10.0, 1.0), (30.0, 0.8)] {
            tables.current_duration.push(CurrentDurationRow {
                source: "flight".to_owned(),
                id: flight.clone(),
                power: Some(power.clone()),
                duration_s,
                current_a: factor
                    * if candidate {
                        made.held[i / 2]
                    } else {
                        50.0 * jitter
                    },
            });
        }
        tables.pack_flights.push(PackFlightRow {
            flight: flight.clone(),
            day,
            power: Some(power.clone()),
            pack: "p1".to_owned(),
            resistance_ohm: Some(made.resistance[i]),
            resistance_low_ohm: Some(made.resistance[i] - 1e-4),
            resistance_high_ohm: Some(made.resistance[i] + 1e-4),
            steps: 20,
            ..PackFlightRow::default()
        });
        tables.controller_heat.push(ControllerHeatRow {
            flight,
            power: Some(power),
            start_k: 293.0,
            greatest_k: 293.15 + 40.0 + i as f64,
            air_k: Some(293.15),
            mean_square_current_a2: 2500.0,
            of_motor: true,
            rise_k_per_a2: Some(0.01),
            time_constant_s: Some(50.0),
            residual_rms_k: Some(0.5),
        });
    }
    tables
}

fn controller_of(toml: &str, made: &Made) -> Answer {
    let (season, tables) = (season(toml), tables(made));
    let evidence = Evidence {
        season: &season,
        tables: &tables,
    };
    controller::answer(&evidence, "swap").0
}

fn value(answer: &Answer, key: &str) -> f64 {
    answer.estimates[key].value.unwrap()
}

#[test]
fn enough_headroom_asks_for_the_next_flight_too() {
    let answer = controller_of(SEASON, &CALM);
    assert_eq!(answer.verdict, Verdict::Enough, "{}", answer.sentence);
    let next = answer.estimates["headroom_next_flight"].low.unwrap();
    assert!(next > 0.25 && next < value(&answer, "headroom_in_flight"));
    // The same worst flight among flights that scatter: the next one may lack it.
    let scattered = Made {
        held: [60.5, 45.0, 38.0, 58.0],
        ..CALM
    };
    let answer = controller_of(SEASON, &scattered);
    assert_eq!(answer.verdict, Verdict::NotSettled, "{}", answer.sentence);
    assert!(
        answer
            .missing
            .iter()
            .any(|m| m.what.contains("More flights")),
        "{:?}",
        answer.missing
    );
}

/// No flight of four above the rating is at most 52.7 % of flights, never 0 %.
#[test]
fn no_flight_above_the_rating_is_a_bound() {
    let share = &controller_of(SEASON, &CALM).estimates["share_of_flights_above_continuous_rating"];
    assert_eq!((share.value, share.low), (Some(0.0), Some(0.0)));
    assert!((share.high.unwrap() - 0.527_129).abs() < 1e-5);
}

#[test]
fn smallest_usual_rating_by_flight() {
    // 60.5 A with 1 % of sensor and 25 % of headroom: 76.4 A.
    let answer = controller_of(SEASON, &CALM);
    assert_eq!(
        value(&answer, "smallest_standard_rating_for_flight_current"),
        80.0
    );
    assert!(
        !answer
            .estimates
            .contains_key("smallest_standard_rating_for_bench_current")
    );
}

#[test]
fn a_burst_above_its_rating_is_not_enough() {
    let made = Made {
        held: [62.0, 62.0, 95.0, 62.0],
        ..CALM
    };
    let answer = controller_of(SEASON, &made);
    assert_eq!(answer.verdict, Verdict::NotEnough);
    assert!(
        answer.sentence.contains("burst rating was exceeded"),
        "{}",
        answer.sentence
    );
}

/// Rises of 41, 43, 45 and 47 K over the air: on a day of 35 °C a further flight reaches 79 °C ± t·s·sqrt(1.25).
#[test]
fn temperature_on_the_hot_day_is_a_prediction() {
    let answer = controller_of(SEASON, &CALM);
    let hot = &answer.estimates["controller_temperature_on_hot_day"];
    assert!((hot.value.unwrap() - 79.0).abs() < 1e-9);
    let half = 3.182_446 * 2.581_989 * 1.25_f64.sqrt();
    assert!((hot.high.unwrap() - 79.0 - half).abs() < 1e-4, "{hot:?}");
    assert!(
        answer.remarks.iter().any(|r| r.contains("limit of 100 °C")),
        "{:?}",
        answer.remarks
    );
    assert!((value(&answer, "settled_rise_at_continuous_rating") - 64.0).abs() < 1e-9);
}

#[test]
fn ratings_missing_is_said_and_the_current_told() {
    let toml = SEASON.replacen("continuous = \"80 A\"\nburst = \"100 A\"\n", "", 1);
    let answer = controller_of(&toml, &CALM);
    assert_eq!(answer.verdict, Verdict::NotSettled);
    assert!(
        answer.sentence.contains("continuous rating"),
        "{}",
        answer.sentence
    );
    assert!(
        answer
            .estimates
            .contains_key("largest_held_current_in_flight")
    );
    assert_eq!(
        value(&answer, "smallest_standard_rating_for_flight_current"),
        80.0
    );
}

#[test]
fn burst_seconds_missing_are_taken_as_ten_and_said() {
    let toml = SEASON.replacen("burst_time = \"10 s\"\n", "", 1);
    let answer = controller_of(&toml, &CALM);
    assert_eq!(answer.verdict, Verdict::Enough);
    assert!(
        answer
            .remarks
            .iter()
            .any(|r| r.contains("burst time is not declared"))
    );
}

fn airframe_of(toml: &str, made: &Made) -> Answer {
    let (season, tables) = (season(toml), tables(made));
    let evidence = Evidence {
        season: &season,
        tables: &tables,
    };
    airframe::answer(&evidence, "stock", "swap").0
}

#[test]
fn loads_alike_loaded_harder_and_not_settled() {
    let alike = airframe_of(SEASON, &CALM);
    assert_eq!(alike.verdict, Verdict::LoadsAlike, "{}", alike.sentence);
    let harder = airframe_of(
        SEASON,
        &Made {
            damage: 2.5,
            ..CALM
        },
    );
    assert_eq!(harder.verdict, Verdict::LoadedHarder);
    assert!(
        harder
            .sentence
            .starts_with("Loaded harder with eleven-blade fan (damage at exponent 5)"),
        "{}",
        harder.sentence
    );
    assert!((value(&harder, "damage_ratio_exponent_5") - 2.5).abs() < 0.1);
    // A difference that is sure but small is alike.
    let small = airframe_of(
        SEASON,
        &Made {
            pressure: 1.05,
            ..CALM
        },
    );
    assert_eq!(small.verdict, Verdict::LoadsAlike, "{}", small.sentence);
    for answer in [&alike, &harder] {
        assert!(answer.cautions[0].contains("no approval to fly"));
    }
}

/// 30 g at 10 cm behind the balance point of a jet of 2 kg: 1.5 % and 1.478 mm back.
#[test]
fn mass_and_balance_of_a_heavier_unit() {
    let answer = airframe_of(SEASON, &CALM);
    assert!((value(&answer, "flying_mass_change") - 0.015).abs() < 1e-12);
    assert!((value(&answer, "balance_point_shift") - 3.0 / 2.03).abs() < 1e-9);
}

#[test]
fn no_mass_is_said_and_the_loads_compared() {
    let toml = SEASON.replacen("mass = \"2.0 kg\"\n", "", 1);
    let answer = airframe_of(&toml, &CALM);
    assert_eq!(answer.verdict, Verdict::LoadsAlike);
    assert!(
        answer
            .missing
            .iter()
            .any(|m| m.what.contains("What the airframe weighs")),
        "{:?}",
        answer.missing
    );
    assert!(!answer.estimates.contains_key("balance_point_shift"));
}

fn pack_of(edit: impl Fn(&mut SeasonTables), made: &Made) -> Answer {
    let (season, mut tables) = (season(SEASON), tables(made));
    edit(&mut tables);
    let evidence = Evidence {
        season: &season,
        tables: &tables,
    };
    pack::answer(&evidence, "p1").0
}

const AGEING: [f64; 8] = [0.012, 0.0124, 0.0127, 0.0132, 0.0135, 0.014, 0.0143, 0.0149];

#[test]
fn an_ageing_pack_gets_a_date_and_a_steady_one_none() {
    let made = Made {
        resistance: AGEING,
        ..CALM
    };
    let old = pack_of(|_| {}, &made);
    assert_eq!(old.verdict, Verdict::Answered);
    assert!(old.sentence.contains("it is ageing"), "{}", old.sentence);
    assert!(old.sentence.contains("in the last flight"));
    // 0.41 mΩ a flight from 12.0 mΩ: 6 mΩ more come 14.6 flights after the first.
    let left = &old.estimates["flights_until_risen_by_half"];
    assert!((left.value.unwrap() - 7.6).abs() < 0.6, "{left:?}");
    assert!(
        old.remarks.iter().any(|r| r.contains("2025-04-0")),
        "{:?}",
        old.remarks
    );
    let steady = pack_of(|_| {}, &CALM);
    assert_eq!(steady.verdict, Verdict::NotSettled);
    assert!(!steady.estimates.contains_key("flights_until_risen_by_half"));
}

/// The same rise with a pack that got colder with every flight: the temperature may be why.
#[test]
fn a_rise_that_temperature_explains_is_not_ageing() {
    let made = Made {
        resistance: AGEING,
        ..CALM
    };
    let cold = pack_of(
        |t| {
            for (i, row) in t.pack_flights.iter_mut().enumerate() {
                row.pack_temperature_k = Some(310.0 - 3.0 * i as f64 + [0.2, -0.3][i % 2]);
            }
        },
        &made,
    );
    assert_eq!(cold.verdict, Verdict::NotSettled, "{}", cold.sentence);
    assert!(
        cold.sentence.contains("the temperature may be why"),
        "{}",
        cold.sentence
    );
}

#[test]
fn a_flight_whose_pack_is_named_nowhere_is_said() {
    let answer = pack_of(|t| t.flights[3].pack = None, &CALM);
    assert!(
        answer
            .remarks
            .iter()
            .any(|r| r.starts_with("1 flight with a current sensor names no pack")),
        "{:?}",
        answer.remarks
    );
}

fn options_of(made: &Made) -> (Answer, Ladder, Vec<Vec<DataCell>>) {
    let (season, tables) = (season(SEASON), tables(made));
    let evidence = Evidence {
        season: &season,
        tables: &tables,
    };
    let answers = vec![
        controller::answer(&evidence, "swap").0,
        airframe::answer(&evidence, "stock", "swap").0,
        pack::answer(&evidence, "p1").0,
    ];
    let (answer, picture, table) = options::what_to_change(&evidence, &answers).unwrap();
    let FigureData::Ladder(ladder) = picture.unwrap().data else {
        panic!("no ladder");
    };
    (answer, ladder, table.rows)
}

fn word(rows: &[Vec<DataCell>], option: usize) -> &str {
    match &rows[option][1] {
        DataCell::Text(text) => text,
        other => panic!("{other:?}"),
    }
}

#[test]
fn options_are_weighed_by_the_answers_and_no_further() {
    let (answer, _, rows) = options_of(&CALM);
    assert_eq!(rows.len(), 4);
    // Headroom enough, loads alike, ageing open.
    assert_eq!(word(&rows, 0), "supports part of it");
    assert_eq!(word(&rows, 1), "does not ask for it");
    assert_eq!(word(&rows, 2), "does not settle it");
    assert_eq!(word(&rows, 3), "does not ask for it");
    assert!(
        answer
            .sentence
            .contains("It does not ask for 'larger controller', 'stiffeners'."),
        "{}",
        answer.sentence
    );

    let (answer, ladder, rows) = options_of(&Made {
        held: [70.0, 71.0, 70.5, 70.2],
        damage: 2.5,
        resistance: AGEING,
        ..CALM
    });
    assert_eq!(word(&rows, 0), "speaks against it");
    // 100 A over 71 A is 41 % of headroom.
    assert_eq!(word(&rows, 1), "supports it");
    assert_eq!(word(&rows, 2), "supports it");
    // Loads have grown: whether the structure needs it, no comparison tells.
    assert_eq!(word(&rows, 3), "does not settle it");
    assert!(
        matches!(&rows[1][4], DataCell::Interval { value, .. } if (value - (100.0 / 71.0 - 1.0)).abs() < 1e-9)
    );
    assert!(answer.cautions[0].contains("no approval"));
    // In the picture every option has its headroom; one that keeps the controller keeps its headroom.
    let rooms: Vec<f64> = ladder.rungs.iter().map(|r| r.value.unwrap()).collect();
    assert_eq!(rooms.len(), 4);
    assert!((rooms[1] - 100.0 * (100.0 / 71.0 - 1.0)).abs() < 1e-9);
    assert!(rooms[0] < rooms[1] && rooms[0] == rooms[3]);
    assert_eq!(
        ladder.limit.unwrap().at,
        100.0 * season(SEASON).rules.headroom.value
    );
}
