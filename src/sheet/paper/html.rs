//! A sheet as one page of HTML. It is a single file that asks the network for nothing and is complete without its script, which only
//! shows more about a mark that is pointed at. The same blocks are printed by `print`.

use super::super::block::{Bar, Block, Letterhead, Paper, Table};
use super::super::board::Page;
use super::super::board::svg::{self, escape};
use super::policy::policy;
use super::print::capital;
use super::style::{SCRIPT, STYLE};
use crate::job::people::PaperSize;
use std::fmt::Write;

/// The exact content of the page's script element, whose hash the page's policy names.
fn script() -> String {
    format!("\n{SCRIPT}")
}

/// The whole page. Pairs that follow each other become one list, and so do points.
#[must_use]
pub fn page(paper: &Paper) -> String {
    let title = escape(&format!("{}: {}", paper.kind, paper.about));
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         {}\
         <meta name=\"generator\" content=\"boundwalk {}\">\n<link rel=\"icon\" href=\"data:,\">\n\
         <title>{title}</title>\n<style>\n{STYLE}@page{{size:{};margin:14mm}}\n</style>\n</head>\n<body>\n\
         <a class=\"skip\" href=\"#main\">To the sheet</a>\n<header>\n{}<h1>{}</h1>\n<p>{}</p>\n</header>\n\
         <main id=\"main\" tabindex=\"-1\">\n",
        policy(&script(), "data:"),
        env!("CARGO_PKG_VERSION"),
        match paper.size {
            PaperSize::A4 => "A4",
            PaperSize::Letter => "letter",
        },
        letterhead(&paper.firm),
        escape(&format!("{}: {}", paper.kind, paper.about)),
        escape(&capital(&paper.date)),
    );
    let mut blocks = paper.blocks.iter().peekable();
    while let Some(block) = blocks.next() {
        match block {
            Block::Pair(name, value) => {
                let mut pairs = vec![(name, value)];
                while let Some(Block::Pair(name, value)) =
                    blocks.next_if(|b| matches!(b, Block::Pair(..)))
                {
                    pairs.push((name, value));
                }
                write_pairs(&pairs, &mut out);
            }
            Block::Point(text) => {
                let mut points = vec![text];
                while let Some(Block::Point(text)) =
                    blocks.next_if(|b| matches!(b, Block::Point(_)))
                {
                    points.push(text);
                }
                write_points(points.into_iter(), &mut out);
            }
            other => write_block(other, &mut out),
        }
    }
    let _ = write!(
        out,
        "</main>\n<footer>\n<p>Written by boundwalk {}. Approximate working measurement for ordering materials. Not a survey of \
         legal boundaries or levels.</p>\n</footer>\n<script>{}</script>\n</body>\n</html>\n",
        env!("CARGO_PKG_VERSION"),
        script()
    );
    out
}

fn letterhead(firm: &Letterhead) -> String {
    let mut out = String::new();
    let name = firm.lines.first().map_or("", String::as_str);
    if let Some(address) = firm.logo.as_ref().and_then(|logo| logo.address()) {
        let name = escape(name);
        let _ = writeln!(out, "<img class=\"logo\" src=\"{address}\" alt=\"{name}\">");
    }
    if !firm.lines.is_empty() {
        let lines: Vec<_> = firm.lines.iter().map(|line| escape(line)).collect();
        let _ = writeln!(out, "<address>{}</address>", lines.join("<br>\n"));
    }
    out
}

fn write_pairs(pairs: &[(&String, &String)], out: &mut String) {
    out.push_str("<dl>\n");
    for (i, (name, value)) in pairs.iter().enumerate() {
        if !name.is_empty() {
            let _ = writeln!(out, "<dt>{}</dt>", escape(name));
        } else if i == 0 {
            // A list of pairs must begin with a name.
            out.push_str("<dt>More</dt>\n");
        }
        let _ = writeln!(out, "<dd>{}</dd>", escape(value));
    }
    out.push_str("</dl>\n");
}

fn write_points<'a>(points: impl Iterator<Item = &'a String>, out: &mut String) {
    out.push_str("<ul>\n");
    for point in points {
        let _ = writeln!(out, "<li>{}</li>", escape(point));
    }
    out.push_str("</ul>\n");
}

