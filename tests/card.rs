//! The card: what it asks for in seasons of all kinds, as text in 80 columns and as a page.

use benchborne::findings::card::{self, Card, CardFlight, Measure, OpenQuestion, SettledQuestion};
use benchborne::findings::evidence::Evidence;
use benchborne::findings::season::Summaries;
use benchborne::findings::{Answer, FigureData, Findings, Ledger, Step, Verdict, answer_all};
use benchborne::report::{card_page, card_text};
use benchborne::season::{QuestionKind, SeasonText, load};
use benchborne::stats::flying_order::lean;
use benchborne::store::{FlightRow, SeasonTables};

use crate::row_season::{Case, Sharing, WORLDS, make, season};

fn card_of(toml: &str, tables: &SeasonTables) -> Card {
    let text = SeasonText {
        season_toml: toml,
        ..SeasonText::default()
    };
    let season = load(&text).season.unwrap();
    answer_all(&season, tables, &Summaries::default(), Ledger::default()).card
}

/// Everything the page must hold, whatever the season.
#[track_caller]
fn well_made(card: &Card) {
    let text = card_text(card);
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    let page = card_page(card).unwrap();
    assert!(!page.contains("<script") && !page.contains("http:") && !page.contains("https:"));
    for caution in &card.cautions {
        assert!(page.contains(caution.split('\'').next().unwrap()));
    }
    assert!(card.cautions.len() >= 5);
    // Lines are numbered through, and each flight is on paper once.
    let lines: Vec<u64> = card
        .measures
        .iter()
        .map(|m| m.line)
        .chain(card.flights.iter().map(|f| f.line))
        .collect();
    assert_eq!(lines, (1..=lines.len() as u64).collect::<Vec<_>>());
    for flight in &card.flights {
        assert!(page.contains(&format!("<tr><td><b>{}</b></td>", flight.line)));
    }
    // Each line says what it is for: an open question, or a settled one that it guards.
    let open = card.open.iter().map(|o| &o.letter);
    let letters: Vec<&String> = open.chain(card.settled.iter().map(|s| &s.letter)).collect();
    let of_lines = card.flights.iter().map(|f| &f.letters);
    for of_line in of_lines.chain(card.measures.iter().map(|m| &m.letters)) {
        assert!(!of_line.is_empty(), "{card:#?}");
        assert!(of_line.iter().all(|l| letters.contains(&l)));
    }
    for letter in &letters {
        assert!(text.contains(&format!("\n  {letter}  ")), "{text}");
    }
}

const TWO: &str = "title = \"T\"\n[power.old]\n[power.new]\n";

fn found_of(case: Case) -> Findings {
    let tables = make(case).tables;
    let summaries = Summaries::default();
    answer_all(&season(&case.world), &tables, &summaries, Ledger::default())
}

#[test]
fn before_any_flight_both_fans_are_planned_for() {
    let card = card_of(TWO, &SeasonTables::default());
    well_made(&card);
    let of = |name: &str| card.flights.iter().filter(|f| f.power == name).count();
    assert!(of("old") > 0 && of("new") > 0, "{card:#?}");
    assert!(!card.open.is_empty());
}

#[test]
fn one_fan_only_has_no_gain_to_settle() {
    let card = card_of("title = \"T\"\n[power.only]\n", &SeasonTables::default());
    well_made(&card);
    assert!(card.flights.iter().all(|f| f.power == "only"));
    assert!(!card.open.iter().any(|o| o.asks.contains("carry over")));
}

