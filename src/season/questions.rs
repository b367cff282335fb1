//! `[[question]]`, `[rules]`, `[[option]]`; the questions nobody declared.

use sha2::{Digest, Sha256};

use super::benches;
use super::bounds;
use super::sections::{Read, assumed, declared, reference};
use super::toml_reader::{Context, Node};
use super::wording::{did_you_mean, one_of};
use super::{
    Airframe, Covariate, Declared, Finding, OptionDecl, Power, QuestionDecl, QuestionKind, Rules,
    Season,
};
use crate::units::nearest;

/// The smallest difference in level top speed that matters where nothing is declared.
const MARGIN: f64 = 0.02;
/// A margin above this is warned of: few fan swaps gain as much in level top speed (ours, no source).
const LARGE_MARGIN: f64 = 0.2;

pub(super) const KINDS: [(&str, QuestionKind); 7] = [
    ("carry-over", QuestionKind::CarryOver),
    ("power-and-duration", QuestionKind::PowerAndDuration),
    ("controller", QuestionKind::Controller),
    ("airframe", QuestionKind::Airframe),
    ("pack", QuestionKind::Pack),
    ("sisters", QuestionKind::Sisters),
    ("next", QuestionKind::Next),
];

const COVARIATES: [(&str, Covariate); 6] = [
    ("temperature", Covariate::Temperature),
    ("pressure", Covariate::Pressure),
    ("density", Covariate::Density),
    ("charge-used", Covariate::ChargeUsed),
    ("order", Covariate::Order),
    ("wind", Covariate::Wind),
];

impl QuestionKind {
    /// As `season.toml` writes it.
    pub fn word(self) -> &'static str {
        KINDS
            .iter()
            .find(|(_, kind)| *kind == self)
            .map_or("", |(word, _)| word)
    }
}

pub(super) fn questions(
    cx: &mut Context,
    root: &Node,
    powers: &Read<Power>,
    airframes: &Read<Airframe>,
) -> Vec<QuestionDecl> {
    let mut questions: Vec<QuestionDecl> = Vec::new();
    for (table, span) in root.entries(cx, "question") {
        let known = [
            "kind",
            "baseline",
            "candidate",
            "margin",
            "margin_set",
            "covariates",
        ];
        let node = Node::new(cx, "question", table, span, &known);
        if let Some(question) = question(cx, &node, powers, airframes) {
            questions.push(question);
        }
    }
    derive(cx, questions, powers, airframes)
}

fn question(
    cx: &mut Context,
    node: &Node,
    powers: &Read<Power>,
    airframes: &Read<Airframe>,
) -> Option<QuestionDecl> {
    node.require(cx, "kind", "\"carry-over\"");
    let margin = margin(cx, node);
    let margin_set = benches::date(cx, node, "margin_set");
    let covariates = covariates(cx, node);
    let (word, span) = node.text(cx, "kind")?;
    let folded = word.to_lowercase().replace(['_', ' '], "-");
    let Some((_, kind)) = KINDS.iter().find(|(name, _)| *name == folded) else {
        let words = || KINDS.iter().map(|(name, _)| *name);
        let to_do = did_you_mean(nearest(&word, words()), "Use one of these kinds.");
        let finding = Finding::error("unknown-question", format!("no question '{word}'"), to_do)
            .expected(one_of(words()));
        cx.report(finding, &span);
        return None;
    };
    let sisters = *kind == QuestionKind::Sisters;
    let (section, ids, usable) = if sisters {
        ("airframe", &airframes.ids, airframes.usable())
    } else {
        ("power", &powers.ids, powers.usable())
    };
    let mut side = |key: &str, usual: Option<&str>| {
        if node.get(key).is_none() {
            let found = usual.map(str::to_owned);
            if found.is_none() {
                node.require(cx, key, &format!("\"id of {section}\""));
            }
            return found;
        }
        let id = reference(cx, node, key, section, ids)?;
        if usable.contains(&id.as_str()) {
            return Some(id);
        }
        let what = format!("this question is left out: {section} '{id}' could not be read");
        let to_do = format!("Correct [{section}.{id}] first.");
        cx.report(
            Finding::warning("question-left-out", what, to_do),
            &node.span,
        );
        None
    };
    let first = usable.first().copied();
    let baseline = side("baseline", first)?;
    let other = usable.iter().find(|id| **id != baseline).copied();
    let candidate = side("candidate", other.or(if sisters { None } else { first }))?;
    if baseline == candidate && node.get("candidate").is_some() {
        let what = format!("baseline and candidate are both '{baseline}'");
        let finding = Finding::error("same-sides", what, "Name two different ones.");
        cx.report(finding, &node.span);
        return None;
    }
    Some(QuestionDecl {
        kind: *kind,
        baseline,
        candidate,
        margin_set,
        covariates,
        margin: margin.map_or_else(|| usual_margin(cx, node.join("margin")), declared),
        line: cx.line(&node.span),
    })
}

