//! The steps of a clock. Logs tick evenly, so that among thousands of steps few differ, by the rounding
//! of their times alone: what is costly to make of a step is made once for each of these.

use std::collections::HashMap;

/// The steps between times, the different ones and which is where.
#[derive(Debug, Clone, Default)]
pub struct Ticks {
    different: Vec<f64>,
    place: Vec<u32>,
}

impl Ticks {
    pub fn of(time: &[f64]) -> Self {
        let mut out = Self::default();
        let mut known: HashMap<u64, u32> = HashMap::new();
        let mut last = (f64::NAN, 0);
        for w in time.windows(2) {
            let step = w[1] - w[0];
            if step != last.0 {
                let place = *known.entry(step.to_bits()).or_insert_with(|| {
                    out.different.push(step);
                    out.different.len() as u32 - 1
                });
                last = (step, place);
            }
            out.place.push(last.1);
        }
        out
    }

    /// What `of` makes of each step, in order.
    pub fn map(&self, of: impl Fn(f64) -> f64) -> impl Iterator<Item = f64> {
        let made: Vec<f64> = self.different.iter().map(|&step| of(step)).collect();
        self.place.iter().map(move |&place| made[place as usize])
    }
}

#[cfg(test)]
mod tests {
    use super::Ticks;

    #[test]
    fn every_step_is_mapped_in_order() {
        let time: Vec<f64> = (0..500)
            .map(|i| f64::from(i) * 0.02 + f64::from(i / 100))
            .collect();
        let ticks = Ticks::of(&time);
        assert!(ticks.different.len() < 100);
        let steps: Vec<f64> = time.windows(2).map(|w| w[1] - w[0]).collect();
        assert_eq!(ticks.map(|x| x).collect::<Vec<_>>(), steps);
        let kept: Vec<f64> = steps.iter().map(|dt| (-dt / 3.0).exp()).collect();
        assert_eq!(ticks.map(|dt| (-dt / 3.0).exp()).collect::<Vec<_>>(), kept);
        assert_eq!(Ticks::of(&[]).map(|x| x).count(), 0);
    }
}
