//! The fonts of a PDF file: only the letters that are used go in.
//!
//! Input: texts as they are set. Output: their codes; at the end, the fonts as objects of
//! the file, each with a table back to characters so that texts can be searched and copied.

use super::{PdfError, Refs, packed};
use crate::write::drawing::text::Typeface;
use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, Str};
use std::collections::BTreeMap;
use subsetter::{GlyphRemapper, subset};

/// Registry and order of the character collection that maps codes to glyphs one to one.
const IDENTITY: SystemInfo<'static> = SystemInfo {
    registry: Str(b"Adobe"),
    ordering: Str(b"Identity"),
    supplement: 0,
};

/// The letters of one typeface.
#[derive(Default)]
struct Used {
    /// Old numbers of glyphs to new ones.
    map: GlyphRemapper,
    /// By new number: the character and its advance in ems.
    glyphs: BTreeMap<u16, (char, f64)>,
}

/// All typefaces in use.
#[derive(Default)]
pub(super) struct Fonts(BTreeMap<Typeface, Used>);

/// The font's name in a page's resources.
pub(super) fn name(face: Typeface) -> Name<'static> {
    Name(match face {
        Typeface::Regular => b"R",
        Typeface::Bold => b"B",
        Typeface::Condensed => b"C",
        Typeface::CondensedBold => b"D",
    })
}

impl Fonts {
    /// The codes of a text and its width in ems.
    pub(super) fn encode(&mut self, face: Typeface, text: &str) -> (Vec<u8>, f64) {
        let used = self.0.entry(face).or_default();
        let mut codes = Vec::with_capacity(2 * text.len());
        let mut wide = 0.0;
        for c in text.chars() {
            let (glyph, advance) = face.glyph(c);
            let new = used.map.remap(glyph);
            used.glyphs.entry(new).or_insert((c, advance));
            codes.extend(new.to_be_bytes());
            wide += advance;
        }
        (codes, wide)
    }

    /// Writes the fonts; the typefaces with their objects.
    pub(super) fn write(
        &self,
        pdf: &mut Pdf,
        refs: &mut Refs,
    ) -> Result<Vec<(Typeface, Ref)>, PdfError> {
        let mut out = Vec::new();
        for (face, used) in &self.0 {
            let id = refs.next();
            write(pdf, refs, id, *face, used)?;
            out.push((*face, id));
        }
        Ok(out)
    }
}

fn write(
    pdf: &mut Pdf,
    refs: &mut Refs,
    id: Ref,
    face: Typeface,
    used: &Used,
) -> Result<(), PdfError> {
    let (cid, descriptor, map, data) = (refs.next(), refs.next(), refs.next(), refs.next());
    // Six letters before the name say that the font is not whole: the same for all files.
    let title = match face {
        Typeface::Regular => "PLATEW+DejaVuSans",
        Typeface::Bold => "PLATEW+DejaVuSans-Bold",
        Typeface::Condensed => "PLATEW+DejaVuSansCondensed",
        Typeface::CondensedBold => "PLATEW+DejaVuSansCondensed-Bold",
    };
    let title = Name(title.as_bytes());
    pdf.type0_font(id)
        .base_font(title)
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(cid)
        .to_unicode(map);
    let mut font = pdf.cid_font(cid);
    font.subtype(CidFontType::Type2)
        .base_font(title)
        .system_info(IDENTITY)
        .font_descriptor(descriptor)
        .default_width(600.0)
        .cid_to_gid_map_predefined(Name(b"Identity"));
    let mut widths = font.widths();
    for (glyph, (_, advance)) in &used.glyphs {
        widths.consecutive(*glyph, [(advance * 1000.0) as f32]);
    }
    widths.finish();
    font.finish();
    // Measures of DejaVu Sans in thousandths of an em: its tables hhea, OS/2 and head.
    pdf.font_descriptor(descriptor)
        .name(title)
        .flags(FontFlags::SYMBOLIC)
        .bbox(Rect::new(-1021.0, -463.0, 1793.0, 1232.0))
        .italic_angle(0.0)
        .ascent(928.0)
        .descent(-236.0)
        .cap_height(729.0)
        .stem_v(if name(face) == Name(b"R") {
            90.0
        } else {
            140.0
        })
        .font_file2(data);
    let mut to_text = UnicodeCmap::new(Name(b"Custom"), IDENTITY);
    for (glyph, (c, _)) in &used.glyphs {
        to_text.pair(*glyph, *c);
    }
    let to_text = packed(&to_text.finish())?;
    pdf.cmap(map, &to_text).filter(Filter::FlateDecode);
    let letters = subset(face.bytes(), 0, &used.map).map_err(|e| PdfError::Font(e.to_string()))?;
    let packed = packed(&letters)?;
    let mut stream = pdf.stream(data, &packed);
    stream.filter(Filter::FlateDecode);
    stream.pair(
        Name(b"Length1"),
        i32::try_from(letters.len()).unwrap_or(i32::MAX),
    );
    Ok(())
}
