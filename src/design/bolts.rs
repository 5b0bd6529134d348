//! Screws: size, class and number from the separating force.

use super::planner::{PRACTICE, Planner, span_of};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::units::{decimals, number};
use crate::base::{Code, Finding, Given, Level};
use crate::data::clamped::{self, MARGIN, Tightened};
use crate::data::fasteners::{self, ScrewThread, Series};
use crate::data::{Material, tightening};
use crate::spec::job::BoltsSection;
use crate::spec::job::{BoltStyle, Lubrication};

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
    /// Counterbore diameter and depth, mm, with the washer in it.
    pub counterbore: (f64, f64),
    /// What the torque gives at the friction of the threads.
    pub tight: Tightened,
    /// State of the threads.
    pub lubrication: Lubrication,
    /// Thickness of the hardened washer under a sunk head, mm.
    pub washer: Option<f64>,
    /// Engagement needed in the A plate, mm.
    pub engagement: f64,
}

impl Bolts {
    /// Diameter that presses on the plate, mm: of the head, or of the washer under it.
    pub(super) fn bearing(&self) -> f64 {
        let washer = fasteners::of(fasteners::washers(), &self.thread);
        let head = fasteners::of(fasteners::bearing_faces(), &self.thread);
        match (self.style, self.washer, washer, head) {
            (BoltStyle::Through, _, Some(w), _) | (_, Some(_), Some(w), _) => w.outside_mm,
            (_, _, _, Some(h)) => h.socket_head_mm,
            _ => 1.5 * self.dia,
        }
    }

    /// Length clamped between head and thread, mm, through plates of these thicknesses from the
    /// nozzle side down: the head is sunk into the last one, washers count.
    pub(super) fn grip(&self, stack: &[f64]) -> f64 {
        let washer =
            fasteners::of(fasteners::washers(), &self.thread).map_or(0.0, |w| w.thickness_mm);
        match self.style {
            BoltStyle::Tapped => {
                let below: f64 = stack.iter().skip(1).sum();
                below - self.counterbore.1 + self.washer.unwrap_or(0.0)
            }
            BoltStyle::Through => stack.iter().sum::<f64>() + 2.0 * washer,
        }
    }
}

