//! What keeps a verdict honest: single flights, the carry-over fraction, covariates, equal mass; and
//! bad input, which ends in words and never in a number that means nothing.

use benchborne::findings::observed::{Observed, observe};
use benchborne::findings::season::Summaries;
use benchborne::findings::{Ledger, answer_all};
use benchborne::physics::mass::{speed_exponent, usual_speed_exponent};
use benchborne::season::{Covariate, LogbookRow};

use super::*;

fn remark<'a>(answer: &'a Answer, words: &str) -> &'a str {
    answer
        .remarks
        .iter()
        .find(|r| r.contains(words))
        .unwrap_or_else(|| panic!("no remark with '{words}': {:#?}", answer.remarks))
}

fn usual() -> Vec<StaticGainRow> {
    bench(0.20, 0.12, 0.008)
}

/// The fraction is the gain over its reference case, and its interval holds it.
#[test]
fn the_carry_over_fraction_has_an_interval() {
    let answer = carry_over(&tables(&both_each_day(0.05, 0.002), usual()));
    for case in ["from_thrust", "from_power"] {
        let e = &answer.estimates[&format!("carry_over_fraction_{case}")];
        let (value, low, high) = (e.value.unwrap(), e.low.unwrap(), e.high.unwrap());
        let of = |key: &str| answer.estimates[key].value.unwrap();
        let expected = of(TERMINAL) / of(&format!("reference_speed_gain_{case}"));
        assert!((value - expected).abs() < 1e-12, "{e:?}");
        assert!(low < value && value < high, "{e:?}");
        // Skew to the right, as a ratio is.
        assert!(high - value > value - low, "{e:?}");
    }
    remark(&answer, "arrived in flight");
}

/// A static gain that may be nothing has no fraction; a power gain that may be nothing bounds none.
#[test]
fn a_fraction_of_nothing_is_words() {
    let answer = carry_over(&tables(
        &both_each_day(0.05, 0.002),
        bench(0.02, 0.03, 0.02),
    ));
    assert!(
        !answer
            .estimates
            .keys()
            .any(|k| k.starts_with("carry_over_fraction"))
    );
    remark(&answer, "a fraction of nothing is no number");
    let answer = carry_over(&tables(
        &both_each_day(0.05, 0.002),
        bench(0.20, 0.01, 0.02),
    ));
    assert!(
        answer
            .estimates
            .contains_key("carry_over_fraction_from_thrust")
    );
    assert!(
        !answer
            .estimates
            .contains_key("carry_over_fraction_from_power")
    );
    remark(&answer, "no finite interval");
    let answer = carry_over(&tables(&both_each_day(0.0, 0.02), bench(0.20, 0.01, 0.02)));
    remark(&answer, "no fraction is ruled out");
}

/// One flight 6 % slow carries the whole verdict: the page says which.
#[test]
fn a_single_flight_that_decides_is_named() {
    let mut flights = both_each_day(0.05, 0.001);
    let answer = carry_over(&tables(&flights, usual()));
    assert_eq!(answer.verdict, Verdict::CarriedOver);
    remark(&answer, "No single flight decides the verdict");
    flights[3].3 *= 0.94;
    let answer = carry_over(&tables(&flights, usual()));
    assert_eq!(answer.verdict, Verdict::NotSettled, "{}", answer.sentence);
    assert!(
        remark(&answer, "hangs on single flights")
            .contains("without f03 it would be \"carried over\"")
    );
    let value = |key: &str| answer.estimates[key].value.unwrap();
    let all = value(PACK);
    let largest = &answer.estimates["largest_gain_without_one_flight"];
    assert_eq!(largest.basis.inputs, ["without flight f03"]);
    assert!(largest.value.unwrap() > all + 0.01 && value("smallest_gain_without_one_flight") < all);
    assert!((value("gain_by_robust_fit") - 0.05).abs() < (all - 0.05).abs());
}

/// Leaving one flight out is the same analysis of the others.
#[test]
fn leaving_one_out_is_the_analysis_of_the_others() {
    let flights = both_each_day(0.05, 0.004);
    let all = tables(&flights, usual());
    let season = season();
    let seen = |tables: &SeasonTables, skip: Option<usize>| {
        let evidence = Evidence {
            season: &season,
            tables,
        };
        let observed: Observed = observe(&evidence, "stock", "swap", None, &[]);
        match skip {
            Some(i) => observed.without(&evidence, "swap", i).bounds.unwrap(),
            None => observed.bounds.unwrap(),
        }
    };
    for i in 0..flights.len() {
        let mut rest = all.clone();
        rest.flights.remove(i);
        assert_eq!(seen(&all, Some(i)), seen(&rest, None));
    }
}

