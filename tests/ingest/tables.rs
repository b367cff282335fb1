use benchborne::ingest::cell::parse;
use benchborne::ingest::{Cell, LineEnd};

use super::{cells, codes, data, headers, read, table};

/// File, header, rows.
type Case = (
    &'static str,
    &'static [&'static str],
    &'static [&'static [&'static str]],
);

/// Expected contents: the JSON files of the corpus (csv-spectrum).
#[test]
fn the_open_corpus_of_delimited_files_reads_as_it_must() {
    let cases: &[Case] = &[
        (
            "comma_in_quotes",
            &["first", "last", "address", "city", "zip"],
            &[&["John", "Doe", "120 any st.", "Anytown, WW", "08123"]],
        ),
        (
            "empty",
            &["a", "b", "c"],
            &[&["1", "", ""], &["2", "3", "4"]],
        ),
        (
            "empty_crlf",
            &["a", "b", "c"],
            &[&["1", "", ""], &["2", "3", "4"]],
        ),
        (
            "escaped_quotes",
            &["a", "b"],
            &[&["1", "ha \"ha\" ha"], &["3", "4"]],
        ),
        (
            "json",
            &["key", "val"],
            &[&["1", "{\"type\": \"Point\", \"coordinates\": [102.0, 0.5]}"]],
        ),
        (
            "location_coordinates",
            &[
                "Contact Phone Number",
                "Location Coordinates",
                "Cities",
                "Counties",
            ],
            &[&[
                "2095257564",
                "37\u{fffd}36'37.8\"N 121\u{fffd}2'17.9\"W",
                "Modesto",
                "Stanislaus",
            ]],
        ),
        (
            "newlines",
            &["a", "b", "c"],
            &[
                &["1", "2", "3"],
                &["Once upon \na time", "5", "6"],
                &["7", "8", "9"],
            ],
        ),
        (
            "newlines_crlf",
            &["a", "b", "c"],
            &[
                &["1", "2", "3"],
                &["Once upon \r\na time", "5", "6"],
                &["7", "8", "9"],
            ],
        ),
        (
            "quotes_and_newlines",
            &["a", "b"],
            &[&["1", "ha \n\"ha\" \nha"], &["3", "4"]],
        ),
        ("simple", &["a", "b", "c"], &[&["1", "2", "3"]]),
        ("simple_crlf", &["a", "b", "c"], &[&["1", "2", "3"]]),
        (
            "utf8",
            &["a", "b", "c"],
            &[&["1", "2", "3"], &["4", "5", "ʤ"]],
        ),
    ];
    for (name, header, rows) in cases {
        let table = table(data(&format!("csv-spectrum/{name}.csv")));
        assert_eq!(&headers(&table), header, "{name}");
        assert_eq!(cells(&table), *rows, "{name}");
    }
}

#[test]
fn a_published_bench_run_reads_whole() {
    for name in ["a1_7", "c4_11", "f8_11"] {
        let read = read(data(&format!("static-tests/{name}.csv")));
        let table = read.table.unwrap();
        assert_eq!(
            (read.ledger.rows_in, read.ledger.rows_used),
            (11, 11),
            "{name}"
        );
        assert_eq!(table.dialect.encoding, "UTF-8");
        assert!(table.dialect.bom);
        assert_eq!(
            table.header.len(),
            13,
            "{name}: the trailing comma is no column"
        );
        assert_eq!(table.header[1].unit.as_deref(), Some("µs"));
        assert_eq!(table.rows[10].line, 12);
    }
}

#[test]
fn the_same_run_edited_by_hand_reads_whole() {
    let table = table(data("static-tests/edited_a1_11.csv"));
    assert_eq!(table.dialect.encoding, "windows-1252");
    assert_eq!(table.dialect.line_end, LineEnd::Mixed);
    assert_eq!(table.rows.len(), 11);
    assert_eq!(table.header[1].text, "ESC signal (µs)");
    // Bare carriage returns count as lines.
    assert_eq!((table.rows[0].line, table.rows[1].line), (2, 3));
    assert_eq!(table.raw(0, 6), Cell::Number(11.09112818));
}

#[test]
fn utf_16_is_read_with_and_without_its_mark() {
    let text = "Zeit (s);Spannung (V)\r\n0,1;11,5\r\n0,2;11,4\r\n";
    let le: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let be: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
    let with = |mark: [u8; 2], bytes: &[u8]| [&mark[..], bytes].concat();
    for bytes in [
        le.clone(),
        be.clone(),
        with([0xFF, 0xFE], &le),
        with([0xFE, 0xFF], &be),
    ] {
        let table = table(bytes);
        assert!(table.dialect.encoding.starts_with("UTF-16"));
        assert_eq!(cells(&table), [["0,1", "11,5"], ["0,2", "11,4"]]);
        assert_eq!(table.raw(1, 1), Cell::Number(11.4));
    }
}

