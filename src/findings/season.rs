//! The whole of the findings: every question of the season answered, in the order of design
//! section 1.

use crate::findings::answer::{
    Answer, DataCell, DataColumn, DataTable, Findings, Ledger, NamedPower, SCHEMA, SeasonSummary,
};
use crate::findings::evidence::Evidence;
use crate::findings::figure::Figure;
use crate::findings::observed::SEED;
use crate::findings::{
    airframe, answer_pictures, calendar_picture, card, carry_over, comparisons, controller,
    flights, gain_tests, in_short, instruments, margins, next, options, pack, power_and_duration,
    powers, rows, shown, sisters,
};
use crate::season::{QuestionDecl, QuestionKind, Season};
use crate::store::SeasonTables;
use crate::store::query::PowerSummary;

/// Summaries over the season's tables that the front page shows.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Summaries {
    pub by_power: Vec<PowerSummary>,
}

/// Answers every question of the season.
pub fn answer_all(
    season: &Season,
    tables: &SeasonTables,
    summaries: &Summaries,
    mut ledger: Ledger,
) -> Findings {
    let evidence = Evidence { season, tables };
    let mut questions: Vec<Answer> = Vec::new();
    let mut figures: Vec<Figure> = calendar_picture::calendar(&evidence).into_iter().collect();
    let mut data = vec![by_power(&evidence, summaries)];
    data.retain(|t: &DataTable| !t.rows.is_empty());

    for question in of_kind(season, QuestionKind::CarryOver) {
        let (answer, more, tables) = carry_over::answer(&evidence, question);
        questions.push(answer);
        figures.extend(more);
        data.extend(tables);
    }
    gain_tests::together(&mut questions);
    for power in season.powers.keys() {
        let (answer, more, table) = power_and_duration::answer(&evidence, power);
        questions.push(answer);
        figures.extend(more);
        data.extend(table);
    }
    for power in season.powers.keys() {
        let (answer, more, table) = controller::answer(&evidence, power);
        questions.push(answer);
        figures.extend(more);
        data.extend(table);
    }
    for question in of_kind(season, QuestionKind::Airframe) {
        let (answer, more, tables) =
            airframe::answer(&evidence, &question.baseline, &question.candidate);
        // Asked again (it takes no margin): the same answer.
        if questions.iter().any(|asked| asked.id == answer.id) {
            continue;
        }
        questions.push(answer);
        figures.extend(more);
        data.extend(tables);
    }
    for pack in asked_packs(&evidence) {
        let (answer, figure, tables) = pack::answer(&evidence, pack);
        questions.push(answer);
        figures.extend(figure);
        data.extend(tables);
    }
    for (powers, question) in sister_pairs(season) {
        let airframes = [question.baseline.as_str(), question.candidate.as_str()];
        let margin = question.margin.value;
        let mut answer = sisters::answer(&evidence, powers, airframes, margin);
        let (mark, of_margin) = margins::told_apart(season, question);
        answer.id += &mark;
        answer.asks = format!("{}{of_margin}?", answer.asks.trim_end_matches('?'));
        let fans = questions
            .iter()
            .find(|q| q.question == QuestionKind::CarryOver);
        let picture =
            fans.and_then(|fans| answer_pictures::sisters(&evidence, &answer, fans, margin));
        show(picture, &mut answer, &mut figures);
        questions.push(answer);
    }
    for answer in &mut questions {
        let picture = answer_pictures::flights_needed(answer);
        show(picture, answer, &mut figures);
    }
    in_short::put(&mut questions);
    let card = card::card(&evidence, &questions);
    let mut next = next::answer(&questions);
    let picture = answer_pictures::open_questions(&evidence, &questions);
    show(picture, &mut next, &mut figures);
    if let Some((mut answer, picture, table)) = options::what_to_change(&evidence, &questions) {
        show(picture, &mut answer, &mut figures);
        questions.push(answer);
        data.push(table);
    }
    questions.push(next);
    rows::fill(&evidence, &mut questions, &mut ledger);
    let comparisons = comparisons::sheets(&evidence, &questions, &ledger);
    let (powers, of_powers) = powers::sheets(&evidence, &questions, &comparisons, &ledger);
    let (flights, of_flights) = flights::sheets(&evidence, &questions, &ledger);
    data.extend(of_powers);
    data.extend(of_flights);
    data.extend(instruments::table(&evidence));

    dedup(&mut figures);
    let mut seen: Vec<String> = Vec::new();
    data.retain(|table| {
        let new = !seen.contains(&table.id);
        seen.push(table.id.clone());
        new
    });
    let mut findings = Findings {
        schema: SCHEMA,
        version: env!("CARGO_PKG_VERSION").to_owned(),
        season: summary(&evidence),
        ledger,
        margins: margins::declared(season),
        questions,
        figures,
        tables: data,
        cautions: cautions(),
        card,
        flights,
        powers,
        comparisons,
        units: Vec::new(),
    };
    shown::fill(season, &mut findings);
    findings
}

