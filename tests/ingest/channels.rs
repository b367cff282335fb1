use benchborne::ingest::{Assignment, Cell, Channel, How, Purpose, Table, assign_channels};
use benchborne::season::{ChannelDecl, ChannelMap, Severity};

use super::{close, codes, data, table};

/// A table of one column with that header and those cells.
fn column(header: &str, cells: &[&str]) -> Table {
    let rows: String = cells
        .iter()
        .enumerate()
        .map(|(i, c)| format!("{i}|{c}\n"))
        .collect();
    table(format!("row number|{header}\n{rows}"))
}

fn assigned(table: &Table, purpose: Purpose) -> Assignment {
    assign_channels(table, &ChannelMap::new(), purpose)
}

fn decl(column: &str) -> ChannelDecl {
    ChannelDecl {
        column: column.to_owned(),
        ..ChannelDecl::default()
    }
}

fn map(word: &str, decl: ChannelDecl) -> ChannelMap {
    ChannelMap::from([(word.to_owned(), decl)])
}

/// Values in SI by hand from NIST SP 811 factors.
#[test]
fn header_words_and_units_are_recognised_in_any_order_and_language() {
    use Channel::*;
    use Purpose::{Bench, Log};
    let rpm = std::f64::consts::TAU / 60.0;
    for (header, raw, purpose, channel, si) in [
        ("Current (A)", "50", Log, Current, 50.0),
        ("current[A]", "50", Log, Current, 50.0),
        ("I_batt_A", "50", Log, Current, 50.0),
        ("Ampere", "50", Log, Current, 50.0),
        ("Strom [A]", "50", Log, Current, 50.0),
        ("courant (mA)", "5000", Log, Current, 5.0),
        ("Corriente, A", "50", Log, Current, 50.0),
        ("corrente / A", "50", Log, Current, 50.0),
        ("Batt.V(V)", "12", Log, Voltage, 12.0),
        ("voltage_V", "12", Log, Voltage, 12.0),
        ("Akkuspannung (V)", "12", Log, Voltage, 12.0),
        ("Tensión", "12", Log, Voltage, 12.0),
        ("(V) pack voltage", "12", Log, Voltage, 12.0),
        ("Volts", "12", Log, Voltage, 12.0),
        ("Batt (V)", "12", Log, Voltage, 12.0),
        ("V", "12", Log, Voltage, 12.0),
        ("gspeed_mm/s", "30000", Log, GroundSpeed, 30.0),
        (
            "heading_1e-5deg",
            "9000000",
            Log,
            Course,
            std::f64::consts::FRAC_PI_2,
        ),
        ("VSpd (ft/min)", "600", Log, ClimbRate, 3.048),
        ("mV battery voltage [mV]", "12000", Log, Voltage, 12.0),
        (
            "Motor Optical Speed (RPM)",
            "30000",
            Bench,
            AngularSpeed,
            30000.0 * rpm,
        ),
        (
            "Drehzahl [1/min]",
            "30000",
            Log,
            AngularSpeed,
            30000.0 * rpm,
        ),
        ("tr/min", "30000", Log, AngularSpeed, 30000.0 * rpm),
        ("Thrust (gf)", "1000", Bench, Thrust, 9.80665),
        ("Schub [N]", "10", Bench, Thrust, 10.0),
        ("Poussée (kg)", "2", Bench, Thrust, 19.6133),
        ("Pull [lbf]", "1", Bench, Thrust, 4.448_221_615_260_5),
        ("Exhaust speed (km/h)", "180", Bench, ExhaustSpeed, 50.0),
        (
            "Strahlgeschwindigkeit [m/s]",
            "50",
            Bench,
            ExhaustSpeed,
            50.0,
        ),
        ("Electrical Power (W)", "500", Bench, Power, 500.0),
        ("Leistung (kW)", "0.5", Log, Power, 500.0),
        ("used_mAh", "1000", Log, Charge, 3600.0),
        ("Consumption (mAh)", "1000", Log, Charge, 3600.0),
        ("airspeed_m_s", "20", Log, Airspeed, 20.0),
        ("v_north_m_s", "-3", Log, VelocityNorth, -3.0),
        ("vel_e_m_s", "-3", Log, VelocityEast, -3.0),
        ("Course[°]", "180", Log, Course, std::f64::consts::PI),
        ("GPS Speed (km/h)", "180", Log, GroundSpeed, 50.0),
        ("Vitesse (km/h)", "180", Log, GroundSpeed, 50.0),
        (
            "GroundSpeed_kt",
            "100",
            Log,
            GroundSpeed,
            100.0 * 1852.0 / 3600.0,
        ),
        ("Alt(m)", "120", Log, Height, 120.0),
        ("Höhe", "120", Log, Height, 120.0),
        ("Quota (ft)", "100", Log, Height, 30.48),
        ("lat", "48.5", Log, Latitude, 48.5),
        ("Längengrad", "16.5", Log, Longitude, 16.5),
        ("ESC temp (°C)", "40", Log, ControllerTemperature, 313.15),
        ("Motortemperatur °C", "40", Log, MotorTemperature, 313.15),
        (
            "temperatura bateria [°F]",
            "104",
            Log,
            PackTemperature,
            313.15,
        ),
        ("VSpeed(m/s)", "2", Log, ClimbRate, 2.0),
        ("AccZ (g)", "1", Log, AccelerationZ, 9.80665),
        ("Gas (%)", "50", Log, Throttle, 0.5),
        ("baro_pressure_hPa", "1000", Log, Pressure, 1e5),
    ] {
        let table = column(header, &[raw, raw, raw]);
        let assignment = assigned(&table, purpose);
        let found = assignment
            .get(channel)
            .unwrap_or_else(|| panic!("{header}: {assignment:?}"));
        let Cell::Number(value) = table.value(0, found) else {
            panic!("{header}")
        };
        close(value, si);
        assert_eq!(found.how, How::Recognised);
    }
}

