//! Outlines from drawing files, read once for all that follows.
//!
//! Input: a job with its attached files. Output: the job with every drawing traced, or
//! diagnostics at the names of the files, with the place in the drawing and a picture.

use crate::base::{Diagnostic, Diagnostics, Length};
use crate::spec::Job;
use crate::spec::job::{
    DrawingOrigin, DrawingSize, DrawingSpec, FeatureKind, OutlineSpec, PartSide,
};
use crate::trace::{Options, Size, TraceError, trace};
use std::sync::Arc;

/// Loose ends nearer than this, mm, are joined when the file does not say: drawing programs
/// snap to better than 0.01 mm, and no cutter follows a notch of 0.05 mm (common practice, no source).
pub const JOIN: f64 = 0.05;
/// How far arcs may lie from curves, mm, when the file does not say: well below what a small
/// mill keeps (common practice, no source).
pub const FIT: f64 = 0.01;

/// All drawings of a job with their dotted keys (`part.outline`).
pub fn used(job: &Job) -> Vec<(String, &DrawingSpec)> {
    let mut shapes: Vec<(String, &OutlineSpec)> = Vec::new();
    if let Some(part) = &job.part {
        shapes.extend(
            part.outline
                .iter()
                .map(|o| ("part.outline".into(), &o.value)),
        );
        let holes = part.holes.iter().enumerate();
        shapes.extend(holes.map(|(i, h)| (format!("part.hole[{i}].outline"), &h.value.outline)));
        for (i, f) in part.features.iter().enumerate() {
            if let FeatureKind::Boss { outline } | FeatureKind::Pocket { outline } = &f.value.kind {
                shapes.push((format!("part.feature[{i}].outline"), outline));
            }
        }
    }
    let adaptor = job.adaptor.outline.iter();
    shapes.extend(adaptor.map(|o| ("adaptor.outline".into(), &o.value)));
    shapes
        .into_iter()
        .filter_map(|(key, shape)| match shape {
            OutlineSpec::File(d) => Some((key, d.as_ref())),
            _ => None,
        })
        .collect()
}

/// Traces every drawing of a job.
///
/// # Errors
/// `drawing`: the file cannot be used as an outline.
pub fn trace_all(job: &mut Job) -> Result<(), Diagnostics> {
    let attached = std::mem::take(&mut job.attached);
    let mut faults = Diagnostics::default();
    let mut look = |shape: &mut OutlineSpec, mirrored: bool| {
        let OutlineSpec::File(drawing) = shape else {
            return;
        };
        let name = &drawing.file.value.0;
        let Some(bytes) = attached.get(name) else {
            return; // Reported where it was not read.
        };
        match trace(name, bytes, &options(drawing, mirrored)) {
            Ok(traced) => drawing.traced = Some(Arc::new(traced)),
            Err(e) => faults.push(fault(drawing, &e)),
        }
    };
    if let Some(part) = &mut job.part {
        if let Some(o) = &mut part.outline {
            look(&mut o.value, false);
        }
        for h in &mut part.holes {
            look(&mut h.value.outline, false);
        }
        for f in &mut part.features {
            // Read from below, left and right change places, as for text.
            let mirrored = f.value.side.value == PartSide::Bottom;
            if let FeatureKind::Boss { outline } | FeatureKind::Pocket { outline } =
                &mut f.value.kind
            {
                look(outline, mirrored);
            }
        }
    }
    if let Some(o) = &mut job.adaptor.outline {
        look(&mut o.value, false);
    }
    job.attached = attached;
    faults.or(())
}

fn options(d: &DrawingSpec, mirrored: bool) -> Options {
    Options {
        size: match d.size.as_ref().map(|s| s.value) {
            None => Size::Drawn,
            Some(DrawingSize::Width(w)) => Size::Width(w.mm()),
            Some(DrawingSize::Height(h)) => Size::Height(h.mm()),
            Some(DrawingSize::Scale(s)) => Size::Scale(s),
        },
        stroke: d.stroke.as_ref().map(|w| w.value.mm()),
        layers: d.layers.as_ref().map(|l| l.value.clone()),
        join: d.join.as_ref().map_or(JOIN, |j| Length::mm(j.value)),
        fit: d.fit.as_ref().map_or(FIT, |f| Length::mm(f.value)),
        own_origin: d
            .origin
            .as_ref()
            .is_some_and(|o| o.value == DrawingOrigin::Drawing),
        mirrored: d.mirror.as_ref().map_or(mirrored, |m| m.value),
        angle: d.angle.as_ref().map_or(0.0, |a| a.value.degrees()),
    }
}

fn fault(d: &DrawingSpec, e: &TraceError) -> Diagnostic {
    let name = &d.file.value.0;
    let place = e.line.map_or_else(String::new, |l| format!(", line {l},"));
    let mut found = Diagnostic::new(
        "drawing",
        d.file.span,
        format!("{name}{place} {}", e.what),
        "cannot be used as an outline",
        e.remedy.clone(),
    );
    found.picture = e.picture.clone();
    found
}
