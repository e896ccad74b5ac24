//! A page as SVG 1.1. The file refers to nothing outside itself and has no script. Every text is told to be as wide as the layout
//! counted on, since the reader may have another font.

use super::{Anchor, Circle, Group, Ink, Mark, Page, Path, Stroke, Text, Weight, face};
use crate::visible::visible;
use geo::Coord;
use std::fmt::Write;

/// The fonts asked for, best first: where Noto Sans is not installed, one of the others is used.
const FAMILY: &str = "'Noto Sans','Segoe UI','Helvetica Neue',Arial,'DejaVu Sans',sans-serif";

/// The page as a whole SVG file.
pub(crate) fn file(page: &Page) -> String {
    let head = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";
    format!("{head}{}", element(page, &[]))
}

/// The page as an `svg` element alone, to stand in a page of HTML; `attributes` are added to that element.
pub(crate) fn element(page: &Page, attributes: &[(&str, &str)]) -> String {
    let mut out = String::new();
    let (width, height) = (number(page.width_mm), number(page.height_mm));
    let _ = write!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"{width}mm\" height=\"{height}mm\" \
         viewBox=\"0 0 {width} {height}\" font-family=\"{FAMILY}\" role=\"group\" aria-label=\"{}\"",
        escape(&page.title)
    );
    for (name, value) in attributes {
        let _ = write!(out, " {name}=\"{}\"", escape(value));
    }
    let _ = write!(out, ">\n<title>{}</title>\n", escape(&page.title));
    if !page.about.is_empty() {
        let _ = writeln!(out, "<desc>{}</desc>", escape(&page.about));
    }
    let _ = writeln!(
        out,
        "<rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>"
    );
    for mark in &page.marks {
        write_mark(mark, &mut out);
    }
    out.push_str("</svg>\n");
    out
}

fn write_mark(mark: &Mark, out: &mut String) {
    match mark {
        Mark::Path(path) => write_path(path, out),
        Mark::Circle(circle) => write_circle(circle, out),
        Mark::Text(text) => write_text(text, out),
        Mark::Picture(shown) => {
            let (x, y) = (number(shown.at.x), number(shown.at.y));
            let (width, height) = (number(shown.width_mm), number(shown.height_mm));
            let address = shown.picture.address().unwrap_or_default();
            let _ = writeln!(
                out,
                "<image x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" href=\"{address}\"/>"
            );
        }
        Mark::Group(group) => write_group(group, out),
    }
}

fn write_group(group: &Group, out: &mut String) {
    let _ = write!(out, "<g class=\"{}\"", group.class);
    if let Some((head, said)) = &group.tip {
        let (head, said) = (escape(head), escape(said));
        let _ = write!(
            out,
            " tabindex=\"0\" role=\"img\" aria-label=\"{head}: {said}\" data-head=\"{head}\" data-said=\"{said}\"><title>{head}: {said}</title"
        );
    }
    out.push_str(">\n");
    for mark in &group.marks {
        write_mark(mark, out);
    }
    out.push_str("</g>\n");
}

fn write_path(path: &Path, out: &mut String) {
    let mut d = String::new();
    for line in &path.lines {
        for (i, point) in line.iter().enumerate() {
            let step = match i {
                0 => "M",
                1 => "L",
                _ => " ",
            };
            let _ = write!(d, "{step}{} {}", number(point.x), number(point.y));
        }
        if path.closed && !line.is_empty() {
            d.push('Z');
        }
    }
    if d.is_empty() {
        return;
    }
    let _ = write!(out, "<path d=\"{d}\"");
    write_paint(path.fill, path.stroke, out);
    if path.fill.is_some() && path.lines.len() > 1 {
        out.push_str(" fill-rule=\"evenodd\"");
    }
    out.push_str("/>\n");
}

fn write_circle(circle: &Circle, out: &mut String) {
    let Coord { x, y } = circle.centre;
    let _ = write!(
        out,
        "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"",
        number(x),
        number(y),
        number(circle.radius_mm)
    );
    write_paint(circle.fill, circle.stroke, out);
    out.push_str("/>\n");
}