#[test]
fn words_of_other_quantities_stay_unknown() {
    for header in [
        "Servo 1 (µs)",
        "Overall Efficiency (gf/W)",
        "Cell 1 (V)",
        "a",
        "theta_rad",
        "is_powering_off",
        "hdop",
        "RSSI(dB)",
        "wind speed (m/s)",
        "Rx (V)",
    ] {
        let assignment = assigned(&column(header, &["1", "2", "3"]), Purpose::Log);
        assert_eq!(assignment.columns, [], "{header}");
        let note = &assignment.findings[0];
        assert_eq!(
            (note.code.as_str(), note.severity),
            ("unknown-columns", Severity::Note)
        );
        assert!(note.what.contains(header), "{}", note.what);
    }
}

#[test]
fn a_published_bench_run_has_its_channels() {
    let table = table(data("static-tests/a1_7.csv"));
    let assignment = assigned(&table, Purpose::Bench);
    let value = |row, channel| {
        table
            .value(row, assignment.get(channel).unwrap())
            .number()
            .unwrap()
    };
    close(value(0, Channel::Voltage), 7.386415564017301);
    close(value(1, Channel::Current), 0.708594751713181);
    close(value(0, Channel::Thrust), 6.075252556391931 * 9.80665e-3);
    close(value(0, Channel::Throttle), 0.0);
    close(value(10, Channel::Throttle), 1.0);
    // The optical counter is zero throughout and loses; electrical turns are not the rotor's.
    let speed = assignment.get(Channel::AngularSpeed).unwrap();
    assert_eq!(
        table.column_name(speed.index),
        "Motor Electrical Speed (RPM)"
    );
    let found = codes(&assignment.findings);
    assert!(found.contains(&"electrical-speed") && found.contains(&"throttle-ends-observed"));
}

#[test]
fn of_two_columns_the_better_is_taken_and_the_other_named() {
    for (header, rows, expected) in [
        // Not zero throughout, then without qualifier, then with a unit, then fuller, then left.
        ("Voltage (V),Spannung (V)", "0,12\n0,12", 1),
        ("Receiver voltage (V),Voltage", "5,12\n5,12", 1),
        ("Voltage,Spannung (V)", "11,12\n11,12", 1),
        ("Voltage (V),Spannung (V)", ",12\n11,12", 1),
        ("Voltage (V),Spannung (V)", "11,12\n11,12", 0),
    ] {
        let table = table(format!("{header}\n{rows}\n"));
        let assignment = assigned(&table, Purpose::Log);
        assert_eq!(
            assignment.get(Channel::Voltage).unwrap().index,
            expected,
            "{header}"
        );
        assert_eq!(codes(&assignment.findings)[0], "several-columns");
        assert!(
            assignment.findings[0]
                .what
                .contains(&table.column_name(1 - expected))
        );
    }
}

