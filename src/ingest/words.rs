//! What the words of a header say (the words themselves: [`super::vocabulary`]).
//!
//! A header is cut into words (at marks, between letters and digits, at `camelCase`), accents are
//! taken off, and every phrase of the table whose words all occur is a candidate. A word of a
//! phrase of five letters or more may also be part of a longer word (`Akkuspannung`). Exact words
//! count more than parts, longer phrases more than shorter ones, words left over count against. A
//! word that lost one letter to a wrong encoding (`Lngengrad`, `R?gime`) still counts, as a guess.

use super::header::canonical_unit;
use super::log::Channel::{self, *};
use super::vocabulary::{
    ALWAYS_QUALIFIERS, CONTROLLER, EXTREMES, MOTOR, OTHERS, PACK, PHRASES, QUALIFIERS, UNIT_NEEDED,
};
use crate::units::{self, Quantity as Q};

/// What the words of a header say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Meaning {
    pub channel: Channel,
    /// The unit that the words themselves name (`Watts`, `RPM`).
    pub unit: Option<&'static str>,
    /// A qualifier says that it is not the plain quantity (`filtered`, `max`, `receiver`).
    pub qualified: bool,
    /// A plainer word for the same would win (`stick` against `throttle`); no doubt on its own.
    pub weak: bool,
    pub score: i32,
}

/// What the table is read for: the same word may mean two things.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    Bench,
    Log,
}

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
    let same = |token: &str, word: &str| token == word;
    best(&tokens, unit, purpose, &same)
        .or_else(|| {
            // A unit of another quantity beside a plain name is a mistake, not a meaning.
            let contradicted = best(&tokens, None, purpose, &same).is_some_and(|m| !m.qualified);
            by_unit(&tokens, unit, purpose).filter(|_| !contradicted)
        })
        .or_else(|| unit_alone(name, purpose))
        .or_else(|| {
            let damaged = best(&tokens, unit, purpose, &is_damaged)?;
            Some(Meaning {
                qualified: true,
                ..damaged
            })
        })
}

fn best(
    tokens: &[String],
    unit: Option<&str>,
    purpose: Purpose,
    same: &dyn Fn(&str, &str) -> bool,
) -> Option<Meaning> {
    PHRASES
        .iter()
        .filter(|phrase| unit.is_none_or(|unit| fits(phrase.channel, unit)))
        .flat_map(|phrase| phrase.words.iter().map(move |words| (phrase, *words)))
        .filter(|(_, words)| unit.is_some() || !UNIT_NEEDED.contains(words))
        .filter_map(|(phrase, words)| {
            let score = score(tokens, words, same)?;
            let channel = for_purpose(phrase.channel, words, unit, purpose)?;
            let own = |token: &str| words.split(' ').any(|word| word == token);
            let (mut qualified, mut weak, mut extreme) = (false, false, false);
            for token in tokens.iter().map(String::as_str) {
                let is_qualifier = QUALIFIERS.contains(&token)
                    // The pack's power is electrical; of speeds it says that they are no shaft's.
                    || (matches!(token, "electrical" | "electric") && channel == AngularSpeed);
                if is_qualifier && own(token) && !ALWAYS_QUALIFIERS.contains(&token) {
                    weak = true;
                } else {
                    qualified |= is_qualifier;
                    extreme |= EXTREMES.contains(&token) && !own(token);
                }
            }
            // Held since switching on, it is no course over time.
            if extreme && purpose == Purpose::Log {
                return None;
            }
            qualified |= channel == AngularSpeed && tokens.iter().any(|t| t == "electrical");
            Some(Meaning {
                channel,
                unit: phrase.unit,
                qualified,
                weak,
                score,
            })
        })
        .max_by_key(|m| m.score)
}

/// A word that lost one letter, or had it replaced, on the way through a wrong encoding.
fn is_damaged(token: &str, word: &str) -> bool {
    // `temp` is a temperature and no damaged `temps`.
    if word.chars().count() < 5 || token == "temp" {
        return token == word;
    }
    if token.contains('?') {
        let mut pairs = token.chars().zip(word.chars());
        return token.chars().count() == word.chars().count()
            && pairs.all(|(a, b)| a == b || a == '?');
    }
    if token.len() + 1 != word.len() {
        return token == word;
    }
    let kept = token.bytes().zip(word.bytes()).take_while(|(a, b)| a == b);
    let at = kept.count();
    token.as_bytes()[at..] == word.as_bytes()[at + 1..]
}

