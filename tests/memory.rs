//! How much memory a long log takes: its columns, never its text. Measured as the kernel counts it.

#![cfg(target_os = "linux")]

use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

/// Recognised columns of the log below, time among them.
const RECOGNISED: usize = 10;
/// Columns in all.
const COLUMNS: usize = 49;

fn long_log(path: &Path, rows: usize) {
    let mut text = String::from(
        "time_s,throttle_pct,voltage_V,current_A,rpm,speed_m/s,height_m,lat,lon,motor_temp_C",
    );
    for column in RECOGNISED..COLUMNS {
        let _ = write!(text, ",note{column}");
    }
    text.push('\n');
    for row in 0..rows {
        let wave = ((row % 500) as f64 / 80.0).sin();
        let _ = write!(
            text,
            "{:.2},{:.1},{:.3},{:.2},{},{:.2},{:.1},{:.6},{:.6},{:.1}",
            row as f64 * 0.02,
            60.0 + 30.0 * wave,
            23.0 - wave,
            50.0 + 20.0 * wave,
            30_000 + row % 700,
            40.0 + 10.0 * wave,
            90.0 + 40.0 * wave,
            48.2 + 1e-3 * wave,
            16.3 + 1e-3 * wave,
            40.0 + 5.0 * wave
        );
        for column in RECOGNISED..COLUMNS {
            let _ = write!(text, ",{}", (row * column) % 1000);
        }
        text.push('\n');
    }
    std::fs::write(path, text).unwrap();
}

/// Peak resident memory of `look`, bytes.
fn peak(file: &Path) -> u64 {
    let mut child = Command::new(env!("CARGO_BIN_EXE_benchborne"))
        .arg("look")
        .arg(file)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut peak = 0;
    while child.try_wait().unwrap().is_none() {
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let high = text.lines().find_map(|l| l.strip_prefix("VmHWM:"));
        let kib = high.and_then(|h| h.trim().trim_end_matches(" kB").parse::<u64>().ok());
        peak = peak.max(kib.unwrap_or(0) * 1024);
        std::thread::sleep(Duration::from_millis(2));
    }
    peak
}

#[test]
fn looking_into_a_long_log_holds_its_columns_and_never_its_text() {
    let folder = tempfile::tempdir().unwrap();
    let (short, long) = (
        folder.path().join("short.csv"),
        folder.path().join("long.csv"),
    );
    let (few, many) = (10_000, 90_000);
    long_log(&short, few);
    long_log(&long, many);
    let text = long.metadata().unwrap().len() - short.metadata().unwrap().len();
    let grown = peak(&long).saturating_sub(peak(&short));
    let columns = ((many - few) * RECOGNISED * size_of::<f64>()) as u64;
    assert!(
        grown < 2 * columns,
        "{grown} bytes more for {columns} bytes of columns"
    );
    assert!(grown < text, "{grown} bytes more for {text} bytes of text");
    // A measure that sees nothing would pass, too.
    assert!(
        grown > columns / 2,
        "{grown} bytes more for {columns} bytes of columns"
    );
}
