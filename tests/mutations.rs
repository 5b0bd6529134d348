//! Spoilt files: whatever was done to a good one, it is read or refused in words, in time.
//!
//! Parameter files, and drawings and bodies named by one (SVG, DXF, STL, OBJ, 3MF), with bytes changed, lost, doubled
//! and moved between files. None may panic, take longer than fifteen seconds of the processor or more than a
//! gigabyte; what is refused names its place and what would be right.
//! `PLATEWRIGHT_NIGHTLY=1`: 100 000 files instead of 3 000. `PLATEWRIGHT_CASE=N`: only that one.

use platewright::cli::diagnostics::{render, to_json};
use platewright::pipeline;
use platewright::spec::{job::Deciding, shop::FillEffort, templates};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

/// Longest time for one file: of the processor, for the machine may be busy with others.
const LONGEST: Duration = Duration::from_secs(15);
/// Most memory of the whole run, kB.
const MEMORY: u64 = 1 << 20;

/// SplitMix64 (Steele, Lea & Flood 2014): the same numbers everywhere.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % below.max(1) as u64) as usize
    }
}

/// Every kind of entity that is read, in a block and out of it.
const DXF: &str = include_str!("fuzz/seeds/kinds.dxf");

const SVG: &str = include_str!("fuzz/seeds/kinds.svg");

const NAMES: [&str; 5] = [
    "drawing.svg",
    "drawing.dxf",
    "body.stl",
    "body.obj",
    "body.3mf",
];
/// Index of a parameter file, past those of the files that one names.
const JOB: usize = NAMES.len();

/// A cube of 20 mm: corners, and four-sided faces seen counter-clockwise from outside.
const CORNERS: [[u8; 3]; 8] = [
    [0, 0, 0],
    [20, 0, 0],
    [20, 20, 0],
    [0, 20, 0],
    [0, 0, 20],
    [20, 0, 20],
    [20, 20, 20],
    [0, 20, 20],
];
const FACES: [[usize; 4]; 6] = [
    [0, 3, 2, 1],
    [4, 5, 6, 7],
    [0, 1, 5, 4],
    [1, 2, 6, 5],
    [2, 3, 7, 6],
    [3, 0, 4, 7],
];

fn triangles() -> impl Iterator<Item = [usize; 3]> {
    FACES
        .iter()
        .flat_map(|f| [[f[0], f[1], f[2]], [f[0], f[2], f[3]]])
}

fn stl_text() -> Vec<u8> {
    let mut t = String::from("solid cube\n");
    for f in triangles() {
        t += "facet normal 0 0 0\nouter loop\n";
        for [x, y, z] in f.map(|i| CORNERS[i]) {
            t += &format!("vertex {x} {y} {z}\n");
        }
        t += "endloop\nendfacet\n";
    }
    (t + "endsolid cube\n").into_bytes()
}

fn stl_binary() -> Vec<u8> {
    let mut b = vec![0; 80];
    b.extend(12u32.to_le_bytes());
    for f in triangles() {
        b.extend([0; 12]);
        for x in f.into_iter().flat_map(|i| CORNERS[i]) {
            b.extend(f32::from(x).to_le_bytes());
        }
        b.extend([0; 2]);
    }
    b
}

fn obj() -> Vec<u8> {
    let mut t = String::from("# cube\no cube\n");
    for [x, y, z] in CORNERS {
        t += &format!("v {x} {y} {z}\n");
    }
    for f in FACES {
        t += &format!(
            "f {}//1 {} {} -{}\n",
            f[0] + 1,
            f[1] + 1,
            f[2] + 1,
            8 - f[3]
        );
    }
    t.into_bytes()
}

