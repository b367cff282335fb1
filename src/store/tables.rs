//! The season's tables. Field comments say what a column means where its name does not.

use serde::{Deserialize, Serialize};

use crate::table;

use super::own_rows::OwnRows;

table! {
    /// One flight.
    FlightRow = "flights" {
        flight: String = "",
        /// ISO date of the flying day; flights of one day share wind, air and the pilot's form.
        day: Option<String> = "",
        /// Order within the day, from 1.
        order_in_day: i64 = "1",
        airframe: Option<String> = "",
        power: Option<String> = "",
        pack: Option<String> = "",
        files: String = "",
        remarks: String = "",
        has_current: bool = "",
        has_position: bool = "",
        has_throttle: bool = "",
        /// Length of the record (without gaps).
        recorded_s: f64 = "s",
        airborne_s: Option<f64> = "s",
        density_kg_m3: f64 = "kg/m3",
        /// Delay of the current behind the throttle.
        spool_up_lag_s: Option<f64> = "s",
        spool_up_lag_low_s: Option<f64> = "s",
        spool_up_lag_high_s: Option<f64> = "s",
        /// `measured`, `estimated` (bench curve x unloading) or `none`.
        power_source: String = "",
        mean_power_w: Option<f64> = "W",
        mean_power_low_w: Option<f64> = "W",
        mean_power_high_w: Option<f64> = "W",
        peak_power_w: Option<f64> = "W",
        energy_wh: Option<f64> = "W.h",
        energy_low_wh: Option<f64> = "W.h",
        energy_high_wh: Option<f64> = "W.h",
        charge_mah: Option<f64> = "mA.h",
        charge_low_mah: Option<f64> = "mA.h",
        charge_high_mah: Option<f64> = "mA.h",
        put_back_mah: Option<f64> = "mA.h",
        peak_current_a: Option<f64> = "A",
        min_voltage_v: Option<f64> = "V",
        rest_voltage_v: Option<f64> = "V",
        /// Airborne time at which the reserve was reached, or would be at this flight's mean draw
        /// (then `reserve_reached` is false and the value is an extrapolation).
        to_reserve_s: Option<f64> = "s",
        reserve_reached: bool = "",
        pack_resistance_ohm: Option<f64> = "Ohm",
        pack_resistance_low_ohm: Option<f64> = "Ohm",
        pack_resistance_high_ohm: Option<f64> = "Ohm",
        open_circuit_start_v: Option<f64> = "V",
        /// Level top speed (airspeed) at this flight's own mean terminal voltage on the passes.
        level_speed_m_s: Option<f64> = "m/s",
        /// Standard error within the flight, from the jackknife over passes, the model error and what
        /// the cross-checks disagree by.
        level_speed_se_m_s: Option<f64> = "m/s",
        /// The part of it that the run-up's curve and the wind across the passes leave open; much
        /// the same for either fan of a comparison.
        level_speed_model_error_m_s: Option<f64> = "m/s",
        /// Error shared by all flights of the power system: the pooled time constant's.
        level_speed_shared_error_m_s: Option<f64> = "m/s",
        level_speed_source: String = "",
        /// Mean terminal voltage over the passes.
        pass_voltage_v: Option<f64> = "V",
        /// Mean current over the passes at full throttle.
        pass_current_a: Option<f64> = "A",
        /// Mean open-circuit voltage over the passes (terminal voltage + current x resistance).
        pass_open_circuit_v: Option<f64> = "V",
        /// Charge drawn before the mean moment of the passes, as a fraction of rated capacity.
        pass_charge_used: Option<f64> = "1",
        passes: i64 = "1",
        /// Greatest share of level speed that any pass reached; below 0.95 the speed extrapolates.
        share_reached: Option<f64> = "1",
        time_constant_s: Option<f64> = "s",
        wind_to_north_m_s: Option<f64> = "m/s",
        wind_to_east_m_s: Option<f64> = "m/s",
        wind_se_m_s: Option<f64> = "m/s",
        /// Cross-checks of level speed.
        level_speed_dvdt_m_s: Option<f64> = "m/s",
        level_speed_reciprocal_m_s: Option<f64> = "m/s",
        level_speed_circle_m_s: Option<f64> = "m/s",
        level_speed_pitot_m_s: Option<f64> = "m/s",
        /// The part of the standard error that these methods' disagreement adds; the flight's own.
        level_speed_method_error_m_s: Option<f64> = "m/s",
        gps_lag_s: Option<f64> = "s",
        gps_clock_offset_s: Option<f64> = "s",
        gps_clock_offset_se_s: Option<f64> = "s",
        max_dynamic_pressure_pa: Option<f64> = "Pa",
        /// `airspeed` (logged, or ground velocity less the flight's wind) or `ground speed` (wrong
        /// by the wind).
        dynamic_pressure_source: String = "",
        /// 99th percentile of |load factor| while flying, from turn rate and speed or accelerometer.
        load_factor_p99: Option<f64> = "1",
        load_factor_source: String = "",
        max_height_m: Option<f64> = "m",
        /// Jet speed that the bench's full-throttle thrust at the passes' voltage means in the outlet
        /// area, and its standard uncertainty (the thrust's).
        static_jet_speed_m_s: Option<f64> = "m/s",
        static_jet_speed_u_m_s: Option<f64> = "m/s",
    }
}

