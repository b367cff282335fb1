//! Statistics: pure functions, each with its source.

pub mod describe;
pub mod distributions;
pub mod estimate;
pub mod monotone;

pub use describe::{mean, median, quantile, sd};
pub use distributions::{normal_cdf, normal_quantile, t_cdf, t_quantile};
