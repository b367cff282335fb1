//! What is wrong with a season, where, and what the pilot is told to do.

use benchborne::season::Severity;

use super::{changed, places, toml_only};

/// One line of GOOD changed: the one finding it must give, where, and what it must say.
fn one_finding(from: &str, to: &str, code: &str, column: &str, says: &[&str]) {
    let (text, line) = changed(from, to);
    let loaded = toml_only(&text);
    assert!(loaded.season.is_some(), "{to}: the rest is read");
    assert_eq!(
        places(&loaded.findings),
        [format!("{code}:{line}:{column}")],
        "{to}: {:#?}",
        loaded.findings
    );
    let rendered = loaded.findings[0].to_string();
    for words in says {
        assert!(
            rendered.contains(words),
            "{to}: no '{words}' in\n{rendered}"
        );
    }
}

/// Line of GOOD | what it becomes | code | column | words of the finding (joined by &).
const MISTAKES: &str = r#"
mass = "2.41 kg" | masss = "2.41 kg" | unknown-key | 1 | Did you mean 'mass'
mass = "2.41 kg" | weight = "2.41 kg" | unknown-key | 1 | Did you mean 'mass'
mass = "2.41 kg" | mass = 2.41 | no-unit | 8 | "2.41 kg" & a mass
mass = "2.41 kg" | mass = "2.41 m" | wrong-unit | 8 | unit of length
mass = "2.41 kg" | mass = "2.41 kgs" | unknown-unit | 8 | mean 'kg'
mass = "2.41 kg" | mass = "heavy" | not-a-number | 8 | 'heavy' & kg
mass = "2.41 kg" | mass = "0 kg" | not-physical | 8 | 10 g to 150 kg
mass = "2.41 kg" | mass = true | wrong-type | 8 | true or false
mass = "2.41 kg" | mass = "2,410 kg" | ambiguous-number | 8 | decimal comma
cells = 4 | cells = "4 cells" | wrong-type | 9 | a whole number
cells = 6 | cells = 0 | not-physical | 9 | 1 to 40
capacity = "3300 mAh" | capacity = "3300 Ah" | not-physical | 12 | 3300 mAh
pressure = "986 hPa" | pressure = "986 Pa" | not-physical | 12 | 986 hPa
= "14 degC" | = "-300 degC" | not-physical | 15 | -60 degC to 60 degC
ends = [0, 100] | ends = [5, 5] | not-physical | 51 | both ends & [1100, 1900]
margin = "3 %" | margin = "3" | not-physical | 10 | "3 %"
margin = "3 %" | margin = "0 %" | not-physical | 10 | 0.01 % to 50 % & usual margin of 2 % is used meanwhile
margin = "3 %" | margin = "500 %" | not-physical | 10 | usual margin of 2 % is used meanwhile
margin = "3 %" | margin = "30 %" | large-margin | 10 | 30 % in level top speed does not matter & 2 % is usual
headroom = "30 %" | headroom = "-30 %" | not-physical | 12 | 0 % to 200 %
burst = "100 A" | burst = "60 A" | not-physical | 9 | below its continuous
hub_diameter = "28 mm" | hub_diameter = "68 mm" | not-physical | 16 | no room
outlet_area = "33 cm2" | outlet_area = "330 cm2" | not-physical | 15 | swept
date = "2025-04-12" | date = "2025-02-30" | not-a-date | 8 | 2025-02-30
date = "2025-04-12" | date = "3/4/2025" | ambiguous-date | 8 | day/month was
zone = "Europe/Vienna" | zone = "Europe/Viena" | unknown-zone | 8 | Europe/Vienna
controller = "c80" | controller = "c8" | unknown-controller | 14 | 'c80'
airframe = "alder" | airframe = "aldr" | unknown-airframe | 12 | 'alder'
["meter"] | ["metre"] | unknown-instrument | 16 | 'meter'
kind = "carry-over" | kind = "cary-over" | unknown-question | 8 | 'carry-over'
baseline = "stock" | baseline = "stok" | unknown-power | 12 | 'stock'
thrust = "Pull | trust = "Pull | unknown-channel | 1 | 'thrust'
unit = "us" | unit = "V" | wrong-unit | 37 | unit of voltage
"bench/stock.csv" | "/home/me/stock.csv" | path-outside | 8 | absolute path
"bench/stock.csv" | "bench/../../x.csv" | path-outside | 8 | leaves the season
"bench/stock.csv" | 'C:\x.csv' | path-outside | 8 | absolute path
"logs/radio-*.csv" | "logs/[a.csv" | bad-pattern | 9 | no file pattern
"#;