table! {
    /// One hold: steady throttle after the spool-up lag.
    HoldRow = "holds" {
        flight: String = "",
        airframe: Option<String> = "",
        power: Option<String> = "",
        start_s: f64 = "s",
        end_s: f64 = "s",
        throttle: f64 = "1",
        voltage_v: Option<f64> = "V",
        current_a: Option<f64> = "A",
        power_w: Option<f64> = "W",
        ground_speed_m_s: Option<f64> = "m/s",
        /// Airspeed: logged, or from ground velocity and the flight's wind.
        airspeed_m_s: Option<f64> = "m/s",
        /// Bench current at the hold's throttle, voltage and density; none where the bench does not reach.
        bench_current_a: Option<f64> = "A",
        bench_current_u_a: Option<f64> = "A",
        /// current / bench current.
        unloading: Option<f64> = "1",
        airborne: bool = "",
        /// Mean rotor speed.
        angular_speed_rad_s: Option<f64> = "rad/s",
    }
}

table! {
    /// One full-throttle straight.
    PassRow = "passes" {
        flight: String = "",
        pass: i64 = "1",
        /// `log`, `stopwatch` or `radar`.
        source: String = "",
        start_s: Option<f64> = "s",
        end_s: Option<f64> = "s",
        course_rad: Option<f64> = "rad",
        direction: String = "",
        entry_airspeed_m_s: Option<f64> = "m/s",
        exit_airspeed_m_s: Option<f64> = "m/s",
        mean_ground_speed_m_s: f64 = "m/s",
        height_change_m: Option<f64> = "m",
        voltage_v: Option<f64> = "V",
        current_a: Option<f64> = "A",
        residual_rms_m_s: Option<f64> = "m/s",
        used: bool = "",
        why_not: String = "",
    }
}

table! {
    /// Samples of the passes, for the picture of the fit.
    PassSampleRow = "pass_samples" {
        flight: String = "",
        pass: i64 = "1",
        time_s: f64 = "s",
        velocity_north_m_s: f64 = "m/s",
        velocity_east_m_s: f64 = "m/s",
        airspeed_m_s: f64 = "m/s",
        fitted_airspeed_m_s: f64 = "m/s",
    }
}

table! {
    /// One bench reading as measured, with the same brought to reference conditions.
    BenchPointRow = "bench_points" {
        run: String = "",
        power: String = "",
        file: String = "",
        line: i64 = "1",
        throttle: Option<f64> = "1",
        voltage_v: Option<f64> = "V",
        current_a: Option<f64> = "A",
        power_w: Option<f64> = "W",
        shown_power_w: Option<f64> = "W",
        thrust_n: Option<f64> = "N",
        exhaust_speed_m_s: Option<f64> = "m/s",
        /// `exact`, `above` or `below`.
        exhaust_censor: String = "",
        angular_speed_rad_s: Option<f64> = "rad/s",
        current_u_a: Option<f64> = "A",
        thrust_u_n: Option<f64> = "N",
        reference_current_a: Option<f64> = "A",
        reference_thrust_n: Option<f64> = "N",
        checks_failed: String = "",
    }
}

