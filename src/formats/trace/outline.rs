//! From a drawing's strokes to regions in millimetres.

use super::error::TraceError;
use super::join::{Joint, join};
use super::sheet::{Chain, Sheet};
use super::{MOST_EDGES, Options, Size, too_many};
use platewright_base::shown::{self, Kind};
use platewright_base::units::decimals;
use platewright_sketch::BooleanError;
use platewright_sketch::{Bounds, Contour, Point, Region, fault_picture};
use platewright_sketch::{FillRule, Segment, Shape, covered, touching};
use platewright_sketch::{Stroke, fitted, fitted_line, notched, thickened};

/// Times that a drawing with lines of a given width is scaled anew.
const MOST_TRIES: usize = 4;
/// What each further line is narrower by on each side, in shares of the fit, so that edges of one
/// line do not lie exactly on those of another; after so many lines again from the first width.
const NARROWER: (f64, usize) = (0.2, 10);
/// What round ends are short of half a line's width, in shares of the fit: more than all of that.
const SHORT: f64 = 2.5;
/// Edges of bars shorter than half of so many times the fit are left out: they come of lines that
/// nearly meet, and would stop a draft.
const SPECK: f64 = 3.0;
/// Largest and smallest side of an outline, mm.
const SIZES: std::ops::RangeInclusive<f64> = 0.5..=600.0;

/// The outline of a drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Traced {
    /// What is filled, sorted by place; millimetres.
    pub regions: Vec<Region>,
    /// Ends that were joined over a gap.
    pub joints: Vec<Joint>,
    /// How far the arcs lie from the drawing's curves at most, mm (measured).
    pub deviation: f64,
    /// Millimetres of one unit of the drawing.
    pub scale: f64,
    /// Width and height, mm (before turning).
    pub size: (f64, f64),
    /// What else should be told.
    pub notes: Vec<String>,
}

impl Traced {
    /// Lines and arcs of all contours.
    pub fn edges(&self) -> usize {
        self.regions
            .iter()
            .flat_map(Region::contours)
            .map(|c| c.vertices.len())
            .sum()
    }
}

/// Scales, joins, fits and fills.
pub(super) fn outline(sheet: &Sheet, options: &Options) -> Result<Traced, TraceError> {
    let white_alone = sheet.shapes.iter().all(|s| s.erases);
    let box_ = sheet
        .shapes
        .iter()
        .filter(|s| white_alone || !s.erases)
        .flat_map(|s| {
            // Lines reach half their width further than they run.
            let beyond = match options.stroke {
                None => 0.5 * s.pen.unwrap_or(0.0),
                Some(_) => 0.0,
            };
            let strokes = s.chains.iter().flat_map(|c| &c.strokes);
            strokes.map(move |s| s.bounds().grown(beyond))
        })
        .fold(Bounds::default(), |b, s| b.union(&s));
    let (w, h) = (box_.width(), box_.height());
    if !(w.max(h) > 0.0 && w.is_finite() && h.is_finite()) {
        return Err(no_area());
    }
    let mut scale = scale(sheet, options, w, h)?;
    let mut traced = fill(sheet, options, &box_, scale, white_alone)?;
    // Bars of a given width reach beyond their lines by the same at any scale.
    if let Some(pen) = options.stroke {
        for _ in 0..MOST_TRIES {
            let now = bounds(&traced.regions);
            let (is, want) = match options.size {
                Size::Width(w) => (now.width(), w),
                Size::Height(h) => (now.height(), h),
                Size::Drawn | Size::Scale(_) => break,
            };
            let share = (want - pen) / (is - pen);
            if share.is_nan() || share <= 0.0 {
                return Err(TraceError::new(
                    format!(
                        "becomes {} with lines of {} alone, and is to be {}",
                        shown::length(is, 2),
                        shown::size(pen),
                        shown::size(want)
                    ),
                    "use a smaller `stroke`, a larger `width` or `height`, or the other one of both",
                ));
            }
            if (share - 1.0).abs() < 1e-9 {
                break;
            }
            scale *= share;
            traced = fill(sheet, options, &box_, scale, white_alone)?;
        }
    }
    // White paint may have made the figure smaller than its strokes.
    if let Some(target) = wanted(&traced.regions, options, scale) {
        if (target / scale - 1.0).abs() > 0.01 {
            scale = target;
            traced = fill(sheet, options, &box_, scale, white_alone)?;
        }
        let rest = wanted(&traced.regions, options, scale).unwrap_or(scale) / scale;
        traced.regions = traced.regions.iter().map(|r| r.scaled(rest)).collect();
        scale *= rest;
    }
    let here = bounds(&traced.regions);
    let shift = if options.own_origin {
        box_.centre().coords * scale
    } else {
        -here.centre().coords
    };
    traced.regions = traced
        .regions
        .iter()
        .map(|r| {
            let r = r.translated(shift);
            let r = if options.mirrored {
                r.mirrored_x(0.0)
            } else {
                r
            };
            if options.angle == 0.0 {
                r
            } else {
                r.rotated(options.angle)
            }
        })
        .collect();
    traced.scale = scale;
    traced.size = (here.width(), here.height());
    Ok(traced)
}

