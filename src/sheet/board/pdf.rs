//! Pages as PDF 1.7. Drawings are lines and not dots; text is real text with its font embedded (only the glyphs used) and its
//! characters kept for search and copying; and the document is tagged (see `tags`) for those who have it read out. The same
//! pages give the same bytes, since neither a clock nor chance goes into them.

use super::glyphs::{Used, embed};
use super::objects::packed;
use super::tags::Tags;
use super::{Circle, Ink, Mark, Page, Part, Path, Shown, Stroke, Text, Weight, each, face};
use crate::picture::Picture;
use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

/// Points (1/72 inch) in a millimetre.
const POINTS: f64 = 72.0 / 25.4;
/// A circle is drawn as four cubic curves whose handles (how far each control point is from its end) are this share of the radius. That
/// is at most 0.03 % of the radius off a true circle.
const HANDLE: f64 = 0.552_284_749_8;

/// The pages as one document with a title; its bytes.
pub(crate) fn document(pages: &[Page], title: &str) -> Vec<u8> {
    let mut next = 1;
    let mut id = move || {
        let id = Ref::new(next);
        next += 1;
        id
    };
    let mut used = Weight::BOTH.map(Used::none_of);
    let mut pdf = Pdf::new();
    let (catalog, tree, info) = (id(), id(), id());
    let fonts = [id(), id()];
    // Each picture is in the file once, however many pages show it. It takes two objects: its colours, and how opaque each dot is.
    let mut pictures: Vec<(&Picture, Ref, Ref)> = Vec::new();
    for shown in pages.iter().flat_map(shown) {
        if !pictures.iter().any(|(known, ..)| **known == shown.picture) {
            pictures.push((&shown.picture, id(), id()));
        }
    }
    let kids: Vec<(Ref, Ref)> = pages.iter().map(|_| (id(), id())).collect();
    let bookmarks = bookmarks(pages, &kids, &mut id, &mut pdf);
    let root_of_tags = id();
    let mut root = pdf.catalog(catalog);
    root.pages(tree).lang(TextStr("en"));
    root.mark_info().marked(true);
    root.pair(Name(b"StructTreeRoot"), root_of_tags);
    if let Some(bookmarks) = bookmarks {
        root.outlines(bookmarks);
    }
    root.viewer_preferences().display_doc_title(true);
    root.finish();
    pdf.document_info(info)
        .title(TextStr(&face::clean(title)))
        .creator(TextStr(concat!("boundwalk ", env!("CARGO_PKG_VERSION"))));
    pdf.pages(tree)
        .kids(kids.iter().map(|kid| kid.0))
        .count(i32::try_from(kids.len()).unwrap_or(i32::MAX));
    let names: Vec<_> = used.iter().map(Used::name).zip(fonts).collect();
    let mut tree_of_tags = Tags::default();
    for (at, (page, ids)) in pages.iter().zip(&kids).enumerate() {
        put_page(page, (at, tree, *ids), &names, &pictures, &mut pdf);
        let content = packed(&content(page, &mut used, &pictures, &mut tree_of_tags));
        pdf.stream(ids.1, &content).filter(Filter::FlateDecode);
    }
    for (used, font) in used.iter().zip(fonts) {
        embed(used, font, &mut id, &mut pdf);
    }
    for (picture, dots, mask) in pictures {
        put_dots(picture, dots, mask, &mut pdf);
    }
    let on: Vec<Ref> = kids.iter().map(|kid| kid.0).collect();
    let tags = tree_of_tags.write(root_of_tags, &on, &mut pdf, &mut id);
    tags.finish(pdf, (catalog, info), id)
}

