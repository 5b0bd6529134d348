use super::*;
use proptest::prelude::*;
use std::fmt::Write as _;
use std::io::{Cursor, Write as _};

const CUBE: [[f64; 3]; 8] = [
    [0.0, 0.0, 0.0],
    [20.0, 0.0, 0.0],
    [20.0, 20.0, 0.0],
    [0.0, 20.0, 0.0],
    [0.0, 0.0, 20.0],
    [20.0, 0.0, 20.0],
    [20.0, 20.0, 20.0],
    [0.0, 20.0, 20.0],
];
const FACES: [[u32; 3]; 12] = [
    [0, 2, 1],
    [0, 3, 2],
    [4, 5, 6],
    [4, 6, 7],
    [0, 1, 5],
    [0, 5, 4],
    [1, 2, 6],
    [1, 6, 5],
    [2, 3, 7],
    [2, 7, 6],
    [3, 0, 4],
    [3, 4, 7],
];

fn cube() -> Vec<[[f64; 3]; 3]> {
    FACES.iter().map(|t| t.map(|i| CUBE[i as usize])).collect()
}

fn binary(triangles: &[[[f64; 3]; 3]], head: &[u8]) -> Vec<u8> {
    let mut out = vec![b' '; 80];
    out[..head.len()].copy_from_slice(head);
    out.extend((triangles.len() as u32).to_le_bytes());
    for t in triangles {
        out.extend([0; 12]);
        for v in t.iter().flatten() {
            out.extend((*v as f32).to_le_bytes());
        }
        out.extend([0; 2]);
    }
    out
}

fn text(triangles: &[[[f64; 3]; 3]]) -> String {
    let mut out = "solid cube\n".to_owned();
    for t in triangles {
        out += "facet normal 0 0 0\n outer loop\n";
        for v in t {
            let _ = writeln!(out, "  vertex {} {} {:e}", v[0], v[1], v[2]);
        }
        out += " endloop\nendfacet\n";
    }
    out + "endsolid cube\n"
}

fn archive(model: &str) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default();
    zip.start_file("3D/part.model", options).unwrap();
    zip.write_all(model.as_bytes()).unwrap();
    zip.finish().unwrap().into_inner()
}

fn model(unit: &str, build: &str) -> String {
    let mut m = format!(
        "<model unit=\"{unit}\" xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\"><resources><object id=\"1\"><mesh><vertices>"
    );
    for v in CUBE {
        let _ = write!(m, "<vertex x=\"{}\" y=\"{}\" z=\"{}\"/>", v[0], v[1], v[2]);
    }
    m += "</vertices><triangles>";
    for t in FACES {
        let _ = write!(
            m,
            "<triangle v1=\"{}\" v2=\"{}\" v3=\"{}\"/>",
            t[0], t[1], t[2]
        );
    }
    m + "</triangles></mesh></object><object id=\"2\"><components><component objectid=\"1\" transform=\"0 1 0 -1 0 0 0 0 1 5 6 7\"/></components></object></resources><build>"
        + build
        + "</build></model>"
}

const OPTIONS: MeshOptions = MeshOptions {
    unit: None,
    mend: 0.01,
};

fn volume(m: &TracedMesh) -> f64 {
    m.triangles
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|i| m.points[i as usize].coords);
            a.dot(&b.cross(&c)) / 6.0
        })
        .sum()
}

fn read(name: &str, bytes: &[u8]) -> TracedMesh {
    trace_mesh(name, bytes, &OPTIONS).unwrap_or_else(|e| panic!("{name} {e}"))
}

