//! Text made safe for XML and HTML.

/// Escapes text for contents and double- or single-quoted attributes. Control characters,
/// which XML does not allow at all, become blanks.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    #[test]
    fn markup_characters_are_escaped() {
        assert_eq!(
            super::escape("<b a=\"x\" c='y'>\u{0} & ø"),
            "&lt;b a=&quot;x&quot; c=&#39;y&#39;&gt;  &amp; ø"
        );
    }
}
