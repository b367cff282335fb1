//! Open propellers in a wind tunnel against the reference cases: of two of equal diameter, is the one
//! that pulls more standing still also the faster one, and by as much as the cases say? Shared with
//! the study under examples/.
//!
//! The table has one row a reading: propeller, diameter and pitch in inches, advance ratio
//! J = v/(n·D) (0: static), rpm, thrust coefficient T/(rho·n²·D⁴), power coefficient P/(rho·n³·D⁵).

#![allow(dead_code)]

use std::collections::BTreeMap;

use benchborne::physics::reference::{Gain, Outlets, reference_band};

/// One propeller, static and moving at about one rotor speed.
#[derive(Debug, Clone)]
pub struct Propeller {
    pub diameter_in: f64,
    pub pitch_in: f64,
    pub static_thrust: f64,
    pub static_power: f64,
    /// Advance ratio, thrust and power coefficient, by advance ratio.
    pub moving: Vec<(f64, f64, f64)>,
}

#[derive(Default)]
struct Readings {
    size: (f64, f64),
    still: Vec<(f64, f64, f64)>,
    moving: BTreeMap<u64, Vec<(f64, f64, f64)>>,
}

/// Readings of a moving propeller at one rotor speed, at least.
const FEWEST_MOVING: usize = 6;

/// Reads the table; each propeller at the highest rotor speed at which it was moved through enough
/// advance ratios, with the static reading nearest to it.
pub fn read(text: &str) -> Vec<Propeller> {
    let mut all: BTreeMap<String, Readings> = BTreeMap::new();
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells.get(i).and_then(|c| c.parse::<f64>().ok());
        let (Some(d), Some(pitch), Some(j), Some(rpm), Some(ct), Some(cp)) = (
            number(2),
            number(3),
            number(4),
            number(5),
            number(6),
            number(7),
        ) else {
            continue;
        };
        let of = all.entry(cells[0].to_owned()).or_default();
        of.size = (d, pitch);
        if j == 0.0 {
            of.still.push((rpm, ct, cp));
        } else {
            let group = of.moving.entry(rpm.round() as u64).or_default();
            group.push((j, ct, cp));
        }
    }
    all.into_values().filter_map(propeller).collect()
}

fn propeller(of: Readings) -> Option<Propeller> {
    let (rpm, mut moving) = of
        .moving
        .into_iter()
        .rev()
        .find(|(_, rows)| rows.len() >= FEWEST_MOVING)?;
    moving.sort_by(|a, b| a.0.total_cmp(&b.0));
    let apart = |row: &(f64, f64, f64)| (row.0 / rpm as f64 - 1.0).abs();
    let still = of
        .still
        .into_iter()
        .min_by(|a, b| apart(a).total_cmp(&apart(b)))
        .filter(|row| apart(row) < 0.1)?;
    Some(Propeller {
        diameter_in: of.size.0,
        pitch_in: of.size.1,
        static_thrust: still.1,
        static_power: still.2,
        moving,
    })
}

impl Propeller {
    /// Static thrust at a given power, up to a factor that equal diameters share.
    fn pull(&self) -> f64 {
        self.static_thrust / self.static_power.powf(2.0 / 3.0)
    }

    /// (advance ratio, power coefficient) in level flight of a drag area `drag_over_disk` times the
    /// disk: thrust = drag means CT/J² = S/(2·D²). `None` where the tunnel did not go there.
    pub fn level(&self, drag_over_disk: f64) -> Option<(f64, f64)> {
        let share = drag_over_disk * std::f64::consts::PI / 8.0;
        self.moving.windows(2).find_map(|w| {
            let over = |row: (f64, f64, f64)| row.1 - share * row.0 * row.0;
            let (a, b) = (over(w[0]), over(w[1]));
            (a >= 0.0 && b < 0.0).then(|| {
                let t = a / (a - b);
                (
                    w[0].0 + t * (w[1].0 - w[0].0),
                    w[0].2 + t * (w[1].2 - w[0].2),
                )
            })
        })
    }
}

/// A pair of equal diameter at equal shaft power; the candidate is the one that pulls more.
#[derive(Debug, Clone, Copy)]
pub struct Pair {
    pub thrust_gain: f64,
    /// Ends of the reference band.
    pub band: (f64, f64),
    /// What really happens to the level speed.
    pub speed_gain: f64,
}

/// All pairs whose pitches differ by at most the factor `exp(pitch)`.
pub fn pairs(propellers: &[Propeller], drag_over_disk: f64, pitch: f64) -> Vec<Pair> {
    let mut out = Vec::new();
    for (i, a) in propellers.iter().enumerate() {
        for b in &propellers[i + 1..] {
            let alike =
                a.diameter_in == b.diameter_in && (a.pitch_in / b.pitch_in).ln().abs() <= pitch;
            if !alike {
                continue;
            }
            let (a, b) = if b.pull() >= a.pull() { (a, b) } else { (b, a) };
            out.extend(pair(a, b, drag_over_disk));
        }
    }
    out
}

/// `b` against `a`. At equal power v ~ J/CP^⅓, and rotor speed, density and diameter drop out.
fn pair(a: &Propeller, b: &Propeller, drag_over_disk: f64) -> Option<Pair> {
    let speed = |p: &Propeller| p.level(drag_over_disk).map(|(j, cp)| j / cp.cbrt());
    let thrust_gain = b.pull() / a.pull() - 1.0;
    let exactly = |gain| Gain { gain, u: 0.0 };
    let band = reference_band(exactly(thrust_gain), exactly(0.0), 0.0, Outlets::Equal)?;
    Some(Pair {
        thrust_gain,
        band: (band.low.gain, band.high.gain),
        speed_gain: speed(b)? / speed(a)? - 1.0,
    })
}

/// Shares of pairs below, within and above the band.
pub fn shares(pairs: &[Pair]) -> (f64, f64, f64) {
    let share = |is: &dyn Fn(&Pair) -> bool| {
        pairs.iter().filter(|p| is(p)).count() as f64 / pairs.len().max(1) as f64
    };
    (
        share(&|p| p.speed_gain < p.band.0),
        share(&|p| p.speed_gain >= p.band.0 && p.speed_gain <= p.band.1),
        share(&|p| p.speed_gain > p.band.1),
    )
}
