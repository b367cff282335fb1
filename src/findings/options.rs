//! What to change: the options that the pilot declared, each with what the evidence says for and
//! against it, and what it costs. Nothing beyond the evidence, and no recommendation.

use crate::findings::airframe_static::{Shift, airframe_of, shift};
use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable, HowWeKnow, Verdict};
use crate::findings::evidence::{Evidence, capital, percent, percent_interval, with_interval};
use crate::findings::figure::Figure;
use crate::findings::{answer_pictures, pack_draw};
use crate::season::{Controller, OptionDecl, QuestionDecl, QuestionKind};
use crate::stats::estimate::Estimate;

/// What the evidence says of one side of an option.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Says {
    For,
    /// Nothing asks for it.
    NoNeed,
    Against,
    Open,
}

/// One option weighed.
#[derive(Debug, Default)]
struct Weighed {
    says: Vec<Says>,
    pro: Vec<String>,
    contra: Vec<String>,
    /// Headroom of its controller over the current held in flight (else on the bench).
    headroom: Option<Estimate>,
}

impl Weighed {
    fn add(&mut self, says: Says, text: String) {
        self.says.push(says);
        match says {
            Says::For => self.pro.push(text),
            Says::NoNeed | Says::Against | Says::Open => self.contra.push(text),
        }
    }

    fn word(&self) -> &'static str {
        let has = |s: Says| self.says.contains(&s);
        match () {
            () if has(Says::Against) => "speaks against it",
            () if has(Says::For) && self.says.iter().all(|s| *s == Says::For) => "supports it",
            () if has(Says::For) => "supports part of it",
            () if has(Says::Open) || self.says.is_empty() => "does not settle it",
            () => "does not ask for it",
        }
    }
}

/// The answer, its picture and its table; `None` where no option is declared.
pub fn what_to_change(
    evidence: &Evidence,
    answers: &[Answer],
) -> Option<(Answer, Option<Figure>, DataTable)> {
    let options = &evidence.season.options;
    if options.is_empty() {
        return None;
    }
    let weighed: Vec<Weighed> = options
        .iter()
        .map(|option| weigh(evidence, answers, option))
        .collect();
    let mut answer = Answer::new(
        QuestionKind::WhatToChange,
        "what-to-change",
        "Which of the changes under consideration does the evidence support?",
    );
    answer.how = HowWeKnow {
        method: vec![
            "Each declared option is held against the answers above: a controller against the current \
             held and the headroom wanted, a pack against sag and ageing of those flown, added structure \
             against the comparison of loads, and keeping everything against all of them."
                .to_owned(),
            "'Supports' means that a settled answer asks for just this; 'does not ask for it' that the \
             answers are settled and none does; it is no recommendation."
                .to_owned(),
        ],
        sources: Vec::new(),
        inputs: vec!["the other questions' answers; options in season.toml".to_owned()],
        would_change: vec![
            "Flights with the option fitted: nothing here was measured with it.".to_owned(),
        ],
    };
    answer.cautions.push(
        "Evidence, no approval: the makers' limits, local rules and qualified advice come first, and a \
         change of structure or of the pack wants all three."
            .to_owned(),
    );
    let named = |word: &str| -> Vec<&str> {
        options
            .iter()
            .zip(&weighed)
            .filter(|(_, w)| w.word() == word)
            .map(|(o, _)| o.name.as_str())
            .collect()
    };
    let mut parts = Vec::new();
    for (word, lead) in [
        ("supports it", "The evidence supports"),
        ("supports part of it", "It supports a part of"),
        ("speaks against it", "It speaks against"),
        ("does not ask for it", "It does not ask for"),
        ("does not settle it", "It does not settle"),
    ] {
        let names = named(word);
        if !names.is_empty() {
            let lead = if parts.is_empty() {
                lead.replacen("It ", "The evidence ", 1)
            } else {
                lead.replacen("The evidence ", "It ", 1)
            };
            let quoted: Vec<String> = names.iter().map(|n| format!("'{n}'")).collect();
            parts.push(format!("{lead} {}.", quoted.join(", ")));
        }
    }
    answer.sentence = parts.join(" ");
    if weighed.iter().any(|w| w.word() != "does not settle it") {
        answer.verdict = Verdict::Answered;
        answer.in_short = Some(in_short(
            &named("supports it"),
            &named("supports part of it"),
        ));
    }
    for (option, weighed) in options.iter().zip(&weighed) {
        let Some(room) = &weighed.headroom else {
            continue;
        };
        let key = format!("headroom_with_{}", option.name);
        if weighed.word() == "supports it" && answer.headline.is_empty() {
            answer.headline.push(key.clone());
        }
        answer.estimates.insert(key, room.clone());
    }
    let table = table(evidence, &weighed);
    answer.tables.push(table.id.clone());
    Some((answer, picture(evidence, answers, &weighed), table))
}