#[test]
fn a_decimal_comma_is_not_a_delimiter() {
    let table = table("a;b;c\n1,5;2,5;3,5\n1,25;2,25;3,25\n");
    assert_eq!(
        (table.dialect.delimiter, table.dialect.decimal_comma),
        (';', true)
    );
    assert_eq!(table.raw(1, 2), Cell::Number(3.25));
}

#[test]
fn quoted_decimal_commas_in_a_comma_file_are_read() {
    let table = table("a,b\n\"1,5\",\"20,25\"\n\"2,5\",\"21,75\"\n");
    assert_eq!(
        (table.dialect.delimiter, table.dialect.decimal_comma),
        (',', true)
    );
    assert_eq!(table.raw(0, 1), Cell::Number(20.25));
}

#[test]
fn a_sep_line_decides_the_delimiter() {
    let table = table("sep=|\na;b|c\n1;5|2\n3;4|5\n");
    assert_eq!(table.dialect.delimiter, '|');
    assert_eq!(headers(&table), ["a;b", "c"]);
    assert_eq!(table.rows[0].line, 3);
}

#[test]
fn a_preamble_of_another_width_stands_above_the_header() {
    let table = table("Logger 3\nRate,50\n\nTime (s),Volts,Amps\n0,12,3\n1,12,4\n");
    assert_eq!(headers(&table), ["Time (s)", "Volts", "Amps"]);
    assert_eq!(table.dialect.header_line, Some(4));
    let preamble: Vec<_> = table
        .dialect
        .preamble
        .iter()
        .map(|(l, t)| (*l, t.as_str()))
        .collect();
    assert_eq!(preamble, [(1, "Logger 3"), (2, "Rate,50")]);
    assert_eq!(table.rows[0].line, 5);
}

#[test]
fn comments_are_no_rows_and_a_commented_header_counts() {
    let read = read("# made on the bench\n# time,volts\n0,12\n# pause\n1,12.5\n");
    let table = read.table.unwrap();
    assert_eq!(headers(&table), ["time", "volts"]);
    assert_eq!(read.ledger.rows_in, 2);
}

#[test]
fn a_second_header_row_gives_the_units() {
    let table = table("time,pack,motor\n(s),(V),(A)\n0,12,3\n1,12,4\n");
    let units: Vec<_> = table.header.iter().map(|h| h.unit.as_deref()).collect();
    assert_eq!(units, [Some("s"), Some("V"), Some("A")]);
    assert_eq!((table.dialect.unit_line, table.rows.len()), (Some(2), 2));
}

#[test]
fn a_repeated_header_marks_a_restart() {
    let read = read("t,V\ns,V\n0,12\n1,12\nt,V\ns,V\n0,11\n");
    let table = read.table.unwrap();
    assert_eq!(table.restarts, [2]);
    assert_eq!((read.ledger.rows_in, read.ledger.rows_set_aside), (3, 0));
}

#[test]
fn rows_under_another_header_are_set_aside() {
    let read = read("time,volts,amps\n0,12,1\n1,12,1\ntime,amps,volts\n2,1,12\n3,1,12\n");
    assert_eq!(codes(&read.findings)[0], "header-changed");
    assert_eq!(read.findings[0].place.as_ref().unwrap().line, Some(4));
    assert_eq!((read.ledger.rows_used, read.ledger.rows_set_aside), (2, 3));
}

#[test]
fn ragged_rows_and_footers_are_set_aside_with_line_and_reason() {
    let read = read("a,b,c\n1,2,3\n1,2\n1,2,3,4\n4,5,6\nEnd of log\n");
    let found: Vec<_> = read
        .ledger
        .reasons
        .iter()
        .map(|r| (r.code.as_str(), r.first_line, r.count))
        .collect();
    assert_eq!(
        found,
        [("short-row", 3, 1), ("long-row", 4, 1), ("no-number", 6, 1)]
    );
    assert_eq!((read.ledger.rows_in, read.ledger.rows_used), (5, 2));
}

#[test]
fn trailing_delimiters_are_no_column() {
    for text in [
        "a,b\n1,2,\n3,4,\n",
        "a,b,\n1,2\n3,4\n",
        "a,b,\n1,2,\n3,4,\n",
    ] {
        let read = read(text);
        assert_eq!(read.table.unwrap().header.len(), 2, "{text}");
        assert_eq!(read.ledger.rows_set_aside, 0, "{text}");
    }
}

#[test]
fn half_a_last_line_is_set_aside() {
    let read = read("a,b,c\n1,2,3\n1,2,3\n1,2");
    assert_eq!(read.ledger.reasons[0].code, "cut-off-row");
    assert_eq!(read.ledger.reasons[0].first_line, 4);
}