/// The margin declared. One that cannot be is said to be replaced; a large one is warned of.
fn margin(cx: &mut Context, node: &Node) -> Option<f64> {
    let value = node.get("margin")?;
    let span = value.span();
    let margin = node.quantity(cx, "margin", &bounds::MARGIN);
    match margin {
        None => {
            if let Some(finding) = cx.findings.last_mut() {
                let usual = MARGIN * 100.0;
                finding.to_do += &format!(" The usual margin of {usual} % is used meanwhile.");
            }
        }
        Some(large) if large > LARGE_MARGIN => cx.report(
            Finding::warning(
                "large-margin",
                format!(
                    "'{}' says that a difference of {:.0} % in level top speed does not matter",
                    node.join("margin"),
                    large * 100.0
                ),
                "Write the smallest difference in level top speed that matters to you; 2 % is usual.",
            ),
            &span,
        ),
        Some(_) => {}
    }
    margin
}

/// Declared covariates, each once.
fn covariates(cx: &mut Context, node: &Node) -> Vec<Covariate> {
    let mut found = Vec::new();
    for (word, span) in node.texts(cx, "covariates") {
        let folded = word.trim().to_lowercase().replace(['_', ' '], "-");
        match COVARIATES.iter().find(|(name, _)| *name == folded) {
            Some((_, covariate)) if !found.contains(covariate) => found.push(*covariate),
            Some(_) => {}
            None => {
                let words = || COVARIATES.iter().map(|(name, _)| *name);
                let to_do = did_you_mean(nearest(&folded, words()), "Use one of these covariates.");
                let what = format!("no covariate '{word}'");
                let finding =
                    Finding::error("unknown-covariate", what, to_do).expected(one_of(words()));
                cx.report(finding, &span);
            }
        }
    }
    found
}

fn usual_margin(cx: &mut Context, key: String) -> Declared {
    if cx.defaults.iter().all(|d| d.key != key) {
        let buys = "a verdict on the difference that matters to you";
        cx.default(
            key,
            format!("{} % of the level top speed", MARGIN * 100.0),
            buys,
        );
    }
    assumed(MARGIN)
}

/// Adds every question that was not declared: of the pair (and with the margin) of the first
/// declared one, else of the first power system as the baseline against each other.
fn derive(
    cx: &mut Context,
    mut questions: Vec<QuestionDecl>,
    powers: &Read<Power>,
    airframes: &Read<Airframe>,
) -> Vec<QuestionDecl> {
    let powers = powers.usable();
    let Some(first) = powers.first() else {
        return questions;
    };
    let pattern = questions
        .iter()
        .find(|q| q.kind != QuestionKind::Sisters)
        .cloned();
    let (margin, margin_set) = match questions.iter().find(|q| !q.margin.is_default) {
        Some(question) => (question.margin, question.margin_set),
        None => (usual_margin(cx, "question.margin".to_owned()), None),
    };
    let pairs: Vec<(String, String)> = match &pattern {
        Some(q) => vec![(q.baseline.clone(), q.candidate.clone())],
        None if powers.len() == 1 => vec![((*first).to_owned(), (*first).to_owned())],
        None => powers[1..]
            .iter()
            .map(|other| ((*first).to_owned(), (*other).to_owned()))
            .collect(),
    };
    for (_, kind) in KINDS {
        if questions.iter().any(|q| q.kind == kind) {
            continue;
        }
        let pairs = match (kind, airframes.usable().as_slice()) {
            (QuestionKind::Sisters, [one, other, ..]) => {
                vec![((*one).to_owned(), (*other).to_owned())]
            }
            (QuestionKind::Sisters, _) => Vec::new(),
            _ => pairs.clone(),
        };
        // With one power system there is nothing to carry over and nothing to load harder than.
        let compares = matches!(kind, QuestionKind::CarryOver | QuestionKind::Airframe);
        let comparable = |pair: &(String, String)| !compares || pair.0 != pair.1;
        questions.extend(
            pairs
                .into_iter()
                .filter(comparable)
                .map(|(baseline, candidate)| QuestionDecl {
                    kind,
                    baseline,
                    candidate,
                    margin,
                    margin_set,
                    covariates: Vec::new(),
                    line: 0,
                }),
        );
    }
    questions
}