fn write_block(block: &Block, out: &mut String) {
    match block {
        Block::Heading(text) => {
            let _ = writeln!(out, "<h2>{}</h2>", escape(text));
        }
        Block::Lead(number, about) => {
            let _ = write!(
                out,
                "<div class=\"lead\">\n<p class=\"number\">{}</p>\n",
                escape(number)
            );
            for line in about {
                let _ = writeln!(out, "<p>{}</p>", escape(line));
            }
            out.push_str("</div>\n");
        }
        Block::Alert(head, points) => {
            let _ = write!(
                out,
                "<section class=\"alert\">\n<h2>{}</h2>\n",
                escape(head)
            );
            write_points(points.iter(), out);
            out.push_str("</section>\n");
        }
        Block::Say(text) => {
            let _ = writeln!(out, "<p>{}</p>", escape(text));
        }
        Block::Table(table) => write_table(table, out),
        Block::Bars(bars) => write_bars(bars, out),
        Block::Plan(page) => write_drawing(
            page,
            " On a screen it is not to scale: printed from the PDF at 100 % it is.",
            out,
        ),
        Block::Figure(page) => write_drawing(page, "", out),
        Block::Write(lines) => {
            out.push_str("<ul class=\"write\">\n");
            for line in lines {
                let _ = writeln!(out, "<li>{}</li>", escape(line));
            }
            out.push_str("</ul>\n");
        }
        Block::Pair(name, value) => write_pairs(&[(name, value)], out),
        Block::Point(text) => write_points(std::iter::once(text), out),
    }
}

fn write_bars(bars: &[Bar], out: &mut String) {
    out.push_str("<ul class=\"bars\">\n");
    for bar in bars {
        let _ = writeln!(
            out,
            "<li><span>{}</span><span class=\"track\" aria-hidden=\"true\"><span class=\"bar\" style=\"width:{:.1}%\">\
             </span></span><span class=\"v\">{}</span></li>",
            escape(&bar.name),
            (100.0 * bar.share).clamp(0.0, 100.0),
            escape(&bar.value)
        );
    }
    out.push_str("</ul>\n");
}

fn write_drawing(page: &Page, scale: &str, out: &mut String) {
    let _ = write!(
        out,
        "<figure>\n<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"{}\">\n{}</div>\n\
         <p class=\"told\" aria-live=\"polite\"></p>\n<figcaption>{}{scale}</figcaption>\n</figure>\n",
        escape(&format!("Drawing, may scroll: {}", page.title)),
        svg::element(page, &[]),
        escape(&page.about)
    );
}

/// A table of at most so many rows counts as short.
const SHORT: usize = 24;

fn write_table(table: &Table, out: &mut String) {
    // A short table, which has room on one page of paper, is not split between two when the page is printed.
    let class = match table.rows.len() {
        0..=SHORT => " class=\"short\"",
        _ => "",
    };
    let _ = write!(
        out,
        "<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"Table, may scroll\">\n<table{class}>\n"
    );
    let right = |k: usize| table.right.get(k).copied().unwrap_or(false);
    if table.head.iter().any(|cell| !cell.is_empty()) {
        out.push_str("<thead><tr>");
        for (k, cell) in table.head.iter().enumerate() {
            let class = if right(k) { " class=\"n\"" } else { "" };
            if cell.is_empty() {
                let _ = write!(out, "<td{class}></td>");
            } else {
                let _ = write!(out, "<th scope=\"col\"{class}>{}</th>", escape(cell));
            }
        }
        out.push_str("</tr></thead>\n");
    }
    out.push_str("<tbody>\n");
    for row in &table.rows {
        out.push_str("<tr>");
        for (k, cell) in row.iter().enumerate() {
            let class = if right(k) {
                " class=\"n\""
            } else if cell
                .split_whitespace()
                .any(|word| word.chars().count() > 24)
            {
                " class=\"long\""
            } else {
                ""
            };
            let _ = write!(out, "<td{class}>{}</td>", escape(cell));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n</div>\n");
}