/// Temperatures in the logbook, one a flight.
fn with_temperatures(celsius: &[f64]) -> (Season, SeasonTables) {
    let mut season = season();
    season.logbook = celsius
        .iter()
        .enumerate()
        .map(|(i, t)| LogbookRow {
            flight: format!("f{i:02}"),
            temperature_k: Some(t + 273.15),
            ..LogbookRow::default()
        })
        .collect();
    for question in &mut season.questions {
        question.covariates = vec![Covariate::Temperature];
    }
    (season, tables(&both_each_day(0.05, 0.002), usual()))
}

#[test]
fn nan_in_a_covariate() {
    let warm = [10.0, 11.0, 12.5, 13.0, 15.0, 16.5, 17.0, 19.0];
    let (season, tables) = with_temperatures(&warm);
    let answer = asked(&season, &tables);
    let slope = &answer.estimates["level_speed_change_by_temperature"];
    assert!(slope.low.unwrap() < slope.value.unwrap() && slope.at["step"].unit == "K");
    // One flight without: it is left out by name, the others are compared.
    let mut some = warm;
    some[2] = f64::NAN;
    let (season, tables) = with_temperatures(&some);
    let answer = asked(&season, &tables);
    assert!(remark(&answer, "1 flight left out").contains("(f02)"));
    assert_eq!(answer.estimates[PACK].basis.counts["baseline flights"], 3);
    // No flight with: words.
    let (season, tables) = with_temperatures(&[f64::NAN; 8]);
    let answer = asked(&season, &tables);
    says(
        &answer,
        Verdict::NotSettled,
        &["8 flights left out", "the air's temperature"],
    );
    assert!(!answer.estimates.contains_key(PACK));
}

#[test]
fn one_flight_a_fan() {
    let answer = carry_over(&tables(
        &[
            Flew(1, "alder", "stock", 60.0),
            Flew(1, "alder", "swap", 63.0),
        ],
        usual(),
    ));
    says(&answer, Verdict::NotSettled, &["no repetition"]);
    assert!(!answer.estimates.contains_key(PACK));
    assert!(!answer.next.is_empty() && answer.tables.iter().all(|t| !t.starts_with("influence")));
}

/// The same speed to the last digit in every flight of a fan, with no error of its own.
#[test]
fn identical_values() {
    let mut flown = tables(&both_each_day(0.05, 0.0), usual());
    for flight in &mut flown.flights {
        flight.level_speed_se_m_s = None;
        flight.level_speed_shared_error_m_s = None;
        flight.pass_voltage_v = None;
        flight.pass_current_a = None;
        flight.pass_open_circuit_v = None;
    }
    let answer = carry_over(&flown);
    says(&answer, Verdict::NotSettled, &["agree to the last digit"]);
    assert!(!answer.estimates.contains_key(PACK));
    // With errors of their own they bound the gain.
    for flight in &mut flown.flights {
        flight.level_speed_se_m_s = Some(0.6);
    }
    let answer = carry_over(&flown);
    let half = half_width(&answer, PACK);
    // 1 % a flight, four against four.
    assert!(
        (half - 1.05 * 1.96 * 0.01 * 0.5_f64.sqrt()).abs() < 5e-4,
        "{half}"
    );
    remark(&answer, "widened to what the flights' own errors allow");
}

#[test]
fn a_single_day() {
    let one: Vec<Flew> = both_each_day(0.05, 0.002)
        .into_iter()
        .map(|f| Flew(1, f.1, f.2, f.3))
        .collect();
    let answer = carry_over(&tables(&one, usual()));
    assert_eq!(answer.estimates[PACK].basis.counts["days"], 1);
    assert_eq!(answer.verdict, Verdict::CarriedOver, "{}", answer.sentence);
    let df = answer.estimates[PACK].at["degrees_of_freedom"].value;
    assert!((1.0..=6.0).contains(&df), "{df}");
    // 4 of 8 dealt: 70 arrangements, two of them as far out as it goes.
    let smallest = answer.estimates["permutation_smallest_p"].value.unwrap();
    assert!((smallest - 2.0 / 70.0).abs() < 1e-12, "{smallest}");
}

