//! The fonts within a PDF. A glyph is the drawn shape of a character. Of each face only the glyphs that the document uses are put
//! into the file, numbered anew, with their widths and a list of which characters they stand for, so that text can be searched
//! and copied.

use super::objects::packed;
use super::{Weight, face};
use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, Str};
use std::collections::BTreeMap;
use subsetter::GlyphRemapper;

/// The glyphs of one face that a document uses.
pub struct Used {
    pub weight: Weight,
    glyphs: GlyphRemapper,
    /// The character that each glyph, by its new number, first stood for.
    characters: BTreeMap<u16, char>,
}

impl Used {
    pub(crate) fn none_of(weight: Weight) -> Used {
        Used {
            weight,
            glyphs: GlyphRemapper::new(),
            characters: BTreeMap::new(),
        }
    }

    pub(crate) fn name(&self) -> Name<'static> {
        match self.weight {
            Weight::Regular => Name(b"R"),
            Weight::Bold => Name(b"B"),
        }
    }

    /// A text as the file has it: two bytes for each glyph, by its new number. The glyphs count as used from then on.
    pub(crate) fn shown(&mut self, text: &str) -> Vec<u8> {
        let mut bytes = Vec::new();
        if let Some(face) = self.weight.face() {
            for c in text.chars() {
                let glyph = self.glyphs.remap(face::glyph(face, c).0);
                self.characters.entry(glyph).or_insert(c);
                bytes.extend(glyph.to_be_bytes());
            }
        }
        bytes
    }
}

/// Puts the face into the file: the outlines and widths of what is used, and which characters they stand for.
pub(crate) fn embed(used: &Used, font: Ref, id: &mut impl FnMut() -> Ref, pdf: &mut Pdf) {
    let Some(face) = used.weight.face() else {
        return;
    };
    // The name of a font that is embedded in part begins with six letters of any choice and a plus.
    let name = match used.weight {
        Weight::Regular => "BWLKRG+NotoSans-Regular",
        Weight::Bold => "BWLKBD+NotoSans-Bold",
    };
    let system = SystemInfo {
        registry: Str(b"Adobe"),
        ordering: Str(b"Identity"),
        supplement: 0,
    };
    let (cid, descriptor, data, cmap) = (id(), id(), id(), id());
    pdf.type0_font(font)
        .base_font(Name(name.as_bytes()))
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(cid)
        .to_unicode(cmap);
    metrics(used, face, name, system, [cid, descriptor, data], pdf);
    let subset = subsetter::subset(used.weight.bytes(), 0, &used.glyphs)
        .unwrap_or_else(|_| used.weight.bytes().to_vec());
    let length = i32::try_from(subset.len()).unwrap_or(i32::MAX);
    let subset = packed(&subset);
    let mut stream = pdf.stream(data, &subset);
    stream.filter(Filter::FlateDecode);
    stream.pair(Name(b"Length1"), length);
    stream.finish();
    let mut map = UnicodeCmap::new(Name(b"Custom"), system);
    for (glyph, character) in &used.characters {
        map.pair(*glyph, *character);
    }
    let map = map.finish();
    pdf.cmap(cmap, &packed(map.as_slice()))
        .filter(Filter::FlateDecode);
}

/// Writes how wide and how high the letters are. The references are those of the font's widths, of its descriptor (its general
/// measures) and of its outlines, in that order.
fn metrics(
    used: &Used,
    face: &ttf_parser::Face<'_>,
    name: &str,
    system: SystemInfo<'_>,
    [cid, descriptor, data]: [Ref; 3],
    pdf: &mut Pdf,
) {
    let em = f64::from(face.units_per_em());
    let thousandths = |units: f64| (units * 1000.0 / em) as f32;
    let mut descendant = pdf.cid_font(cid);
    descendant
        .subtype(CidFontType::Type2)
        .base_font(Name(name.as_bytes()))
        .system_info(system)
        .font_descriptor(descriptor)
        .default_width(0.0)
        .cid_to_gid_map_predefined(Name(b"Identity"));
    let widths = used.glyphs.remapped_gids().map(|glyph| {
        thousandths(f64::from(
            face.glyph_hor_advance(ttf_parser::GlyphId(glyph))
                .unwrap_or(0),
        ))
    });
    descendant.widths().consecutive(0, widths);
    descendant.finish();
    let bounds = face.global_bounding_box();
    let side = |units: i16| thousandths(f64::from(units));
    pdf.font_descriptor(descriptor)
        .name(Name(name.as_bytes()))
        .flags(FontFlags::NON_SYMBOLIC)
        .bbox(Rect::new(
            side(bounds.x_min),
            side(bounds.y_min),
            side(bounds.x_max),
            side(bounds.y_max),
        ))
        .italic_angle(0.0)
        .ascent(side(face.ascender()))
        .descent(side(face.descender()))
        .cap_height(side(face.capital_height().unwrap_or(714)))
        .stem_v(if used.weight == Weight::Bold {
            140.0
        } else {
            80.0
        })
        .font_file2(data);
}
