//! A column's course in a few block characters.

/// Characters of a sparkline.
pub const WIDTH: usize = 10;
const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// A column's course, value by value.
#[derive(Debug, Clone)]
pub struct Spark {
    rows: usize,
    bins: Vec<(f64, usize)>,
    least: f64,
    most: f64,
}

impl Spark {
    pub fn new(rows: usize) -> Self {
        Self {
            rows,
            bins: vec![(0.0, 0); WIDTH.min(rows)],
            least: f64::INFINITY,
            most: f64::NEG_INFINITY,
        }
    }

    pub fn add(&mut self, row: usize, x: f64) {
        let place = row * self.bins.len() / self.rows.max(1);
        let Some(bin) = self.bins.get_mut(place) else {
            return;
        };
        bin.0 += x;
        bin.1 += 1;
        (self.least, self.most) = (self.least.min(x), self.most.max(x));
    }

    /// Means of equal stretches of rows between the column's least and greatest value; a blank where a
    /// stretch holds none, no line where the column holds none.
    pub fn line(&self) -> String {
        if self.least > self.most {
            return String::new();
        }
        let span = self.most - self.least;
        let block = |mean: f64| {
            let height = if span > 0.0 {
                (mean - self.least) / span
            } else {
                0.0
            };
            BLOCKS[((height * 8.0) as usize).min(7)]
        };
        self.bins
            .iter()
            .map(|&(sum, n)| if n == 0 { ' ' } else { block(sum / n as f64) })
            .collect()
    }
}

/// The line of values at hand.
pub fn sparkline(values: &[f64]) -> String {
    let mut spark = Spark::new(values.len());
    for (row, x) in values.iter().enumerate().filter(|(_, x)| x.is_finite()) {
        spark.add(row, *x);
    }
    spark.line()
}
