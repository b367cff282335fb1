//! Pictures of the answers that gather evidence from others: sisters, what to change, what next.

use crate::findings::answer::{Answer, Verdict};
use crate::findings::evidence::{Evidence, counted};
use crate::findings::figure::{Across, Figure, FigureData, Ladder, Mark, Rung, RungGroup};
use crate::findings::pictures::axis;
use crate::season::QuestionKind;
use crate::stats::estimate::Estimate;

/// A rung in percent, `less` (a fraction) taken off.
fn rung(label: &str, note: &str, estimate: &Estimate, less: f64, group: RungGroup) -> Rung {
    let shown = |v: Option<f64>| v.map(|v| 100.0 * (v - less));
    Rung {
        label: label.to_owned(),
        note: note.to_owned(),
        value: shown(estimate.value),
        low: shown(estimate.low),
        high: shown(estimate.high),
        group,
    }
}

/// The airframes' difference as flown and at equal mass, beside what the fans do to the same speed;
/// `None` where the flights cannot tell the airframes apart.
pub fn sisters(evidence: &Evidence, answer: &Answer, fans: &Answer, margin: f64) -> Option<Figure> {
    let of = |id: &Option<String>| {
        let id = id.as_deref().unwrap_or_default();
        evidence.airframe_name(id)
    };
    let (first, second) = (of(&answer.baseline), of(&answer.candidate));
    let found = |key: &str| answer.estimates.get(key);
    let mut rungs = Vec::new();
    if let Some(e) = found("level_speed_change_between_airframes") {
        rungs.push(rung(
            &format!("{second} against {first}"),
            "same fan and pack, masses as they are",
            e,
            0.0,
            RungGroup::Observed,
        ));
    }
    if let Some(e) = found("level_speed_change_between_airframes_at_equal_mass") {
        rungs.push(rung(
            &format!("{second} against {first}"),
            "same fan and pack, at equal mass",
            e,
            0.0,
            RungGroup::Observed,
        ));
    }
    if rungs.is_empty() {
        return None;
    }
    if let Some(e) = fans.estimates.get("observed_speed_gain_same_pack") {
        let name = |id: &Option<String>| evidence.power_name(id.as_deref().unwrap_or_default());
        rungs.push(rung(
            "for scale: the other fan",
            &format!("{} against {}", name(&fans.candidate), name(&fans.baseline)),
            e,
            0.0,
            RungGroup::Reference,
        ));
    }
    Some(Figure {
        id: format!("ladder-{}", answer.id),
        caption: format!(
            "What the airframe does to level top speed, with 95 % intervals: {}.",
            match answer.verdict {
                Verdict::NoDifferenceThatMatters => "it lies within the difference that matters",
                Verdict::NotSettled => "the interval reaches beyond the difference that matters",
                _ => "the two differ",
            }
        ),
        alt: format!(
            "Intervals of the difference in level top speed between {first} and {second}, on a \
             percent scale with the difference that matters marked."
        ),
        data: FigureData::Ladder(Ladder {
            x: axis("change in level top speed", "%"),
            rungs,
            band: None,
            margin: Some(100.0 * margin),
            limit: None,
            verdict: Some(answer.verdict),
        }),
    })
}

/// Each option's headroom over the most current held, against the headroom wanted. `options`: name,
/// what the evidence says, headroom. `None` where no headroom is known.
pub fn options(
    options: &[(&str, &str, Option<&Estimate>)],
    wanted: f64,
    drawn_by: &str,
) -> Option<Figure> {
    let known = options.iter().filter(|(_, _, room)| room.is_some()).count();
    if known == 0 {
        return None;
    }
    let rungs = options
        .iter()
        .map(|(name, word, room)| {
            let note = format!("the evidence {word}");
            match room {
                Some(room) => rung(name, &note, room, 0.0, RungGroup::Observed),
                None => Rung {
                    label: (*name).to_owned(),
                    note,
                    value: None,
                    low: None,
                    high: None,
                    group: RungGroup::Observed,
                },
            }
        })
        .collect();
    let clear = |(_, _, room): &&(&str, &str, Option<&Estimate>)| {
        room.and_then(|r| r.low).is_some_and(|low| low >= wanted)
    };
    let enough = options.iter().filter(clear).count();
    Some(Figure {
        id: "options-headroom".to_owned(),
        caption: format!(
            "Of {}, {enough} would leave the controller the headroom wanted over the most current \
             that {drawn_by} held, all of the interval included.",
            counted(options.len(), "option")
        ),
        alt: "Headroom of the controller under each option, in percent of the most current held, \
              with its interval and the headroom wanted as a line."
            .to_owned(),
        data: FigureData::Ladder(Ladder {
            x: axis("headroom of the controller", "%"),
            rungs,
            band: None,
            margin: None,
            limit: Some(Mark {
                label: format!("wanted {:.0} %", 100.0 * wanted),
                at: 100.0 * wanted,
                across: Across::X,
            }),
            verdict: None,
        }),
    })
}