/// Each option's headroom; an option that leaves the controller as it is has the present one's.
fn picture(evidence: &Evidence, answers: &[Answer], weighed: &[Weighed]) -> Option<Figure> {
    let (present, drawn) = most_demanding(answers)?;
    let power = present.candidate.as_deref()?;
    let now = evidence
        .season
        .controller_of(power)
        .and_then(|c| c.continuous_a)
        .map(|rating| headroom(rating, drawn));
    let rooms: Vec<(&str, &str, Option<&Estimate>)> = evidence
        .season
        .options
        .iter()
        .zip(weighed)
        .map(|(option, weighed)| {
            let kept = now.as_ref().filter(|_| option.controller.is_none());
            let room = weighed.headroom.as_ref().or(kept);
            (option.name.as_str(), weighed.word(), room)
        })
        .collect();
    let wanted = evidence.season.rules.headroom.value;
    answer_pictures::options(&rooms, wanted, &evidence.power_name(power))
}

/// What a rating lies above the current drawn.
fn headroom(rating: f64, drawn: &Estimate) -> Estimate {
    let of = |c: f64| rating / c - 1.0;
    Estimate {
        value: drawn.value.map(of),
        low: drawn.high.map(of),
        high: drawn.low.map(of),
        unit: "1".to_owned(),
        ..drawn.clone()
    }
}

/// What the evidence supports, in a few words.
fn in_short(whole: &[&str], part: &[&str]) -> String {
    match (whole, part) {
        ([], []) => "None of them".to_owned(),
        ([], part) => format!("Part of: {}", part.join(" or ")),
        (whole, _) => capital(&whole.join(" or ")),
    }
}

fn table(evidence: &Evidence, weighed: &[Weighed]) -> DataTable {
    let said = |texts: &[String]| {
        if texts.is_empty() {
            DataCell::Blank(())
        } else {
            DataCell::Text(texts.join(" "))
        }
    };
    DataTable {
        id: "what-to-change".to_owned(),
        title: "What to change: each option and what the evidence says".to_owned(),
        columns: vec![
            DataColumn::new("option", "", 0),
            DataColumn::new("the evidence", "", 0),
            DataColumn::new("for it", "", 0),
            DataColumn::new("against it, or open", "", 0),
            DataColumn::new("headroom", "1", 3),
            DataColumn::new("added mass", "g", 0),
            DataColumn::new("cost", "", 0),
        ],
        rows: evidence
            .season
            .options
            .iter()
            .zip(weighed)
            .map(|(option, weighed)| {
                let room = weighed.headroom.as_ref();
                vec![
                    DataCell::Text(option.name.clone()),
                    DataCell::Text(weighed.word().to_owned()),
                    said(&weighed.pro),
                    said(&weighed.contra),
                    room.map_or(DataCell::Blank(()), |r| {
                        DataCell::interval(r.value, r.low, r.high)
                    }),
                    DataCell::number(adds(evidence, option).map(|(kg, _)| kg * 1000.0)),
                    DataCell::text(option.cost.as_deref()),
                ]
            })
            .collect(),
    }
}

