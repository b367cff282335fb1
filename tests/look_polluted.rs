//! Delimited files in the state in which they come, against what a careful reader makes of them.
//! All invented for this test.

use benchborne::ingest::read_table;
use benchborne::run::look::as_csv;

/// Records of a text, cells parted by `¦`: header first, then every row.
fn check(name: &str, bytes: &[u8], expected: &[&str], wrong: &mut Vec<String>) {
    let read = read_table(bytes, name);
    if !read.ledger.balances() {
        wrong.push(format!("{name}: the ledger does not balance"));
    }
    let mut text = Vec::new();
    if as_csv(&bytes, name, &mut text).is_err() {
        wrong.push(format!("{name}: no table, {:?}", read.findings));
        return;
    }
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_slice());
    let found: Vec<String> = reader
        .records()
        .map(|r| r.unwrap().iter().collect::<Vec<_>>().join("¦"))
        .collect();
    if found != expected {
        wrong.push(format!("{name}\n   read {found:?}\n  is    {expected:?}"));
    }
}

fn repeated(head: &str, row: impl Fn(usize) -> String, n: usize, foot: &str) -> String {
    let rows: String = (0..n).map(|i| row(i) + "\n").collect();
    format!("{head}{rows}{foot}")
}

const TEXTS: &[(&str, &str, &[&str])] = &[
    (
        "plain and quoted cells mixed",
        "t,\"U\",I\n1,\"2.5\",3\n\"2\",2.4,\"4\"\n3,\"2.3\",5\n",
        &["t¦U¦I", "1¦2.5¦3", "2¦2.4¦4", "3¦2.3¦5"],
    ),
    (
        "quotes doubled",
        "t,note\n1,\"say \"\"go\"\"\"\n2,\"a, b\"\n3,c\n",
        &["t¦note", "1¦say \"go\"", "2¦a, b", "3¦c"],
    ),
    (
        "quotes escaped by a backslash",
        "t,note,U\n1,\"say \\\"go, now\\\" then\",5\n2,\"a, b\",6\n3,c,7\n",
        &["t¦note¦U", "1¦say \"go, now\" then¦5", "2¦a, b¦6", "3¦c¦7"],
    ),
    (
        "single quotes round cells",
        "'t','note, long','U'\n'1','a, b','5'\n'2','c, d','6'\n'3','e','7'\n",
        &["t¦note, long¦U", "1¦a, b¦5", "2¦c, d¦6", "3¦e¦7"],
    ),
    (
        "an inch mark is no quote",
        "prop,size,thrust\nA,9\" x 6,10\nB,10\" x 7,12\nC,11\",13\n",
        &[
            "prop¦size¦thrust",
            "A¦9\" x 6¦10",
            "B¦10\" x 7¦12",
            "C¦11\"¦13",
        ],
    ),
    (
        "delimiters within quotes",
        "a;b;c\n\"1;2\";3;4\n\"5;6\";7;8\n\"9;0\";1;2\n",
        &["a¦b¦c", "1;2¦3¦4", "5;6¦7¦8", "9;0¦1¦2"],
    ),
    (
        "a line end within quotes",
        "t,note,U\n1,\"two\nlines\",5\n2,one,6\n",
        &["t¦note¦U", "1¦two\nlines¦5", "2¦one¦6"],
    ),
    (
        "decimal comma with semicolons",
        "t;U\n0,1;22,5\n0,2;22,4\n0,3;22,3\n",
        &["t¦U", "0,1¦22,5", "0,2¦22,4", "0,3¦22,3"],
    ),
    (
        "quoted decimal commas between commas",
        "t,U\n\"0,1\",\"22,5\"\n\"0,2\",\"22,4\"\n\"0,3\",\"22,3\"\n",
        &["t¦U", "0,1¦22,5", "0,2¦22,4", "0,3¦22,3"],
    ),
    (
        "apostrophes for thousands",
        "t;n\n1;21'500\n2;22'500\n3;9'500\n",
        &["t¦n", "1¦21'500", "2¦22'500", "3¦9'500"],
    ),
    (
        "blanks for thousands",
        "t;n\n1;21 500\n2;22 500\n3;9 500\n",
        &["t¦n", "1¦21 500", "2¦22 500", "3¦9 500"],
    ),
    (
        "points for thousands",
        "t;n\n1;1.021.500\n2;1.022.500,5\n3;9.500\n",
        &["t¦n", "1¦1.021.500", "2¦1.022.500,5", "3¦9.500"],
    ),
    (
        "a preamble wider than the table",
        "Device,Rev,Serial,Owner,Place\nX,B,77,Ann,North\n\nt,U\n1,22\n2,23\n3,24\n4,25\n",
        &["t¦U", "1¦22", "2¦23", "3¦24", "4¦25"],
    ),
    (
        "a preamble of key and value",
        "Logger: none\nDate: 2025-04-12\nRate,10 Hz\n\nt,U,I\n1,22,3\n2,23,4\n3,24,5\n",
        &["t¦U¦I", "1¦22¦3", "2¦23¦4", "3¦24¦5"],
    ),
    (
        "a footer of totals",
        "t,U,I\n1,22,3\n2,23,4\n3,24,5\nTotal,,12\n",
        &["t¦U¦I", "1¦22¦3", "2¦23¦4", "3¦24¦5"],
    ),
    (
        "a footer of words",
        "t,U,I\n1,22,3\n2,23,4\n3,24,5\n\nEnd of file\n",
        &["t¦U¦I", "1¦22¦3", "2¦23¦4", "3¦24¦5"],
    ),
    (
        "comments with a hash",
        "# made by hand\nt,U\n1,22\n# landed here\n2,23\n3,24\n",
        &["t¦U", "1¦22", "2¦23", "3¦24"],
    ),
    (
        "comments with a semicolon",
        "; made by hand\nt,U\n1,22\n; landed here\n2,23\n3,24\n",
        &["t¦U", "1¦22", "2¦23", "3¦24"],
    ),
    (
        "comments with slashes",
        "// made by hand\nt;U\n1;22\n// landed, here\n2;23\n3;24\n",
        &["t¦U", "1¦22", "2¦23", "3¦24"],
    ),
    (
        "blank lines between rows",
        "t,U\n\n1,22\n\n\n2,23\n\n3,24\n\n",
        &["t¦U", "1¦22", "2¦23", "3¦24"],
    ),
    (
        "ragged rows",
        "a,b,c\n1,2,3\n4,5\n6,7,8,9\n1,2,3\n4,5,6\n",
        &["a¦b¦c", "1¦2¦3", "4¦5¦", "6¦7¦8¦9", "1¦2¦3", "4¦5¦6"],
    ),
    (
        "trailing delimiters on some rows",
        "a,b,c\n1,2,3\n4,5,6,\n7,8,9\n1,2,3,\n",
        &["a¦b¦c", "1¦2¦3", "4¦5¦6", "7¦8¦9", "1¦2¦3"],
    ),
    (
        "trailing delimiters on every row but the header",
        "a;b;c\n1;2;3;\n4;5;6;\n7;8;9;\n",
        &["a¦b¦c", "1¦2¦3", "4¦5¦6", "7¦8¦9"],
    ),
    (
        "words only",
        "name,place\nAnn,north\nBen,south\nCid,east\n",
        &["name¦place", "Ann¦north", "Ben¦south", "Cid¦east"],
    ),
    (
        "a single column",
        "thrust\n10\n12\n14\n",
        &["thrust", "10", "12", "14"],
    ),
    (
        "a single column of words with commas",
        "remark\n\"calm, warm\"\n\"gusty, cold\"\n",
        &["remark", "calm, warm", "gusty, cold"],
    ),
    ("one row only", "t,U,I\n1,22,3\n", &["t¦U¦I", "1¦22¦3"]),
    ("one row without a header", "1;22;3\n", &["1¦22¦3"]),
    (
        "a sep line",
        "sep=;\nt;U\n1;22,5\n2;22,4\n",
        &["t¦U", "1¦22,5", "2¦22,4"],
    ),
    (
        "a sep line for a bar",
        "sep=|\nt|U, pack\n1|22,5\n2|22,4\n",
        &["t¦U, pack", "1¦22,5", "2¦22,4"],
    ),
    (
        "a sep line in quotes",
        "\"sep=\t\"\nt\tU\n1\t2,5\n2\t2,4\n",
        &["t¦U", "1¦2,5", "2¦2,4"],
    ),
    (
        "tabs plus blanks",
        "t \t U\n1 \t 22\n2 \t 23\n3 \t 24\n",
        &["t ¦ U", "1 ¦ 22", "2 ¦ 23", "3 ¦ 24"],
    ),
    (
        "fixed width",
        "  t    U     I\n  1 22.5   3.0\n  2 22.4  10.0\n 10 22.3   4.0\n",
        &["t¦U¦I", "1¦22.5¦3.0", "2¦22.4¦10.0", "10¦22.3¦4.0"],
    ),
    (
        "fixed width with blanks in the names",
        "Run time   Ground speed   Height\n     1.0           22.5       30\n     2.0           22.4       31\n",
        &["Run time¦Ground speed¦Height", "1.0¦22.5¦30", "2.0¦22.4¦31"],
    ),
    (
        "a pipe table",
        "| t | U    |\n|---|------|\n| 1 | 22.5 |\n| 2 | 22.4 |\n",
        &["t¦U", "1¦22.5", "2¦22.4"],
    ),
    (
        "a boxed table",
        "+---+------+\n| t | U    |\n+---+------+\n| 1 | 22.5 |\n| 2 | 22.4 |\n+---+------+\n",
        &["t¦U", "1¦22.5", "2¦22.4"],
    ),
    (
        "dates with commas",
        "when;U\nApril 12, 2025 10:00:01;22\nApril 12, 2025 10:00:02;23\nApril 12, 2025 10:00:03;24\n",
        &[
            "when¦U",
            "April 12, 2025 10:00:01¦22",
            "April 12, 2025 10:00:02¦23",
            "April 12, 2025 10:00:03¦24",
        ],
    ),
    (
        "currency marks",
        "item;price\nfan;€ 1.200,00\nmotor;€ 89,50\npack;€ 45,00\n",
        &[
            "item¦price",
            "fan¦€ 1.200,00",
            "motor¦€ 89,50",
            "pack¦€ 45,00",
        ],
    ),
    (
        "empty columns",
        "t,,U,,I\n1,,22,,3\n2,,23,,4\n3,,24,,5\n",
        &["t¦¦U¦¦I", "1¦¦22¦¦3", "2¦¦23¦¦4", "3¦¦24¦¦5"],
    ),
    (
        "no header",
        "1,22.5,3\n2,22.4,4\n3,22.3,5\n",
        &["1¦22.5¦3", "2¦22.4¦4", "3¦22.3¦5"],
    ),
    (
        "names twice and none",
        "t,U,U,\n1,22,23,7\n2,23,24,8\n",
        &["t¦U¦U¦", "1¦22¦23¦7", "2¦23¦24¦8"],
    ),
    (
        "two header rows of groups",
        "Battery,Battery,Motor\nVoltage,Current,Speed\n22,3,100\n23,4,200\n24,5,300\n",
        &[
            "Battery Voltage¦Battery Current¦Motor Speed",
            "22¦3¦100",
            "23¦4¦200",
            "24¦5¦300",
        ],
    ),
    (
        "merged cells over names over units",
        "Time,Pack,,Motor,\n,Voltage,Current,Speed,Temp\ns,V,A,rpm,°C\n1,22,3,100,40\n2,23,4,200,41\n",
        &[
            "Time s¦Pack Voltage V¦Current A¦Motor Speed rpm¦Temp °C",
            "1¦22¦3¦100¦40",
            "2¦23¦4¦200¦41",
        ],
    ),
    (
        "units under some names only",
        "Time,Throttle,Voltage,Sats\ns,%,,\n1,10,22,12\n2,20,23,12\n3,30,24,12\n",
        &[
            "Time s¦Throttle %¦Voltage¦Sats",
            "1¦10¦22¦12",
            "2¦20¦23¦12",
            "3¦30¦24¦12",
        ],
    ),
    (
        "a title in quotes above",
        "\"Test of the big fan, 2025\"\nt,U\n1,22\n2,23\n3,24\n",
        &["t¦U", "1¦22", "2¦23", "3¦24"],
    ),
    (
        "a preamble of words as wide as the table",
        "Pilot,Ann,Field,North\nTime,Voltage,Current,Remark\n1,22,3,a\n2,23,4,b\n3,24,5,c\n",
        &[
            "Time¦Voltage¦Current¦Remark",
            "1¦22¦3¦a",
            "2¦23¦4¦b",
            "3¦24¦5¦c",
        ],
    ),
    (
        "years as names",
        "fan,2023,2024,2025\nA,10,11,12\nB,20,21,22\nC,30,31,32\n",
        &[
            "fan¦2023¦2024¦2025",
            "A¦10¦11¦12",
            "B¦20¦21¦22",
            "C¦30¦31¦32",
        ],
    ),
    (
        "a words column wins no delimiter",
        "t|where\n1|north, by the barn, near\n2|south, by the road, far\n",
        &[
            "t¦where",
            "1¦north, by the barn, near",
            "2¦south, by the road, far",
        ],
    ),
    (
        "times with colons",
        "time,U\n10:00:01,22\n10:00:02,23\n10:00:03,24\n",
        &["time¦U", "10:00:01¦22", "10:00:02¦23", "10:00:03¦24"],
    ),
    (
        "mostly empty cells",
        "t,U,lat\n1,22,\n2,22,\n3,22,\n4,22,48.1\n5,22,\n",
        &["t¦U¦lat", "1¦22¦", "2¦22¦", "3¦22¦", "4¦22¦48.1", "5¦22¦"],
    ),
    (
        "carriage returns only",
        "t,U\r1,22\r2,23\r3,24\r",
        &["t¦U", "1¦22", "2¦23", "3¦24"],
    ),
    (
        "line ends mixed",
        "t,U\r\n1,22\n2,23\r3,24\r\n",
        &["t¦U", "1¦22", "2¦23", "3¦24"],
    ),
    (
        "a header repeated",
        "t,U\n1,22\n2,23\nt,U\n1,24\n2,25\n",
        &["t¦U", "1¦22", "2¦23", "1¦24", "2¦25"],
    ),
    (
        "two tables, the second of another make",
        "t,U,I\n1,22,3\n2,23,4\n3,24,5\n\nlap,speed\n1,40\n2,41\n",
        &["t¦U¦I", "1¦22¦3", "2¦23¦4", "3¦24¦5"],
    ),
];

