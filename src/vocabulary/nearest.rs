//! The nearest known word to one that is not known, within a sensible distance.

/// The candidate nearest to `word`, if one is near enough to be what was meant.
///
/// Distance is Damerau-Levenshtein without regard to case: at most one slip in words of up to four letters, two in
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
    candidates
        .into_iter()
        .map(|candidate| (strsim::damerau_levenshtein(&word, &candidate.to_lowercase()), candidate))
        .filter(|(distance, candidate)| *distance <= most && *distance < candidate.chars().count())
        .min_by_key(|(distance, candidate)| (*distance, candidate.len()))
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn near_words_are_offered_and_far_ones_are_not() {
        let known = ["surface", "spoon", "spinner", "ft", "min"];
        assert_eq!(nearest("surfce", known), Some("surface"));
        assert_eq!(nearest("spiner", known), Some("spinner"));
        assert_eq!(nearest("minn", known), Some("min"));
        assert_eq!(nearest("barometer", known), None);
        assert_eq!(nearest("x", known), None);
    }
}