/// A flight in two questions: both are answered, corrected together, and said to lean on each other.
#[test]
fn a_flight_named_in_two_questions() {
    let text = SEASON.replace(
        "[[question]]\n",
        "[power.third]\nname = \"Third fan\"\nfan_diameter = \"70 mm\"\n[[question]]\nkind = \
         \"carry-over\"\nbaseline = \"stock\"\ncandidate = \"third\"\n[[question]]\n",
    );
    let season = load(&SeasonText {
        season_toml: &text,
        logbook_csv: None,
        passes_csv: None,
    })
    .season
    .unwrap();
    let mut flights = both_each_day(0.05, 0.002);
    for (i, sign) in [1.0, -1.0, 1.0, -1.0].into_iter().enumerate() {
        flights.push(Flew(1 + i as u32 / 2, "alder", "third", 61.0 + 0.1 * sign));
    }
    let tables = tables(&flights, usual());
    let findings = answer_all(&season, &tables, &Summaries::default(), Ledger::default());
    let carry: Vec<&Answer> = findings
        .questions
        .iter()
        .filter(|q| q.question == QuestionKind::CarryOver)
        .collect();
    assert_eq!(carry.len(), 2);
    for answer in &carry {
        meaningful(answer);
        remark(answer, "stand in more than one of these questions");
        let p = |key: &str| answer.estimates[key].value.unwrap();
        assert!(p("p_no_gain_holm") >= p("p_no_gain"));
    }
    let both: Vec<f64> = carry
        .iter()
        .map(|a| a.estimates["p_no_gain"].value.unwrap())
        .collect();
    let smaller = usize::from(both[1] < both[0]);
    let holm = carry[smaller].estimates["p_no_gain_holm"].value.unwrap();
    assert!((holm - 2.0 * both[smaller]).abs() < 1e-12);
}

/// One pair asked with two margins: titles and ids tell them apart, and the one test is no two looks.
#[test]
fn a_pair_asked_with_two_margins() {
    let asked = SEASON.replace("margin = \"2 %\"", "margin = \"5 %\"");
    let second = &asked[asked.find("[[question]]").unwrap()..];
    let text = format!("{SEASON}{second}");
    let season = load(&SeasonText {
        season_toml: &text,
        logbook_csv: None,
        passes_csv: None,
    })
    .season
    .unwrap();
    let tables = tables(&both_each_day(0.05, 0.002), usual());
    let findings = answer_all(&season, &tables, &Summaries::default(), Ledger::default());
    let carry: Vec<&Answer> = findings
        .questions
        .iter()
        .filter(|q| q.question == QuestionKind::CarryOver)
        .collect();
    assert_eq!(carry.len(), 2);
    for (answer, margin) in carry.iter().zip(["2 %", "5 %"]) {
        assert!(answer.asks.contains(margin), "{}", answer.asks);
        assert!(!answer.estimates.contains_key("p_no_gain_holm"));
    }
    let unique = |ids: Vec<&String>| {
        let mut sorted = ids.clone();
        sorted.sort();
        sorted.dedup();
        assert_eq!(sorted.len(), ids.len(), "{ids:?}");
    };
    unique(findings.questions.iter().map(|q| &q.id).collect());
    unique(findings.tables.iter().map(|t| &t.id).collect());
    unique(findings.figures.iter().map(|f| &f.id).collect());
}

/// Flights that draw less with the fan that draws more on the bench: said, and only then.
#[test]
fn interchanged_fans_show_in_the_currents() {
    let caution = |flown: f64| {
        let mut gains = usual();
        let mut current = gains[1].clone();
        current.quantity = "current".to_owned();
        gains.push(current);
        let mut made = tables(&both_each_day(0.05, 0.002), gains);
        for (i, flight) in made.flights.iter_mut().enumerate() {
            let swap = flight.power.as_deref() == Some("swap");
            let noise = 1.0 + 0.005 * f64::from(i as u32 % 3);
            flight.pass_voltage_v = Some(14.0);
            flight.pass_current_a = Some(noise * if swap { 60.0 * (1.0 + flown) } else { 60.0 });
        }
        carry_over(&made)
            .cautions
            .iter()
            .any(|c| c.contains("interchanged in the logbook"))
    };
    // The bench says +12 %.
    assert!(caution(-0.1));
    assert!(!caution(0.1));
    assert!(!caution(0.0));
}

/// Two fans swapped in the question: the loss is told beside what the bench foretold.
#[test]
fn a_loss_that_the_bench_foretold_is_said_to_be_one() {
    let answer = carry_over(&tables(
        &both_each_day(-0.05, 0.002),
        bench(-0.16, -0.10, 0.008),
    ));
    assert_eq!(answer.verdict, Verdict::Worse);
    assert!(
        answer.sentence.contains("The bench foretold a loss"),
        "{}",
        answer.sentence
    );
}

