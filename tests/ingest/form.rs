//! How a table is written: row numbers, headers that stand again, damaged bytes, declared encodings,
//! rows of units, quoted lines, and texts that are no table. All invented.

use benchborne::ingest::{Channel, ReadOptions, Table, read_table_as};
use benchborne::season::{Finding, SeasonText, TextForm, load};

use super::{cells, close, codes, headers, log, log_read, read, table};

fn rows(count: usize, row: impl Fn(usize) -> String) -> String {
    (0..count).map(|i| row(i) + "\n").collect()
}

fn plain(i: usize) -> String {
    format!("{}.{},{},{}.5,{}", i / 10, i % 10, i % 7, 20 + i % 4, i % 9)
}

fn overrule<'f>(findings: &'f [Finding], code: &str) -> &'f str {
    let finding = findings.iter().find(|f| f.code == code);
    let finding = finding.unwrap_or_else(|| panic!("no {code}: {findings:?}"));
    finding.overrule.as_deref().unwrap()
}

fn units(table: &Table) -> Vec<&str> {
    let unit = |h: &'_ benchborne::ingest::HeaderCell| h.unit.clone();
    let units: Vec<Option<String>> = table.header.iter().map(unit).collect();
    assert!(units.iter().all(Option::is_some), "{units:?}");
    table
        .header
        .iter()
        .filter_map(|h| h.unit.as_deref())
        .collect()
}

#[test]
fn row_numbers_without_a_name_move_the_names_by_one() {
    const HEADER: &str = "Time (s),Throttle (%),Voltage (V),Current (A)\n";
    for from in [0, 1] {
        let text = HEADER.to_owned() + &rows(50, |i| format!("{},{}", i + from, plain(i)));
        let found = read(&text);
        assert_eq!(codes(&found.findings), ["row-numbers-assumed"]);
        assert_eq!(
            overrule(&found.findings, "row-numbers-assumed"),
            "row_numbers = false"
        );
        let log = log(&text);
        assert_eq!(log.get(Channel::Voltage).unwrap()[1], 21.5);
        assert_eq!(log.get(Channel::Current).unwrap()[8], 8.0);
        close(log.step_s, 0.1);
        // The line that overrules it does so.
        let form = TextForm {
            row_numbers: Some(false),
            ..TextForm::default()
        };
        let other = read_table_as(text.as_bytes(), "a", form).table.unwrap();
        assert_eq!(headers(&other)[0], "Time (s)");
        assert_eq!(headers(&other)[4], "");
    }
    // Set in columns, too.
    let text =
        "   time_s  volts_v\n".to_owned() + &rows(20, |i| format!("{i}  {}.5  24.{i}", 3 * i));
    assert_eq!(headers(&table(&text)), ["", "time_s", "volts_v"]);
}

#[test]
fn longer_rows_without_row_numbers_are_told() {
    let header = "Time (s),Throttle (%),Voltage (V)\n".to_owned();
    let found = read(header.clone() + &rows(50, plain));
    assert_eq!(codes(&found.findings), ["rows-longer-than-header"]);
    assert_eq!(headers(&found.table.unwrap())[0], "Time (s)");
    // A trailing delimiter is none, nor is one longer row among many.
    let trailing = read(header.clone() + &rows(50, |i| format!("{i}.5,1,2,")));
    assert_eq!(codes(&trailing.findings), Vec::<&str>::new());
    let one = read(
        header
            + &rows(50, |i| {
                format!("{i}.5,1,2{}", if i == 9 { ",3" } else { "" })
            }),
    );
    assert!(!codes(&one.findings).contains(&"rows-longer-than-header"));
}

#[test]
fn a_header_that_stands_again_is_a_gap_only_where_the_clock_says_so() {
    const HEADER: &str = "Time (s),Throttle (%),Voltage (V),Current (A)\n";
    let again = |at: usize, shift: f64| {
        rows(60, |i| {
            let t = 0.1 * i as f64 + if i >= at { shift } else { 0.0 };
            let head = if i > 0 && i % 20 == 0 { HEADER } else { "" };
            format!("{head}{t:.1},{},24.{},{i}", i % 50, i % 10)
        })
    };
    let runs_on = log(HEADER.to_owned() + &again(60, 0.0));
    assert_eq!((runs_on.len(), runs_on.breaks.len()), (60, 0));
    // The clock jumps by half a second, no gap by itself.
    let jumps = log(HEADER.to_owned() + &again(40, 0.5));
    assert_eq!(jumps.breaks, [40]);
    let starts_again = log(HEADER.to_owned() + &again(20, -2.0));
    assert_eq!(starts_again.breaks, [20]);
    // Without a clock the header is all there is to tell.
    let text = "Throttle (%),Voltage (V)\n1,24\n2,24\n3,23\nThrottle (%),Voltage (V)\n4,24\n5,23\n";
    let options = ReadOptions {
        rate_hz: Some(10.0),
        ..ReadOptions::default()
    };
    assert_eq!(log_read(text, &options).log.unwrap().breaks, [3]);
}

#[test]
fn one_bad_byte_leaves_utf_8_what_it_is() {
    let mut text = b"Time [s];Temp [\xC2\xB0C];Voltage [V]\n".to_vec();
    for i in 0..30 {
        let line = if i == 12 {
            "1.2;2\u{1};24.0\n".to_owned()
        } else {
            format!("{}.{};20;24.{}\n", i / 10, i % 10, i % 10)
        };
        text.extend(line.bytes().map(|b| if b == 1 { 0xFF } else { b }));
    }
    let found = read(&text);
    let damaged = &found.findings[0];
    assert_eq!(damaged.code, "damaged-text");
    assert!(
        damaged.what.starts_with("1 byte sequence(s) in 1 line(s)"),
        "{damaged}"
    );
    assert_eq!(damaged.place.as_ref().unwrap().line, Some(14));
    let table = found.table.unwrap();
    assert_eq!(table.dialect.encoding, "UTF-8");
    assert_eq!(headers(&table)[1], "Temp [°C]");
}

