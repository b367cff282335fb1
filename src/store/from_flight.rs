//! A flight's results as rows of the season's tables.

use crate::flight::bench_draw::BenchDraw;
use crate::flight::current_duration::{Between, current_duration};
use crate::flight::duration::ToReserve;
use crate::flight::energy::Bounded;
use crate::flight::estimated_power::EstimatedDraw;
use crate::flight::holds::Hold;
use crate::flight::loads::Loads;
use crate::flight::record::{LevelSpeed, PassState, PowerSide, Survey};
use crate::flight::rpm_alignment::RpmAlignment;
use crate::flight::stopwatch::TimedLevelSpeed;
use crate::flight::track;
use crate::flight::unloading::{Unloading, hold_unloading};
use crate::ingest::Channel;
use crate::physics::power_curve::PowerCurve;
use crate::season::LogbookRow;
use crate::store::tables::{
    CurrentDurationRow, FlightRow, HoldRow, PassRow, PassSampleRow, PhaseRow, RotorAlignmentRow,
    RotorLimitRow, UnloadingCellRow, UnloadingRow, UnloadingSpeedRow,
};
use crate::units::MAH;

/// Durations that findings ask for, s, beside the logarithmic grid.
const DURATIONS_S: [f64; 4] = [1.0, 10.0, 30.0, 60.0];

/// Source of a level speed that was fitted to logged passes.
pub const JOINT_FIT: &str = "joint fit";

/// All that is known of one flight.
#[derive(Debug, Clone, PartialEq)]
pub struct Flown {
    pub row: LogbookRow,
    pub day: Option<String>,
    pub order_in_day: usize,
    pub density_kg_m3: f64,
    pub survey: Survey,
    pub power: PowerSide,
    pub level: Option<LevelSpeed>,
    pub timed: Option<TimedLevelSpeed>,
    pub passes: Option<PassState>,
    pub holds: Vec<Hold>,
    pub loads: Option<Loads>,
    /// Where its power system was on the bench.
    pub bench_draw: Option<BenchDraw>,
    pub estimated: Option<EstimatedDraw>,
    pub to_reserve: Option<ToReserve>,
    /// Rated charge of the pack flown, C.
    pub capacity_c: Option<f64>,
}

impl Flown {
    fn has(&self, channel: Channel) -> bool {
        self.survey
            .log
            .as_ref()
            .and_then(|l| l.get(channel))
            .is_some_and(|s| s.iter().any(|v| v.is_finite()))
    }

    /// The row of the flights table.
    pub fn flight_row(&self) -> FlightRow {
        let mut row = FlightRow {
            flight: self.row.flight.clone(),
            day: self.day.clone(),
            order_in_day: self.order_in_day as i64,
            airframe: self.row.airframe.clone(),
            power: self.row.power.clone(),
            pack: self.row.pack.clone(),
            files: self.row.logs.join(" "),
            remarks: self.row.remarks.clone(),
            has_current: self.survey.has_current(),
            has_position: self.survey.velocity.is_some(),
            has_throttle: self.has(Channel::Throttle),
            airborne_s: self.survey.phases.as_ref().map(|p| p.airborne_s()),
            density_kg_m3: self.density_kg_m3,
            power_source: "none".to_owned(),
            put_back_mah: self.row.put_back_c.map(|c| c / MAH),
            rest_voltage_v: self.power.rest_voltage_v,
            ..FlightRow::default()
        };
        if let Some(log) = &self.survey.log {
            row.recorded_s = track::tracks_of(log, &log.time)
                .iter()
                .map(|t| t.length())
                .sum();
            row.max_height_m = log.get(Channel::Height).map(|h| {
                h.iter()
                    .copied()
                    .filter(|v| v.is_finite())
                    .fold(f64::NAN, f64::max)
            });
        }
        self.spool_and_pack(&mut row);
        self.draw(&mut row);
        self.speed(&mut row);
        if let Some(loads) = &self.loads {
            row.max_dynamic_pressure_pa = loads.max_dynamic_pressure_pa;
            row.dynamic_pressure_source = match loads.dynamic_pressure_from {
                Some(Channel::Airspeed) => "airspeed",
                Some(_) => "ground speed",
                None => "",
            }
            .to_owned();
            row.load_factor_p99 = loads.load_factor_p99;
            row.load_factor_source = loads
                .load_factor_from
                .map_or_else(String::new, |s| s.word().to_owned());
        }
        row
    }

