//! What each flight shows on its own: its logs merged and looked through, its power side, and the level
//! speed that it finds without the others' help. Kept from one run to the next.

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::folder::PlannedFlight;
use super::kept::{Kept, Key, Parts};
use super::logs::FlightLogs;
use super::reading::Reread;
use super::shelf::{Shelf, Shelved};
use super::{Progress, Stage};
use crate::flight::record::{self, LevelSpeed, PowerSide, Survey};
use crate::flight::run_up::TimeConstant;
use crate::ingest::Log;
use crate::season::{Accuracy, Season};

/// A flight with its logs on the shelf.
pub type Surveyed = (PlannedFlight, Survey);

/// The flights of a season, each looked at for itself.
#[derive(Default)]
pub struct Surveys {
    pub flights: Vec<Surveyed>,
    pub shelves: Vec<Shelved>,
    /// Of the flights' files and of what was declared about them; `None` where there is no log, or one
    /// that changed while it was read.
    pub keys: Vec<Option<Key>>,
}

/// Merges and looks through every flight's logs.
pub fn survey(
    season: &Season,
    reads: Vec<FlightLogs>,
    (shelf, kept): (&Shelf, &Kept),
    progress: &Progress,
) -> Surveys {
    let done: Vec<(Surveyed, Shelved, Option<Key>)> = reads
        .into_par_iter()
        .map(|read| {
            let out = survey_one(season, read, shelf, kept);
            progress.done(Stage::Flights, 0);
            out
        })
        .collect();
    let mut out = Surveys::default();
    for (flight, shelved, key) in done {
        out.flights.push(flight);
        out.shelves.push(shelved);
        out.keys.push(key);
    }
    out
}

fn survey_one(
    season: &Season,
    FlightLogs { planned, logs }: FlightLogs,
    shelf: &Shelf,
    kept: &Kept,
) -> (Surveyed, Shelved, Option<Key>) {
    let airframe = planned.row.airframe.as_ref();
    let about = About {
        stall_speed_m_s: airframe
            .and_then(|a| season.airframes.get(a))
            .and_then(|a| a.stall_speed_m_s),
        current: log_accuracy(season, &planned, "current").cloned(),
        voltage: log_accuracy(season, &planned, "voltage").cloned(),
    };
    let of_logs: Option<Vec<Key>> = logs.iter().map(|log| log.key).collect();
    let key = of_logs.filter(|keys| !keys.is_empty()).map(|keys| {
        let parts = Parts::of("survey").shown(&about);
        keys.into_iter().fold(parts, Parts::key).done()
    });
    let unread: Option<Vec<Reread>> = logs.iter().map(|log| log.unread().cloned()).collect();
    if let (Some(key), Some(files)) = (key, unread)
        && let Some(survey) = kept.get::<Survey>("survey", key)
    {
        let shelved = Shelved::unread(Box::new(move || {
            let logs: Result<Vec<_>, String> = files.iter().map(Reread::read).collect();
            Ok(about.survey(logs?))
        }));
        return ((planned, survey), shelved, Some(key));
    }
    let logs = logs.into_iter().map(|log| log.fetch(shelf)).collect();
    let mut survey = about.survey(logs);
    let shelved = match &mut survey.log {
        Some(log) => shelf.put(log, survey.velocity.as_mut()),
        None => Shelved::default(),
    };
    if let Some(key) = key.filter(|_| shelf.is_sound()) {
        kept.put("survey", key, &survey);
    }
    ((planned, survey), shelved, key)
}

/// What is declared about a flight's logs.
#[derive(Debug)]
struct About {
    stall_speed_m_s: Option<f64>,
    current: Option<Accuracy>,
    voltage: Option<Accuracy>,
}

impl About {
    fn survey(&self, logs: Vec<Log>) -> Survey {
        let (current, voltage) = (self.current.as_ref(), self.voltage.as_ref());
        record::survey(logs, self.stall_speed_m_s, current, voltage)
    }
}

/// The declared accuracy of the sensor behind a channel of a flight's log.
pub fn log_accuracy<'a>(
    season: &'a Season,
    planned: &PlannedFlight,
    channel: &str,
) -> Option<&'a Accuracy> {
    planned
        .files
        .iter()
        .filter_map(|f| season.logs.get(f.source?))
        .flat_map(|source| &source.instruments)
        .find_map(|id| season.instruments.get(id)?.measures.get(channel))
}

/// The power side of a flight, and the level speed that it finds by itself.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Side {
    /// Without the straights, of which each holds its samples: they are found anew where they are needed.
    pub power: PowerSide,
    /// Without the passes' samples.
    pub free: Option<LevelSpeed>,
}

/// The power side of every flight, after its current was put right by `scales`; with the keys of both.
pub fn sides(
    season: &Season,
    surveys: &mut Surveys,
    scales: &[Option<f64>],
    (shelf, kept): (&Shelf, &Kept),
) -> (Vec<Side>, Vec<Option<Key>>) {
    let flights = surveys.flights.par_iter_mut();
    flights
        .zip(&mut surveys.shelves)
        .zip(&surveys.keys)
        .zip(scales)
        .map(|((((_, survey), shelved), key), scale)| {
            let parts = |key| Parts::of("side").key(key).shown(&season.rules);
            let key = key.map(|key| parts(key).shown(scale).done());
            let make = || {
                shelf.lit(shelved, survey, |survey| {
                    let mut power = record::power_side(survey, &season.rules);
                    let free = (!power.straights.used.is_empty())
                        .then(|| record::level_speed(&power, TimeConstant::Free, None).ok())
                        .flatten()
                        .map(LevelSpeed::without_samples);
                    power.straights = Default::default();
                    Side { power, free }
                })
            };
            (kept.or_make("side", key, || shelf.is_sound(), make), key)
        })
        .unzip()
}