/// Torque of a screw of the usual class with paste whose bare head lies on a metal, N·m.
pub(super) fn pasted_torque(thread: &str, metal: &str) -> Option<f64> {
    let metal = crate::data::material(metal)?;
    let class = fasteners::usual_class(thread);
    Some(clamped::tightened_on(thread, class, "paste", metal)?.torque)
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
        BoltsSection::style,
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
    // A size or a class that is given says whose screws they are.
    let of_size = |g: &Given<String>| fasteners::screw_thread(&g.value).map(ScrewThread::series);
    let of_class = |g: &Given<String>| {
        let all = [Series::Metric, Series::Unc];
        all.into_iter()
            .find(|s| s.classes().contains(&g.value.as_str()))
    };
    let series = (b.size.as_ref().and_then(of_size))
        .or_else(|| b.class.as_ref().and_then(of_class))
        .unwrap_or_else(|| p.series());
    let class = p.word(BoltsSection::class, b.class.as_ref(), || {
        let usual = series.usual_class();
        (
            usual.to_owned(),
            Rule::new(
                format!("{usual}: the usual class of socket head screws on a shelf"),
                PRACTICE,
            )
            .changes_with("bolts.class"),
        )
    });
    let fields = |side: f64| (side / SPACING).ceil().max(1.0) as u32;
    let by_spacing = 2 * (fields(frame.0) + fields(frame.1));
    let lubrication = p.decisions.decide(
        BoltsSection::lubrication,
        b.lubrication.as_ref(),
        |l| l.word().into(),
        || {
            (
                Lubrication::Paste,
                Rule::new(
                    "anti-seize paste on thread and head: opened often and hot, dry threads seize",
                    PRACTICE,
                )
                .changes_with("bolts.lubrication: the torque holds for this state alone"),
            )
        },
    );
    let tightened = |thread: &str| clamped::tightened(thread, &class, lubrication.word());
    let needed = |thread: &str| {
        tightened(thread).map(|t| {
            ((force * MARGIN / t.least).ceil() as u32)
                .max(by_spacing)
                .next_multiple_of(2)
        })
    };
    let sizes = [6.0, 8.0, 10.0, 12.0].map(|dia| series.nearest(dia).thread.as_str());
    let thread = p.word(BoltsSection::size, b.size.as_ref(), || {
            let best = sizes
                .iter()
                .find(|s| needed(s).is_some_and(|n| n <= by_spacing))
                .unwrap_or(&sizes[3]);
            (
                (*best).to_owned(),
                Rule::new(
                    format!("smallest of {} whose least preload holds the plates with the number of screws that the spacing asks for", sizes.join(", ")),
                    format!("preload by torque and friction (VDI 2230); margin {MARGIN}: {PRACTICE}"),
                )
                .with("separating force", shown::quantity(shown::Kind::Force, force, 0))
                .with("screws by spacing", by_spacing)
                .changes_with("machine.pressure, the part's area, bolts.class"),
            )
        });
    let (Some(metric), Some(hole), Some(bore), Some(tight)) = (
        fasteners::screw_thread(&thread),
        fasteners::clearance_hole(&thread),
        fasteners::counterbore(&thread),
        tightened(&thread),
    ) else {
        p.refuse(
            "unknown-screw",
            span_of(b.size.as_ref()).or(span_of(b.class.as_ref())),
            format!("no table row for a screw {thread} of class {class}"),
            "not in the tables",
            "M3, M4, M5, M6, M8, M10, M12 or M16 of class 8.8, 10.9, 12.9 or A2-70; 4-40 to 3/4-10 of class A574",
        );
        return None;
    };
    let count = p.count(BoltsSection::count, b.count.as_ref(), || {
        (
            needed(&thread).unwrap_or(by_spacing).min(24),
            Rule::new(
                format!("even number ≥ 4 such that their least preload ≥ margin × separating force, and no two screws lie farther apart than {}", shown::size(130.0)),
                format!("force balance; {PRACTICE} for margin and spacing"),
            )
            .with("separating force", shown::quantity(shown::Kind::Force, force, 0))
            .with("margin", MARGIN)
            .with("least preload of a screw", shown::quantity(shown::Kind::Force, tight.least, 0))
            .with("screw frame", format!("{} × {}", shown::bare_length(frame.0, 0), shown::length(frame.1, 0)))
            .changes_with("machine.pressure, bolts.size, bolts.class, the plate's size"),
        )
    });
    let row = clamped::friction_rows()
        .iter()
        .find(|r| r.state == lubrication.word());
    p.decisions.record(
        "bolts.torque",
        format!("{}, threads: {}", shown::quantity(shown::Kind::Torque, tight.torque, 1), lubrication.word()),
        Rule::new(
            "torque that gives 90 % of the proof load at the lowest friction of the threads' state: F (0.16 P + 0.58 d2 µ + µ (dw + dh)/4)",
            row.map_or(String::new(), |r| {
                format!("VDI 2230; friction: {} ({})", r.source, r.confidence.words())
            }),
        )
        .with("thread", &thread)
        .with(
            "friction",
            format!("{} to {}", number(tight.friction.0), number(tight.friction.1)),
        )
        .with("highest preload", shown::quantity(shown::Kind::Force, tight.highest, 0))
        .with("usual preload", shown::quantity(shown::Kind::Force, tight.usual, 0))
        .with("least preload", shown::quantity(shown::Kind::Force, tight.least, 0))
        .with("scatter, highest : least", decimals(tight.highest / tight.least, 2))
        .changes_with("bolts.size, bolts.class, bolts.lubrication"),
    );
    let washer = head_pressure(p, material, &thread, &tight, style);
    let counterbore = match washer {
        Some(thick) => (bore.with_washer_mm, bore.depth_mm + thick),
        None => (bore.dia_mm, bore.depth_mm),
    };
    let engagement = match tightening::engagement(&class, material) {
        Some(e) => {
            let mm = e.diameters * metric.major_dia_mm;
            p.decisions.record(
                "bolts.engagement",
                shown::size(mm),
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
    let total = tight.least * f64::from(count);
    if total < force * MARGIN {
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
                    "{count} screws {thread} clamp with {} at least; the melt pushes with {}",
                    shown::quantity(shown::Kind::Force, total, 0),
                    shown::quantity(shown::Kind::Force, force, 0)
                ),
                format!("the least preload should be {MARGIN} × the separating force, else the plates part and flash"),
                format!("at least {} screws, or a larger size", needed(&thread).unwrap_or(24)),
            )
            .because_of(span_of(b.count.as_ref()).or(span_of(b.size.as_ref()))),
        );
    }
    Some(Bolts {
        dia: metric.major_dia_mm,
        clearance: hole.medium_mm,
        counterbore,
        tight,
        lubrication,
        washer,
        engagement,
        thread,
        class,
        style,
        count,
    })
}