fn weigh(evidence: &Evidence, answers: &[Answer], option: &OptionDecl) -> Weighed {
    let mut weighed = Weighed::default();
    let controller = option
        .controller
        .as_ref()
        .and_then(|id| evidence.season.controllers.get(id));
    if let Some(controller) = controller {
        weigh_controller(evidence, answers, controller, &mut weighed);
    }
    if let Some(pack) = &option.pack {
        weigh_pack(evidence, answers, pack, &mut weighed);
    }
    let changes = option.controller.is_some() || option.pack.is_some();
    match option.added_mass_kg {
        Some(kg) if !changes && kg > 0.0 => weigh_structure(answers, &mut weighed),
        None if !changes => weigh_keeping(evidence, answers, &mut weighed),
        _ => {}
    }
    if let Some((kg, arm)) = adds(evidence, option) {
        added_mass(evidence, kg, arm, &mut weighed);
    }
    if option.added_mass_kg.is_some() && option.added_mass_arm_m.is_none() {
        pack_alone(evidence, option, &mut weighed);
    }
    weighed
}

/// Mass that an option adds and where: as declared for it, else what its pack weighs more than the
/// one flown now.
fn adds(evidence: &Evidence, option: &OptionDecl) -> Option<(f64, Option<f64>)> {
    if let Some(kg) = option.added_mass_kg {
        return Some((kg, option.added_mass_arm_m));
    }
    let kg = pack_adds(evidence, option)?;
    let (_, airframe) = airframe_of(evidence, compared(evidence)?)?;
    Some((kg, airframe.pack_arm_m))
}

/// What an option's pack weighs more than the one flown now, kg.
fn pack_adds(evidence: &Evidence, option: &OptionDecl) -> Option<f64> {
    let season = evidence.season;
    let mass = |id: &str| season.packs.get(id)?.mass_kg;
    let power = season.powers.get(compared(evidence)?)?;
    Some(mass(option.pack.as_deref()?)? - mass(power.pack.as_deref()?)?)
}

/// What the pack's own mass does to the balance, where the whole added mass has no arm.
fn pack_alone(evidence: &Evidence, option: &OptionDecl, weighed: &mut Weighed) {
    let found = compared(evidence).and_then(|power| airframe_of(evidence, power));
    let (Some((_, airframe)), Some(kg)) = (found, pack_adds(evidence, option)) else {
        return;
    };
    let (Some(flying), Some(arm)) = (airframe.mass_kg, airframe.pack_arm_m) else {
        return;
    };
    let change = shift(airframe, flying, kg, Some(arm));
    if let Some(moved) = moved(&change) {
        weighed.contra.push(format!(
            "Its pack alone weighs {:.0} g {}: {moved}.",
            kg.abs() * 1000.0,
            if kg < 0.0 { "less" } else { "more" }
        ));
    }
}

/// "the balance point moves 1.4 mm back (0.5 % of the chord)".
fn moved(change: &Shift) -> Option<String> {
    let metres = change.metres?;
    Some(format!(
        "the balance point moves {:.1} mm {}{}",
        metres.abs() * 1000.0,
        if metres >= 0.0 { "back" } else { "ahead" },
        change.of_chord.map_or_else(String::new, |chord| format!(
            " ({} of the chord)",
            percent(chord.abs())
        ))
    ))
}

/// The power system under consideration.
fn compared<'a>(evidence: &Evidence<'a>) -> Option<&'a str> {
    let of_powers = |q: &&QuestionDecl| q.kind != QuestionKind::Sisters;
    let question = evidence.season.questions.iter().find(of_powers)?;
    Some(question.candidate.as_str())
}

/// The controller answer of the system that draws most.
fn most_demanding(answers: &[Answer]) -> Option<(&Answer, &Estimate)> {
    let drawn = |a: &'_ Answer| -> Option<f64> { held(a)?.value };
    let answer = answers
        .iter()
        .filter(|a| a.question == QuestionKind::Controller && drawn(a).is_some())
        .max_by(|a, b| drawn(a).unwrap_or(0.0).total_cmp(&drawn(b).unwrap_or(0.0)))?;
    Some((answer, held(answer)?))
}

/// What a controller answer holds its rating against.
fn held(answer: &Answer) -> Option<&Estimate> {
    answer
        .estimates
        .get("largest_held_current_in_flight")
        .or_else(|| answer.estimates.get("largest_bench_current"))
}

