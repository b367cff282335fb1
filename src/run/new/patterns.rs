//! One log source a folder and header: a pattern that matches these files and no others.

use glob::{MatchOptions, Pattern};

use super::Found;
use crate::run::look::Kind;

/// So many files are rather named one by one than together with files that cannot be read.
const ONE_BY_ONE: usize = 12;

/// Files of one logger in one folder.
#[derive(Debug, Clone)]
pub struct Source<'a> {
    pub id: String,
    pub pattern: String,
    pub files: Vec<&'a Found>,
}

pub fn sources<'a>(found: &'a [Found], hidden: &[String]) -> Vec<Source<'a>> {
    let mut groups: Vec<Vec<&Found>> = Vec::new();
    for file in found {
        if !matches!(file.look.kind, Kind::OnboardLog | Kind::PositionTrack) {
            continue;
        }
        let alike = |group: &&mut Vec<&Found>| {
            group
                .first()
                .is_some_and(|f| f.folder() == file.folder() && f.signature() == file.signature())
        };
        match groups.iter_mut().find(alike) {
            Some(group) => group.push(file),
            None => groups.push(vec![file]),
        }
    }
    // The first pattern that matches a file counts: sources of few files stand first, so that the
    // pattern of the many need not avoid them.
    groups.sort_by_key(Vec::len);
    let mut out: Vec<Source> = Vec::new();
    for group in groups {
        let claimed: Vec<&str> = out
            .iter()
            .flat_map(|s| s.files.iter().map(|f| f.name.as_str()))
            .collect();
        let free: Vec<&Found> = found
            .iter()
            .filter(|f| !claimed.contains(&f.name.as_str()))
            .collect();
        for (pattern, files) in matching(&group, &free, hidden) {
            let id = unique(&id(&files), &out);
            out.push(Source { id, pattern, files });
        }
    }
    out
}

/// Patterns for a group: one if any fits, else one a file.
fn matching<'a>(
    group: &[&'a Found],
    found: &[&Found],
    hidden: &[String],
) -> Vec<(String, Vec<&'a Found>)> {
    let candidates = candidates(group);
    // Files that cannot be read may be among them where there is no other way.
    for strict in [true, false] {
        let others: Vec<&str> = found
            .iter()
            .filter(|f| strict || f.look.is_readable())
            .filter(|f| !group.iter().any(|g| g.name == f.name))
            .map(|f| f.name.as_str())
            .chain(hidden.iter().map(String::as_str))
            .collect();
        for pattern in &candidates {
            let all = group.iter().all(|f| matches(pattern, &f.name));
            if all && !others.iter().any(|name| matches(pattern, name)) {
                return vec![(pattern.clone(), group.to_vec())];
            }
        }
        if strict && group.len() <= ONE_BY_ONE {
            break;
        }
    }
    group
        .iter()
        .map(|f| (Pattern::escape(&f.name), vec![*f]))
        .collect()
}

fn matches(pattern: &str, name: &str) -> bool {
    let options = MatchOptions {
        require_literal_separator: true,
        ..MatchOptions::new()
    };
    Pattern::new(pattern).is_ok_and(|p| p.matches_with(name, options))
}

fn candidates(group: &[&Found]) -> Vec<String> {
    let Some(first) = group.first() else {
        return Vec::new();
    };
    let folder = Pattern::escape(first.folder());
    let same_end = group.iter().all(|f| f.extension() == first.extension());
    let end = if same_end { first.extension() } else { "" };
    let end = Pattern::escape(end);
    let kind = kind_name(group);
    let mut out = Vec::new();
    if !kind.is_empty() && (group.len() > 1 || kind.len() < first.stem().len()) {
        out.push(format!("{folder}{}*{end}", Pattern::escape(&kind)));
    }
    if let [only] = group {
        out.push(Pattern::escape(&only.name));
    }
    if !end.is_empty() {
        out.push(format!("{folder}*{end}"));
    }
    let common = common_start(group);
    out.push(format!("{folder}{}*{end}", Pattern::escape(&common)));
    out
}

/// `radio-` of `radio-2025-04-12.csv` and `radio-2025-05-03.csv`: what comes before the numbers.
fn kind_name(group: &[&Found]) -> String {
    let common = common_start(group);
    let is_mark = |c: char| matches!(c, '-' | '_' | '.' | ' ');
    let kind = common.trim_end_matches(|c: char| c.is_ascii_digit() || is_mark(c));
    let next = common[kind.len()..].chars().next().filter(|c| is_mark(*c));
    kind.chars().chain(next).collect()
}

/// What the stems of all files begin with.
fn common_start(group: &[&Found]) -> String {
    let Some(first) = group.first() else {
        return String::new();
    };
    let mut common = first.stem();
    for file in group {
        let length = common
            .char_indices()
            .zip(file.stem().chars())
            .take_while(|((_, a), b)| a == b)
            .map(|((at, a), _)| at + a.len_utf8())
            .last()
            .unwrap_or(0);
        common = &common[..length];
    }
    common.to_owned()
}

fn id(files: &[&Found]) -> String {
    let kind = slug(&kind_name(files));
    let folder = files.first().map_or("", |f| f.folder());
    let folder = slug(
        folder
            .trim_end_matches('/')
            .rsplit('/')
            .next()
            .unwrap_or(""),
    );
    [kind, folder]
        .into_iter()
        .find(|word| !word.is_empty())
        .unwrap_or_else(|| "logs".to_owned())
}

fn unique(id: &str, taken: &[Source]) -> String {
    let free = |id: &String| !taken.iter().any(|s| s.id == *id);
    std::iter::once(id.to_owned())
        .chain((2..).map(|n| format!("{id}-{n}")))
        .find(free)
        .unwrap_or_default()
}

/// Letters and digits in lower case, joined by `-`: a bare TOML key.
pub fn slug(text: &str) -> String {
    text.split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join("-")
        .to_lowercase()
}
