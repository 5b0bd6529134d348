//! Which given or assumed values bear on a finding, and how far each is moved.
//!
//! Input: a code. Output: a [`Family`]: codes that are cured together, and [`Lever`]s in the order
//! in which a workshop would rather move them. Knows no way to try them.

use crate::base::{Code, FileKey};
use crate::design::Design;
use crate::spec::Job;
use crate::spec::job::{MachineSection, MoldSection, PlasticSection, ShopMachine};
use crate::spec::part::PartKeys;

/// Which way a value is moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    Up,
    Down,
}

/// A value of the file that can be moved.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lever {
    pub key: FileKey,
    pub way: Way,
    /// It is set to whole multiples of this, in the key's unit.
    pub step: f64,
    /// Times, or a share of one over it, what stands now, at most (chosen here).
    pub reach: f64,
    /// What stands now, in the key's unit; `None` where the design has no such value.
    pub now: fn(&Design, &Job) -> Option<f64>,
}

/// Codes that one cause brings.
#[derive(Debug)]
pub(super) struct Family {
    pub codes: &'static [Code],
    pub levers: &'static [Lever],
    /// Where no one value is enough, two are tried.
    pub in_pairs: bool,
}

const fn lever(
    key: FileKey,
    way: Way,
    (step, reach): (f64, f64),
    now: fn(&Design, &Job) -> Option<f64>,
) -> Lever {
    Lever {
        key,
        way,
        step,
        reach,
        now,
    }
}

fn thickness(_: &Design, job: &Job) -> Option<f64> {
    Some(job.part.as_ref()?.thickness.as_ref()?.value.mm())
}
fn draft(_: &Design, job: &Job) -> Option<f64> {
    let given = job.part.as_ref()?.draft.as_ref();
    given.map(|d| d.value.degrees())
}
fn cavities(design: &Design, _: &Job) -> Option<f64> {
    Some(design.cavities.len() as f64)
}
fn melt_flow(_: &Design, job: &Job) -> Option<f64> {
    job.plastic.melt_flow.as_ref().map(|g| g.value)
}
/// Only where it is given: what is open was searched.
fn melt_temperature(_: &Design, job: &Job) -> Option<f64> {
    let given = job.plastic.melt_temperature.as_ref();
    given.map(|t| t.value.celsius())
}
fn mold_temperature(_: &Design, job: &Job) -> Option<f64> {
    let given = job.plastic.mold_temperature.as_ref();
    given.map(|t| t.value.celsius())
}

const LONGER_LEVER: Lever = lever(MachineSection::lever_ratio, Way::Up, (0.5, 3.0), |d, _| {
    Some(d.machine.lever_ratio)
});
const SHORTER_LEVER: Lever = lever(
    MachineSection::lever_ratio,
    Way::Down,
    (0.5, 3.0),
    |d, _| Some(d.machine.lever_ratio),
);
const PULL_HARDER: Lever = lever(MachineSection::hand_force, Way::Up, (5.0, 2.0), |d, _| {
    Some(d.machine.hand_force)
});
const PULL_LESS: Lever = lever(MachineSection::hand_force, Way::Down, (5.0, 3.0), |d, _| {
    Some(d.machine.hand_force)
});
const SMALLER_BORE: Lever = lever(
    MachineSection::barrel_bore,
    Way::Down,
    (1.0, 2.0),
    |d, _| Some(d.machine.barrel_bore),
);
const LARGER_BORE: Lever = lever(MachineSection::barrel_bore, Way::Up, (1.0, 2.0), |d, _| {
    Some(d.machine.barrel_bore)
});
const LONGER_STROKE: Lever = lever(MachineSection::stroke, Way::Up, (5.0, 4.0), |d, _| {
    Some(d.machine.stroke)
});
const SHORTER_STROKE: Lever = lever(MachineSection::stroke, Way::Down, (5.0, 4.0), |d, _| {
    Some(d.machine.stroke)
});
const MORE_PRESSURE: Lever = lever(MachineSection::pressure, Way::Up, (0.5, 4.0), |_, job| {
    job.machine.pressure.as_ref().map(|p| p.value.mpa())
});
const LESS_PRESSURE: Lever = lever(MachineSection::pressure, Way::Down, (0.5, 4.0), |_, job| {
    job.machine.pressure.as_ref().map(|p| p.value.mpa())
});
const THICKER: Lever = lever(PartKeys::thickness, Way::Up, (0.1, 2.0), thickness);
const THINNER: Lever = lever(PartKeys::thickness, Way::Down, (0.1, 2.0), thickness);
const FEWER: Lever = lever(MoldSection::cavities, Way::Down, (1.0, 16.0), cavities);
const MORE_CAVITIES: Lever = lever(MoldSection::cavities, Way::Up, (1.0, 4.0), cavities);
const EASIER_GRADE: Lever = lever(PlasticSection::melt_flow, Way::Up, (1.0, 8.0), melt_flow);
const HOTTER_MELT: Lever = lever(
    PlasticSection::melt_temperature,
    Way::Up,
    (5.0, 1.4),
    melt_temperature,
);
const COOLER_MELT: Lever = lever(
    PlasticSection::melt_temperature,
    Way::Down,
    (5.0, 1.4),
    melt_temperature,
);
const HOTTER_MOLD: Lever = lever(
    PlasticSection::mold_temperature,
    Way::Up,
    (5.0, 4.0),
    mold_temperature,
);
const COOLER_MOLD: Lever = lever(
    PlasticSection::mold_temperature,
    Way::Down,
    (5.0, 8.0),
    mold_temperature,
);
const MORE_DRAFT: Lever = lever(PartKeys::draft, Way::Up, (0.5, 20.0), draft);
const MORE_SWING: Lever = lever(MachineSection::swing, Way::Up, (5.0, 4.0), |_, job| {
    job.machine.swing.as_ref().map(|s| s.value.mm())
});

