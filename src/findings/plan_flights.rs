//! Which airframe and which pack each planned flight takes.

use crate::findings::answer::PlannedFlight;
use crate::findings::plan::Ask;
use crate::stats::planning::Plan;

/// The airframes to plan with, first the one flown most: the two asked about; else the two flown
/// most; else, before any flight, the two first declared. One alone where only one flies.
pub fn airframes<'a>(ask: &Ask<'a, '_>) -> Vec<&'a str> {
    if let Some(sisters) = ask.sisters {
        return sisters.to_vec();
    }
    let season = ask.evidence.season;
    let mut flown: Vec<(&str, usize)> = Vec::new();
    for speed in &ask.observed.speeds {
        match flown.iter_mut().find(|(id, _)| *id == speed.airframe) {
            Some((_, n)) => *n += 1,
            None => flown.push((speed.airframe, 1)),
        }
    }
    if flown.is_empty() {
        return season
            .airframes
            .keys()
            .map(String::as_str)
            .take(2)
            .collect();
    }
    flown.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    flown.into_iter().map(|(id, _)| id).take(2).collect()
}

/// The plan's flights with names. Packs go round: the baseline's flights take them in turn, the
/// candidate's in turn from the second on, so that each fan gets each pack as often and one pack
/// charges while the other flies.
pub fn named(ask: &Ask, plan: &Plan, airframes: &[&str]) -> Vec<PlannedFlight> {
    let packs = packs(ask);
    let mut flown_with = [0, usize::from(packs.len() > 1)];
    let first_day = plan.flights.first().map_or(0, |f| f.day);
    plan.flights
        .iter()
        .map(|flight| {
            let fan = usize::from(flight.candidate);
            let pack = (!packs.is_empty()).then(|| packs[flown_with[fan] % packs.len()].to_owned());
            flown_with[fan] += 1;
            PlannedFlight {
                day: (flight.day - first_day + 1) as u64,
                power: ask.powers[fan].to_owned(),
                airframe: airframes
                    .get(flight.airframe)
                    .filter(|id| ask.evidence.season.airframes.contains_key(**id))
                    .map(|id| (*id).to_owned()),
                pack,
            }
        })
        .collect()
}

/// Packs that flew with both systems; else the one that both declare.
fn packs<'a>(ask: &Ask<'a, '_>) -> Vec<&'a str> {
    let season = ask.evidence.season;
    let flew = |power: &str, pack: &str| {
        ask.evidence
            .flights_of(power)
            .iter()
            .any(|f| f.pack.as_deref() == Some(pack))
    };
    let shared: Vec<&str> = season
        .packs
        .keys()
        .map(String::as_str)
        .filter(|id| ask.powers.iter().all(|p| flew(p, id)))
        .collect();
    if !shared.is_empty() {
        return shared;
    }
    let declared = |power: &str| season.powers.get(power).and_then(|p| p.pack.as_deref());
    match ask.powers.map(declared) {
        [Some(one), Some(other)] if one == other => vec![one],
        _ => Vec::new(),
    }
}