    fn spool_and_pack(&self, row: &mut FlightRow) {
        if let Some(spool) = &self.power.spool_up {
            row.spool_up_lag_s = Some(spool.lag_s);
            row.spool_up_lag_low_s = spool.interval_s.map(|i| i.0);
            row.spool_up_lag_high_s = spool.interval_s.map(|i| i.1);
        }
        if let Some(pack) = &self.power.pack {
            row.pack_resistance_ohm = Some(pack.resistance_ohm);
            row.pack_resistance_low_ohm = pack.resistance_interval_ohm.map(|i| i.0);
            row.pack_resistance_high_ohm = pack.resistance_interval_ohm.map(|i| i.1);
            row.open_circuit_start_v = Some(pack.open_circuit_start_v);
        }
        row.gps_lag_s = self.survey.gps_lag.map(|l| l.value_s);
        row.gps_clock_offset_s = self.survey.clock.as_ref().map(|c| c.offset.value_s);
        row.gps_clock_offset_se_s = self.survey.clock.as_ref().map(|c| c.offset.se_s);
    }

    /// What the flight drew, measured or estimated.
    pub fn draw(&self, row: &mut FlightRow) {
        let put = |b: Bounded| (Some(b.value), Some(b.low), b.high);
        if let Some(draw) = &self.survey.draw {
            row.power_source = if draw.energy_wh.is_some() {
                "measured"
            } else {
                "current only"
            }
            .to_owned();
            (row.charge_mah, row.charge_low_mah, row.charge_high_mah) = put(draw.charge_mah);
            if let Some(energy) = draw.energy_wh {
                (row.energy_wh, row.energy_low_wh, row.energy_high_wh) = put(energy);
            }
            if let Some(power) = draw.mean_power_w {
                (
                    row.mean_power_w,
                    row.mean_power_low_w,
                    row.mean_power_high_w,
                ) = put(power);
            }
            row.peak_power_w = draw.peak_power_w;
            row.peak_current_a = Some(draw.peak_current_a);
            row.min_voltage_v = draw.min_voltage_v;
        } else if let Some(estimated) = &self.estimated {
            row.power_source = "estimated".to_owned();
            (row.charge_mah, row.charge_low_mah, row.charge_high_mah) = put(estimated.charge_mah);
            (row.energy_wh, row.energy_low_wh, row.energy_high_wh) = put(estimated.energy_wh);
            (
                row.mean_power_w,
                row.mean_power_low_w,
                row.mean_power_high_w,
            ) = put(estimated.mean_power_w);
            row.peak_power_w = Some(estimated.peak_power_w);
        }
        row.to_reserve_s = self.to_reserve.map(|t| t.airborne_s);
        row.reserve_reached = self.to_reserve.is_some_and(|t| t.reached);
    }

