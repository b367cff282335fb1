//! What a difference in mass makes of level top speed.
//!
//! In level flight thrust is drag. Of the drag a share f is induced and goes with (m/v)², the rest
//! with v²; thrust falls with speed as v^-k. Setting the relative changes equal,
//!
//! > −k·dlnv = (2 − 4f)·dlnv + 2f·dlnm, so dlnv/dlnm = −2f / (k + 2 − 4f).
//!
//! At top speed f is small: a heavier sister is slower by far less than it is heavier.

/// Share of the drag that is induced, at level top speed: from a light model on a long wing to a
/// heavy one on a short wing (ours, no source).
pub const INDUCED_SHARE: (f64, f64) = (0.005, 0.15);
/// How steeply thrust falls with speed: 1 where power is constant, x/(1 − x) for a jet of constant
/// exhaust speed at x = v/w (momentum theory, see [`super::momentum`]); x up to 0.89.
pub const THRUST_FALL: (f64, f64) = (1.0, 8.0);

/// dlnv/dlnm for an induced share of the drag and a fall of thrust.
pub fn speed_exponent(induced_share: f64, thrust_fall: f64) -> f64 {
    -2.0 * induced_share / (thrust_fall + 2.0 - 4.0 * induced_share)
}

/// The exponent where neither share nor fall is known: the middle of its range and its standard
/// uncertainty, the range taken as rectangular (JCGM 100:2008, 4.3.7).
pub fn usual_speed_exponent() -> (f64, f64) {
    let (weak, strong) = (
        speed_exponent(INDUCED_SHARE.0, THRUST_FALL.1),
        speed_exponent(INDUCED_SHARE.1, THRUST_FALL.0),
    );
    (
        0.5 * (weak + strong),
        crate::stats::gum::rectangular(0.5 * (weak - strong).abs()),
    )
}