#[test]
fn polluted_files_read_as_a_careful_reader_would() {
    let mut wrong = Vec::new();
    for (name, text, expected) in TEXTS {
        check(name, text.as_bytes(), expected, &mut wrong);
    }
    let of_words = ["Höhe¦Länge", "1¦2", "3¦4", "5¦6"];
    let latin = b"H\xf6he;L\xe4nge\n1;2\n3;4\n5;6\n";
    check("Windows-1252", latin, &of_words, &mut wrong);
    let utf16: Vec<u8> = "Höhe\tLänge\r\n1\t2\r\n3\t4\r\n5\t6\r\n"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    check("UTF-16 without a mark", &utf16, &of_words, &mut wrong);
    let prose = repeated(
        "",
        |i| format!("Line {i} of the remarks, of some length."),
        29,
        "",
    );
    let late = format!(
        "{prose}t;U\n{}",
        repeated("", |i| format!("{i};2{i},5"), 40, "")
    );
    let rows: Vec<String> = (0..40).map(|i| format!("{i}¦2{i},5")).collect();
    let mut expected = vec!["t¦U"];
    expected.extend(rows.iter().map(String::as_str));
    check(
        "a table that starts at line 30",
        late.as_bytes(),
        &expected,
        &mut wrong,
    );
    let count = TEXTS.len() + 3;
    println!("{} of {count} read as expected", count - wrong.len());
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