/// Writes what a page has beside its content: its size, its number, the tree it belongs to, where its content is, and the fonts and
/// pictures it may use.
fn put_page(
    page: &Page,
    (at, tree, (id, content)): (usize, Ref, (Ref, Ref)),
    fonts: &[(Name<'_>, Ref)],
    pictures: &[(&Picture, Ref, Ref)],
    pdf: &mut Pdf,
) {
    let mut written = pdf.page(id);
    let (width, height) = (page.width_mm * POINTS, page.height_mm * POINTS);
    written
        .media_box(Rect::new(0.0, 0.0, width as f32, height as f32))
        .parent(tree)
        .contents(content)
        .struct_parents(i32::try_from(at).unwrap_or(i32::MAX));
    let mut resources = written.resources();
    resources.fonts().pairs(fonts.iter().copied());
    if !pictures.is_empty() {
        let mut dictionary = resources.x_objects();
        for (at, (_, dots, _)) in pictures.iter().enumerate() {
            dictionary.pair(Name(&name(at)), *dots);
        }
    }
}

/// Writes the list of bookmarks: every heading, and pages without one (drawings) by their title. `None` where there are none.
fn bookmarks(
    pages: &[Page],
    kids: &[(Ref, Ref)],
    id: &mut impl FnMut() -> Ref,
    pdf: &mut Pdf,
) -> Option<Ref> {
    let mut places: Vec<(&str, Ref, f64)> = Vec::new();
    for (page, (kid, _)) in pages.iter().zip(kids) {
        let from_below = |y_mm: f64| (page.height_mm - y_mm.max(0.0)) * POINTS;
        for (y_mm, said) in &page.headings {
            places.push((said, *kid, from_below(*y_mm)));
        }
        if page.headings.is_empty() && !page.title.is_empty() {
            places.push((&page.title, *kid, from_below(0.0)));
        }
    }
    let ids: Vec<Ref> = places.iter().map(|_| id()).collect();
    let (first, last) = (*ids.first()?, *ids.last()?);
    let outline = id();
    pdf.outline(outline)
        .first(first)
        .last(last)
        .count(i32::try_from(ids.len()).unwrap_or(i32::MAX));
    for (at, (said, page, top)) in places.iter().enumerate() {
        let mut item = pdf.outline_item(ids[at]);
        item.title(TextStr(&face::clean(said))).parent(outline);
        if let Some(before) = at.checked_sub(1) {
            item.prev(ids[before]);
        }
        if let Some(next) = ids.get(at + 1) {
            item.next(*next);
        }
        item.dest().page(*page).xyz(0.0, *top as f32, None);
    }
    Some(outline)
}

/// The pictures on a page.
fn shown(page: &Page) -> impl Iterator<Item = &Shown> {
    page.each().into_iter().filter_map(|(_, mark)| match mark {
        Mark::Picture(shown) => Some(shown),
        _ => None,
    })
}

/// The name by which pages refer to picture number `at`.
fn name(at: usize) -> Vec<u8> {
    format!("P{at}").into_bytes()
}

/// Writes a picture as two images: its colours, and a mask that says how opaque each dot is.
fn put_dots(picture: &Picture, dots: Ref, mask: Ref, pdf: &mut Pdf) {
    let dot = |parts: std::ops::Range<usize>| -> Vec<u8> {
        let each = picture.rgba.chunks_exact(4);
        packed(
            &each
                .flat_map(|dot| &dot[parts.clone()])
                .copied()
                .collect::<Vec<u8>>(),
        )
    };
    let (colours, opaque) = (dot(0..3), dot(3..4));
    let side = |dots: u32| i32::try_from(dots).unwrap_or(i32::MAX);
    let mut image = pdf.image_xobject(dots, &colours);
    image.filter(Filter::FlateDecode);
    image
        .width(side(picture.width))
        .height(side(picture.height))
        .bits_per_component(8)
        .s_mask(mask);
    image.color_space().device_rgb();
    image.finish();
    let mut image = pdf.image_xobject(mask, &opaque);
    image.filter(Filter::FlateDecode);
    image
        .width(side(picture.width))
        .height(side(picture.height))
        .bits_per_component(8);
    image.color_space().device_gray();
    image.finish();
}

/// The drawing operations of a page. Marks that are read out stand in numbered runs that the tags refer to; the others in
/// runs called artifacts.
fn content<'a>(
    page: &'a Page,
    used: &mut [Used; 2],
    pictures: &[(&Picture, Ref, Ref)],
    tags: &mut Tags<'a>,
) -> Vec<u8> {
    let mut content = Content::new();
    content.transform([
        POINTS as f32,
        0.0,
        0.0,
        -POINTS as f32,
        0.0,
        (page.height_mm * POINTS) as f32,
    ]);
    content.set_line_join(LineJoinStyle::RoundJoin);
    content.set_line_cap(LineCapStyle::ButtCap);
    tags.page();
    for (part, marks) in page.in_parts() {
        let part = part.filter(|part| !part.place.is_empty());
        if let Some(part) = part {
            tags.part(part);
        }
        // Whether the run being written is read out; `None` before the first.
        let mut read: Option<bool> = None;
        for (_, mark) in each(marks) {
            let reads = part.filter(|part| part.reads(mark));
            if read != Some(reads.is_some()) {
                end_run(read, &mut content);
                begin_run(reads, tags, &mut content);
                read = Some(reads.is_some());
            }
            draw(mark, used, pictures, &mut content);
        }
        end_run(read, &mut content);
    }
    content.finish().into_vec()
}

fn begin_run<'a>(part: Option<&'a Part>, tags: &mut Tags<'a>, content: &mut Content) {
    match part.and_then(|part| Some((part, part.place.last()?.1))) {
        Some((part, role)) => {
            let name = role.standard().to_name();
            let mut run = content.begin_marked_content_with_properties(name);
            run.properties().identify(tags.run(part));
        }
        None => {
            content.begin_marked_content(Name(b"Artifact"));
        }
    }
}

