//! What cures each finding, in a sentence that holds for every design.
//!
//! Input: a [`Code`]. Output: text for the guide. The finding itself says it with the numbers of
//! the design that it was found in.

use super::code::Code;

impl Code {
    /// What to do about it; starts small, for it follows a cause.
    pub const fn cure(self) -> &'static str {
        use Code as C;
        match self {
            C::ProcessIncomplete => {
                "choose a plastic with complete tables, or give the missing values under [plastic]"
            }
            C::ShotsNotExplained => {
                "measure the named records again, or write how well they were measured under [accuracy]"
            }
            C::ShotsOfOtherRevision => {
                "leave the named records out if what was changed alters cavity, way of the melt or plates; else write the present revision into them"
            }
            C::FillNotJoined => {
                "join the parts of the outline, or give each a gate of its own with feed.at"
            }
            C::WallsAlongPull => {
                "keep walls along the pull low, or trust the fill less and try with a stiff grade first"
            }
            C::FillByFormula => {
                "nothing, if the margin is wide; else make the way of the melt short and the walls even"
            }
            C::MoldOpens => {
                "more or larger screws (bolts.count, bolts.size), fewer cavities, less area seen along the pull"
            }
            C::HeadsPressIn => {
                "hardened washers under the heads (bolts.washers), or plates of a harder metal"
            }
            C::ScrewOverloaded => {
                "more screws, larger ones, or a higher class (bolts.count, bolts.size, bolts.class)"
            }
            C::PlatesBow => {
                "thicker plates (mold.thickness_a, mold.thickness_b), more screws near the cavity, or steel"
            }
            C::PlateThickForTheory => {
                "nothing: the bow is told on the safe side or near it; measure the first parts for flash"
            }
            C::NozzleJointWeak => "a deeper or larger thread, a flange, or less force at the lever",
            C::CavityCutOff => "a wider passage in the part, or a gate on each side of it",
            C::ShortShot => {
                "a thicker wall, a shorter way (feed.at), a wider gate and runner, hotter melt, or more force"
            }
            C::ShortShotStiffGrade => {
                "sort for an easier grade, or leave more pressure in hand as for a short shot"
            }
            C::FillMarginSmall => {
                "a little of what cures a short shot: wall, gate, temperature or force"
            }
            C::AirTrap => {
                "another gate, so that the air is driven to an edge, or an ejector or insert that lets it out"
            }
            C::WeldLine => {
                "move the gate so that the fronts meet where no load pulls, or heat mold and melt"
            }
            C::HandForceHigh => {
                "a longer lever (machine.lever_ratio), thicker walls, or hotter melt"
            }
            C::ShotTooLarge => "fewer cavities, a smaller part, thinner walls, or a larger barrel",
            C::ShotWithoutCushion => {
                "a smaller shot or feed, or fill the barrel more fully before each shot"
            }
            C::NeverCools => "a colder mold, a thinner wall, or a lower melt temperature",
            C::MoldWarmsUp => {
                "wait between shots as the card says, cool the plates with air or water, or make them thicker"
            }
            C::MeltWaitsLong => {
                "fill the barrel for fewer shots, mold without pauses, or set the barrel cooler"
            }
            C::SprueSticks => "more taper (feed.sprue_taper), a polished bore, or a shorter sprue",
            C::PartGrips => {
                "more draft, a smoother core, jack screws, and take the part off while it is warm"
            }
            C::SinksOrVoids => {
                "thinner thick places, a gate near them, a thicker feed, or a longer hold"
            }
            C::CornersRounded => {
                "nothing, if the rounding does not matter; else a smaller cutter in shop.end_mills or part.round = false"
            }
            C::CornersLeftSharp => "draw the corners round, or have them eroded",
            C::AdaptorScrewsWeak => "more or larger screws (adaptor.pattern, adaptor.size)",
            C::LittleDraft => "more draft (part.draft); 1° to 2° lets most parts go",
            C::HoleNearEdge => "move the hole inwards or take a larger plate",
            C::HolesClose => "move one of the two, or take smaller screws or pins",
            C::DeepHole => {
                "drill in steps and clear chips often, from both sides if it goes through, or take a larger drill"
            }
            C::StrokeNarrowerThanCutter => {
                "wider letters or grooves, or a finer cutter in shop.end_mills"
            }
            C::DeepCorner => "a larger corner radius, or a longer cutter with small cuts",
            C::CornerSharperThanCutter => {
                "a larger radius there, or a smaller cutter in shop.end_mills"
            }
            C::ThreadEngagementShort => "a longer screw or a thicker plate",
            C::ScrewNotInTables => {
                "cut a longer screw to length, or change a plate so that a usual length fits"
            }
            C::GateDeeperThanPart => "a shallower gate (feed.gate_depth)",
            C::GateAtEdge => "nothing; give feed.direct = true for a sprue on the part itself",
            C::FewerVents => "larger plates or other places for screws, so that vents find room",
            C::FewerPrySlots => "larger plates, or jack screws (mold.jack_screws)",
            C::DrawingRead => "nothing; compare the sizes with the drawing",
            C::DrawingJoined => {
                "close the outline in the drawing program, so that nothing has to be joined"
            }
            C::WallUneven => "even the wall out, or expect sinks where it is thick",
            C::BoltsTooWeak => {
                "leave bolts.count and bolts.size out, or give what the finding names"
            }
            C::SprueHalfOnPart => "move the sprue on to the part or off it (feed.at)",
            C::SprueMissesCavity => "put the sprue over plastic (feed.at), or feed.direct = false",
            C::GateMissesCavity => {
                "move the gate to the part's edge (feed.at), or leave feed.at out"
            }
            C::FeedCutsCavity => "move the feed or the cavities apart (feed.at, mold.spacing)",
            C::FeedWallThin => {
                "more distance between channel and cavity (feed.at, mold.spacing), or a thinner runner"
            }
            C::FeedThroughPlate => "a thicker plate or a shallower channel",
            C::PlateTooSmall => {
                "leave mold.width and mold.height out, or give what the finding names"
            }
            C::MeshUnitGuessed => "give part.mesh.unit, the unit in which the file was written",
            C::DecidedByRule => "leave job.decide out, and the checks themselves choose",
            C::MeshMended => {
                "nothing, if the part looks right; else mend the mesh where it was made"
            }
            C::MeshLaidFlat => "nothing, or turn the mesh flat where it was made",
            C::MeshTilted => "turn the mesh (part.mesh.up), or accept a sloping parting",
            C::MeshTurned => "give part.mesh.up, if another direction is wanted",
            C::Undercut => {
                "change the part so that nothing hooks along the pull, turn it, or move the parting plane"
            }
            C::WrongSideA | C::WrongSideB => {
                "move the parting plane (mold.parting), or fill the place in the part"
            }
            C::WallThin => "thicken the wall; what is thinner than the finding says may not fill",
            C::OpeningTooNarrowToCut => "a wider opening, or another service (mold.layers.cut)",
            C::SheetWebTooThin => "a wider web in the part, or another service",
            C::WallsCutSquare => {
                "low parts and a smooth edge let go; else a milled mold (mold.build)"
            }
            C::PlasmaEdgeInTheCavity => "a laser or waterjet service, or dress the edge by file",
            C::CutToleranceOnThePart => "nothing, if the size does not matter; else a milled mold",
            C::SheetsMustLieFlat => "buy flat sheet, straighten it, or add screws",
            C::FrameSpreads => "a wider frame (mold.wall) or fewer openings",
            C::HoleFollowsPin => "nothing, or choose the hole to suit another stock pin",
            C::ThicknessBySheets => "nothing, or give a thickness that sheets add up to",
            C::WeldNeedsSteel => "a fitting and a plate of plain steel, or a tapped joint",
            C::WeldFumes => "an uncoated fitting; weld in the open or under extraction",
            C::WeldThroatSmall => "a longer leg (nozzle.weld_leg), or a larger fitting",
            C::WeldLegOverWall => "a shorter leg, or a fitting with a thicker wall",
            C::ReamerForParallelThread => {
                "leave the reamer out; a parallel thread is tapped from a plain hole"
            }
            C::NozzleEngagementShort => {
                "a deeper thread (nozzle.reach) or a thicker A plate (mold.thickness_a)"
            }
            C::NozzleBottoms => "a deeper bore, a shorter nozzle end, or a collar that stops first",
            C::NozzleDeadSpace => {
                "let the nozzle's end reach the floor: a tip, a groove behind the thread, or another seal"
            }
            C::NozzleEndWorked => "turn the tip as drawn, or order the plate with the groove",
            C::NoRoomForJacks => "a larger plate, or pry slots",
            C::BoreSmallerThanBefore => {
                "make the bores widen towards the mold, so that the frozen plug comes away"
            }
            C::BoreStepSmall => "a wider bore behind, so that the plug comes away",
            C::MoldHangsHeavy => "a stand or a sling under the mold; smaller or aluminium plates",
            C::SwingTooWide => "smaller plates, a longer nozzle, or a flange that needs no turning",
            C::MeltFreezesOnWay => "a shorter adaptor, a wider bore, or a heater on it",
            C::TapeOnParallelThread => {
                "a ring or washer on the face; tape seals tapered threads only"
            }
            C::TapeTooHot => "a copper ring, or a metal to metal seat",
            C::ZincCoating => "an uncoated fitting, or strip the zinc before any heat",
            C::FittingMetal => "steel instead of brass, cast iron or zinc alloy",
            C::AluminiumLosesTemper => {
                "steel for the plate at the nozzle, or check the screws there after the first runs"
            }
            C::NozzleWallThin => "a smaller bore, a larger fitting, or a larger plate",
            C::SeatMustBePressed => "press the machine on to the seat during the whole shot",
            C::NoThreadForm => "leave output.thread_form out, or choose a tapped joint",
            C::FlangeSealWeak => "more or larger screws, or a smaller ring",
            C::GThreadSealsOnFace => "a ring between the faces; face both square",
            C::ThreadFormLeftOut => "nothing for cutting metal; the print has the plain bore",
            C::ShotInPieces => "join gates, runners and cavities (feed.at, feed.runner_diameter)",
            C::StepFacets => "nothing; a body instead of a mesh gives true faces",
            C::StepLeftOut => "use the STL or 3MF file, or simplify the part's mesh",
            C::SolidInPieces => "change the part or the plate so that it hangs together",
            C::PlateLargerThanSheet => {
                "ask the service for a larger sheet, or make the plate smaller"
            }
            C::PlateTooThickToCut => "have it milled or sawn, or ask another service",
            C::HolesTooSmallToCut => "nothing: drill at the centre marks",
            C::WebTooThinToCut => "move the openings apart, or drill one of them",
            C::NoLathe => "have it turned, or add lathe to shop.machines",
            C::CutterMissing => "buy the cutter that is named, or list it in shop.end_mills",
            C::TravelTooShort => "make the plate by the sheet, or name a larger machine",
            C::RunTooLong => "a larger cutter, or stop it between two passes and let it cool",
            C::CornerLeft => "a smaller cutter, or clear the rest by hand as the sheet says",
            C::SheetUnproved => {
                "change what the other stops of the design name; then the sheet can be proved"
            }
            C::BallMillMissing => "buy the ball mill that is named, or list it in shop.ball_mills",
            C::NoMillingMachine => "have it milled, or a layered mold (mold.build = \"layered\")",
            C::NoDrillingMachine => "have it drilled square, or add a drill press to shop.machines",
            C::NoWelder => "have it welded by somebody who is trained",
            C::SpindleTooFast => "a smaller tool, a slower pulley, or short cuts with coolant",
            C::SpindleTooSlow => "nothing: feed more slowly, as the sheet says",
            C::ToolMissing => "buy the tool that is named, or list it under [shop]",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cure_is_one_plain_line() {
        for code in Code::ALL {
            let cure = code.cure();
            assert!(cure.len() > 20 && !cure.ends_with('.'), "{code}: {cure}");
            assert!(
                cure.chars()
                    .next()
                    .is_some_and(|c| c.is_lowercase() || c.is_numeric()),
                "{cure}"
            );
        }
    }
}