/// The letters are those of the code pages of the WHATWG Encoding standard: 0xFD is ý in both, 0xEC is
/// ě in windows-1250 and ì in windows-1252.
#[test]
fn a_declared_encoding_counts() {
    let text =
        b"\xE8as [s];nap\xECt\xED [V];v\xFD\x9Aka [m]\n0,0;24,1;5,5\n0,1;24,0;5,6\n0,2;24,1;5,8\n";
    let guessed = read(text);
    assert_eq!(
        overrule(&guessed.findings, "encoding-assumed"),
        "encoding = \"windows-1250\""
    );
    let toml = "[power.a]\nfan_diameter = \"70 mm\"\n[[logs]]\nfiles = \"*.csv\"\nencoding = \"windows-1250\"\n";
    let season = |toml: &str| {
        load(&SeasonText {
            season_toml: toml,
            ..SeasonText::default()
        })
    };
    let form = season(toml).season.unwrap().logs[0].text;
    let declared = read_table_as(text, "a.csv", form);
    assert_eq!(codes(&declared.findings), Vec::<&str>::new());
    let table = declared.table.unwrap();
    assert_eq!(headers(&table), ["čas [s]", "napětí [V]", "výška [m]"]);
    assert!(!table.dialect.encoding_is_guess);
    let wrong = season(&toml.replace("1250", "1259"));
    let told = wrong.findings.iter().find(|f| f.code == "unknown-encoding");
    assert_eq!(told.unwrap().place.as_ref().unwrap().line, Some(5));
}

#[test]
fn units_stand_below_or_above_the_names() {
    // Half of the names are units themselves.
    let text = "  Time    Thr   Volt    Amp     RPM\n   [s]    [%]    [V]    [A]   [rpm]\n"
        .to_owned()
        + &rows(30, |i| format!("   {i}.0      {i}  24.62   0.43    {i}00"));
    let found = table(&text);
    assert_eq!(headers(&found), ["Time", "Thr", "Volt", "Amp", "RPM"]);
    assert_eq!(units(&found), ["s", "%", "V", "A", "rpm"]);
    let text = "s,%,V,A\ntime,throttle,voltage,current\n".to_owned() + &rows(30, plain);
    let found = table(&text);
    assert_eq!(headers(&found), ["time", "throttle", "voltage", "current"]);
    assert_eq!(units(&found), ["s", "%", "V", "A"]);
    assert_eq!(
        (found.dialect.header_line, found.dialect.unit_line),
        (Some(2), Some(1))
    );
    assert_eq!((found.rows.len(), found.dialect.preamble.len()), (30, 0));
}

#[test]
fn whole_lines_in_quotes_are_cut_once_more() {
    for mark in [";", ",", "\t"] {
        let line = |cells: [&str; 3]| format!("\"{}\"\n", cells.join(mark));
        let text = line(["Time (s)", "Voltage (V)", "\"\"Pack, left\"\" (A)"])
            + &rows(12, |i| {
                line([&format!("{i}.5"), "24.5", "3"]).trim_end().to_owned()
            });
        let found = table(&text);
        assert!(found.dialect.quoted_lines, "{mark:?}");
        assert_eq!(headers(&found)[..2], ["Time (s)", "Voltage (V)"]);
        assert_eq!(cells(&found)[3], ["3.5", "24.5", "3"]);
    }
    // A quoted cell is no quoted line, and quoted remarks are no rows.
    let quoted = table("\"a\",\"b\"\n\"1\",\"2\"\n\"3\",\"4\"\n");
    assert!(!quoted.dialect.quoted_lines && headers(&quoted) == ["a", "b"]);
    let remarks =
        read("\"remark\"\n\"first, and last\"\n\"second, at noon\"\n\"third, at dusk\"\n");
    assert!(remarks.table.is_none_or(|t| t.header.len() == 1));
}

#[test]
fn prose_and_program_text_are_refused_in_words() {
    let texts = [
        (
            "prose",
            "Notes from the field.\nWind was strong today, 3 flights.\nThrottle, volts and amps looked \
             fine.\nNext time: bring spare pack, glue.\n",
        ),
        (
            "program-text",
            "import os\nfor i in range(10):\n    print(i, os.getcwd())\n",
        ),
        (
            "program-text",
            "int main(void) {\n    return add(1,\n        2);\n}\n",
        ),
        (
            "program-text",
            "{'t': 0.0, 'v': 24.1}\n{'t': 0.1, 'v': 24.1}\n{'t': 0.2, 'v': 24.0}\n",
        ),
    ];
    for (code, text) in texts {
        let found = read(text);
        assert!(found.table.is_none(), "{text}");
        assert_eq!(codes(&found.findings), [code], "{text}");
    }
    // Words in columns, and brackets within cells, are a table.
    for text in [
        "name,remark (old)\nAnn,fast (downwind)\nBen,slow (upwind)\nEve,none\n",
        "pilot,said\nAnn,It flew well.\nBen,It did not.\n",
    ] {
        assert!(read(text).table.is_some(), "{text}");
    }
}
