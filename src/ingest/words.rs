//! The words that name quantities in headers: English, German, French, Spanish, Italian.
//!
//! A header is cut into words (at marks, between letters and digits, at `camelCase`), accents are
//! taken off, and every phrase of the table whose words all occur is a candidate. A word of a
//! phrase of five letters or more may also be part of a longer word (`Akkuspannung`). Exact words
//! count more than parts, longer phrases more than shorter ones, words left over count against.

use super::header::canonical_unit;
use super::log::Channel::{self, *};
use crate::units::{self, Quantity as Q};

/// What the words of a header say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Meaning {
    pub channel: Channel,
    /// The unit that the words themselves name (`Watts`, `RPM`).
    pub unit: Option<&'static str>,
    /// A qualifier says that it is not the plain quantity (`filtered`, `max`, `receiver`).
    pub qualified: bool,
    pub score: i32,
}

/// What the table is read for: the same word may mean two things.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    Bench,
    Log,
}

struct Phrase {
    channel: Channel,
    unit: Option<&'static str>,
    /// Alternatives, each of one or more words.
    words: &'static [&'static str],
}

const fn p(channel: Channel, words: &'static [&'static str]) -> Phrase {
    Phrase {
        channel,
        unit: None,
        words,
    }
}

const fn u(channel: Channel, unit: &'static str, words: &'static [&'static str]) -> Phrase {
    Phrase {
        channel,
        unit: Some(unit),
        words,
    }
}

#[rustfmt::skip]
const PHRASES: &[Phrase] = &[
    p(Time, &["time", "timestamp", "zeit", "uhrzeit", "zeitstempel", "laufzeit", "temps", "heure",
        "horodatage", "tiempo", "hora", "tempo", "ora", "elapsed", "clock", "date time", "datetime",
        "t", "utc time", "gps time", "utc", "zeitpunkt", "marca tiempo",
        "tow", "itow", "gps tow", "time week", "gps seconds", "gps ms", "boot", "uptime"]),
    u(Time, "s", &["seconds", "sec", "secs", "sekunden", "secondes", "segundos", "secondi"]),
    u(Time, "ms", &["millis", "milliseconds", "msec", "millisekunden"]),
    u(Time, "us", &["micros", "microseconds", "usec"]),
    p(Throttle, &["throttle", "thr", "gas", "gaz", "esc signal", "esc input", "esc pwm",
        "motor signal", "motor command", "motor pwm", "motor output", "throttle signal",
        "throttle stick", "gasstellung", "gasknuppel", "drossel", "acelerador", "acceleratore",
        "manette", "manette gaz", "commande gaz", "stick", "duty", "duty cycle", "pwm",
        "throttle command", "throttle position", "manetta", "mando gas"]),
    p(Voltage, &["voltage", "volt", "spannung", "akkuspannung", "batteriespannung", "tension",
        "tension batterie", "tensione", "voltaje", "vbat", "vbatt", "v batt", "v bat", "v pack",
        "u batt", "u bat", "u akku", "volt batt", "pack voltage", "battery voltage", "u"]),
    u(Voltage, "V", &["volts"]),
    p(Current, &["current", "strom", "akkustrom", "motorstrom", "courant", "corriente", "corrente",
        "intensite", "intensidad", "intensita", "amperage", "curr", "ibat", "ibatt", "i batt",
        "i bat", "i pack", "i akku", "battery current", "pack current", "i"]),
    u(Current, "A", &["amps", "amp", "ampere", "amperes"]),
    p(Power, &["power", "leistung", "puissance", "potencia", "potenza", "electrical power",
        "input power", "elektrische leistung"]),
    u(Power, "W", &["watts", "watt"]),
    p(Charge, &["charge", "capacity", "consumed", "consumption", "used capacity", "charge used",
        "capacity used", "discharged", "kapazitat", "verbrauch", "entnommene ladung", "ladung",
        "consommation", "capacite", "consumo", "capacidad", "capacita", "carga", "charge drawn"]),
    u(Charge, "mAh", &["mah"]),
    p(AngularSpeed, &["drehzahl", "motor speed", "rotor speed", "fan speed", "optical speed",
        "motor optical speed", "electrical speed", "motor electrical speed", "rotational speed",
        "vitesse rotation", "regime", "velocidad giro", "speed", "umdrehungen", "motordrehzahl"]),
    u(AngularSpeed, "rpm", &["rpm", "motor rpm", "revs", "erpm", "electrical rpm", "revoluciones",
        "giri", "tours minute", "fan rpm", "u min"]),
    p(Thrust, &["thrust", "static thrust", "schub", "standschub", "poussee", "empuje", "spinta",
        "pull", "force", "kraft", "zug", "zugkraft", "load cell", "traction", "traccion", "fuerza",
        "forza", "scale", "trazione"]),
    p(ExhaustSpeed, &["exhaust", "exhaust speed", "exhaust velocity", "efflux", "efflux speed",
        "efflux velocity", "jet speed", "jet velocity", "exit velocity", "exit speed", "anemometer",
        "strahlgeschwindigkeit", "austrittsgeschwindigkeit", "vitesse ejection", "vitesse jet",
        "velocidad escape", "velocidad chorro", "velocita scarico", "velocita getto", "outlet speed"]),
    p(GroundSpeed, &["ground speed", "groundspeed", "gps speed", "gspeed", "gspd", "speed", "sog",
        "velocity", "vel", "geschwindigkeit", "vitesse", "vitesse sol", "velocidad", "velocita",
        "gps geschwindigkeit", "speed over ground", "gps velocity"]),
    p(Course, &["course", "cog", "track", "kurs", "cap", "rumbo", "rotta", "curso", "bearing",
        "gps heading", "gps course", "course over ground", "route", "heading"]),
    p(VelocityNorth, &["v north", "vel n", "vel north", "velocity north", "north velocity",
        "speed north", "vn", "v n"]),
    p(VelocityEast, &["v east", "vel e", "vel east", "velocity east", "east velocity", "speed east",
        "ve", "v e"]),
    p(VelocityDown, &["v down", "vel d", "vel down", "velocity down", "down velocity", "speed down",
        "vd", "v d"]),
    p(Airspeed, &["airspeed", "air speed", "ias", "tas", "pitot", "indicated airspeed",
        "true airspeed", "pitot speed", "fahrt", "vitesse air", "velocidad aire", "velocita aria"]),
    p(Height, &["height", "altitude", "alt", "hohe", "hoehe", "flughohe", "gps alt", "gps altitude",
        "baro alt", "elevation", "ele", "hauteur", "altura", "altitud", "altezza", "altitudine",
        "quota", "agl", "msl"]),
    p(Latitude, &["lat", "latitude", "breite", "breitengrad", "latitud", "latitudine", "gps lat"]),
    p(Longitude, &["lon", "long", "lng", "longitude", "lange", "laenge", "langengrad",
        "laengengrad", "longitud", "longitudine", "gps lon", "gps long"]),
    p(ClimbRate, &["climb", "climb rate", "vario", "variometer", "vertical speed", "vspeed", "v speed", "vspd",
        "vertical velocity", "steigen", "steigrate", "vitesse verticale", "velocidad vertical",
        "velocita verticale", "rate of climb"]),
    p(AccelerationX, &["acc x", "accel x", "acceleration x", "ax", "a x", "accx",
        "beschleunigung x"]),
    p(AccelerationY, &["acc y", "accel y", "acceleration y", "ay", "a y", "accy",
        "beschleunigung y"]),
    p(AccelerationZ, &["acc z", "accel z", "acceleration z", "az", "a z", "accz",
        "beschleunigung z", "load factor"]),
    p(ControllerTemperature, &["esc temp", "esc temperature", "controller temp", "esc t",
        "controller temperature", "temp esc", "temperature esc", "regler temp", "temp regler",
        "regler temperatur", "reglertemperatur", "fet temp", "temperature variateur",
        "temperatura variador", "temperatura regolatore"]),
    p(MotorTemperature, &["motor temp", "motor temperature", "temp motor", "temperature motor",
        "motor temperatur", "motortemperatur", "temperature moteur", "temperatura motor",
        "temperatura motore", "winding temperature"]),
    p(PackTemperature, &["battery temp", "battery temperature", "batt temp", "pack temp",
        "pack temperature", "akku temp", "akku temperatur", "akkutemperatur", "temp batt",
        "temperature batterie", "temperatura bateria", "temperatura batteria"]),
    p(AirTemperature, &["air temp", "air temperature", "ambient temp", "ambient temperature",
        "ambient", "outside temperature", "oat", "aussentemperatur", "lufttemperatur",
        "umgebungstemperatur", "temperature air", "temperatura aire", "temperatura aria"]),
    p(Pressure, &["pressure", "baro pressure", "luftdruck", "druck", "pression", "presion",
        "pressione", "static pressure", "air pressure", "barometer"]),
    p(Satellites, &["sats", "sat", "satellites", "satelliten", "satelites", "satelliti",
        "num sats", "satellites used", "numsat"]),
];

/// Words that say: not the plain quantity. Such a column loses against a plain one.
#[rustfmt::skip]
const QUALIFIERS: &[&str] = &[
    "max", "min", "avg", "average", "mean", "peak", "filtered", "raw", "receiver", "rx", "bec",
    "servo", "remaining", "left", "empty", "full", "rest", "target", "setpoint", "desired", "cmd",
    "variance", "error", "ellipsoid", "relative", "sample", "design", "nominal", "limit", "spitze",
    "empfanger", "recepteur", "receptor", "electrical", "heading", "electric", "invalid", "stddev",
    "pwm", "stick", "scaled", "erpm", "baro", "indicated",
];

/// Words beside which no phrase counts: another quantity altogether.
#[rustfmt::skip]
const OTHERS: &[&str] = &[
    "cell", "zelle", "cells", "efficiency", "wirkungsgrad", "rendement", "ratio", "factor", "delta",
    "count", "status", "mode", "id", "wind", "dynamic", "differential", "noise", "hdop", "vdop",
    "valid", "offset", "lost", "frame", "rssi", "tension2", "angle", "dist", "distance", "home",
];

/// The best meaning of a header name; a unit known from elsewhere narrows it.
pub(super) fn recognise(name: &str, unit: Option<&str>, purpose: Purpose) -> Option<Meaning> {
    let tokens = tokens(name);
    let named_load_cell = tokens.iter().any(|t| t == "load");
    if tokens
        .iter()
        .any(|t| OTHERS.contains(&t.as_str()) && !(named_load_cell && t == "cell"))
    {
        // An exhaust anemometer is often labelled wind; nothing else survives such a word.
        let wind_only = tokens
            .iter()
            .all(|t| !OTHERS.contains(&t.as_str()) || t == "wind");
        if !(purpose == Purpose::Bench && wind_only) {
            return None;
        }
    }
    let qualifiers = tokens
        .iter()
        .filter(|t| QUALIFIERS.contains(&t.as_str()))
        .count() as i32;
    PHRASES
        .iter()
        .filter(|phrase| unit.is_none_or(|unit| fits(phrase.channel, unit)))
        .flat_map(|phrase| phrase.words.iter().map(move |words| (phrase, *words)))
        .filter_map(|(phrase, words)| {
            let score = score(&tokens, words)?;
            let channel = for_purpose(phrase.channel, words, unit, purpose)?;
            Some(Meaning {
                channel,
                unit: phrase.unit,
                qualified: qualifiers > 0,
                score,
            })
        })
        .max_by_key(|m| m.score)
        .or_else(|| by_unit(&tokens, unit))
        .or_else(|| unit_alone(name, purpose))
}

/// Whether the name means a quantity, and if so whether `unit` measures it.
pub(super) fn measures(name: &str, unit: &str) -> Option<bool> {
    let known = |unit| {
        recognise(name, unit, Purpose::Log)
            .or_else(|| recognise(name, unit, Purpose::Bench))
            .is_some()
    };
    known(None).then(|| known(Some(unit)))
}

/// True if `unit` is a unit of the channel's quantity (an unknown word fits anything).
pub(super) fn fits(channel: Channel, unit: &str) -> bool {
    let unit = canonical_unit(unit);
    let known = units::guess(unit);
    known.is_empty()
        || known.iter().any(|u| {
            u.quantity == channel.quantity() || (channel == Throttle && u.quantity == Q::Time)
        })
}

fn for_purpose(
    channel: Channel,
    words: &str,
    unit: Option<&str>,
    purpose: Purpose,
) -> Option<Channel> {
    // `Speed` alone counts revolutions only beside a unit that says so.
    if channel == AngularSpeed && words == "speed" {
        let is_rotation = unit.is_some_and(|u| {
            units::guess(canonical_unit(u))
                .iter()
                .any(|u| u.quantity == Q::AngularSpeed)
        });
        return is_rotation.then_some(channel);
    }
    match (purpose, channel) {
        (Purpose::Log, Thrust | ExhaustSpeed) => None,
        // The air that moves on a bench is the exhaust.
        (Purpose::Bench, GroundSpeed | Airspeed) => Some(ExhaustSpeed),
        _ => Some(channel),
    }
}

/// A name that means nothing here beside a unit that leaves one meaning (`Batt (V)`, `used_mAh`);
/// it loses against any column whose name is known.
fn by_unit(tokens: &[String], unit: Option<&str>) -> Option<Meaning> {
    if tokens.iter().any(|t| QUALIFIERS.contains(&t.as_str())) {
        return None;
    }
    let channel = match units::guess(canonical_unit(unit?)).first()?.quantity {
        Q::Voltage => Voltage,
        Q::Current => Current,
        Q::Power => Power,
        Q::Charge => Charge,
        Q::AngularSpeed => AngularSpeed,
        _ => return None,
    };
    Some(Meaning {
        channel,
        unit: None,
        qualified: true,
        score: 3,
    })
}

/// A header that is nothing but a unit (`V`, `A`, `rpm`).
fn unit_alone(name: &str, purpose: Purpose) -> Option<Meaning> {
    let unit = units::guess(canonical_unit(name));
    // A column `a` counts no amperes.
    let by_case = |word: &str| word.len() > 1 || word == name;
    let known = unit.iter().filter(|u| by_case(u.word)).find_map(|u| {
        let channel = match u.quantity {
            Q::Time => Time,
            Q::Voltage => Voltage,
            Q::Current => Current,
            Q::Power => Power,
            Q::AngularSpeed => AngularSpeed,
            Q::Charge if u.word != "C" => Charge,
            Q::Speed if purpose == Purpose::Bench => ExhaustSpeed,
            Q::Speed => GroundSpeed,
            Q::Force if purpose == Purpose::Bench => Thrust,
            _ => return None,
        };
        Some((channel, u.word))
    })?;
    Some(Meaning {
        channel: known.0,
        unit: Some(known.1),
        qualified: false,
        score: 5,
    })
}

fn score(tokens: &[String], phrase: &str) -> Option<i32> {
    let (mut score, mut used) = (0, 0);
    for word in phrase.split(' ') {
        let exact = tokens.iter().any(|t| t == word);
        let part = word.len() >= 5 && tokens.iter().any(|t| t.ends_with(word));
        score += if exact {
            20
        } else if part {
            12
        } else {
            return None;
        };
        used += 1;
    }
    Some(score - 2 * (tokens.len() as i32 - used))
}

/// Lower-case words without accents.
pub(super) fn tokens(name: &str) -> Vec<String> {
    let chars: Vec<char> = name.chars().collect();
    let mut out = vec![String::new()];
    for (i, &c) in chars.iter().enumerate() {
        let before = i.checked_sub(1).map(|j| chars[j]);
        let after = chars.get(i + 1);
        let new_word = before.is_some_and(|b| {
            (b.is_alphabetic() && c.is_numeric())
                || (b.is_numeric() && c.is_alphabetic())
                || (b.is_lowercase() && c.is_uppercase() && i >= 2 && chars[i - 2].is_alphabetic())
                || (b.is_uppercase() && c.is_uppercase() && after.is_some_and(|a| a.is_lowercase()))
        });
        if !c.is_alphanumeric() || new_word {
            out.push(String::new());
        }
        if c.is_alphanumeric()
            && let Some(last) = out.last_mut()
        {
            last.extend(c.to_lowercase().map(plain));
        }
    }
    out.retain(|w| !w.is_empty());
    out
}

fn plain(c: char) -> char {
    match c {
        'à' | 'á' | 'â' | 'ã' | 'ä' => 'a',
        'è' | 'é' | 'ê' | 'ë' => 'e',
        'ì' | 'í' | 'î' | 'ï' => 'i',
        'ò' | 'ó' | 'ô' | 'ö' | 'õ' => 'o',
        'ù' | 'ú' | 'û' | 'ü' => 'u',
        'ç' => 'c',
        'ñ' => 'n',
        other => other,
    }
}

/// Whether the words name a week of satellite time.
pub(super) fn names_week(name: &str) -> bool {
    const WEEKS: &[&str] = &[
        "week",
        "wk",
        "gpsweek",
        "gwk",
        "woche",
        "semaine",
        "semana",
        "settimana",
    ];
    let tokens = tokens(name);
    let of_week = tokens
        .iter()
        .any(|t| matches!(t.as_str(), "of" | "time" | "tow" | "seconds" | "ms"));
    !of_week && tokens.iter().any(|t| WEEKS.contains(&t.as_str()))
}

/// Whether the words name a calendar date.
pub(super) fn names_date(name: &str) -> bool {
    const DATES: &[&str] = &["date", "datum", "fecha", "data", "jour", "tag", "day"];
    let tokens = tokens(name);
    tokens.iter().any(|t| DATES.contains(&t.as_str()))
}