#[test]
fn what_is_open_says_which_lines_settle_it_and_how_likely() {
    let case = Case {
        flights: 2,
        sharing: Sharing::ADayEach,
        world: WORLDS[0],
        gain: 0.04,
        bench: 0.04,
        seed: 3,
    };
    let found = found_of(case);
    let card = &found.card;
    well_made(card);
    let open = card
        .open
        .iter()
        .find(|o| o.asks.contains("carry over"))
        .unwrap();
    assert!(
        open.settled_by.contains("Chance to settle it"),
        "{}",
        open.settled_by
    );
    // The first day holds both fans, and its order has no lean.
    let day: Vec<&str> = card
        .flights
        .iter()
        .filter(|f| f.day == 1)
        .map(|f| f.power.as_str())
        .collect();
    assert!(day.contains(&"old") && day.contains(&"new"), "{day:?}");
    // Its numbers are in the answers' JSON.
    let answer = &found.questions[0];
    assert!(answer.plan.is_some() && answer.estimates.contains_key("flights_needed_a_fan"));
    // They are drawn: the more seasons must be settled, the more flights.
    let id = format!("flights-needed-{}", answer.id);
    assert!(answer.figures.contains(&id));
    let figure = found.figures.iter().find(|f| f.id == id).unwrap();
    let FigureData::Ladder(ladder) = &figure.data else {
        panic!("{figure:?}");
    };
    let needed = answer.estimates["flights_needed_a_fan"].value;
    assert_eq!(ladder.rungs[0].value, needed);
    assert!(ladder.rungs.iter().all(|r| r.value >= needed));
    // What keeps the question open is drawn beside what to do next.
    let next = found.questions.last().unwrap();
    let open = found.figures.iter().find(|f| f.id == "open-questions");
    assert_eq!(
        open.is_some(),
        next.figures.contains(&"open-questions".to_owned())
    );
}

#[test]
fn a_settled_gain_is_guarded() {
    let case = Case {
        flights: 12,
        sharing: Sharing::EachDay,
        world: WORLDS[0],
        gain: 0.04,
        bench: 0.04,
        seed: 8,
    };
    let found = found_of(case);
    well_made(&found.card);
    assert!(
        found
            .card
            .settled
            .iter()
            .any(|s| s.asks.contains("carry over"))
    );
    assert!(!found.card.flights.is_empty());
    // 80 % of 2600 mAh, beside the flights of either fan.
    assert_eq!(found.card.limits.len(), 2);
    let text = card_text(&found.card);
    let page = card_page(&found.card).unwrap();
    for limit in &found.card.limits {
        assert!(
            limit.contains("land by 2080 mAh used (20 % reserve)"),
            "{limit}"
        );
        assert!(
            limit.contains("timer") && limit.contains("controller"),
            "{limit}"
        );
        assert!(text.contains(&limit[..20]) && page.contains("land by 2080"));
    }
    assert!(
        !found
            .card
            .cautions
            .iter()
            .any(|c| c.contains("One flying day"))
    );
}

#[test]
fn a_single_flying_day_draws_a_caution() {
    let card = card_of("title = \"T\"\n[power.only]\n", &SeasonTables::default());
    assert!(card.flights.iter().all(|f| f.day == 1));
    assert!(card.cautions.iter().any(|c| c.contains("One flying day")));
}

fn about(kind: QuestionKind, power: &str, missing: Step) -> Answer {
    let mut answer = Answer::new(kind, &format!("{kind:?}-{power}"), &format!("Of {power}?"));
    answer.candidate = Some(power.to_owned());
    answer.missing = vec![missing];
    answer
}

fn card_from(toml: &str, answers: &[Answer]) -> Card {
    let text = SeasonText {
        season_toml: toml,
        ..SeasonText::default()
    };
    let evidence = Evidence {
        season: &load(&text).season.unwrap(),
        tables: &SeasonTables::default(),
    };
    card::card(&evidence, answers)
}

/// What is done in the air is the card's flights, whatever the words of the advice.
#[test]
fn the_kind_of_a_step_says_where_it_is_done() {
    let charge = "The charge put back after flights.";
    let answers = [
        about(QuestionKind::Controller, "old", Step::measure(charge)),
        about(
            QuestionKind::PowerAndDuration,
            "old",
            Step::fly("Steady throttle, held for 5 s."),
        ),
    ];
    let card = card_from(TWO, &answers);
    well_made(&card);
    let lines: Vec<&str> = card.measures.iter().map(|m| m.what.as_str()).collect();
    assert_eq!(lines, [charge]);
}

/// Without a plan, too, the fans fly in turn, so that no drift over the day leans on one of them.
#[test]
fn fans_fly_in_turn_where_no_plan_says() {
    let step = || Step::fly("Fly it.");
    let answers = ["old", "new"].map(|p| about(QuestionKind::PowerAndDuration, p, step()));
    let card = card_from(TWO, &answers);
    well_made(&card);
    let day: Vec<bool> = card
        .flights
        .iter()
        .filter(|f| f.day == 1)
        .map(|f| f.power == "new")
        .collect();
    assert_eq!(&day[..4], [true, false, false, true]);
    assert_eq!(lean(&day[..4], 1), 0.0);
    assert_eq!(card.flights.len(), 10);
}

