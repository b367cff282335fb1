//! Statistics: pure functions, each with its source.

pub mod anova;
pub mod censored;
pub mod chance;
pub mod clopper_pearson;
pub mod components;
pub mod describe;
pub mod disagreement;
pub mod distributions;
pub mod estimate;
pub mod fieller;
pub mod flying_order;
pub mod gum;
pub mod holm;
pub mod huber;
pub mod jackknife;
pub mod linear;
pub mod monotone;
pub mod mover;
pub mod noncentral_t;
pub mod observed;
pub mod pava;
pub mod permutation;
pub mod planning;
pub mod power;
pub mod prediction;
pub mod quadrature;
pub mod rainflow;
pub mod theil_sen;
pub mod tolerance;
pub mod tost;
pub mod unequal;
pub mod verdict;
pub mod welch;

pub use describe::{mean, median, median_relative_half_width, quantile, sd};
pub use distributions::{NORMAL_95, normal_cdf, normal_quantile, t_cdf, t_quantile};
pub use gum::to_its_uncertainty;
