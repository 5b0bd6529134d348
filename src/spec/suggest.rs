//! Did-you-mean.
//!
//! Input: a word and the words there are. Output: the one that was probably meant.

/// The closest of `words` and whether it is close enough to be put in its place unasked.
pub(crate) fn closest<'a>(
    word: &str,
    words: impl IntoIterator<Item = &'a str>,
) -> Option<(&'a str, bool)> {
    let plain = |s: &str| s.to_lowercase().replace(['_', ' ', '-'], "");
    let wanted = plain(word);
    if wanted.chars().count() > 64 {
        return None;
    }
    words
        .into_iter()
        .map(|w| {
            let distance = strsim::damerau_levenshtein(&wanted, &plain(w));
            (distance, -strsim::jaro_winkler(&wanted, &plain(w)), w)
        })
        .min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)))
        .and_then(|(distance, likeness, w)| {
            let length = wanted.chars().count().max(w.chars().count());
            // M6 is no slip of the pen for M64: figures must agree.
            let digits = |s: &str| s.chars().filter(char::is_ascii_digit).collect::<String>();
            if digits(&wanted) != digits(w) {
                return None;
            }
            let near = distance <= (length / 3).max(1) && distance < length;
            (near || -likeness > 0.88).then_some((w, near))
        })
}

/// The words as a sentence part: `"a", "b" or "c"`.
pub(crate) fn list(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|w| format!("\"{w}\"")).collect();
    join(&quoted, "or")
}

/// Names as a sentence part: `a, b and c` with the given last word.
pub(crate) fn join<S: AsRef<str>>(words: &[S], last: &str) -> String {
    match words {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [head @ .., tail] => {
            let head: Vec<&str> = head.iter().map(AsRef::as_ref).collect();
            format!("{} {last} {}", head.join(", "), tail.as_ref())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_slips_of_the_pen_and_nothing_far_off() {
        let words = ["count", "size", "class", "style", "edge"];
        assert_eq!(closest("cuont", words), Some(("count", true)));
        assert_eq!(closest("Count", words), Some(("count", true)));
        assert_eq!(closest("egde", words), Some(("edge", true)));
        assert_eq!(closest("temperature", words), None);
        assert_eq!(closest("M64", ["M6", "M8"]), None);
        assert_eq!(closest("8", ["M6", "M8"]), Some(("M8", true)));
        assert_eq!(list(&["a", "b", "c"]), "\"a\", \"b\" or \"c\"");
    }
}