fn end_run(read: Option<bool>, content: &mut Content) {
    if read.is_some() {
        content.end_marked_content();
    }
}

fn draw(
    mark: &Mark,
    used: &mut [Used; 2],
    pictures: &[(&Picture, Ref, Ref)],
    content: &mut Content,
) {
    match mark {
        Mark::Path(path) => draw_path(path, content),
        Mark::Circle(circle) => draw_circle(circle, content),
        Mark::Text(text) => draw_text(text, used, content),
        Mark::Picture(shown) => {
            let at = pictures
                .iter()
                .position(|(known, ..)| **known == shown.picture);
            content.save_state();
            // A picture fills the unit square from below; the page runs downwards.
            content.transform([
                hundredth(shown.width_mm),
                0.0,
                0.0,
                -hundredth(shown.height_mm),
                hundredth(shown.at.x),
                hundredth(shown.at.y + shown.height_mm),
            ]);
            content.x_object(Name(&name(at.unwrap_or(0))));
            content.restore_state();
        }
        Mark::Group(_) => {}
    }
}

/// The value rounded to a hundredth of a millimetre, as in the SVG; 0 where it is not finite.
fn hundredth(value: f64) -> f32 {
    if value.is_finite() {
        ((value * 100.0).round() / 100.0) as f32
    } else {
        0.0
    }
}

fn draw_path(path: &Path, content: &mut Content) {
    if path.lines.iter().all(|line| line.len() < 2) {
        return;
    }
    paint(path.fill, path.stroke, content);
    for line in path.lines.iter().filter(|line| line.len() > 1) {
        for (i, point) in line.iter().enumerate() {
            let (x, y) = (hundredth(point.x), hundredth(point.y));
            if i == 0 {
                content.move_to(x, y);
            } else {
                content.line_to(x, y);
            }
        }
        if path.closed {
            content.close_path();
        }
    }
    end(path.fill, path.stroke, content);
}

fn draw_circle(circle: &Circle, content: &mut Content) {
    paint(circle.fill, circle.stroke, content);
    let (r, h) = (circle.radius_mm, circle.radius_mm * HANDLE);
    let at = |dx: f64, dy: f64| {
        (
            hundredth(circle.centre.x + dx),
            hundredth(circle.centre.y + dy),
        )
    };
    let (x, y) = at(r, 0.0);
    content.move_to(x, y);
    for [a, b, c] in [
        [(r, h), (h, r), (0.0, r)],
        [(-h, r), (-r, h), (-r, 0.0)],
        [(-r, -h), (-h, -r), (0.0, -r)],
        [(h, -r), (r, -h), (r, 0.0)],
    ] {
        let ((x1, y1), (x2, y2), (x3, y3)) = (at(a.0, a.1), at(b.0, b.1), at(c.0, c.1));
        content.cubic_to(x1, y1, x2, y2, x3, y3);
    }
    content.close_path();
    end(circle.fill, circle.stroke, content);
}

/// The colour's parts from 0 to 1, with three decimals.
fn rgb(Ink(r, g, b): Ink) -> [f32; 3] {
    [r, g, b].map(|part| (f32::from(part) / 255.0 * 1000.0).round() / 1000.0)
}

