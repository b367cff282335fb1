//! The answers, from tables made by hand: what each says in words, and that it gives no number where
//! the flights tell none.

mod trust;

use benchborne::findings::evidence::Evidence;
use benchborne::findings::{Answer, Step, Verdict, carry_over, next, sisters};
use benchborne::season::{QuestionKind, Season, SeasonText, load};
use benchborne::store::{FlightRow, SeasonTables, StaticGainRow};

const SEASON: &str = r#"
title = "By hand"
invented = true
[airframe.alder]
mass = "1.95 kg"
[airframe.birch]
mass = "1.97 kg"
[pack.p1]
chemistry = "LiPo"
cells = 4
capacity = "2600 mAh"
[power.stock]
name = "six-blade fan"
fan_diameter = "70 mm"
outlet_area = "33 cm2"
pack = "p1"
[power.swap]
name = "eleven-blade fan"
fan_diameter = "70 mm"
outlet_area = "33 cm2"
pack = "p1"
[instrument.volts-a.voltage]
accuracy = "1 %"
[instrument.volts-b.voltage]
accuracy = "1 %"
[[logs]]
id = "a"
files = "logs/a-*.csv"
instruments = ["volts-a"]
[[logs]]
id = "b"
files = "logs/b-*.csv"
instruments = ["volts-b"]
[[question]]
kind = "carry-over"
baseline = "stock"
candidate = "swap"
margin = "2 %"
"#;

fn season() -> Season {
    let loaded = load(&SeasonText {
        season_toml: SEASON,
        logbook_csv: None,
        passes_csv: None,
    });
    loaded.season.expect("the season holds")
}

/// Where, with what and how fast a flight was.
#[derive(Clone, Copy)]
struct Flew(u32, &'static str, &'static str, f64);

fn flight(index: usize, flew: &Flew) -> FlightRow {
    let Flew(day, airframe, power, speed) = *flew;
    let current = if power == "stock" { 68.0 } else { 75.0 };
    FlightRow {
        flight: format!("f{index:02}"),
        day: Some(format!("2025-04-{day:02}")),
        airframe: Some(airframe.to_owned()),
        power: Some(power.to_owned()),
        files: format!("logs/a-{index}.csv"),
        level_speed_m_s: Some(speed),
        level_speed_se_m_s: Some(0.2),
        level_speed_shared_error_m_s: Some(0.1),
        level_speed_source: "joint fit".to_owned(),
        pass_voltage_v: Some(14.6),
        pass_current_a: Some(current),
        pass_open_circuit_v: Some(14.6 + 0.014 * current),
        pack_resistance_ohm: Some(0.014),
        passes: 8,
        share_reached: Some(0.96),
        time_constant_s: Some(3.0),
        density_kg_m3: 1.19,
        ..FlightRow::default()
    }
}

/// Two days with two flights of each fan: scatter to and fro by `scatter`, gain at equal volts.
fn both_each_day(gain: f64, scatter: f64) -> Vec<Flew> {
    let signs = [1.0, -1.0, -1.0, 1.0, 1.0, -1.0, 1.0, -1.0];
    signs
        .iter()
        .enumerate()
        .map(|(i, sign)| {
            let swap = i % 2 == 1;
            let speed = 60.0 * if swap { 1.0 + gain } else { 1.0 };
            Flew(
                1 + i as u32 / 4,
                "alder",
                if swap { "swap" } else { "stock" },
                speed * (1.0 + sign * scatter),
            )
        })
        .collect()
}