fn bounds(regions: &[Region]) -> Bounds {
    regions
        .iter()
        .fold(Bounds::default(), |b, r| b.union(&r.bounds()))
}

/// The scale that gives the regions the wanted size; `None` when a scale is given.
fn wanted(regions: &[Region], options: &Options, scale: f64) -> Option<f64> {
    let b = bounds(regions);
    match options.size {
        Size::Width(w) => Some(scale * w / b.width()),
        Size::Height(h) => Some(scale * h / b.height()),
        Size::Drawn | Size::Scale(_) => None,
    }
}

fn no_area() -> TraceError {
    TraceError::new(
        "encloses no area",
        "draw closed outlines around the areas that are to be molded",
    )
}

fn scale(sheet: &Sheet, options: &Options, w: f64, h: f64) -> Result<f64, TraceError> {
    let scale = match options.size {
        Size::Width(mm) => mm / w,
        Size::Height(mm) => mm / h,
        Size::Scale(s) => s,
        Size::Drawn => sheet.unit_mm.ok_or_else(|| {
            TraceError::new(
                format!(
                    "does not say how large it is (it measures {} × {} of its own units)",
                    decimals(w, 3),
                    decimals(h, 3)
                ),
                "add `width = …` or `height = …` in mm, or `scale = 1` when its units are millimetres",
            )
        })?,
    };
    let (width, height) = (w * scale, h * scale);
    let larger = width.max(height);
    if !scale.is_finite() || !SIZES.contains(&larger) {
        return Err(TraceError::new(
            format!(
                "would become {} × {}",
                shown::bare_length(width, 3),
                shown::length(height, 3)
            ),
            format!(
                "outlines are {} to {} large: set `width`, `height` or `scale`, and look for stray points far away",
                shown::bare_size(*SIZES.start()),
                shown::size(*SIZES.end())
            ),
        ));
    }
    Ok(scale)
}

/// Shares of the fit that are tried one after the other: where curves nearly touch, their arcs
/// may meet in a way that cannot be told apart, and other arcs do not.
const FITS: [f64; 5] = [1.0, 0.83, 0.61, 0.43, 0.27];

fn fill(
    sheet: &Sheet,
    options: &Options,
    box_: &Bounds,
    scale: f64,
    white_alone: bool,
) -> Result<Traced, TraceError> {
    let mut found = Err(no_area());
    for share in FITS {
        let finer = Options {
            fit: share * options.fit,
            ..options.clone()
        };
        found = match fill_at(sheet, &finer, box_, scale, white_alone) {
            Ok(traced) => return Ok(traced),
            Err(Fault::Drawing(e)) => return Err(e),
            Err(Fault::Unclear(e)) => Err(e),
        };
    }
    found
}

/// Why a drawing cannot be filled.
enum Fault {
    /// It is wrong.
    Drawing(TraceError),
    /// Its arcs meet in a way that cannot be told apart.
    Unclear(TraceError),
}

impl From<TraceError> for Fault {
    fn from(e: TraceError) -> Self {
        Self::Drawing(e)
    }
}

