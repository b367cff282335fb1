//! Re-dealing the fans within days.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Arrangements up to which every one is counted.
const ENUMERATED: u64 = 200_000;
/// Random arrangements beyond that.
const DRAWN: u64 = 99_999;

/// Outcome of a permutation test within blocks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Permutation {
    /// Two-sided p value of no effect in any block.
    pub p: f64,
    /// Smallest p value that this many flights can reach, whatever they show.
    pub smallest_p: f64,
    /// Arrangements counted.
    pub arrangements: u64,
    /// Whether that is all there are; else they were drawn at random.
    pub exact: bool,
}

/// Tests whether `treated` values differ from the others, by re-dealing the labels within each
/// block. The statistic is the effect of the linear model with a constant a block. `None` where no
/// block holds both.
///
/// Source: Edgington and Onghena, Randomization Tests, 4th ed. (2007), chapter 3. It assumes that
/// within a block any order of the two would have been as likely.
pub fn within_blocks(
    values: &[f64],
    treated: &[bool],
    blocks: &[usize],
    seed: u64,
) -> Option<Permutation> {
    let blocks = gather(values, treated, blocks);
    if blocks.is_empty() {
        return None;
    }
    let observed = blocks.iter().map(|b| b.sum(&b.treated)).sum::<f64>().abs();
    let scale: f64 = blocks
        .iter()
        .flat_map(|b| &b.centred)
        .map(|v| v.abs())
        .sum();
    let tie = 1e-9 * scale;
    let total = blocks
        .iter()
        .try_fold(1_u64, |all, b| all.checked_mul(b.arrangements()?));
    match total.filter(|t| *t <= ENUMERATED) {
        Some(total) => {
            let sums: Vec<Vec<f64>> = blocks.iter().map(Block::all_sums).collect();
            let mut statistics = vec![0.0];
            for block in &sums {
                statistics = statistics
                    .iter()
                    .flat_map(|s| block.iter().map(move |b| s + b))
                    .collect();
            }
            let largest = statistics.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
            let reaching =
                |limit: f64| statistics.iter().filter(|s| s.abs() >= limit - tie).count() as f64;
            Some(Permutation {
                p: reaching(observed) / total as f64,
                smallest_p: reaching(largest) / total as f64,
                arrangements: total,
                exact: true,
            })
        }
        None => {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            let mut reached = 1.0;
            for _ in 0..DRAWN {
                let sum: f64 = blocks.iter().map(|b| b.random_sum(&mut rng)).sum();
                if sum.abs() >= observed - tie {
                    reached += 1.0;
                }
            }
            let arrangements = DRAWN + 1;
            Some(Permutation {
                p: reached / arrangements as f64,
                smallest_p: 1.0 / arrangements as f64,
                arrangements,
                exact: false,
            })
        }
    }
}

/// Values of one block about their mean: the sum over the treated, added over blocks, is the
/// linear model's effect up to a constant factor, as group sizes stay the same.
struct Block {
    centred: Vec<f64>,
    treated: Vec<usize>,
}

fn gather(values: &[f64], treated: &[bool], blocks: &[usize]) -> Vec<Block> {
    let mut ids: Vec<usize> = blocks.to_vec();
    ids.sort_unstable();
    ids.dedup();
    ids.iter()
        .filter_map(|id| {
            let rows: Vec<usize> = (0..values.len()).filter(|i| blocks[*i] == *id).collect();
            let m = rows.iter().map(|i| values[*i]).sum::<f64>() / rows.len() as f64;
            let block = Block {
                centred: rows.iter().map(|i| values[*i] - m).collect(),
                treated: (0..rows.len()).filter(|k| treated[rows[*k]]).collect(),
            };
            (!block.treated.is_empty() && block.treated.len() < rows.len()).then_some(block)
        })
        .collect()
}

impl Block {
    fn sum(&self, rows: &[usize]) -> f64 {
        rows.iter().map(|i| self.centred[*i]).sum()
    }

    /// Ways to choose the treated; `None` on overflow.
    fn arrangements(&self) -> Option<u64> {
        let (n, k) = (self.centred.len() as u64, self.treated.len() as u64);
        (0..k).try_fold(1_u64, |c, i| Some(c.checked_mul(n - i)? / (i + 1)))
    }

    /// Sum over the treated for every way to choose them.
    fn all_sums(&self) -> Vec<f64> {
        let (n, k) = (self.centred.len(), self.treated.len());
        let mut chosen: Vec<usize> = (0..k).collect();
        let mut sums = vec![self.sum(&chosen)];
        // The next combination in lexical order: move the last index that can still move.
        while let Some(i) = (0..k).rev().find(|i| chosen[*i] < n - k + i) {
            let first = chosen[i] + 1;
            for (step, place) in chosen[i..].iter_mut().enumerate() {
                *place = first + step;
            }
            sums.push(self.sum(&chosen));
        }
        sums
    }

    fn random_sum(&self, rng: &mut ChaCha8Rng) -> f64 {
        let n = self.centred.len();
        let mut order: Vec<usize> = (0..n).collect();
        for i in 0..self.treated.len() {
            order.swap(i, rng.random_range(i..n));
        }
        self.sum(&order[..self.treated.len()])
    }
}