/// Both logs lost: one request, for all the questions that it serves.
#[test]
fn what_several_questions_lack_is_asked_for_once() {
    let toml = "title = \"T\"\n\
                [power.old]\ncontroller = \"c\"\n[power.new]\ncontroller = \"c\"\n\
                [controller.c]\ncontinuous = \"60 A\"\n";
    let mut tables = SeasonTables::default();
    for power in ["old", "new"] {
        tables.flights.push(FlightRow {
            flight: power.to_owned(),
            power: Some(power.to_owned()),
            ..FlightRow::default()
        });
    }
    let card = card_of(toml, &tables);
    well_made(&card);
    let logs: Vec<&Measure> = card
        .measures
        .iter()
        .filter(|m| m.what.starts_with("A log with"))
        .collect();
    let [log] = logs.as_slice() else {
        panic!("{:#?}", card.measures)
    };
    // The power of both fans and the controller of both.
    assert_eq!(log.letters.len(), 4, "{card:#?}");
}

/// As much as the card takes: a page printed from it fits on one sheet of A4, and of Letter (looked
/// at on paper).
fn full() -> Card {
    let long = "The voltage at which its bench run was made, with the meter and the leads that it \
                was made with: the thrust is held against it.";
    let name = |i: u64| ["eleven-blade fan", "six-blade fan"][i as usize % 2].to_owned();
    Card {
        title: "A season with all that can be open".to_owned(),
        invented: true,
        sentence: "5 things to measure or declare; 24 flights on 6 days.".to_owned(),
        open: (0..8_u8)
            .map(|i| OpenQuestion {
                letter: char::from(b'A' + i).to_string(),
                asks: "Did the static gain of the fan swap carry over into flight?".to_owned(),
                settled_by: "Lines 1 to 5, 6 to 17. Chance to settle it: 81 % if all of it carried \
                             over, 42 % if half of it did, 84 % if nothing carried over."
                    .to_owned(),
            })
            .collect(),
        settled: (8..14_u8)
            .map(|i| SettledQuestion {
                letter: char::from(b'A' + i).to_string(),
                asks: "Is the airframe loaded harder with the one fan than with the other?".to_owned(),
                verdict: Verdict::LoadsAlike,
            })
            .collect(),
        measures: (1..=5)
            .map(|line| Measure {
                line,
                what: long.to_owned(),
                letters: vec!["A".to_owned(), "B".to_owned()],
            })
            .collect(),
        flights: (0..12)
            .map(|i| CardFlight {
                line: i + 6,
                day: i / 2 + 1,
                power: name(i),
                airframe: Some("Birch".to_owned()),
                pack: Some("blue pack".to_owned()),
                passes: 8,
                letters: (b'A'..=b'F').map(|l| char::from(l).to_string()).collect(),
            })
            .collect(),
        limits: (0..2)
            .map(|i| {
                format!(
                    "{}: timer 160 s (extrapolated); land by 2080 mAh used (20 % reserve), less \
                     with the ageing pack; controller: not enough headroom, so full throttle for 10 s \
                     at most.",
                    name(i)
                )
            })
            .collect(),
        how: vec![long.to_owned(); 8],
        note: ["date and time", "wind", "air °C", "pack V before", "pack °C before", "put back mAh", "remarks"]
            .map(str::to_owned)
            .to_vec(),
        further_flights: 12,
        cautions: vec![long.to_owned(); 6],
    }
}

#[test]
fn a_full_card_is_set_smaller() {
    let card = full();
    well_made(&card);
    let size = |card: &Card| {
        let page = card_page(card).unwrap();
        let tag = page.lines().nth(1).unwrap();
        tag.split('"').nth(3).unwrap_or_default().to_owned()
    };
    assert_eq!(size(&card), "dense small");
    let half = Card {
        open: card.open[..5].to_vec(),
        settled: Vec::new(),
        flights: card.flights[..8].to_vec(),
        ..card.clone()
    };
    assert_eq!(size(&half), "dense");
    // The lines of limits take room like any other.
    let usual = Card {
        open: card.open[..3].to_vec(),
        measures: card.measures[..4].to_vec(),
        limits: Vec::new(),
        ..half
    };
    assert_eq!(size(&usual), "dense");
    let usual = Card {
        flights: card.flights[..6].to_vec(),
        ..usual
    };
    assert_eq!(size(&usual), "");
    let limited = Card {
        limits: card.limits.clone(),
        ..usual
    };
    assert_eq!(size(&limited), "dense");
}
