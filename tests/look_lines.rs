//! A test for each promise of `look`, `new` and the ledger, kept by the command itself.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;
use tempfile::TempDir;

fn command(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_benchborne"))
        .args(arguments)
        .output()
        .unwrap()
}

/// A folder with one log; its path.
fn with(text: impl AsRef<[u8]>) -> (TempDir, String) {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("log.csv");
    fs::write(&path, text).unwrap();
    let name = path.to_str().unwrap().to_owned();
    (dir, name)
}

fn shown(output: Output) -> String {
    String::from_utf8(output.stdout).unwrap()
}

fn as_csv(text: impl AsRef<[u8]>) -> String {
    let (_dir, path) = with(text);
    let output = command(&["look", "--as", "csv", &path]);
    assert_eq!(output.status.code(), Some(0));
    shown(output)
}

fn json(path: &str) -> Value {
    let looks: Value = serde_json::from_str(&shown(command(&["look", "--json", path]))).unwrap();
    looks[0].clone()
}

/// A short row in line 4, one with a cell too many in line 6, another short one in line 7.
const RAGGED: &str =
    "Time (s);Volts;Amps\n0;16.8;1\n1;16.7;2\n2;16.6\n3;16.5;4\n4;16.4;5;9\n5;16\n6;16.2;7\n";

#[test]
fn look_shows_one_screen_a_file() {
    let (_dir, path) = with(RAGGED);
    let text = shown(command(&["look", &path, &path]));
    assert_eq!(text.matches("log.csv: onboard log").count(), 2, "{text}");
    let lines = text.lines().count();
    assert!(lines < 2 * 40, "{lines} lines for two files");
    for words in [
        "delimiter semicolon",
        "7 in, 4 used, 3 set aside",
        "Volts",
        "voltage",
    ] {
        assert!(text.contains(words), "no '{words}' in\n{text}");
    }
}

#[test]
fn look_says_how_sure_a_guess_is_and_the_line_that_overrules_it() {
    let (_dir, path) = with("clock,bat_V,amps\n0,16.8,1\n20,16.7,2\n40,16.6,3\n");
    let look = json(&path);
    let volts = &look["columns"][1];
    assert_eq!(
        (&volts["channel"], &volts["unit"]),
        (&"voltage".into(), &"V".into())
    );
    let time = &look["columns"][0];
    assert_eq!(time["certainty"], "guess");
    let screen = shown(command(&["look", &path]));
    assert!(
        screen.contains("time = { column = \"clock\", unit = \"s\" }"),
        "{screen}"
    );
}

#[test]
fn look_json() {
    let (_dir, path) = with(RAGGED);
    let look = json(&path);
    assert_eq!(
        (&look["kind"], &look["format"]),
        (&"onboard-log".into(), &"delimited".into())
    );
    let channels: Vec<&str> = look["columns"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c["channel"].as_str().unwrap())
        .collect();
    assert_eq!(channels, ["time", "voltage", "current"]);
    let ledger = &look["ledger"];
    assert_eq!(
        [
            &ledger["rows_in"],
            &ledger["rows_used"],
            &ledger["rows_set_aside"]
        ],
        [7, 4, 3]
    );
}

/// RFC 4180: CRLF after each record (2.1, 2.2), quotes where a cell holds a comma, a quote or a line
/// end (2.6), quotes within written twice (2.7), every record of the same width (2.4).
#[test]
fn look_as_csv_is_rfc_4180() {
    let text = "a;b;c\n1;x, y;2\n3;\"say \"\"hm\"\"\";4\n5;\"two\nlines\";6\n";
    assert_eq!(
        as_csv(text),
        "a,b,c\r\n1,\"x, y\",2\r\n3,\"say \"\"hm\"\"\",4\r\n5,\"two\nlines\",6\r\n"
    );
}

#[test]
fn look_as_csv_is_utf_8() {
    let utf_16: Vec<u8> = "Höhe\t°C\r\n1\t2\r\n3\t4\r\n"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    for bytes in [
        utf_16,
        b"H\xf6he\t\xb0C\r\n1\t2\r\n3\t4\r\n".to_vec(),
        "\u{feff}Höhe\t°C\r\n1\t2\r\n3\t4\r\n".into(),
    ] {
        // Without a byte order mark.
        assert_eq!(as_csv(bytes), "Höhe,°C\r\n1,2\r\n3,4\r\n");
    }
}

