//! What is named as a cure cures: the changed file is made whole, solids and sheets too, and the
//! finding is gone. Lines that are written leave the rest of the file as it was.

use platewright::base::finding::{Change, Remedy};
use platewright::base::{Code, Level};
use platewright::pipeline::{self, Checked};
use platewright::spec::{self, edit};

/// SplitMix64 (Steele, Lea & Flood 2014).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[(self.next() % all.len() as u64) as usize]
    }
}

/// A plain part on a machine that is mostly too weak or too strong for it.
fn file(seed: u64) -> String {
    let mut d = Dice(seed);
    let size = d.one_of(&[30.0, 42.5, 55.0, 64.0]);
    let outline = match d.next() % 3 {
        0 => format!("{{ shape = \"circle\", diameter = {size} }}"),
        1 => format!(
            "{{ shape = \"rectangle\", width = {size}, height = {} }}",
            0.6 * size
        ),
        _ => format!(
            "{{ shape = \"slot\", length = {size}, width = {} }}",
            0.4 * size
        ),
    };
    format!(
        "# of the shed\n[machine]\nbarrel_bore = {} # measured\nstroke = {}\nhand_force = 150\nlever_ratio = {}\n\
         [plastic]\nkind = \"{}\"\n[nozzle]\nthread = \"G 1/2\"\n\
         [part]\nthickness = {}\noutline = {outline}\n[mold]\ncavities = {}\n",
        d.one_of(&[22, 26, 30]),
        d.one_of(&[60, 120, 160]),
        d.one_of(&[7, 10, 26]),
        d.one_of(&["PP", "HDPE", "PS"]),
        d.one_of(&[2.0, 3.0, 5.0]),
        d.one_of(&[1, 1, 2]),
    )
}

fn made(text: &str) -> Checked {
    let job = spec::read_bytes(text.as_bytes()).expect("a job");
    let mut checked = pipeline::make(&job, "t", &|_| {})
        .expect("a package")
        .checked;
    pipeline::seek_remedies(&job, "t", &mut checked, &|_| {});
    checked
}

fn stands(checked: &Checked, code: Code) -> bool {
    let all = &checked.design.findings;
    all.iter().any(|f| f.code == code && f.level != Level::Note)
}

/// Without its own remedies: the file as a user would make it.
fn again(text: &str) -> Checked {
    let job = spec::read_bytes(text.as_bytes()).expect("a job");
    pipeline::make(&job, "t", &|_| {})
        .expect("a package")
        .checked
}

fn written(text: &str, remedy: &Remedy) -> String {
    edit::apply(text, &remedy.changes).expect("the lines have a place")
}

#[test]
fn what_is_named_cures() {
    let (mut cured, mut tried) = (0, 0);
    for seed in 1..=8 {
        let text = file(seed);
        let checked = made(&text);
        let mut known: Vec<&Remedy> = Vec::new();
        for f in &checked.design.findings {
            assert!(f.level != Level::Note || f.remedies.is_empty());
            tried += usize::from(f.level != Level::Note);
            cured += usize::from(!f.remedies.is_empty());
            // The easiest of each; others are computed the same way.
            let Some(remedy) = f.remedies.first().filter(|r| !known.contains(r)) else {
                continue;
            };
            known.push(remedy);
            let after = again(&written(&text, remedy));
            assert!(
                !stands(&after, f.code),
                "{seed}: {} by {}",
                f.code,
                remedy.lines()
            );
            let stops = after
                .design
                .findings
                .iter()
                .filter(|f| f.level == Level::Stop);
            for stop in stops {
                assert!(
                    stands(&checked, stop.code),
                    "{seed}: {} brings {}",
                    remedy.lines(),
                    stop.code
                );
            }
            for f in after
                .design
                .findings
                .iter()
                .filter(|f| f.level == Level::Warn)
            {
                let told = remedy.brings.contains(&f.code) || stands(&checked, f.code);
                assert!(told, "{seed}: {} brings {} unsaid", remedy.lines(), f.code);
            }
        }
    }
    assert!(
        tried >= 8 && 2 * cured > tried,
        "{cured} of {tried} have a cure"
    );
}

#[test]
fn a_given_value_in_the_way_is_left_out() {
    let thin = "[machine]\nbarrel_bore = 26\nhand_force = 150\nlever_ratio = 32\n[nozzle]\nthread = \"G 1/2\"\n\
                [part]\nthickness = 3\noutline = { shape = \"circle\", diameter = 60 }\n\
                [mold]\nthickness_b = 12 # what lay about\n[output]\nfill = \"off\"\n";
    let checked = made(thin);
    assert!(stands(&checked, Code::PlatesBow));
    let cures = checked
        .design
        .findings
        .iter()
        .filter(|f| f.code == Code::PlatesBow);
    let first = cures.flat_map(|f| &f.remedies).next().expect("a cure");
    let wanted = Change {
        key: "mold.thickness_b".into(),
        given: Some("12".into()),
        to: None,
    };
    assert_eq!(first.changes, [wanted]);
    let text = written(thin, first);
    assert!(!text.contains("thickness_b") && text.contains("diameter = 60"));
    assert!(!stands(&again(&text), Code::PlatesBow));
}

#[test]
fn threads_do_not_matter() {
    let text = file(3);
    let remedies = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        let checked = pool.expect("threads").install(|| made(&text));
        let all = checked.design.findings;
        all.into_iter()
            .map(|f| (f.code, f.remedies))
            .collect::<Vec<_>>()
    };
    assert_eq!(remedies(1), remedies(2));
}