fn of_kind(season: &Season, kind: QuestionKind) -> impl Iterator<Item = &QuestionDecl> {
    season.questions.iter().filter(move |q| q.kind == kind)
}

/// Packs that flew; before any flight those the power systems name.
fn asked_packs<'a>(evidence: &Evidence<'a>) -> Vec<&'a str> {
    let season = evidence.season;
    let flown = |id: &str| {
        evidence
            .tables
            .flights
            .iter()
            .any(|f| f.pack.as_deref() == Some(id))
    };
    let any = season.packs.keys().any(|id| flown(id));
    let named = |id: &str| {
        season
            .powers
            .values()
            .any(|p| p.pack.as_deref() == Some(id))
    };
    season
        .packs
        .keys()
        .map(String::as_str)
        .filter(|id| if any { flown(id) } else { named(id) })
        .collect()
}

/// Each declared pair of sisters (else the first two airframes), with the two systems whose flights
/// are compared.
fn sister_pairs(season: &Season) -> Vec<([&str; 2], &QuestionDecl)> {
    let carry = of_kind(season, QuestionKind::CarryOver).next();
    let Some(powers) = carry.map(|q| [q.baseline.as_str(), q.candidate.as_str()]) else {
        return Vec::new();
    };
    of_kind(season, QuestionKind::Sisters)
        .map(|q| (powers, q))
        .collect()
}

/// Puts a picture that there may be beside an answer.
fn show(picture: Option<Figure>, answer: &mut Answer, figures: &mut Vec<Figure>) {
    if let Some(picture) = picture {
        answer.figures.push(picture.id.clone());
        figures.push(picture);
    }
}

fn dedup(figures: &mut Vec<Figure>) {
    let mut seen: Vec<String> = Vec::new();
    figures.retain(|f| {
        let new = !seen.contains(&f.id);
        seen.push(f.id.clone());
        new
    });
}

fn summary(evidence: &Evidence) -> SeasonSummary {
    let season = evidence.season;
    let mut days: Vec<String> = evidence
        .tables
        .flights
        .iter()
        .filter_map(|f| f.day.clone())
        .collect();
    days.sort();
    days.dedup();
    SeasonSummary {
        title: season.title.clone(),
        invented: season.invented,
        site: season.site.name.clone(),
        airframes: season.airframes.values().map(|a| a.name.clone()).collect(),
        powers: season
            .powers
            .iter()
            .map(|(id, p)| NamedPower {
                id: id.clone(),
                name: p.name.clone(),
                colour: evidence.colour(id),
            })
            .collect(),
        days,
        flights: evidence.tables.flights.len() as u64,
        bench_runs: season.benches.len() as u64,
        defaults: season.defaults.clone(),
        seed: SEED,
    }
}

fn by_power(evidence: &Evidence, summaries: &Summaries) -> DataTable {
    DataTable {
        id: "by-power".to_owned(),
        title: "Power systems over the season".to_owned(),
        columns: vec![
            DataColumn::new("power system", "", 0),
            DataColumn::new("flights", "1", 0),
            DataColumn::new("with current", "1", 0),
            DataColumn::new("airborne", "s", 0),
            DataColumn::new("mean energy a flight", "W.h", 1),
            DataColumn::new("peak current", "A", 1),
        ],
        rows: summaries
            .by_power
            .iter()
            .map(|p| {
                vec![
                    DataCell::Text(evidence.power_name(&p.power)),
                    DataCell::Number(p.flights as f64),
                    DataCell::Number(p.measured as f64),
                    DataCell::Number(p.airborne_s),
                    DataCell::number(p.mean_energy_wh),
                    DataCell::number(p.peak_current_a),
                ]
            })
            .collect(),
    }
}

/// Design section 9.
fn cautions() -> Vec<String> {
    [
        "Packs can burn. Charge, store and retire them by the maker's rules.",
        "Fans can maim and throw blades; a restrained jet can break loose. The scale must hold the \
         model safely, and nobody stands in the plane of the fan.",
        "Structural evidence is comparative: it is no approval to fly.",
        "Local aviation rules, field rules, the maker's limits and qualified advice come first.",
    ]
    .map(str::to_owned)
    .to_vec()
}