/// Whether the name means a quantity, and if so whether `unit` measures it.
pub(super) fn measures(name: &str, unit: &str) -> Option<bool> {
    let known = |unit| {
        recognise(name, unit, Purpose::Log)
            .or_else(|| recognise(name, unit, Purpose::Bench))
            .is_some()
    };
    if UNIT_NEEDED.iter().any(|word| tokens(name) == [*word]) && known(Some(unit)) {
        return Some(true);
    }
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
fn by_unit(tokens: &[String], unit: Option<&str>, purpose: Purpose) -> Option<Meaning> {
    if tokens.iter().any(|t| QUALIFIERS.contains(&t.as_str())) {
        return None;
    }
    let says = |words: &[&str]| tokens.iter().any(|t| words.contains(&t.as_str()));
    let quantities = units::guess(canonical_unit(unit?));
    let measures = |quantity| quantities.iter().any(|u| u.quantity == quantity);
    let channel = match quantities.first()?.quantity {
        _ if measures(Q::Temperature) && says(CONTROLLER) => ControllerTemperature,
        _ if measures(Q::Temperature) && says(MOTOR) => MotorTemperature,
        _ if measures(Q::Temperature) && says(PACK) => PackTemperature,
        Q::Voltage => Voltage,
        Q::Current => Current,
        Q::Power => Power,
        Q::Charge => Charge,
        Q::AngularSpeed => AngularSpeed,
        Q::Speed if purpose == Purpose::Bench => ExhaustSpeed,
        Q::Speed if says(&["gps", "gnss"]) => GroundSpeed,
        Q::Time if tokens.len() == 1 && says(&["gps", "gnss", "utc"]) => Time,
        Q::Length if tokens.len() == 1 && says(&["gps", "gnss"]) => Height,
        _ => return None,
    };
    Some(Meaning {
        channel,
        unit: None,
        qualified: true,
        weak: false,
        score: 3,
    })
}

/// Whether any word of the text occurs in the vocabulary.
pub(super) fn is_known(text: &str) -> bool {
    let tokens = tokens(text);
    names_source(text)
        || PHRASES
            .iter()
            .flat_map(|p| p.words.iter())
            .flat_map(|phrase| phrase.split(' '))
            .any(|word| tokens.iter().any(|t| t == word))
}

/// Whether a unit tells what is read of that source.
pub(super) fn measures_source(name: &str, unit: &str) -> bool {
    by_unit(&tokens(name), Some(unit), Purpose::Log).is_some()
}

/// Whether the words name nothing but what a reading is taken of (`bat`, `gps`).
pub(super) fn names_source(name: &str) -> bool {
    let tokens = tokens(name);
    let sources = [PACK, CONTROLLER, MOTOR, &["gps", "gnss"]];
    !tokens.is_empty()
        && tokens
            .iter()
            .all(|t| sources.iter().any(|words| words.contains(&t.as_str())))
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
        weak: false,
        score: 5,
    })
}

fn score(tokens: &[String], phrase: &str, same: &dyn Fn(&str, &str) -> bool) -> Option<i32> {
    let (mut score, mut used) = (0, 0);
    for word in phrase.split(' ') {
        let exact = tokens.iter().any(|t| same(t, word));
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
        // What a wrong encoding left of a letter within a word.
        let lost = matches!(c, '?' | '\u{fffd}')
            && before.is_some_and(char::is_alphabetic)
            && after.is_some_and(|a| a.is_alphabetic());
        if lost && let Some(last) = out.last_mut() {
            last.push('?');
            continue;
        }
        if !c.is_alphanumeric() || new_word {
            out.push(String::new());
        }
        if c.is_alphanumeric()
            && let Some(last) = out.last_mut()
        {
            match c {
                'ß' => last.push_str("ss"),
                c => last.extend(c.to_lowercase().map(plain)),
            }
        }
    }
    out.retain(|w| !w.is_empty());
    out
}

fn plain(c: char) -> char {
    match c {
        'à' | 'á' | 'â' | 'ã' | 'ä' | 'å' | 'ą' => 'a',
        'ç' | 'ć' | 'č' => 'c',
        'ď' => 'd',
        'è' | 'é' | 'ê' | 'ë' | 'ę' | 'ě' => 'e',
        'ì' | 'í' | 'î' | 'ï' => 'i',
        'ł' => 'l',
        'ñ' | 'ń' | 'ň' => 'n',
        'ò' | 'ó' | 'ô' | 'ö' | 'õ' | 'ø' => 'o',
        'ř' => 'r',
        'ś' | 'š' => 's',
        'ť' => 't',
        'ù' | 'ú' | 'û' | 'ü' | 'ů' => 'u',
        'ý' => 'y',
        'ź' | 'ż' | 'ž' => 'z',
        other => other,
    }
}

/// A text that was UTF-8 and was read as Windows-1252 (`HÃ¶he`), as it was meant.
pub(super) fn mended(text: &str) -> std::borrow::Cow<'_, str> {
    let is_sign = |c: char| matches!(c, 'Ã' | 'Â' | 'Ä' | 'Å');
    if text.contains(is_sign) {
        let (bytes, _, lossy) = encoding_rs::WINDOWS_1252.encode(text);
        if !lossy && let Ok(mended) = std::str::from_utf8(&bytes) {
            return mended.to_owned().into();
        }
    }
    text.into()
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
    const DATES: &[&str] = &[
        "date", "datum", "fecha", "data", "jour", "tag", "day", "dag", "dzien", "dia", "giorno",
    ];
    let tokens = tokens(name);
    tokens.iter().any(|t| DATES.contains(&t.as_str()))
}
