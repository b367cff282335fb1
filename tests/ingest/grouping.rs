//! Marks of thousands, column by column.

use super::{codes, table};
use benchborne::ingest::{Cell, Channel, Purpose, assign_channels};
use benchborne::season::{ChannelDecl, ChannelMap};

fn rows(head: &str, row: impl Fn(usize) -> String) -> String {
    let rows: String = (0..40).map(|i| row(i) + "\n").collect();
    format!("{head}\n{rows}")
}

fn found(text: &str) -> Vec<String> {
    let found = assign_channels(&table(text), &ChannelMap::new(), Purpose::Log).findings;
    codes(&found).into_iter().map(str::to_owned).collect()
}

#[test]
fn points_group_thousands_beside_other_columns_of_decimal_points() {
    // Idle without a mark, full throttle with one: both readings of the column cannot be of one size.
    let text = rows("time_s,U_V,rpm", |i| {
        let rpm = if i < 5 {
            "900".to_owned()
        } else {
            format!("21.{:03}", 4 * i)
        };
        format!("{i},16.{},{rpm}", i % 10)
    });
    let table = table(&text);
    assert_eq!(table.raw(10, 2), Cell::Number(21_040.0));
    assert_eq!(table.raw(0, 2), Cell::Number(900.0));
    assert_eq!(table.raw(3, 1), Cell::Number(16.3));
    assert!(found(&text).contains(&"marks-found".to_owned()));
}

#[test]
fn quoted_commas_group_thousands_beside_decimal_points() {
    let text = rows("time_s,U_V,rpm", |i| {
        format!("{i},16.{},\"21,{:03}\"", i % 10, 4 * i)
    });
    assert_eq!(table(&text).raw(10, 2), Cell::Number(21_040.0));
    assert!(found(&text).contains(&"marks-found".to_owned()));
}

#[test]
fn size_alone_makes_a_mark_of_thousands_a_guess_and_a_map_overrules_it() {
    let text = rows("time_s,rpm", |i| format!("{i},\"21,{:03}\"", 4 * i));
    assert_eq!(table(&text).raw(10, 1), Cell::Number(21_040.0));
    assert!(found(&text).contains(&"marks-assumed".to_owned()));
    let decl = ChannelDecl {
        column: "rpm".to_owned(),
        decimal: Some(','),
        ..ChannelDecl::default()
    };
    let mut declared = table(&text);
    declared.declare_marks(&ChannelMap::from([("angular_speed".to_owned(), decl)]));
    assert_eq!(declared.raw(10, 1), Cell::Number(21.04));
}

#[test]
fn three_decimals_of_a_usual_size_are_no_thousands() {
    for (head, cell) in [
        ("U_V", "16.752"),
        ("I_A", "21.500"),
        ("lat", "48.123"),
        ("Power_W", "912.125"),
    ] {
        let text = rows(&format!("time_s,{head}"), |i| format!("{i}.5,{cell}"));
        let table = table(&text);
        assert_eq!(
            table.raw(3, 1),
            Cell::Number(cell.parse().unwrap()),
            "{head}"
        );
        assert!(
            !found(&text).iter().any(|c| c.starts_with("marks")),
            "{head}"
        );
    }
}

#[test]
fn a_number_with_other_than_three_decimals_makes_the_mark_a_decimal_one() {
    let text = rows("time_s,rpm", |i| {
        if i == 9 {
            "9,21.50".to_owned()
        } else {
            format!("{i},21.500")
        }
    });
    assert_eq!(table(&text).raw(0, 1), Cell::Number(21.5));
}

#[test]
fn a_column_of_which_no_cell_can_be_read_is_not_called_empty() {
    let text = rows("time_s,Airspeed", |i| format!("{i},\"1,{:03}\"", i * 9));
    let assignment = assign_channels(&table(&text), &ChannelMap::new(), Purpose::Log);
    assert!(
        !codes(&assignment.findings).contains(&"dead-column"),
        "{:?}",
        assignment.findings
    );
    let read = table(&text).raw(3, 1) != Cell::Bad
        || codes(&assignment.findings).contains(&"unreadable-cells");
    assert!(read && assignment.get(Channel::Time).is_some());
}
