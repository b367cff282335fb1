//! One flight with what the others of its power system and its day know: its level speed, its speed
//! through the air and what hangs on it, and its rows. Kept from one run to the next.

use std::borrow::Cow;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::airspeed::airspeed;
use super::alone::Side;
use super::benches::Benches;
use super::contradictions::contradiction;
use super::density;
use super::filling::of_flight;
use super::flights::named;
use super::folder::PlannedFlight;
use super::kept::{Key, Parts};
use super::motion::{Part, part};
use super::shared::Shared;
use crate::flight::bench_draw::BenchDraw;
use crate::flight::duration::{ToReserve, to_reserve};
use crate::flight::holds::Hold;
use crate::flight::phases::Phase;
use crate::flight::record::{self, LevelSpeed, PassState, PowerSide, Survey};
use crate::flight::run_up::{TimeConstant, WindPrior};
use crate::flight::stopwatch::{self, TimedLevelSpeed};
use crate::ingest::{Channel, Log};
use crate::physics::atmosphere::standard;
use crate::season::{Finding, PassRow, Season};
use crate::stats;
use crate::store::from_flight::Flown;
use crate::store::{FlightRows, SeasonTables};

/// What is known beside a flight's own logs.
pub struct Known<'a> {
    pub season: &'a Season,
    pub benches: &'a Benches,
    pub shared: &'a Shared,
}

impl Known<'_> {
    /// Of the bench curves, by power system.
    pub fn curve_keys(&self) -> BTreeMap<String, Key> {
        let key = |curve| Parts::of("curve").shown(curve).done();
        let curves = self.benches.curves.iter();
        curves.map(|(power, c)| (power.clone(), key(c))).collect()
    }
}

/// A flight looked at for itself.
pub struct Flight<'a> {
    /// Among the season's flights.
    pub number: usize,
    /// From 1.
    pub order_in_day: usize,
    pub planned: &'a PlannedFlight,
    pub survey: Survey,
    pub side: Side,
}

/// What it shows with the others' help.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Together {
    /// Without the passes' samples.
    level: Option<LevelSpeed>,
    /// What is said of the level speed, and of all else.
    #[serde(with = "crate::season::finding::whole")]
    pub level_told: Vec<Finding>,
    #[serde(with = "crate::season::finding::whole")]
    pub told: Vec<Finding>,
    density_kg_m3: f64,
    timed: Option<TimedLevelSpeed>,
    passes: Option<PassState>,
    holds: Vec<Hold>,
    bench_draw: Option<BenchDraw>,
    to_reserve: Option<ToReserve>,
    pub part: Part,
    /// What its power system's unloading tells is not in them yet.
    pub rows: SeasonTables,
}