/// Static gains of thrust and power with standard uncertainty `u`, at equal volts and as on one pack.
fn bench(thrust: f64, power: f64, u: f64) -> Vec<StaticGainRow> {
    let mut rows = Vec::new();
    for (condition, sagged) in [("same_terminal_voltage", 0.0), ("same_pack", 0.02)] {
        for (quantity, gain) in [("thrust", thrust - sagged), ("power", power - sagged)] {
            rows.push(StaticGainRow {
                baseline: "stock".to_owned(),
                candidate: "swap".to_owned(),
                quantity: quantity.to_owned(),
                condition: condition.to_owned(),
                gain: Some(gain),
                low: Some(gain - 1.96 * u),
                high: Some(gain + 1.96 * u),
                u: Some(u),
                method: "by hand".to_owned(),
                points: 2,
                ..StaticGainRow::default()
            });
        }
    }
    rows
}

fn tables(flights: &[Flew], static_gains: Vec<StaticGainRow>) -> SeasonTables {
    SeasonTables {
        flights: flights
            .iter()
            .enumerate()
            .map(|(i, f)| flight(i, f))
            .collect(),
        static_gains,
        ..SeasonTables::default()
    }
}

#[track_caller]
fn carry_over(tables: &SeasonTables) -> Answer {
    asked(&season(), tables)
}

/// The answer, after checking that nothing in it is without meaning.
#[track_caller]
fn asked(season: &Season, tables: &SeasonTables) -> Answer {
    let evidence = Evidence { season, tables };
    let question = season
        .questions
        .iter()
        .find(|q| q.kind == QuestionKind::CarryOver)
        .unwrap();
    let answer = carry_over::answer(&evidence, question).0;
    meaningful(&answer);
    answer
}

#[track_caller]
fn meaningful(answer: &Answer) {
    for (key, e) in &answer.estimates {
        for number in [e.value, e.low, e.high].into_iter().flatten() {
            assert!(number.is_finite(), "{key}: {e:?}");
        }
        assert!(e.at.values().all(|c| c.value.is_finite()), "{key}: {e:?}");
    }
    let steps = answer.next.iter().chain(&answer.missing);
    let texts = steps.map(|s| &s.what).chain(&answer.remarks);
    for text in texts.chain([&answer.sentence]) {
        let words = text.split(|c: char| !c.is_alphanumeric());
        assert!(!words.clone().any(|w| w == "NaN" || w == "inf"), "{text}");
    }
    assert!(!answer.sentence.is_empty());
    for key in &answer.headline {
        assert!(answer.estimates.contains_key(key), "{key}");
    }
}

#[track_caller]
fn says(answer: &Answer, verdict: Verdict, words: &[&str]) {
    assert_eq!(answer.verdict, verdict, "{}", answer.sentence);
    for word in words {
        assert!(
            answer.sentence.contains(word),
            "'{word}' is not in: {}",
            answer.sentence
        );
    }
}

fn half_width(answer: &Answer, key: &str) -> f64 {
    let e = &answer.estimates[key];
    0.5 * (e.high.unwrap() - e.low.unwrap())
}

const PACK: &str = "observed_speed_gain_same_pack";
const TERMINAL: &str = "observed_speed_gain_same_terminal_voltage";

/// Each verdict of design section 5 and its sentence. Band of +20 % thrust and +12 % power:
/// sqrt(1.2) − 1 = 9.5 %, cbrt(1.12) − 1 = 3.8 %.
#[test]
fn every_verdict_has_its_sentence() {
    let answer = |gain, scatter, bench| carry_over(&tables(&both_each_day(gain, scatter), bench));
    let usual = || bench(0.20, 0.12, 0.008);
    says(
        &answer(0.05, 0.002, usual()),
        Verdict::CarriedOver,
        &[
            "Yes, by the power case: ",
            "as on the same pack",
            "3.8 % (power case) to 9.5 % (thrust case)",
            "the gain observed exceeds the power case and falls short of the thrust case",
        ],
    );
    says(
        &answer(0.05, 0.002, bench(0.44, 0.33, 0.008)),
        Verdict::PartlyCarriedOver,
        &[
            "Partly: ",
            "10.0 % (power case) to 20.0 % (thrust case)",
            "the gain observed falls short of both cases",
        ],
    );
    let more = answer(0.15, 0.002, usual());
    says(
        &more,
        Verdict::MoreThanTheReferenceCases,
        &["More than the reference cases: "],
    );
    assert!(more.remarks.iter().any(|r| r.contains("ram at the inlet")));
    says(
        &answer(-0.05, 0.002, usual()),
        Verdict::Worse,
        &["Worse: ", "-5."],
    );
    says(
        &answer(0.006, 0.001, usual()),
        Verdict::NoDifferenceThatMatters,
        &["No difference that matters"],
    );
    says(
        &answer(0.03, 0.03, usual()),
        Verdict::NotSettled,
        &["Not settled: ", "too wide"],
    );
    says(
        &answer(0.03, 0.009, usual()),
        Verdict::NotSettled,
        &["A gain is real", "is not settled"],
    );
    says(
        &answer(0.05, 0.002, bench(0.02, 0.03, 0.02)),
        Verdict::NothingToCarry,
        &["may be nothing", "2.0 % (-1.9 to 5.9 %)"],
    );
}

