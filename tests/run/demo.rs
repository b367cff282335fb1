//! probe
use benchborne::run::analyse;
use std::path::Path;
#[test]
fn probe() {
    let a = analyse(Path::new("datasets/demo")).unwrap();
    let truth: serde_json::Value =
        serde_json::from_slice(&std::fs::read("datasets/demo/truth.json").unwrap()).unwrap();
    for f in &a.findings.ledger.findings {
        println!("{f}");
    }
    for f in &a.findings.ledger.files {
        println!("{f:?}");
    }
    for (row, t) in a
        .tables
        .flights
        .iter()
        .zip(truth["flights"].as_array().unwrap())
    {
        println!("---- {} {:?}", row.flight, row.power_source);
        let g = |k: &str| t[k].as_f64().unwrap();
        println!(
            "level {:?} ±{:?} sh {:?} truth {}  pull {:?}",
            row.level_speed_m_s,
            row.level_speed_se_m_s,
            row.level_speed_shared_error_m_s,
            g("level_speed_m_s"),
            row.level_speed_m_s.map(|v| (v - g("level_speed_m_s"))
                / row
                    .level_speed_se_m_s
                    .unwrap()
                    .hypot(row.level_speed_shared_error_m_s.unwrap_or(0.0)))
        );
        println!(
            "  src {} share {:?} tau {:?} passes {} / {}",
            row.level_speed_source, row.share_reached, row.time_constant_s, row.passes, t["passes"]
        );
        println!(
            "wind {:?} {:?} ± {:?} truth {} {}",
            row.wind_to_north_m_s,
            row.wind_to_east_m_s,
            row.wind_se_m_s,
            g("wind_north_m_s"),
            g("wind_east_m_s")
        );
        println!(
            "energy {:?} [{:?},{:?}] truth {}",
            row.energy_wh,
            row.energy_low_wh,
            row.energy_high_wh,
            g("energy_wh")
        );
        println!(
            "charge {:?} [{:?},{:?}] putback {:?} truth {}",
            row.charge_mah,
            row.charge_low_mah,
            row.charge_high_mah,
            row.put_back_mah,
            g("charge_mah")
        );
        println!(
            "R {:?} [{:?},{:?}] truth {} settled {}",
            row.pack_resistance_ohm,
            row.pack_resistance_low_ohm,
            row.pack_resistance_high_ohm,
            g("pack_resistance_ohm"),
            g("pack_resistance_settled_ohm")
        );
        println!(
            "clock {:?} ± {:?} truth {}",
            row.gps_clock_offset_s,
            row.gps_clock_offset_se_s,
            g("position_clock_ahead_s")
        );
        println!("gps lag {:?} truth {}", row.gps_lag_s, g("gps_lag_s"));
        println!(
            "V {:?} truth {}",
            row.pass_voltage_v,
            g("mean_pass_terminal_voltage_v")
        );
        println!(
            "reserve {:?} reached {} truth {}  airborne {:?} truth {}",
            row.to_reserve_s,
            row.reserve_reached,
            g("time_to_reserve_s"),
            row.airborne_s,
            g("landing_s") - g("take_off_s")
        );
        println!("rho {} truth {}", row.density_kg_m3, g("density_kg_m3"));
    }
    for q in &a.findings.questions {
        println!("== {} {:?}: {}", q.id, q.verdict, q.sentence);
        for (k, e) in &q.estimates {
            println!(
                "   {k}: {:?} [{:?}, {:?}] {} at {:?}",
                e.value,
                e.low,
                e.high,
                e.unit,
                e.at.iter()
                    .map(|(k, v)| (k.clone(), v.value))
                    .collect::<Vec<_>>()
            );
        }
        for m in &q.missing {
            println!("   missing {m}");
        }
        for m in &q.remarks {
            println!("   remark {m}");
        }
    }
    for u in &a.tables.unloading_by_speed {
        println!("{u:?}");
    }
    for u in &a.tables.static_gains {
        println!(
            "{} {} {:?} [{:?},{:?}] at {:?}",
            u.quantity, u.condition, u.gain, u.low, u.high, u.reference_voltage_v
        );
    }
    for e in &a.tables.estimate_errors {
        println!("{e:?}");
    }
}
