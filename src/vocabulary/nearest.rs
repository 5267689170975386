//! The nearest known word to one that is not known, within a sensible distance.

/// Most words that one is held against, so that thousands of slips among thousands of names are told quickly too.
const MOST_CANDIDATES: usize = 1_000;

/// The candidate nearest to `word`, if one is near enough to be what was meant.
///
/// Distance is Damerau-Levenshtein (optimal string alignment) without regard to case: at most one slip in words of up to four letters, two in
/// words of up to eight, three in longer ones, and never a wholly different word.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    let length = word.chars().count();
    let most = match length {
        0..=1 => return None,
        2..=4 => 1,
        5..=8 => 2,
        _ => 3,
    };
    if length > 64 {
        return None;
    }
    // Words that differ by more in length than by most slips need no closer look.
    let may_be = |candidate: &&str| candidate.chars().count().abs_diff(length) <= most;
    candidates
        .into_iter()
        .take(MOST_CANDIDATES)
        .filter(may_be)
        .map(|candidate| (strsim::osa_distance(&word, &candidate.to_lowercase()), candidate))
        .filter(|(distance, candidate)| *distance <= most && *distance < candidate.chars().count())
        .min_by_key(|(distance, candidate)| (*distance, candidate.len()))
        .map(|(_, candidate)| candidate)
}

/// Most words that a help lists.
const MOST_LISTED: usize = 24;

/// Words for a help, parted by commas: all of them, or the first and how many more.
pub fn listed<'a>(words: impl IntoIterator<Item = &'a str>) -> String {
    let words: Vec<&str> = words.into_iter().collect();
    match words.len().checked_sub(MOST_LISTED) {
        None | Some(0) => words.join(", "),
        Some(more) => format!("{} and {more} more", words[..MOST_LISTED].join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::{listed, nearest};

    #[test]
    fn near_words_are_offered_and_far_ones_are_not() {
        let known = ["surface", "spoon", "spinner", "ft", "min"];
        assert_eq!(nearest("surfce", known), Some("surface"));
        assert_eq!(nearest("spiner", known), Some("spinner"));
        assert_eq!(nearest("minn", known), Some("min"));
        assert_eq!(nearest("barometer", known), None);
        assert_eq!(nearest("x", known), None);
    }

    #[test]
    fn long_lists_say_how_many_more_there_are() {
        assert_eq!(listed(["a", "b"]), "a, b");
        let many = ["a"; 30];
        assert!(listed(many).ends_with("a and 6 more"));
    }
}
