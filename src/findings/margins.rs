//! The smallest difference that matters: declared, dated, with a digest; a change after results were
//! seen is told on every later page.

use serde::{Deserialize, Serialize};

use crate::findings::answer::{Answer, Findings};
use crate::season::{Finding, QuestionDecl, QuestionKind, Season, margin_digest};

/// The margins of a season, with those of its earlier reports.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Margins {
    /// Digest of the margins now declared.
    pub digest: String,
    /// Every margin that a report of this season was made with, oldest first; the last one of a
    /// question is the one now used.
    pub used: Vec<MarginUsed>,
}

/// A margin that a report was made with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MarginUsed {
    pub question: QuestionKind,
    pub baseline: String,
    pub candidate: String,
    /// Fraction of level top speed.
    pub margin: f64,
    pub is_default: bool,
    /// ISO date that the season file gives for it.
    pub set: Option<String>,
    /// Digest of all margins of that report.
    pub digest: String,
}

impl MarginUsed {
    fn is_of(&self, other: &Self) -> bool {
        self.question == other.question
            && self.baseline == other.baseline
            && self.candidate == other.candidate
    }

    fn belongs_to(&self, answer: &Answer) -> bool {
        self.question == answer.question
            && answer.baseline.as_ref() == Some(&self.baseline)
            && answer.candidate.as_ref() == Some(&self.candidate)
    }
}

/// What an earlier report of some season says that matters here.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct EarlierReport {
    pub season: EarlierSeason,
    /// Reports of old versions have none.
    #[serde(default)]
    pub margins: Margins,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct EarlierSeason {
    pub title: String,
}

/// The margins as declared now.
pub fn declared(season: &Season) -> Margins {
    let digest = margin_digest(season);
    let used = season
        .questions
        .iter()
        .filter(|q| matches!(q.kind, QuestionKind::CarryOver | QuestionKind::Sisters))
        .map(|q| MarginUsed {
            question: q.kind,
            baseline: q.baseline.clone(),
            candidate: q.candidate.clone(),
            margin: q.margin.value,
            is_default: q.margin.is_default,
            set: q.margin_set.map(|d| d.to_string()),
            digest: digest.clone(),
        })
        .collect();
    Margins { digest, used }
}

/// Tells a question from others of its pair: what is added to its id and, with its margin, to its title;
/// both empty for the only one.
pub fn told_apart(season: &Season, question: &QuestionDecl) -> (String, String) {
    let alike: Vec<&QuestionDecl> = season
        .questions
        .iter()
        .filter(|q| {
            q.kind == question.kind
                && q.baseline == question.baseline
                && q.candidate == question.candidate
        })
        .collect();
    if alike.len() < 2 {
        return Default::default();
    }
    let place = alike.iter().position(|q| q.line == question.line);
    let mark = match place {
        Some(place) if place > 0 => format!("-{}", place + 1),
        _ => String::new(),
    };
    let margin = percent_of(question.margin.value);
    (
        mark,
        format!(" (smallest difference that matters: {margin})"),
    )
}

/// Where a margin comes from, for its estimate.
pub fn origin(season: &Season, question: &QuestionDecl) -> String {
    let how = if question.margin.is_default {
        "default"
    } else {
        "declared"
    };
    let set = question
        .margin_set
        .map_or_else(String::new, |d| format!(", set on {d}"));
    format!(
        "smallest difference that matters: {how}{set}; digest {}",
        margin_digest(season)
    )
}

/// Said where the margin was set after the first flights that it judges.
pub fn set_late(question: &QuestionDecl, first_day: Option<&str>) -> Option<String> {
    let (set, first) = (question.margin_set?.to_string(), first_day?);
    // ISO dates sort as texts do.
    (set.as_str() > first).then(|| {
        format!(
            "The smallest difference that matters was set on {set}, after the first flights that it \
             judges ({first})."
        )
    })
}

