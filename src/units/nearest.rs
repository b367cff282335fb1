//! The nearest valid word, for "did you mean".

/// Prefixes of units, the ones in use here.
const PREFIXES: [char; 9] = ['m', 'k', 'c', 'd', 'u', 'µ', 'μ', 'M', 'n'];

/// The candidate that `word` most likely means: case, hyphens and underscores do not count, and at
/// most a third of the letters (at least one) may be wrong. The first of equals.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = fold(word);
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let folded = fold(candidate);
        let distance = strsim::damerau_levenshtein(&folded, &word);
        let longest = folded.chars().count().max(word.chars().count());
        if distance <= (longest / 3).max(1)
            && distance < longest
            && best.is_none_or(|(least, _)| distance < least)
        {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

fn fold(word: &str) -> String {
    word.to_lowercase().replace(['-', '_', ' '], "")
}

/// The unit of a list that `word` most likely means; none that differs by a prefix of the SI, since
/// that is a factor of a thousand and no slip.
pub fn nearest_unit<'a>(word: &str, units: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let bare = |text: &str| text.strip_prefix(PREFIXES).map(str::to_owned);
    let of_another_size = |unit: &str| {
        let (own, of_word) = (bare(unit), bare(word));
        own.as_deref() == Some(word)
            || of_word.as_deref() == Some(unit)
            || (unit != word && own.is_some() && own == of_word)
    };
    nearest(word, units).filter(|unit| !of_another_size(unit))
}