#[test]
fn a_last_number_cut_short_is_set_aside() {
    let mut text = "t,V\n".to_owned();
    (0..30).for_each(|i| text += &format!("{i},12.345\n"));
    assert_eq!(read(format!("{text}30,12.345")).ledger.rows_used, 31);
    assert_eq!(
        read(format!("{text}30,1")).ledger.reasons[0].code,
        "cut-off-row"
    );
}

#[test]
fn nul_bytes_of_a_power_loss_spoil_only_their_row() {
    let read = read("t,V\n0,12\n1,\0\0\0\n2,12\n\0\0\0\0\0\0");
    assert_eq!(codes(&read.findings), ["nul-bytes", "damaged-row"]);
    assert_eq!((read.ledger.rows_used, read.ledger.rows_set_aside), (2, 1));
}

#[test]
fn nul_padding_in_every_row_is_dropped() {
    let table = table("t,V\n0,12\0\0\n1,13\0\0\n2,14\0\0\n");
    assert_eq!(cells(&table), [["0", "12"], ["1", "13"], ["2", "14"]]);
}

#[test]
fn a_file_without_header_says_so() {
    let read = read("0,12.1,3\n1,12.0,4\n");
    assert_eq!(codes(&read.findings), ["no-header"]);
    let table = read.table.unwrap();
    assert_eq!((table.rows.len(), table.column_name(2).as_str()), (2, "#3"));
}

#[test]
fn sparse_rows_before_a_fix_are_rows() {
    let mut text = "Time (s),V,A,lat,lon,alt,speed\n".to_owned();
    (0..8).for_each(|i| text += &format!("{i},12,,,,,\n"));
    (8..30).for_each(|i| text += &format!("{i},12,3,48,16,200,5\n"));
    let read = read(text);
    assert_eq!(read.table.unwrap().dialect.header_line, Some(1));
    assert_eq!(read.ledger.rows_used, 30);
}

#[test]
fn a_column_called_number_sign_is_no_comment() {
    let table = table("#,Time (s),V\n1,0,12\n2,1,12\n#,Time (s),V\n3,2,12\n");
    assert_eq!(table.header.len(), 3);
    assert_eq!((table.rows.len(), table.restarts.as_slice()), (3, &[2][..]));
}

#[test]
fn unquoted_decimal_commas_are_explained() {
    let read = read("t,V,A\n0,1,12,5,3,1\n0,2,12,4,3,2\n");
    assert_eq!(codes(&read.findings)[0], "unquoted-decimal-commas");
    assert_eq!(read.findings[0].place.as_ref().unwrap().line, Some(1));
}

#[test]
fn a_quote_that_never_closes_does_not_swallow_the_file() {
    let mut text = "t,V,remark\n0,12,\"loud\n".to_owned();
    (1..60).for_each(|i| text += &format!("{i},12,ok\n"));
    let read = read(text);
    assert_eq!(codes(&read.findings), ["unclosed-quote"]);
    assert_eq!(read.ledger.rows_used, 60);
}

#[test]
fn empty_and_binary_files_are_said_to_be_so() {
    for (bytes, code) in [
        (&b""[..], "empty-file"),
        (b"\n \n\r\n", "empty-file"),
        (b"\0\0\0\0\0\0\0\0", "empty-file"),
        (
            b"\x01\x02\x03\x04\0\0\0\rIHDR\0\x01\x02\x03\x04\x05\x06\xff\xfe\x80",
            "not-text",
        ),
        (b"t,V\n", "no-rows"),
    ] {
        let read = read(bytes);
        assert!(
            codes(&read.findings).contains(&code),
            "{code}: {:?}",
            read.findings
        );
        assert_eq!(read.ledger.rows_used, 0);
    }
}

#[test]
fn cells_are_numbers_blanks_bounds_or_bad() {
    use Cell::*;
    for (text, comma, expected) in [
        ("12.5", false, Number(12.5)),
        (" -0.5e3 ", false, Number(-500.0)),
        ("12,5", true, Number(12.5)),
        ("0,5", false, Number(0.5)),
        ("−3", false, Number(-3.0)),
        ("1.234.567,8", true, Number(1_234_567.8)),
        ("1,234.5", false, Number(1234.5)),
        ("1'234", false, Number(1234.0)),
        ("12 345,6", true, Number(12345.6)),
        // Either thousands or decimals: not guessed.
        ("1,234", false, Bad),
        ("1.234", true, Bad),
        ("0.234", true, Number(0.234)),
        ("nan", false, Blank),
        ("N/A", false, Blank),
        ("-", false, Blank),
        ("", true, Blank),
        (">100", false, Above(100.0)),
        ("> 100", false, Above(100.0)),
        ("≥ 99,5", true, Above(99.5)),
        ("<5", false, Below(5.0)),
        ("inf", false, Bad),
        ("1e999", false, Bad),
        ("12.5 V", false, Bad),
        ("1,23,4", false, Bad),
        ("ERR", false, Bad),
    ] {
        assert_eq!(parse(text, comma), expected, "{text:?}");
    }
}