table! {
    /// The bench curve of a power system at reference conditions, on a grid of throttle.
    BenchCurveRow = "bench_curves" {
        power: String = "",
        throttle: f64 = "1",
        reference_voltage_v: f64 = "V",
        reference_density_kg_m3: f64 = "kg/m3",
        current_a: f64 = "A",
        current_low_a: f64 = "A",
        current_high_a: f64 = "A",
        thrust_n: Option<f64> = "N",
        thrust_low_n: Option<f64> = "N",
        thrust_high_n: Option<f64> = "N",
    }
}

table! {
    /// How a quantity at full throttle goes with terminal voltage or air density: q ~ x^exponent.
    BenchExponentRow = "bench_exponents" {
        power: String = "",
        /// `thrust` or `current`.
        quantity: String = "",
        /// `voltage` or `density`.
        with: String = "",
        exponent: f64 = "1",
        low: f64 = "1",
        high: f64 = "1",
        /// Standard uncertainty.
        u: f64 = "1",
        /// `default`, `motor-constants` or `fitted`.
        origin: String = "",
        /// Readings it was fitted to.
        points: i64 = "1",
    }
}

table! {
    /// One check on one bench reading.
    BenchCheckRow = "bench_checks" {
        run: String = "",
        power: String = "",
        file: String = "",
        line: i64 = "1",
        code: String = "",
        passed: bool = "",
        what: String = "",
        action: String = "",
    }
}

table! {
    /// Static gain candidate / baseline - 1 of one quantity under one condition.
    StaticGainRow = "static_gains" {
        baseline: String = "",
        candidate: String = "",
        /// `thrust`, `power`, `current`, `thrust_per_watt`, `figure_of_merit`, `exhaust_speed`.
        quantity: String = "",
        /// `as_measured`, `same_terminal_voltage` or `same_pack`.
        condition: String = "",
        gain: Option<f64> = "1",
        low: Option<f64> = "1",
        high: Option<f64> = "1",
        /// Standard uncertainty of the gain and its effective degrees of freedom.
        u: Option<f64> = "1",
        degrees_of_freedom: Option<f64> = "1",
        reference_voltage_v: Option<f64> = "V",
        reference_density_kg_m3: Option<f64> = "kg/m3",
        baseline_value: Option<f64> = "",
        candidate_value: Option<f64> = "",
        /// Correlation of this gain's error with the thrust gain's under the same condition.
        correlation_with_thrust: Option<f64> = "1",
        method: String = "",
        points: i64 = "1",
    }
}

table! {
    /// One contributor to the variance of a static gain.
    GainBudgetRow = "gain_budgets" {
        baseline: String = "",
        candidate: String = "",
        quantity: String = "",
        condition: String = "",
        /// Kind of error, e.g. `accuracy`, `zero drift`, `scatter of repeats`.
        kind: String = "",
        /// Ids of the instruments, by blanks; empty where no instrument is the cause.
        instruments: String = "",
        /// What is read.
        reading: String = "",
        share: f64 = "1",
        u: f64 = "1",
        half_width: f64 = "1",
        half_width_if_halved: f64 = "1",
    }
}

table! {
    /// Largest mean current held for `duration_s`.
    CurrentDurationRow = "current_duration" {
        /// `flight` or `bench`.
        source: String = "",
        /// Flight id or bench run id.
        id: String = "",
        power: Option<String> = "",
        duration_s: f64 = "s",
        current_a: f64 = "A",
    }
}

