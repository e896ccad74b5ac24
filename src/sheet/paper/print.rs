//! A sheet as printed pages: A4 for what is read, each drawing on its own paper to its own scale.

use super::super::block::{Bar, Block, Paper, Table};
use super::super::board::{
    Anchor, Ink, Mark, Page, Path, Stroke, Text, Weight, at, face, pdf, text,
};

const WIDTH_MM: f64 = 210.0;
const HEIGHT_MM: f64 = 297.0;
const LEFT_MM: f64 = 18.0;
const TOP_MM: f64 = 17.0;
/// Where the last line of a page may stand.
const BOTTOM_MM: f64 = 279.0;
const ROOM_MM: f64 = WIDTH_MM - 2.0 * LEFT_MM;
/// 9.5 point type on 13 point lines.
const BODY_MM: f64 = 3.35;
const STEP_MM: f64 = 4.6;
const SMALL_MM: f64 = 2.6;
/// Names of pairs.
const NAMES_MM: f64 = 36.0;
/// Between columns.
const GAP_MM: f64 = 4.0;
const EDGE: Ink = Ink(0x1f, 0x4d, 0x2b);
const WARN: Ink = Ink(0x7a, 0x1f, 0x0a);

/// The document.
pub fn printed(paper: &Paper) -> Vec<u8> {
    let title = format!("{}: {}", paper.kind, paper.about);
    pdf::document(&pages(paper), &title)
}

/// Its pages, numbered.
pub fn pages(paper: &Paper) -> Vec<Page> {
    let mut flow = Flow::new(paper);
    flow.head();
    let mut blocks = paper.blocks.iter().peekable();
    while let Some(block) = blocks.next() {
        // A heading stays with what follows it; before a drawing it goes with it.
        if let Block::Heading(said) = block {
            match blocks.peek() {
                Some(Block::Plan(_)) => continue,
                Some(next) => flow.heading(said, least(next)),
                None => {}
            }
            continue;
        }
        flow.block(block);
    }
    flow.finish()
}

/// With a capital letter first.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// Room for the beginning of a block.
fn least(block: &Block) -> f64 {
    match block {
        Block::Table(_) => 4.0 * STEP_MM,
        Block::Write(_) => 24.0,
        _ => 2.5 * STEP_MM,
    }
}

struct Flow<'a> {
    paper: &'a Paper,
    done: Vec<Page>,
    /// Drawings that come after the page being written.
    waiting: Vec<Page>,
    page: Page,
    y: f64,
}