/// Carries the margins of `earlier` on, and says where one was changed since. A report of another
/// season is left alone, with a remark.
pub fn hold_against(findings: &mut Findings, earlier: &EarlierReport) {
    if earlier.season.title != findings.season.title {
        findings.ledger.findings.push(
            Finding::note(
                "earlier-report-ignored",
                format!(
                    "the report that lies here is of another season ('{}'); its margins were not \
                     looked at",
                    earlier.season.title
                ),
                "Use another folder for each season.",
            )
            .in_file("findings.json"),
        );
        return;
    }
    let now = std::mem::take(&mut findings.margins.used);
    let mut used = earlier.margins.used.clone();
    let repeated = |margin: &MarginUsed| now.iter().filter(|other| other.is_of(margin)).count() > 1;
    for margin in &now {
        let margin = margin.clone();
        // Asked with several margins side by side, each is kept as it was first used.
        if repeated(&margin) {
            let known = |u: &&mut MarginUsed| u.is_of(&margin) && u.margin == margin.margin;
            match used.iter_mut().find(known) {
                Some(known) => known.set = margin.set,
                None => used.push(margin),
            }
            continue;
        }
        let last = used.iter().rfind(|u| u.is_of(&margin));
        let same = last.is_some_and(|l| l.margin == margin.margin);
        if !same {
            used.push(margin);
        } else if let Some(last) = used.iter_mut().rfind(|u| u.is_of(&margin)) {
            // Its date may have been added since, or another question's margin changed the digest.
            *last = margin;
        }
    }
    findings.margins.used = used;
    let told: Vec<(usize, String)> = findings
        .questions
        .iter()
        .enumerate()
        .filter_map(|(i, answer)| Some((i, said_of(findings, &now, i, answer)?)))
        .collect();
    for (i, what) in told {
        let answer = &mut findings.questions[i];
        answer.cautions.insert(
            0,
            format!(
                "{what} A margin chosen with the results in sight makes the verdict weaker than it reads."
            ),
        );
        let what = format!("{} {}", answer.asks, what.trim_end_matches('.'));
        findings.ledger.findings.push(
            Finding::warning(
                "margin-changed",
                what,
                "Settle on the smallest difference that matters before flying, and leave it.",
            )
            .in_file("season.toml"),
        );
    }
}

/// What is to be said of an answer's margin; `now` are those declared, in the order of the answers.
fn said_of(findings: &Findings, now: &[MarginUsed], at: usize, answer: &Answer) -> Option<String> {
    let own: Vec<&MarginUsed> = now.iter().filter(|m| m.belongs_to(answer)).collect();
    match own.as_slice() {
        [] => None,
        [own] => {
            // Several answers of one question have one margin: the first of them tells.
            let before = &findings.questions[..at];
            let first = !before.iter().any(|a| own.belongs_to(a));
            changes_of(&findings.margins, answer).filter(|_| first)
        }
        own => {
            let before = &findings.questions[..at];
            let place = before.iter().filter(|a| own[0].belongs_to(a)).count();
            added_late(&findings.margins, own.get(place)?)
        }
    }
}

/// Said of a margin that joined those of its pair once a report had been made with them: the digest of
/// the report that it was first used in is another.
fn added_late(margins: &Margins, margin: &MarginUsed) -> Option<String> {
    let mut of_pair = margins.used.iter().filter(|u| u.is_of(margin));
    let first = of_pair.clone().next()?;
    let own = of_pair.find(|u| u.margin == margin.margin)?;
    (own.digest != first.digest).then(|| {
        format!(
            "The smallest difference that matters of {} was added after results with {} were seen.",
            percent_of(own.margin),
            percent_of(first.margin)
        )
    })
}

/// The changes of an answer's margin, in one sentence.
fn changes_of(margins: &Margins, answer: &Answer) -> Option<String> {
    let of: Vec<&MarginUsed> = margins
        .used
        .iter()
        .filter(|u| u.belongs_to(answer))
        .collect();
    let (first, rest) = of.split_first()?;
    if rest.is_empty() {
        return None;
    }
    let steps: Vec<String> = rest
        .iter()
        .map(|u| {
            let set = u
                .set
                .as_ref()
                .map_or_else(String::new, |d| format!(" (set on {d})"));
            format!("to {}{set}", percent_of(u.margin))
        })
        .collect();
    Some(format!(
        "The smallest difference that matters was changed from {} {} after results were seen.",
        percent_of(first.margin),
        steps.join(", then ")
    ))
}

/// Margins may be finer than a tenth of a percent.
fn percent_of(margin: f64) -> String {
    format!("{} %", (margin * 1e6).round() / 1e4)
}