fn weigh_controller(
    evidence: &Evidence,
    answers: &[Answer],
    controller: &Controller,
    weighed: &mut Weighed,
) {
    let wanted = evidence.season.rules.headroom.value;
    let Some(rating) = controller.continuous_a else {
        weighed.add(
            Says::Open,
            format!(
                "The continuous rating of {} is not declared.",
                controller.name
            ),
        );
        return;
    };
    let Some((present, drawn)) = most_demanding(answers) else {
        weighed.add(
            Says::Open,
            "No current was measured to hold its rating against.".to_owned(),
        );
        return;
    };
    let of = |c: f64| rating / c - 1.0;
    let room = headroom(rating, drawn);
    let next = present
        .estimates
        .get("held_current_of_a_further_flight")
        .and_then(|e| e.high)
        .map(of);
    let name = present
        .candidate
        .as_deref()
        .map_or_else(String::new, |p| evidence.power_name(p));
    let lies = format!(
        "its {rating:.0} A lie {} above the most that {name} drew, and {:.0} % is wanted",
        percent_interval(&room),
        wanted * 100.0
    );
    let has = room.low.is_some_and(|l| l >= wanted) && next.is_none_or(|n| n >= wanted);
    let lacks = room.high.is_some_and(|h| h < wanted);
    let (says, text) = match (present.verdict, has, lacks) {
        (_, _, true) => (
            Says::Against,
            format!("It would lack the headroom too: {lies}."),
        ),
        (Verdict::NotEnough, true, _) => (
            Says::For,
            format!("The present controller lacks the headroom wanted; {lies}."),
        ),
        (Verdict::Enough, ..) => (
            Says::NoNeed,
            "The present controller has the headroom wanted.".to_owned(),
        ),
        (_, true, _) => (
            Says::Open,
            format!(
                "Whether the present controller has the headroom is not settled; this one would have it: \
                 {lies}."
            ),
        ),
        _ => (
            Says::Open,
            format!("Whether it would have the headroom is not settled: {lies}."),
        ),
    };
    weighed.headroom = Some(room);
    weighed.add(says, text);
}

fn weigh_pack(evidence: &Evidence, answers: &[Answer], pack: &str, weighed: &mut Weighed) {
    let Some(option) = evidence.season.packs.get(pack) else {
        return;
    };
    let mut settled = true;
    let mut asked = false;
    for answer in answers.iter().filter(|a| a.question == QuestionKind::Pack) {
        let Some(id) = answer.candidate.as_deref().filter(|id| *id != pack) else {
            continue;
        };
        let name = evidence
            .season
            .packs
            .get(id)
            .map_or(id, |p| p.name.as_str());
        let rate = answer.estimates.get("resistance_change_per_flight");
        if answer.verdict == Verdict::NotSettled {
            settled = false;
            weighed
                .contra
                .push(format!("Whether '{name}' ages is not settled."));
        } else if let Some(rate) = rate.filter(|r| r.low.is_some_and(|l| l > 0.0)) {
            asked = true;
            weighed.pro.push(format!(
                "'{name}' is ageing: its resistance rises {} a flight.",
                with_interval(rate, 100.0, 1, " %")
            ));
        }
        let into = answer.estimates.get(pack_draw::INTO_RESERVE);
        if let Some(share) = into.filter(|s| s.value.is_some_and(|v| v > 0.0)) {
            let more = evidence
                .season
                .packs
                .get(id)
                .map_or(0.0, |p| option.capacity_c / p.capacity_c - 1.0);
            if more > 0.0 {
                asked = true;
                weighed.pro.push(format!(
                    "{} with '{name}' went into the reserve; this one holds {} more.",
                    capital(&pack_draw::into_reserve(share)),
                    percent(more)
                ));
            }
        }
    }
    weighed.says.push(match (asked, settled) {
        (true, _) => Says::For,
        (false, true) => Says::NoNeed,
        (false, false) => Says::Open,
    });
    weighed.contra.push(
        "Nothing was measured with this pack: its label says neither its resistance nor its sag."
            .to_owned(),
    );
}

