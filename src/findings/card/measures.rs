//! What a card asks to measure or declare.

use super::Measure;
use crate::findings::answer::{Answer, StepKind};

/// Lines of things to measure or declare that fit beside them.
const MEASURES_ON_A_PAGE: usize = 5;
/// A sentence longer than this is cut where it can be.
const SHORT: usize = 170;

/// What to measure or declare: what each open question lacks that a flight by the card does not give;
/// then what settled ones advise.
pub(super) fn measures(open: &[(String, &Answer)], settled: &[(String, &Answer)]) -> Vec<Measure> {
    let lacking = open
        .iter()
        .flat_map(|(letter, a)| a.next.iter().chain(&a.missing).map(move |s| (letter, s)));
    let advised = settled
        .iter()
        .flat_map(|(letter, a)| a.next.iter().map(move |s| (letter, s)));
    let mut out: Vec<Measure> = Vec::new();
    // The flights are the card's own lines.
    for (letter, step) in lacking.chain(advised) {
        if step.kind == StepKind::Fly {
            continue;
        }
        let what = short(&step.what);
        if let Some(known) = out.iter_mut().find(|m| m.what == what) {
            if !known.letters.contains(letter) {
                known.letters.push(letter.clone());
            }
        } else if out.len() < MEASURES_ON_A_PAGE {
            out.push(Measure {
                line: (out.len() + 1) as u64,
                what,
                letters: vec![letter.clone()],
            });
        }
    }
    out
}

/// The first sentence, cut at a colon or semicolon where it is long; no code marks.
fn short(text: &str) -> String {
    let text = text.replace('`', "");
    let end = |mark: &str| text.find(mark).map_or(text.len(), |i| i + 1);
    let mut cut = text[..end(". ")].to_owned();
    for mark in ["; ", ": "] {
        if cut.len() > SHORT
            && let Some(i) = cut.find(mark)
        {
            cut.truncate(i);
            cut.push('.');
        }
    }
    cut
}