/// How hard the heads press, and whether hardened washers go under them; their thickness, mm.
/// Heads right through lie on washers anyway.
fn head_pressure(
    p: &mut Planner,
    metal: &Material,
    thread: &str,
    tight: &Tightened,
    style: BoltStyle,
) -> Option<f64> {
    let given = p.job.bolts.washers.clone();
    let through = style == BoltStyle::Through;
    let area = |washer| clamped::bearing_area(thread, washer);
    let (Some(head), Some(ring), Some((limit, row))) =
        (area(false), area(true), clamped::pressure_limit(metal))
    else {
        return None;
    };
    let bare = tight.highest / head;
    let washers = if through {
        true
    } else {
        p.yes_no(BoltsSection::washers, given.as_ref(), || {
            (
                bare > limit,
                Rule::new(
                    if bare > limit {
                        "the heads alone would press into the plate: hardened washers spread the load"
                    } else {
                        "the plate carries the heads"
                    },
                    format!("VDI 2230, limiting pressure: {} ({})", row.source, row.confidence.words()),
                )
                .with("under the heads", shown::quantity(shown::Kind::Pressure, bare, 0))
                .with("limit", shown::quantity(shown::Kind::Pressure, limit, 0))
                .changes_with("mold.material, bolts.size, bolts.class, bolts.lubrication"),
            )
        })
    };
    let pressed = tight.highest / if washers { ring } else { head };
    p.decisions.record(
        "bolts.head_pressure",
        shown::quantity(shown::Kind::Pressure, pressed, 0),
        Rule::new(
            "highest preload / area under head or washer, hole by ISO 273 medium",
            format!(
                "VDI 2230, limiting pressure: {} ({})",
                row.source,
                row.confidence.words()
            ),
        )
        .with(
            "area",
            shown::quantity(shown::Kind::Area, if washers { ring } else { head }, 1),
        )
        .with(
            "limit, warm plate",
            shown::quantity(shown::Kind::Pressure, limit, 0),
        )
        .with("metal", &row.name)
        .changes_with("bolts.washers, mold.material, bolts.size, bolts.class"),
    );
    if pressed > limit {
        let change = if washers {
            "larger screws of a lower class, or a steel plate"
        } else {
            "bolts.washers = true: hardened washers under the heads"
        };
        p.findings.push(
            Finding::new(
                Level::Stop,
                Code::HeadsPressIn,
                "bolts.washers",
                format!(
                    "{thread} heads press with {} on {}; it carries {}",
                    shown::quantity(shown::Kind::Pressure, pressed, 0),
                    metal.name,
                    shown::quantity(shown::Kind::Pressure, limit, 0)
                ),
                "above the limiting pressure the head sinks in and the preload is lost (VDI 2230)",
                change,
            )
            .because_of(span_of(given.as_ref()).or(span_of(p.job.bolts.class.as_ref()))),
        );
    }
    if through || !washers {
        return None;
    }
    fasteners::of(fasteners::washers(), thread).map(|w| w.thickness_mm)
}