table! {
    /// Unloading of a power system by throttle bin.
    UnloadingRow = "unloading" {
        power: String = "",
        throttle_low: f64 = "1",
        throttle_high: f64 = "1",
        throttle: f64 = "1",
        holds: i64 = "1",
        flights: i64 = "1",
        airspeed_m_s: Option<f64> = "m/s",
        bench_current_a: f64 = "A",
        flight_current_a: f64 = "A",
        flight_current_low_a: Option<f64> = "A",
        flight_current_high_a: Option<f64> = "A",
        unloading: f64 = "1",
        unloading_low: Option<f64> = "1",
        unloading_high: Option<f64> = "1",
    }
}

table! {
    /// Unloading at full throttle against airspeed.
    UnloadingSpeedRow = "unloading_by_speed" {
        power: String = "",
        /// Change of unloading per m/s.
        slope_s_m: f64 = "s/m",
        slope_low_s_m: Option<f64> = "s/m",
        slope_high_s_m: Option<f64> = "s/m",
        level_speed_m_s: Option<f64> = "m/s",
        unloading_at_level_speed: Option<f64> = "1",
        unloading_at_level_speed_low: Option<f64> = "1",
        unloading_at_level_speed_high: Option<f64> = "1",
        fastest_hold_m_s: f64 = "m/s",
        holds: i64 = "1",
        flights: i64 = "1",
        /// Degrees of freedom of the slope's interval.
        degrees_of_freedom: f64 = "1",
    }
}

table! {
    /// Energy estimated without the current sensor over measured energy, less one, for each flight
    /// left out in turn.
    EstimateErrorRow = "estimate_errors" {
        power: String = "",
        flight: String = "",
        relative_error: f64 = "1",
        /// The interval that this flight's estimate would have had, over its measured energy, less
        /// one: 95 and 90 %. None where the others are too few for one.
        low: Option<f64> = "1",
        high: Option<f64> = "1",
        low_90: Option<f64> = "1",
        high_90: Option<f64> = "1",
    }
}

table! {
    /// Bench (or tunnel) and flight held together by rotor speed, where no throttle was logged.
    RotorAlignmentRow = "rotor_alignment" {
        power: String = "",
        flight: String = "",
        bench: String = "",
        angular_speed_rad_s: f64 = "rad/s",
        airspeed_low_m_s: f64 = "m/s",
        airspeed_high_m_s: f64 = "m/s",
        /// Mean airspeed of the readings in the bin.
        flight_airspeed_m_s: Option<f64> = "m/s",
        flight_power_w: Option<f64> = "W",
        flight_power_sd_w: Option<f64> = "W",
        flight_readings: i64 = "1",
        bench_airspeed_m_s: Option<f64> = "m/s",
        bench_power_w: Option<f64> = "W",
        bench_power_sd_w: Option<f64> = "W",
        bench_readings: i64 = "1",
        ratio: Option<f64> = "1",
        /// 95 %, blocks of ten seconds as the unit on either side.
        ratio_low: Option<f64> = "1",
        ratio_high: Option<f64> = "1",
        flight_blocks: i64 = "1",
        bench_blocks: i64 = "1",
    }
}

table! {
    /// What an alignment by rotor speed cannot tell, in words.
    RotorLimitRow = "rotor_alignment_limits" {
        power: String = "",
        flight: String = "",
        bench: String = "",
        limit: String = "",
    }
}

table! {
    /// A flight's quantities over time for its picture: each keeps its least and greatest value in
    /// every three-hundredth of the flight, and of these what a line through the others would miss; a
    /// cell is empty where its quantity needs no point.
    StripRow = "strips" {
        flight: String = "",
        time_s: f64 = "s",
        throttle: Option<f64> = "1",
        current_a: Option<f64> = "A",
        voltage_v: Option<f64> = "V",
        ground_speed_m_s: Option<f64> = "m/s",
        height_m: Option<f64> = "m",
        /// Quantities whose line begins here, for the first time or after a gap, by commas.
        begins: String = "",
    }
}

