//! Seasons made up at the level of the season's tables: rows of flights and static gains with a known
//! truth, from a generator of its own that shares nothing with the analysis but the row types.
//! Shared by the calibration study (examples/study_calibration.rs) and its smaller version in tests.

#![allow(dead_code)]

use benchborne::findings::evidence::Evidence;
use benchborne::findings::level_speeds::conditions;
use benchborne::findings::observed::observe;
use benchborne::findings::{Answer, Verdict, carry_over, sisters};
use benchborne::season::{QuestionKind, Season, SeasonText, load};
use benchborne::stats::mover::Bounds;
use benchborne::stats::verdict::{self, NotSettled};
use benchborne::stats::{normal_quantile, t_quantile};
use benchborne::store::{FlightRow, SeasonTables, StaticGainRow};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

pub const MARGIN: f64 = 0.02;
/// The two reference cases lie that far to either side of what the bench's gains mean.
const HALF_BAND: f64 = 0.005;
const SISTER: f64 = 0.03;
const PASSES: usize = 8;

/// How two fans share days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sharing {
    /// Both fans on every day, at most two flights of each a day.
    EachDay,
    /// As it comes: the baseline first, the candidate last, both on one day in between.
    OneSharedDay,
    /// Swapped at home: one fan a day, at most two flights, two days a fan or more.
    SwappedAtHome,
    /// All flights of a fan on one day of its own.
    ADayEach,
}

/// What the seasons scatter by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct World {
    pub name: &'static str,
    pub day_sd: f64,
    /// Two airframes, one of them faster, each flying both fans.
    pub two_airframes: bool,
    /// Student's t with three degrees of freedom for passes and flights.
    pub heavy_tails: bool,
    /// The candidate's flights and passes scatter by that much more.
    pub candidate_scatter: f64,
}

pub const WORLDS: [World; 5] = [
    World {
        name: "plain",
        day_sd: 0.006,
        two_airframes: false,
        heavy_tails: false,
        candidate_scatter: 1.0,
    },
    World {
        name: "days differ by 2 %",
        day_sd: 0.02,
        two_airframes: false,
        heavy_tails: false,
        candidate_scatter: 1.0,
    },
    World {
        name: "airframes differ by 3 %",
        day_sd: 0.006,
        two_airframes: true,
        heavy_tails: false,
        candidate_scatter: 1.0,
    },
    World {
        name: "heavy tails",
        day_sd: 0.006,
        two_airframes: false,
        heavy_tails: true,
        candidate_scatter: 1.0,
    },
    World {
        name: "candidate scatters thrice",
        day_sd: 0.006,
        two_airframes: false,
        heavy_tails: false,
        candidate_scatter: 3.0,
    },
];

/// Standard deviations of log level speed: from flight to flight, and of one pass.
const FLIGHT_SD: f64 = 0.003;
const PASS_SD: f64 = 0.010;
/// What a fan's flights have wrong together (its pooled run-up), and what both have.
const FAN_ERROR: f64 = 0.002;
const MODEL_ERROR: f64 = 0.0015;
/// Pack, motor and how speed and current go with voltage; not the analysis' own exponents.
const OPEN_CIRCUIT_V: f64 = 15.4;
const RESISTANCE_OHM: f64 = 0.013;
const CURRENT_A: f64 = 68.0;
const REFERENCE_V: f64 = 14.5;
const SPEED_EXPONENT: f64 = 0.95;
const CURRENT_EXPONENT: f64 = 1.92;
const SPEED_M_S: f64 = 55.0;
/// Relative standard uncertainty of a static gain's ratio, known with that many degrees of freedom.
const BENCH_U: f64 = 0.006;
const BENCH_DF: usize = 10;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Slot {
    pub day: usize,
    pub candidate: bool,
    pub airframe: usize,
}

#[derive(Debug, Clone, Copy)]
pub struct Case {
    pub flights: usize,
    pub sharing: Sharing,
    pub world: World,
    /// True gain at the same terminal voltage.
    pub gain: f64,
    /// What the bench's gains mean in level speed (middle of the band).
    pub bench: f64,
    pub seed: u64,
}

pub struct Truth {
    pub pack: f64,
    pub terminal: f64,
    /// Reference cases from the true static gains in thrust and power.
    pub from_thrust: f64,
    pub from_power: f64,
}

