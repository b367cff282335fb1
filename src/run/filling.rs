//! Flights as rows of the season's tables.

use super::benches::Benches;
use super::flights::Flights;
use super::motion::jet_speed;
use super::shelf::Shelf;
use crate::flight::current_duration::bench_current_duration;
use crate::flight::rpm_alignment::{readings, rpm_alignment};
use crate::ingest::Channel;
use crate::season::Season;
use crate::store::from_flight;
use crate::store::from_flight::Flown;
use crate::store::from_motion::pitot_row;
use crate::store::{CurrentDurationRow, FlightRows, SeasonTables};

impl Flights {
    pub fn fill(&mut self, benches: &Benches, shelf: &Shelf, tables: &mut SeasonTables) {
        for (flight, mut own) in self.flights.iter().zip(std::mem::take(&mut self.rows)) {
            // Made before anything was known of the power system's unloading.
            for row in &mut own.flights {
                flight.draw(row);
            }
            append(own, tables);
        }
        for (power, unloading) in &self.unloading {
            tables
                .unloading
                .extend(from_flight::unloading_rows(power, unloading));
            tables
                .unloading_by_speed
                .extend(from_flight::unloading_speed_row(power, unloading));
            tables
                .unloading_map
                .extend(from_flight::unloading_cell_rows(power, unloading));
        }
        tables
            .estimate_errors
            .extend(self.estimate_errors.iter().cloned());
        self.motion.fill(tables);
        bench_durations(benches, tables);
        self.align_by_rotor(benches, shelf, tables);
    }

    /// Bench (tunnel) and flight by rotor speed, where no throttle was logged.
    fn align_by_rotor(&mut self, benches: &Benches, shelf: &Shelf, tables: &mut SeasonTables) {
        for (power, run, record) in &benches.records {
            let flights = self.flights.iter_mut().zip(&mut self.shelves);
            let with_throttle = |flight: &str| {
                let row = tables.flights.iter().find(|row| row.flight == flight);
                row.is_some_and(|row| row.has_throttle)
            };
            for (flight, shelved) in flights {
                let own = flight.row.power.as_ref() == Some(power);
                if !own || with_throttle(&flight.row.flight) {
                    continue;
                }
                let alignment = shelf.lit(shelved, &mut flight.survey, |survey| {
                    let log = survey.log.as_ref()?;
                    let without = log.get(Channel::Throttle).is_none();
                    without.then(|| rpm_alignment(&readings(record), &readings(log)).0)?
                });
                if let Some(alignment) = alignment {
                    tables
                        .rotor_alignment
                        .extend(from_flight::rotor_alignment_rows(
                            power,
                            &flight.row.flight,
                            run,
                            &alignment,
                        ));
                    tables
                        .rotor_alignment_limits
                        .extend(from_flight::rotor_limit_rows(
                            power,
                            &flight.row.flight,
                            run,
                            &alignment,
                        ));
                }
            }
        }
    }
}

/// The rows of one flight, whose log is there; those of its own pictures apart.
pub fn of_flight(season: &Season, benches: &Benches, flight: &Flown) -> (SeasonTables, FlightRows) {
    let mut out = SeasonTables::default();
    let power = flight.row.power.as_deref();
    let curve = power
        .and_then(|p| benches.curves.get(p))
        .and_then(|c| c.current.as_ref());
    let burst = power
        .and_then(|p| season.controller_of(p))
        .and_then(|c| c.burst_s);
    let mut row = flight.flight_row();
    (row.static_jet_speed_m_s, row.static_jet_speed_u_m_s) =
        jet_speed(season, benches, flight).unzip();
    out.flights.push(row);
    out.pitot.extend(pitot_row(flight));
    out.holds.extend(flight.hold_rows(curve));
    out.passes.extend(flight.pass_rows());
    out.phases.extend(flight.phase_rows());
    out.flight_loads.extend(flight.load_row());
    out.load_samples.extend(flight.load_sample_rows());
    out.load_crossings.extend(flight.load_crossing_rows());
    out.load_cycles.extend(flight.load_cycle_rows());
    out.pack_flights.extend(flight.pack_row());
    out.controller_heat.extend(flight.controller_heat_row());
    out.current_duration
        .extend(flight.current_duration_rows(burst));
    let own = FlightRows {
        strips: flight.strip_rows(),
        track: flight.track_rows(),
        pass_samples: flight.pass_sample_rows(),
    };
    (out, own)
}

/// Appends the rows of one flight.
fn append(own: SeasonTables, tables: &mut SeasonTables) {
    tables.flights.extend(own.flights);
    tables.pitot.extend(own.pitot);
    tables.holds.extend(own.holds);
    tables.passes.extend(own.passes);
    tables.phases.extend(own.phases);
    tables.flight_loads.extend(own.flight_loads);
    tables.load_samples.extend(own.load_samples);
    tables.load_crossings.extend(own.load_crossings);
    tables.load_cycles.extend(own.load_cycles);
    tables.pack_flights.extend(own.pack_flights);
    tables.controller_heat.extend(own.controller_heat);
    tables.current_duration.extend(own.current_duration);
}

/// The largest current of each bench run, as steady as the flights' grid is long.
fn bench_durations(benches: &Benches, tables: &mut SeasonTables) {
    let mut grid: Vec<f64> = tables
        .current_duration
        .iter()
        .map(|r| r.duration_s)
        .collect();
    grid.extend([0.2, 1.0, 10.0, 30.0, 60.0]);
    grid.sort_by(f64::total_cmp);
    grid.dedup();
    for run in &benches.runs {
        let largest = run
            .points
            .iter()
            .filter_map(|p| p.exact(Channel::Current))
            .map(|m| m.value)
            .fold(f64::NAN, f64::max);
        if !largest.is_finite() {
            continue;
        }
        for held in bench_current_duration(largest, None, &grid).curve {
            tables.current_duration.push(CurrentDurationRow {
                source: "bench".to_owned(),
                id: run.id.clone(),
                power: Some(run.power.clone()),
                duration_s: held.duration_s,
                current_a: held.current_a,
            });
        }
    }
}
