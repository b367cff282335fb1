//! Plans: what a season to be simulated consists of.

use chrono::NaiveDate;

/// One airframe. Sisters differ by `speed_effect` only.
#[derive(Debug, Clone, PartialEq)]
pub struct AirframePlan {
    pub id: String,
    pub mass_kg: f64,
    pub wing_area_m2: f64,
    pub span_m: f64,
    pub stall_m_s: f64,
    /// True effect on level top speed, as a fraction, baseline fan on the same pack.
    pub speed_effect: f64,
}

/// One fan with its true effects against the baseline fan of the simulator.
#[derive(Debug, Clone, PartialEq)]
pub struct FanPlan {
    pub id: String,
    /// Level top speed on the same pack.
    pub speed_effect: f64,
    /// Static thrust at equal terminal voltage.
    pub thrust_gain: f64,
    /// Static pack current at equal terminal voltage.
    pub current_gain: f64,
    /// How much its torque falls with the square of the advance ratio (baseline 0.45).
    pub unloading: f64,
}

impl FanPlan {
    pub fn baseline(id: &str) -> Self {
        Self::candidate(id, 0.0, 0.0, 0.0)
    }

    pub fn candidate(id: &str, speed_effect: f64, thrust_gain: f64, current_gain: f64) -> Self {
        Self {
            id: id.to_owned(),
            speed_effect,
            thrust_gain,
            current_gain,
            unloading: 0.45,
        }
    }
}

#[derive(Debug, Clone, PartialEq)]
pub struct PackPlan {
    pub id: String,
    pub cells: u32,
    pub capacity_mah: f64,
    /// Ohmic when new, ohm.
    pub resistance_ohm: f64,
    /// Growth of the resistance with each flight, fraction of new.
    pub ageing: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct DayPlan {
    pub date: NaiveDate,
    pub temperature_c: f64,
    pub pressure_hpa: f64,
    /// Mean wind at 50 m, m/s.
    pub wind_m_s: f64,
    /// Where it comes from, degrees.
    pub wind_from_deg: f64,
}

/// What recorded the flight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LoggerKind {
    /// Throttle, volts, amps and GPS in one log.
    Telemetry,
    /// Throttle, volts, amps, rpm; position in a second logger with its own clock.
    PowerAndTrack,
    /// As `Telemetry` without the current sensor.
    NoCurrent,
    /// No logger on board.
    None,
}

#[derive(Debug, Clone, PartialEq)]
pub struct FlightPlan {
    pub day: usize,
    pub airframe: usize,
    pub fan: usize,
    pub pack: usize,
    pub logger: LoggerKind,
    /// Local time of the start of the log, minutes after midnight.
    pub start_min: f64,
}

/// A season to simulate. Everything random follows from the plan and one seed.
#[derive(Debug, Clone, PartialEq)]
pub struct SeasonPlan {
    pub airframes: Vec<AirframePlan>,
    /// The first is the baseline.
    pub fans: Vec<FanPlan>,
    pub packs: Vec<PackPlan>,
    pub days: Vec<DayPlan>,
    pub flights: Vec<FlightPlan>,
    /// Standard deviation of a day's effect on level speed that nobody sees.
    pub day_sd: f64,
    /// The same, flight by flight.
    pub flight_sd: f64,
    pub passes: usize,
    /// Passes at whose end the throttle is closed and the jet coasts level for some seconds.
    pub glides: usize,
    /// Airspeed on entering a pass as a fraction of level top speed: least and greatest.
    pub entry_fraction: (f64, f64),
    /// Length of the full-throttle box on the ground, m: least and greatest.
    pub box_m: (f64, f64),
    pub duration_s: f64,
    /// Rows a second in the log, 10 to 50.
    pub rate_hz: f64,
    pub gps_rate_hz: f64,
    /// Lag of the GPS behind throttle: least and greatest over flights, s.
    pub gps_lag_s: (f64, f64),
    /// Standard deviation of the gusts in each axis, m/s.
    pub gust_m_s: f64,
    pub gust_tau_s: f64,
    /// Sensor noise and scale errors are multiplied by this; 0 gives a perfect logger.
    pub sensor_noise: f64,
    pub elevation_m: f64,
    pub latitude: f64,
    pub longitude: f64,
}

/// How the fans of a coverage study share the days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sharing {
    /// Both fans fly each day, two flights a fan and day.
    EachDay,
    /// Both fly on the first day; after that each has days of its own.
    OneSharedDay,
    /// Swapped at home: a day has one fan only.
    Swapped,
}

