//! Flies a plan: every flight integrated, observed by its sensors, and its truth written down.

use super::jet::{Air, Command, Jet, Plant, STEP_S, State};
use super::noise::{Gust, Noise, Stream};
use super::physics::{Supply, air_density};
use super::pilot::Pilot;
use super::season::{FlightPlan, LoggerKind, SeasonPlan};
use super::sensors::{Instrument, Sensors, SimLog};
use super::truth::{FlightTruth, PassTruth, RESERVE, SeasonTruth, pack_ages, resistances};
use super::tune::{Tuned, pack};

/// A flight is given up after this long, s.
const LONGEST_S: f64 = 900.0;
/// Timed base of the stopwatch, m.
pub const BASE_M: f64 = 100.0;

#[derive(Debug, Clone, PartialEq)]
pub struct SimulatedFlight {
    pub log: SimLog,
    pub truth: FlightTruth,
}

/// Same order as the plan's flights.
#[derive(Debug, Clone, PartialEq)]
pub struct SimulatedSeason {
    pub flights: Vec<SimulatedFlight>,
    pub truth: SeasonTruth,
}

/// Flies the whole plan. `None` for a plan without airframe, fan or pack, or with a flight that
/// names one it does not hold.
pub fn fly(plan: &SeasonPlan, seed: u64) -> Option<SimulatedSeason> {
    fly_tuned(plan, &Tuned::new(plan)?, seed)
}

/// The same for studies that fly one plan with many seeds: tuning takes as long as a flight.
pub fn fly_tuned(plan: &SeasonPlan, tuned: &Tuned, seed: u64) -> Option<SimulatedSeason> {
    let flights = (0..plan.flights.len())
        .map(|index| fly_one(plan, tuned, seed, index))
        .collect::<Option<Vec<_>>>()?;
    let truths: Vec<FlightTruth> = flights.iter().map(|f| f.truth.clone()).collect();
    Some(SimulatedSeason {
        truth: SeasonTruth::new(plan, tuned, &truths),
        flights,
    })
}

