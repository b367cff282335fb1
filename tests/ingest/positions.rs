//! Positions in the forms that cells write them.

use benchborne::ingest::{Channel, ReadOptions};
use benchborne::season::{ChannelDecl, ChannelMap};

use super::{close, codes, log_read};

fn position(header: &str, cell: &str) -> (f64, f64) {
    let text = format!("time_s;{header}\n0.0;{cell}\n0.1;{cell}\n");
    let log = log_read(text, &ReadOptions::default()).log.unwrap();
    let of = |c| log.get(c).unwrap()[1];
    (of(Channel::Latitude), of(Channel::Longitude))
}

#[test]
fn sides_of_the_world_are_signs() {
    // 48°12'30" is 48 + 12/60 + 30/3600 (ISO 6709, sexagesimal form).
    for cells in [
        "48.208333333 S;16.304 W",
        "S48.208333333;W16.304",
        "S48°12.5';W16°18.24'",
        "48°12'30\"S;16°18'14.4\"W",
        "48° 12' 30\" S;16° 18' 14.4\" W",
        "-48.208333333°;-16.304°",
        "4812.5S;01618.24W",
    ] {
        let (lat, lon) = position("lat;lon", cells);
        assert!((lat + 48.208_333_333).abs() < 1e-8, "{cells}: {lat}");
        assert!((lon + 16.304).abs() < 1e-8, "{cells}: {lon}");
    }
    let (lat, lon) = position("Lat;Lon", "N48°12.0000';E16°18.2400'");
    close(lat, 48.2);
    close(lon, 16.304);
}

#[test]
fn degrees_and_minutes_in_one_number_are_read_and_their_side_is_asked() {
    let text = "time_s;lat;lon\n0.0;4807.038;01131.000\n0.1;4807.038;01131.000\n";
    let read = log_read(text, &ReadOptions::default());
    let log = read.log.unwrap();
    // The example of the standard's handbooks: 48°07.038' N, 11°31.000' E.
    close(log.get(Channel::Latitude).unwrap()[0], 48.0 + 7.038 / 60.0);
    close(log.get(Channel::Longitude).unwrap()[0], 11.0 + 31.0 / 60.0);
    let doubts: Vec<_> = read
        .findings
        .iter()
        .filter(|f| f.code == "degrees-and-minutes")
        .collect();
    assert_eq!(doubts.len(), 2);
    assert_eq!(
        doubts[0].overrule.as_deref(),
        Some("latitude = { column = \"lat\", scale = -1 }")
    );
    // The printed line leads to the other side.
    let decl = ChannelDecl {
        column: "lat".to_owned(),
        scale: Some(-1.0),
        ..ChannelDecl::default()
    };
    let options = ReadOptions {
        channels: ChannelMap::from([("latitude".to_owned(), decl)]),
        ..ReadOptions::default()
    };
    let log = log_read(text, &options).log.unwrap();
    close(log.get(Channel::Latitude).unwrap()[0], -48.0 - 7.038 / 60.0);
}

#[test]
fn latitude_and_longitude_may_share_a_column() {
    let text = "time_s,GPS,RSSI\n0.0,48.200000 16.304000,80\n0.1,,80\n0.2,48.200125 16.303992,80\n";
    let read = log_read(text, &ReadOptions::default());
    let log = read.log.unwrap();
    close(log.get(Channel::Latitude).unwrap()[2], 48.200125);
    close(log.get(Channel::Longitude).unwrap()[2], 16.303992);
    assert!(log.get(Channel::Latitude).unwrap()[1].is_nan());
    assert!(codes(&read.findings).contains(&"position-pair"));
}

#[test]
fn a_column_of_its_own_may_name_the_side_of_the_world() {
    // The example of the standard's handbooks, on the other sides: 48°07.038' S, 11°31.000' W.
    let text = "time_s,lat,N/S,lon,E/W\n0.0,4807.038,S,1131.000,W\n0.1,4807.038,s,1131.000,W\n";
    let read = log_read(text, &ReadOptions::default());
    let log = read.log.as_ref().unwrap();
    let of = |c| log.get(c).unwrap()[1];
    close(of(Channel::Latitude), -48.0 - 7.038 / 60.0);
    close(of(Channel::Longitude), -11.0 - 31.0 / 60.0);
    assert!(codes(&read.findings).contains(&"side-column"));
    // Nothing is left to ask.
    let asked = |f: &&benchborne::season::Finding| f.code == "degrees-and-minutes";
    assert!(
        read.findings
            .iter()
            .filter(asked)
            .all(|f| f.overrule.is_none())
    );
}

#[test]
fn a_flight_across_the_equator_changes_its_side_from_row_to_row() {
    let text = "time_s,lat,lat_side,lon,lon_side\n0,0.001,N,9.5,E\n1,0.001,S,9.5,E\n2,0.003,,9.5,E\n\
         3,0.004,S,9.5,E\n";
    let read = log_read(text, &ReadOptions::default());
    let log = read.log.unwrap();
    let lat = log.get(Channel::Latitude).unwrap();
    close(lat[0], 0.001);
    close(lat[1], -0.001);
    assert!(lat[2].is_nan(), "a side that is not told is not made up");
    close(lat[3], -0.004);
    close(log.get(Channel::Longitude).unwrap()[3], 9.5);
}

#[test]
fn a_sign_outranks_a_column_of_letters() {
    // `S` here is some status beside a latitude that has its sign.
    let text = "time_s,lat,state,lon\n0,-48.2,S,16.3\n1,-48.2,S,16.3\n";
    let log = log_read(text, &ReadOptions::default()).log.unwrap();
    close(log.get(Channel::Latitude).unwrap()[0], -48.2);
}