    fn speed(&self, row: &mut FlightRow) {
        if let Some(state) = self.passes {
            row.pass_voltage_v = Some(state.voltage_v);
            row.pass_current_a = state.current_a;
            row.pass_open_circuit_v = state.open_circuit_v;
            row.pass_charge_used = state
                .charge_c
                .zip(self.capacity_c)
                .map(|(used, capacity)| used / capacity);
        }
        row.passes = self.power.straights.used.len() as i64;
        if let Some(LevelSpeed { fit, checks }) = &self.level {
            row.level_speed_m_s = Some(fit.level_speed_m_s);
            row.level_speed_se_m_s = Some(fit.level_speed_se_m_s);
            row.level_speed_model_error_m_s = Some(fit.model_error_m_s);
            row.level_speed_shared_error_m_s = Some(fit.shared_error_m_s());
            row.level_speed_source = JOINT_FIT.to_owned();
            row.share_reached = Some(fit.share_reached);
            row.time_constant_s = Some(fit.time_constant_s);
            row.wind_to_north_m_s = Some(fit.wind.north_m_s);
            row.wind_to_east_m_s = Some(fit.wind.east_m_s);
            row.wind_se_m_s = Some(fit.wind.se_m_s);
            row.level_speed_dvdt_m_s = checks.dvdt_m_s;
            row.level_speed_reciprocal_m_s = checks.reciprocal_m_s;
            row.level_speed_circle_m_s = checks.circle_m_s;
            row.level_speed_pitot_m_s = checks.pitot_m_s;
            row.level_speed_method_error_m_s = Some(checks.method_error_m_s);
        } else if let Some(timed) = &self.timed {
            row.level_speed_m_s = Some(timed.level_speed_m_s);
            row.level_speed_se_m_s = Some(timed.u_own_m_s.hypot(timed.u_shared_m_s));
            row.level_speed_shared_error_m_s = Some(0.0);
            let radar = timed.passes.iter().all(|p| p.radar);
            row.level_speed_source = if radar { "radar" } else { "stopwatch" }.to_owned();
            row.passes = timed.passes.len() as i64;
        }
    }

    pub fn hold_rows(&self, curve: Option<&PowerCurve>) -> Vec<HoldRow> {
        let rotor = self
            .survey
            .log
            .as_ref()
            .map_or_else(Vec::new, |log| track::tracks(log, Channel::AngularSpeed));
        self.holds
            .iter()
            .map(|hold| {
                let bench = curve.and_then(|c| hold_unloading(hold, c, self.density_kg_m3).ok());
                HoldRow {
                    flight: self.row.flight.clone(),
                    airframe: self.row.airframe.clone(),
                    power: self.row.power.clone(),
                    start_s: hold.start_s,
                    end_s: hold.end_s,
                    throttle: hold.throttle,
                    voltage_v: hold.voltage_v,
                    current_a: hold.current_a,
                    power_w: hold.power_w,
                    ground_speed_m_s: hold.ground_speed_m_s,
                    airspeed_m_s: hold.airspeed_m_s,
                    bench_current_a: bench.map(|b| b.bench_current_a),
                    bench_current_u_a: bench.map(|b| b.bench_current_u_a),
                    unloading: bench.map(|b| b.kappa),
                    airborne: hold.airborne,
                    angular_speed_rad_s: track::mean(&rotor, hold.start_s, hold.end_s),
                }
            })
            .collect()
    }