impl Truth {
    pub fn band(&self) -> (f64, f64) {
        (
            self.from_thrust.min(self.from_power),
            self.from_thrust.max(self.from_power),
        )
    }

    /// A verdict that says something untrue.
    pub fn contradicts(&self, verdict: Verdict) -> bool {
        let (low, high) = self.band();
        match verdict {
            Verdict::NoDifferenceThatMatters => self.pack.abs() >= MARGIN,
            Verdict::Worse => self.pack >= 0.0,
            Verdict::MoreThanTheReferenceCases => self.terminal <= high,
            Verdict::PartlyCarriedOver => self.terminal <= 0.0 || self.terminal >= low,
            Verdict::CarriedOver => self.terminal <= 0.0 || self.terminal < low - MARGIN,
            _ => false,
        }
    }
}

/// Which flights fly when: (day, fan, airframe).
pub fn design(case: &Case) -> Vec<Slot> {
    let n = case.flights;
    let days = n.div_ceil(2);
    let mut out = Vec::new();
    for candidate in [false, true] {
        for i in 0..n {
            let day = match case.sharing {
                Sharing::EachDay => i / 2,
                Sharing::OneSharedDay => i / 2 + if candidate { days - 1 } else { 0 },
                Sharing::SwappedAtHome => 2 * (i % days.max(2)) + usize::from(candidate),
                Sharing::ADayEach => usize::from(candidate),
            };
            let airframe = match case.sharing {
                // Each day of a fan has its airframes in turn.
                Sharing::SwappedAtHome => i / days.max(2),
                _ => i,
            };
            out.push(Slot {
                day,
                candidate,
                airframe: if case.world.two_airframes {
                    airframe % 2
                } else {
                    0
                },
            });
        }
    }
    out
}

struct Draws(ChaCha8Rng);

impl Draws {
    fn uniform(&mut self) -> f64 {
        self.0.random_range(-1.0..1.0)
    }

