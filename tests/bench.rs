//! The bench floor, against published worked numbers, open data and facts of the trade.

use benchborne::bench::{self, BenchRead, Censor, GainConditions, PowerSystemCurve, StaticGain};
use benchborne::ingest::{Channel, read_table};
use benchborne::season::{Season, SeasonText, load};

/// A season and its benches, read; tables by file name.
struct Bench {
    season: Season,
    reads: Vec<BenchRead>,
}

impl Bench {
    fn new(season_toml: &str, tables: &[(&str, &[u8])]) -> Self {
        let loaded = load(&SeasonText {
            season_toml,
            ..SeasonText::default()
        });
        let season = loaded
            .season
            .unwrap_or_else(|| panic!("{:?}", loaded.findings));
        let reads = season
            .benches
            .iter()
            .map(|decl| {
                let bytes = tables.iter().find(|t| t.0 == decl.file).expect("a table").1;
                bench::read_run(&read_table(bytes, &decl.file), decl, &season)
            })
            .collect::<Vec<_>>();
        for read in &reads {
            assert!(read.ledger.balances(), "{:?}", read.ledger);
        }
        Self { season, reads }
    }

    fn curve(&self, power: &str) -> PowerSystemCurve {
        let runs: Vec<_> = self.reads.iter().filter_map(|r| r.run.as_ref()).collect();
        bench::curve(power, &runs, &self.season).expect("a curve")
    }

    fn codes(&self) -> Vec<String> {
        let all = self.reads.iter().flat_map(|r| &r.findings);
        all.map(|f| f.code.clone()).collect()
    }

    fn has(&self, code: &str) -> bool {
        self.codes().iter().any(|c| c == code)
    }
}

fn gain<'a>(gains: &'a [StaticGain], quantity: &str, condition: &str) -> &'a StaticGain {
    gains
        .iter()
        .find(|g| g.quantity == quantity && g.condition == condition)
        .expect("every quantity under every condition")
}

#[test]
fn static_tests() {
    let dir = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("datasets/static-tests");
    let toml = std::fs::read_to_string(dir.join("season.toml")).unwrap();
    let names = [
        "bench/f4_11.csv",
        "bench/f4_7.csv",
        "bench/f5_11.csv",
        "bench/f5_7.csv",
    ];
    let bytes: Vec<Vec<u8>> = names
        .iter()
        .map(|n| std::fs::read(dir.join(n)).unwrap())
        .collect();
    let tables: Vec<(&str, &[u8])> = names
        .iter()
        .zip(&bytes)
        .map(|(n, b)| (*n, b.as_slice()))
        .collect();
    let b = Bench::new(&toml, &tables);
    for r in &b.reads {
        println!("{:?}", r.ledger);
        for f in &r.findings {
            println!("{f}");
        }
        for c in r.run.iter().flat_map(|r| &r.checks) {
            println!("   {c:?}");
        }
    }
    let (p, q) = (b.curve("propeller-4"), b.curve("propeller-5"));
    println!("{:?}\n{:?}", p.exponents, q.exponents);
    println!("{:?}\n{:?}", p.current, q.thrust);
    for f in p.findings.iter().chain(&q.findings) {
        println!("{f}");
    }
    for g in bench::static_gains(
        &p,
        &q,
        GainConditions {
            pack_resistance: Some((0.03, 0.01)),
            ..Default::default()
        },
    ) {
        println!(
            "{} {} {:?} [{:?} {:?}] u {:?} df {:?} at {:?} {:?} {:?} {} {}",
            g.quantity,
            g.condition,
            g.gain,
            g.low,
            g.high,
            g.u,
            g.degrees_of_freedom,
            g.reference_voltage_v,
            g.baseline_value,
            g.candidate_value,
            g.points,
            g.method
        );
    }
}