/// A short digest of what was declared as the difference that matters, to show a change after
/// results were seen.
pub fn margin_digest(season: &Season) -> String {
    let mut lines: Vec<String> = season
        .questions
        .iter()
        .filter(|q| q.line > 0)
        .map(|q| {
            let (kind, margin) = (q.kind.word(), q.margin.value);
            format!("{kind} {} {} {margin}\n", q.baseline, q.candidate)
        })
        .collect();
    if lines.is_empty() {
        lines.push(format!("default {MARGIN}\n"));
    }
    lines.sort();
    let digest = Sha256::digest(lines.concat().as_bytes());
    digest[..8]
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

pub(super) fn rules(cx: &mut Context, root: &Node) -> Rules {
    let usual = Rules::default();
    let keys = [
        "headroom",
        "reserve",
        "full_throttle",
        "pass_minimum",
        "flights_a_day",
        "hot_day",
    ];
    let section = root.table(cx, "rules");
    let node = section.map(|(table, span)| Node::new(cx, "rules", table, span, &keys));
    let most = node
        .as_ref()
        .and_then(|node| node.count(cx, "flights_a_day", (2, 12)));
    let hot_day_k = node
        .as_ref()
        .and_then(|node| node.quantity(cx, "hot_day", &bounds::TEMPERATURE));
    let mut rule = |key: &str, bound: &bounds::Bound, usual: Declared, words: &str, buys: &str| {
        let value = node.as_ref().and_then(|node| node.quantity(cx, key, bound));
        value.map_or_else(
            || {
                cx.default(format!("rules.{key}"), words.to_owned(), buys);
                usual
            },
            declared,
        )
    };
    Rules {
        headroom: rule(
            "headroom",
            &bounds::HEADROOM,
            usual.headroom,
            "25 % over the largest held current (common practice, no source)",
            "a verdict on the headroom you want",
        ),
        reserve: rule(
            "reserve",
            &bounds::RESERVE,
            usual.reserve,
            "20 % of the rated capacity (common practice, no source)",
            "a timer setting for the reserve you want",
        ),
        full_throttle: rule(
            "full_throttle",
            &bounds::FULL_THROTTLE,
            usual.full_throttle,
            "95 % of the throttle range (ours)",
            "the passes that you count as flown at full throttle",
        ),
        pass_min_s: rule(
            "pass_minimum",
            &bounds::PASS_TIME,
            usual.pass_min_s,
            "2 s (ours)",
            "shorter passes used, or only longer ones",
        ),
        flights_a_day: most.map_or_else(
            || {
                cx.default(
                    "rules.flights_a_day".to_owned(),
                    "6 (ours)".to_owned(),
                    "a card with as many flights as you can fly on a day",
                );
                usual.flights_a_day
            },
            |n| declared(f64::from(n)),
        ),
        hot_day_k,
    }
}

pub(super) fn options(
    cx: &mut Context,
    root: &Node,
    controller_ids: &[String],
    pack_ids: &[String],
) -> Vec<OptionDecl> {
    let known = [
        "name",
        "controller",
        "pack",
        "added_mass",
        "added_mass_arm",
        "cost",
    ];
    let mut options = Vec::new();
    for (table, span) in root.entries(cx, "option") {
        let node = Node::new(cx, "option", table, span, &known);
        node.require(cx, "name", "\"keep as is\"");
        let name = node.text(cx, "name").map(|(name, _)| name);
        let option = OptionDecl {
            name: String::new(),
            controller: reference(cx, &node, "controller", "controller", controller_ids),
            pack: reference(cx, &node, "pack", "pack", pack_ids),
            added_mass_kg: node.quantity(cx, "added_mass", &bounds::ADDED_MASS),
            added_mass_arm_m: node.quantity(cx, "added_mass_arm", &bounds::ARM),
            cost: node.text(cx, "cost").map(|(cost, _)| cost),
        };
        if let Some(name) = name {
            options.push(OptionDecl { name, ..option });
        }
    }
    options
}
