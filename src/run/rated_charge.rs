//! Charges held against the packs' rated ones: a pack whose flights use more than it can hold was
//! declared wrongly, and more than that cannot be put back into a sound one.

use std::collections::BTreeMap;

use super::logs::FlightLogs;
use crate::flight::sensor::current_sensor;
use crate::flight::track::tracks;
use crate::ingest::{Channel, Log};
use crate::season::{Finding, Season};
use crate::stats;
use crate::units::MAH;

/// A pack holds up to so many times its rated charge (a wide allowance for makers that rate low and
/// sensors that read high; ours, no source).
const MOST: f64 = 1.3;

/// Leaves out the packs that their flights contradict, and the put-backs that no pack can take.
///
/// A flight's logged charge tells of the pack; put-backs tell of it where nothing is logged.
pub fn hold(season: &mut Season, flights: &mut [FlightLogs]) -> Vec<Finding> {
    let mut of_pack: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (i, flight) in flights.iter().enumerate() {
        if let Some(id) = pack_id(season, flight) {
            of_pack.entry(id).or_default().push(i);
        }
    }
    let mut findings = Vec::new();
    for (id, of_pack) in of_pack {
        let Some(rated) = season.packs.get(&id).map(|p| p.capacity_c) else {
            continue;
        };
        let logged: Vec<f64> = of_pack
            .iter()
            .filter_map(|i| flights[*i].logs.iter().find_map(|log| log.charge_c))
            .collect();
        let put_back: Vec<f64> = of_pack
            .iter()
            .filter_map(|i| flights[*i].planned.row.put_back_c)
            .collect();
        // One put-back alone is more likely a slip of the pen than the pack is.
        let (used, from) = match (logged.is_empty(), put_back.len() > 1) {
            (false, _) => (logged, "by their logs"),
            (true, true) => (put_back, "by what was put back"),
            (true, false) => (Vec::new(), ""),
        };
        if !used.is_empty() && stats::median(&used) > MOST * rated {
            findings.push(contradicted(&id, rated, &used, from));
            leave_out(season, flights, &id);
            continue;
        }
        for i in of_pack {
            let row = &mut flights[i].planned.row;
            if let Some(back) = row.put_back_c.take_if(|c| *c > MOST * rated) {
                findings.push(too_much(&id, rated, back, &row.flight).at(
                    "logbook.csv",
                    row.line,
                    row.put_back_column,
                ));
                let own = season.logbook.iter_mut().find(|r| r.flight == row.flight);
                own.into_iter().for_each(|r| r.put_back_c = None);
            }
        }
    }
    findings
}

fn pack_id(season: &Season, flight: &FlightLogs) -> Option<String> {
    let row = &flight.planned.row;
    let usual = || season.power(row.power.as_ref()?)?.pack.clone();
    row.pack.clone().or_else(usual)
}

/// What a log counts as drawn, C; `None` without a current that moves, or one that cannot be believed.
pub(super) fn charge_c(log: &Log) -> Option<f64> {
    let (sensor, _) = current_sensor(log, None);
    let counted: f64 = tracks(log, Channel::Current)
        .iter()
        .map(|t| t.integral(t.start(), t.end()).0)
        .sum();
    (sensor.usable() && counted > 0.0).then_some(counted)
}

fn contradicted(id: &str, rated: f64, used: &[f64], from: &str) -> Finding {
    let most = used.iter().copied().fold(0.0, f64::max);
    Finding::error(
        "capacity-contradicts",
        format!(
            "pack.{id}.capacity is {:.0} mAh, and {from} its flights used {:.0} mAh ({:.1} times the \
             rated charge; {:.0} mAh at most): the pack is left out, and no timer and no C rate is \
             told from it",
            rated / MAH,
            stats::median(used) / MAH,
            stats::median(used) / rated,
            most / MAH
        ),
        "Correct the capacity, the pack named in the logbook, or the unit of the current (or put-back) \
         column.",
    )
    .expected(format!("a rated charge above {:.0} mAh", most / MOST / MAH))
    .in_file("season.toml")
}

/// A pack that is not what was declared is treated as one that could not be read.
fn leave_out(season: &mut Season, flights: &mut [FlightLogs], id: &str) {
    season.packs.remove(id);
    let is = |pack: &mut String| pack == id;
    season.powers.values_mut().for_each(|p| {
        p.pack.take_if(is);
    });
    season.options.iter_mut().for_each(|o| {
        o.pack.take_if(is);
    });
    season.logbook.iter_mut().for_each(|r| {
        r.pack.take_if(is);
    });
    flights.iter_mut().for_each(|f| {
        f.planned.row.pack.take_if(is);
    });
}

fn too_much(id: &str, rated: f64, back: f64, flight: &str) -> Finding {
    Finding::error(
        "put-back-above-rated",
        format!(
            "flight '{flight}': {:.0} mAh put back into pack '{id}' of {:.0} mAh cannot be; the cell \
             is left out",
            back / MAH,
            rated / MAH
        ),
        "Correct the number, its unit or the flight's pack; a cell left blank is no loss.",
    )
    .expected(format!("at most {:.0} mAh", MOST * rated / MAH))
}
