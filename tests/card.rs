//! The card: what it asks for in seasons of all kinds, as text in 80 columns and as a page.

use benchborne::findings::card::Card;
use benchborne::findings::season::Summaries;
use benchborne::findings::{Findings, Ledger, answer_all};
use benchborne::report::{card_page, card_text};
use benchborne::season::{SeasonText, load};
use benchborne::store::SeasonTables;

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
    let letters: Vec<&String> = card.open.iter().map(|o| &o.letter).collect();
    for flight in &card.flights {
        assert!(flight.letters.iter().all(|l| letters.contains(&l)));
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