/// The fans differ by exactly 5 % at equal volts in every flight, so the model must say so; on one
/// pack the candidate's 7 A more cost it 0.014 Ω · 7 A of volts, less what the lower voltage saves.
#[test]
fn both_definitions_of_the_gain() {
    let answer = carry_over(&tables(&both_each_day(0.05, 0.0), bench(0.20, 0.12, 0.008)));
    let value = |key: &str| answer.estimates[key].value.unwrap();
    assert!((value(TERMINAL) - 0.05).abs() < 1e-9, "{}", value(TERMINAL));
    // dV/V = −R·ΔI/(V + 1.88·R·I), speed with its 0.97th power [derived by hand].
    let step = -0.014 * 7.0 / (14.6 + 1.88 * 0.014 * 71.5);
    let expected = 1.05 * (1.0 + 0.97 * step) - 1.0;
    assert!(
        (value(PACK) - expected).abs() < 2e-4,
        "{} against {expected}",
        value(PACK)
    );
    // Where nothing scatters the errors that flights share still are there.
    assert!(half_width(&answer, TERMINAL) > 0.001);
}

#[test]
fn too_little_flown_is_not_settled_and_says_what_to_fly() {
    let gains = || bench(0.20, 0.12, 0.008);
    let none = carry_over(&tables(&[], gains()));
    says(
        &none,
        Verdict::NotSettled,
        &[
            "neither of the two has flown",
            "statically thrust changed by",
        ],
    );
    let two = carry_over(&tables(
        &[
            Flew(1, "alder", "stock", 60.0),
            Flew(1, "alder", "swap", 63.0),
        ],
        gains(),
    ));
    says(&two, Verdict::NotSettled, &["no repetition"]);
    assert!(
        two.next
            .iter()
            .any(|n| n.what.contains("each fan once more"))
    );
    let days = carry_over(&tables(
        &[
            Flew(1, "alder", "stock", 60.0),
            Flew(1, "alder", "stock", 60.2),
            Flew(2, "alder", "swap", 63.0),
            Flew(2, "alder", "swap", 62.9),
        ],
        gains(),
    ));
    says(&days, Verdict::NotSettled, &["on one day only"]);
    assert!(
        days.next
            .iter()
            .any(|n| n.what.contains("both fans on one day"))
    );
    let airframes = carry_over(&tables(
        &[
            Flew(1, "alder", "stock", 60.0),
            Flew(1, "alder", "stock", 60.2),
            Flew(1, "birch", "swap", 63.0),
            Flew(1, "birch", "swap", 62.9),
        ],
        gains(),
    ));
    says(&airframes, Verdict::NotSettled, &["airframes of its own"]);
    assert!(
        airframes
            .next
            .iter()
            .any(|n| n.what.contains("Swap the fans between the airframes"))
    );
    for answer in [none, two, days, airframes] {
        assert!(!answer.estimates.contains_key(PACK), "{}", answer.sentence);
        assert!(!answer.missing.is_empty());
    }
}

