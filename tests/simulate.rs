//! The simulator against its own promises.

use benchborne::simulate::{SeasonPlan, Sharing, fly};

#[test]
fn the_effect_asked_for_is_the_effect_flown() {
    for effect in [0.0, 0.02, 0.04, 0.08] {
        let plan = SeasonPlan::coverage(1, effect, Sharing::EachDay, 3.0);
        let season = fly(&plan, 7).unwrap();
        assert!((season.truth.speed_gain_same_pack - effect).abs() < 1e-6);
    }
}
#[test]
fn scratch_write() {
    benchborne::simulate::demo::write(std::path::Path::new("datasets/demo")).unwrap();
}
