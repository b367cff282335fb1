//! A test for each thing that a delimited file may do: the same four rows, written in many ways, must
//! give the same values.

use benchborne::ingest::{Channel, LineEnd, LogRead, Table};

use super::{cells, close, codes, headers, log_read, read, table};

const HEADER: [&str; 3] = ["Time (s)", "Volts", "Amps"];
const ROWS: [[&str; 3]; 4] = [
    ["0.00", "16.80", "1.25"],
    ["0.25", "16.71", "12.50"],
    ["0.50", "16.52", "30.25"],
    ["0.75", "16.40", "41.00"],
];

/// The rows with a mark between cells and an end after each line.
fn written(delimiter: &str, end: &str) -> String {
    let mut out = HEADER.join(delimiter) + end;
    for row in ROWS {
        out += &(row.join(delimiter) + end);
    }
    out
}

fn values_are_read(read: &LogRead) {
    assert_eq!((read.ledger.rows_used, read.ledger.rows_set_aside), (4, 0));
    same_values(read);
}

fn same_values(read: &LogRead) {
    let log = read.log.as_ref().unwrap();
    for (i, [time, volts, amps]) in ROWS.iter().enumerate() {
        let number = |text: &str| text.parse::<f64>().unwrap();
        close(log.time[i], number(time));
        close(log.get(Channel::Voltage).unwrap()[i], number(volts));
        close(log.get(Channel::Current).unwrap()[i], number(amps));
    }
    assert_eq!(log.len(), 4);
}

/// Reads the bytes as a log with the right values, and gives the table.
fn whole(bytes: impl AsRef<[u8]>) -> Table {
    values_are_read(&log_read(bytes.as_ref(), &Default::default()));
    table(bytes)
}

/// Lines that are set aside beside the four good rows.
fn aside(text: &str) -> Vec<(String, u64, u64)> {
    let read = log_read(text, &Default::default());
    same_values(&read);
    let reasons = read.ledger.reasons.into_iter();
    reasons.map(|r| (r.code, r.count, r.first_line)).collect()
}

fn one(code: &str, line: u64) -> Vec<(String, u64, u64)> {
    vec![(code.to_owned(), 1, line)]
}

#[test]
fn utf_8_without_bom() {
    let table = whole(written(",", "\n").replace("Volts", "Volts µ"));
    assert_eq!(
        (table.dialect.encoding.as_str(), table.dialect.bom),
        ("UTF-8", false)
    );
    assert_eq!(table.header[1].text, "Volts µ");
}

#[test]
fn utf_8_with_bom() {
    let table = whole(format!("\u{feff}{}", written(";", "\n")));
    assert_eq!(
        (table.dialect.encoding.as_str(), table.dialect.bom),
        ("UTF-8", true)
    );
    assert_eq!(headers(&table), HEADER, "the mark is no part of the name");
}

#[test]
fn utf_16_le() {
    let text = written("\t", "\r\n");
    let bytes: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(whole(&bytes).dialect.encoding, "UTF-16LE");
    assert!(whole([&[0xFF, 0xFE], &bytes[..]].concat()).dialect.bom);
}

#[test]
fn utf_16_be() {
    let text = written(";", "\n");
    let bytes: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
    assert_eq!(whole(&bytes).dialect.encoding, "UTF-16BE");
    assert!(whole([&[0xFE, 0xFF], &bytes[..]].concat()).dialect.bom);
}

/// ISO 8859-1: 0xE9 is é, 0xB0 the degree sign.
#[test]
fn latin_1() {
    let text = b"Temps (s);Temp\xe9rature air (\xb0C)\n0;20,5\n1;20,4\n2;20,3\n";
    let read = log_read(text, &Default::default());
    let log = read.log.unwrap();
    close(log.get(Channel::AirTemperature).unwrap()[0], 293.65);
    assert_eq!(table(text).header[1].text, "Température air (°C)");
}

/// Code page 1252 of the WHATWG encoding standard: 0x96 is an en dash, 0x80 the euro sign.
#[test]
fn windows_1252() {
    let text = b"Time (s);Volts;Pack \x96 40 \x80\n0;16.8;1\n1;16.7;1\n";
    let table = table(text);
    assert_eq!(table.dialect.encoding, "windows-1252");
    assert_eq!(table.header[2].text, "Pack – 40 €");
    let log = log_read(text, &Default::default()).log.unwrap();
    assert_eq!(log.get(Channel::Voltage).unwrap(), &[16.8, 16.7]);
}

fn delimiter_is(text: &str, delimiter: char) {
    assert_eq!(whole(text).dialect.delimiter, delimiter);
}

#[test]
fn comma() {
    delimiter_is(&written(",", "\n"), ',');
}

