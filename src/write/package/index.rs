//! The list of files of a package: what was written, so that what was changed can be told.
//!
//! Input: names and contents, or the list's text. Output: a table of name, size and SHA-256
//! digest, or what it says. Lists without digests, of older packages, are read too.

use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

/// The table's head.
const HEAD: [&str; 3] = ["file", "bytes", "sha256"];

/// SHA-256 (FIPS 180-4) in hexadecimal digits.
pub(super) fn digest(bytes: &[u8]) -> String {
    let hash = Sha256::digest(bytes);
    hash.iter().map(|b| format!("{b:02x}")).collect()
}

/// The table of these files.
pub(super) fn text(files: &BTreeMap<String, Vec<u8>>) -> String {
    let mut out = String::from("file,bytes,sha256\n");
    for (name, contents) in files {
        out.push_str(&format!(
            "{},{},{}\n",
            cell(name),
            contents.len(),
            digest(contents)
        ));
    }
    out
}

/// A cell (RFC 4180, section 2).
fn cell(text: &str) -> String {
    if text.contains([',', '"']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// Name and digest of each file; `None` when it is no such table.
pub(super) fn read(text: &str) -> Option<BTreeMap<String, Option<String>>> {
    let mut reader = csv::ReaderBuilder::new()
        .flexible(true)
        .from_reader(text.as_bytes());
    let head = reader.headers().ok()?.clone();
    if !(head.iter().eq(HEAD) || head.iter().eq(HEAD[..2].iter().copied())) {
        return None;
    }
    let rows = reader.records().map_while(Result::ok);
    Some(
        rows.filter_map(|row| {
            let name = row.get(0)?.to_owned();
            Some((name, row.get(2).map(str::to_owned)))
        })
        .collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_name_comes_back() {
        let names = ["a.stl", "a, b.stl", "say \"x\".svg", "ä/ö.dxf"];
        let files = names.map(|n| (n.to_owned(), n.as_bytes().to_vec())).into();
        let listed = read(&text(&files)).expect("a list");
        let expect = names.map(|n| (n.to_owned(), Some(digest(n.as_bytes()))));
        assert_eq!(listed, expect.into());
        // The digest of "abc" (FIPS 180-4, example).
        assert!(digest(b"abc").starts_with("ba7816bf8f01cfea"));
        assert_eq!(
            read("file,bytes\na.stl,3\n").expect("old"),
            [("a.stl".to_owned(), None)].into()
        );
        assert!(read("x,y\n").is_none());
    }
}