/// The package of ISO/IEC 29500-2 that holds one model; stored or deflated.
fn threemf(method: zip::CompressionMethod) -> Vec<u8> {
    use std::io::Write;
    let mut model = String::from(
        r#"<model unit="millimeter" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources><object id="1" type="model"><mesh><vertices>"#,
    );
    for [x, y, z] in CORNERS {
        model += &format!(r#"<vertex x="{x}" y="{y}" z="{z}"/>"#);
    }
    model += "</vertices><triangles>";
    for [a, b, c] in triangles() {
        model += &format!(r#"<triangle v1="{a}" v2="{b}" v3="{c}"/>"#);
    }
    model += r#"</triangles></mesh></object><object id="2"><components><component objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0 0"/></components></object></resources><build><item objectid="2"/></build></model>"#;
    let rels = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="r" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>"#;
    let mut out = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default().compression_method(method);
    for (name, text) in [("_rels/.rels", rels), ("3D/3dmodel.model", &model)] {
        out.start_file(name, options).unwrap();
        out.write_all(text.as_bytes()).unwrap();
    }
    out.finish().unwrap().into_inner()
}

fn job_of(name: &str) -> String {
    if name.starts_with("body") {
        return format!("[output]\nfill = \"off\"\n[part.mesh]\nfile = \"{name}\"\n");
    }
    format!(
        "[output]\nfill = \"off\"\n[part]\nthickness = 3\nround = true\n[part.outline]\nshape = \"file\"\nfile = \"{name}\"\nwidth = 60\n"
    )
}

fn seeds() -> Vec<(usize, Vec<u8>)> {
    let mut all: Vec<(usize, Vec<u8>)> = Vec::new();
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/spec");
    for dir in ["one", "many"] {
        let folder = std::fs::read_dir(format!("{root}/{dir}")).unwrap();
        let mut paths: Vec<_> = folder.map(|e| e.unwrap().path()).collect();
        paths.sort();
        all.extend(paths.iter().map(|p| (JOB, std::fs::read(p).unwrap())));
    }
    // As often as all the small files together.
    for _ in 0..6 {
        all.extend(
            templates::list()
                .iter()
                .map(|t| (JOB, t.text.as_bytes().to_vec())),
        );
        all.push((0, SVG.trim_end().into()));
        all.push((0, include_bytes!("../templates/fish.svg").to_vec()));
        all.push((2, stl_text()));
        all.push((2, stl_binary()));
        all.push((3, obj()));
        all.push((4, threemf(zip::CompressionMethod::Stored)));
        all.push((4, threemf(zip::CompressionMethod::Deflated)));
        all.push((1, DXF.trim_end().into()));
    }
    all
}

const PIECES: [&[u8]; 26] = [
    b"\0",
    b"\xff\xfe",
    b"\n",
    b"\"",
    b"1e308",
    b"-1",
    b"0",
    b"nan",
    b"inf",
    b"99999999999",
    b"1e-300",
    b"<",
    b">",
    b"</g>",
    b"<g>",
    b"&#0;",
    b"&lol;",
    b"M0 0",
    b"a1 1 0 1 1 1 1",
    b"z",
    b"INSERT",
    b"ENDSEC",
    b"[",
    b"{ to = [1, 2] }",
    b"= ",
    b"70",
];

fn spoil(dice: &mut Dice, bytes: &mut Vec<u8>, other: &[u8]) {
    // Mostly one or two edits, so that some files stay good and others are wrong in one place.
    let edits = 1 + dice.roll(6);
    for _ in 0..=dice.roll(edits) {
        let at = dice.roll(bytes.len() + 1);
        let end = (at + dice.roll(60)).min(bytes.len());
        match dice.roll(8) {
            0 => drop(bytes.drain(at..end)),
            1 => drop(bytes.splice(at..end, PIECES[dice.roll(PIECES.len())].iter().copied())),
            2 => drop(bytes.splice(at..at, PIECES[dice.roll(PIECES.len())].iter().copied())),
            3 => {
                let copy: Vec<u8> = bytes[at..end].repeat(1 + dice.roll(40));
                bytes.splice(end..end, copy);
            }
            4 => bytes.truncate(at.max(40)),
            5 if at < bytes.len() => bytes[at] ^= 1 << dice.roll(8),
            // A digit becomes another one: still a file, with another size.
            6 => {
                let digits = (at..bytes.len()).find(|i| bytes[*i].is_ascii_digit());
                if let Some(i) = digits {
                    bytes[i] = b'0' + dice.roll(10) as u8;
                }
            }
            _ => {
                let from = dice.roll(other.len());
                let to = (from + dice.roll(80)).min(other.len());
                bytes.splice(at..end, other[from..to].iter().copied());
            }
        }
    }
}

/// Reads and designs; what is refused is shown.
fn go(kind: usize, bytes: &[u8], by_rule: bool) -> bool {
    let text = match NAMES.get(kind) {
        Some(name) => job_of(name).into_bytes(),
        None => bytes.to_vec(),
    };
    let beside = |name: &str| match name {
        "fish.svg" if kind == JOB => Ok(include_bytes!("../templates/fish.svg").to_vec()),
        "shell.stl" if kind == JOB => Ok(include_bytes!("../templates/shell.stl").to_vec()),
        _ if kind < JOB => Ok(bytes.to_vec()),
        _ => Err("is not there".to_owned()),
    };
    let done = pipeline::read(&text, &beside).and_then(|mut job| {
        job.output.fill = Some(platewright::base::Given::of(FillEffort::Off));
        if by_rule {
            job.job.decide = Some(platewright::base::Given::of(Deciding::ByRule));
        }
        pipeline::decide(&job, "spoilt")
    });
    let Err(wrong) = done else { return true };
    assert!(!wrong.0.is_empty(), "refused without a word");
    let shown = String::from_utf8_lossy(&text);
    for d in &wrong.0 {
        assert!(!d.label.is_empty() && !d.remedy.is_empty(), "{}", d.code);
    }
    render("spoilt.toml", &shown, &wrong, false);
    to_json("spoilt.toml", &shown, &wrong);
    false
}

fn one(case: usize, seeds: &[(usize, Vec<u8>)]) -> Result<bool, String> {
    let mut dice = Dice(case as u64);
    let (kind, mut bytes) = seeds[dice.roll(seeds.len())].clone();
    let other = &seeds[dice.roll(seeds.len())].1;
    spoil(&mut dice, &mut bytes, other);
    // The search takes most of the time; it follows what a third of them ask for.
    let by_rule = !case.is_multiple_of(3);
    let began = spent();
    let done = catch_unwind(AssertUnwindSafe(|| go(kind, &bytes, by_rule)));
    let took = spent().saturating_sub(began);
    let kept = || {
        let file = std::env::temp_dir().join(format!("spoilt-{case}"));
        let _ = std::fs::write(&file, &bytes);
        file.display().to_string()
    };
    match done {
        Err(_) => Err(format!("case {case} panicked: {}", kept())),
        Ok(_) if took > LONGEST => Err(format!("case {case} took {took:?}: {}", kept())),
        Ok(good) => Ok(good),
    }
}

/// Time that this thread has had of the processor; since the program's start where the system
/// does not tell.
fn spent() -> Duration {
    static START: std::sync::LazyLock<std::time::Instant> =
        std::sync::LazyLock::new(std::time::Instant::now);
    std::fs::read_to_string("/proc/thread-self/schedstat")
        .ok()
        .and_then(|t| t.split(' ').next()?.parse().ok())
        .map_or_else(|| START.elapsed(), Duration::from_nanos)
}

/// Most memory that this process ever held, kB; `None` where the system does not tell.
fn peak() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = text.lines().find(|l| l.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

#[test]
fn spoilt_files_are_read_or_refused_in_words() {
    let only: Option<usize> = std::env::var("PLATEWRIGHT_CASE")
        .ok()
        .and_then(|v| v.parse().ok());
    let night = std::env::var("PLATEWRIGHT_NIGHTLY").is_ok_and(|v| v == "1");
    let count = if night { 100_000 } else { 3_000 };
    let seeds = seeds();
    if let Some(case) = only {
        one(case, &seeds).unwrap();
        return;
    }
    let (next, good) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let work = || {
        let mut faults = Vec::new();
        loop {
            let case = next.fetch_add(1, Ordering::Relaxed);
            if case >= count || faults.len() > 5 {
                return faults;
            }
            match one(case, &seeds) {
                Ok(is_good) => drop(good.fetch_add(usize::from(is_good), Ordering::Relaxed)),
                Err(why) => faults.push(why),
            }
        }
    };
    let threads = std::thread::available_parallelism()
        .map_or(2, usize::from)
        .min(4);
    let faults: Vec<String> = std::thread::scope(|s| {
        let all: Vec<_> = (0..threads).map(|_| s.spawn(work)).collect();
        all.into_iter().flat_map(|h| h.join().unwrap()).collect()
    });
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    // Both ways are walked: a good share is still a design, a good share is refused.
    let good = good.into_inner();
    println!("{count} files: {good} designed, {} refused", count - good);
    assert!(
        good > count / 50 && good < count * 49 / 50,
        "{good} of {count}"
    );
    if let Some(most) = peak() {
        println!("{most} kB of memory at most");
        assert!(most < MEMORY, "{most} kB");
    }
}