fn fill_at(
    sheet: &Sheet,
    options: &Options,
    box_: &Bounds,
    scale: f64,
    white_alone: bool,
) -> Result<Traced, Fault> {
    let centre = box_.centre();
    let to_mm = |p: Point| Point::from((p - centre) * scale);
    let mut traced = Traced {
        regions: Vec::new(),
        joints: Vec::new(),
        deviation: 0.0,
        scale,
        size: (0.0, 0.0),
        notes: sheet.notes.clone(),
    };
    let mut shapes = Vec::with_capacity(sheet.shapes.len());
    let mut edges = 0;
    let all_lines = options.stroke.is_some() && !sheet.closes;
    let mut drawn = 0;
    for s in &sheet.shapes {
        let pen = match options.stroke {
            Some(mm) if s.pen.is_some() || all_lines => Some(mm),
            _ => s.pen.map(|units| units * scale),
        };
        let chains = s.chains.iter().map(|c| Chain {
            strokes: c.strokes.iter().map(|s| s.mapped(&to_mm, false)).collect(),
        });
        if let Some(width) = pen {
            let bars = bars(chains.collect(), width, options, &mut drawn);
            edges += bars.iter().map(|b| b.vertices.len()).sum::<usize>();
            if edges > MOST_EDGES {
                return Err(too_many("edges once its lines are bars", MOST_EDGES)
                    .or_coarser(options.fit)
                    .into());
            }
            shapes.push(Shape {
                loops: bars,
                rule: FillRule::NonZero,
                erases: false,
            });
            continue;
        }
        let chains: Vec<Chain> = if sheet.closes {
            chains
                .map(|c| closed(c, options, &mut traced.joints))
                .collect()
        } else {
            loops(chains.collect(), options, &mut traced)?
        };
        let mut filled = Vec::with_capacity(chains.len());
        for c in &chains {
            let (contour, deviation) = fitted(&c.strokes, options.fit);
            if contour.vertices.len() < 2
                || contour.signed_area() == 0.0 && contour.vertices.len() < 3
            {
                continue;
            }
            edges += contour.vertices.len();
            if edges > MOST_EDGES {
                return Err(too_many("edges once its curves are fitted", MOST_EDGES)
                    .or_coarser(options.fit)
                    .into());
            }
            traced.deviation = traced.deviation.max(deviation);
            filled.push(contour);
        }
        shapes.push(Shape {
            loops: filled,
            rule: s.rule,
            erases: s.erases && !white_alone,
        });
    }
    let all = || shapes.iter().flat_map(|s| &s.loops);
    if !sheet.closes && !all_lines {
        uncrossed(all().cloned().collect())?;
    }
    let mut regions = covered(&shapes).map_err(|e| match e {
        BooleanError::Open { x, y } => Fault::Unclear(
            TraceError::new(
                "has outlines that nearly touch in a way that cannot be told apart",
                "move them clearly apart, or let them overlap clearly",
            )
            .with_picture(fault_picture(
                &all().cloned().collect::<Vec<_>>(),
                &[],
                &[Point::new(x, y)],
            )),
        ),
        BooleanError::TooMany(most) => {
            Fault::Drawing(too_many("places where its outlines cross", most))
        }
    })?;
    let speck = (4.0 * options.fit).powi(2);
    let before = regions.len();
    regions.retain(|r| r.outer.signed_area() > speck);
    let mut dropped = before - regions.len();
    for r in &mut regions {
        let holes = r.holes.len();
        r.holes.retain(|h| h.signed_area() < -speck);
        dropped += holes - r.holes.len();
    }
    if dropped > 0 {
        traced.notes.push(format!(
            "{dropped} specks smaller than {} were left out",
            shown::quantity(Kind::Area, speck, 4)
        ));
    }
    if regions.is_empty() {
        return Err(no_area().into());
    }
    if drawn > 0 {
        // Where edges of two lines cross at a small angle, or nearly in one point.
        let smooth = |c: &Contour| without_specks(c, SPECK * options.fit);
        for r in &mut regions {
            r.outer = smooth(&r.outer);
            r.holes = r.holes.iter().map(smooth).collect();
        }
    }
    let touches = touching(&regions);
    if let Some(first) = touches.first() {
        let contours: Vec<Contour> = regions.iter().flat_map(Region::contours).cloned().collect();
        return Err(TraceError::new(
            format!(
                "touches itself in {} near ({}, {}): plastic or metal would have no width there",
                if touches.len() == 1 { "a point".to_owned() } else { format!("{} points", touches.len()) },
                shown::bare_length(first.x, 2),
                shown::bare_length(first.y, 2)
            ),
            format!("let the shapes overlap, or move them apart (places in {} from the middle of the outline)", shown::length_word()),
        )
        .with_picture(fault_picture(&contours, &[], &touches))
        .into());
    }
    traced.regions = regions
        .iter()
        .map(|r| Region {
            outer: notched(&r.outer, options.fit),
            holes: r.holes.iter().map(|h| notched(h, options.fit)).collect(),
        })
        .collect();
    Ok(traced)
}

/// The outlines of lines drawn with a pen of `width` mm; `drawn` counts lines.
fn bars(chains: Vec<Chain>, width: f64, options: &Options, drawn: &mut usize) -> Vec<Contour> {
    // Lines that go on in each other are one, so that no ends lie in the middle of it.
    let joined = join(chains, options.join);
    let ends = [(joined.loops, true), (joined.open, false)];
    let mut out = Vec::new();
    for (chain, closed) in ends
        .into_iter()
        .flat_map(|(chains, closed)| chains.into_iter().map(move |c| (c, closed)))
    {
        let segments: Vec<Segment> = if closed {
            fitted(&chain.strokes, options.fit).0.segments().collect()
        } else {
            fitted_line(&chain.strokes, options.fit)
        };
        let narrower = NARROWER.0 * options.fit * (*drawn % NARROWER.1) as f64;
        *drawn += 1;
        let short = SHORT * options.fit;
        out.extend(thickened(&segments, closed, width - 2.0 * narrower, short));
    }
    out
}

