//! The nearest valid word, for "did you mean".

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
