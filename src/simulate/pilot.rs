//! The pilot: take-off, passes back and forth with slow turns between, cruise holds, landing.

use std::f64::consts::PI;

use super::jet::{Air, Command, State};
use super::noise::Noise;
use super::physics::GRAVITY;
use super::season::SeasonPlan;

/// Fraction of the rated charge at which the pilot turns in to land, whatever the clock says.
const MOST_USED: f64 = 0.84;

/// Length of a coast with the throttle closed, s.
const GLIDE_S: f64 = 4.5;

/// Where the pilot is in the flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Leg {
    Wait,
    TakeOff,
    Climb,
    /// Half-turn to the next line; ends at `entry` of the level speed.
    Turn {
        entry: f64,
        throttle: Option<f64>,
    },
    /// Full throttle along the line.
    Pass {
        box_m: f64,
    },
    /// Steady part throttle along the line.
    Hold {
        throttle: f64,
        box_m: f64,
    },
    /// Throttle closed, level and straight on.
    Glide,
    Approach,
    RollOut,
    Over,
}

/// A straight flown: seconds into the flight and airspeeds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Straight {
    pub start_s: f64,
    pub end_s: f64,
    /// Heading through the air, rad.
    pub heading: f64,
    pub entry_airspeed: f64,
    pub exit_airspeed: f64,
    pub throttle: f64,
}

pub struct Pilot {
    leg: Leg,
    leg_start_s: f64,
    /// Straights still to fly, the next last.
    tasks: Vec<Leg>,
    pub straights: Vec<Straight>,
    /// Course of the line flown now, rad; the box lies along `axis`.
    course: f64,
    axis: f64,
    height_m: f64,
    base_height_m: f64,
    /// Level top speed the pilot reckons with, full pack and empty.
    level_speed: (f64, f64),
    runway: f64,
    stall: f64,
    entry_range: (f64, f64),
    end_s: f64,
    capacity_c: f64,
    wait_s: f64,
    hold_heading: f64,
    entry_airspeed: f64,
    glides_left: usize,
    pub take_off_s: f64,
    pub landing_s: f64,
}

impl Pilot {
    /// `wind_from` rad; `level_speed` is what the pilot expects of a full and of an empty pack, m/s.
    pub fn new(
        plan: &SeasonPlan,
        wind_from: f64,
        level_speed: (f64, f64),
        stall: f64,
        capacity_c: f64,
        noise: &mut Noise,
    ) -> Self {
        let mut tasks = Vec::new();
        let holds = [0.5, 0.6, 0.7];
        let box_m = |noise: &mut Noise| noise.uniform(plan.box_m.0, plan.box_m.1);
        // Two passes, then a hold, and so on: the holds are spread over the pack's charge.
        let mut held = 0;
        for pass in 0..plan.passes {
            tasks.push(Leg::Pass {
                box_m: box_m(noise),
            });
            if pass % 2 == 1 {
                tasks.push(Leg::Hold {
                    throttle: holds[held % 3],
                    box_m: box_m(noise),
                });
                held += 1;
            }
        }
        for _ in 0..12 {
            tasks.push(Leg::Hold {
                throttle: holds[held % 3],
                box_m: box_m(noise),
            });
            held += 1;
        }
        tasks.reverse();
        let base_height_m = noise.uniform(45.0, 65.0);
        Self {
            leg: Leg::Wait,
            leg_start_s: 0.0,
            tasks,
            straights: Vec::new(),
            course: wind_from,
            axis: wind_from + 0.25 * noise.normal(),
            height_m: base_height_m,
            base_height_m,
            level_speed,
            runway: wind_from,
            stall,
            entry_range: plan.entry_fraction,
            end_s: plan.duration_s + noise.uniform(-15.0, 15.0),
            capacity_c,
            wait_s: noise.uniform(5.0, 9.0),
            hold_heading: wind_from,
            entry_airspeed: 0.0,
            glides_left: plan.glides,
            take_off_s: 0.0,
            landing_s: 0.0,
        }
    }

