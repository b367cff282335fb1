use benchborne::flight::run_up::{TimeConstant, model::Shape};
use benchborne::flight::{run_up, straights, velocity};
use benchborne::season::Rules;
use benchborne::simulate::{SeasonPlan, Sharing, fly};
#[path = "../tests/sim_log.rs"]
mod sim_log;
fn main() {
    let wind: f64 = std::env::args()
        .nth(1)
        .and_then(|a| a.parse().ok())
        .unwrap_or(4.0);
    let n: usize = std::env::args()
        .nth(2)
        .and_then(|a| a.parse().ok())
        .unwrap_or(6);
    let mut plan = SeasonPlan::coverage(n, 0.04, Sharing::EachDay, wind);
    plan.gps_rate_hz = std::env::args()
        .nth(3)
        .and_then(|a| a.parse().ok())
        .unwrap_or(10.0);
    let arg = |i: usize, d: f64| -> f64 {
        std::env::args()
            .nth(i)
            .and_then(|a| a.parse().ok())
            .unwrap_or(d)
    };
    plan.gust_m_s = arg(4, 0.8);
    plan.sensor_noise = arg(5, 1.0);
    let quiet = arg(6, 0.0) > 0.0;
    let season = fly(&plan, arg(8, 7.0) as u64).unwrap();
    for shape in [Shape::Exponential, Shape::Jet] {
        let mut all = Vec::new();
        for f in &season.flights {
            let log = sim_log::log_of(&f.log);
            let v = velocity::of(&log).unwrap();
            let s = straights::find(
                &log,
                &v,
                &Rules::default(),
                if arg(7, 0.0) > 0.0 {
                    benchborne::flight::clock::gps_lag(&log, &v).map_or(0.3, |l| {
                        if (l.value_s - f.truth.gps_lag_s).abs() > 0.15 && shape == Shape::Jet {
                            println!("lag {:?} {}", l, f.truth.gps_lag_s);
                        }
                        l.value_s
                    })
                } else {
                    f.truth.gps_lag_s
                },
            );
            if !quiet && shape == Shape::Exponential && all.is_empty() {
                println!(
                    "update {} held {} spikes {} src {:?}",
                    v.update_s, v.held_rows, v.spikes, v.source
                );
                for p in &f.truth.passes {
                    println!(
                        "true {:.2}-{:.2} entry {:.1} exit {:.1} level {:.2} V {:.2}",
                        p.start_s,
                        p.end_s,
                        p.entry_airspeed,
                        p.exit_airspeed,
                        p.level_speed,
                        p.mean_voltage
                    );
                }
                for p in &s.used {
                    println!(
                        "used {:.2}-{:.2} n {} V {:.2} dh {:.1}",
                        p.start_s,
                        p.end_s,
                        p.time.len(),
                        p.mean_voltage_v.unwrap(),
                        p.height_change_m.unwrap()
                    );
                }
                for p in &s.set_aside {
                    println!(
                        "aside {:.2}-{:.2} {}",
                        p.straight.start_s, p.straight.end_s, p.why
                    );
                }
                println!("{:?}", s.findings);
            }
            let t0 = std::time::Instant::now();
            let fit = run_up::fit_shaped(&s.used, TimeConstant::Free, None, shape);
            let dt = t0.elapsed();
            match fit {
                Ok(fit) => {
                    let t = &f.truth;
                    if !quiet {
                        println!(
                            "{shape:?} level {:.2} true {:.2} err {:+.2}% se {:.2} tau {:.2}±{:.2} dL/dtau {:.2} wind {:.1},{:.1} (true {:.1},{:.1}) se {:.1} share {:.3} rms {:.2} V {:.2}/{:.2} {:?}",
                            fit.level_speed_m_s,
                            t.level_speed,
                            100.0 * (fit.level_speed_m_s / t.level_speed - 1.0),
                            fit.level_speed_se_m_s,
                            fit.time_constant_s,
                            fit.time_constant_se_s,
                            fit.level_by_time_constant,
                            fit.wind.north_m_s,
                            fit.wind.east_m_s,
                            t.wind_north,
                            t.wind_east,
                            fit.wind.se_m_s,
                            fit.share_reached,
                            fit.residual_rms_m_s,
                            fit.voltage_v.unwrap(),
                            t.pass_voltage,
                            dt
                        );
                    }
                    all.push((fit, s, t.clone()));
                }
                Err(e) => println!("{e}"),
            }
        }
        for fan in 0..2 {
            let mine: Vec<_> = all
                .iter()
                .zip(&plan.flights)
                .filter(|(_, p)| p.fan == fan)
                .map(|(a, _)| a)
                .collect();
            let fits: Vec<_> = mine.iter().map(|a| a.0.clone()).collect();
            let pooled = run_up::pool(&fits).unwrap();
            let errs: Vec<f64> = mine
                .iter()
                .map(|(_, s, t)| {
                    let fit = run_up::fit_shaped(&s.used, pooled.for_fit(), None, shape).unwrap();
                    100.0
                        * (fit.level_speed_m_s
                            * (t.pass_voltage / fit.voltage_v.unwrap()).powf(0.97)
                            / t.level_speed
                            - 1.0)
                })
                .collect();
            let free: Vec<f64> = mine
                .iter()
                .map(|(f, _, t)| {
                    100.0
                        * (f.level_speed_m_s * (t.pass_voltage / f.voltage_v.unwrap()).powf(0.97)
                            / t.level_speed
                            - 1.0)
                })
                .collect();
            use benchborne::stats::{mean, sd};
            println!(
                "{shape:?} fan {fan} tau {:.2}±{:.2}; pooled bias {:+.3} sd {:.3}; free bias {:+.3} sd {:.3}",
                pooled.value_s,
                pooled.se_s,
                mean(&errs),
                sd(&errs),
                mean(&free),
                sd(&free)
            );
        }
    }
}