fn weigh_structure(answers: &[Answer], weighed: &mut Weighed) {
    let Some(loads) = answers
        .iter()
        .find(|a| a.question == QuestionKind::Airframe)
    else {
        weighed.add(
            Says::Open,
            "No two set-ups are compared: whether loads have grown is not known.".to_owned(),
        );
        return;
    };
    let (says, text) = match loads.verdict {
        Verdict::LoadedHarder => {
            weighed
                .pro
                .push("The airframe is loaded harder than before.".to_owned());
            (
                Says::Open,
                "Whether its strength is used up, and where, no comparison of loads tells.",
            )
        }
        Verdict::LoadsAlike => (Says::NoNeed, "Loads are alike: nothing asks for it."),
        _ => (
            Says::Open,
            "Whether the airframe is loaded harder is not settled.",
        ),
    };
    weighed.add(says, text.to_owned());
    weighed
        .contra
        .push("What to reinforce is a matter for inspection and qualified advice.".to_owned());
}

/// Keeping everything: every settled answer for or against it.
fn weigh_keeping(evidence: &Evidence, answers: &[Answer], weighed: &mut Weighed) {
    let of = |kind: QuestionKind| answers.iter().filter(move |a| a.question == kind);
    for answer in of(QuestionKind::Controller) {
        let what = question_of(evidence, answer);
        match answer.verdict {
            Verdict::Enough => weighed.add(Says::For, format!("Headroom is enough ({what}).")),
            Verdict::NotEnough => {
                weighed.add(Says::Against, format!("Headroom is not enough ({what})."));
            }
            _ => weighed.add(Says::Open, format!("Headroom is not settled ({what}).")),
        }
    }
    for answer in of(QuestionKind::Airframe) {
        match answer.verdict {
            Verdict::LoadsAlike => weighed.add(Says::For, "Loads are alike.".to_owned()),
            Verdict::LoadedHarder => weighed.add(
                Says::Against,
                "The airframe is loaded harder than before: inspect it.".to_owned(),
            ),
            _ => weighed.add(
                Says::Open,
                "Whether loads have grown is not settled.".to_owned(),
            ),
        }
    }
    for answer in of(QuestionKind::Pack) {
        let what = question_of(evidence, answer);
        let rises = answer
            .estimates
            .get("resistance_change_per_flight")
            .and_then(|e| e.low)
            .is_some_and(|l| l > 0.0);
        match answer.verdict {
            Verdict::Answered if rises => {
                weighed.add(Says::Against, format!("A pack is ageing ({what})."));
            }
            Verdict::Answered => weighed.add(Says::For, format!("No sign of ageing ({what}).")),
            _ => weighed.add(Says::Open, format!("Ageing is not settled ({what}).")),
        }
        let into = answer.estimates.get(pack_draw::INTO_RESERVE);
        if let Some(share) = into.filter(|s| s.value.is_some_and(|v| v > 0.0)) {
            weighed.add(
                Says::Against,
                format!(
                    "{} went into the reserve ({what}).",
                    capital(&pack_draw::into_reserve(share))
                ),
            );
        }
    }
}

/// The power system or the pack that an answer is about.
fn question_of(evidence: &Evidence, answer: &Answer) -> String {
    let id = answer.candidate.as_deref().unwrap_or(&answer.id);
    match evidence.season.packs.get(id) {
        Some(pack) if answer.question == QuestionKind::Pack => pack.name.clone(),
        _ => evidence.power_name(id),
    }
}

/// What the mass changes, as declared.
fn added_mass(evidence: &Evidence, kg: f64, arm_m: Option<f64>, weighed: &mut Weighed) {
    let found = compared(evidence).and_then(|power| airframe_of(evidence, power));
    let Some((_, airframe)) = found else { return };
    let Some(flying) = airframe.mass_kg else {
        weighed.contra.push(
            "What the added mass does is not known: the airframe's is not declared.".to_owned(),
        );
        return;
    };
    let change = shift(airframe, flying, kg, arm_m);
    let balance = moved(&change).map_or_else(String::new, |words| format!(", and {words}"));
    weighed.contra.push(format!(
        "It adds {} to the flying mass: {} more stall speed{balance}.",
        percent(change.of_mass),
        percent((1.0 + change.of_mass).sqrt() - 1.0)
    ));
}
