//! Statistics against published values. [V] the source (or a public transcription of it) was read;
//! [C] computed with numpy 2.4 / scipy 1.17 / statsmodels 0.15; [M] from memory, source not opened;
//! [D] derived by hand.

mod censored;
mod comparisons;
mod coverage;
mod curves;
mod describe;
mod distributions;
mod longley;
mod observed;
mod planning;
mod ratio;
mod regression;
mod resampling;
mod robust;
mod uncertainty;
mod unequal;
mod verdict;

/// Relative difference at most `tolerance` (absolute where `expected` is 0).
#[track_caller]
fn close(got: f64, expected: f64, tolerance: f64) {
    let scale = if expected == 0.0 { 1.0 } else { expected.abs() };
    assert!(
        (got - expected).abs() <= tolerance * scale,
        "got {got:.12}, expected {expected:.12}, off by {:.2e} of {tolerance:e} allowed",
        (got - expected).abs() / scale
    );
}