    pub fn pass_rows(&self) -> Vec<PassRow> {
        let mut rows = Vec::new();
        for (n, straight) in self.power.straights.used.iter().enumerate() {
            let fitted = self.level.as_ref().and_then(|l| l.fit.passes.get(n));
            rows.push(PassRow {
                flight: self.row.flight.clone(),
                pass: n as i64 + 1,
                source: "log".to_owned(),
                start_s: Some(straight.start_s),
                end_s: Some(straight.end_s),
                course_rad: Some(straight.course_rad),
                entry_airspeed_m_s: fitted.map(|p| p.entry_airspeed_m_s),
                exit_airspeed_m_s: fitted.map(|p| p.exit_airspeed_m_s),
                mean_ground_speed_m_s: straight.mean_ground_speed_m_s,
                height_change_m: straight.height_change_m,
                voltage_v: straight.mean_voltage_v,
                current_a: straight.mean_current_a,
                residual_rms_m_s: fitted.map(|p| p.residual_rms_m_s),
                used: true,
                ..PassRow::default()
            });
        }
        for aside in &self.power.straights.set_aside {
            rows.push(PassRow {
                flight: self.row.flight.clone(),
                pass: rows.len() as i64 + 1,
                source: "log".to_owned(),
                start_s: Some(aside.straight.start_s),
                end_s: Some(aside.straight.end_s),
                course_rad: Some(aside.straight.course_rad),
                mean_ground_speed_m_s: aside.straight.mean_ground_speed_m_s,
                height_change_m: aside.straight.height_change_m,
                used: false,
                why_not: aside.why.clone(),
                ..PassRow::default()
            });
        }
        for pass in self.timed.iter().flat_map(|t| &t.passes) {
            rows.push(PassRow {
                flight: self.row.flight.clone(),
                pass: rows.len() as i64 + 1,
                source: if pass.radar { "radar" } else { "stopwatch" }.to_owned(),
                direction: pass.direction.clone(),
                mean_ground_speed_m_s: pass.ground_speed_m_s,
                used: self.level.is_none(),
                why_not: if self.level.is_some() {
                    "the log tells it better"
                } else {
                    ""
                }
                .to_owned(),
                ..PassRow::default()
            });
        }
        rows
    }

    pub fn pass_sample_rows(&self) -> Vec<PassSampleRow> {
        let passes = self
            .level
            .iter()
            .flat_map(|l| l.fit.passes.iter().enumerate());
        passes
            .flat_map(|(n, pass)| {
                (0..pass.time.len()).map(move |i| PassSampleRow {
                    flight: self.row.flight.clone(),
                    pass: n as i64 + 1,
                    time_s: pass.time[i],
                    velocity_north_m_s: pass.north[i],
                    velocity_east_m_s: pass.east[i],
                    airspeed_m_s: pass.airspeed[i],
                    fitted_airspeed_m_s: pass.fitted[i],
                })
            })
            .collect()
    }

    pub fn phase_rows(&self) -> Vec<PhaseRow> {
        self.survey
            .phases
            .iter()
            .flat_map(|p| &p.spans)
            .map(|span| PhaseRow {
                flight: self.row.flight.clone(),
                phase: span.phase.word().to_owned(),
                start_s: span.start_s,
                end_s: span.end_s,
            })
            .collect()
    }

    /// Largest currents held; `burst_s`: the controller's burst time.
    pub fn current_duration_rows(&self, burst_s: Option<f64>) -> Vec<CurrentDurationRow> {
        let Some(log) = self
            .survey
            .log
            .as_ref()
            .filter(|_| self.survey.has_current())
        else {
            return Vec::new();
        };
        let also: Vec<f64> = DURATIONS_S.into_iter().chain(burst_s).collect();
        current_duration(log, Between::Linear, &also)
            .into_iter()
            .map(|held| CurrentDurationRow {
                source: "flight".to_owned(),
                id: self.row.flight.clone(),
                power: self.row.power.clone(),
                duration_s: held.duration_s,
                current_a: held.current_a,
            })
            .collect()
    }
}

/// Unloading of a power system by throttle.
pub fn unloading_rows(power: &str, unloading: &Unloading) -> Vec<UnloadingRow> {
    unloading
        .bins
        .iter()
        .map(|bin| UnloadingRow {
            power: power.to_owned(),
            throttle_low: bin.throttle_low,
            throttle_high: bin.throttle_high,
            throttle: bin.throttle,
            holds: bin.holds as i64,
            flights: bin.flights as i64,
            airspeed_m_s: bin.airspeed_m_s,
            bench_current_a: bin.bench_current_a,
            flight_current_a: bin.flight_current_a,
            flight_current_low_a: bin.flight_current_interval_a.map(|i| i.0),
            flight_current_high_a: bin.flight_current_interval_a.map(|i| i.1),
            unloading: bin.kappa,
            unloading_low: bin.kappa_interval.map(|i| i.0),
            unloading_high: bin.kappa_interval.map(|i| i.1),
        })
        .collect()
}

