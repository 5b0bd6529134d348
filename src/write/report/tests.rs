use super::mesh::{base64, pack};
use super::*;
use crate::base::Finding;
use crate::base::finding::Level;
use crate::design::{Hints, design, sample};
use crate::process::report::FillMap;
use crate::process::{ProcessOptions, process};
use crate::solid::{Tolerance, plate_solid, shot_solid};
use crate::spec;

fn page_of(design: &Design) -> String {
    let tolerance = Tolerance::with_chord(0.05);
    let mut meshes: Vec<(String, TaggedMesh)> = design
        .plates
        .iter()
        .map(|p| {
            let mesh = plate_solid(p, &tolerance).expect("a solid");
            (p.name.clone(), mesh)
        })
        .collect();
    let shot = shot_solid(design, &tolerance).expect("a solid");
    meshes.extend(shot.map(|m| ("shot".to_owned(), m)));
    let options = ProcessOptions {
        fill: false,
        ..ProcessOptions::default()
    };
    let process = process(design, &options, &|_| true).expect("numbers that add up");
    let picture = "<svg width=\"10mm\"></svg>";
    page(&Report {
        design,
        process: &process,
        solids: &[],
        meshes: &meshes,
        pictures: &BTreeMap::from([("plate-a".to_owned(), picture.to_owned())]),
        marked: &[],
        files: &[("plate-a.dxf".to_owned(), 1234)],
    })
}

/// RFC 4648, section 4: the reverse of what the page's script is given.
fn from_base64(text: &str) -> Vec<u8> {
    let value = |c: u8| match c {
        b'A'..=b'Z' => c - b'A',
        b'a'..=b'z' => c - b'a' + 26,
        b'0'..=b'9' => c - b'0' + 52,
        b'+' => 62,
        b'/' => 63,
        c => panic!("{c} is no letter of base64"),
    };
    let mut out = Vec::new();
    let (mut word, mut bits) = (0_u32, 0);
    for c in text.bytes().filter(|c| *c != b'=') {
        word = word << 6 | u32::from(value(c));
        bits += 6;
        if bits >= 8 {
            bits -= 8;
            out.push((word >> bits & 255) as u8);
        }
    }
    out
}

#[test]
fn base64_as_in_the_standard() {
    // RFC 4648, section 10.
    for (plain, coded) in [
        ("", ""),
        ("f", "Zg=="),
        ("fo", "Zm8="),
        ("foo", "Zm9v"),
        ("foob", "Zm9vYg=="),
        ("fooba", "Zm9vYmE="),
        ("foobar", "Zm9vYmFy"),
    ] {
        assert_eq!(base64(plain.as_bytes()), coded);
    }
    let all: Vec<u8> = (0..=255).collect();
    assert_eq!(from_base64(&base64(&all)), all);
}

#[test]
fn a_packed_solid_is_the_solid_within_half_a_step() {
    for plate in &sample::design().plates {
        let mesh = plate_solid(plate, &Tolerance::default()).expect("a solid");
        let order: Vec<usize> = (0..mesh.triangles.len()).rev().collect();
        let packed = pack(&mesh, &order);
        let words: Vec<u16> = from_base64(&packed.points)
            .chunks_exact(2)
            .map(|b| u16::from_le_bytes([b[0], b[1]]))
            .collect();
        assert_eq!(words.len(), mesh.points.len() * 3);
        for (p, q) in mesh.points.iter().zip(words.chunks_exact(3)) {
            for k in 0..3 {
                let back = packed.origin[k] + f64::from(q[k]) * packed.step;
                assert!((back - p[k]).abs() <= packed.step * 0.5001);
            }
        }
        assert_eq!(packed.width, 2);
        let indices: Vec<u32> = from_base64(&packed.triangles)
            .chunks_exact(2)
            .map(|b| u32::from(u16::from_le_bytes([b[0], b[1]])))
            .collect();
        let expected: Vec<u32> = mesh.triangles.iter().rev().flatten().copied().collect();
        assert_eq!(indices, expected);
        assert!(!packed.edges.is_empty());
    }
}

#[test]
fn what_users_write_is_escaped() {
    let mut design = sample::design();
    design.title = "<script>alert('x')</script>".into();
    design.plates[0].title = "</script><b>".into();
    let page = page_of(&design);
    assert!(page.contains("<h1>&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;</h1>"));
    assert!(!page.contains("<script>alert"));
    assert!(!page.contains("</script><b>"));
    // The data and the script: no third block has been opened.
    assert_eq!(page.matches("<script").count(), 2);
    assert_eq!(page.matches("</script>").count(), 2);
}

#[test]
fn same_input_same_page_and_nothing_is_fetched() {
    let design = sample::design();
    let page = page_of(&design);
    assert!(page == page_of(&design), "two pages of one design differ");
    // The still picture stands in the page itself.
    let own = page.replace(" src=\"data:image/png;base64,", "");
    for word in [
        "http:", "https:", "src=", "@import", "<link", "fetch(", "XMLHttp", "import(",
    ] {
        assert!(!own.contains(word), "{word}");
    }
    // Only places within the page are referred to.
    assert_eq!(page.matches("url(").count(), page.matches("url(#").count());
    assert!(page.contains("default-src 'none'"));
}

