//! Folder names from any text.
//!
//! Input: text. Output: lower-case letters a-z, digits and hyphens. Latin letters with marks
//! keep their letter, as they are written where the marks cannot be had.

/// The name; empty when nothing is left.
pub fn slug(text: &str) -> String {
    let mut name = String::new();
    for c in text.chars() {
        if c.is_ascii_alphanumeric() {
            name.push(c.to_ascii_lowercase());
            continue;
        }
        // A mark that follows its letter.
        if ('\u{300}'..='\u{36f}').contains(&c) {
            if c == '\u{308}' && name.ends_with(['a', 'o', 'u']) {
                name.push('e');
            }
            continue;
        }
        let plain = c.to_lowercase().next().and_then(plain);
        match plain {
            Some(letters) => name.push_str(letters),
            None if !name.ends_with('-') && !name.is_empty() => name.push('-'),
            None => {}
        }
    }
    name.trim_end_matches('-').to_owned()
}

/// A small Latin letter without its marks: the German and Scandinavian ones as two letters
/// (DIN 5007-2 for ä, ö, ü; common practice for the others, no source).
fn plain(c: char) -> Option<&'static str> {
    Some(match c {
        'ä' | 'æ' => "ae",
        'ö' | 'ø' | 'œ' => "oe",
        'ü' => "ue",
        'ß' => "ss",
        'å' => "aa",
        'þ' => "th",
        'à'..='ã' | 'ā' | 'ă' | 'ą' => "a",
        'ç' | 'ć' | 'ĉ' | 'ċ' | 'č' => "c",
        'ð' | 'ď' | 'đ' => "d",
        'è'..='ë' | 'ē' | 'ĕ' | 'ė' | 'ę' | 'ě' => "e",
        'ĝ' | 'ğ' | 'ġ' | 'ģ' => "g",
        'ĥ' | 'ħ' => "h",
        'ì'..='ï' | 'ĩ' | 'ī' | 'ĭ' | 'į' | 'ı' => "i",
        'ĵ' => "j",
        'ķ' => "k",
        'ĺ' | 'ļ' | 'ľ' | 'ŀ' | 'ł' => "l",
        'ñ' | 'ń' | 'ņ' | 'ň' => "n",
        'ò'..='õ' | 'ō' | 'ŏ' | 'ő' => "o",
        'ŕ' | 'ŗ' | 'ř' => "r",
        'ś' | 'ŝ' | 'ş' | 'š' | 'ș' => "s",
        'ţ' | 'ť' | 'ŧ' | 'ț' => "t",
        'ù'..='û' | 'ũ' | 'ū' | 'ŭ' | 'ů' | 'ű' | 'ų' => "u",
        'ŵ' => "w",
        'ý' | 'ÿ' | 'ŷ' => "y",
        'ź' | 'ż' | 'ž' => "z",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::slug;

    #[test]
    fn letters_stay_letters() {
        for (text, name) in [
            ("schlüssel", "schluessel"),
            ("schlu\u{308}ssel", "schluessel"),
            ("Größe 2", "groesse-2"),
            ("Pièce n° 3", "piece-n-3"),
            ("ÆRØ", "aeroe"),
            ("Łódź", "lodz"),
            ("--", ""),
            ("猫", ""),
        ] {
            assert_eq!(slug(text), name, "{text}");
        }
    }
}