table! {
    /// A flight's path over the ground, thinned (Ramer, Douglas & Peucker) to about 600 points.
    TrackRow = "track" {
        flight: String = "",
        /// Unbroken stretch of the path, from 1.
        segment: i64 = "1",
        /// On the clock of throttle and current: a receiver's lag is taken off.
        time_s: f64 = "s",
        /// From the flight's first position.
        east_m: f64 = "m",
        north_m: f64 = "m",
        height_m: Option<f64> = "m",
    }
}

table! {
    /// Phases of a flight.
    PhaseRow = "phases" {
        flight: String = "",
        /// `ground`, `take-off`, `flight`, `landing`.
        phase: String = "",
        start_s: f64 = "s",
        end_s: f64 = "s",
    }
}

table! {
    /// Loads of one flight, counted while flying. Damage sums are relative: only ratios of them mean
    /// something.
    FlightLoadRow = "flight_loads" {
        flight: String = "",
        day: Option<String> = "",
        airframe: Option<String> = "",
        power: Option<String> = "",
        /// `accelerometer`, or `turn rate` (a level turn assumed: pulls in the vertical do not show).
        source: String = "",
        hours_watched: f64 = "h",
        greatest_load_factor: f64 = "1",
        least_load_factor: f64 = "1",
        /// Where the sensor's scale ended, if it was reached: loads are at least this.
        saturated_at: Option<f64> = "1",
        /// Rainflow cycles times their range to the power named, an hour.
        damage_exponent_3: Option<f64> = "/h",
        damage_exponent_5: Option<f64> = "/h",
        damage_exponent_8: Option<f64> = "/h",
    }
}

table! {
    /// Greatest and least loads of equal parts of a flight, with the speed at which they came.
    LoadSampleRow = "load_samples" {
        flight: String = "",
        power: Option<String> = "",
        time_s: f64 = "s",
        equivalent_airspeed_m_s: f64 = "m/s",
        load_factor: f64 = "1",
    }
}

table! {
    /// Crossings of a load factor away from 1 g.
    LoadCrossingRow = "load_crossings" {
        flight: String = "",
        power: Option<String> = "",
        load_factor: f64 = "1",
        crossings: i64 = "1",
        hours_watched: f64 = "h",
    }
}

table! {
    /// The cycle matrix of a flight: rainflow cycles (half ones count half) by range and mean.
    LoadCycleRow = "load_cycles" {
        flight: String = "",
        power: Option<String> = "",
        range_low: f64 = "1",
        mean_low: f64 = "1",
        /// Width of a cell.
        cell: f64 = "1",
        cycles: f64 = "1",
        hours_watched: f64 = "h",
    }
}

table! {
    /// What one flight says of its pack.
    PackFlightRow = "pack_flights" {
        flight: String = "",
        day: Option<String> = "",
        power: Option<String> = "",
        pack: String = "",
        /// One to three seconds after a step of the current.
        resistance_ohm: Option<f64> = "Ohm",
        resistance_low_ohm: Option<f64> = "Ohm",
        resistance_high_ohm: Option<f64> = "Ohm",
        /// Half to one and a half, and two to five seconds after.
        resistance_sooner_ohm: Option<f64> = "Ohm",
        resistance_later_ohm: Option<f64> = "Ohm",
        steps: i64 = "1",
        pack_temperature_k: Option<f64> = "K",
        air_temperature_k: Option<f64> = "K",
        open_circuit_start_v: Option<f64> = "V",
        sag_at_peak_v: Option<f64> = "V",
        peak_current_a: Option<f64> = "A",
        charge_mah: Option<f64> = "mA.h",
        put_back_mah: Option<f64> = "mA.h",
    }
}

table! {
    /// The controller's temperature in one flight.
    ControllerHeatRow = "controller_heat" {
        flight: String = "",
        power: Option<String> = "",
        start_k: f64 = "K",
        greatest_k: f64 = "K",
        air_k: Option<f64> = "K",
        mean_square_current_a2: f64 = "A2",
        /// Motor current (pack current over throttle), else pack current.
        of_motor: bool = "",
        /// Rise at which a lasting current settles, over its square.
        rise_k_per_a2: Option<f64> = "K/A2",
        time_constant_s: Option<f64> = "s",
        residual_rms_k: Option<f64> = "K",
    }
}

