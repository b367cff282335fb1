//! What two ways of measuring one thing differ by beyond their errors.

/// Multiple of the joint standard uncertainty beyond which two results disagree (95 %).
const DISAGREE: f64 = 2.0;

/// Standard deviation between methods whose results differ by `difference` with the joint standard
/// uncertainty `joint_u` (same unit); 0 where they agree.
///
/// Of two results the variance is expected to be that between methods and half the joint one:
/// DerSimonian and Laird, Controlled Clinical Trials 7 (1986) 177, for two results of equal weight
/// (cited from memory).
pub fn between_methods(difference: f64, joint_u: f64) -> f64 {
    if difference.abs() <= DISAGREE * joint_u {
        return 0.0;
    }
    (0.5 * (difference.powi(2) - joint_u.powi(2))).sqrt()
}