impl Flight<'_> {
    /// Of all that [`Flight::look`] depends on; `alone`: of the flight for itself.
    pub fn key(&self, known: &Known, curves: &BTreeMap<String, Key>, alone: Key) -> Key {
        let season = known.season;
        let row = &self.planned.row;
        let power = row.power.as_ref();
        let parts = Parts::of("flight")
            .key(alone)
            .shown(self.planned)
            .shown(&self.order_in_day)
            .shown(&self.survey.draw)
            .shown(&self.time_constant(known))
            .shown(&self.wind(known))
            .shown(&self.timed_rows(season))
            .shown(&(&season.site, &season.rules))
            .shown(&row.airframe.as_ref().and_then(|a| season.airframes.get(a)))
            .shown(&power.and_then(|p| season.power(p)))
            .shown(&power.and_then(|p| season.controller_of(p)))
            .shown(&season.pack_of(row));
        match power.and_then(|p| curves.get(p)) {
            Some(curve) => parts.key(*curve).done(),
            None => parts.done(),
        }
    }

    /// The pool's time constant, and whether flights can be held against it.
    fn time_constant(&self, known: &Known) -> Option<(TimeConstant, bool)> {
        let pool = known.shared.pooled.get(self.planned.row.power.as_ref()?)?;
        Some((pool.for_fit(), pool.flights > 2))
    }

    /// The wind of the day's other flights, and whether this one can be held against it: one other
    /// flight cannot say which of the two is wrong.
    fn wind(&self, known: &Known) -> Option<(WindPrior, bool)> {
        let (wind, others) = known.shared.winds[self.number]?;
        Some((wind, others > 1))
    }

    fn timed_rows<'a>(&self, season: &'a Season) -> Vec<&'a PassRow> {
        let own = |p: &&PassRow| p.flight == self.planned.row.flight;
        season.passes.iter().filter(own).collect()
    }

    /// The level speed with the time constant of its power system, told the wind of its day.
    fn level(
        &self,
        known: &Known,
        power: &PowerSide,
        complaints: &mut Vec<Finding>,
    ) -> Option<LevelSpeed> {
        if power.straights.used.is_empty() {
            return None;
        }
        let (constant, wind) = (self.time_constant(known), self.wind(known));
        let for_fit = constant.map_or(TimeConstant::Free, |c| c.0);
        let fitted = record::level_speed(power, for_fit, wind.map(|w| w.0));
        let own = self.side.free.as_ref().map(|f| &f.fit);
        let sound = fitted.and_then(|level| match contradiction(&level, own, wind, constant) {
            Some(finding) => Err(finding),
            None => Ok(level),
        });
        match sound {
            Ok(mut level) => {
                let told = level.fit.findings.drain(..);
                complaints.extend(told.map(|f| named(f, self.planned)));
                Some(level)
            }
            Err(finding) => {
                complaints.push(named(finding, self.planned));
                None
            }
        }
    }

    /// Looks at the flight, whose log is there.
    pub fn look(&mut self, known: &Known) -> (Together, FlightRows) {
        let season = known.season;
        let planned = self.planned;
        let mut power = self.side.power.clone();
        power.straights = record::full_throttle_straights(&self.survey, &season.rules);
        let mut level_told = Vec::new();
        let mut level = self.level(known, &power, &mut level_told);
        let mut complaints: Vec<Finding> = self
            .survey
            .findings
            .iter()
            .chain(&power.findings)
            .cloned()
            .map(|f| named(f, planned))
            .collect();
        let survey = &mut self.survey;
        airspeed(planned, survey, &power, level.as_mut(), &mut complaints);
        let disagreement = level.as_mut().and_then(|l| l.charge_method_error());
        complaints.extend(disagreement.map(|f| named(f, planned)));
        let row = planned.row.clone();
        let density_kg_m3 = density(season, &row) * thinner(season, survey);
        let wind = level
            .as_ref()
            .map(|l| (l.fit.wind.north_m_s, l.fit.wind.east_m_s));
        let log = record::in_air(survey, wind);
        let held =
            |log: &Cow<Log>| record::holds_and_loads(survey, log, &power, wind, density_kg_m3);
        let (holds, loads) = log.as_ref().map(held).unzip();
        let holds = holds.unwrap_or_default();
        complaints.extend(
            loads
                .iter()
                .flat_map(|l| &l.findings)
                .cloned()
                .map(|f| named(f, planned)),
        );
        let curve = row.power.as_ref().and_then(|p| known.benches.curves.get(p));
        let bench_draw = curve.and_then(|c| c.current.as_ref()).and_then(|curve| {
            let full = season.rules.full_throttle.value;
            let phases = survey.phases.as_ref();
            Some(BenchDraw::of(
                log.as_ref()?,
                phases,
                density_kg_m3,
                curve,
                full,
            ))
        });
        let pack = season.pack_of(&row);
        let resistance = power
            .pack
            .as_ref()
            .map(|p| p.resistance_ohm)
            .or_else(|| pack.map(|p| p.resistance_ohm.value));
        let passes = record::pass_state(survey, &power, resistance);
        let to_reserve = match (&survey.log, &survey.phases, pack) {
            (Some(log), Some(phases), Some(pack)) if survey.has_sound_current() => {
                let reserve = season.rules.reserve.value;
                to_reserve(log, phases, pack.capacity_c, reserve, 1.0)
            }
            _ => None,
        };
        let timed = self.timed(known, &mut complaints);
        // All of the flight for its rows; what they do not need any more is let go of again.
        let flown = Flown {
            day: row.date.map(|d| d.to_string()),
            order_in_day: self.order_in_day,
            density_kg_m3,
            capacity_c: pack.map(|p| p.capacity_c),
            row,
            survey: std::mem::take(&mut self.survey),
            power,
            level,
            timed,
            passes,
            holds,
            loads,
            bench_draw,
            estimated: None,
            to_reserve,
        };
        let (rows, own) = of_flight(season, known.benches, &flown);
        let found = Together {
            part: part(season, &flown),
            rows,
            level: flown.level.map(LevelSpeed::without_samples),
            level_told,
            told: complaints,
            density_kg_m3,
            timed: flown.timed,
            passes: flown.passes,
            holds: flown.holds,
            bench_draw: flown.bench_draw,
            to_reserve: flown.to_reserve,
        };
        self.survey = flown.survey;
        (found, own)
    }

    /// The level speed by passes timed from the ground.
    fn timed(&self, known: &Known, complaints: &mut Vec<Finding>) -> Option<TimedLevelSpeed> {
        let rows = self.timed_rows(known.season);
        if rows.is_empty() {
            return None;
        }
        let power = self.planned.row.power.as_ref();
        let constant = power.and_then(|p| known.shared.pooled.get(p));
        match stopwatch::level_speed(&rows, constant) {
            Ok(mut timed) => {
                complaints.append(&mut timed.findings);
                Some(timed)
            }
            Err(finding) => {
                complaints.push(finding);
                None
            }
        }
    }

    /// The flight as the season's questions see it, without its samples.
    pub fn flown(self, known: &Known, found: &mut Together) -> Flown {
        let row = self.planned.row.clone();
        Flown {
            day: row.date.map(|d| d.to_string()),
            order_in_day: self.order_in_day,
            density_kg_m3: found.density_kg_m3,
            capacity_c: known.season.pack_of(&row).map(|p| p.capacity_c),
            row,
            survey: self.survey,
            power: self.side.power,
            level: found.level.take(),
            timed: found.timed.take(),
            passes: found.passes,
            holds: std::mem::take(&mut found.holds),
            loads: None,
            bench_draw: found.bench_draw.take(),
            estimated: None,
            to_reserve: found.to_reserve,
        }
    }
}

/// Air density where the flight was, over that at the strip: the standard atmosphere between the
/// two. 1 without a logged height.
fn thinner(season: &Season, survey: &Survey) -> f64 {
    let above = || -> Option<f64> {
        let log = survey.log.as_ref()?;
        let spans = &survey.phases.as_ref()?.spans;
        let heights = log.get(Channel::Height)?;
        let strip = heights.iter().copied().find(|h| h.is_finite())?;
        let flying: Vec<f64> = log
            .time
            .iter()
            .zip(heights)
            .filter(|(t, h)| {
                h.is_finite()
                    && spans
                        .iter()
                        .any(|s| s.phase != Phase::Ground && s.start_s <= **t && **t <= s.end_s)
            })
            .map(|(_, h)| *h)
            .collect();
        (!flying.is_empty()).then(|| stats::median(&flying) - strip)
    };
    let strip = season.site.elevation_m.unwrap_or(0.0);
    let at = |height: f64| standard(strip + height).density_kg_m3;
    above().map_or(1.0, |h| at(h) / at(0.0))
}