#[test]
fn the_verdict_follows_the_findings_and_comes_first() {
    let job = spec::read_bytes(include_bytes!("../../../templates/keyring.toml")).expect("a job");
    let mut design = design(&job, "keyring", &Hints::default()).expect("a design");
    design.findings.clear();
    let page = page_of(&design);
    assert!(page.contains("<b>RELEASED</b>") && page.contains("None: every check passed."));
    design.findings.push(Finding::new(
        Level::Stop,
        crate::base::Code::FeedWallThin,
        "B4",
        "wall < 1 mm",
        "it breaks",
        "a thicker wall",
    ));
    let page = page_of(&design);
    assert!(page.contains("<b>NOT RELEASED</b>") && !page.contains("<b>RELEASED</b>"));
    let places: Vec<usize> = [
        "NOT RELEASED",
        "id=\"solids\"",
        "wall &lt; 1 mm",
        "id=\"fill\"",
        "id=\"process\"",
        "id=\"holes\"",
        "id=\"decisions\"",
        "id=\"drawings\"",
        "id=\"files\"",
        "id=\"cautions\"",
        "id=\"limits\"",
    ]
    .map(|w| page.find(w).unwrap_or_else(|| panic!("{w} is missing")))
    .to_vec();
    assert!(places.is_sorted(), "{places:?}");
}

#[test]
fn the_fill_map_shows_each_place_once() {
    // 3 × 2 places: one without plastic, one not filled.
    let map = FillMap {
        size: [3, 2],
        origin: [0.0, 0.0],
        pitch: 2.0,
        time: vec![Some(0.1), Some(0.1), Some(1.2), None, Some(-1.0), Some(0.6)],
        pressure: vec![Some(2.4), Some(2.4), Some(0.1), None, None, Some(1.2)],
        temperature: vec![
            Some(229.6),
            Some(229.6),
            Some(180.2),
            None,
            None,
            Some(210.0),
        ],
    };
    let figure = fill_map::arrival(&map);
    // The lower row is drawn at 1, the upper at 0; equal neighbours are one run.
    assert!(figure.contains("d=\"M0 1h2v1h-2z\""), "{figure}");
    assert!(figure.contains("d=\"M2 1h1v1h-1z\""));
    assert!(figure.contains("fill=\"url(#front-none)\" d=\"M1 0h1v1h-1z\""));
    assert!(figure.contains("d=\"M2 0h1v1h-1z\""));
    assert_eq!(figure.matches("v1h-").count(), 4);
    assert!(figure.contains("time, s") && figure.contains("not filled"));
    // The other pictures are of the same places, with bars of their own.
    for (figure, unit, ends) in [
        (fill_map::pressure(&map), "MPa", [">0<", ">2<"]),
        (fill_map::temperature(&map), "°C", [">180<", ">220<"]),
    ] {
        assert_eq!(figure.matches("v1h-").count(), 4, "{figure}");
        assert!(figure.contains(unit) && figure.contains("not filled"));
        assert!(ends.iter().all(|e| figure.contains(e)), "{figure}");
        assert!(!figure.contains("type=\"range\""));
    }
    // Nothing filled, or sizes that do not belong together: no picture.
    assert_eq!(fill_map::arrival(&FillMap::default()), "");
    assert_eq!(fill_map::pressure(&FillMap::default()), "");
    assert_eq!(fill_map::temperature(&FillMap::default()), "");
    let torn = FillMap {
        size: [4, 2],
        ..map
    };
    assert_eq!(fill_map::arrival(&torn), "");
}

#[test]
fn ticks_are_round_and_within() {
    assert_eq!(pressure::ticks(4.2, 5), [0.0, 1.0, 2.0, 3.0, 4.0]);
    assert_eq!(pressure::ticks(94.0, 4), [0.0, 50.0]);
    assert_eq!(pressure::ticks(0.0, 4), [0.0]);
    assert_eq!(pressure::ticks(f64::NAN, 4), [0.0]);
}

/// Relative luminance and contrast ratio: WCAG 2.1, definitions in section 6.
fn contrast(a: &str, b: &str) -> f64 {
    let luminance = |hex: &str| {
        let part = |i: usize| {
            let v = f64::from(u8::from_str_radix(&hex[i..i + 2], 16).expect("hex")) / 255.0;
            if v <= 0.03928 {
                v / 12.92
            } else {
                ((v + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    };
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn text_can_be_read_in_light_and_dark() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    // WCAG 2.1, success criterion 1.4.3: at least 4.5 to 1.
    let themes: Vec<&str> = STYLE.split(":root{").skip(1).take(2).collect();
    assert_eq!(themes.len(), 2);
    for theme in themes {
        let colour = |name: &str| {
            let from = theme.find(&format!("--{name}:")).expect("a colour") + name.len() + 3;
            &theme[from..from + 7]
        };
        for ink in ["ink", "soft", "stop", "warn", "note", "go"] {
            for ground in ["paper", "band"] {
                let ratio = contrast(colour(ink), colour(ground));
                assert!(ratio >= 4.5, "{ink} on {ground}: {ratio:.2}");
            }
        }
    }
}