    pub fn is_over(&self) -> bool {
        self.leg == Leg::Over
    }

    /// Heading of the runway, into the wind, rad.
    pub fn runway(&self) -> f64 {
        self.runway
    }

    fn enter(&mut self, leg: Leg, state: &State) {
        self.leg = leg;
        self.leg_start_s = state.time_s;
        self.entry_airspeed = state.airspeed;
    }

    fn next_turn(&mut self, state: &State, noise: &mut Noise) {
        self.course = if (self.course - self.axis).cos() > 0.0 {
            self.axis + PI
        } else {
            self.axis
        };
        self.height_m = self.base_height_m + noise.uniform(-6.0, 6.0);
        let done = state.time_s > self.end_s || state.used_c > MOST_USED * self.capacity_c;
        let leg = match self.tasks.last() {
            Some(Leg::Hold { throttle, .. }) if !done => Leg::Turn {
                entry: 0.0,
                throttle: Some(*throttle),
            },
            Some(_) if !done => Leg::Turn {
                entry: noise.uniform(self.entry_range.0, self.entry_range.1),
                throttle: None,
            },
            _ => {
                self.course = self.axis;
                Leg::Approach
            }
        };
        self.enter(leg, state);
    }

    /// Heading that keeps the course in this wind.
    fn crabbed(&self, state: &State, air: &Air) -> f64 {
        let cross = -air.north * self.course.sin() + air.east * self.course.cos();
        self.course - (cross / state.airspeed.max(10.0)).clamp(-0.5, 0.5).asin()
    }

    fn climb_to(&self, state: &State, height: f64) -> f64 {
        let rate = (0.35 * (height - state.height_m)).clamp(-4.0, 5.0);
        (rate / state.airspeed.max(10.0)).clamp(-0.2, 0.25)
    }

    /// Small corrections of heading on a straight.
    fn steer(heading_error: f64) -> f64 {
        (1.2 * wrap(heading_error)).clamp(-0.5, 0.5)
    }

    /// Looks at the jet and moves the sticks.
    pub fn fly(&mut self, state: &mut State, air: &Air, noise: &mut Noise) -> Command {
        let spent = state.time_s - self.leg_start_s;
        match self.leg {
            Leg::Wait => {
                if spent > self.wait_s {
                    self.enter(Leg::TakeOff, state);
                }
                Command::default()
            }
            Leg::TakeOff => {
                if !state.airborne && state.airspeed > 1.25 * self.stall {
                    state.airborne = true;
                    self.take_off_s = state.time_s;
                }
                if state.height_m > 12.0 {
                    self.enter(Leg::Climb, state);
                }
                Command {
                    throttle: 1.0,
                    bank: 0.0,
                    climb: 0.16,
                }
            }
            Leg::Climb => {
                if state.height_m > self.height_m - 6.0 {
                    self.next_turn(state, noise);
                }
                Command {
                    throttle: 0.85,
                    bank: 0.0,
                    climb: 0.22,
                }
            }
            Leg::Turn { entry, throttle } => self.turn(state, air, entry, throttle, spent),
            Leg::Pass { box_m } => {
                if self.past_box(state, box_m, spent, 4.0, 7.0) {
                    self.finish(state, 1.0);
                    if self.glides_left > 0 {
                        self.glides_left -= 1;
                        self.enter(Leg::Glide, state);
                    } else {
                        self.next_turn(state, noise);
                    }
                }
                self.straight(state, 1.0)
            }
            Leg::Hold { throttle, box_m } => {
                if self.past_box(state, box_m, spent, 5.0, 9.0) {
                    self.finish(state, throttle);
                    self.next_turn(state, noise);
                }
                self.straight(state, throttle)
            }
            Leg::Glide => {
                if spent > GLIDE_S {
                    self.next_turn(state, noise);
                }
                self.straight(state, 0.0)
            }
            Leg::Approach => self.approach(state, air, spent),
            Leg::RollOut => {
                let rolling = state.velocity_north.hypot(state.velocity_east);
                if spent > 6.0 && (rolling < 0.5 || spent > 20.0) {
                    self.enter(Leg::Over, state);
                }
                Command::default()
            }
            Leg::Over => Command::default(),
        }
    }

