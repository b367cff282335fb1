use benchborne::flight::{clock, velocity};
use benchborne::simulate::{LoggerKind, SeasonPlan, Sharing, fly};
#[path = "../tests/sim_log.rs"]
mod sim_log;
fn main() {
    let plan = SeasonPlan::coverage(6, 0.04, Sharing::EachDay, 4.0);
    for f in &fly(&plan, 7).unwrap().flights {
        let log = sim_log::log_of(&f.log);
        let v = velocity::of(&log).unwrap();
        let lag = clock::gps_lag(&log, &v);
        let mut l2 = log.clone();
        l2.channels.remove(&benchborne::ingest::Channel::Current);
        println!(
            "thr lag {:?}",
            clock::gps_lag(&l2, &v).map(|s| s.value_s - f.truth.gps_lag_s)
        );
        println!("lag {:?} true {:.2}", lag, f.truth.gps_lag_s);
    }
    let plan = plan.logger(LoggerKind::PowerAndTrack);
    for f in &fly(&plan, 7).unwrap().flights {
        let log = sim_log::log_of(&f.log);
        let track = sim_log::track_of(&f.log);
        let v = velocity::of(&track).unwrap();
        let t0 = std::time::Instant::now();
        let o = clock::offset(&log, &track, &v);
        let truth = f.log.track[0].time_s - f.truth.clock_offset_s - f.truth.gps_lag_s;
        match o {
            Ok(o) => println!(
                "offset {:?} true-lag {:.2} err {:+.2} {:?}",
                o,
                truth,
                o.offset.value_s - truth,
                t0.elapsed()
            ),
            Err(e) => println!("{e}"),
        }
        let mut l2 = log.clone();
        l2.channels
            .insert(benchborne::ingest::Channel::AngularSpeed, f.log.rpm.clone());
        println!(
            "rpm {:?}",
            clock::offset(&l2, &track, &v).map(|s| s.offset.value_s - truth)
        );
        let other = sim_log::track_of(&fly(&plan, 8).unwrap().flights[0].log);
        let v = velocity::of(&other).unwrap();
        match clock::offset(&log, &other, &v) {
            Ok(o) => println!("WRONG {:?}", o),
            Err(e) => println!("{e}"),
        }
    }
}