#[test]
fn without_a_bench_the_gain_stands_alone() {
    let answer = carry_over(&tables(&both_each_day(0.05, 0.002), Vec::new()));
    says(
        &answer,
        Verdict::NotSettled,
        &["no static gain to hold it against"],
    );
    assert!(answer.missing.iter().any(|m| m.what.contains("bench run")));
    assert!(answer.estimates.contains_key(PACK));
}

/// Passes by the stopwatch, no logger: as flown, held against the bench's gains on one pack.
#[test]
fn stopwatch_only() {
    let mut tables = tables(&both_each_day(0.05, 0.002), bench(0.20, 0.12, 0.008));
    for flight in &mut tables.flights {
        *flight = FlightRow {
            level_speed_source: "stopwatch".to_owned(),
            pass_voltage_v: None,
            pass_current_a: None,
            pass_open_circuit_v: None,
            pack_resistance_ohm: None,
            share_reached: None,
            time_constant_s: None,
            files: String::new(),
            ..flight.clone()
        };
    }
    let answer = carry_over(&tables);
    // cbrt(1.10) − 1 and sqrt(1.18) − 1.
    says(
        &answer,
        Verdict::CarriedOver,
        &["as flown", "3.2 % (power case) to 8.6 % (thrust case)"],
    );
    assert!(!answer.sentence.contains("terminal"));
    assert!(
        answer
            .remarks
            .iter()
            .any(|r| r.contains("No flight logged a voltage"))
    );
}

/// A fan none of whose flights logged a voltage is given the other's, and pays for it.
#[test]
fn flights_without_voltage_widen() {
    let whole = tables(&both_each_day(0.05, 0.002), bench(0.20, 0.12, 0.008));
    let mut partly = whole.clone();
    for flight in partly
        .flights
        .iter_mut()
        .filter(|f| f.power.as_deref() == Some("swap"))
    {
        flight.pass_voltage_v = None;
        flight.pass_current_a = None;
        flight.pass_open_circuit_v = None;
    }
    let (whole, partly) = (carry_over(&whole), carry_over(&partly));
    // 1.96 · 0.97 · 3 % of voltage is 5.7 %.
    assert!(half_width(&whole, TERMINAL) < 0.02);
    assert!(half_width(&partly, TERMINAL) > 0.057);
    assert!(
        partly
            .remarks
            .iter()
            .any(|r| r.contains("4 flights without a voltage"))
    );
}

/// Volts without amps still bring speeds to one terminal voltage; the same pack stays unknown.
#[test]
fn volts_without_amps() {
    let mut tables = tables(&both_each_day(0.05, 0.0), bench(0.20, 0.12, 0.008));
    for flight in &mut tables.flights {
        flight.pass_current_a = None;
        flight.pass_open_circuit_v = None;
        // The candidate always flew at 5 % less: its speeds must be raised by 0.97 times that.
        if flight.power.as_deref() == Some("swap") {
            flight.pass_voltage_v = Some(0.95 * 14.6);
        }
    }
    let answer = carry_over(&tables);
    assert!(!answer.estimates.contains_key(PACK));
    let gain = answer.estimates[TERMINAL].value.unwrap();
    assert!(
        (gain - (1.05 * 0.95_f64.powf(-0.97) - 1.0)).abs() < 1e-3,
        "{gain}"
    );
    assert!(answer.sentence.contains("at the same terminal voltage"));
}