const FILLING: Family = Family {
    codes: &[
        Code::ShortShot,
        Code::ShortShotStiffGrade,
        Code::FillMarginSmall,
        Code::HandForceHigh,
    ],
    levers: &[
        LONGER_LEVER,
        MORE_PRESSURE,
        THICKER,
        HOTTER_MELT,
        HOTTER_MOLD,
        FEWER,
        EASIER_GRADE,
        PULL_HARDER,
        SMALLER_BORE,
    ],
    in_pairs: true,
};
const HOLDING: Family = Family {
    codes: &[
        Code::MoldOpens,
        Code::PlatesBow,
        Code::ScrewOverloaded,
        Code::BoltsTooWeak,
        Code::HeadsPressIn,
        Code::FrameSpreads,
        Code::NozzleJointWeak,
        Code::AdaptorScrewsWeak,
        Code::WeldThroatSmall,
        Code::FlangeSealWeak,
    ],
    levers: &[SHORTER_LEVER, PULL_LESS, LESS_PRESSURE, FEWER, LARGER_BORE],
    in_pairs: false,
};
const CHARGE: Family = Family {
    codes: &[Code::ShotTooLarge, Code::ShotWithoutCushion],
    levers: &[LONGER_STROKE, FEWER, THINNER, LARGER_BORE],
    in_pairs: true,
};
const WAITING: Family = Family {
    codes: &[Code::MeltWaitsLong],
    levers: &[SHORTER_STROKE, MORE_CAVITIES, SMALLER_BORE, COOLER_MELT],
    in_pairs: false,
};
const WARM: Family = Family {
    codes: &[Code::MoldWarmsUp, Code::NeverCools],
    levers: &[COOLER_MOLD, THINNER, FEWER],
    in_pairs: false,
};
const SINKING: Family = Family {
    codes: &[Code::SinksOrVoids],
    levers: &[THINNER, LONGER_LEVER, MORE_PRESSURE],
    in_pairs: false,
};
const GRIPPING: Family = Family {
    codes: &[Code::PartGrips, Code::LittleDraft, Code::SprueSticks],
    levers: &[MORE_DRAFT],
    in_pairs: false,
};
const SWINGING: Family = Family {
    codes: &[Code::SwingTooWide],
    levers: &[MORE_SWING, FEWER],
    in_pairs: false,
};
const FAMILIES: [&Family; 8] = [
    &FILLING, &HOLDING, &CHARGE, &WAITING, &WARM, &SINKING, &GRIPPING, &SWINGING,
];

/// The family of a code, if it has one.
pub(super) fn family(code: Code) -> Option<&'static Family> {
    FAMILIES.into_iter().find(|f| f.codes.contains(&code))
}

/// The machine whose lack a code tells.
pub(super) fn machine(code: Code) -> Option<ShopMachine> {
    match code {
        Code::NoLathe => Some(ShopMachine::Lathe),
        Code::NoMillingMachine => Some(ShopMachine::Mill),
        Code::NoDrillingMachine => Some(ShopMachine::DrillPress),
        Code::NoWelder => Some(ShopMachine::Welder),
        _ => None,
    }
}

/// Codes that tell what only a person can know or do, in words that stand in the finding: no key
/// is tried for them.
pub(super) fn by_hand(code: Code) -> bool {
    matches!(
        code,
        Code::MeshUnitGuessed
            | Code::MeshTurned
            | Code::MeshTilted
            | Code::WeldFumes
            | Code::SheetUnproved
            | Code::ProcessIncomplete
            | Code::ShotsNotExplained
            | Code::ShotsOfOtherRevision
            | Code::ThreadFormLeftOut
            | Code::StepLeftOut
    )
}

/// Whether a quick fill tells if it is cured.
pub(super) fn of_fill(code: Code) -> bool {
    FILLING.codes.contains(&code)
}
