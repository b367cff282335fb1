//! Reads one log and prints its rows, channels, time taken and the largest memory the process held
//! (Linux: VmHWM).

use benchborne::ingest::{ReadOptions, Source, read_log_from};
use benchborne::run::OnDisk;

#[expect(clippy::print_stdout, reason = "an example prints")]
fn main() -> std::io::Result<()> {
    let Some(file) = std::env::args().nth(1) else {
        return Err(std::io::Error::other("usage: read_log FILE"));
    };
    let source = OnDisk::new(&file);
    let start = std::time::Instant::now();
    let read = read_log_from(&source, &file, &ReadOptions::default());
    let took = start.elapsed().as_secs_f64();
    let channels = read.log.as_ref().map_or(0, |l| l.channels.len());
    println!("text: {:.1} MB", source.length()? as f64 / 1e6);
    println!(
        "rows: {} in, {} used; channels: {channels}",
        read.ledger.rows_in, read.ledger.rows_used
    );
    let columns = read.ledger.rows_used as f64 * (12.0 + 8.0 * channels as f64);
    println!("columns: {:.1} MB; read in {took:.1} s", columns / 1e6);
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    for line in status.lines().filter(|l| l.starts_with("VmHWM")) {
        println!("{line}");
    }
    Ok(())
}