#[test]
fn each_mistake_has_its_place_and_a_way_out() {
    for case in MISTAKES.trim().lines() {
        let cells: Vec<&str> = case.split('|').map(str::trim).collect();
        let [from, to, code, column, says] = cells[..] else {
            panic!("five cells wanted: {case}");
        };
        one_finding(
            from,
            to,
            code,
            column,
            &says.split(" & ").collect::<Vec<_>>(),
        );
    }
}

#[test]
fn a_zone_is_suggested_for_a_near_word_only() {
    let said = |zone: &str| {
        let (text, _) = changed("zone = \"Europe/Vienna\"", &format!("zone = \"{zone}\""));
        toml_only(&text).findings[0].to_do.clone()
    };
    for (word, meant) in [
        ("Europe/Viena", "Europe/Vienna"),
        ("europe/vienna", "Europe/Vienna"),
        ("Vienna", "Europe/Vienna"),
        ("America/New_Yrok", "America/New_York"),
    ] {
        assert!(
            said(word).contains(&format!("'{meant}'")),
            "{word}: {}",
            said(word)
        );
    }
    for word in ["Middle European", "Mars/Olympus", "+2", "Asia/Vienna Woods"] {
        assert!(!said(word).contains("mean"), "{word}: {}", said(word));
        assert!(said(word).contains("IANA"), "{word}: {}", said(word));
    }
}

#[test]
fn what_is_missing_is_reported_at_its_section() {
    let missing = |text: &str| {
        let loaded = toml_only(text);
        (places(&loaded.findings), loaded.findings[0].what.clone())
    };
    let (text, line) = changed("file = \"bench\\\\swap.csv\"", "id = \"b\"");
    let (places, what) = missing(&text);
    assert_eq!(places, [format!("missing-key:{}:1", line - 2)]);
    assert!(what.contains("'bench.file'"));
    let (places, what) = missing("[power.a]\nfan_diameter = \"7 cm\"\n[pack.p]\ncells = 4\n");
    assert_eq!(places, ["missing-key:3:7"]);
    assert!(what.contains("'pack.p.capacity'"));
}

#[test]
fn a_wrong_section_is_reported_at_its_name() {
    let (text, line) = changed("[site]", "[sites]");
    let loaded = toml_only(&text);
    assert_eq!(places(&loaded.findings), [format!("unknown-key:{line}:2")]);
    assert_eq!(loaded.findings[0].to_do, "Did you mean 'site'?");
    let loaded = toml_only("[power]\nfan_diameter = \"70 mm\"\n");
    assert_eq!(
        places(&loaded.findings),
        ["wrong-type:2:1", "no-power-system:0:0"]
    );
    assert!(loaded.findings[0].to_do.contains("[power.my-power]"));
    let loaded = toml_only("bench = 3\n[power.a]\nfan_diameter = \"70 mm\"\n");
    assert_eq!(places(&loaded.findings), ["wrong-type:1:9"]);
    assert!(loaded.findings[0].to_do.contains("[[bench]]"));
}

#[test]
fn all_problems_of_a_file_come_at_once_and_the_rest_is_read() {
    let (mut text, _) = changed("mass = \"2.41 kg\"", "mass = \"2.41\"");
    for (from, to) in [
        ("wing_area", "wing_aera"),
        ("continuous = \"80 A\"", "continuous = \"80 V\""),
        ("pack = \"p1\"", "pack = \"p11\""),
        ("rate = \"10 Hz\"", "rate = \"often\""),
        ("power = \"swap\"", "power = \"swop\""),
    ] {
        text = text.replacen(from, to, 1);
    }
    let loaded = toml_only(&text);
    let mut codes: Vec<_> = loaded.findings.iter().map(|f| f.code.as_str()).collect();
    codes.sort_unstable();
    assert_eq!(
        codes,
        [
            "no-unit",
            "not-a-number",
            "unknown-key",
            "unknown-pack",
            "unknown-power",
            "wrong-unit"
        ]
    );
    let season = loaded.season.unwrap();
    assert_eq!(season.airframes["alder"].stall_speed_m_s, Some(13.0));
    assert_eq!(season.benches.len(), 1);
    assert_eq!(season.powers.len(), 2);
    assert_eq!(season.powers["stock"].pack, None);
}