    fn normal(&mut self) -> f64 {
        let (u, v): (f64, f64) = (1.0 - self.0.random::<f64>(), self.0.random());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    fn chi_square(&mut self, df: usize) -> f64 {
        (0..df).map(|_| self.normal().powi(2)).sum()
    }

    /// Standard deviation 1 whatever the tails.
    fn noise(&mut self, heavy: bool) -> f64 {
        if heavy {
            // Student's t with 3 degrees of freedom has variance 3.
            self.normal() / self.chi_square(3).sqrt()
        } else {
            self.normal()
        }
    }
}

/// Terminal voltage and current of a fan on a pack at open-circuit voltage `open_circuit_v`.
fn on_pack(open_circuit_v: f64, more_current: f64) -> (f64, f64) {
    let current =
        |v: f64| CURRENT_A * (1.0 + more_current) * (v / REFERENCE_V).powf(CURRENT_EXPONENT);
    let mut v = REFERENCE_V;
    for _ in 0..60 {
        v = 0.5 * (v + open_circuit_v - RESISTANCE_OHM * current(v));
    }
    (v, current(v))
}

fn ln_speed(voltage: f64, gain: f64) -> f64 {
    SPEED_M_S.ln() + SPEED_EXPONENT * (voltage / REFERENCE_V).ln() + gain.ln_1p()
}

/// A made-up season: the tables, their truth, and what an oracle sees of the flights.
pub struct Made {
    pub case: Case,
    pub slots: Vec<Slot>,
    pub tables: SeasonTables,
    pub truth: Truth,
    /// Log speeds as on the same pack and at the same terminal voltage, with nothing but their true
    /// scatter.
    pure: Vec<(f64, f64)>,
    draws: Draws,
    common: Common,
}

#[derive(Clone)]
struct Common {
    days: Vec<f64>,
    fan_error: [f64; 2],
    fan_error_shown: f64,
    model_error: f64,
    voltage_scale: f64,
    current_scale: f64,
    resistance_scale: f64,
}

pub fn make(case: Case) -> Made {
    let mut draws = Draws(ChaCha8Rng::seed_from_u64(case.seed));
    let common = Common {
        days: Vec::new(),
        fan_error: [0; 2].map(|_| FAN_ERROR * draws.normal()),
        fan_error_shown: FAN_ERROR,
        model_error: MODEL_ERROR * draws.normal(),
        voltage_scale: 0.02 * draws.uniform(),
        current_scale: 0.05 * draws.uniform(),
        resistance_scale: 0.1 * draws.normal(),
    };
    let (from_thrust, from_power) = (case.bench - HALF_BAND, case.bench + HALF_BAND);
    // Static gains that mean these in level speed (momentum theory at equal outlets).
    let gains = [(1.0 + from_thrust).powi(2), (1.0 + from_power).powi(3)];
    let mut tables = SeasonTables::default();
    for (quantity, ratio) in ["thrust", "power"].into_iter().zip(gains) {
        let u = BENCH_U * ratio;
        let gain = ratio * (1.0 + BENCH_U * draws.normal()) - 1.0;
        let shown = u * (draws.chi_square(BENCH_DF) / BENCH_DF as f64).sqrt();
        let half = t_quantile(0.975, BENCH_DF as f64) * shown;
        for condition in ["same_terminal_voltage", "same_pack"] {
            tables.static_gains.push(StaticGainRow {
                baseline: "old".into(),
                candidate: "new".into(),
                quantity: quantity.into(),
                condition: condition.into(),
                gain: Some(gain),
                low: Some(gain - half),
                high: Some(gain + half),
                u: Some(shown),
                degrees_of_freedom: Some(BENCH_DF as f64),
                correlation_with_thrust: Some(0.0),
                points: 6,
                ..StaticGainRow::default()
            });
        }
    }
    let more_current = gains[1] - 1.0;
    let on_same = |gain: f64, more: f64| ln_speed(on_pack(OPEN_CIRCUIT_V, more).0, gain);
    let truth = Truth {
        pack: (on_same(case.gain, more_current) - on_same(0.0, 0.0)).exp_m1(),
        terminal: case.gain,
        from_thrust,
        from_power,
    };
    let mut made = Made {
        case,
        slots: Vec::new(),
        tables,
        truth,
        pure: Vec::new(),
        draws,
        common,
    };
    made.fly(&design(&case));
    made
}

impl Made {
    /// Flies further slots; days are numbered on by the caller.
    pub fn fly(&mut self, slots: &[Slot]) {
        for slot in slots {
            while self.common.days.len() <= slot.day {
                let day = self.case.world.day_sd * self.draws.normal();
                self.common.days.push(day);
            }
            let row = self.flight(*slot);
            self.tables.flights.push(row);
            self.slots.push(*slot);
        }
    }

    fn flight(&mut self, slot: Slot) -> FlightRow {
        let Self {
            case,
            draws,
            common,
            truth,
            ..
        } = self;
        let (fan, heavy) = (usize::from(slot.candidate), case.world.heavy_tails);
        let more_current = if slot.candidate {
            (1.0 + truth.from_power).powi(3) - 1.0
        } else {
            0.0
        };
        let gain = if slot.candidate { case.gain } else { 0.0 };
        let scatter = if slot.candidate {
            case.world.candidate_scatter
        } else {
            1.0
        };
        let open_circuit = OPEN_CIRCUIT_V + 0.12 * draws.normal();
        let (volts, amps) = on_pack(open_circuit, more_current);
        let passes: Vec<f64> = (0..PASSES)
            .map(|_| scatter * PASS_SD * draws.noise(heavy))
            .collect();
        let mean = passes.iter().sum::<f64>() / PASSES as f64;
        let squares: f64 = passes.iter().map(|p| (p - mean).powi(2)).sum();
        let within = (squares / (PASSES * (PASSES - 1)) as f64).sqrt();
        let own = common.days[slot.day]
            + SISTER * slot.airframe as f64
            + scatter * FLIGHT_SD * draws.noise(heavy)
            + mean;
        let at = |v: f64| ln_speed(v, gain) + own;
        let pack_v = on_pack(OPEN_CIRCUIT_V, more_current).0;
        self.pure.push((at(pack_v), at(REFERENCE_V)));
        let speed = (at(volts) + common.fan_error[fan] + common.model_error).exp();
        let shown_v = volts * (1.0 + common.voltage_scale) + 0.01 * draws.normal();
        let shown_a = amps * (1.0 + common.current_scale);
        let resistance = RESISTANCE_OHM * (1.0 + common.resistance_scale);
        FlightRow {
            flight: format!("f{:02}", self.tables.flights.len()),
            day: Some(format!("2025-05-{:02}", slot.day + 1)),
            airframe: Some(["alder", "birch"][slot.airframe].into()),
            power: Some(["old", "new"][fan].into()),
            pack: Some("p".into()),
            files: "logs/x.csv".into(),
            has_current: true,
            has_position: true,
            has_throttle: true,
            density_kg_m3: 1.19,
            level_speed_m_s: Some(speed),
            level_speed_se_m_s: Some(speed * within.hypot(MODEL_ERROR)),
            level_speed_model_error_m_s: Some(speed * MODEL_ERROR),
            level_speed_shared_error_m_s: Some(speed * common.fan_error_shown),
            level_speed_source: "log".into(),
            pass_voltage_v: Some(shown_v),
            pass_current_a: Some(shown_a),
            pass_open_circuit_v: Some(shown_v + shown_a * resistance),
            passes: PASSES as i64,
            share_reached: Some(0.98),
            ..FlightRow::default()
        }
    }

