//! The committed demo season: what is written is what is committed, and it holds what it promises.

use std::path::Path;

use benchborne::simulate::demo;

#[test]
fn the_committed_demo_season_is_what_is_written() {
    let committed = Path::new(env!("CARGO_MANIFEST_DIR")).join("datasets/demo");
    let folder = tempfile::tempdir().unwrap();
    demo::write(folder.path()).unwrap();
    let list = |root: &Path| {
        let mut found = Vec::new();
        for sub in ["", "bench", "logs"] {
            for entry in std::fs::read_dir(root.join(sub)).unwrap() {
                let path = entry.unwrap().path();
                if path.is_file() {
                    found.push(path.strip_prefix(root).unwrap().to_path_buf());
                }
            }
        }
        found.sort();
        found
    };
    let files = list(folder.path());
    assert_eq!(files, list(&committed));
    let mut total = 0;
    for file in files {
        let written = std::fs::read(folder.path().join(&file)).unwrap();
        total += written.len();
        let same = written == std::fs::read(committed.join(&file)).unwrap();
        assert!(
            same,
            "{} differs from what `demo::write` gives",
            file.display()
        );
    }
    assert!(total < 5_000_000, "{total} bytes");
}

#[test]
fn the_demo_season_holds_the_oddities_it_promises() {
    let files = demo::files().unwrap();
    let text = |path: &str| {
        let file = files.iter().find(|file| file.path == path).unwrap();
        file.bytes
            .iter()
            .map(|&byte| byte as char)
            .collect::<String>()
    };
    let restarted = text("logs/radio-2025-04-12-1137.csv");
    assert_eq!(restarted.matches("Date;Time;Throttle").count(), 2);
    assert!(restarted.contains("Air;12,0 \u{b0}C\r\n"));
    assert!(!text("logs/radio-2025-05-24-1005.csv").contains("Current"));
    let cut = text("logs/power-2025-05-03-1221.csv");
    assert!(!cut.ends_with('\n') && cut.lines().last().unwrap().split(',').count() < 5);
    assert!(text("bench/eleven-blade.csv").contains(",>260,"));
    assert!(!text("bench/six-blade.csv").contains('>'));
    assert!(text("logbook.csv").contains("\"\"<b>smoother</b> than before\"\""));
    assert!(text("season.toml").contains("invented = true"));
    assert!(text("logs/track-2025-04-12-1041.gpx").contains("<p:speed>"));
    assert!(!text("logs/track-2025-04-12-1208.gpx").contains("speed>"));
    let truth: serde_json::Value = serde_json::from_str(&text("truth.json")).unwrap();
    assert!(truth["_about"].as_str().unwrap().contains("Never an input"));
    assert_eq!(truth["speed_gain_same_pack"], 0.04);
    assert_eq!(truth["static_thrust_gain"], 0.2);
    assert_eq!(truth["static_current_gain"], 0.12);
    let clocks: Vec<f64> = truth["flights"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|flight| flight["position_clock_ahead_s"].as_f64())
        .filter(|offset| *offset != 0.0)
        .collect();
    assert_eq!(clocks.len(), 8);
    assert!(
        clocks
            .windows(2)
            .all(|pair| (pair[0] - pair[1]).abs() > 0.1)
    );
}
