use benchborne::flight::run_up::TimeConstant;
use benchborne::flight::{run_up, straights, velocity};
use benchborne::season::Rules;
use benchborne::simulate::{SeasonPlan, Sharing, fly};
#[path = "../tests/sim_log.rs"]
mod sim_log;
fn main() {
    let arg = |i: usize, d: f64| -> f64 {
        std::env::args()
            .nth(i)
            .and_then(|a| a.parse().ok())
            .unwrap_or(d)
    };
    let mut plan = SeasonPlan::coverage(48, 0.04, Sharing::EachDay, 4.0);
    plan.gust_m_s = arg(1, 0.8);
    plan.sensor_noise = arg(2, 1.0);
    let season = fly(&plan, 7).unwrap();
    let mut head = vec![(0.0, 0.0); 70];
    let mut tail = vec![(0.0, 0.0); 70];
    let mut offs = vec![];
    let mut offe = vec![];
    for f in &season.flights {
        let log = sim_log::log_of(&f.log);
        let v = velocity::of(&log).unwrap();
        let s = straights::find(&log, &v, &Rules::default(), f.truth.gps_lag_s);
        for u in &s.used {
            for p in &f.truth.passes {
                if (u.start_s - p.start_s).abs() < 3.0 {
                    offs.push(u.start_s - p.start_s);
                    offe.push(u.end_s - p.end_s);
                }
            }
        }
        let fit = run_up::fit(
            &s.used,
            TimeConstant::Pooled {
                value_s: if plan.flights[0].fan == 0 { 4.8 } else { 4.8 },
                se_s: 0.1,
            },
            None,
        )
        .unwrap();
        for p in &fit.passes {
            let n = p.time.len();
            for k in 0..n {
                let r = p.airspeed[k] - p.fitted[k];
                if k < 70 {
                    head[k].0 += r;
                    head[k].1 += 1.0;
                }
                if n - 1 - k < 70 {
                    tail[n - 1 - k].0 += r;
                    tail[n - 1 - k].1 += 1.0;
                }
            }
        }
    }
    use benchborne::stats::mean;
    println!("start offset {:.2} end {:.2}", mean(&offs), mean(&offe));
    print!("head");
    for h in head.iter().take(40).step_by(2) {
        print!(" {:+.3}", h.0 / h.1);
    }
    println!();
    print!("tail");
    for h in tail.iter().take(40).step_by(2) {
        print!(" {:+.3}", h.0 / h.1);
    }
    println!();
}
