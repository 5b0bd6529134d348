//! OBJ files: the corners (`v`) and faces (`f`); everything else is left aside.
//!
//! Input: bytes. Output: [`Raw`]; faces of more than three corners become fans. Curves and
//! surfaces of degree > 1 are not read. Layout: Appendix B1 "Object Files" (from memory).

use super::stl::point;
use super::{MOST_TRIANGLES, Raw, TraceError, too_many};

/// Most corners of one face.
const MOST_CORNERS: usize = 1000;

pub(super) fn read(bytes: &[u8]) -> Result<Raw, TraceError> {
    if bytes[..bytes.len().min(2000)].contains(&0) {
        return Err(TraceError::new(
            "is no OBJ text: it holds zero bytes",
            "export it again as OBJ, STL or 3MF",
        ));
    }
    let mut raw = Raw::default();
    let mut face: Vec<u32> = Vec::new();
    for (k, line) in bytes.split(|b| *b == b'\n').enumerate() {
        let line = line.trim_ascii();
        let at = |e: TraceError| e.at_line(k + 1);
        if line.ends_with(b"\\") && (line.starts_with(b"f ") || line.starts_with(b"v ")) {
            return Err(at(TraceError::new(
                "continues a line with a backslash",
                "export it again with one face on each line",
            )));
        }
        if let Some(rest) = line.strip_prefix(b"v ").or(line.strip_prefix(b"v\t")) {
            if raw.points.len() >= 3 * MOST_TRIANGLES {
                return Err(too_many("corners", 3 * MOST_TRIANGLES));
            }
            raw.points.push(point(rest).map_err(at)?);
        } else if let Some(rest) = line.strip_prefix(b"f ").or(line.strip_prefix(b"f\t")) {
            face.clear();
            for word in rest
                .split(u8::is_ascii_whitespace)
                .filter(|w| !w.is_empty())
            {
                if face.len() >= MOST_CORNERS {
                    return Err(at(too_many("corners in one face", MOST_CORNERS)));
                }
                face.push(corner(word, raw.points.len()).map_err(at)?);
            }
            if face.len() < 3 {
                return Err(at(TraceError::new(
                    format!("has a face of {} corners", face.len()),
                    "export it again as a mesh of faces",
                )));
            }
            for i in 1..face.len() - 1 {
                raw.triangles.push([face[0], face[i], face[i + 1]]);
            }
            if raw.triangles.len() > MOST_TRIANGLES {
                return Err(too_many("triangles", MOST_TRIANGLES));
            }
        }
    }
    Ok(raw)
}

/// `7`, `7/1`, `7//3`, `-1`: counted from 1, or back from the last corner.
fn corner(word: &[u8], count: usize) -> Result<u32, TraceError> {
    let number = word.split(|b| *b == b'/').next().unwrap_or_default();
    let shown = || -> String { String::from_utf8_lossy(word).chars().take(20).collect() };
    let i: i64 = std::str::from_utf8(number)
        .ok()
        .and_then(|w| w.parse().ok())
        .ok_or_else(|| {
            TraceError::new(
                format!("has \"{}\" where the number of a corner belongs", shown()),
                "export it again",
            )
        })?;
    let index = if i < 0 { count as i64 + i } else { i - 1 };
    if i == 0 || index < 0 || index >= count as i64 {
        return Err(TraceError::new(
            format!("names the corner {}, and has {count} up to there", shown()),
            "export it again",
        ));
    }
    Ok(index as u32)
}