    /// Standard deviation of a flight's log speed about its day, root mean square of both fans.
    pub fn flight_sd(&self) -> f64 {
        let thrice = self.case.world.candidate_scatter;
        let one = FLIGHT_SD.hypot(PASS_SD / (PASSES as f64).sqrt());
        one * (0.5 * (1.0 + thrice * thrice)).sqrt()
    }

    /// What the flights of either fan have wrong together, as it enters the gain.
    pub fn common_error(&self) -> f64 {
        FAN_ERROR * std::f64::consts::SQRT_2
    }
}

pub fn season(world: &World) -> Season {
    let sister = if world.two_airframes {
        "[airframe.birch]\n"
    } else {
        ""
    };
    let toml = format!(
        "title = \"Made up\"\ninvented = true\n[airframe.alder]\n{sister}[pack.p]\nchemistry = \"LiPo\"\n\
         cells = 4\ncapacity = \"2600 mAh\"\n[power.old]\noutlet_area = \"33 cm2\"\npack = \"p\"\n\
         [power.new]\noutlet_area = \"33 cm2\"\npack = \"p\"\n[[question]]\nkind = \"carry-over\"\n\
         baseline = \"old\"\ncandidate = \"new\"\nmargin = \"2 %\"\n"
    );
    let text = SeasonText {
        season_toml: &toml,
        ..SeasonText::default()
    };
    load(&text).season.unwrap()
}

/// What the analysis makes of a season.
pub struct Answered {
    pub carry_over: Answer,
    pub sisters: Option<Answer>,
    pub pack: Option<Bounds>,
    pub terminal: Option<Bounds>,
}

pub fn answered(season: &Season, tables: &SeasonTables) -> Answered {
    let evidence = Evidence { season, tables };
    let of = |kind: QuestionKind| season.questions.iter().find(|q| q.kind == kind);
    let question = of(QuestionKind::CarryOver).unwrap();
    let (old, new) = (question.baseline.as_str(), question.candidate.as_str());
    let at = conditions(&evidence, [old, new]);
    let bounds = |condition| observe(&evidence, old, new, condition, &[]).bounds;
    Answered {
        carry_over: carry_over::answer(&evidence, question).0,
        sisters: of(QuestionKind::Sisters).map(|q| {
            let sides = [q.baseline.as_str(), q.candidate.as_str()];
            sisters::answer(&evidence, [old, new], sides, q.margin.value)
        }),
        pack: bounds(at.and_then(|a| a.1)),
        terminal: bounds(at.map(|a| a.0)),
    }
}

/// Whether an oracle settles it: it is shown the flights' speeds at each condition with nothing but
/// their scatter, knows what to fit, and has to estimate the variance; the same band and verdicts.
pub fn oracle_settles(
    made: &Made,
    band: Option<(Bounds, Bounds)>,
    static_gain: (f64, f64),
) -> bool {
    let fitted = |pick: fn(&(f64, f64)) -> f64| {
        let y: Vec<f64> = made.pure.iter().map(pick).collect();
        fan_effect(&made.slots, &y, made.case.world.two_airframes)
    };
    let Some((pack, terminal)) = fitted(|p| p.0).zip(fitted(|p| p.1)) else {
        return false;
    };
    let v = verdict::verdict(&verdict::Evidence {
        same_pack: Some(pack),
        compared: Some(terminal),
        margin: MARGIN,
        band,
        static_gain: Some(static_gain),
    });
    !matches!(
        v,
        verdict::Verdict::NotSettled(
            NotSettled::NotEstimable
                | NotSettled::TooWide
                | NotSettled::NoReference
                | NotSettled::HowMuchIsOpen
        )
    )
}

/// The fan's effect by least squares on fan and day (and airframe), else on the means of days.
fn fan_effect(slots: &[Slot], y: &[f64], two_airframes: bool) -> Option<Bounds> {
    let days = slots.iter().map(|s| s.day).max()? + 1;
    let row = |s: &Slot, with_days: bool| {
        let mut row = vec![f64::from(s.candidate)];
        if two_airframes {
            row.push(s.airframe as f64);
        }
        if with_days {
            row.extend((0..days).map(|d| f64::from(s.day == d)));
        } else {
            row.push(1.0);
        }
        row
    };
    let within: Vec<Vec<f64>> = slots.iter().map(|s| row(s, true)).collect();
    least_squares(&within, y).or_else(|| {
        let (mut rows, mut means) = (Vec::new(), Vec::new());
        for day in 0..days {
            let of_day: Vec<usize> = (0..slots.len()).filter(|i| slots[*i].day == day).collect();
            let n = of_day.len() as f64;
            if of_day.is_empty() {
                continue;
            }
            let mut sum = row(&slots[of_day[0]], false);
            for i in &of_day[1..] {
                let more = row(&slots[*i], false);
                sum.iter_mut().zip(more).for_each(|(a, b)| *a += b);
            }
            rows.push(sum.into_iter().map(|v| v / n).collect());
            means.push(of_day.iter().map(|i| y[*i]).sum::<f64>() / n);
        }
        least_squares(&rows, &means)
    })
}

/// First coefficient by the normal equations, columns that add nothing left out.
fn least_squares(rows: &[Vec<f64>], y: &[f64]) -> Option<Bounds> {
    // The other columns first, so that the fan counts only if it adds something to them.
    let p = rows[0].len();
    let mut kept: Vec<Vec<f64>> = Vec::new();
    let column = |j: usize| -> Vec<f64> { rows.iter().map(|r| r[j]).collect() };
    let project = |basis: &[Vec<f64>], v: &[f64]| -> Vec<f64> {
        let mut rest = v.to_vec();
        for _ in 0..2 {
            for b in basis {
                let share: f64 = b.iter().zip(&rest).map(|(a, b)| a * b).sum();
                rest.iter_mut().zip(b).for_each(|(r, b)| *r -= share * b);
            }
        }
        rest
    };
    let size = |v: &[f64]| v.iter().map(|a| a * a).sum::<f64>().sqrt();
    for j in (1..p).rev() {
        let rest = project(&kept, &column(j));
        let length = size(&rest);
        if length > 1e-8 {
            kept.push(rest.into_iter().map(|r| r / length).collect());
        }
    }
    let fan = project(&kept, &column(0));
    let length = size(&fan);
    let df = rows
        .len()
        .checked_sub(kept.len() + 1)
        .filter(|df| *df > 0)?;
    if length < 1e-8 {
        return None;
    }
    let rest = project(&kept, y);
    let value: f64 = fan.iter().zip(&rest).map(|(a, b)| a * b).sum::<f64>() / (length * length);
    let residual: f64 = rest
        .iter()
        .zip(&fan)
        .map(|(r, f)| (r - value * f).powi(2))
        .sum();
    let se = (residual / df as f64).sqrt() / length;
    let at = |t: f64| (value + t * se).exp_m1();
    let (t95, t90) = (t_quantile(0.975, df as f64), t_quantile(0.95, df as f64));
    Some(Bounds {
        value: value.exp_m1(),
        low: at(-t95),
        high: at(t95),
        low90: at(-t90),
        high90: at(t90),
    })
}

/// An end of the reference band with its limits, from the answer.
pub fn band_end(answer: &Answer, key: &str) -> Option<Bounds> {
    let e = answer.estimates.get(key)?;
    let (value, low, high) = (e.value?, e.low?, e.high?);
    let share = normal_quantile(0.95) / normal_quantile(0.975);
    Some(Bounds {
        value,
        low,
        high,
        low90: value - share * (value - low),
        high90: value + share * (high - value),
    })
}