/// Each fan with a logger of its own: two volt scales good to 1 % (rectangular) stand between them.
#[test]
fn unlike_loggers_widen() {
    let alike = tables(&both_each_day(0.05, 0.0), bench(0.20, 0.12, 0.008));
    let mut unlike = alike.clone();
    for flight in unlike
        .flights
        .iter_mut()
        .filter(|f| f.power.as_deref() == Some("swap"))
    {
        flight.files = flight.files.replace("/a-", "/b-");
    }
    let (alike, unlike) = (carry_over(&alike), carry_over(&unlike));
    let added =
        (half_width(&unlike, TERMINAL).powi(2) - half_width(&alike, TERMINAL).powi(2)).sqrt();
    // 1.96 · 0.97 · 1 %/√3 · √2 of the speed ratio 1.05 (GUM 4.3.7 and 5.1.2).
    let expected = 1.96 * 0.97 * 0.01 / 3.0_f64.sqrt() * 2.0_f64.sqrt() * 1.05;
    assert!(
        (added / expected - 1.0).abs() < 0.02,
        "{added} against {expected}"
    );
    assert!(
        unlike
            .remarks
            .iter()
            .any(|r| r.contains("different loggers"))
    );
    assert!(
        !alike
            .remarks
            .iter()
            .any(|r| r.contains("different loggers"))
    );
}

fn ask_sisters(flights: &[Flew]) -> Answer {
    let season = season();
    let tables = tables(flights, Vec::new());
    let evidence = Evidence {
        season: &season,
        tables: &tables,
    };
    let answer = sisters::answer(&evidence, ["stock", "swap"], ["alder", "birch"], 0.02);
    meaningful(&answer);
    answer
}

#[test]
fn sisters_told_apart_or_not() {
    let crossed: Vec<Flew> = both_each_day(0.05, 0.002)
        .into_iter()
        .enumerate()
        .map(|(i, Flew(day, _, power, speed))| {
            let birch = i / 2 % 2 == 1;
            let airframe = if birch { "birch" } else { "alder" };
            Flew(day, airframe, power, speed * if birch { 0.9 } else { 1.0 })
        })
        .collect();
    let apart = ask_sisters(&crossed);
    says(&apart, Verdict::Answered, &["No: ", "birch", "-10."]);
    let alike: Vec<Flew> = crossed
        .iter()
        .map(|Flew(day, airframe, power, speed)| {
            let undo = if *airframe == "birch" { 1.0 / 0.9 } else { 1.0 };
            Flew(*day, airframe, power, speed * undo)
        })
        .collect();
    says(
        &ask_sisters(&alike),
        Verdict::NoDifferenceThatMatters,
        &["Yes: ", "less than the 2.0 % that matters"],
    );
    let confounded: Vec<Flew> = crossed
        .iter()
        .map(|Flew(day, _, power, speed)| {
            let airframe = if *power == "stock" { "alder" } else { "birch" };
            Flew(*day, airframe, power, *speed)
        })
        .collect();
    let answer = ask_sisters(&confounded);
    says(&answer, Verdict::NotSettled, &["a fan of its own"]);
    assert!(answer.next.iter().any(|n| n.what.contains("Swap the fans")));
    assert!(
        !answer
            .estimates
            .contains_key("level_speed_change_between_airframes")
    );
}

#[test]
fn what_to_do_next_starts_with_the_open_questions() {
    let mut settled = Answer::new(QuestionKind::Pack, "pack-p1", "Is the pack ageing?");
    settled.verdict = Verdict::Answered;
    settled.next = vec![Step::measure("Charge it warmer.")];
    let mut open = Answer::new(QuestionKind::CarryOver, "carry-over", "Did it carry over?");
    open.next = vec![Step::fly("Fly both fans on one day.")];
    let answer = next::answer(&[settled.clone(), open]);
    assert_eq!(
        answer.next,
        [
            Step::fly("Fly both fans on one day."),
            Step::measure("Charge it warmer.")
        ]
    );
    assert_eq!(
        answer.sentence,
        "1 of 2 questions is not settled; first: Fly both fans on one day."
    );
    let answer = next::answer(&[settled]);
    assert!(
        answer.sentence.starts_with("Every question is settled"),
        "{}",
        answer.sentence
    );
}
