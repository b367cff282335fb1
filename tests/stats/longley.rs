//! NIST StRD Longley: sixteen years, six columns that nearly repeat each other. Data and certified
//! values as statsmodels ships them (`datasets/longley`, and `regression/tests/results`, which name
//! NIST StRD as their source).

use benchborne::stats::linear::fit;

use super::close;

/// Employment, then price deflator, product, unemployed, armed forces, population, year.
const LONGLEY: [[f64; 7]; 16] = [
    [60323., 83.0, 234289., 2356., 1590., 107608., 1947.],
    [61122., 88.5, 259426., 2325., 1456., 108632., 1948.],
    [60171., 88.2, 258054., 3682., 1616., 109773., 1949.],
    [61187., 89.5, 284599., 3351., 1650., 110929., 1950.],
    [63221., 96.2, 328975., 2099., 3099., 112075., 1951.],
    [63639., 98.1, 346999., 1932., 3594., 113270., 1952.],
    [64989., 99.0, 365385., 1870., 3547., 115094., 1953.],
    [63761., 100.0, 363112., 3578., 3350., 116219., 1954.],
    [66019., 101.2, 397469., 2904., 3048., 117388., 1955.],
    [67857., 104.6, 419180., 2822., 2857., 118734., 1956.],
    [68169., 108.4, 442769., 2936., 2798., 120445., 1957.],
    [66513., 110.8, 444546., 4681., 2637., 121950., 1958.],
    [68655., 112.6, 482704., 3813., 2552., 123366., 1959.],
    [69564., 114.2, 502601., 3931., 2514., 125368., 1960.],
    [69331., 115.7, 518173., 4806., 2572., 127852., 1961.],
    [70551., 116.9, 554894., 4007., 2827., 130081., 1962.],
];

/// Certified coefficients with their standard errors, the intercept first.
const CERTIFIED: [(f64, f64); 7] = [
    (-3_482_258.634_595_82, 890_420.383_607_373),
    (15.061_872_271_373_3, 84.914_925_774_766_9),
    (-0.358_191_792_925_910e-1, 0.334_910_077_722_432e-1),
    (-2.020_229_803_816_83, 0.488_399_681_651_699),
    (-1.033_226_867_173_59, 0.214_274_163_161_675),
    (-0.511_041_056_535_807e-1, 0.226_073_200_069_370),
    (1_829.151_464_613_55, 455.478_499_142_212),
];

#[test]
fn nist_longley() {
    let y: Vec<f64> = LONGLEY.iter().map(|row| row[0]).collect();
    let columns: Vec<Vec<f64>> = (1..7)
        .map(|k| LONGLEY.iter().map(|row| row[k]).collect())
        .collect();
    let found = fit(&columns, &y).unwrap();
    assert_eq!((found.rank, found.df), (7, 9));
    for (i, (value, se)) in CERTIFIED.into_iter().enumerate() {
        close(found.coefficients[i], value, 1e-9);
        close(found.coefficient(i).unwrap().se, se, 1e-9);
    }
    close(found.s * found.s, 92_936.006_167_323_8, 1e-9);
    close(found.r_squared, 0.995_479_004_577_296, 1e-12);
    close(found.f, 330.285_339_234_588, 1e-9);
}
