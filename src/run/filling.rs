//! Flights as rows of the season's tables.

use super::benches::Benches;
use super::flights::Flights;
use super::motion::jet_speed;
use crate::flight::current_duration::bench_current_duration;
use crate::flight::rpm_alignment::{readings, rpm_alignment};
use crate::ingest::Channel;
use crate::season::Season;
use crate::store::from_flight;
use crate::store::from_motion::pitot_row;
use crate::store::{CurrentDurationRow, SeasonTables};

impl Flights {
    pub fn fill(&self, season: &Season, benches: &Benches, tables: &mut SeasonTables) {
        for flight in &self.flights {
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
            tables.flights.push(row);
            tables.pitot.extend(pitot_row(flight));
            tables.holds.extend(flight.hold_rows(curve));
            tables.passes.extend(flight.pass_rows());
            tables.pass_samples.extend(flight.pass_sample_rows());
            tables.phases.extend(flight.phase_rows());
            tables.strips.extend(flight.strip_rows());
            tables.track.extend(flight.track_rows());
            tables.flight_loads.extend(flight.load_row());
            tables.load_samples.extend(flight.load_sample_rows());
            tables.load_crossings.extend(flight.load_crossing_rows());
            tables.load_cycles.extend(flight.load_cycle_rows());
            tables.pack_flights.extend(flight.pack_row());
            tables.controller_heat.extend(flight.controller_heat_row());
            tables
                .current_duration
                .extend(flight.current_duration_rows(burst));
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
        self.align_by_rotor(benches, tables);
    }

    /// Bench (tunnel) and flight by rotor speed, where no throttle was logged.
    fn align_by_rotor(&self, benches: &Benches, tables: &mut SeasonTables) {
        for (power, run, record) in &benches.records {
            for flight in self
                .flights
                .iter()
                .filter(|f| f.row.power.as_ref() == Some(power))
            {
                let Some(log) = &flight.survey.log else {
                    continue;
                };
                if log.get(Channel::Throttle).is_some() {
                    continue;
                }
                if let (Some(alignment), _) = rpm_alignment(&readings(record), &readings(log)) {
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