/// Flight `index` of the plan; `None` where the plan names something it does not hold.
pub fn fly_one(
    plan: &SeasonPlan,
    tuned: &Tuned,
    seed: u64,
    index: usize,
) -> Option<SimulatedFlight> {
    let flight = plan.flights.get(index)?;
    let day = plan.days.get(flight.day)?;
    let age = pack_ages(plan).get(index).copied()?;
    let mut noise = Noise::new(seed, Stream::Pilot(index));
    let day_effect = plan.day_sd * Noise::new(seed, Stream::Day(flight.day)).normal();
    let flight_effect = plan.flight_sd * noise.normal();
    let lag_s = noise.uniform(plan.gps_lag_s.0, plan.gps_lag_s.1);
    let offset = noise.uniform(-15.0, 15.0);
    let clock_offset_s = if flight.logger == LoggerKind::PowerAndTrack {
        offset
    } else {
        0.0
    };

    let bare = *tuned.jets.get(flight.airframe)?;
    let factor = ((day_effect + flight_effect) / tuned.drag_elasticity).exp();
    let plant = Plant {
        jet: Jet {
            drag_area_m2: bare.drag_area_m2 * factor,
            ..bare
        },
        power: *tuned.powers.get(flight.fan)?,
        pack: pack(plan.packs.get(flight.pack)?, age),
        rho: air_density(day.temperature_c - 0.3, day.pressure_hpa - 6.0),
    };
    let level = |charge| {
        plant
            .jet
            .level(&plant.power, plant.pack.settled(charge), plant.rho)
            .0
    };
    // A straight line through two states of charge.
    let (high, low) = (level(0.85), level(0.35));
    let expected = (high + 0.3 * (high - low), low - 0.7 * (high - low));
    let wind_from = day.wind_from_deg.to_radians();
    let mut pilot = Pilot::new(
        plan,
        wind_from,
        expected,
        bare.stall_m_s,
        plant.pack.capacity_c,
        &mut noise,
    );
    let unit = unit(plan, seed, flight);
    let mut sensors = Sensors::new(plan, seed, index, unit, lag_s, clock_offset_s);
    let wind = (
        -day.wind_m_s * wind_from.cos(),
        -day.wind_m_s * wind_from.sin(),
    );
    let mut gusts = Noise::new(seed, Stream::Gusts(index));
    let recorded = integrate(
        plan,
        &plant,
        &mut pilot,
        wind,
        (&mut gusts, &mut noise),
        &mut sensors,
    );

    let passes = passes(&plant, &pilot, &recorded);
    let pass_voltage = passes.iter().map(|p| p.mean_voltage).sum::<f64>() / passes.len() as f64;
    let terminal = Supply::Terminal(pass_voltage);
    let (level_speed, steady) = plant.jet.level(&plant.power, terminal, plant.rho);
    let still = plant.power.steady(terminal, 1.0, 0.0, plant.rho);
    let (pack_resistance, pack_resistance_settled) = resistances(plan, flight.pack, age);
    let truth = FlightTruth {
        level_speed,
        pass_voltage,
        level_speed_without_effects: bare.level(&plant.power, terminal, plant.rho).0,
        day_effect,
        flight_effect,
        wind_north: wind.0,
        wind_east: wind.1,
        density: plant.rho,
        energy_wh: recorded.energy_j / 3600.0,
        charge_mah: recorded.charge_c / 3.6,
        kappa_level: steady.electric.pack_current_a / still.electric.pack_current_a,
        level_current_a: steady.electric.pack_current_a,
        level_thrust_n: steady.thrust_n,
        drag_area_m2: plant.jet.drag_area_m2,
        idle_thrust_n: plant
            .power
            .steady(terminal, 0.0, level_speed, plant.rho)
            .thrust_n,
        clock_offset_s,
        gps_lag_s: lag_s,
        pack_resistance,
        pack_resistance_settled,
        take_off_s: pilot.take_off_s,
        landing_s: pilot.landing_s,
        reserve_s: recorded.reserve_s.map(|t| t - pilot.take_off_s),
        time_to_reserve_s: match recorded.reserve_s {
            Some(t) => t - pilot.take_off_s,
            None => {
                let left = (1.0 - RESERVE) * plant.pack.capacity_c - recorded.charge_c;
                let flown = pilot.landing_s - pilot.take_off_s;
                flown + left / (recorded.charge_c / flown)
            }
        },
        passes,
        holds: pilot
            .straights
            .iter()
            .copied()
            .filter(|s| s.throttle < 1.0)
            .collect(),
    };
    let mut log = sensors.log;
    blank_absent(&mut log, flight.logger);
    Some(SimulatedFlight { log, truth })
}

/// The two logger units of a season each have their own errors.
fn unit(plan: &SeasonPlan, seed: u64, flight: &FlightPlan) -> Instrument {
    let mut noise = Noise::new(seed, Stream::Instruments);
    let first = Instrument::draw(&mut noise, plan.sensor_noise);
    let second = Instrument::draw(&mut noise, plan.sensor_noise);
    match flight.logger {
        LoggerKind::PowerAndTrack => second,
        LoggerKind::Telemetry | LoggerKind::NoCurrent | LoggerKind::None => first,
    }
}

fn blank_absent(log: &mut SimLog, kind: LoggerKind) {
    let blank = |series: &mut Vec<f64>| series.fill(f64::NAN);
    match kind {
        LoggerKind::Telemetry => blank(&mut log.rpm),
        LoggerKind::NoCurrent => {
            blank(&mut log.rpm);
            blank(&mut log.current);
        }
        LoggerKind::PowerAndTrack => {
            for series in [
                &mut log.gps_speed,
                &mut log.course,
                &mut log.vn,
                &mut log.ve,
                &mut log.lat,
                &mut log.lon,
            ] {
                series.fill(f64::NAN);
            }
        }
        LoggerKind::None => *log = SimLog::default(),
    }
}

