//! Loads, pack and controller heat of a flight as rows of the season's tables.

use crate::flight::spectrum::{CELL, EXPONENTS, LEVELS, matrix};
use crate::physics::gust::equivalent_airspeed;
use crate::store::from_flight::Flown;
use crate::store::tables::{
    ControllerHeatRow, FlightLoadRow, LoadCrossingRow, LoadCycleRow, LoadSampleRow, PackFlightRow,
};
use crate::units::MAH;

/// Points of a flight in the picture of load factor against speed, about.
const POINTS: usize = 150;

impl Flown {
    /// Loads of the flight, counted.
    pub fn load_row(&self) -> Option<FlightLoadRow> {
        let loads = self.loads.as_ref()?;
        let spectrum = loads.spectrum.as_ref()?;
        let damage = |exponent: i32| {
            let place = EXPONENTS.iter().position(|m| *m == exponent)?;
            Some(spectrum.damage_per_hour[place])
        };
        Some(FlightLoadRow {
            flight: self.row.flight.clone(),
            day: self.day.clone(),
            airframe: self.row.airframe.clone(),
            power: self.row.power.clone(),
            source: loads
                .load_factor_from
                .map_or_else(String::new, |s| s.word().to_owned()),
            hours_watched: spectrum.hours,
            greatest_load_factor: spectrum.greatest,
            least_load_factor: spectrum.least,
            saturated_at: loads.saturated_at,
            damage_exponent_3: damage(3),
            damage_exponent_5: damage(5),
            damage_exponent_8: damage(8),
        })
    }

    /// Load factor against equivalent airspeed: the greatest and the least load of each of about
    /// [`POINTS`] equal parts of the flight.
    pub fn load_sample_rows(&self) -> Vec<LoadSampleRow> {
        let Some(loads) = &self.loads else {
            return Vec::new();
        };
        let part = loads.samples.len().div_ceil(POINTS / 2).max(1);
        let row = |sample: &crate::flight::loads::LoadSample| LoadSampleRow {
            flight: self.row.flight.clone(),
            power: self.row.power.clone(),
            time_s: sample.time_s,
            equivalent_airspeed_m_s: equivalent_airspeed(sample.speed_m_s, self.density_kg_m3),
            load_factor: sample.load_factor,
        };
        loads
            .samples
            .chunks(part)
            .flat_map(|part| {
                let known = || part.iter().filter(|s| s.speed_m_s.is_finite());
                let by_load =
                    |a: &&crate::flight::loads::LoadSample,
                     b: &&crate::flight::loads::LoadSample| {
                        a.load_factor.total_cmp(&b.load_factor)
                    };
                let ends = [known().min_by(by_load), known().max_by(by_load)];
                ends.into_iter().flatten().map(row).collect::<Vec<_>>()
            })
            .collect()
    }

    pub fn load_crossing_rows(&self) -> Vec<LoadCrossingRow> {
        let Some(spectrum) = self.loads.as_ref().and_then(|l| l.spectrum.as_ref()) else {
            return Vec::new();
        };
        LEVELS
            .iter()
            .zip(&spectrum.crossings)
            .map(|(level, crossings)| LoadCrossingRow {
                flight: self.row.flight.clone(),
                power: self.row.power.clone(),
                load_factor: *level,
                crossings: *crossings as i64,
                hours_watched: spectrum.hours,
            })
            .collect()
    }

    pub fn load_cycle_rows(&self) -> Vec<LoadCycleRow> {
        let Some(spectrum) = self.loads.as_ref().and_then(|l| l.spectrum.as_ref()) else {
            return Vec::new();
        };
        matrix(&spectrum.cycles)
            .into_iter()
            .map(|(range, mean, cycles)| LoadCycleRow {
                flight: self.row.flight.clone(),
                power: self.row.power.clone(),
                range_low: CELL * range as f64,
                mean_low: CELL * mean as f64,
                cell: CELL,
                cycles,
                hours_watched: spectrum.hours,
            })
            .collect()
    }

    /// What the flight says of its pack.
    pub fn pack_row(&self) -> Option<PackFlightRow> {
        let pack = self.row.pack.clone()?;
        let steps = self.power.steps.as_ref();
        let fit = self.power.pack.as_ref();
        let draw = self.survey.draw.as_ref();
        if steps.is_none() && fit.is_none() && draw.is_none() {
            return None;
        }
        Some(PackFlightRow {
            flight: self.row.flight.clone(),
            day: self.day.clone(),
            power: self.row.power.clone(),
            pack,
            resistance_ohm: steps.map(|s| s.resistance_ohm),
            resistance_low_ohm: steps.map(|s| s.interval_ohm.0),
            resistance_high_ohm: steps.map(|s| s.interval_ohm.1),
            resistance_sooner_ohm: steps.map(|s| s.sooner_ohm),
            resistance_later_ohm: steps.map(|s| s.later_ohm),
            steps: steps.map_or(0, |s| s.steps as i64),
            pack_temperature_k: steps.and_then(|s| s.temperature_k),
            air_temperature_k: self.row.temperature_k,
            open_circuit_start_v: fit.map(|f| f.open_circuit_start_v),
            sag_at_peak_v: fit.map(|f| f.sag_at_peak_v),
            peak_current_a: fit.map(|f| f.peak_current_a),
            charge_mah: draw.map(|d| d.charge_mah.value),
            put_back_mah: self.row.put_back_c.map(|c| c / MAH),
        })
    }

    pub fn controller_heat_row(&self) -> Option<ControllerHeatRow> {
        let heat = self.power.heat.as_ref()?;
        Some(ControllerHeatRow {
            flight: self.row.flight.clone(),
            power: self.row.power.clone(),
            start_k: heat.start_k,
            greatest_k: heat.greatest_k,
            air_k: self.row.temperature_k,
            mean_square_current_a2: heat.mean_square_a2,
            of_motor: heat.of_motor,
            rise_k_per_a2: heat.fit.map(|f| f.rise_k_per_a2),
            time_constant_s: heat.fit.map(|f| f.time_constant_s),
            residual_rms_k: heat.fit.map(|f| f.residual_rms_k),
        })
    }
}
