//! A column's course in a few block characters.

/// Characters of a sparkline.
pub const WIDTH: usize = 10;
const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// Means of equal stretches of rows between the column's least and greatest value; a blank where a
/// stretch holds none, no line where the column holds none.
pub fn sparkline(values: impl ExactSizeIterator<Item = Option<f64>>) -> String {
    let rows = values.len();
    let width = WIDTH.min(rows);
    let mut bins = vec![(0.0, 0usize); width];
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    for (row, value) in values.enumerate() {
        let Some(x) = value.filter(|x| x.is_finite()) else {
            continue;
        };
        let bin = &mut bins[row * width / rows];
        bin.0 += x;
        bin.1 += 1;
        (least, most) = (least.min(x), most.max(x));
    }
    if least > most {
        return String::new();
    }
    let span = most - least;
    let block = |mean: f64| {
        let height = if span > 0.0 {
            (mean - least) / span
        } else {
            0.0
        };
        BLOCKS[((height * 8.0) as usize).min(7)]
    };
    bins.iter()
        .map(|&(sum, n)| if n == 0 { ' ' } else { block(sum / n as f64) })
        .collect()
}