#[test]
fn look_as_csv_leaves_cells_unchanged() {
    let text = "Time (ms);Volts\n007;16,80\n008; >17\n009;1.600,50\n010;n/a\n";
    assert_eq!(
        as_csv(text),
        "Time (ms),Volts\r\n007,\"16,80\"\r\n008, >17\r\n009,\"1.600,50\"\r\n010,n/a\r\n"
    );
}

#[test]
fn look_as_csv_leaves_preamble_and_footer_out() {
    let text = "Logger 7\nPilot: nobody\n\ntime,volts\n0,16.8\n1,16.7\n2,16.6\nEnd of log\n";
    assert_eq!(as_csv(text), "time,volts\r\n0,16.8\r\n1,16.7\r\n2,16.6\r\n");
}

#[test]
fn look_as_csv_joins_two_header_rows_by_a_blank() {
    assert_eq!(
        as_csv("time,volts,note\ns,V,\n0,16.8,a\n1,16.7,b\n"),
        "time s,volts V,note\r\n0,16.8,a\r\n1,16.7,b\r\n"
    );
}

#[test]
fn look_as_csv_invents_no_header() {
    assert_eq!(as_csv("0;16.8\n1;16.7\n"), "0,16.8\r\n1,16.7\r\n");
}

/// The demo's own files in a folder of their own.
fn logs() -> TempDir {
    let dir = tempfile::tempdir().unwrap();
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("datasets/demo/bench");
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        fs::copy(entry.path(), dir.path().join(entry.file_name())).unwrap();
    }
    dir
}

#[test]
fn new_dir_writes_an_annotated_season_and_a_logbook() {
    let dir = logs();
    fs::write(dir.path().join("log-2025-04-12-1030.csv"), RAGGED).unwrap();
    let output = command(&["new", dir.path().to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0));
    let season = fs::read_to_string(dir.path().join("season.toml")).unwrap();
    for words in [
        "# guessed:",
        "# fill in:",
        "file = \"six-blade.csv\"",
        "[power.six-blade]",
        "[[logs]]",
    ] {
        assert!(season.contains(words), "no '{words}' in\n{season}");
    }
    let logbook = fs::read_to_string(dir.path().join("logbook.csv")).unwrap();
    let row = logbook.lines().nth(1).unwrap();
    assert!(
        row.contains("2025-04-12,10:30") && row.contains("log-2025-04-12-1030.csv"),
        "{logbook}"
    );
    assert_eq!(logbook.lines().count(), 2);
}