/// Further flights that would settle an answer, by the chance asked for; `None` where no plan was made.
pub fn flights_needed(answer: &Answer) -> Option<Figure> {
    let (key, side) = [
        ("flights_needed_a_fan", "fan"),
        ("flights_needed_an_airframe", "airframe"),
    ]
    .into_iter()
    .find(|(key, _)| answer.estimates.contains_key(*key))?;
    let surer = format!("{key}_nine_in_ten");
    let steps = [
        (key, "settled in 8 of 10 seasons"),
        (surer.as_str(), "settled in 9 of 10 seasons"),
    ];
    let rungs: Vec<Rung> = steps
        .iter()
        .filter_map(|(key, label)| {
            let e = answer.estimates.get(*key)?;
            let has_interval = e.low.is_some() || e.high.is_some();
            Some(Rung {
                label: (*label).to_owned(),
                note: if has_interval {
                    "interval: that of the flights' scatter"
                } else {
                    "at the scatter as it is"
                }
                .to_owned(),
                value: e.value,
                low: e.low,
                high: e.high,
                group: RungGroup::Observed,
            })
        })
        .collect();
    let needed = answer.estimates.get(key)?.value?;
    Some(Figure {
        id: format!("flights-needed-{}", answer.id),
        caption: format!(
            "{} with each {side} would settle it in 8 of 10 seasons, by the rule that judges it.",
            counted(needed.max(0.0) as usize, "further flight")
        ),
        alt: format!(
            "Further flights with each {side} against the chance that they settle the question."
        ),
        data: FigureData::Ladder(Ladder {
            x: axis(&format!("further flights with each {side}"), ""),
            rungs,
            band: None,
            margin: None,
            limit: None,
            verdict: None,
        }),
    })
}

/// What keeps the open questions open: the interval of each against the line that decides it, that
/// line at zero. `None` where nothing is open or no interval tells.
pub fn open_questions(evidence: &Evidence, answers: &[Answer]) -> Option<Figure> {
    let open: Vec<&Answer> = answers
        .iter()
        .filter(|a| a.verdict == Verdict::NotSettled)
        .collect();
    let rungs: Vec<Rung> = open.iter().filter_map(|a| decisive(evidence, a)).collect();
    if rungs.is_empty() {
        return None;
    }
    let across = rungs
        .iter()
        .filter(|r| r.low.is_none_or(|l| l <= 0.0) && r.high.is_none_or(|h| h >= 0.0))
        .count();
    Some(Figure {
        id: "open-questions".to_owned(),
        caption: format!(
            "{} open; {} shown, each against the line that decides it, drawn at zero. {}",
            match open.len() {
                1 => "1 question is".to_owned(),
                n => format!("{n} questions are"),
            },
            rungs.len(),
            match across {
                0 => "None of the intervals crosses it: what keeps them open is something else."
                    .to_owned(),
                1 if rungs.len() == 1 => "Its interval crosses it.".to_owned(),
                1 => "1 of the intervals crosses it; what keeps the rest open is something else."
                    .to_owned(),
                n if n == rungs.len() => "Their intervals cross it.".to_owned(),
                n => format!(
                    "{n} of the intervals cross it; what keeps the rest open is something else."
                ),
            }
        ),
        alt: "Intervals of the quantities that the open questions turn on, less the limit that \
              decides each, in percent."
            .to_owned(),
        data: FigureData::Ladder(Ladder {
            x: axis("distance from what decides", "%"),
            rungs,
            band: None,
            margin: None,
            limit: None,
            verdict: None,
        }),
    })
}

/// The quantity that an open answer turns on, less its limit.
fn decisive(evidence: &Evidence, answer: &Answer) -> Option<Rung> {
    let get = |key: &str| answer.estimates.get(key);
    let id = answer.candidate.as_deref().unwrap_or_default();
    let power = evidence.power_name(id);
    let put = |label: String, note: &str, estimate: &Estimate, less: f64| {
        rung(&label, note, estimate, less, RungGroup::Observed)
    };
    match answer.question {
        QuestionKind::Controller => {
            let room = get("headroom_in_flight").or_else(|| get("headroom_on_bench"))?;
            let wanted = get("headroom_wanted")?.value?;
            let note = format!("less the {:.0} % wanted", 100.0 * wanted);
            Some(put(format!("headroom of {power}"), &note, room, wanted))
        }
        QuestionKind::Pack => {
            let packs = &evidence.season.packs;
            let name = packs.get(id).map_or(id, |p| p.name.as_str());
            Some(put(
                format!("ageing of {name}"),
                "change of its resistance a flight",
                get("resistance_change_per_flight")?,
                0.0,
            ))
        }
        QuestionKind::CarryOver => Some(put(
            format!("gain of {power}"),
            "in level top speed, same pack",
            get("observed_speed_gain_same_pack")?,
            0.0,
        )),
        QuestionKind::Sisters => {
            let first = answer.baseline.as_deref().unwrap_or_default();
            Some(put(
                format!(
                    "{} against {}",
                    evidence.airframe_name(id),
                    evidence.airframe_name(first)
                ),
                "difference in level top speed",
                get("level_speed_change_between_airframes_at_equal_mass")
                    .or_else(|| get("level_speed_change_between_airframes"))?,
                0.0,
            ))
        }
        QuestionKind::Airframe => {
            let key = answer.headline.iter().find(|k| {
                get(k).is_some_and(|e| e.unit == "1" && (e.low.is_some() || e.high.is_some()))
            })?;
            // A ratio is one where nothing changes.
            let less = if key.contains("ratio") { 1.0 } else { 0.0 };
            Some(put(
                format!("loads with {power}"),
                &key.replace('_', " "),
                get(key)?,
                less,
            ))
        }
        _ => None,
    }
}
