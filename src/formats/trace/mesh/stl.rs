//! STL files, binary or text; told apart by their size, not by the word "solid".
//!
//! Input: bytes. Output: [`Raw`] triangles, each with three points of its own. Layout: 80 bytes,
//! a 32-bit count, then 50 bytes each (normal, three corners, two unused bytes), little-endian.
//! Read here and not by `stl_io`: a fault needs its line, and a binary file may begin with "solid".

use super::{MOST_TRIANGLES, Point3, Raw, TraceError, not_usable, too_many, usable};

const HEAD: usize = 84;
const EACH: usize = 50;

pub(super) fn read(bytes: &[u8]) -> Result<Raw, TraceError> {
    let count = bytes
        .get(80..HEAD)
        .map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]) as usize);
    let needed = count.and_then(|n| n.checked_mul(EACH)?.checked_add(HEAD));
    if needed == Some(bytes.len()) {
        return binary(bytes, count.unwrap_or(0));
    }
    // A binary file that is too long or too short has bytes that no text has.
    let texts = bytes.trim_ascii_start();
    let head = &bytes[..bytes.len().min(2000)];
    let says_solid = texts.len() >= 5 && texts[..5].eq_ignore_ascii_case(b"solid");
    if says_solid && !head.contains(&0) {
        return text(bytes);
    }
    match (count, needed) {
        (Some(n), Some(needed)) if bytes.len() > needed && n > 0 => {
            let mut raw = binary(bytes, n)?;
            raw.notes.push(format!(
                "{} bytes after the last of its {n} triangles are not looked at",
                bytes.len() - needed
            ));
            Ok(raw)
        }
        (Some(n), _) => Err(TraceError::new(
            format!(
                "is cut short: it promises {n} triangles, which take {} bytes after byte {HEAD}, and has {}",
                n as u64 * EACH as u64,
                bytes.len() - HEAD
            ),
            "copy or export it again",
        )),
        (None, _) => Err(TraceError::new(
            format!(
                "is no STL file: {} bytes, without the word \"solid\" at its start",
                bytes.len()
            ),
            "export it again as STL, OBJ or 3MF",
        )),
    }
}

fn binary(bytes: &[u8], count: usize) -> Result<Raw, TraceError> {
    if count > MOST_TRIANGLES {
        return Err(too_many("triangles", MOST_TRIANGLES));
    }
    let mut raw = Raw::default();
    raw.points.reserve_exact(3 * count);
    raw.triangles.reserve_exact(count);
    for (k, record) in bytes[HEAD..].chunks_exact(EACH).take(count).enumerate() {
        for corner in record[12..48].chunks_exact(12) {
            let at = |i: usize| {
                let b = &corner[4 * i..4 * i + 4];
                f64::from(f32::from_le_bytes([b[0], b[1], b[2], b[3]]))
            };
            let p = Point3::new(at(0), at(1), at(2));
            if let Some(v) = p.iter().find(|v| !usable(**v)) {
                let mut e = not_usable(*v);
                e.what += &format!(" (triangle {} of {count})", k + 1);
                return Err(e);
            }
            raw.points.push(p);
        }
        let i = 3 * k as u32;
        raw.triangles.push([i, i + 1, i + 2]);
    }
    Ok(raw)
}

fn text(bytes: &[u8]) -> Result<Raw, TraceError> {
    let mut raw = Raw::default();
    let mut corners = 0;
    let mut last = 0;
    for (k, line) in bytes.split(|b| *b == b'\n').enumerate() {
        last = k + 1;
        let line = line.trim_ascii();
        let word = line
            .split(u8::is_ascii_whitespace)
            .next()
            .unwrap_or_default()
            .to_ascii_lowercase();
        match word.as_slice() {
            b"vertex" => {
                if corners == 3 {
                    return Err(fault(last, "has a fourth corner in a triangle"));
                }
                raw.points
                    .push(point(&line[6..]).map_err(|e| e.at_line(last))?);
                corners += 1;
            }
            b"endloop" | b"endfacet" => {
                if word == b"endloop" && corners != 3 {
                    return Err(fault(
                        last,
                        format!("ends a triangle after {corners} corners"),
                    ));
                }
                if corners == 3 {
                    let i = raw.points.len() as u32 - 3;
                    raw.triangles.push([i, i + 1, i + 2]);
                    corners = 0;
                }
                if raw.triangles.len() > MOST_TRIANGLES {
                    return Err(too_many("triangles", MOST_TRIANGLES));
                }
            }
            b"" | b"solid" | b"facet" | b"outer" | b"endsolid" => {}
            _ => {
                let shown: String = String::from_utf8_lossy(line).chars().take(40).collect();
                return Err(fault(last, format!("has the unknown words \"{shown}\"")));
            }
        }
    }
    if corners != 0 {
        return Err(fault(last, "ends in the middle of a triangle"));
    }
    Ok(raw)
}

fn fault(line: usize, what: impl Into<String>) -> TraceError {
    TraceError::new(what, "export it again as STL").at_line(line)
}

/// Three numbers.
pub(super) fn point(text: &[u8]) -> Result<Point3, TraceError> {
    let mut all = text
        .split(u8::is_ascii_whitespace)
        .filter(|w| !w.is_empty());
    let mut at = [0.0; 3];
    for v in &mut at {
        let word = all.next().ok_or_else(|| {
            TraceError::new(
                "has a corner of fewer than three numbers",
                "export it again",
            )
        })?;
        *v = std::str::from_utf8(word)
            .ok()
            .and_then(|w| w.parse().ok())
            .ok_or_else(|| {
                let shown: String = String::from_utf8_lossy(word).chars().take(20).collect();
                TraceError::new(
                    format!("has \"{shown}\" where a number belongs"),
                    "export it again; numbers have a decimal point",
                )
            })?;
        if !usable(*v) {
            return Err(not_usable(*v));
        }
    }
    Ok(Point3::from(at))
}
