//! Excess power, drag, thrust and energy per distance of every flight: what needs the wind, and what
//! flights of one airframe and power system know together.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::benches::Benches;
use crate::flight::air_path::AirPath;
use crate::flight::distance_energy::distance_energy;
use crate::flight::excess_power::{Excess, excess};
use crate::flight::glide::{Airframe, Window, glides, idle_drag};
use crate::flight::record::NINETY_S;
use crate::flight::spool_up::{SpoolUp, pool};
use crate::flight::thrust_in_flight::thrust_in_flight;
use crate::physics::momentum::static_jet_speed;
use crate::season::{Finding, Season};
use crate::store::from_flight::Flown;
use crate::store::from_motion::{
    Static, distance_energy_rows, excess_rows, idle_drag_row, spool_up_row, thrust_rows,
};
use crate::store::{
    DistanceEnergyRow, ExcessPowerRow, IdleDragRow, SeasonTables, SpoolUpRow, ThrustRow,
};

/// Throttle below which no excess power is looked at: there a motor's share in it is small.
const LEAST_THROTTLE: f64 = 0.30;

/// Rows of the season's tables.
#[derive(Debug, Clone, Default)]
pub struct MotionRows {
    excess: Vec<ExcessPowerRow>,
    drag: Vec<IdleDragRow>,
    thrust: Vec<ThrustRow>,
    energy: Vec<DistanceEnergyRow>,
    spool_up: Vec<SpoolUpRow>,
}

impl MotionRows {
    pub fn fill(&self, tables: &mut SeasonTables) {
        tables.excess_power.extend(self.excess.iter().cloned());
        tables.idle_drag.extend(self.drag.iter().cloned());
        tables.thrust_in_flight.extend(self.thrust.iter().cloned());
        tables
            .energy_per_distance
            .extend(self.energy.iter().cloned());
        tables.spool_up.extend(self.spool_up.iter().cloned());
    }
}

/// What one flight gives.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Part {
    excess: Vec<Excess>,
    glides: Vec<Window>,
}

/// The rows of all flights.
pub fn motion(
    season: &Season,
    benches: &Benches,
    flights: &[Flown],
    parts: &[Part],
    complaints: &mut Vec<Finding>,
) -> MotionRows {
    let mut out = MotionRows::default();
    for (flight, part) in flights.iter().zip(parts) {
        out.excess.extend(excess_rows(flight, &part.excess));
    }
    let mut groups: BTreeMap<(String, String), Vec<usize>> = BTreeMap::new();
    for (i, flight) in flights.iter().enumerate() {
        if let (Some(power), Some(airframe)) = (&flight.row.power, &flight.row.airframe) {
            groups
                .entry((power.clone(), airframe.clone()))
                .or_default()
                .push(i);
        }
    }
    for ((power, airframe), own) in &groups {
        let Some(frame) = airframe_of(season, airframe) else {
            continue;
        };
        let windows: Vec<Vec<Window>> = own.iter().map(|i| parts[*i].glides.clone()).collect();
        let drag = match idle_drag(&windows, frame) {
            Ok(drag) => drag,
            Err(finding) => {
                // Without any flight there is nothing to complain about.
                if own.iter().any(|i| flights[*i].level.is_some()) {
                    let what = format!("{power} on {airframe}: {}", finding.what);
                    complaints.push(Finding { what, ..finding });
                }
                continue;
            }
        };
        out.drag
            .push(idle_drag_row(power, airframe, frame.mass_kg, &drag));
        for i in own {
            let flight = &flights[*i];
            let level = flight.level.as_ref().map(|l| &l.fit);
            let found = thrust_in_flight(
                &parts[*i].excess,
                season.rules.full_throttle.value,
                &drag,
                (frame.mass_kg, flight.density_kg_m3),
                level.map(|f| (f.level_speed_m_s, f.level_speed_se_m_s, f.voltage_v)),
            );
            let rho = flight.density_kg_m3;
            out.thrust.extend(thrust_rows(flight, &found, |volts| {
                standing_still(season, benches, power, volts, rho)
            }));
        }
    }
    for power in season.powers.keys() {
        energy(power, flights, parts, &mut out);
        let own: Vec<&SpoolUp> = flights
            .iter()
            .filter(|f| f.row.power.as_ref() == Some(power))
            .filter_map(|f| f.power.spool_up.as_ref())
            .collect();
        out.spool_up
            .extend(pool(&own).map(|p| spool_up_row(power, &p)));
    }
    out
}

