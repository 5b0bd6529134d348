//! Screws: size, class and number from the separating force.

use super::planner::{PRACTICE, Planner, span_of};
use crate::base::decision::Rule;
use crate::base::units::{decimals, number};
use crate::base::{Code, Finding, Level};
use crate::data::{fasteners, tightening};
use crate::spec::job::BoltStyle;

/// Preload has to beat the separating force by this factor (common practice, no source).
pub(super) const JOINT_FACTOR: f64 = 1.5;
/// Longest distance between neighbouring screws, mm (common practice, no source; the
/// plate computation checks the bending between them).
const SPACING: f64 = 130.0;

/// The screws of a mold.
pub(super) struct Bolts {
    pub thread: String,
    pub class: String,
    pub style: BoltStyle,
    pub count: u32,
    /// Nominal diameter, mm.
    pub dia: f64,
    /// Clearance hole, medium series, mm.
    pub clearance: f64,
    /// Counterbore diameter and depth, mm.
    pub counterbore: (f64, f64),
    /// Preload of one screw, N.
    pub preload: f64,
    /// Torque for it, N·m.
    pub torque: f64,
    /// Engagement needed in the A plate, mm.
    pub engagement: f64,
}

/// Decides the screws. `force` = separating force, N; `frame` = sides of the screw frame, mm,
/// estimated from the cavities; `layered`: they go through a stack of sheets.
pub(super) fn decide(
    p: &mut Planner,
    force: f64,
    frame: (f64, f64),
    material: &crate::data::Material,
    layered: bool,
) -> Option<Bolts> {
    let b = p.job.bolts.clone();
    let style = p.decisions.decide(
        "bolts.style",
        b.style.as_ref(),
        |s| match s {
            BoltStyle::Tapped => "tapped".to_owned(),
            BoltStyle::Through => "through".to_owned(),
        },
        || {
            if layered {
                return (
                    BoltStyle::Through,
                    Rule::new(
                        "right through all sheets and both closing plates, which are too thin for sunk heads and threads",
                        PRACTICE,
                    )
                    .changes_with("bolts.style"),
                );
            }
            (
                BoltStyle::Tapped,
                Rule::new(
                    "heads sunk in the B plate, threads in the A plate: the A plate stays on the nozzle, nothing stands out",
                    PRACTICE,
                )
                .changes_with("bolts.style = \"through\" (nuts or wing nuts) opens faster"),
            )
        },
    );
    let class = p.word("bolts.class", b.class.as_ref(), || {
        (
            "8.8".to_owned(),
            Rule::new(
                "8.8: the usual class of socket head screws on a shelf",
                PRACTICE,
            )
            .changes_with("bolts.class"),
        )
    });
    let fields = |side: f64| (side / SPACING).ceil().max(1.0) as u32;
    let by_spacing = 2 * (fields(frame.0) + fields(frame.1));
    let carries = |thread: &str| tightening::tightening(thread, &class).map(|t| t.preload);
    let needed = |thread: &str| {
        carries(thread).map(|f| {
            ((force * JOINT_FACTOR / f).ceil() as u32)
                .max(by_spacing)
                .next_multiple_of(2)
        })
    };
    let sizes = ["M6", "M8", "M10", "M12"];
    let thread = p.word("bolts.size", b.size.as_ref(), || {
            let best = sizes
                .iter()
                .find(|s| needed(s).is_some_and(|n| n <= by_spacing))
                .unwrap_or(&"M12");
            (
                (*best).to_owned(),
                Rule::new(
                    "smallest of M6, M8, M10, M12 whose preload holds the plates with the number of screws that the spacing asks for",
                    format!("75 % of proof load (ISO 898-1); joint factor {JOINT_FACTOR}: {PRACTICE}"),
                )
                .with("separating force", format!("{} N", decimals(force, 0)))
                .with("screws by spacing", by_spacing)
                .changes_with("machine.pressure, the part's area, bolts.class"),
            )
        });
    let (Some(metric), Some(hole), Some(bore), Some(tight)) = (
        fasteners::metric_thread(&thread),
        fasteners::clearance_hole(&thread),
        fasteners::counterbore(&thread),
        tightening::tightening(&thread, &class),
    ) else {
        p.refuse(
            "unknown-screw",
            span_of(b.size.as_ref()).or(span_of(b.class.as_ref())),
            format!("no table row for a screw {thread} of class {class}"),
            "not in the tables",
            "M3, M4, M5, M6, M8, M10, M12 or M16 of class 8.8, 10.9, 12.9 or A2-70",
        );
        return None;
    };
    let count = p.count("bolts.count", b.count.as_ref(), || {
        (
            needed(&thread).unwrap_or(by_spacing).min(24),
            Rule::new(
                "even number ≥ 4 such that preload ≥ joint factor × separating force, and no two screws lie farther apart than 130 mm",
                format!("force balance; {PRACTICE} for factor and spacing"),
            )
            .with("separating force", format!("{} N", decimals(force, 0)))
            .with("joint factor", JOINT_FACTOR)
            .with("preload per screw", format!("{} N", decimals(tight.preload, 0)))
            .with("screw frame", format!("{} × {} mm", decimals(frame.0, 0), decimals(frame.1, 0)))
            .changes_with("machine.pressure, bolts.size, bolts.class, the plate's size"),
        )
    });
    p.decisions.record(
        "bolts.torque",
        format!("{} N·m", decimals(tight.torque, 1)),
        Rule::new(
            "T = 0.17 F d with F = 75 % of the proof load",
            &tight.source,
        )
        .with("preload", format!("{} N", decimals(tight.preload, 0)))
        .with("thread", &thread)
        .changes_with("bolts.size, bolts.class; lubricated screws need less"),
    );
    let engagement = match tightening::engagement(&class, material) {
        Some(e) => {
            let mm = e.diameters * metric.major_dia_mm;
            p.decisions.record(
                "bolts.engagement",
                format!("{} mm", number(mm)),
                Rule::new(
                    format!("{} × screw diameter in {}", e.diameters, material.name),
                    &e.source,
                )
                .changes_with("mold.material, bolts.size, bolts.class"),
            );
            mm
        }
        None => 1.5 * metric.major_dia_mm,
    };
    let total = tight.preload * f64::from(count);
    if total < force * JOINT_FACTOR {
        let level = if total < force {
            Level::Stop
        } else {
            Level::Warn
        };
        p.findings.push(
            Finding::new(
                level,
                Code::BoltsTooWeak,
                "bolts",
                format!(
                    "{count} screws {thread} clamp with {} N; the melt pushes with {} N",
                    decimals(total, 0),
                    decimals(force, 0)
                ),
                format!("preload should be {JOINT_FACTOR} × the separating force, else the plates part and flash"),
                format!("at least {} screws, or a larger size", needed(&thread).unwrap_or(24)),
            )
            .because_of(span_of(b.count.as_ref()).or(span_of(b.size.as_ref()))),
        );
    }
    Some(Bolts {
        dia: metric.major_dia_mm,
        clearance: hole.medium_mm,
        counterbore: (bore.dia_mm, bore.depth_mm),
        preload: tight.preload,
        torque: tight.torque,
        engagement,
        thread,
        class,
        style,
        count,
    })
}