#[test]
fn semicolon() {
    delimiter_is(&written(";", "\n"), ';');
}

#[test]
fn tab() {
    delimiter_is(&written("\t", "\n"), '\t');
}

#[test]
fn pipe() {
    delimiter_is(&written("|", "\n"), '|');
}

#[test]
fn runs_of_blanks() {
    let mut text = "time_s     volts   amps\n".to_owned();
    for [time, volts, amps] in ROWS {
        text += &format!("{time:>6}  {volts:>8} {amps:>6}\n");
    }
    delimiter_is(&text, ' ');
}

#[test]
fn quotes_keep_delimiters_and_line_ends_within_a_cell() {
    let table = table("Time (s),Volts,note\n0,16.8,\"calm, dry\"\n1,16.7,\"two\nlines\"\n");
    assert_eq!(
        cells(&table),
        [["0", "16.8", "calm, dry"], ["1", "16.7", "two\nlines"]]
    );
}

#[test]
fn single_quotes() {
    let table =
        table("'time_s','volts','note'\n'0','16.8','calm, dry'\n'1','16.7','wet, \"cold\"'\n");
    assert_eq!(table.dialect.quote, '\'');
    assert_eq!(
        cells(&table),
        [["0", "16.8", "calm, dry"], ["1", "16.7", "wet, \"cold\""]]
    );
}

#[test]
fn quotes_written_twice() {
    let table = table("time_s,volts,note\n0,16.8,\"the \"\"new\"\" fan\"\n1,16.7,ok\n");
    assert_eq!(cells(&table)[0], ["0", "16.8", "the \"new\" fan"]);
}

#[test]
fn escaped_quotes() {
    let table = table(
        "time_s,volts,note\n0,16.8,\"the \\\"new\\\" fan, dry\"\n1,16.7,\"a \\\"b\\\", c\"\n2,16.6,ok\n",
    );
    assert!(table.dialect.escapes);
    assert_eq!(cells(&table)[0], ["0", "16.8", "the \"new\" fan, dry"]);
}

#[test]
fn decimal_comma() {
    let table = whole(written(";", "\n").replace('.', ","));
    assert!(table.dialect.decimal_comma);
}

#[test]
fn thousands_marks() {
    let text = "Time (s);rpm\n0,0;31.400,5\n0,5;1.234.500,5\n1,0;900,5\n";
    assert_eq!(table(text).dialect.thousands, Some('.'));
    let read = log_read(text, &Default::default());
    let rpm = |radians: f64| radians * 30.0 / std::f64::consts::PI;
    close(
        rpm(read.log.unwrap().get(Channel::AngularSpeed).unwrap()[0]),
        31_400.5,
    );
}

fn ends_are(end: &str, found: LineEnd) {
    let table = whole(written(",", end));
    assert_eq!(table.dialect.line_end, found);
    let lines: Vec<u32> = table.rows.iter().map(|r| r.line).collect();
    assert_eq!(lines, [2, 3, 4, 5]);
}

#[test]
fn line_ends_lf() {
    ends_are("\n", LineEnd::Lf);
}

#[test]
fn line_ends_crlf() {
    ends_are("\r\n", LineEnd::CrLf);
}

#[test]
fn line_ends_bare_cr() {
    ends_are("\r", LineEnd::Cr);
}

#[test]
fn line_ends_mixed() {
    let text = written(",", "\n")
        .replacen('\n', "\r\n", 2)
        .replace("30.25\n", "30.25\r");
    let table = whole(text);
    assert_eq!(table.dialect.line_end, LineEnd::Mixed);
    assert_eq!(table.rows[3].line, 5);
}

#[test]
fn comment_lines() {
    let text = written(",", "\n").replace("0.50,", "# gust, from the west\n0.50,");
    let table = whole(format!("# the second flight\n{text}"));
    let lines: Vec<u32> = table.rows.iter().map(|r| r.line).collect();
    assert_eq!(lines, [3, 4, 6, 7], "comments count as lines, not as rows");
}

#[test]
fn preamble_of_another_width() {
    let table = whole(format!(
        "Logger;7\nRate;4 Hz\n\nno;remarks;of;the;pilot\n{}",
        written(";", "\n")
    ));
    assert_eq!(table.dialect.header_line, Some(5));
    let lines: Vec<u32> = table.dialect.preamble.iter().map(|p| p.0).collect();
    assert_eq!(lines, [1, 2, 4]);
}