    fn straight(&self, state: &State, throttle: f64) -> Command {
        Command {
            throttle,
            bank: Self::steer(self.hold_heading - state.heading),
            climb: self.climb_to(state, self.height_m),
        }
    }

    /// Along the line beyond the end of the box, or long enough.
    fn past_box(&self, state: &State, box_m: f64, spent: f64, least: f64, most: f64) -> bool {
        let along = state.north_m * self.course.cos() + state.east_m * self.course.sin();
        spent > most || (spent > least && along > 0.5 * box_m)
    }

    fn finish(&mut self, state: &State, throttle: f64) {
        self.straights.push(Straight {
            start_s: self.leg_start_s,
            end_s: state.time_s,
            heading: self.hold_heading,
            entry_airspeed: self.entry_airspeed,
            exit_airspeed: state.airspeed,
            throttle,
        });
    }

    fn turn(
        &mut self,
        state: &State,
        air: &Air,
        entry: f64,
        held: Option<f64>,
        spent: f64,
    ) -> Command {
        let heading = self.crabbed(state, air);
        let left = wrap(heading - state.heading);
        // Turns go to the right until the new course is close; the far half first.
        let left = if spent < 2.0 && left < 0.0 {
            left + 2.0 * PI
        } else {
            left
        };
        let used = state.used_c / self.capacity_c;
        let (full, empty) = self.level_speed;
        let target = entry * (full + (empty - full) * used);
        let slow_enough = held.is_some() || state.airspeed <= 1.01 * target || spent > 14.0;
        let lined_up = left.abs() < 0.06 && state.bank.abs() < 0.35 && spent > 2.0;
        let fast_enough = state.airspeed > 0.975 * target || spent > 8.0;
        if lined_up && slow_enough && fast_enough {
            self.hold_heading = heading;
            if let Some(task) = self.tasks.pop() {
                self.enter(task, state);
            }
        }
        // A turn at half throttle is wider than one that brakes.
        let load: f64 = if held.is_some() { 2.4 } else { 3.6 };
        let steepest = (1.0 / load).acos();
        let rate_limit = GRAVITY * steepest.tan() / state.airspeed;
        // Rolling out takes a while: the bank follows what is left of the turn.
        let bank = steepest * (left / (0.45 * rate_limit).max(0.05)).clamp(-1.0, 1.0);
        let throttle =
            held.unwrap_or_else(|| (0.66 + 0.14 * (target - state.airspeed)).clamp(0.08, 0.93));
        Command {
            throttle,
            bank,
            climb: self.climb_to(state, self.height_m),
        }
    }

    fn approach(&mut self, state: &mut State, air: &Air, spent: f64) -> Command {
        let left = wrap(self.crabbed(state, air) - state.heading);
        let target = 1.35 * self.stall;
        if state.height_m < 0.3 && spent > 3.0 {
            state.airborne = false;
            self.landing_s = state.time_s;
            self.enter(Leg::RollOut, state);
        }
        // Idle down to approach speed, circle down, then a slope into the wind on the throttle.
        let circling = spent > 3.0 && state.height_m > 20.0;
        let lining_up = !circling && spent > 3.0 && left.abs() > 0.25;
        let slope = match () {
            () if state.height_m < 3.0 => -0.03,
            () if state.airspeed > 1.4 * target => -0.04,
            () if lining_up => -0.02,
            () => -0.12,
        };
        let bank = if circling {
            0.55
        } else {
            (1.5 * left).clamp(-0.8, 0.8)
        };
        let throttle = (0.30 + 0.06 * (target - state.airspeed)).clamp(0.0, 0.7);
        Command {
            throttle,
            bank,
            climb: slope,
        }
    }
}

/// To −π..π.
pub fn wrap(angle: f64) -> f64 {
    (angle + PI).rem_euclid(2.0 * PI) - PI
}