/// Sets the colours and the pen for what is drawn next.
fn paint(fill: Option<Ink>, stroke: Option<Stroke>, content: &mut Content) {
    if let Some(ink) = fill {
        let [r, g, b] = rgb(ink);
        content.set_fill_rgb(r, g, b);
    }
    if let Some(stroke) = stroke {
        let [r, g, b] = rgb(stroke.ink);
        content.set_stroke_rgb(r, g, b);
        content.set_line_width(hundredth(stroke.width_mm));
        content.set_dash_pattern(stroke.dash_mm.iter().map(|mm| hundredth(*mm)), 0.0);
    }
}

/// Ends a path: fills it, draws along it, both or neither.
fn end(fill: Option<Ink>, stroke: Option<Stroke>, content: &mut Content) {
    match (fill, stroke) {
        (Some(_), Some(_)) => content.fill_even_odd_and_stroke(),
        (Some(_), None) => content.fill_even_odd(),
        (None, Some(_)) => content.stroke(),
        (None, None) => content.end_path(),
    };
}

fn draw_text(text: &Text, used: &mut [Used; 2], content: &mut Content) {
    let shown = face::clean(&text.text);
    if shown.trim().is_empty() {
        return;
    }
    let Some(used) = used.iter_mut().find(|used| used.weight == text.weight) else {
        return;
    };
    let [r, g, b] = rgb(text.ink);
    content.set_fill_rgb(r, g, b);
    let start = text.start();
    let (sin, cos) = text.turn_deg.to_radians().sin_cos();
    content.begin_text();
    content.set_font(used.name(), hundredth(text.size_mm));
    // y runs downwards on the page but upwards in the letters, so they are mirrored.
    content.set_text_matrix([
        cos as f32,
        sin as f32,
        sin as f32,
        -cos as f32,
        hundredth(start.x),
        hundredth(start.y),
    ]);
    content.show(Str(&used.shown(&shown)));
    content.end_text();
}

#[cfg(test)]
mod tests {
    use super::super::{at, text};
    use super::*;

    fn page(said: &str) -> Page {
        let mut page = Page::new(210.0, 297.0, "a page");
        for (i, weight) in Weight::BOTH.into_iter().enumerate() {
            page.marks.push(Mark::Text(text(
                at(20.0, 20.0 + 10.0 * i as f64),
                4.0,
                weight,
                Ink::TEXT,
                said,
            )));
        }
        page.marks.push(Mark::Circle(Circle {
            centre: at(100.0, 100.0),
            radius_mm: 10.0,
            fill: Some(Ink::RULE),
            stroke: Some(Stroke::whole(Ink::TEXT, 0.3)),
        }));
        page
    }

    #[test]
    fn the_same_pages_give_the_same_bytes() {
        let pages = [page("Garten κήπος сад"), page("once more")];
        let bytes = document(&pages, "twice");
        assert_eq!(bytes, document(&pages, "twice"));
        assert!(bytes.starts_with(b"%PDF-"));
        for never in [&b"CreationDate"[..], b"ModDate"] {
            assert!(!bytes.windows(never.len()).any(|w| w == never));
        }
    }

    #[test]
    fn only_the_glyphs_used_are_carried() {
        let bytes = document(&[page("abc")], "small");
        assert!(bytes.len() < 20_000, "{}", bytes.len());
    }

    #[test]
    fn headings_are_bookmarks_and_drawings_too() {
        let mut written = page("abc");
        written.headings = vec![(40.0, "To lay) first".into()), (90.0, "Then".into())];
        let bytes = document(&[written, page("a plan")], "marked");
        let whole = String::from_utf8_lossy(&bytes);
        for said in ["(To lay\\) first)", "(Then)", "(a page)", "/Count 3"] {
            assert!(whole.contains(said), "{said}");
        }
        // 40 mm down a page of 297 mm.
        assert!(whole.contains("/XYZ 0 728.50"), "from below, in points");
        assert!(
            !String::from_utf8_lossy(&document(&[Page::new(9.0, 9.0, "")], "bare"))
                .contains("/Outlines")
        );
    }

    #[test]
    fn hostile_texts_end_no_string() {
        let bytes = document(&[page(") Tj ET \\ endstream \u{0}\u{202e}")], ") /JS (x");
        let whole = String::from_utf8_lossy(&bytes);
        assert!(
            whole.contains("(\\) /JS \\(x)"),
            "the title is one string, its brackets escaped"
        );
    }
}
