//! Seeded random numbers: one ChaCha8 stream for each thing that varies, so that a change in one
//! flight leaves the others as they were.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What a stream is for; streams of different kinds never meet.
#[derive(Debug, Clone, Copy)]
pub enum Stream {
    Instruments,
    Day(usize),
    Pilot(usize),
    Gusts(usize),
    Sensors(usize),
    Bench(usize),
    Export(usize),
}

impl Stream {
    fn number(self) -> u64 {
        let (kind, index) = match self {
            Stream::Instruments => (0, 0),
            Stream::Day(i) => (1, i),
            Stream::Pilot(i) => (2, i),
            Stream::Gusts(i) => (3, i),
            Stream::Sensors(i) => (4, i),
            Stream::Bench(i) => (5, i),
            Stream::Export(i) => (6, i),
        };
        (kind << 32) | index as u64
    }
}

/// Draws from one stream.
#[derive(Debug, Clone)]
pub struct Noise {
    rng: ChaCha8Rng,
    spare: Option<f64>,
}

impl Noise {
    pub fn new(seed: u64, stream: Stream) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream.number());
        Self { rng, spare: None }
    }

    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.rng.random::<f64>()
    }

    /// Standard normal (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        if let Some(value) = self.spare.take() {
            return value;
        }
        let radius = (-2.0 * (1.0 - self.rng.random::<f64>()).ln()).sqrt();
        let angle = std::f64::consts::TAU * self.rng.random::<f64>();
        self.spare = Some(radius * angle.sin());
        radius * angle.cos()
    }
}

/// An Ornstein-Uhlenbeck process passed through a short low-pass, so that it has a finite slope.
#[derive(Debug, Clone, Copy)]
pub struct Gust {
    raw: f64,
    pub value: f64,
    keep: f64,
    kick: f64,
    follow: f64,
}

impl Gust {
    /// Standard deviation `sd`, correlation time `tau_s`, step `dt`.
    pub fn new(sd: f64, tau_s: f64, dt: f64, noise: &mut Noise) -> Self {
        let keep = (-dt / tau_s).exp();
        let smooth_s = 0.4;
        // The low-pass takes away tau/(tau + smooth) of the variance; given back here.
        let sd_raw = sd * ((tau_s + smooth_s) / tau_s).sqrt();
        let raw = sd_raw * noise.normal();
        Self {
            raw,
            value: raw,
            keep,
            kick: sd_raw * (1.0 - keep * keep).sqrt(),
            follow: dt / smooth_s,
        }
    }

    /// One step on; returns the change.
    pub fn step(&mut self, noise: &mut Noise) -> f64 {
        self.raw = self.raw * self.keep + self.kick * noise.normal();
        let change = (self.raw - self.value) * self.follow;
        self.value += change;
        change
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gusts_have_the_spread_and_memory_asked_for() {
        let mut noise = Noise::new(1, Stream::Gusts(0));
        let mut gust = Gust::new(1.5, 3.0, 0.01, &mut noise);
        let values: Vec<f64> = (0..2_000_000)
            .map(|_| {
                gust.step(&mut noise);
                gust.value
            })
            .collect();
        let mean_product = |lag: usize| {
            let pairs = values.iter().zip(&values[lag..]);
            pairs.map(|(a, b)| a * b).sum::<f64>() / (values.len() - lag) as f64
        };
        let variance = mean_product(0);
        // 20 000 s hold some 3000 independent gusts: 1.8 % on the spread.
        assert!(
            (variance.sqrt() / 1.5 - 1.0).abs() < 0.06,
            "{}",
            variance.sqrt()
        );
        // After three seconds e^-1 of an Ornstein-Uhlenbeck process, a little more when smoothed.
        let kept = mean_product(300) / variance;
        assert!((0.33..0.48).contains(&kept), "{kept}");
    }
}
