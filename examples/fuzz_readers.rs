//! Throws seeded random and mutated inputs at every reader: `scripts/fuzz-readers [INPUTS]`.
//!
//! Every input must be read without a panic and within a second, whole and in pieces of 1 to 40 bytes
//! alike; rows in must be rows used and set aside, and a log must have rising times and channels as
//! long as its time. Half of the inputs are pieces of good files with bytes changed, cut, doubled and
//! moved; the rest are random bytes and random words of the format behind its first bytes. The seed of every input is its number.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::time::{Duration, Instant};

use arrow::array::{ArrayRef, Float64Array, RecordBatch, StringArray, TimestampMillisecondArray};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

#[path = "../tests/ingest/sound.rs"]
mod sound;
use sound::{DELIMITED, sound};

struct Target {
    name: &'static str,
    /// Good files to start from.
    seeds: Vec<Vec<u8>>,
    words: &'static [&'static str],
}

#[derive(Default, Clone)]
struct Tally {
    inputs: u64,
    rows_in: u64,
    rows_used: u64,
    logs: u64,
    failures: Vec<String>,
    slowest: Duration,
}

#[expect(clippy::print_stdout, reason = "an example prints")]
fn main() -> std::process::ExitCode {
    let mut arguments = std::env::args().skip(1);
    let inputs: u64 = arguments
        .next()
        .and_then(|n| n.parse().ok())
        .unwrap_or(200_000);
    let only = arguments.next();
    std::panic::set_hook(Box::new(|_| ()));
    println!("reader,inputs,logs,rows_in,rows_used,rows_set_aside,failures,slowest_ms");
    let mut failed = false;
    for target in targets() {
        if only.as_ref().is_some_and(|o| o != target.name) {
            continue;
        }
        let tally = (0..inputs)
            .into_par_iter()
            .fold(Tally::default, |tally, number| one(tally, &target, number))
            .reduce(Tally::default, add);
        println!(
            "{},{},{},{},{},{},{},{}",
            target.name,
            tally.inputs,
            tally.logs,
            tally.rows_in,
            tally.rows_used,
            tally.rows_in - tally.rows_used,
            tally.failures.len(),
            tally.slowest.as_millis()
        );
        for failure in tally.failures.iter().take(10) {
            println!("  {failure}");
        }
        failed |= !tally.failures.is_empty();
    }
    std::process::ExitCode::from(u8::from(failed))
}

fn add(mut a: Tally, b: Tally) -> Tally {
    a.inputs += b.inputs;
    a.rows_in += b.rows_in;
    a.rows_used += b.rows_used;
    a.logs += b.logs;
    a.failures.extend(b.failures);
    a.slowest = a.slowest.max(b.slowest);
    a
}

fn one(mut tally: Tally, target: &Target, number: u64) -> Tally {
    let bytes = input(target, number);
    let start = Instant::now();
    let outcome = catch_unwind(AssertUnwindSafe(|| sound(&bytes, 1 + number as usize % 40)));
    let took = start.elapsed();
    tally.inputs += 1;
    tally.slowest = tally.slowest.max(took);
    match outcome {
        Ok(Ok(read)) => {
            tally.rows_in += read.rows_in;
            tally.rows_used += read.rows_used;
            tally.logs += u64::from(read.log);
        }
        Ok(Err(what)) => tally.failures.push(format!("input {number}: {what}")),
        Err(panic) => {
            let words = panic.downcast_ref::<String>().cloned();
            let words = words.or_else(|| panic.downcast_ref::<&str>().map(|s| (*s).to_owned()));
            tally.failures.push(format!(
                "input {number} panics: {}",
                words.unwrap_or_default()
            ));
        }
    }
    if took > Duration::from_secs(1) {
        tally
            .failures
            .push(format!("input {number} takes {} ms", took.as_millis()));
    }
    tally
}

fn input(target: &Target, number: u64) -> Vec<u8> {
    let mut rng = ChaCha8Rng::seed_from_u64(number);
    let seed = &target.seeds[rng.random_range(0..target.seeds.len())];
    match rng.random_range(0..4) {
        0 => {
            let mut bytes = seed[..seed.len().min(8)].to_vec();
            let mut tail = vec![0; rng.random_range(0..300)];
            rng.fill_bytes(&mut tail);
            bytes.extend(tail);
            bytes
        }
        1 => {
            let count = rng.random_range(0..100);
            (0..count)
                .map(|_| target.words[rng.random_range(0..target.words.len())])
                .collect::<String>()
                .into_bytes()
        }
        _ => mutated(seed, &mut rng),
    }
}

fn mutated(seed: &[u8], rng: &mut ChaCha8Rng) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..rng.random_range(1..8) {
        if bytes.is_empty() {
            break;
        }
        let at = rng.random_range(0..bytes.len());
        let end = (at + rng.random_range(1..40)).min(bytes.len());
        match rng.random_range(0..6) {
            0 => bytes[at] = rng.random_range(0..=255),
            1 => bytes[at] ^= 1 << rng.random_range(0..8),
            2 => bytes.truncate(at.max(1)),
            3 => drop(bytes.drain(at..end)),
            4 => {
                let piece = bytes[at..end].to_vec();
                let to = rng.random_range(0..=bytes.len());
                bytes.splice(to..to, piece);
            }
            _ => {
                let piece = [0u8, 255, b'9', b'\n', b',', b'-'][rng.random_range(0..6)];
                bytes[at..end].fill(piece);
            }
        }
    }
    bytes
}

