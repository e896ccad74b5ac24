//! How each kind of block but tables is laid out on printed pages: headings, text, lists, figures, lines to write on. Each function
//! draws at the height `y` that was reached and moves it down.

use super::{
    BESIDE_MM, BODY_MM, EDGE, Flow, LEFT_MM, NAMES_MM, SMALL_MM, STEP_MM, WARN, written_mm,
};
use crate::sheet::block::{Bar, Block};
use crate::sheet::board::{Circle, Ink, Mark, Page, Path, Role, Stroke, Weight, at, face, text};

impl Flow<'_> {
    /// A heading on one page with at least `with_mm` of what follows it. It becomes a bookmark as well.
    pub(super) fn heading(&mut self, said: &str, with_mm: f64) {
        self.y += 3.2;
        self.need(7.0 + with_mm);
        self.tag_next(Role::Heading);
        // `y` is where the letters stand, so the bookmark leads to a place above it, from which all of them are seen.
        self.page.headings.push((self.y - 6.0, said.to_owned()));
        for said in face::wrap(said, 4.2, Weight::Bold, self.room_mm) {
            self.line(LEFT_MM, &said, 4.2, Weight::Bold, EDGE);
            self.y += 5.4;
        }
        self.y += 0.6;
    }

    /// Text wrapped into lines that begin `indent` to the right. Its first line begins at the present height, so it can stand beside
    /// something drawn there.
    fn lines(&mut self, said: &str, indent: f64, weight: Weight, ink: Ink) {
        for said in face::wrap(said, BODY_MM, weight, self.room_mm - indent) {
            self.need(0.0);
            self.line(LEFT_MM + indent, &said, BODY_MM, weight, ink);
            self.y += STEP_MM;
        }
    }

    /// Lays out one block.
    pub(super) fn block(&mut self, block: &Block) {
        self.points = match block {
            Block::Point(_) => self.points + 1,
            _ => 0,
        };
        match block {
            Block::Heading(said) => self.heading(said, STEP_MM),
            Block::Lead(number, about) => self.lead(number, about),
            Block::Alert(head, points) => self.alert(head, points),
            Block::Pair(name, value) => self.pair(name, value),
            Block::Say(said) => {
                self.tag_next(Role::Paragraph);
                self.lines(said, 0.0, Weight::Regular, Ink::TEXT);
                self.y += 1.2;
            }
            Block::Point(said) => self.point(said),
            Block::Table(table) => self.table(table),
            Block::Bars(bars) => self.bars(bars),
            Block::Figure(page) => self.figure(page),
            Block::Plan(page) => self.plan(page),
            Block::Write(lines) if lines.len() == 2 => self.beside(lines),
            Block::Write(lines) => self.rules(lines),
        }
    }

    /// The number that the sheet is about, and what is said of it.
    fn lead(&mut self, number: &str, about: &[String]) {
        self.need(30.0);
        self.tag_next(Role::Paragraph);
        self.y += 4.5;
        let said = face::fit(number, 9.5, Weight::Bold, self.room_mm);
        self.line(LEFT_MM, &said, 9.5, Weight::Bold, EDGE);
        self.y += 7.5;
        for said in about {
            self.tag_next(Role::Paragraph);
            self.lines(said, 0.0, Weight::Regular, Ink::TEXT);
        }
        self.y += 1.0;
    }

    /// One point of a list.
    fn point(&mut self, said: &str) {
        self.need(0.0);
        self.blocks += usize::from(self.points == 1);
        let item = self.points;
        self.tag(&[(0, Role::List), (item, Role::Item), (0, Role::ItemBody)]);
        self.page.marks.push(Mark::Circle(Circle {
            centre: at(LEFT_MM + 1.6, self.y - 1.1),
            radius_mm: 0.55,
            fill: Some(Ink::TEXT),
            stroke: None,
        }));
        self.lines(said, 4.5, Weight::Regular, Ink::TEXT);
        self.y += 0.6;
    }

    /// A drawing among the text.
    fn figure(&mut self, page: &Page) {
        self.need(page.height_mm);
        self.tag_next(Role::Figure);
        self.page.tell(page.told());
        let by = at(LEFT_MM, self.y - 2.0);
        let marks = page.marks.iter().cloned().map(|mark| mark.moved(by));
        self.page.marks.extend(marks);
        self.y += page.height_mm + 2.0;
    }

    /// A drawing on a page of its own, which comes after the page being written.
    fn plan(&mut self, page: &Page) {
        self.blocks += 1;
        let mut page = page.clone();
        page.parts.clear();
        let marks = std::mem::take(&mut page.marks);
        page.begin(vec![(self.blocks, Role::Figure)], page.told());
        page.marks = marks;
        self.waiting.push(page);
    }

    /// Lines to write on, one below the other, each after the words for what is to be written there.
    fn rules(&mut self, lines: &[String]) {
        self.need(written_mm(lines));
        for said in lines {
            self.need(9.0);
            self.tag_next(Role::Paragraph);
            self.y += 3.6;
            let said = face::fit(said, BODY_MM, Weight::Regular, 62.0);
            self.line(LEFT_MM, &said, BODY_MM, Weight::Regular, Ink::TEXT);
            self.page.line(
                &[
                    at(LEFT_MM + 64.0, self.y + 0.8),
                    at(LEFT_MM + self.room_mm, self.y + 0.8),
                ],
                Stroke::whole(Ink::SOFT, 0.2),
            );
            self.y += 4.4;
        }
        self.y += 3.0;
    }

    /// Two lines to write on beside each other, with what each is for below it.
    fn beside(&mut self, lines: &[String]) {
        self.need(BESIDE_MM);
        let wide = 0.5 * self.room_mm - 4.0;
        for (k, said) in lines.iter().enumerate() {
            self.tag_next(Role::Paragraph);
            let x = LEFT_MM + k as f64 * (wide + 8.0);
            let y = self.y + 7.0;
            let rule = Stroke::whole(Ink::SOFT, 0.2);
            self.page.line(&[at(x, y), at(x + wide, y)], rule);
            let said = face::fit(said, SMALL_MM, Weight::Regular, wide);
            let below = at(x, y + 3.6);
            self.put(text(below, SMALL_MM, Weight::Regular, Ink::TEXT, said));
        }
        self.y += BESIDE_MM;
    }

    /// A warning: its heading and points beside a thick bar that is drawn piece by piece, so that it may run over several pages.
    fn alert(&mut self, head: &str, points: &[String]) {
        self.need(4.0 * STEP_MM);
        self.y += 2.0;
        self.blocks += 1;
        let head = (head, Weight::Bold, WARN);
        let points = points.iter();
        let points = points.map(|point| (point.as_str(), Weight::Regular, Ink::TEXT));
        let said: Vec<(usize, String, Weight, Ink)> = ([head].into_iter().chain(points))
            .enumerate()
            .flat_map(|(k, (said, weight, ink))| {
                let lines = face::wrap(said, BODY_MM, weight, self.room_mm - 7.0);
                lines.into_iter().map(move |line| (k, line, weight, ink))
            })
            .collect();
        for (k, said, weight, ink) in said {
            self.tag(&[(0, Role::Group), (k, Role::Paragraph)]);
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

    /// A name at the left and its value beside it, line by line; either may have more lines than the other.
    fn pair(&mut self, name: &str, value: &str) {
        self.need(0.0);
        let names = face::wrap(name, BODY_MM, Weight::Bold, NAMES_MM - 2.0);
        let values = face::wrap(value, BODY_MM, Weight::Regular, self.room_mm - NAMES_MM);
        self.blocks += 1;
        for k in 0..names.len().max(values.len()) {
            self.need(0.0);
            if let Some(said) = names.get(k) {
                self.tag(&[(0, Role::Paragraph), (0, Role::Span)]);
                self.line(LEFT_MM, said, BODY_MM, Weight::Bold, Ink::TEXT);
            }
            if let Some(said) = values.get(k) {
                self.tag(&[(0, Role::Paragraph), (1, Role::Span)]);
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

    /// A chart: for each bar its name, a track filled as far as its share, and its value.
    fn bars(&mut self, bars: &[Bar]) {
        let (name_mm, value_mm) = (62.0, 40.0);
        let track_mm = self.room_mm - name_mm - value_mm - 4.0;
        self.blocks += 1;
        for (k, bar) in bars.iter().enumerate() {
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
            self.tag(&[(0, Role::Table), (k, Role::Row), (1, Role::Cell)]);
            self.line(
                x + track_mm + 4.0,
                &bar.value,
                BODY_MM,
                Weight::Regular,
                Ink::TEXT,
            );
            self.tag(&[(0, Role::Table), (k, Role::Row), (0, Role::RowHead)]);
            for said in names {
                self.line(LEFT_MM, &said, BODY_MM, Weight::Regular, Ink::TEXT);
                self.y += STEP_MM;
            }
            self.y += 1.0;
        }
        self.y += 1.0;
    }
}