impl SeasonPlan {
    fn bare() -> Self {
        let pack = PackPlan {
            id: "p1".into(),
            cells: 4,
            capacity_mah: 2600.0,
            resistance_ohm: 0.0115,
            ageing: 0.0,
        };
        Self {
            airframes: vec![AirframePlan {
                id: "jet".into(),
                mass_kg: 1.95,
                wing_area_m2: 0.235,
                span_m: 0.96,
                stall_m_s: 13.0,
                speed_effect: 0.0,
            }],
            fans: Vec::new(),
            packs: vec![pack],
            days: Vec::new(),
            flights: Vec::new(),
            day_sd: 0.006,
            flight_sd: 0.003,
            passes: 8,
            glides: 0,
            entry_fraction: (0.7, 0.85),
            box_m: (300.0, 380.0),
            duration_s: 240.0,
            rate_hz: 20.0,
            gps_rate_hz: 10.0,
            gps_lag_s: (0.25, 0.4),
            gust_m_s: 0.8,
            gust_tau_s: 3.0,
            sensor_noise: 1.0,
            elevation_m: 260.0,
            latitude: 48.2,
            longitude: 15.6,
        }
    }

    /// A coverage study: `flights` a fan, a true same-pack speed effect, sharing of days, wind.
    ///
    /// The static gains grow with the effect: +20 % thrust, +12 % current at 4 %.
    pub fn coverage(flights: usize, effect: f64, sharing: Sharing, wind_m_s: f64) -> Self {
        let mut plan = Self::bare();
        plan.fans = vec![
            FanPlan::baseline("stock"),
            FanPlan::candidate("swap", effect, 0.08 + 3.0 * effect, 0.04 + 2.0 * effect),
        ];
        let per_day = 2;
        let mut place = |day: usize, fan: usize, slot: usize| {
            plan.flights.push(FlightPlan {
                day,
                airframe: 0,
                fan,
                pack: 0,
                logger: LoggerKind::Telemetry,
                start_min: 600.0 + 25.0 * slot as f64,
            });
            day
        };
        let mut last = 0;
        match sharing {
            Sharing::EachDay => {
                for i in 0..flights {
                    let day = i / per_day;
                    // Who goes first alternates, so that no fan always has the fresher air.
                    for slot in 0..2 {
                        last = place(day, (slot + i) % 2, 2 * (i % per_day) + slot);
                    }
                }
            }
            Sharing::OneSharedDay | Sharing::Swapped => {
                let shared = usize::from(sharing == Sharing::OneSharedDay);
                if shared == 1 && flights > 0 {
                    place(0, 0, 0);
                    place(0, 1, 1);
                }
                for i in 0..flights.saturating_sub(shared) {
                    for fan in 0..2 {
                        last = place(shared + 2 * (i / per_day) + fan, fan, i % per_day);
                    }
                }
            }
        }
        plan.days = (0..=last)
            .map(|i| DayPlan {
                date: NaiveDate::from_ymd_opt(2025, 3, 1).unwrap_or_default()
                    + chrono::Days::new(7 * i as u64),
                temperature_c: 12.0 + ((i * 5) % 11) as f64,
                pressure_hpa: 980.0 + ((i * 7) % 13) as f64,
                wind_m_s,
                wind_from_deg: 250.0 + ((i * 37) % 60) as f64,
            })
            .collect();
        plan
    }

    /// An otherwise default season with no flights, for hand-made plans.
    pub fn empty() -> Self {
        Self::bare()
    }

    /// Adds a sister airframe with a true effect on level speed; each fan flies on both in turn.
    pub fn sisters(mut self, speed_effect: f64) -> Self {
        let sister = self.airframes.first().map(|first| AirframePlan {
            id: "sister".into(),
            speed_effect,
            ..first.clone()
        });
        self.airframes.extend(sister);
        let mut flown = vec![0; self.fans.len()];
        for flight in &mut self.flights {
            if let Some(count) = flown.get_mut(flight.fan) {
                flight.airframe = (*count + flight.fan) % 2;
                *count += 1;
            }
        }
        self
    }

    pub fn gusts(mut self, sd_m_s: f64) -> Self {
        self.gust_m_s = sd_m_s;
        self
    }
    pub fn passes(mut self, passes: usize) -> Self {
        self.passes = passes;
        self
    }
    pub fn rate(mut self, rate_hz: f64, gps_rate_hz: f64) -> Self {
        self.rate_hz = rate_hz;
        self.gps_rate_hz = gps_rate_hz;
        self
    }
    pub fn spreads(mut self, day_sd: f64, flight_sd: f64) -> Self {
        self.day_sd = day_sd;
        self.flight_sd = flight_sd;
        self
    }
    pub fn entries(mut self, least: f64, greatest: f64) -> Self {
        self.entry_fraction = (least, greatest);
        self
    }
    /// Every flight recorded by this kind of logger.
    pub fn logger(mut self, kind: LoggerKind) -> Self {
        for flight in &mut self.flights {
            flight.logger = kind;
        }
        self
    }
    pub fn sensor_noise(mut self, factor: f64) -> Self {
        self.sensor_noise = factor;
        self
    }
    pub fn duration(mut self, seconds: f64) -> Self {
        self.duration_s = seconds;
        self
    }
    pub fn ageing(mut self, per_flight: f64) -> Self {
        for pack in &mut self.packs {
            pack.ageing = per_flight;
        }
        self
    }
}