table! {
    /// Specific excess power over a window of steady throttle.
    ExcessPowerRow = "excess_power" {
        flight: String = "",
        power: Option<String> = "",
        airframe: Option<String> = "",
        /// `take-off`, `climb` or `level`.
        place: String = "",
        start_s: f64 = "s",
        end_s: f64 = "s",
        throttle: f64 = "1",
        voltage_v: Option<f64> = "V",
        power_w: Option<f64> = "W",
        airspeed_m_s: f64 = "m/s",
        climb_m_s: f64 = "m/s",
        load_factor: f64 = "1",
        excess_power_m_s: f64 = "m/s",
        density_kg_m3: f64 = "kg/m3",
    }
}

table! {
    /// Drag of an airframe with the fan of a power system idling: D = q S + K n2/q.
    IdleDragRow = "idle_drag" {
        power: String = "",
        airframe: String = "",
        mass_kg: f64 = "kg",
        drag_area_m2: f64 = "m2",
        induced_n2_m2: f64 = "N2/m2",
        /// `glides`, `span` or `none`.
        induced_from: String = "",
        slowest_m_s: f64 = "m/s",
        fastest_m_s: f64 = "m/s",
        flights: i64 = "1",
        glides: i64 = "1",
        windows: i64 = "1",
    }
}

table! {
    /// Thrust in flight at full throttle, counted from the idling fan; at level top speed it is the
    /// drag of the jet with its fan idling.
    ThrustRow = "thrust_in_flight" {
        flight: String = "",
        power: String = "",
        airframe: String = "",
        /// At level top speed.
        level: bool = "",
        airspeed_m_s: f64 = "m/s",
        thrust_n: f64 = "N",
        thrust_low_n: f64 = "N",
        thrust_high_n: f64 = "N",
        drag_n: f64 = "N",
        voltage_v: Option<f64> = "V",
        density_kg_m3: f64 = "kg/m3",
        windows: i64 = "1",
        /// The bench's full-throttle thrust at this voltage and density, and the jet speed that it
        /// means in the outlet area.
        static_thrust_n: Option<f64> = "N",
        static_thrust_u_n: Option<f64> = "N",
        jet_speed_m_s: Option<f64> = "m/s",
    }
}

table! {
    /// Electrical energy for a kilometre through the air in level flight.
    DistanceEnergyRow = "energy_per_distance" {
        power: String = "",
        /// Of an even mix of these.
        airframes: String = "",
        airspeed_m_s: f64 = "m/s",
        energy_wh_km: f64 = "W.h/km",
        low_wh_km: f64 = "W.h/km",
        high_wh_km: f64 = "W.h/km",
        flights: i64 = "1",
        windows: i64 = "1",
    }
}

table! {
    /// Delay of the current behind the throttle, over the flights of a power system.
    SpoolUpRow = "spool_up" {
        power: String = "",
        lag_s: f64 = "s",
        lag_low_s: Option<f64> = "s",
        lag_high_s: Option<f64> = "s",
        /// Until the current stays within a tenth of its step about where it ends.
        ninety_s: f64 = "s",
        flights: i64 = "1",
        steps: i64 = "1",
    }
}

table! {
    /// Unloading in classes of throttle and airspeed.
    UnloadingCellRow = "unloading_map" {
        power: String = "",
        throttle_low: f64 = "1",
        throttle_high: f64 = "1",
        airspeed_low_m_s: f64 = "m/s",
        airspeed_high_m_s: f64 = "m/s",
        /// Median over flights of each flight's median.
        unloading: f64 = "1",
        holds: i64 = "1",
        flights: i64 = "1",
        /// Ends of the bench's throttle range: outside them nothing is compared.
        bench_throttle_low: f64 = "1",
        bench_throttle_high: f64 = "1",
    }
}