/// Energy per distance of a power system over its flights with a current that can be believed.
fn energy(power: &str, flights: &[Flown], parts: &[Part], out: &mut MotionRows) {
    let own: Vec<(&str, &[Excess])> = flights
        .iter()
        .zip(parts)
        .filter(|(f, _)| f.row.power.as_deref() == Some(power) && f.survey.has_current())
        .map(|(f, part)| {
            let airframe = f.row.airframe.as_deref().unwrap_or("unknown");
            (airframe, part.excess.as_slice())
        })
        .filter(|(_, windows)| !windows.is_empty())
        .collect();
    let mut airframes: Vec<&str> = own.iter().map(|o| o.0).collect();
    airframes.sort_unstable();
    airframes.dedup();
    let numbered: Vec<(usize, &[Excess])> = own
        .iter()
        .map(|(airframe, windows)| (airframes.partition_point(|a| a < airframe), *windows))
        .collect();
    out.energy.extend(distance_energy_rows(
        power,
        &airframes.join(" "),
        &distance_energy(&numbered),
    ));
}

/// What the bench says of a power system at full throttle, at a voltage and a density.
fn standing_still(
    season: &Season,
    benches: &Benches,
    power: &str,
    volts: f64,
    rho: f64,
) -> Option<Static> {
    let bench = benches.curves.get(power)?.thrust.as_ref()?;
    let (thrust_n, u_n) = bench.thrust(1.0, volts, rho)?;
    let outlet = season.powers.get(power)?.outlet_area_m2.as_ref();
    Some(Static {
        thrust_n,
        u_n,
        jet_speed_m_s: outlet.map(|a| static_jet_speed(thrust_n, rho, a.value)),
    })
}

/// Jet speed standing still at the voltage of a flight's passes, and its standard uncertainty.
pub fn jet_speed(season: &Season, benches: &Benches, flight: &Flown) -> Option<(f64, f64)> {
    let power = flight.row.power.as_deref()?;
    let volts = flight.passes?.voltage_v;
    let still = standing_still(season, benches, power, volts, flight.density_kg_m3)?;
    let jet = still.jet_speed_m_s?;
    // Jet speed goes with the root of the thrust.
    Some((jet, 0.5 * jet * still.u_n / still.thrust_n))
}

fn airframe_of(season: &Season, id: &str) -> Option<Airframe> {
    let declared = season.airframes.get(id)?;
    Some(Airframe {
        mass_kg: declared.mass_kg?,
        span_m: declared.span_m,
        stall_speed_m_s: declared.stall_speed_m_s,
    })
}

/// The windows of one flight, whose log is there.
pub fn part(season: &Season, flight: &Flown) -> Part {
    let (Some(log), Some(velocity), Some(level)) = (
        &flight.survey.log,
        &flight.survey.velocity,
        flight.level.as_ref(),
    ) else {
        return Part::default();
    };
    let wind = (level.fit.wind.north_m_s, level.fit.wind.east_m_s);
    let path = AirPath::of(log, velocity, wind, flight.survey.velocity_lag_s());
    let phases = flight.survey.phases.as_ref();
    let ninety = flight
        .power
        .spool_up
        .as_ref()
        .map_or(NINETY_S, |s| s.ninety_s);
    let frame = flight
        .row
        .airframe
        .as_ref()
        .and_then(|id| airframe_of(season, id));
    Part {
        excess: excess(&path, phases, ninety, LEAST_THROTTLE),
        glides: frame.map_or_else(Vec::new, |frame| {
            glides(&path, phases, frame, flight.density_kg_m3)
        }),
    }
}