#[test]
fn an_entry_that_cannot_be_read_takes_only_what_hangs_on_it() {
    let (text, _) = changed(
        "fan_diameter = \"70 mm\"\n[instrument",
        "fan_diameter = \"70 V\"\n[instrument",
    );
    let loaded = toml_only(&text);
    let codes: Vec<_> = loaded.findings.iter().map(|f| f.code.as_str()).collect();
    // What hangs on that system is left out aloud.
    assert_eq!(codes, ["wrong-unit", "bench-left-out", "question-left-out"]);
    assert_eq!(loaded.findings[1].severity, Severity::Warning);
    let season = loaded.season.unwrap();
    assert_eq!(season.benches.len(), 1);
    assert!(season.questions.iter().all(|q| q.candidate != "swap"));
}

#[test]
fn duplicates_are_findings() {
    let (text, line) = changed(
        "power = \"swap\"\nfile",
        "id = \"stock-a\"\npower = \"swap\"\nfile",
    );
    let loaded = toml_only(&text);
    assert_eq!(
        places(&loaded.findings),
        [format!("duplicate-bench:{line}:6")]
    );
    assert_eq!(loaded.season.unwrap().benches.len(), 1);
}

#[test]
fn a_channel_named_by_both_its_words_is_told() {
    let (text, line) = changed("thrust = \"Pull [ozf]\"", "angular_speed = \"Pull [ozf]\"");
    let loaded = toml_only(&text);
    assert_eq!(
        places(&loaded.findings),
        [format!("duplicate-channel:{}:1", line + 1)]
    );
    assert_eq!(
        loaded.season.unwrap().benches[0].channels["angular_speed"].column,
        "#4"
    );
}

#[test]
fn a_syntax_error_has_line_column_and_caret() {
    let loaded = toml_only("title = \"x\"\n[power.stock]\nfan_diameter = 70 mm\n");
    assert!(loaded.season.is_none());
    assert_eq!(places(&loaded.findings), ["toml-syntax:3:16"]);
    let finding = &loaded.findings[0];
    assert!(
        finding.to_do.contains("fan_diameter = \"70 mm\""),
        "{finding}"
    );
    let excerpt = "  |\n3 | fan_diameter = 70 mm\n  |                ^^^^^";
    assert_eq!(finding.excerpt.as_deref(), Some(excerpt));
}

#[test]
fn every_syntax_error_is_told_with_what_to_write() {
    let told = |text: &str| {
        let loaded = toml_only(text);
        assert!(loaded.season.is_none(), "{text}");
        let to_do = loaded.findings.iter().map(|f| f.to_do.clone());
        (
            places(&loaded.findings),
            to_do.collect::<Vec<_>>().join("\n"),
        )
    };
    let (places, to_do) = told("a = 14 %\nb = 33 cm2 # nozzle\n");
    assert_eq!(places, ["toml-syntax:1:5", "toml-syntax:2:5"]);
    assert!(
        to_do.contains("a = \"14 %\"") && to_do.contains("b = \"33 cm2\""),
        "{to_do}"
    );
    let (places, to_do) = told("span = 0,98 m");
    assert_eq!(places, ["toml-syntax:1:9"]);
    assert!(to_do.contains("span = \"0,98 m\""), "{to_do}");
    assert!(told("date = 12.4.2025").1.contains("date = \"12.4.2025\""));
    let (places, to_do) = told("[airframe.a]\n[airframe.a]\n");
    assert_eq!(places, ["toml-syntax:2:11"]);
    assert!(to_do.contains("only once"), "{to_do}");
    assert_eq!(told("title = \"x\n").0, ["toml-syntax:1:11"]);
}

#[test]
fn nothing_to_compare_is_said() {
    let loaded = toml_only("");
    assert!(loaded.season.is_none());
    assert_eq!(places(&loaded.findings), ["no-power-system:0:0"]);
}

#[test]
fn the_column_counts_characters_and_the_caret_stands_under_them() {
    let loaded = toml_only(
        "[power.a]\nfan_diameter = \"70 mm\" # Größe\n[airframe.\"Möwe\"]\n\tmasse = 1\n",
    );
    assert_eq!(places(&loaded.findings), ["unknown-key:4:2"]);
    let excerpt = loaded.findings[0].excerpt.clone().unwrap();
    assert_eq!(excerpt, "  |\n4 | \tmasse = 1\n  | \t^^^^^");
}

#[test]
fn nesting_without_end_is_an_error_and_no_overflow() {
    for text in ["[".repeat(50_000), format!("a = {}", "[".repeat(50_000))] {
        let loaded = toml_only(&text);
        assert!(loaded.season.is_none());
        assert_eq!(loaded.findings[0].code, "toml-syntax");
    }
}
