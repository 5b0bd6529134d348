//! A drawing or body that a parameter file names is traced, or refused in words. The first
//! byte says which kind of file the rest is.
#![no_main]

use libfuzzer_sys::fuzz_target;
use platewright::cli::diagnostics::render;
use platewright::pipeline;

const NAMES: [&str; 5] = ["a.svg", "a.dxf", "a.stl", "a.obj", "a.3mf"];

fuzz_target!(|bytes: &[u8]| {
    let Some((kind, file)) = bytes.split_first() else {
        return;
    };
    let name = NAMES[usize::from(kind % 5)];
    let part = if kind % 5 < 2 {
        format!("thickness = 3\noutline = {{ shape = \"file\", file = \"{name}\", width = 30 }}")
    } else {
        format!("[part.mesh]\nfile = \"{name}\"\nwidth = 30")
    };
    let text = format!("[part]\n{part}\n");
    let beside = |_: &str| Ok(file.to_vec());
    if let Err(wrong) = pipeline::read(text.as_bytes(), &beside) {
        assert!(!wrong.0.is_empty(), "refused without a word");
        render("fuzz.toml", &text, &wrong, false);
    }
});
