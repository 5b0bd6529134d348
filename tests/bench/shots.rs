//! How long it takes to learn from ten shots, all of other conditions, and from ten with two forces.
//! (No time is asserted; `cargo bench --bench shots`.)
//!
//! A set of conditions takes 81 coarse fills of about 30 ms of one core; shots of equal conditions
//! share them. Scaling spares none: time goes as viscosity over pressure only for a Newtonian melt that
//! does not cool.

use criterion::{Criterion, criterion_group, criterion_main};
use platewright::pipeline::{decide, read};
use platewright::process::shots::learn;
use platewright::spec::shots;
use std::hint::black_box;

const DISK: &str = "[machine]\nbarrel_bore = 26\nstroke = 120\nhand_force = 150\nlever_ratio = 25\n\
    [nozzle]\nthread = \"G 1/2\"\n[part]\nthickness = 3\noutline = { shape = \"circle\", diameter = 60 }\n";

fn ten(c: &mut Criterion) {
    let nothing = |_: &str| Err("is not there".to_owned());
    let job = read(DISK.as_bytes(), &nothing).expect("a job");
    let (design, _) = decide(&job, "disk").expect("a design");
    let shot = |force: u32, k: u32| format!("[[shot]]\nforce = {force}\ntime = 2.{k}\n");
    let other: String = (0..10).map(|k| shot(100 + 5 * k, k)).collect();
    let same: String = (0..10).map(|k| shot(100 + 50 * (k % 2), k)).collect();
    let mut group = c.benchmark_group("ten shots");
    group.sample_size(10);
    for (name, text) in [("ten forces", other), ("two forces", same)] {
        let shots = shots::read(text.as_bytes()).expect("shots");
        group.bench_function(name, |b| {
            b.iter(|| black_box(learn(&design, DISK, &shots)).expect("lessons"));
        });
    }
    group.finish();
}

criterion_group!(benches, ten);
criterion_main!(benches);
