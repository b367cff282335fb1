//! The card to print: one page of HTML, and the same as text for a terminal.

use serde::Serialize;

use super::{ReportError, page, text};
use crate::findings::card::{Card, CardFlight};

/// Columns of the text.
const WIDTH: usize = 80;

#[derive(Debug, Serialize)]
pub(super) struct CardView<'a> {
    card: &'a Card,
    /// Verdicts of the settled questions in words, in their order.
    verdicts: Vec<&'static str>,
    /// Whether any flight names one.
    airframes: bool,
    packs: bool,
    /// Classes of the page: more than fits at the usual size is set smaller, without room for further
    /// notes.
    size: &'static str,
}

/// Lines that fit on one sheet, A4 or Letter, at the usual size and at the next smaller one (found by
/// printing). At the smallest one as much fits as a card holds.
const ROOMY: usize = 14;
const DENSE: usize = 26;

/// The page, complete in itself.
pub fn page(card: &Card) -> Result<String, ReportError> {
    page::set_card(&CardView {
        card,
        verdicts: verdicts(card),
        airframes: card.flights.iter().any(|f| f.airframe.is_some()),
        packs: card.flights.iter().any(|f| f.pack.is_some()),
        size: match lines(card) {
            n if n <= ROOMY => "",
            n if n <= DENSE => "dense",
            _ => "dense small",
        },
    })
}

/// Lines that take room beside what every card has.
fn lines(card: &Card) -> usize {
    let mut days: Vec<u64> = card.flights.iter().map(|f| f.day).collect();
    days.dedup();
    let halves = card.settled.len() + days.len();
    card.open.len() + card.measures.len() + card.flights.len() + card.limits.len() + halves / 2
}

fn verdicts(card: &Card) -> Vec<&'static str> {
    let settled = card.settled.iter();
    settled.map(|s| s.verdict.words()).collect()
}

/// The card in 80 columns.
pub fn text(card: &Card) -> String {
    let mut out = String::new();
    let mut line = |text: &str| {
        out.push_str(text.trim_end());
        out.push('\n');
    };
    let mut paragraph = |head: &str, words: &str| {
        let indent = " ".repeat(head.chars().count());
        for row in text::wrapped(head, &indent, words, WIDTH) {
            line(&row);
        }
    };
    paragraph("", &format!("NEXT: {}", card.title));
    if card.invented {
        paragraph(
            "",
            "Invented data: this season was made up to show the method.",
        );
    }
    paragraph("", &card.sentence);
    if !card.open.is_empty() {
        paragraph("", "");
        paragraph("", "Open");
        for question in &card.open {
            let words = format!("{} {}", question.asks, question.settled_by);
            paragraph(&format!("  {}  ", question.letter), &words);
        }
    }
    if !card.measures.is_empty() {
        paragraph("", "");
        paragraph("", "Measure or declare first");
        for measure in &card.measures {
            let letters = match measure.letters.as_slice() {
                [] => String::new(),
                letters => format!(" [{}]", letters.join(" ")),
            };
            let words = format!("{}{letters}", measure.what);
            paragraph(&format!("{:>3} [ ] ", measure.line), &words);
        }
    }
    let warm = if card.note.iter().any(|n| n.starts_with("pack °C")) {
        " ______ °C"
    } else {
        ""
    };
    let mut day = 0;
    for flight in &card.flights {
        if flight.day != day {
            day = flight.day;
            paragraph("", "");
            paragraph(
                "",
                &format!("Day {day}   date ____________  wind ____________  air ______ °C"),
            );
        }
        paragraph(&format!("{:>3} [ ] ", flight.line), &flight_words(flight));
        paragraph(
            "        ",
            &format!("pack before ______ V{warm}  put back ______ mAh  remarks ________"),
        );
    }
    if card.further_flights > 0 {
        paragraph(
            "",
            &format!(
                "Then {} more flights, day by day in the same order, turned round each day.",
                card.further_flights
            ),
        );
    }
    if !card.limits.is_empty() {
        paragraph("", "");
        paragraph("", "Limits");
        for limit in &card.limits {
            paragraph("  - ", limit);
        }
    }
    if !card.how.is_empty() {
        paragraph("", "");
        paragraph("", "Each flight");
        for how in &card.how {
            paragraph("  - ", how);
        }
    }
    if !card.settled.is_empty() {
        paragraph("", "");
        paragraph("", "Settled already");
        for (question, verdict) in card.settled.iter().zip(verdicts(card)) {
            let head = format!("  {}  ", question.letter);
            paragraph(&head, &format!("{} {verdict}.", question.asks));
        }
    }
    paragraph("", "");
    paragraph("", "Mind");
    for caution in &card.cautions {
        paragraph("  - ", caution);
    }
    out
}

fn flight_words(flight: &CardFlight) -> String {
    let mut parts = vec![flight.power.clone()];
    parts.extend(flight.airframe.iter().map(|a| format!("in {a}")));
    parts.extend(flight.pack.clone());
    parts.push(format!("{} passes", flight.passes));
    let letters = match flight.letters.as_slice() {
        [] => String::new(),
        letters => format!(" [{}]", letters.join(" ")),
    };
    parts.join(", ") + &letters
}
