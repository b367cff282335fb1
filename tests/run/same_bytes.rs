//! Same input, same bytes out, whatever the number of threads.

use benchborne::run::{RunOptions, run};

use super::folder::{Season, contents};

#[test]
fn reports_are_the_same_whatever_the_threads() {
    let season = Season::with(&["f01", "f02", "f05", "f06"]);
    let place = tempfile::tempdir().unwrap();
    let report = |name: &str, threads| {
        let out = place.path().join(name);
        run(&RunOptions {
            season: season.dir.clone(),
            out: out.clone(),
            threads: Some(threads),
            ..RunOptions::default()
        })
        .unwrap();
        contents(&out)
    };
    let first = report("first", 1);
    for kind in [".html", ".json", ".png", ".parquet"] {
        assert!(first.iter().any(|(name, _)| name.ends_with(kind)), "{kind}");
    }
    for (name, threads) in [("again", 1), ("two", 2), ("five", 5)] {
        let other = report(name, threads);
        let names =
            |files: &[(String, Vec<u8>)]| files.iter().map(|f| f.0.clone()).collect::<Vec<_>>();
        assert_eq!(names(&first), names(&other));
        for ((file, a), (_, b)) in first.iter().zip(&other) {
            assert!(a == b, "{file} differs with {threads} threads ({name})");
        }
    }
}