/// Unloading of a power system by airspeed at full throttle.
pub fn unloading_speed_row(power: &str, unloading: &Unloading) -> Option<UnloadingSpeedRow> {
    let slope = unloading.speed.as_ref()?;
    Some(UnloadingSpeedRow {
        power: power.to_owned(),
        slope_s_m: slope.slope_s_m,
        slope_low_s_m: slope.slope_interval_s_m.map(|i| i.0),
        slope_high_s_m: slope.slope_interval_s_m.map(|i| i.1),
        level_speed_m_s: slope.level_speed_m_s,
        unloading_at_level_speed: slope.kappa_at_level_speed,
        unloading_at_level_speed_low: slope.kappa_at_level_speed_interval.map(|i| i.0),
        unloading_at_level_speed_high: slope.kappa_at_level_speed_interval.map(|i| i.1),
        fastest_hold_m_s: slope.fastest_m_s,
        holds: slope.holds as i64,
        flights: slope.flights as i64,
        degrees_of_freedom: slope.df,
    })
}

/// Unloading of a power system in classes of throttle and airspeed.
pub fn unloading_cell_rows(power: &str, unloading: &Unloading) -> Vec<UnloadingCellRow> {
    unloading
        .cells
        .iter()
        .map(|cell| UnloadingCellRow {
            power: power.to_owned(),
            throttle_low: cell.throttle_low,
            throttle_high: cell.throttle_high,
            airspeed_low_m_s: cell.airspeed_low_m_s,
            airspeed_high_m_s: cell.airspeed_high_m_s,
            unloading: cell.kappa,
            holds: cell.holds as i64,
            flights: cell.flights as i64,
            bench_throttle_low: unloading.bench_throttle.0,
            bench_throttle_high: unloading.bench_throttle.1,
        })
        .collect()
}

/// Bench (tunnel) and flight by rotor speed.
pub fn rotor_alignment_rows(
    power: &str,
    flight: &str,
    bench: &str,
    alignment: &RpmAlignment,
) -> Vec<RotorAlignmentRow> {
    alignment
        .rows
        .iter()
        .map(|row| RotorAlignmentRow {
            power: power.to_owned(),
            flight: flight.to_owned(),
            bench: bench.to_owned(),
            angular_speed_rad_s: alignment.angular_speed_rad_s,
            airspeed_low_m_s: row.airspeed_low_m_s,
            airspeed_high_m_s: row.airspeed_high_m_s,
            flight_airspeed_m_s: row.flight.map(|f| f.airspeed_m_s),
            flight_power_w: row.flight.map(|f| f.power_w),
            flight_power_sd_w: row.flight.map(|f| f.sd_w),
            flight_readings: row.flight.map_or(0, |f| f.readings as i64),
            bench_airspeed_m_s: row.bench.map(|b| b.airspeed_m_s),
            bench_power_w: row.bench.map(|b| b.power_w),
            bench_power_sd_w: row.bench.map(|b| b.sd_w),
            bench_readings: row.bench.map_or(0, |b| b.readings as i64),
            ratio: row.ratio,
            ratio_low: row.ratio_interval.map(|i| i.0),
            ratio_high: row.ratio_interval.map(|i| i.1),
            flight_blocks: row.flight.map_or(0, |f| f.blocks as i64),
            bench_blocks: row.bench.map_or(0, |b| b.blocks as i64),
        })
        .collect()
}

/// What that alignment cannot tell.
pub fn rotor_limit_rows(
    power: &str,
    flight: &str,
    bench: &str,
    alignment: &RpmAlignment,
) -> Vec<RotorLimitRow> {
    alignment
        .limits
        .iter()
        .map(|limit| RotorLimitRow {
            power: power.to_owned(),
            flight: flight.to_owned(),
            bench: bench.to_owned(),
            limit: limit.clone(),
        })
        .collect()
}