/// A contour without edges shorter than half the fit.
fn without_specks(c: &Contour, fit: f64) -> Contour {
    let strokes: Vec<Stroke> = (c.segments())
        .map(|s| {
            let v = s.vertex();
            match s {
                Segment::Line { from, to } => Stroke::Line(from, to),
                Segment::Arc { from, to, .. } => Stroke::Arc(from, to, v.bulge),
            }
        })
        .collect();
    fitted(&strokes, fit).0
}

impl TraceError {
    fn or_coarser(mut self, fit: f64) -> Self {
        self.remedy.push_str(&format!(
            "; a coarser `fit` than {} helps too",
            shown::size(fit)
        ));
        self
    }
}

/// A chain with its end on its start: what a fill does by itself.
fn closed(mut chain: Chain, options: &Options, joints: &mut Vec<Joint>) -> Chain {
    let ends = chain
        .strokes
        .first()
        .map(|s| s.ends().0)
        .zip(chain.strokes.last().map(|s| s.ends().1));
    if let Some((start, end)) = ends
        && end != start
    {
        let gap = (end - start).norm();
        chain.strokes.push(Stroke::Line(end, start));
        // A gap that can be seen was perhaps not meant.
        if gap > options.fit && chain.strokes.len() > 2 && joints.len() < 1000 {
            joints.push(Joint {
                at: start + (end - start) * 0.5,
                gap,
            });
        }
    }
    chain
}

/// Loops of loose chains.
fn loops(
    chains: Vec<Chain>,
    options: &Options,
    traced: &mut Traced,
) -> Result<Vec<Chain>, TraceError> {
    let joined = join(chains, options.join);
    if joined.doubles > 0 {
        traced.notes.push(format!(
            "{} pieces drawn twice in the same place count once",
            joined.doubles
        ));
    }
    if let Some(first) = joined.loose.first() {
        let gap = joined
            .loose
            .iter()
            .enumerate()
            .flat_map(|(i, p)| joined.loose[..i].iter().map(move |q| (p - q).norm()))
            .take(200_000)
            .fold(f64::INFINITY, f64::min);
        let closed: Vec<Contour> = joined
            .loops
            .iter()
            .map(|c| fitted(&c.strokes, options.fit).0)
            .collect();
        let open: Vec<Contour> = joined.open.iter().map(polyline).collect();
        let rings: Vec<Point> = joined.loose.iter().take(50).copied().collect();
        return Err(TraceError::new(
            format!(
                "has {} loose ends, the first at ({}, {}) {} from its middle; the two nearest are {} apart, and {} are joined",
                joined.loose.len(),
                shown::bare_length(first.x, 2),
                shown::bare_length(first.y, 2),
                Kind::Length.unit(),
                shown::length(gap, 3),
                shown::size(options.join)
            ),
            "close the outline in the drawing program, set a larger `join`, or name the layers that hold the outline (`layers`)",
        )
        .with_picture(fault_picture(&closed, &open, &rings)));
    }
    traced.joints.extend(joined.joints);
    Ok(joined.loops)
}

/// An open chain for a picture: its points.
fn polyline(chain: &Chain) -> Contour {
    let at = |p: Point| platewright_sketch::Vertex { at: p, bulge: 0.0 };
    let mut vertices: Vec<_> = chain.strokes.iter().map(|s| at(s.ends().0)).collect();
    vertices.extend(chain.strokes.last().map(|s| at(s.ends().1)));
    Contour::new(vertices)
}

/// Loops without a fill rule must not cross.
fn uncrossed(loops: Vec<Contour>) -> Result<(), TraceError> {
    let regions: Vec<Region> = loops.into_iter().map(Region::simple).collect();
    let points = touching(&regions);
    let Some(first) = points.first() else {
        return Ok(());
    };
    let contours: Vec<Contour> = regions.into_iter().map(|r| r.outer).collect();
    Err(TraceError::new(
        format!(
            "has outlines that cross or touch in {}, the first at ({}, {}) {} from its middle",
            if points.len() == 1 { "1 place".to_owned() } else { format!("{} places", points.len()) },
            shown::bare_length(first.x, 2),
            shown::bare_length(first.y, 2),
            Kind::Length.unit()
        ),
        "trim the lines in the drawing program, or name the layers that hold the outline (`layers`)",
    )
    .with_picture(fault_picture(&contours, &[], &points)))
}