#[test]
fn a_declared_column_overrules_by_name_or_number() {
    let table = table("Voltage (V),aux\n12,11000\n12,11500\n");
    for column in ["aux", "#2", "AUX"] {
        let declared = ChannelDecl {
            unit: Some("mV".into()),
            ..decl(column)
        };
        let assignment = assign_channels(&table, &map("voltage", declared), Purpose::Log);
        let voltage = assignment.get(Channel::Voltage).unwrap();
        assert_eq!((voltage.index, voltage.how), (1, How::Declared));
        assert_eq!(table.value(1, voltage), Cell::Number(11.5));
    }
}

#[test]
fn a_declared_scale_multiplies_and_turns_bounds_round() {
    let table = table("x,pull (N)\n1,5\n2,>10\n");
    let declared = ChannelDecl {
        scale: Some(-1.0),
        ..decl("pull (N)")
    };
    let assignment = assign_channels(&table, &map("thrust", declared), Purpose::Bench);
    let thrust = assignment.get(Channel::Thrust).unwrap();
    assert_eq!(table.value(0, thrust), Cell::Number(-5.0));
    assert_eq!(table.value(1, thrust), Cell::Below(-10.0));
}

#[test]
fn a_declared_column_that_is_missing_names_the_nearest() {
    let table = table("Curent (A),Volts\n1,12\n2,12\n");
    let assignment = assign_channels(&table, &map("current", decl("Current (A)")), Purpose::Log);
    let finding = &assignment.findings[0];
    assert_eq!(
        (finding.code.as_str(), finding.severity),
        ("no-such-column", Severity::Error)
    );
    assert!(finding.to_do.contains("'Curent (A)'"), "{}", finding.to_do);
    let assignment = assign_channels(&table, &map("curent", decl("Volts")), Purpose::Log);
    assert_eq!(assignment.findings[0].code, "unknown-channel");
    assert!(assignment.findings[0].to_do.contains("'current'"));
}

#[test]
fn a_missing_unit_is_taken_from_what_the_numbers_can_be() {
    for (header, raw, channel, si) in [
        ("voltage", "12400", Channel::Voltage, 12.4),
        ("lat", "485000000", Channel::Latitude, 48.5),
        ("height", "120000", Channel::Height, 120.0),
        ("course", "270", Channel::Course, 1.5 * std::f64::consts::PI),
    ] {
        let table = column(header, &[raw, raw, raw]);
        let assignment = assigned(&table, Purpose::Log);
        close(
            table
                .value(0, assignment.get(channel).unwrap())
                .number()
                .unwrap(),
            si,
        );
        assert_eq!(codes(&assignment.findings)[0], "unit-assumed");
    }
}

#[test]
fn units_may_stand_in_the_cells() {
    let table =
        table("Throttle;Pull;Voltage\n50 %;900 g;11,9 V\n100 %;1,8e3 g;\n75 %;>1500 g;11,5 V\n");
    let assignment = assigned(&table, Purpose::Bench);
    let value = |row, channel| table.value(row, assignment.get(channel).unwrap());
    assert_eq!(value(0, Channel::Voltage), Cell::Number(11.9));
    assert_eq!(value(1, Channel::Voltage), Cell::Blank);
    assert_eq!(value(0, Channel::Throttle), Cell::Number(0.5));
    let Cell::Above(bound) = value(2, Channel::Thrust) else {
        panic!()
    };
    close(bound, 1.5 * 9.80665);
}

#[test]
fn thrust_without_a_unit_is_not_guessed() {
    let assignment = assigned(&column("Thrust", &["900", "1200"]), Purpose::Bench);
    assert_eq!(assignment.get(Channel::Thrust), None);
    assert_eq!(codes(&assignment.findings)[0], "unit-missing");
}

#[test]
fn implausible_values_are_questioned() {
    let assignment = assigned(&column("Voltage (V)", &["12400", "12300"]), Purpose::Log);
    assert_eq!(codes(&assignment.findings)[0], "implausible-values");
}

#[test]
fn degrees_and_minutes_run_together_are_questioned() {
    let assignment = assigned(&column("lat", &["4807.038", "4807.040"]), Purpose::Log);
    assert_eq!(codes(&assignment.findings)[0], "degrees-and-minutes");
    // No hour of arc has 77 minutes.
    let assignment = assigned(&column("lat", &["4877.038", "4877.040"]), Purpose::Log);
    assert_eq!(codes(&assignment.findings)[0], "implausible-values");
}