/// What the integration leaves behind besides the sensors' log.
struct Recorded {
    energy_j: f64,
    charge_c: f64,
    reserve_s: Option<f64>,
    /// Terminal voltage and ground distance flown, every step.
    voltage: Vec<f32>,
    distance: Vec<f64>,
}

fn integrate(
    plan: &SeasonPlan,
    plant: &Plant,
    pilot: &mut Pilot,
    wind: (f64, f64),
    (gust_noise, pilot_noise): (&mut Noise, &mut Noise),
    sensors: &mut Sensors,
) -> Recorded {
    let mut gust_north = Gust::new(plan.gust_m_s, plan.gust_tau_s, STEP_S, gust_noise);
    let mut gust_east = Gust::new(plan.gust_m_s, plan.gust_tau_s, STEP_S, gust_noise);
    let mut state = State {
        heading: pilot.runway(),
        load_factor: 1.0,
        // The runway lies beside the box.
        north_m: -40.0,
        east_m: -20.0,
        ..State::default()
    };
    let mut air = Air {
        north: wind.0,
        east: wind.1,
        ..Air::default()
    };
    let mut recorded = Recorded {
        energy_j: 0.0,
        charge_c: 0.0,
        reserve_s: None,
        voltage: Vec::with_capacity(32_000),
        distance: Vec::with_capacity(32_000),
    };
    let mut distance = 0.0;
    let mut command = Command::default();
    for index in 0..(LONGEST_S / STEP_S) as usize {
        let profile = (state.height_m.max(3.0) / 50.0).powf(0.14);
        let (dn, de) = (gust_north.step(gust_noise), gust_east.step(gust_noise));
        air.change_north = dn;
        air.change_east = de;
        air.north = wind.0 * profile + gust_north.value;
        air.east = wind.1 * profile + gust_east.value;
        // Hands are slower than the integration.
        if index % 2 == 0 {
            command = pilot.fly(&mut state, &air, pilot_noise);
        }
        plant.step(&mut state, &command, &air);
        sensors.observe(index, &state, command.throttle);
        distance += state.velocity_north.hypot(state.velocity_east) * STEP_S;
        recorded.voltage.push(state.electric.terminal_v as f32);
        recorded.distance.push(distance);
        recorded.energy_j += state.electric.terminal_v * state.electric.pack_current_a * STEP_S;
        if recorded.reserve_s.is_none() && state.used_c >= (1.0 - RESERVE) * plant.pack.capacity_c {
            recorded.reserve_s = Some(state.time_s);
        }
        if pilot.is_over() {
            break;
        }
    }
    recorded.charge_c = state.used_c;
    recorded
}

fn passes(plant: &Plant, pilot: &Pilot, recorded: &Recorded) -> Vec<PassTruth> {
    let index =
        |time: f64| ((time / STEP_S).round() as usize).clamp(1, recorded.voltage.len().max(1)) - 1;
    pilot
        .straights
        .iter()
        .filter(|straight| straight.throttle >= 1.0)
        .filter_map(|straight| {
            let (from, to) = (index(straight.start_s), index(straight.end_s));
            // The first half second is spool-up: its voltage is not that of the pass.
            let volts = recorded.voltage.get((from + 50).min(to)..to)?;
            let mean = volts.iter().map(|&v| f64::from(v)).sum::<f64>() / volts.len() as f64;
            let end_m = *recorded.distance.get(to)?;
            let path = recorded.distance.get(from..=to)?;
            let enter = path.partition_point(|&d| d < end_m - BASE_M);
            let enter_m = *path.get(enter)?;
            Some(PassTruth {
                start_s: straight.start_s,
                end_s: straight.end_s,
                heading: straight.heading,
                entry_airspeed: straight.entry_airspeed,
                exit_airspeed: straight.exit_airspeed,
                level_speed: plant
                    .jet
                    .level(&plant.power, Supply::Terminal(mean), plant.rho)
                    .0,
                mean_voltage: mean,
                base_speed: (end_m - enter_m) / ((path.len() - 1 - enter) as f64 * STEP_S),
                base_m: BASE_M,
                run_up_m: enter_m - path.first()?,
            })
        })
        .collect()
}