/// A folder of photos, documents and source code: every file is named with what it is, and the season
/// file holds nothing of them.
#[test]
fn a_foreign_folder_is_told_in_words_and_nothing_is_taken_from_it() {
    let dir = tempfile::tempdir().unwrap();
    let files: [(&str, &[u8]); 9] = [
        ("photos/a.jpg", b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x07\x81\x90"),
        ("photos/b.png", b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR\x81\x90\x00"),
        ("docs/letter.pdf", b"%PDF-1.4\n1 0 obj\n<< /Type /Catalog >>\nendobj\n"),
        ("docs/sheet.xlsx", b"PK\x03\x04\x14\x00\x08\x81\x90\x00\x01"),
        ("docs/page.html", b"<!doctype html>\n<html><body><p>Hello, world</p></body></html>\n"),
        ("docs/addresses.csv", b"name,street,zip\nAnn,High street 4,1010\nBea,Low street 7,1020\n"),
        ("src/main.c", b"#include <stdio.h>\n\nint main(void) {\n    int a[] = {1, 2, 3};\n    return a[0];\n}\n"),
        ("src/order.rs", include_bytes!("../src/ingest/order.rs")),
        ("src/package.json", b"{\"name\": \"x\", \"version\": \"1.0.0\"}\n"),
    ];
    for (name, bytes) in files {
        let path = dir.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
    let output = command(&["new", dir.path().to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0));
    let said = shown(output);
    for words in [
        "docs/addresses.csv: none of its columns is recognised\n",
        "photos/a.jpg: this is a picture (JPEG)",
        "photos/b.png: this is a picture (PNG)",
        "docs/letter.pdf: this is a document (PDF)",
        "docs/sheet.xlsx: this is a ZIP archive, as spreadsheets",
        "docs/page.html: this is a web page (HTML)",
        "None of the 9 files looked into is a log of a flight, a bench table or a track",
        "(0 flights)",
    ] {
        assert!(said.contains(words), "no '{words}' in\n{said}");
    }
    for (name, _) in files {
        assert_eq!(
            said.matches(&format!("    {name}")).count(),
            1,
            "{name}:\n{said}"
        );
    }
    let season = fs::read_to_string(dir.path().join("season.toml")).unwrap();
    for (name, _) in files {
        assert!(!season.contains(name), "{name}:\n{season}");
    }
    let checked = command(&["check", dir.path().to_str().unwrap()]);
    assert_eq!(checked.status.code(), Some(0));
    let logbook = fs::read_to_string(dir.path().join("logbook.csv")).unwrap();
    assert_eq!(logbook.lines().count(), 1, "the header alone");
}

/// A run of a season with the ragged log; findings.json and the page.
fn run(strict: bool) -> (Output, Value, String) {
    let dir = logs();
    let path = dir.path().to_str().unwrap();
    fs::write(dir.path().join("log-2025-04-12-1030.csv"), RAGGED).unwrap();
    command(&["new", path]);
    let out = dir.path().join("report");
    let mut arguments = vec!["run", path, "--out", out.to_str().unwrap()];
    arguments.extend(strict.then_some("--strict"));
    let output = command(&arguments);
    let findings = fs::read_to_string(out.join("findings.json")).unwrap();
    let page = fs::read_to_string(out.join("index.html")).unwrap();
    (output, serde_json::from_str(&findings).unwrap(), page)
}

#[test]
fn ledger_in_json_has_rows_and_first_line_numbers() {
    let (_, findings, _) = run(false);
    let files = findings["ledger"]["files"].as_array().unwrap();
    let of = |name: &str| files.iter().find(|f| f["file"] == name).unwrap();
    let log = of("log-2025-04-12-1030.csv");
    assert_eq!(
        [&log["rows_in"], &log["rows_used"], &log["rows_set_aside"]],
        [7, 4, 3]
    );
    let reasons = log["reasons"].as_array().unwrap();
    let reasons: Vec<_> = reasons
        .iter()
        .map(|r| {
            (
                r["code"].as_str().unwrap(),
                r["count"].as_u64(),
                r["first_line"].as_u64(),
            )
        })
        .collect();
    assert_eq!(
        reasons,
        [
            ("short-row", Some(2), Some(4)),
            ("long-row", Some(1), Some(6))
        ]
    );
    for file in files {
        let count = |key: &str| file[key].as_u64().unwrap();
        assert_eq!(
            count("rows_in"),
            count("rows_used") + count("rows_set_aside"),
            "{file}"
        );
    }
    assert_eq!(of("six-blade.csv")["rows_set_aside"], 0);
}

#[test]
fn ledger_on_the_report_has_rows_and_first_line_numbers() {
    let (_, _, page) = run(false);
    let is_log =
        |row: &&str| row.contains("scope=\"row\"") && row.contains("log-2025-04-12-1030.csv");
    let row = page.split("<tr>").find(is_log).unwrap();
    let words: String = row
        .split('<')
        .filter_map(|tag| Some(tag.split_once('>')?.1))
        .collect();
    let words = words.replace("&nbsp;", " ");
    let numbers = words.split("log-2025-04-12-1030.csv").nth(1).unwrap();
    assert!(numbers.starts_with("743"), "{words}");
    for reason in [
        "2 × fewer cells than the header (line 4)",
        "1 × more cells than the header (line 6)",
    ] {
        assert!(words.contains(reason), "no '{reason}' in\n{words}");
    }
}

#[test]
fn strict_turns_set_aside_rows_into_exit_1() {
    assert_eq!(run(false).0.status.code(), Some(0));
    let (output, findings, _) = run(true);
    assert_eq!(output.status.code(), Some(1));
    // The season was analysed all the same.
    assert_eq!(findings["ledger"]["files"].as_array().unwrap().len(), 3);
}