#[test]
fn an_unknown_unit_is_named() {
    let assignment = assigned(&column("Voltage (vlt)", &["12.4", "12.3"]), Purpose::Log);
    assert_eq!(codes(&assignment.findings)[0], "unknown-unit");
}

#[test]
fn throttle_scales_are_told_apart() {
    for (header, cells, expected) in [
        ("Throttle (%)", ["0", "50", "100"], [0.0, 0.5, 1.0]),
        ("Throttle", ["0", "50", "100"], [0.0, 0.5, 1.0]),
        ("Throttle", ["0", "0.5", "1"], [0.0, 0.5, 1.0]),
        ("Throttle", ["-100", "0", "100"], [0.0, 0.5, 1.0]),
        ("Throttle", ["-1", "0", "1"], [0.0, 0.5, 1.0]),
        ("Throttle (us)", ["1100", "1500", "1900"], [0.0, 0.5, 1.0]),
        (
            "ESC signal (µs)",
            ["1000", "1250", "2000"],
            [0.0, 0.25, 1.0],
        ),
        ("Throttle (ms)", ["1.1", "1.5", "1.9"], [0.0, 0.5, 1.0]),
        // Never near full throttle: the usual ends, not those observed.
        ("Throttle (us)", ["1100", "1300", "1500"], [0.1, 0.3, 0.5]),
    ] {
        let table = column(header, &cells);
        let assignment = assigned(&table, Purpose::Log);
        let throttle = assignment.get(Channel::Throttle).unwrap();
        for (row, expected) in expected.iter().enumerate() {
            close(table.value(row, throttle).number().unwrap(), *expected);
        }
        let observed = codes(&assignment.findings).contains(&"throttle-ends-observed");
        assert_eq!(observed, header.contains("s)"), "{header}");
    }
}

#[test]
fn declared_ends_may_run_backwards() {
    let table = column("Thr (us)", &["1900", "1500", "1100"]);
    let declared = ChannelDecl {
        ends: Some((1900.0, 1100.0)),
        ..decl("Thr (us)")
    };
    let assignment = assign_channels(&table, &map("throttle", declared), Purpose::Log);
    let throttle = assignment.get(Channel::Throttle).unwrap();
    close(table.value(0, throttle).number().unwrap(), 0.0);
    close(table.value(2, throttle).number().unwrap(), 1.0);
    assert!(!codes(&assignment.findings).contains(&"throttle-ends-observed"));
}

#[test]
fn a_throttle_that_runs_backwards_is_found_by_the_current() {
    let rows: String = (0..20)
        .map(|i| format!("{},{}\n", 100 - 5 * i, 2 * i))
        .collect();
    let backwards = table(format!("Throttle (%),Current (A)\n{rows}"));
    assert!(codes(&assigned(&backwards, Purpose::Log).findings).contains(&"throttle-reversed"));
    let rows: String = (0..20).map(|i| format!("{},{}\n", 5 * i, 2 * i)).collect();
    let forwards = table(format!("Throttle (%),Current (A)\n{rows}"));
    assert!(!codes(&assigned(&forwards, Purpose::Log).findings).contains(&"throttle-reversed"));
}

#[test]
fn plausibility_is_judged_as_scaled() {
    let raw = column("esc_current", &["4000", "5200"]);
    let declared = ChannelDecl {
        unit: Some("A".into()),
        scale: Some(0.01),
        ..decl("esc_current")
    };
    let assignment = assign_channels(&raw, &map("current", declared.clone()), Purpose::Log);
    let current = assignment.get(Channel::Current).unwrap();
    assert_eq!(raw.value(0, current), Cell::Number(40.0));
    assert!(!codes(&assignment.findings).contains(&"implausible-values"));
    let unscaled = ChannelDecl {
        scale: None,
        ..declared
    };
    let assignment = assign_channels(&raw, &map("current", unscaled), Purpose::Log);
    assert!(codes(&assignment.findings).contains(&"implausible-values"));
}

#[test]
fn the_scale_of_a_temperature_leaves_its_zero() {
    let raw = column("air", &["250", "251"]);
    let declared = ChannelDecl {
        unit: Some("°C".into()),
        scale: Some(0.1),
        ..decl("air")
    };
    let assignment = assign_channels(&raw, &map("air_temperature", declared), Purpose::Log);
    let air = assignment.get(Channel::AirTemperature).unwrap();
    close(raw.value(0, air).number().unwrap(), 298.15);
}

