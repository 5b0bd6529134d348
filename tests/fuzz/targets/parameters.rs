//! A parameter file is designed, or refused in words.
#![no_main]

use libfuzzer_sys::fuzz_target;
use platewright::base::Given;
use platewright::cli::diagnostics::render;
use platewright::pipeline;
use platewright::spec::shop::FillEffort;

fuzz_target!(|bytes: &[u8]| {
    let none = |_: &str| Err("is not there".to_owned());
    let done = pipeline::read(bytes, &none).and_then(|mut job| {
        job.output.fill = Some(Given::of(FillEffort::Off));
        pipeline::decide(&job, "fuzz")
    });
    if let Err(wrong) = done {
        assert!(!wrong.0.is_empty(), "refused without a word");
        render("fuzz.toml", &String::from_utf8_lossy(bytes), &wrong, false);
    }
});