#[test]
fn units_row_under_the_header() {
    let mut text = "clock,pack,load\nms,mV,mA\n".to_owned();
    for [time, volts, amps] in ROWS {
        let thousand = |text: &str| format!("{:.0}", 1000.0 * text.parse::<f64>().unwrap());
        text += &format!(
            "{},{},{}\n",
            thousand(time),
            thousand(volts),
            thousand(amps)
        );
    }
    let table = table(&text);
    assert_eq!(table.dialect.unit_line, Some(2));
    let units: Vec<_> = table.header.iter().map(|h| h.unit.as_deref()).collect();
    assert_eq!(units, [Some("ms"), Some("mV"), Some("mA")]);
    // And the values by them.
    let text = text.replace("clock,pack,load", "Time,Voltage,Current");
    values_are_read(&log_read(text, &Default::default()));
}

/// Names that are words of units do not make the words above them names.
#[test]
fn a_header_of_unit_words_is_no_units_row() {
    for names in ["Time;Volts;Amps", "Time (s);Volts;Amps", "Zeit;Volt;Ampere"] {
        let table = table(format!(
            "Logger;Seven;Blue\n{names}\n0;16.8;1\n1;16.7;2\n2;16.6;3\n"
        ));
        assert_eq!(headers(&table).join(";"), names);
        assert_eq!(
            (table.dialect.header_line, table.dialect.unit_line),
            (Some(2), None)
        );
    }
}

#[test]
fn header_repeated_in_mid_file() {
    let text = written(",", "\n").replace("0.50,", "Time (s),Volts,Amps\n0.50,");
    let table = whole(&text);
    assert_eq!(table.restarts, [2]);
    let log = log_read(text, &Default::default()).log.unwrap();
    // The clock runs on: no gap.
    assert_eq!((log.breaks, log.lines), (vec![], vec![2, 3, 5, 6]));
}

#[test]
fn no_header() {
    let text = written(",", "\n");
    let bare = text.split_once('\n').unwrap().1;
    let read = read(bare);
    assert_eq!(codes(&read.findings), ["no-header"]);
    let table = read.table.unwrap();
    assert_eq!(table.dialect.header_line, None);
    assert_eq!(cells(&table), ROWS);
}

#[test]
fn duplicated_header_names() {
    let text = "Time (s),Volts,Volts,Amps\n0,16.8,5.0,1\n1,16.7,5.1,2\n";
    assert_eq!(
        headers(&table(text)),
        ["Time (s)", "Volts", "Volts", "Amps"]
    );
    let read = log_read(text, &Default::default());
    let doubt = read.findings.iter().find(|f| f.code == "several-columns");
    assert!(doubt.unwrap().to_do.contains("\"#3\""), "{doubt:?}");
    let log = read.log.unwrap();
    assert_eq!(log.get(Channel::Voltage).unwrap(), &[16.8, 16.7]);
}

#[test]
fn empty_header_names() {
    let text = "Time (s),,Volts\n0,7,16.8\n1,8,16.7\n";
    let table = table(text);
    assert_eq!(headers(&table), ["Time (s)", "", "Volts"]);
    assert_eq!(cells(&table), [["0", "7", "16.8"], ["1", "8", "16.7"]]);
    let log = log_read(text, &Default::default()).log.unwrap();
    assert_eq!(log.get(Channel::Voltage).unwrap(), &[16.8, 16.7]);
}

#[test]
fn trailing_delimiters() {
    let everywhere = written(";", ";\n");
    let in_rows = everywhere.replacen(";\n", "\n", 1);
    for text in [everywhere, in_rows] {
        assert_eq!(headers(&whole(text)), HEADER);
    }
}

#[test]
fn footers() {
    let text = written(";", "\n");
    assert_eq!(
        aside(&format!("{text}End of log\n")),
        one("no-number", 6),
        "narrower"
    );
    assert_eq!(
        aside(&format!("{text}Maximum;16.80;41.00\n")),
        one("totals-row", 6),
        "as wide as the rows"
    );
}

#[test]
fn ragged_rows() {
    let text = written(",", "\n");
    let with = |row: &str| aside(&text.replace("0.50,", &format!("{row}\n0.50,")));
    assert_eq!(with("0.30,16.6"), one("short-row", 4));
    assert_eq!(with("0.30,16.6,20,7"), one("long-row", 4));
}

#[test]
fn nul_bytes() {
    let text = written(",", "\n").replace("0.50,", "0.3\0\0\0\0\0\0\n0.50,");
    assert_eq!(aside(&text), one("damaged-row", 4));
}

#[test]
fn half_a_last_line() {
    assert_eq!(
        aside(&(written(",", "\n") + "1.00,16")),
        one("cut-off-row", 6)
    );
}

#[test]
fn sep_first_line() {
    let table = whole(format!("sep=;\n{}", written(";", "\n")));
    assert_eq!(
        (table.dialect.delimiter, table.dialect.header_line),
        (';', Some(2))
    );
}