/// Every part of the flight interval together is the interval.
#[test]
fn the_parts_of_the_flight_interval_make_it_up() {
    let season = season();
    let made = tables(&both_each_day(0.05, 0.002), usual());
    let findings = answer_all(&season, &made, &Summaries::default(), Ledger::default());
    let answer = &findings.questions[0];
    let table = findings
        .tables
        .iter()
        .find(|t| t.id == format!("flight-budget-{}", answer.id))
        .unwrap();
    let column = |k: usize| -> Vec<f64> {
        let cells = table.rows.iter().map(|row| &row[k]);
        cells
            .map(|cell| match cell {
                benchborne::findings::DataCell::Number(n) => *n,
                other => panic!("{other:?}"),
            })
            .collect()
    };
    let shares: f64 = column(1).iter().sum();
    assert!((shares - 1.0).abs() < 1e-3, "{shares}");
    let half: f64 = column(2).iter().map(|h| h * h).sum::<f64>().sqrt();
    let e = &answer.estimates[PACK];
    let shown = 0.5 * (e.high.unwrap() - e.low.unwrap());
    assert!((half / shown - 1.0).abs() < 0.01, "{half} {shown}");
    remark(answer, "What limits the gain in flight most");
}

fn sister_answer(masses: [Option<&str>; 2], flights: &[Flew]) -> Answer {
    let mut text = SEASON.to_owned();
    for (declared, mass) in ["mass = \"1.95 kg\"", "mass = \"1.97 kg\""]
        .into_iter()
        .zip(masses)
    {
        assert!(text.contains(declared));
        let mass = mass.map_or_else(String::new, |m| format!("mass = \"{m}\""));
        text = text.replace(declared, &mass);
    }
    let season = load(&SeasonText {
        season_toml: &text,
        logbook_csv: None,
        passes_csv: None,
    })
    .season
    .unwrap();
    let tables = tables(flights, Vec::new());
    let evidence = Evidence {
        season: &season,
        tables: &tables,
    };
    let answer = sisters::answer(&evidence, ["stock", "swap"], ["alder", "birch"], 0.02);
    meaningful(&answer);
    answer
}

/// Both airframes with both fans on both days; birch is 1 % slower.
fn crossed() -> Vec<Flew> {
    let mut flights = Vec::new();
    for day in [1, 2] {
        for (i, (airframe, power)) in [
            ("alder", "stock"),
            ("birch", "swap"),
            ("birch", "stock"),
            ("alder", "swap"),
        ]
        .into_iter()
        .enumerate()
        {
            let slow = if airframe == "birch" { 0.99 } else { 1.0 };
            let gain = if power == "swap" { 1.05 } else { 1.0 };
            let wobble = if (i + day as usize).is_multiple_of(2) {
                1.001
            } else {
                0.999
            };
            flights.push(Flew(day, airframe, power, 60.0 * slow * gain * wobble));
        }
    }
    flights
}

const AS_FLOWN: &str = "level_speed_change_between_airframes";
const EQUAL_MASS: &str = "level_speed_change_between_airframes_at_equal_mass";

/// A birch 10 % heavier is slower for it by the exponent's share, which the interval knows to half.
#[test]
fn sisters_are_compared_at_equal_mass() {
    let answer = sister_answer([Some("2.0 kg"), Some("2.2 kg")], &crossed());
    let (flown, equal) = (&answer.estimates[AS_FLOWN], &answer.estimates[EQUAL_MASS]);
    let (exponent, _) = usual_speed_exponent();
    let expected = (1.0 + flown.value.unwrap()) * 1.1_f64.powf(-exponent) - 1.0;
    assert!((equal.value.unwrap() - expected).abs() < 1e-12);
    assert!(equal.value.unwrap() > flown.value.unwrap());
    let width = |e: &benchborne::stats::estimate::Estimate| e.high.unwrap() - e.low.unwrap();
    assert!(width(equal) > width(flown));
    assert!(
        answer.sentence.contains("equal mass"),
        "{}",
        answer.sentence
    );
    let alike = sister_answer([Some("2.0 kg"), Some("2.0 kg")], &crossed());
    let value = |key: &str| alike.estimates[key].value.unwrap();
    assert!((value(AS_FLOWN) - value(EQUAL_MASS)).abs() < 1e-12);
    let unknown = sister_answer([Some("2.0 kg"), None], &crossed());
    assert!(!unknown.estimates.contains_key(EQUAL_MASS));
    remark(&unknown, "difference in mass is in the figure");
}

