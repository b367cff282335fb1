//! Least squares over groups of observations, any of which is left out for the cost of a few rows.

use super::linear::{Fit, dot, of_design};

/// Observations as few rows: the triangle of their QR factorisation with `y` as the last column. Any
/// fit on some of the columns over several groups of observations is that of their triangles one below
/// the other (Golub and Van Loan, Matrix Computations, 4th ed. (2013), section 5.3 on QR of blocks of
/// rows), so that leaving out groups in turn costs rows as many as columns a group.
#[derive(Debug, Clone, PartialEq)]
pub struct Compressed {
    /// A column of the triangle each: the design's, then `y`'s.
    columns: Vec<Vec<f64>>,
}

impl Compressed {
    /// Of a design with its column of ones first; `None` for ragged or non-finite input.
    pub fn of(design: &[Vec<f64>], y: &[f64]) -> Option<Self> {
        let finite = |v: &[f64]| v.iter().all(|a| a.is_finite());
        let n = y.len();
        if !finite(y) || design.iter().any(|c| c.len() != n || !finite(c)) {
            return None;
        }
        let mut columns: Vec<Vec<f64>> = design.to_vec();
        columns.push(y.to_vec());
        Some(Self {
            columns: triangle(columns),
        })
    }

    /// Least squares of `y` on the columns named over several groups; coefficients in their order.
    /// `None` where the last of them cannot be told from those before it.
    pub fn solve<'a>(
        groups: impl Iterator<Item = &'a Self> + Clone,
        named: &[usize],
    ) -> Option<Vec<f64>> {
        let stacked = |column: &dyn Fn(&'a Self) -> &'a Vec<f64>| -> Vec<f64> {
            groups
                .clone()
                .flat_map(|g| column(g).iter().copied())
                .collect()
        };
        let design: Vec<Vec<f64>> = named.iter().map(|&k| stacked(&|g| &g.columns[k])).collect();
        let y = stacked(&|g| &g.columns[g.columns.len() - 1]);
        let fit = of_design(&design, &y);
        let last = fit.coefficients.len().checked_sub(1)?;
        fit.coefficient(last)?;
        Some(fit.coefficients)
    }

    /// Several groups as one.
    fn together(groups: &[&Self]) -> Self {
        let columns = groups.first().map_or(0, |g| g.columns.len());
        let stacked = |k: usize| groups.iter().flat_map(|g| &g.columns[k]).copied().collect();
        Self {
            columns: triangle((0..columns).map(stacked).collect()),
        }
    }

    /// All groups as one, then all but each: the groups before and those after are put together once.
    pub fn all_and_without_each(groups: &[Self]) -> Vec<Self> {
        let Some((first, rest)) = groups.split_first() else {
            return Vec::new();
        };
        // `before[i]`: the groups up to i; `after[i]`: those from the end to the one i places before it.
        let gather = |first: &Self, rest: &mut dyn Iterator<Item = &Self>| -> Vec<Self> {
            let mut gathered = vec![first.clone()];
            for group in rest {
                let so_far = &gathered[gathered.len() - 1];
                gathered.push(Self::together(&[so_far, group]));
            }
            gathered
        };
        let before = gather(first, &mut rest.iter());
        let mut from_end = groups.iter().rev();
        let last = from_end.next().unwrap_or(first);
        let after = gather(last, &mut from_end);
        let n = groups.len();
        let without = (0..n).map(|i| match (i.checked_sub(1), n.checked_sub(i + 2)) {
            (Some(b), Some(a)) => Self::together(&[&before[b], &after[a]]),
            (Some(b), None) => before[b].clone(),
            (None, Some(a)) => after[a].clone(),
            (None, None) => first.clone(),
        });
        let all = before[n - 1].clone();
        std::iter::once(all).chain(without).collect()
    }

    /// The fit on all columns, the first of which is the intercept's: coefficients and contrasts are
    /// those of the observations, residuals those of the triangle, with the same sum of squares.
    pub fn fit(&self) -> Option<Fit> {
        let (y, design) = self.columns.split_last()?;
        Some(of_design(design, y))
    }

    /// Sum of squares of `y` less the columns named times the coefficients.
    pub fn misses(&self, named: &[usize], coefficients: &[f64]) -> f64 {
        let y = &self.columns[self.columns.len() - 1];
        let miss = |row: usize| {
            let told = named.iter().zip(coefficients);
            y[row] - told.map(|(&k, b)| b * self.columns[k][row]).sum::<f64>()
        };
        (0..y.len()).map(|row| miss(row).powi(2)).sum()
    }
}

/// The upper triangle of a QR factorisation by Householder reflections, a column each with as many
/// rows as there are columns (fewer where the rows are fewer).
fn triangle(mut columns: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let rows = columns.first().map_or(0, Vec::len);
    let kept = columns.len().min(rows);
    for k in 0..kept {
        let (done, rest) = columns.split_at_mut(k + 1);
        let pivot = &mut done[k][k..];
        let length = dot(pivot, pivot).sqrt();
        if length == 0.0 {
            continue;
        }
        let to = if pivot[0] > 0.0 { -length } else { length };
        pivot[0] -= to;
        let size = dot(pivot, pivot);
        for column in rest {
            let share = 2.0 * dot(pivot, &column[k..]) / size;
            let below = column[k..].iter_mut().zip(pivot.iter());
            below.for_each(|(x, v)| *x -= share * v);
        }
        pivot.fill(0.0);
        pivot[0] = to;
    }
    columns.iter_mut().for_each(|c| c.truncate(kept));
    columns
}