#[test]
fn a_cube_is_a_cube_in_every_format() {
    let mut faces = String::new();
    for v in CUBE {
        let _ = writeln!(faces, "v {} {} {}", v[0], v[1], v[2]);
    }
    faces += "# Würfel\nvn 0 0 1\nf 1//1 4//1 3//1 2//1\nf 5 6 7 8\nf -8 -7 -3 -4\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n";
    let all = [
        ("a.stl", binary(&cube(), b"")),
        // The first word of a binary file says nothing.
        ("b.stl", binary(&cube(), b"solid of some program")),
        ("c.STL", text(&cube()).into_bytes()),
        ("d.obj", faces.into_bytes()),
        (
            "e.3mf",
            archive(&model("millimeter", "<item objectid=\"1\"/>")),
        ),
        (
            "f.3mf",
            archive(&model("millimeter", "<item objectid=\"2\"/>")),
        ),
    ];
    for (name, bytes) in all {
        let m = read(name, &bytes);
        assert_eq!((m.points.len(), m.triangles.len()), (8, 12), "{name}");
        assert!((volume(&m) - 8000.0).abs() < 1e-9, "{name}");
        assert_eq!(m.mended, Mended::default(), "{name}");
    }
    let inch = read("g.3mf", &archive(&model("inch", "<item objectid=\"1\"/>")));
    assert_eq!((inch.unit, inch.unit_from), (25.4, UnitFrom::File));
    // A component is turned and moved: x' = -y + 5, y' = x + 6, z' = z + 7.
    let m = read(
        "h.3mf",
        &archive(&model("millimeter", "<item objectid=\"2\"/>")),
    );
    let low = m.points.iter().fold(m.points[0], |a, p| a.inf(p));
    assert_eq!(low, Point3::new(-15.0, 6.0, 7.0));
}

#[test]
fn small_faults_are_mended_and_counted() {
    let mended = |t: &[[[f64; 3]; 3]]| {
        let m = read("a.stl", &binary(t, b""));
        assert!((volume(&m) - 8000.0).abs() < 2.0, "{}", volume(&m));
        m.mended
    };
    let mut t = cube();
    t.iter_mut().for_each(|t| t.swap(0, 1));
    assert!(mended(&t).inside_out);
    let mut t = cube();
    t[3].swap(0, 1);
    t[7].swap(0, 1);
    assert_eq!(mended(&t).turned, 2);
    let mut t = cube();
    t.push(t[5]);
    t.push([CUBE[0], CUBE[1], CUBE[0]]);
    let m = mended(&t);
    assert_eq!((m.doubled, m.degenerate), (1, 1));
    // One triangle's corner a hair away: its two edges and their partners are open.
    let mut t = cube();
    t[2][1][0] += 0.004;
    assert_eq!(mended(&t).joined, 1);
    // A triangle is missing.
    let mut t = cube();
    t.remove(4);
    assert_eq!(mended(&t).filled, 1);
    // An edge of the top has a further corner that its neighbour does not know.
    let mut t = cube();
    let middle = [10.0, 0.0, 20.0];
    t[2] = [CUBE[4], middle, CUBE[6]];
    t.push([middle, CUBE[5], CUBE[6]]);
    assert_eq!(mended(&t).split, 1);
}

#[test]
fn large_faults_are_refused_with_their_numbers() {
    let fault = |t: &[[[f64; 3]; 3]]| {
        trace_mesh("a.stl", &binary(t, b""), &OPTIONS)
            .expect_err("a fault")
            .what
    };
    let mut t = cube();
    t.truncate(10);
    assert!(fault(&t).contains("4 open edges"), "{}", fault(&t));
    // Two cubes, apart; then sharing an edge.
    let moved = |d: [f64; 3]| {
        cube()
            .into_iter()
            .map(move |t| t.map(|p| [p[0] + d[0], p[1] + d[1], p[2] + d[2]]))
    };
    let mut t = cube();
    t.extend(moved([30.0, 0.0, 0.0]));
    assert!(
        fault(&t).contains("2 separate closed surfaces"),
        "{}",
        fault(&t)
    );
    let mut t = cube();
    t.extend(moved([20.0, 20.0, 0.0]));
    let found = fault(&t);
    assert!(
        found.contains("1 edges with more than two triangles"),
        "{found}"
    );
    assert!(found.contains("(20, 20, 10)"), "{found}");
    let flat: Vec<_> = cube()
        .into_iter()
        .map(|t| t.map(|p| [p[0], p[1], 0.0]))
        .collect();
    assert!(
        fault(&flat).contains("encloses no volume"),
        "{}",
        fault(&flat)
    );
}

