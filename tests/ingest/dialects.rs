//! Blanks as delimiter, thousands marks, names given twice.

use benchborne::ingest::{Cell, Channel, ReadOptions};
use benchborne::season::{ChannelDecl, ChannelMap};

use super::{cells, codes, headers, log_read, read, table};

#[test]
fn runs_of_blanks_delimit() {
    let text =
        "time_s   volts  amps\n  0.0    16.80   1.2\n  0.1    16.71  12.5\n 10.2     9.05 101.0\n";
    let read = read(text);
    let table = read.table.unwrap();
    assert_eq!(table.dialect.delimiter, ' ');
    assert_eq!(headers(&table), ["time_s", "volts", "amps"]);
    assert_eq!(cells(&table)[2], ["10.2", "9.05", "101.0"]);
    assert_eq!((table.rows[0].line, read.ledger.rows_used), (2, 3));
}

#[test]
fn names_of_several_words_are_kept_together_where_two_blanks_part_them() {
    let table = table(
        "Time [s]   Batt Voltage   Ground Speed\n0,0  16,8  1,5\n0,1  16,7  2,5\n0,2  16,6  3,5\n",
    );
    assert_eq!(
        headers(&table),
        ["Time [s]", "Batt Voltage", "Ground Speed"]
    );
    assert!(table.dialect.decimal_comma);
    assert_eq!(table.raw(2, 2), Cell::Number(3.5));
}

#[test]
fn blanks_within_cells_do_not_delimit() {
    let table = table(
        "when;remark;V\n2025-04-12 10:00:00;a windy day;12.1\n2025-04-12 10:00:01;all went well;12.0\n",
    );
    assert_eq!((table.dialect.delimiter, table.header.len()), (';', 3));
}

#[test]
fn a_thousands_mark_counts_once_some_number_shows_it() {
    let shown = table("rpm,V\n\"1,234,567\",12.1\n\"31,400\",12.0\n");
    assert_eq!(shown.raw(1, 0), Cell::Number(31_400.0));
    let german = table("rpm;V\n12.345,6;12,1\n31.400;12,0\n");
    assert_eq!(german.raw(1, 0), Cell::Number(31_400.0));
    // The other column writes decimals with the comma.
    let beside = table("rpm;V\n31.400;12,1\n31.500;12,0\n");
    assert_eq!(beside.raw(0, 0), Cell::Number(31_400.0));
}

#[test]
fn of_two_columns_of_one_name_the_first_is_taken_and_the_number_offered() {
    let decl = ChannelDecl {
        column: "Volts".to_owned(),
        ..ChannelDecl::default()
    };
    let options = ReadOptions {
        channels: ChannelMap::from([("voltage".to_owned(), decl)]),
        ..ReadOptions::default()
    };
    let read = log_read(
        "time_s,Volts,Volts,\n0,12.1,5.0,7\n1,12.0,5.1,8\n",
        &options,
    );
    assert!(codes(&read.findings).contains(&"duplicate-header"));
    assert_eq!(
        read.log.unwrap().get(Channel::Voltage).unwrap(),
        &[12.1, 12.0]
    );
}

#[test]
fn satellite_weeks_and_seconds_are_utc() {
    // 2025-04-12T10:00:00 UTC is 554 418 s into week 2361, leap seconds (18) included.
    let text = "GPS week;TOW (ms);Volts\n2361;554418000;12.1\n2361;554418200;12.0\n";
    let log = log_read(text, &Default::default()).log.unwrap();
    assert_eq!(log.start.unwrap().to_rfc3339(), "2025-04-12T10:00:00+00:00");
    assert!((log.time[1] - 0.2).abs() < 1e-9);
    let sunday = "week;tow (s);V\n2361;604799.8;12\n2361;604799.9;12\n2362;0.0;12\n";
    let over = log_read(sunday, &Default::default()).log.unwrap();
    assert!((over.time[2] - 0.2).abs() < 1e-6 && over.breaks.is_empty());
    let ten_bits = log_read(
        "week;tow (s);V\n313;554418;12\n313;554419;12\n",
        &Default::default(),
    );
    assert_eq!(ten_bits.log.unwrap().start, log.start);
}

#[test]
fn a_full_counter_goes_on() {
    for (full, step, unit) in [(65_536u64, 100, "ms"), (4_294_967_296, 100_000, "us")] {
        let rows: String = (0..60)
            .map(|i| format!("{};12.{i}\n", (full - 30 * step + i * step) % full))
            .collect();
        let read = log_read(format!("time ({unit});Volts\n{rows}"), &Default::default());
        assert!(codes(&read.findings).contains(&"counter-wrapped"));
        assert_eq!(read.ledger.rows_used, 60);
        let log = read.log.unwrap();
        assert_eq!(log.breaks, [0usize; 0]);
        assert!((log.time[59] - 5.9).abs() < 1e-9, "{}", log.time[59]);
    }
}

#[test]
fn every_line_end_parts_rows_and_mixed_ones_too() {
    use benchborne::ingest::LineEnd;
    for (text, end) in [
        ("a,b\n1,2\n3,4\n", LineEnd::Lf),
        ("a,b\r\n1,2\r\n3,4\r\n", LineEnd::CrLf),
        ("a,b\r1,2\r3,4\r", LineEnd::Cr),
        ("a,b\r\n1,2\r3,4\n", LineEnd::Mixed),
    ] {
        let table = super::table(text);
        assert_eq!(table.dialect.line_end, end);
        assert_eq!(super::cells(&table), [["1", "2"], ["3", "4"]]);
        let lines: Vec<u32> = table.rows.iter().map(|r| r.line).collect();
        assert_eq!(lines, [2, 3], "{text:?}");
    }
}

#[test]
fn columns_without_a_name_and_names_twice_keep_their_places() {
    let table = super::table("time_s,,volts,volts,\n0,7,1,2,\n1,8,1,2,\n2,9,1,2,\n");
    assert_eq!(super::headers(&table), ["time_s", "", "volts", "volts"]);
    assert_eq!(table.column_name(1), "#2");
    assert_eq!(super::cells(&table)[0], ["0", "7", "1", "2"]);
}