const GPX: &[&str] = &[
    "<gpx>",
    "<trk>",
    "<trkseg>",
    "<trkpt lat=\"1\" lon=\"2\">",
    "<time>",
    "2025-04-12T10:00:00Z",
    "</time>",
    "</trkpt>",
    "</gpx>",
    "<ele>",
    "9",
    "</ele>",
    "<!--",
    "-->",
    "&amp;",
    "<",
    "<speed>",
];
const NMEA: &[&str] = &[
    "$GPRMC,",
    "$GNGGA,",
    "$GPVTG,",
    "123519,",
    "A,",
    "V,",
    "4807.038,N,",
    "01131.000,E,",
    "022.4,",
    "230394,",
    "*6A",
    "*",
    "\r\n",
    "\n",
    ",",
    "1,08,0.9,545.4,M,",
    "$",
    "!",
    "9",
    "235959.99,",
];
const IGC: &[&str] = &[
    "B1016435346296N02025184EA0012200122",
    "\n",
    "HFDTE020911",
    "I023638TAS3941GSP",
    "I99",
    "B",
    "007",
    "A",
    "V",
    "-",
    "000000",
    "2359595346296S02025184WV-012200000\n",
    "é",
    "K",
    "99",
];
const COLUMNAR: &[&str] = &[
    "PAR1", "ARROW1", "\0\0", "\u{ff}", "unit", "time", "\u{1}", "\u{10}",
];

fn targets() -> Vec<Target> {
    let file = |name: &str| {
        let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
        let mut bytes = std::fs::read(path).unwrap_or_default();
        bytes.truncate(3000);
        bytes
    };
    let text = |t: &str| t.as_bytes().to_vec();
    let blanks = "time_s  volts  amps\n 0.0  16.8   1.2\n 0.1  16.7  12.5\n 0.2  16.5  80.0\n";
    let german = "Datum;Uhrzeit;Spannung [V];Strom [A]\n12.04.2025;10:00:00,1;16,8;1.234,5\n12.04.2025;10:00:00,2;16,7;80\n";
    let weeks =
        "GPS week;TOW (ms);Lat;Lon;Sats\n2361;554418000;48.1;16.2;9\n2361;554418200;0;0;3\n";
    let utf16 = german.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let mut sentences = file("tracks/sentences.nmea");
    sentences.extend(text("\n$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\n$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\n$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48\n"));
    let [parquet, ipc_file, ipc_stream] = columnar();
    let target = |name, seeds, words| Target { name, seeds, words };
    vec![
        target(
            "delimited",
            vec![
                file("static-tests/a1_7.csv"),
                file("seaplane/gps.csv"),
                file("csv-spectrum/newlines.csv"),
                text(blanks),
                text(german),
                text(weeks),
                utf16,
            ],
            DELIMITED,
        ),
        target(
            "gpx",
            vec![
                file("tracks/track_with_speed.gpx"),
                file("tracks/track-with-empty-segment.gpx"),
            ],
            GPX,
        ),
        target("nmea", vec![sentences], NMEA),
        target("igc", vec![file("tracks/soaring.igc")], IGC),
        target("parquet", vec![parquet], COLUMNAR),
        target("arrow-file", vec![ipc_file], COLUMNAR),
        target("arrow-stream", vec![ipc_stream], COLUMNAR),
    ]
}

fn columnar() -> [Vec<u8>; 3] {
    let stamps: Vec<i64> = (0..20).map(|i| 1_744_452_000_000 + 200 * i).collect();
    let volts: Vec<Option<f64>> = (0..20)
        .map(|i| (i != 7).then_some(16.8 - f64::from(i)))
        .collect();
    let columns: [(&str, ArrayRef); 3] = [
        (
            "time",
            Arc::new(TimestampMillisecondArray::from(stamps).with_timezone("UTC")),
        ),
        ("volts", Arc::new(Float64Array::from(volts))),
        ("note", Arc::new(StringArray::from(vec!["a"; 20]))),
    ];
    let mut out = [Vec::new(), Vec::new(), Vec::new()];
    // A failure here would leave an empty seed and show in the figures as no logs.
    let _ = write(columns, &mut out);
    out
}

fn write(
    columns: [(&str, ArrayRef); 3],
    out: &mut [Vec<u8>; 3],
) -> Result<(), Box<dyn std::error::Error>> {
    let batch = RecordBatch::try_from_iter(columns)?;
    let schema = batch.schema();
    let mut parquet = parquet::arrow::ArrowWriter::try_new(&mut out[0], schema.clone(), None)?;
    parquet.write(&batch)?;
    parquet.close()?;
    let mut file = arrow::ipc::writer::FileWriter::try_new(&mut out[1], &schema)?;
    file.write(&batch)?;
    file.finish()?;
    let mut stream = arrow::ipc::writer::StreamWriter::try_new(&mut out[2], &schema)?;
    stream.write(&batch)?;
    stream.finish()?;
    Ok(())
}