#[test]
fn discharge_counted_as_negative_is_said_and_the_throttle_is_not_blamed() {
    let rows: String = (0..20).map(|i| format!("{},{}\n", 5 * i, -3 * i)).collect();
    let table = table(format!("Throttle (%),Current (A)\n{rows}"));
    let assignment = assigned(&table, Purpose::Log);
    assert_eq!(codes(&assignment.findings), ["negative-draw"]);
    assert_eq!(
        assignment.findings[0].overrule.as_deref(),
        Some("current = { column = \"Current (A)\", scale = -1 }")
    );
    let declared = ChannelDecl {
        scale: Some(-1.0),
        ..decl("Current (A)")
    };
    let turned = assign_channels(&table, &map("current", declared), Purpose::Log);
    assert!(turned.findings.is_empty(), "{:?}", turned.findings);
}

#[test]
fn the_two_sides_of_a_jet_are_asked_to_be_added() {
    let table = table("Throttle (%),Thrust left (g),Thrust right (g)\n50,425,420\n75,950,955\n");
    let assignment = assigned(&table, Purpose::Bench);
    let told = assignment
        .findings
        .iter()
        .find(|f| f.code == "several-columns")
        .unwrap();
    assert!(told.what.contains("sum"), "{}", told.what);
    assert!(told.overrule.is_some());
}

#[test]
fn the_cells_of_a_pack_add_up_to_its_voltage() {
    let sheet = table("t,Cell1 (V),Cell2 (V),Cell3 (V)\n0,4.10,4.09,4.11\n1,4.00,,4.01\n");
    let assignment = assigned(&sheet, Purpose::Log);
    let voltage = assignment.get(Channel::Voltage).unwrap();
    close(sheet.value(0, voltage).number().unwrap(), 12.3);
    assert_eq!(sheet.value(1, voltage), Cell::Blank);
    assert!(codes(&assignment.findings).contains(&"sum-of-cells"));
    // A cell is missing, or the pack's own voltage is there.
    for header in [
        "t,Cell1 (V),Cell2 (V),Cell4 (V)",
        "t,Voltage (V),Cell1 (V),Cell2 (V)",
    ] {
        let sheet = table(format!("{header}\n0,4.10,4.09,4.11\n1,4.00,4.0,4.01\n"));
        let found = assigned(&sheet, Purpose::Log);
        assert!(
            !codes(&found.findings).contains(&"sum-of-cells"),
            "{header}"
        );
    }
}

#[test]
fn volts_of_a_cell_are_no_volts_of_the_pack() {
    let assignment = assigned(&column("Voltage (V/cell)", &["4.1", "4.0"]), Purpose::Log);
    let told = &assignment.findings[0];
    assert_eq!(told.code, "volts-of-a-cell");
    let line = "voltage = { column = \"Voltage (V/cell)\", unit = \"V\", scale = 6 }";
    assert_eq!(told.overrule.as_deref(), Some(line));
}

#[test]
fn columns_of_one_name_are_told_by_number() {
    let table = table("Time,Volt,Volt\n0,12,13\n1,12,13\n");
    assert_eq!([table.column_key(1), table.column_key(2)], ["#2", "#3"]);
}

#[test]
fn a_throttle_channel_of_a_radio_is_recognised() {
    let assignment = assigned(
        &column("Gaskanal (µs)", &["1100", "1500", "1900"]),
        Purpose::Log,
    );
    assert!(assignment.get(Channel::Throttle).is_some());
}

#[test]
fn what_measures_something_else_is_no_clock() {
    let rows: String = (0..100)
        .map(|i| format!("{:.1};12\n", 20.0 + 0.1 * f64::from(i)))
        .collect();
    for header in ["temp", "esc_week", "x (hPa)"] {
        let found = assigned(&table(format!("{header};Volts\n{rows}")), Purpose::Log);
        assert!(found.get(Channel::Time).is_none(), "{header}");
    }
    let found = assigned(&table(format!("x;Volts\n{rows}")), Purpose::Log);
    assert!(found.get(Channel::Time).is_some());
}

#[test]
fn a_throttle_that_no_column_is_called_is_said_by_name() {
    let found = assigned(&table("lever,Amps\n0,1\n5,9\n"), Purpose::Log);
    let told = found.findings.iter().find(|f| f.code == "unknown-columns");
    assert!(told.unwrap().to_do.contains("throttle = "));
}