#[test]
fn sisters_that_cannot_be_told_apart_say_from_what() {
    let masses = [Some("2.0 kg"), Some("2.2 kg")];
    let own_fan: Vec<Flew> = crossed()
        .into_iter()
        .filter(|f| (f.1 == "alder") == (f.2 == "stock"))
        .collect();
    says(
        &sister_answer(masses, &own_fan),
        Verdict::NotSettled,
        &["a fan of its own"],
    );
    let own_day: Vec<Flew> = crossed()
        .into_iter()
        .filter(|f| (f.1 == "alder") == (f.0 == 1))
        .collect();
    says(
        &sister_answer(masses, &own_day),
        Verdict::NotSettled,
        &["days of its own"],
    );
    let one: Vec<Flew> = crossed().into_iter().filter(|f| f.1 == "alder").collect();
    says(
        &sister_answer(masses, &one),
        Verdict::NotSettled,
        &["has no flight with a level top speed"],
    );
}

/// dlnv/dlnm against the balance of thrust and drag solved anew [D]: a jet of constant exhaust speed
/// 80 m/s at 60 m/s (k = x/(1 − x) = 3), 4 % of its drag induced.
#[test]
fn mass_against_the_balance_solved() {
    let (w, v0, share) = (80.0, 60.0, 0.04);
    let thrust = |v: f64| (w - v) / (w - v0);
    let drag = |v: f64, m: f64| {
        let q: f64 = v / v0;
        (1.0 - share) * q * q + share * (m / q).powi(2)
    };
    let speed = |m: f64| {
        let (mut low, mut high) = (30.0, 79.0);
        for _ in 0..200 {
            let v = 0.5 * (low + high);
            if thrust(v) > drag(v, m) {
                low = v
            } else {
                high = v
            }
        }
        0.5 * (low + high)
    };
    let slope = (speed(1.001_f64) / speed(0.999)).ln() / (1.001_f64 / 0.999).ln();
    let expected = speed_exponent(share, (v0 / w) / (1.0 - v0 / w));
    assert!((slope - expected).abs() < 1e-6, "{slope} {expected}");
    let (middle, u) = usual_speed_exponent();
    assert!(middle - 3f64.sqrt() * u <= expected && expected <= middle + 3f64.sqrt() * u);
}

/// An airspeed sensor that tells another gain than the ground velocity: the interval widens by what they
/// differ, and the page says so. One that tells the same gain (it reads high alike with both fans) does
/// not.
#[test]
fn methods_that_tell_another_gain_widen_the_interval() {
    let mut flown = tables(&both_each_day(0.05, 0.002), usual());
    let plain = half_width(&carry_over(&flown), PACK);
    let pitot = |flown: &mut SeasonTables, candidate: f64| {
        for (n, flight) in flown.flights.iter_mut().enumerate() {
            let off = if flight.power.as_deref() == Some("swap") {
                candidate
            } else {
                1.02
            };
            let scatter = 0.001 * (2.4 * n as f64).sin();
            flight.level_speed_pitot_m_s = flight.level_speed_m_s.map(|v| v * (off + scatter));
        }
    };
    pitot(&mut flown, 1.02);
    let alike = carry_over(&flown);
    assert_eq!(half_width(&alike, PACK), plain);
    assert!(!alike.remarks.iter().any(|r| r.contains("another gain")));
    pitot(&mut flown, 1.05);
    let unlike = carry_over(&flown);
    remark(&unlike, "airspeed sensor give another gain");
    // ln(1.05/1.02) apart: 2.9 %/√2 between the methods, times 1.96.
    let expected = 1.96 * (1.05_f64 / 1.02).ln() / 2.0_f64.sqrt();
    let half = half_width(&unlike, PACK);
    assert!(
        half > 0.9 * expected && half > 3.0 * plain,
        "{half} {plain}"
    );
}

/// One pass a flight tells no scatter within flights; the flights among each other still tell the
/// gain's error, and nothing is claimed of passes.
#[test]
fn one_pass_a_flight() {
    let mut flown = tables(&both_each_day(0.05, 0.004), usual());
    for flight in &mut flown.flights {
        flight.passes = 1;
        flight.level_speed_se_m_s = None;
    }
    let answer = carry_over(&flown);
    let gain = &answer.estimates[PACK];
    assert!(gain.low.unwrap() < gain.value.unwrap() && gain.value.unwrap() < gain.high.unwrap());
    assert!(!answer.estimates.contains_key("scatter_between_passes"));
    for number in answer.estimates.values() {
        let ends = [number.value, number.low, number.high];
        assert!(ends.iter().flatten().all(|v| v.is_finite()), "{number:?}");
    }
}