#[test]
fn broken_files_say_where() {
    let fault = |name: &str, bytes: &[u8]| trace_mesh(name, bytes, &OPTIONS).expect_err("a fault");
    let whole = binary(&cube(), b"");
    assert!(
        fault("a.stl", &whole[..400])
            .what
            .contains("promises 12 triangles")
    );
    let mut counted = whole.clone();
    counted[80..84].copy_from_slice(&u32::MAX.to_le_bytes());
    assert!(
        fault("a.stl", &counted)
            .what
            .contains("promises 4294967295")
    );
    let mut nan = whole.clone();
    nan[96..100].copy_from_slice(&f32::NAN.to_le_bytes());
    assert!(fault("a.stl", &nan).what.contains("triangle 1 of 12"));
    let e = fault(
        "a.stl",
        text(&cube())
            .replace("vertex 20 0", "vertex 2O 0")
            .as_bytes(),
    );
    assert_eq!(
        (e.line, e.what.contains("\"2O\"")),
        (Some(6), true),
        "{e:?}"
    );
    let e = fault("a.obj", b"v 0 0 0\nv 1 0 0\nf 1 2 9\n");
    assert_eq!(e.line, Some(3));
    let e = fault("a.3mf", b"PK\x03\x04 nothing");
    assert!(e.what.contains("no sound 3MF archive"), "{e}");
    let e = fault(
        "a.3mf",
        &archive("<model><build><item objectid=\"7\"/></build></model>"),
    );
    assert!(e.what.contains("no object \"7\""), "{e}");
    // Objects within themselves.
    let loops = "<model><resources><object id=\"1\"><components><component objectid=\"1\"/><component objectid=\"1\"/></components></object></resources><build><item objectid=\"1\"/></build></model>";
    assert!(fault("a.3mf", &archive(loops)).what.contains("deep"));
    assert!(
        fault("a.3mf", &archive("<!DOCTYPE x []><model/>"))
            .line
            .is_some()
    );
    let mut text = text(&cube()).into_bytes();
    text.splice(6..10, [0xff, 0xfe, 0xe9, b'x']);
    assert_eq!(read("a.stl", &text).triangles.len(), 12);
}

#[test]
fn an_archive_that_swells_is_refused() {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    zip.start_file("3D/part.model", zip::write::SimpleFileOptions::default())
        .unwrap();
    let block = vec![b' '; 1 << 20];
    for _ in 0..257 {
        zip.write_all(&block).unwrap();
    }
    let bytes = zip.finish().unwrap().into_inner();
    assert!(bytes.len() < 1 << 20);
    let e = trace_mesh("a.3mf", &bytes, &OPTIONS).expect_err("a fault");
    assert!(e.what.contains("swells"), "{e}");
}

#[test]
fn the_size_decides_a_unit_that_is_not_given() {
    let scaled = |by: f64| {
        let t: Vec<_> = cube()
            .into_iter()
            .map(|t| t.map(|p| p.map(|v| v * by)))
            .collect();
        trace_mesh("a.stl", &binary(&t, b""), &OPTIONS)
    };
    assert_eq!(scaled(1.0).unwrap().unit, 1.0);
    assert_eq!(scaled(0.05).unwrap().unit, 25.4);
    assert_eq!(scaled(0.001).unwrap().unit, 1000.0);
    assert!(scaled(100.0).unwrap_err().what.contains("2000 mm long"));
}

proptest! {
    #[test]
    fn no_bytes_make_it_panic(
        cuts in proptest::collection::vec((0usize..4000, any::<u8>()), 1..12),
        keep in 0usize..4000,
        which in 0usize..4,
    ) {
        let sources = [
            ("a.stl", binary(&cube(), b"solid")),
            ("a.stl", text(&cube()).into_bytes()),
            ("a.obj", b"v 0 0 0\nv 9 0 0\nv 0 9 0\nv 0 0 9\nf 1 2 3\nf 1 2 4\nf 2 3 4\nf 3 1 4\n".to_vec()),
            ("a.3mf", archive(&model("millimeter", "<item objectid=\"2\"/>"))),
        ];
        let (name, mut bytes) = sources[which].clone();
        for (at, b) in cuts {
            let n = bytes.len();
            bytes[at % n] = b;
        }
        bytes.truncate(keep.max(10));
        let _ = trace_mesh(name, &bytes, &OPTIONS);
    }
}
