//! The page that shows a walk while it goes on, for the phone in the walker's other hand. It shows what the terminal shows. The browser
//! loads the document once; its script then asks, several times a second, for the parts that change, and for nothing else.

use super::board::svg::escape;
use super::say::shown::{Ground, NO_AREA, NOTHING_WRONG, Shown};
use std::fmt::Write;

/// The most places of the way that are drawn: a phone has hardly more dots across.
const PLACES: usize = 512;
/// Room left about the way, and the height of a letter, as parts of the longer side of the way.
const MARGIN: f64 = 0.06;
const LETTER: f64 = 0.07;
/// The caution that every sheet has, and one for those who walk with it.
const CAUTION: &str = "An approximate working measurement for ordering materials; not a survey of legal boundaries. \
     Watch where you step, not the screen.";

/// The document. `nonce` is a random word that the server also sends in its headers: the browser runs the style and the script that
/// carry it, and no others.
#[must_use]
pub fn document(nonce: &str) -> String {
    include_str!("live/page.html")
        .replace("{nonce}", &escape(nonce))
        .replace("{caution}", CAUTION)
}

/// What is shown now: the parts of the document that change, each with the id by which the script puts it in place.
#[must_use]
pub fn now(shown: &Shown) -> String {
    let mut out = format!(
        "<p id=\"time\">{}</p>\n<p id=\"log\">{}</p>\n<p id=\"said\">{}</p>\n",
        escape(&shown.time),
        escape(&shown.log),
        escape(shown.said)
    );
    out.push_str("<section id=\"area\"><h2>Net area</h2>");
    match &shown.area {
        Some(area) => {
            let unit = shown.area_unit;
            let long = match area.value.chars().count() {
                ..=5 => "short",
                6..=7 => "middle",
                _ => "long",
            };
            let _ = write!(
                out,
                "<p class=\"name\">net area, {unit}</p><p class=\"figure {long}\">{}</p><p class=\"band\">± {} {unit}</p>",
                escape(&area.value),
                escape(&area.uncertainty)
            );
        }
        None => {
            let _ = write!(out, "<p class=\"order\">{NO_AREA}</p>");
        }
    }
    if let Some(pieces) = &shown.pieces {
        let _ = write!(out, "<p class=\"order\">{}</p>", escape(pieces));
    }
    out.push_str("</section>\n<section id=\"wrong\"><h2>What is wrong now</h2>");
    if shown.wrong.is_empty() {
        let _ = write!(out, "<p class=\"well\">✓ {NOTHING_WRONG}</p>");
    } else {
        out.push_str("<ul class=\"wrong\">");
        for wrong in &shown.wrong {
            let _ = write!(out, "<li>!! {}</li>", escape(wrong));
        }
        out.push_str("</ul>");
    }
    out.push_str("</section>\n<section id=\"rows\"><h2>What is seen</h2><dl>");
    for (name, value) in &shown.rows {
        let _ = write!(out, "<dt>{name}</dt><dd>{}</dd>", escape(value));
    }
    out.push_str("</dl></section>\n<section id=\"ground\"><h2>The way walked</h2>");
    if let Some(ground) = &shown.ground {
        draw(ground, &mut out);
    }
    out.push_str("</section>\n<section id=\"doubts\"><h2>What speaks against it</h2>");
    for doubt in &shown.doubts {
        let _ = write!(out, "<p>Doubt: {}</p>", escape(doubt));
    }
    out.push_str("</section>\n");
    out
}

/// Draws the way from above, north up, in metres, with signs for its start, beds and corners, and a circle at the last place.
fn draw(ground: &Ground, out: &mut String) {
    let longest_m = ground.size.x.max(ground.size.y);
    let (margin_m, letter_m) = (longest_m * MARGIN, longest_m * LETTER);
    let right = |x: f64| x - ground.least.x + margin_m;
    let down = |y: f64| ground.least.y + ground.size.y - y + margin_m;
    let _ = write!(
        out,
        "<svg viewBox=\"0 0 {:.2} {:.2}\" role=\"img\" aria-label=\"The way walked, north up. S: where it began, B: bed, C: corner, \
         circle: here\"><path d=\"",
        ground.size.x + 2.0 * margin_m,
        ground.size.y + 2.0 * margin_m,
    );
    let every = ground.walked.len().div_ceil(PLACES).max(1);
    let places = ground.walked.iter().step_by(every);
    for (nth, at) in places.chain([&ground.here]).enumerate() {
        let then = if nth == 0 { 'M' } else { 'L' };
        let _ = write!(out, "{then}{:.2} {:.2}", right(at.x), down(at.y));
    }
    out.push_str("\"/>");
    for (at, sign) in &ground.signs {
        let (x, y) = (right(at.x), down(at.y));
        let _ = write!(
            out,
            "<text x=\"{x:.2}\" y=\"{y:.2}\" font-size=\"{letter_m:.2}\" stroke-width=\"{:.2}\">{sign}</text>",
            letter_m / 4.0
        );
    }
    let (x, y) = (right(ground.here.x), down(ground.here.y));
    let _ = write!(
        out,
        "<circle cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"{:.2}\"/></svg>",
        letter_m / 3.0
    );
}
