//! Pages of their own: a flight, a power system, a comparison.

use serde::Serialize;

use super::answer::{AnswerView, InShort, full, in_short};
use super::ledger::{FileView, FindingView, file_view, finding_views};
use super::links::{self, Link};
use super::pieces::{FigureView, Pieces, Shown, TableView};
use super::reading::{EstimateView, estimate_view};
use super::{Num, RowsView, Shell, Source, rows_view, shell, step};
use crate::findings::{Figure, Findings, Sheet};
use crate::report::Drawn;
use crate::report::names::Place;

#[derive(Debug, Serialize)]
pub struct SheetPage<'a> {
    shell: Shell<'a>,
    facts: Vec<Fact<'a>>,
    sentence: &'a str,
    /// The pilot's words, as written.
    remarks: &'a str,
    groups: Vec<GroupView<'a>>,
    answers: Vec<AnswerView<'a>>,
    figures: Vec<Shown<FigureView<'a>>>,
    tables: Vec<Shown<TableView<'a>>>,
    /// Questions that are answered on another page.
    bears_on: Vec<InShort<'a>>,
    /// What the season's tables say of it.
    mentioned: Vec<TableView<'a>>,
    flights: Vec<Link>,
    rows: RowsView,
    files: Vec<FileView<'a>>,
    findings: Vec<FindingView<'a>>,
    cautions: &'a [String],
}

/// A line of what a page is about: a word and what stands for it.
#[derive(Debug, Serialize)]
struct Fact<'a> {
    name: &'static str,
    text: Option<&'a str>,
    links: Vec<Link>,
    number: Option<Num>,
}

#[derive(Debug, Serialize)]
struct GroupView<'a> {
    title: &'a str,
    estimates: Vec<EstimateView<'a>>,
}

fn text<'a>(name: &'static str, text: Option<&'a str>) -> Option<Fact<'a>> {
    text.map(|text| Fact {
        name,
        text: Some(text),
        links: Vec::new(),
        number: None,
    })
}

fn linked<'a>(name: &'static str, links: Vec<Link>) -> Option<Fact<'a>> {
    (!links.is_empty()).then_some(Fact {
        name,
        text: None,
        links,
        number: None,
    })
}

/// What all kinds of page have in common, from a sheet at `pointer`.
fn page<'a>(
    source: Source<'a>,
    shell: Shell<'a>,
    sheet: &'a Sheet,
    pointer: &str,
    pieces: &mut Pieces<'a>,
) -> SheetPage<'a> {
    let findings = source.findings;
    let figures: Vec<_> = sheet
        .figures
        .iter()
        .filter_map(|id| pieces.figure(id))
        .collect();
    let tables = sheet.tables.iter().filter_map(|id| pieces.table(id));
    let picked = sheet.findings.iter().filter_map(|i| {
        let index = usize::try_from(*i).ok()?;
        findings.ledger.findings.get(index)
    });
    SheetPage {
        shell,
        facts: Vec::new(),
        sentence: "",
        remarks: "",
        groups: groups(sheet, pointer),
        answers: Vec::new(),
        figures,
        tables: tables.collect(),
        bears_on: Vec::new(),
        mentioned: Vec::new(),
        flights: Vec::new(),
        rows: rows_view(&sheet.rows, &format!("{pointer}/rows")),
        files: Vec::new(),
        findings: finding_views(picked),
        cautions: &findings.cautions,
    }
}

fn groups<'a>(sheet: &'a Sheet, pointer: &str) -> Vec<GroupView<'a>> {
    let groups = sheet.groups.iter().map(|group| GroupView {
        title: &group.title,
        estimates: group
            .keys
            .iter()
            .filter_map(|key| sheet.estimates.get_key_value(key))
            .map(|(key, estimate)| {
                let pointer = format!("{pointer}/estimates/{}", step(key));
                estimate_view(key, estimate, &pointer)
            })
            .collect(),
    });
    groups.collect()
}

/// Answers on this page, each with everything that belongs to it.
fn answers<'a>(
    findings: &'a Findings,
    sheet: &Sheet,
    pieces: &mut Pieces<'a>,
) -> Vec<AnswerView<'a>> {
    let asked = findings.questions.iter().enumerate();
    let asked = asked.filter(|(_, q)| sheet.questions.contains(&q.id));
    asked.map(|(i, answer)| full(answer, i, pieces)).collect()
}

fn files<'a>(findings: &'a Findings, of: impl Fn(&str) -> bool) -> Vec<FileView<'a>> {
    let files = findings.ledger.files.iter().enumerate();
    let files = files.filter(|(_, file)| of(&file.file));
    files.map(|(i, file)| file_view(file, i)).collect()
}

/// A picture that only the page of its flight shows.
#[derive(Debug)]
pub struct OwnFigure<'a> {
    pub figure: &'a Figure,
    pub drawn: Option<Drawn>,
    /// As an anchor.
    pub name: String,
    /// From the page, where there is one.
    pub png: Option<String>,
}