fn write_paint(fill: Option<Ink>, stroke: Option<Stroke>, out: &mut String) {
    match fill {
        Some(ink) => {
            let _ = write!(out, " fill=\"{}\"", hex(ink));
        }
        None => out.push_str(" fill=\"none\""),
    }
    if let Some(stroke) = stroke {
        let _ = write!(
            out,
            " stroke=\"{}\" stroke-width=\"{}\" stroke-linejoin=\"round\"",
            hex(stroke.ink),
            number(stroke.width_mm)
        );
        if !stroke.dash_mm.is_empty() {
            let dash: Vec<String> = stroke.dash_mm.iter().map(|mm| number(*mm)).collect();
            let _ = write!(out, " stroke-dasharray=\"{}\"", dash.join(" "));
        }
    }
}

fn write_text(text: &Text, out: &mut String) {
    let shown = face::clean(&text.text);
    if shown.trim().is_empty() {
        return;
    }
    let _ = write!(
        out,
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{}\"",
        number(text.at.x),
        number(text.at.y),
        number(text.size_mm),
        hex(text.ink)
    );
    if text.weight == Weight::Bold {
        out.push_str(" font-weight=\"700\"");
    }
    match text.anchor {
        Anchor::Start => {}
        Anchor::Middle => out.push_str(" text-anchor=\"middle\""),
        Anchor::End => out.push_str(" text-anchor=\"end\""),
    }
    if text.turn_deg != 0.0 {
        let _ = write!(
            out,
            " transform=\"rotate({} {} {})\"",
            number(text.turn_deg),
            number(text.at.x),
            number(text.at.y)
        );
    }
    if shown.chars().count() > 1 {
        // Another font may run wider, so the width is given and the browser squeezes or stretches the letters to it.
        let _ = write!(
            out,
            " textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\"",
            number(text.width_mm())
        );
    }
    let _ = writeln!(out, ">{}</text>", escape(&shown));
}

fn hex(Ink(r, g, b): Ink) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// The number to a hundredth of a millimetre, as short as can be; 0 where it is not finite.
fn number(value: f64) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let text = format!("{value:.2}");
    let short = text.trim_end_matches('0').trim_end_matches('.');
    match short {
        "-0" | "" => "0".to_owned(),
        short => short.to_owned(),
    }
}

/// The text made safe for XML and HTML, in an element or between double or single quotes. Control characters, which XML 1.0 does not
/// allow (2.2), are shown by their number, as is all that reorders a text; the two other characters it does not allow are left out.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in visible(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\u{fffe}' | '\u{ffff}' => {}
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::{at, text};
    use super::*;

    #[test]
    fn hostile_texts_stay_text() {
        let mut page = Page::new(100.0, 50.0, "\"><script>alert(1)</script>");
        page.about = "]]> & <!-- ".into();
        let evil = "</text><script>x</script>\u{0}\u{b}'\"&";
        page.marks.push(Mark::Group(Group {
            class: "bed",
            tip: Some((evil.into(), "onload=\"x\"".into())),
            marks: vec![Mark::Text(text(
                at(5.0, 5.0),
                3.0,
                Weight::Regular,
                Ink::TEXT,
                evil,
            ))],
        }));
        let svg = file(&page);
        assert!(!svg.contains("<script") && !svg.contains('\u{0}'));
        let mut reader = quick_xml::Reader::from_str(&svg);
        let mut elements = 0;
        loop {
            match reader.read_event() {
                Ok(quick_xml::events::Event::Eof) => break,
                Ok(quick_xml::events::Event::Start(e)) => {
                    elements += 1;
                    for attribute in e.attributes() {
                        attribute.expect("an attribute");
                    }
                }
                Ok(_) => {}
                Err(error) => panic!("{error} in {svg}"),
            }
        }
        assert_eq!(elements, 6, "svg, title, desc, g, title, text: {svg}");
    }

    #[test]
    fn numbers_are_short() {
        for (value, text) in [
            (1.0, "1"),
            (-0.001, "0"),
            (12.345, "12.35"),
            (f64::NAN, "0"),
            (0.5, "0.5"),
            (100.0, "100"),
        ] {
            assert_eq!(number(value), text);
        }
    }
}