impl<'a> Flow<'a> {
    fn new(paper: &'a Paper) -> Flow<'a> {
        Flow {
            paper,
            done: Vec::new(),
            waiting: Vec::new(),
            page: Page::new(WIDTH_MM, HEIGHT_MM, ""),
            y: TOP_MM,
        }
    }

    fn put(&mut self, text: Text) {
        self.page.marks.push(Mark::Text(text));
    }

    fn line(&mut self, x: f64, said: &str, size: f64, weight: Weight, ink: Ink) {
        self.put(text(at(x, self.y), size, weight, ink, said));
    }

    fn turn(&mut self) {
        let page = std::mem::replace(&mut self.page, Page::new(WIDTH_MM, HEIGHT_MM, ""));
        self.done.push(page);
        self.done.append(&mut self.waiting);
        self.y = TOP_MM;
        let said = face::fit(
            &format!("{}: {}", self.paper.kind, self.paper.about),
            SMALL_MM,
            Weight::Regular,
            ROOM_MM,
        );
        self.line(LEFT_MM, &said, SMALL_MM, Weight::Regular, Ink::SOFT);
        self.page.line(
            &[
                at(LEFT_MM, TOP_MM + 1.6),
                at(LEFT_MM + ROOM_MM, TOP_MM + 1.6),
            ],
            Stroke::whole(Ink::RULE, 0.2),
        );
        self.y += 9.0;
    }

    /// Turns the page unless so much is left of it.
    fn need(&mut self, mm: f64) {
        if self.y + mm > BOTTOM_MM {
            self.turn();
        }
    }

    fn head(&mut self) {
        self.y = TOP_MM + 3.0;
        self.line(LEFT_MM, self.paper.kind, 6.2, Weight::Bold, Ink::TEXT);
        self.y += 6.0;
        for said in face::wrap(&self.paper.about, 4.0, Weight::Regular, ROOM_MM) {
            self.line(LEFT_MM, &said, 4.0, Weight::Regular, Ink::TEXT);
            self.y += 5.2;
        }
        if !self.paper.date.is_empty() {
            let said = face::fit(
                &capital(&self.paper.date),
                BODY_MM,
                Weight::Regular,
                ROOM_MM,
            );
            self.line(LEFT_MM, &said, BODY_MM, Weight::Regular, Ink::SOFT);
            self.y += 3.2;
        }
        self.page.line(
            &[at(LEFT_MM, self.y), at(LEFT_MM + ROOM_MM, self.y)],
            Stroke::whole(EDGE, 0.7),
        );
        self.y += 7.5;
    }

    fn heading(&mut self, said: &str, with_mm: f64) {
        self.y += 3.2;
        self.need(7.0 + with_mm);
        for said in face::wrap(said, 4.2, Weight::Bold, ROOM_MM) {
            self.line(LEFT_MM, &said, 4.2, Weight::Bold, EDGE);
            self.y += 5.4;
        }
        self.y += 0.6;
    }

    /// Lines at this indent; the first may stand beside something.
    fn lines(&mut self, said: &str, indent: f64, weight: Weight, ink: Ink) {
        for said in face::wrap(said, BODY_MM, weight, ROOM_MM - indent) {
            self.need(0.0);
            self.line(LEFT_MM + indent, &said, BODY_MM, weight, ink);
            self.y += STEP_MM;
        }
    }

    fn block(&mut self, block: &Block) {
        match block {
            Block::Heading(said) => self.heading(said, STEP_MM),
            Block::Lead(number, about) => {
                self.need(30.0);
                self.y += 4.5;
                let said = face::fit(number, 9.5, Weight::Bold, ROOM_MM);
                self.line(LEFT_MM, &said, 9.5, Weight::Bold, EDGE);
                self.y += 7.5;
                for said in about {
                    self.lines(said, 0.0, Weight::Regular, Ink::TEXT);
                }
                self.y += 1.0;
            }
            Block::Alert(head, points) => self.alert(head, points),
            Block::Pair(name, value) => self.pair(name, value),
            Block::Say(said) => {
                self.lines(said, 0.0, Weight::Regular, Ink::TEXT);
                self.y += 1.2;
            }
            Block::Point(said) => {
                self.need(0.0);
                self.page
                    .marks
                    .push(Mark::Circle(super::super::board::Circle {
                        centre: at(LEFT_MM + 1.6, self.y - 1.1),
                        radius_mm: 0.55,
                        fill: Some(Ink::TEXT),
                        stroke: None,
                    }));
                self.lines(said, 4.5, Weight::Regular, Ink::TEXT);
                self.y += 0.6;
            }
            Block::Table(table) => self.table(table),
            Block::Bars(bars) => self.bars(bars),
            Block::Plan(page) => self.waiting.push((**page).clone()),
            Block::Write(lines) => {
                for said in lines {
                    self.need(9.0);
                    self.y += 3.6;
                    let said = face::fit(said, BODY_MM, Weight::Regular, 62.0);
                    self.line(LEFT_MM, &said, BODY_MM, Weight::Regular, Ink::TEXT);
                    self.page.line(
                        &[
                            at(LEFT_MM + 64.0, self.y + 0.8),
                            at(LEFT_MM + ROOM_MM, self.y + 0.8),
                        ],
                        Stroke::whole(Ink::SOFT, 0.2),
                    );
                    self.y += 4.4;
                }
                self.y += 3.0;
            }
        }
    }

    fn alert(&mut self, head: &str, points: &[String]) {
        self.need(4.0 * STEP_MM);
        self.y += 2.0;
        let mut lines: Vec<(String, Weight, Ink)> =
            face::wrap(head, BODY_MM, Weight::Bold, ROOM_MM - 7.0)
                .into_iter()
                .map(|said| (said, Weight::Bold, WARN))
                .collect();
        for point in points {
            let wrapped = face::wrap(point, BODY_MM, Weight::Regular, ROOM_MM - 7.0);
            lines.extend(
                wrapped
                    .into_iter()
                    .map(|said| (said, Weight::Regular, Ink::TEXT)),
            );
        }
        for (said, weight, ink) in lines {
            self.need(0.0);
            self.page.line(
                &[
                    at(LEFT_MM + 1.0, self.y - 3.4),
                    at(LEFT_MM + 1.0, self.y + STEP_MM - 3.4),
                ],
                Stroke::whole(WARN, 1.4),
            );
            self.line(LEFT_MM + 5.0, &said, BODY_MM, weight, ink);
            self.y += STEP_MM;
        }
        self.y += 2.5;
    }

    fn pair(&mut self, name: &str, value: &str) {
        self.need(0.0);
        let names = face::wrap(name, BODY_MM, Weight::Bold, NAMES_MM - 2.0);
        let values = face::wrap(value, BODY_MM, Weight::Regular, ROOM_MM - NAMES_MM);
        for k in 0..names.len().max(values.len()) {
            self.need(0.0);
            if let Some(said) = names.get(k) {
                self.line(LEFT_MM, said, BODY_MM, Weight::Bold, Ink::TEXT);
            }
            if let Some(said) = values.get(k) {
                self.line(
                    LEFT_MM + NAMES_MM,
                    said,
                    BODY_MM,
                    Weight::Regular,
                    Ink::TEXT,
                );
            }
            self.y += STEP_MM;
        }
        self.y += 0.5;
    }

    fn bars(&mut self, bars: &[Bar]) {
        let (name_mm, value_mm) = (62.0, 40.0);
        let track_mm = ROOM_MM - name_mm - value_mm - 4.0;
        for bar in bars {
            let names = face::wrap(&bar.name, BODY_MM, Weight::Regular, name_mm - 2.0);
            self.need(STEP_MM * names.len() as f64);
            let x = LEFT_MM + name_mm;
            let block = |width: f64, fill: Ink, y: f64| {
                Mark::Path(Path {
                    lines: vec![vec![
                        at(x, y - 3.0),
                        at(x + width, y - 3.0),
                        at(x + width, y + 0.5),
                        at(x, y + 0.5),
                    ]],
                    closed: true,
                    fill: Some(fill),
                    stroke: Some(Stroke::whole(EDGE, 0.15)),
                })
            };
            let (whole, part) = (
                block(track_mm, Ink::WHITE, self.y),
                block(
                    (track_mm * bar.share.clamp(0.0, 1.0)).max(0.3),
                    EDGE,
                    self.y,
                ),
            );
            self.page.marks.extend([whole, part]);
            self.line(
                x + track_mm + 4.0,
                &bar.value,
                BODY_MM,
                Weight::Regular,
                Ink::TEXT,
            );
            for said in names {
                self.line(LEFT_MM, &said, BODY_MM, Weight::Regular, Ink::TEXT);
                self.y += STEP_MM;
            }
            self.y += 1.0;
        }
        self.y += 1.0;
    }

    fn table(&mut self, table: &Table) {
        let columns = table
            .rows
            .iter()
            .map(Vec::len)
            .chain([table.head.len()])
            .max()
            .unwrap_or(0);
        if columns == 0 {
            return;
        }
        let widths = widths(table, columns);
        let size = BODY_MM * 0.94;
        let head: Vec<Vec<String>> = (0..columns)
            .map(|k| {
                let said = table.head.get(k).map_or("", String::as_str);
                face::wrap(said, SMALL_MM, Weight::Bold, widths[k])
            })
            .collect();
        let headed = table.head.iter().any(|cell| !cell.is_empty());
        self.y += 0.5;
        self.need(3.0 * STEP_MM);
        if headed {
            self.cells(&head, &widths, table, SMALL_MM, Weight::Bold, Ink::SOFT);
        }
        for row in &table.rows {
            let cells: Vec<Vec<String>> = (0..columns)
                .map(|k| {
                    let said = row.get(k).map_or("", String::as_str);
                    face::wrap(said, size, Weight::Regular, widths[k])
                })
                .collect();
            let tall = cells.iter().map(Vec::len).max().unwrap_or(1) as f64 * STEP_MM;
            if self.y + tall > BOTTOM_MM {
                self.turn();
                if headed {
                    self.cells(&head, &widths, table, SMALL_MM, Weight::Bold, Ink::SOFT);
                }
            }
            self.cells(&cells, &widths, table, size, Weight::Regular, Ink::TEXT);
        }
        self.y += 1.6;
    }

    fn cells(
        &mut self,
        cells: &[Vec<String>],
        widths: &[f64],
        table: &Table,
        size: f64,
        weight: Weight,
        ink: Ink,
    ) {
        let tall = cells.iter().map(Vec::len).max().unwrap_or(1);
        let mut x = LEFT_MM;
        for (k, (cell, width)) in cells.iter().zip(widths).enumerate() {
            let right = table.right.get(k).copied().unwrap_or(false);
            for (line, said) in cell.iter().enumerate() {
                let y = self.y + STEP_MM * line as f64;
                let mut text = text(at(x, y), size, weight, ink, said.as_str());
                if right {
                    text.at.x = x + width;
                    text.anchor = Anchor::End;
                }
                self.put(text);
            }
            x += width + GAP_MM;
        }
        let across: f64 = widths.iter().sum::<f64>() + GAP_MM * (widths.len().max(1) - 1) as f64;
        self.y += STEP_MM * (tall as f64 - 1.0) + 1.3;
        self.page.line(
            &[at(LEFT_MM, self.y), at(LEFT_MM + across, self.y)],
            Stroke::whole(Ink::RULE, 0.15),
        );
        self.y += STEP_MM - 0.8;
    }

    fn finish(mut self) -> Vec<Page> {
        self.done.push(self.page);
        self.done.append(&mut self.waiting);
        let count = self.done.len();
        for (k, page) in self.done.iter_mut().enumerate() {
            let y = page.height_mm - 5.0;
            let foot = format!(
                "boundwalk {}. Approximate working measurement for ordering materials. Not a survey of legal boundaries or levels.",
                env!("CARGO_PKG_VERSION")
            );
            let number = format!("{} of {count}", k + 1);
            let margin = if page.width_mm == WIDTH_MM && page.title.is_empty() {
                LEFT_MM
            } else {
                10.0
            };
            page.marks.push(Mark::Text(text(
                at(margin, y),
                SMALL_MM * 0.9,
                Weight::Regular,
                Ink::SOFT,
                foot,
            )));
            page.marks.push(Mark::Text(Text {
                anchor: Anchor::End,
                ..text(
                    at(page.width_mm - margin, y),
                    SMALL_MM,
                    Weight::Regular,
                    Ink::SOFT,
                    number,
                )
            }));
        }
        self.done
    }
}

/// As wide as each column would be, the widest cut down until all fit.
fn widths(table: &Table, columns: usize) -> Vec<f64> {
    let size = BODY_MM * 0.94;
    let natural: Vec<f64> = (0..columns)
        .map(|k| {
            let cells = table.rows.iter().filter_map(|row| row.get(k));
            let widest = cells
                .map(|cell| face::width_mm(&face::clean(cell), size, Weight::Regular))
                .fold(0.0, f64::max);
            let head = table.head.get(k).map_or(0.0, |head| {
                face::width_mm(&face::clean(head), SMALL_MM, Weight::Bold)
            });
            f64::max(widest, head) + 0.2
        })
        .collect();
    let room = ROOM_MM - GAP_MM * (columns - 1) as f64;
    let (mut low, mut high) = (4.0, ROOM_MM);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if natural.iter().map(|w| w.min(middle)).sum::<f64>() > room {
            high = middle;
        } else {
            low = middle;
        }
    }
    natural.iter().map(|w| w.min(low)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_leaves_the_page_and_nothing_is_lost() {
        let long = "a word and another ".repeat(400);
        let rows = (0..200)
            .map(|k| vec![format!("row {k}"), "x".repeat(150), "12.50 m".to_owned()])
            .collect();
        let paper = Paper {
            kind: "Crew sheet",
            about: "A site with a very long name ".repeat(12),
            date: "walked".into(),
            blocks: vec![
                Block::Lead("207.2 ± 2.3 m²".into(), vec![long.clone()]),
                Block::Alert("Look".into(), vec![long.clone()]),
                Block::Heading("Head ".repeat(60)),
                Block::Pair("A very long name of a pair".into(), long.clone()),
                Block::Point(long),
                Block::Table(Table::new(
                    &["one", "two", "three"],
                    &[false, false, true],
                    rows,
                )),
                Block::Write(vec!["here".into(); 40]),
            ],
        };
        let pages = pages(&paper);
        assert!(pages.len() > 5);
        let mut words = 0;
        for page in &pages {
            for (_, mark) in page.each() {
                if let Mark::Text(text) = mark {
                    let start = text.start();
                    assert!(
                        start.x >= 10.0 && start.x + text.width_mm() <= WIDTH_MM - 10.0,
                        "{text:?}"
                    );
                    assert!(text.at.y > 10.0 && text.at.y < HEIGHT_MM - 4.0, "{text:?}");
                    words += text.text.matches("another").count();
                }
            }
        }
        assert_eq!(words, 4 * 400);
    }
}