pub fn flight<'a>(
    source: Source<'a>,
    index: usize,
    own: &'a [OwnFigure<'a>],
) -> Option<SheetPage<'a>> {
    let Source {
        findings,
        drawn,
        names,
    } = source;
    let place = Place::BELOW;
    let flight = findings.flights.get(index)?;
    let mut pieces = Pieces::new(findings, drawn, names, place);
    let mut around = shell(
        source,
        place,
        format!("Flight {} – {}", flight.id, findings.season.title),
        format!("Flight – {}", findings.season.title),
        format!("Flight {}", flight.id),
    );
    let neighbour = |i: Option<usize>| links::flight(findings, names, place, i?);
    around.before = neighbour(index.checked_sub(1));
    around.after = neighbour(index.checked_add(1));
    let stem = names.flights.get(index).filter(|_| !own.is_empty());
    around.own_data = stem.map(|stem| format!("{stem}.json"));
    let pointer = format!("/flights/{index}/sheet");
    let mut page = page(source, around, &flight.sheet, &pointer, &mut pieces);
    let own = own.iter().map(|own| Shown::Full(pieces.own_figure(own)));
    page.figures.extend(own);
    let power = flight.power.as_deref();
    let pairs = findings.comparisons.iter().enumerate();
    let pairs = pairs.filter(|(_, c)| power.is_some_and(|p| p == c.baseline || p == c.candidate));
    let order = (flight.order_in_day > 0).then(|| Fact {
        name: "Flight of the day",
        text: None,
        links: Vec::new(),
        number: Some(Num::count(
            flight.order_in_day,
            format!("/flights/{index}/order_in_day"),
        )),
    });
    page.facts = [
        text("Day", flight.day.as_deref()),
        order,
        linked(
            "Power system",
            power
                .and_then(|id| links::power_by_id(findings, names, place, id))
                .into_iter()
                .collect(),
        ),
        text("Airframe", flight.airframe_name.as_deref()),
        text("Pack", flight.pack_name.as_deref()),
        linked(
            "Compared in",
            pairs
                .filter_map(|(i, _)| links::comparison(findings, names, place, i))
                .collect(),
        ),
    ]
    .into_iter()
    .flatten()
    .collect();
    page.sentence = &flight.sentence;
    page.remarks = &flight.remarks;
    page.bears_on = findings
        .questions
        .iter()
        .enumerate()
        .filter(|(_, q)| flight.sheet.questions.contains(&q.id))
        .filter_map(|(i, q)| Some(in_short(q, i, place.question(names, i)?)))
        .collect();
    page.mentioned = (0..findings.tables.len())
        .filter(|i| !flight.sheet.tables.contains(&findings.tables[*i].id))
        .filter_map(|i| pieces.table_of_flight(i, &flight.id))
        .collect();
    page.files = files(findings, |file| flight.logs.iter().any(|log| log == file));
    Some(page)
}

pub fn power<'a>(source: Source<'a>, index: usize) -> Option<SheetPage<'a>> {
    let Source {
        findings,
        drawn,
        names,
    } = source;
    let place = Place::BELOW;
    let power = findings.powers.get(index)?;
    let mut pieces = Pieces::new(findings, drawn, names, place);
    let mut around = shell(
        source,
        place,
        format!("{} – {}", power.name, findings.season.title),
        format!("Power system – {}", findings.season.title),
        power.name.clone(),
    );
    let neighbour = |i: Option<usize>| links::power(findings, names, place, i?);
    around.before = neighbour(index.checked_sub(1));
    around.after = neighbour(index.checked_add(1));
    let pointer = format!("/powers/{index}/sheet");
    let answers = answers(findings, &power.sheet, &mut pieces);
    let mut page = page(source, around, &power.sheet, &pointer, &mut pieces);
    let pairs = findings.comparisons.iter().enumerate();
    let pairs = pairs.filter(|(_, c)| power.comparisons.contains(&c.id));
    page.facts = [linked(
        "Compared in",
        pairs
            .filter_map(|(i, _)| links::comparison(findings, names, place, i))
            .collect(),
    )]
    .into_iter()
    .flatten()
    .collect();
    page.sentence = &power.sentence;
    page.answers = answers;
    page.flights = links::flights(findings, names, place, &power.flights);
    page.files = files(findings, |file| {
        power.benches.iter().any(|bench| bench == file)
    });
    Some(page)
}

pub fn comparison<'a>(source: Source<'a>, index: usize) -> Option<SheetPage<'a>> {
    let Source {
        findings,
        drawn,
        names,
    } = source;
    let place = Place::BELOW;
    let pair = findings.comparisons.get(index)?;
    let mut pieces = Pieces::new(findings, drawn, names, place);
    let heading = format!("{} against {}", pair.candidate_name, pair.baseline_name);
    let mut around = shell(
        source,
        place,
        format!("{heading} – {}", findings.season.title),
        format!("Comparison – {}", findings.season.title),
        heading,
    );
    let neighbour = |i: Option<usize>| links::comparison(findings, names, place, i?);
    around.before = neighbour(index.checked_sub(1));
    around.after = neighbour(index.checked_add(1));
    let pointer = format!("/comparisons/{index}/sheet");
    let answers = answers(findings, &pair.sheet, &mut pieces);
    let mut page = page(source, around, &pair.sheet, &pointer, &mut pieces);
    let system = |name, id: &str| {
        let link = links::power_by_id(findings, names, place, id);
        linked(name, link.into_iter().collect())
    };
    page.facts = [
        system("Baseline", &pair.baseline),
        system("Candidate", &pair.candidate),
    ]
    .into_iter()
    .flatten()
    .collect();
    page.sentence = &pair.sentence;
    page.answers = answers;
    page.flights = links::flights(findings, names, place, &pair.flights);
    Some(page)
}
