//! A simulator of seasons with a known truth. Imports nothing from the rest of the crate, so that
//! no mistake in the analysis can hide in the data it is tried on.
//!
//! ```
//! use benchborne::simulate::{SeasonPlan, Sharing, fly};
//!
//! let plan = SeasonPlan::coverage(1, 0.04, Sharing::EachDay, 3.0);
//! let season = fly(&plan, 7).expect("the plan holds an airframe, fans and a pack");
//! assert_eq!(season.flights.len(), 2);
//! assert!((season.truth.speed_gain_same_pack - 0.04).abs() < 1e-6);
//! ```

pub mod bench;
pub mod demo;
mod demo_plan;
mod demo_text;
mod demo_truth;
pub mod export;
pub mod fly;
pub mod jet;
mod noise;
pub mod physics;
mod pilot;
pub mod season;
pub mod sensors;
pub mod truth;
pub mod tune;

pub use fly::{SimulatedFlight, SimulatedSeason, fly, fly_one, fly_tuned};
pub use pilot::Straight;
pub use season::{
    AirframePlan, DayPlan, FanPlan, FlightPlan, LoggerKind, PackPlan, SeasonPlan, Sharing,
};
pub use sensors::{Fix, SimLog};
pub use truth::{FlightTruth, PassTruth, SeasonTruth};
pub use tune::Tuned;
