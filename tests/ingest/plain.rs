//! Text held in memory takes a quick way; the same text in pieces takes the general one. Whatever is in
//! it, both must read the same.

use benchborne::ingest::{ReadOptions, read_log, read_log_from};
use benchborne::season::ChannelDecl;
use proptest::prelude::*;

use super::data;
use super::sound::Pieces;

fn reads_alike(bytes: &[u8], options: &ReadOptions) {
    let quick = read_log(bytes, "a", options);
    let pieces = Pieces {
        bytes,
        most: 65_536,
    };
    let general = read_log_from(&pieces, "a", options);
    // Texts, so that absent values (NaN) and the sign of zero are compared too.
    let same = format!("{quick:?}") == format!("{general:?}");
    assert!(same, "{}", String::from_utf8_lossy(bytes));
}

fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        20 => (-3000i32..3000, 0usize..4)
            .prop_map(|(n, d)| format!("{:.d$}", f64::from(n) / 100.0)),
        4 => (0i32..200, 0u32..100).prop_map(|(a, b)| format!("{a},{b}")),
        2 => Just(String::new()),
        1 => prop::sample::select(vec![
            "-", "nan", ">100", "<5", "1e3", "+4.5", " 12.5 ", "-.5", "5.", ".", "--1", "1.2.3", "1,234",
            "12:30:05", "2025-04-12", "12 V", "n/a", "00012", "123456789012345678", "-0", "ERR", "\u{a0}7",
            "48°", "\u{b}", "1\t", "'4'", "Total",
        ])
        .prop_map(str::to_owned),
    ]
}

fn text() -> impl Strategy<Value = String> {
    let rows = prop::collection::vec(prop::collection::vec(cell(), 4), 1..60);
    let odd = prop::sample::select(vec![
        "",
        "",
        "",
        "time (s);throttle (%);volts (V);amps (A)",
        "# a comment",
        ";;;",
        "---;---",
        "1;2",
        "Total;3;4;5",
        "1;2;3;4;5;6",
        "\"a;b\";1;2;3",
    ]);
    (
        rows,
        prop::sample::select(vec![",", ";", "\t", "|"]),
        prop::sample::select(vec!["\n", "\r\n", "\r"]),
        prop::collection::vec((0usize..60, odd), 0..3),
        any::<bool>(),
        any::<bool>(),
    )
        .prop_map(|(rows, delimiter, end, odd, counted, ended)| {
            let mut lines = vec!["time (s);throttle (%);volts (V);amps (A)".to_owned()];
            for (n, mut cells) in rows.into_iter().enumerate() {
                if counted {
                    cells[0] = format!("{:.2}", n as f64 * 0.05);
                }
                lines.push(cells.join(";"));
            }
            for (at, line) in odd {
                lines.insert((1 + at).min(lines.len()), line.to_owned());
            }
            let mut text = lines.join(end).replace(';', delimiter);
            if ended {
                text += end;
            }
            text
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]
    #[test]
    fn the_quick_way_reads_what_the_general_one_reads(text in text()) {
        let mut options = ReadOptions::default();
        reads_alike(text.as_bytes(), &options);
        let decl = ChannelDecl {
            column: "volts (V)".to_owned(),
            decimal: Some(','),
            ..ChannelDecl::default()
        };
        options.channels.insert("voltage".to_owned(), decl);
        reads_alike(text.as_bytes(), &options);
    }
}

#[test]
fn files_of_the_demo_season_and_of_others_read_alike() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/datasets/demo/logs");
    let mut logs: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "csv"))
        .collect();
    logs.sort();
    assert!(logs.len() > 10);
    for log in logs.iter().step_by(3) {
        reads_alike(&std::fs::read(log).unwrap(), &ReadOptions::default());
    }
    for name in ["seaplane/gps.csv", "seaplane/battery.csv"] {
        reads_alike(&data(name), &ReadOptions::default());
    }
}

/// The nearest double of a decimal, as the standard library rounds it (IEEE 754 to nearest, ties to
/// even), whatever its length.
#[test]
fn numbers_are_the_nearest_doubles() {
    let mut text = String::from("time (s),height (m)\n");
    let mut written = Vec::new();
    for row in 0..4000u64 {
        let whole = row.wrapping_mul(6_364_136_223_846_793_005) >> 20;
        let decimals = (row % 13) as usize;
        let digits = format!("{:014}", whole % 100_000_000_000_000);
        let (left, right) = digits.split_at(digits.len() - decimals);
        let sign = if row % 3 == 0 { "-" } else { "" };
        let number = if right.is_empty() {
            left.to_owned()
        } else {
            format!("{left}.{right}")
        };
        text += &format!("{row},{sign}{number}\n");
        written.push(format!("{sign}{number}").parse::<f64>().unwrap());
    }
    let map = ChannelDecl {
        column: "height (m)".to_owned(),
        unit: Some("m".to_owned()),
        ..ChannelDecl::default()
    };
    let options = ReadOptions {
        channels: [("height".to_owned(), map)].into(),
        ..ReadOptions::default()
    };
    let log = read_log(text.as_bytes(), "a", &options).log.unwrap();
    let height = log.get(benchborne::ingest::Channel::Height).unwrap();
    let pairs = height
        .iter()
        .zip(&written)
        .filter(|(read, _)| read.is_finite());
    assert!(pairs.clone().count() > 3000);
    for (read, written) in pairs {
        // A unit without an offset adds zero, which takes the sign off a zero.
        assert_eq!(read.to_bits(), (written + 0.0).to_bits());
    }
}