table! {
    /// A flight's throttle history flown again with another power system's bench curve.
    ReplayRow = "replays" {
        /// The system that flew, and the one it is replayed with.
        baseline: String = "",
        candidate: String = "",
        flight: String = "",
        /// Airborne time to the reserve with the candidate (95 % for this flight flown again).
        predicted_s: f64 = "s",
        predicted_low_s: f64 = "s",
        predicted_high_s: f64 = "s",
        /// The two cases in the middle of which the prediction lies: the stick where it was, or, below
        /// full throttle, the power that was drawn.
        same_throttle_s: f64 = "s",
        same_power_s: f64 = "s",
        /// False: the history ends before the reserve and is carried on at its mean draw.
        reached: bool = "",
        /// Relative standard uncertainty that all flights of the pair share: bench, unloading,
        /// charge scale, and which of the two cases holds.
        shared_u: f64 = "1",
        /// The same of one flight, for the sticks that would move differently.
        own_u: f64 = "1",
        /// As flown with the baseline.
        flown_s: Option<f64> = "s",
        flown_reached: bool = "",
        /// Charge over the whole history, with the candidate over as flown.
        charge_ratio: f64 = "1",
        /// Charge that would be left at the landing, share of rated.
        left_at_landing: f64 = "1",
        /// Share of the charge drawn below the throttle that both benches reach.
        below_bench: f64 = "1",
    }
}

table! {
    /// A logged airspeed against the ground velocity less the wind: logged = scale x airspeed + offset,
    /// some time late.
    PitotRow = "pitot" {
        flight: String = "",
        scale: f64 = "1",
        scale_low: f64 = "1",
        scale_high: f64 = "1",
        /// None where the speeds were too alike to tell it from the scale.
        offset_m_s: Option<f64> = "m/s",
        offset_low_m_s: Option<f64> = "m/s",
        offset_high_m_s: Option<f64> = "m/s",
        lag_s: f64 = "s",
        lag_low_s: f64 = "s",
        lag_high_s: f64 = "s",
        wind_to_north_m_s: f64 = "m/s",
        wind_to_east_m_s: f64 = "m/s",
        residual_m_s: f64 = "m/s",
        readings: i64 = "1",
        /// Speeds through the air are taken from it corrected.
        corrected: bool = "",
    }
}

/// All tables of a season; rows in season order (logbook order, then time).
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct SeasonTables {
    pub flights: Vec<FlightRow>,
    pub holds: Vec<HoldRow>,
    pub passes: Vec<PassRow>,
    pub bench_points: Vec<BenchPointRow>,
    pub bench_curves: Vec<BenchCurveRow>,
    pub bench_exponents: Vec<BenchExponentRow>,
    pub bench_checks: Vec<BenchCheckRow>,
    pub static_gains: Vec<StaticGainRow>,
    pub gain_budgets: Vec<GainBudgetRow>,
    pub current_duration: Vec<CurrentDurationRow>,
    pub unloading: Vec<UnloadingRow>,
    pub unloading_by_speed: Vec<UnloadingSpeedRow>,
    pub estimate_errors: Vec<EstimateErrorRow>,
    pub rotor_alignment: Vec<RotorAlignmentRow>,
    pub rotor_alignment_limits: Vec<RotorLimitRow>,
    pub phases: Vec<PhaseRow>,
    pub flight_loads: Vec<FlightLoadRow>,
    pub load_samples: Vec<LoadSampleRow>,
    pub load_crossings: Vec<LoadCrossingRow>,
    pub load_cycles: Vec<LoadCycleRow>,
    pub pack_flights: Vec<PackFlightRow>,
    pub controller_heat: Vec<ControllerHeatRow>,
    pub excess_power: Vec<ExcessPowerRow>,
    pub idle_drag: Vec<IdleDragRow>,
    pub thrust_in_flight: Vec<ThrustRow>,
    pub energy_per_distance: Vec<DistanceEnergyRow>,
    pub spool_up: Vec<SpoolUpRow>,
    pub unloading_map: Vec<UnloadingCellRow>,
    pub replays: Vec<ReplayRow>,
    pub pitot: Vec<PitotRow>,
    /// Rows of the flights, in their order, that are fetched one flight at a time.
    #[serde(skip)]
    pub own: OwnRows,
}
