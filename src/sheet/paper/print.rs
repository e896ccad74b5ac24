//! A sheet as printed pages, all of one size: text with figures among it, and drawings to scale, each on a page of its own. Blocks flow
//! from the top of a page downwards until it is full; then the page is turned. Each is tagged with its role for those who
//! have the page read out. All lengths are in millimetres.

mod blocks;
mod tables;

use super::super::block::{Block, Paper};
use super::super::board::{
    Anchor, Ink, Mark, Page, Place, Role, Shown, Stroke, Text, Weight, at, face, pdf, text,
};
use super::super::plan::size_mm;
use crate::job::people::PaperSize;

const LEFT_MM: f64 = 18.0;
const TOP_MM: f64 = 17.0;
/// So much is kept free below the last line of a page.
const FOOT_MM: f64 = 18.0;
/// A logo is no larger than this.
const LOGO_MM: (f64, f64) = (52.0, 18.0);
/// Size of the text and distance of its lines: 9.5 point type on 13 point lines.
const BODY_MM: f64 = 3.35;
const STEP_MM: f64 = 4.6;
const SMALL_MM: f64 = 2.6;
/// Width of the column in which the names of pairs stand.
const NAMES_MM: f64 = 36.0;
const EDGE: Ink = Ink(0x1f, 0x4d, 0x2b);
const WARN: Ink = Ink(0x7a, 0x1f, 0x0a);

/// What is said at the end of a sheet with names in letters that its font does not have: Arabic, Hebrew, Chinese, Japanese, Korean and
/// others.
const BOXES: &str = "An empty box stands for a letter that the type of this sheet, Noto Sans, does not have. sheet.html shows it wherever a font has it: \
     print that from a browser, on a machine with a font such as Noto Sans Arabic, Hebrew, Devanagari or CJK.";

/// The sheet as the bytes of a PDF.
#[must_use]
pub fn printed(paper: &Paper) -> Vec<u8> {
    let title = format!("{}: {}", paper.kind, paper.about);
    pdf::document(&pages(paper), &title)
}

/// The sheet's pages, numbered.
#[must_use]
pub fn pages(paper: &Paper) -> Vec<Page> {
    flowed(paper).finish()
}

/// How much of its first page a sheet leaves free; 0 where it has more than one.
pub(crate) fn left_mm(paper: &Paper) -> f64 {
    let flow = flowed(paper);
    match flow.done.is_empty() {
        true => flow.bottom() - flow.y,
        false => 0.0,
    }
}

/// How wide text and figures are on this paper.
pub(crate) fn room_mm(size: PaperSize) -> f64 {
    size_mm(size).0 - 2.0 * LEFT_MM
}

/// The sheet with all its blocks laid out, before its pages are numbered.
fn flowed(paper: &Paper) -> Flow<'_> {
    let mut flow = Flow::new(paper);
    flow.head();
    let mut blocks = paper.blocks.iter().peekable();
    while let Some(block) = blocks.next() {
        // A heading stays on one page with the beginning of what follows it. Before a drawing, which has a page and a title of its own, it
        // is left out.
        if let Block::Heading(said) = block {
            match blocks.peek() {
                Some(Block::Plan(_)) => continue,
                Some(next) => flow.heading(said, least(next, flow.room_mm)),
                None => {}
            }
            continue;
        }
        flow.block(block);
    }
    if flow.has_boxes() {
        flow.block(&Block::Say(BOXES.to_owned()));
    }
    flow
}

/// The text with a capital letter first.
pub(in crate::sheet) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// Height that two lines to write on take when they stand beside each other.
const BESIDE_MM: f64 = 16.0;

/// How much room the beginning of a block needs.
fn least(block: &Block, room_mm: f64) -> f64 {
    match block {
        Block::Table(table) => tables::least_mm(table, room_mm),
        Block::Write(lines) => written_mm(lines),
        _ => 2.5 * STEP_MM,
    }
}

/// How much room lines to write on need to stay together on one page. With very many it is limited, and they are split.
fn written_mm(lines: &[String]) -> f64 {
    if lines.len() == 2 {
        return BESIDE_MM;
    }
    (8.0 * lines.len() as f64 + 3.0).min(150.0)
}

/// The sheet while it is being laid out.
struct Flow<'a> {
    size: (f64, f64),
    room_mm: f64,
    paper: &'a Paper,
    done: Vec<Page>,
    /// Drawings that come after the page being written.
    waiting: Vec<Page>,
    page: Page,
    y: f64,
    /// Where in the tree for reading out the text being written stands.
    place: Place,
    /// How many blocks there were so far (a list of points counts as one), and how many points the list being written has.
    blocks: usize,
    points: usize,
}

impl<'a> Flow<'a> {
    fn new(paper: &'a Paper) -> Flow<'a> {
        let size = size_mm(paper.size);
        Flow {
            size,
            room_mm: room_mm(paper.size),
            paper,
            done: Vec::new(),
            waiting: Vec::new(),
            page: Page::new(size.0, size.1, ""),
            y: TOP_MM,
            place: Vec::new(),
            blocks: 0,
            points: 0,
        }
    }

    /// What is drawn from now on is this part of the block being written; with an empty list it is not read out. The first role of
    /// `within` is the block's own.
    fn tag(&mut self, within: &[(usize, Role)]) {
        self.place = match within.split_first() {
            Some(((_, role), inner)) => [&[(self.blocks, *role)], inner].concat(),
            None => Vec::new(),
        };
        self.page.begin(self.place.clone(), "");
    }

    /// What is drawn from now on is a new block with this role.
    fn tag_next(&mut self, role: Role) {
        self.blocks += 1;
        self.tag(&[(0, role)]);
    }

    /// Whether some letter is not in the font, so that an empty box is drawn for it.
    fn has_boxes(&self) -> bool {
        let pages = self.done.iter().chain(&self.waiting).chain([&self.page]);
        let mut marks = pages.flat_map(Page::each);
        marks.any(|(_, mark)| match mark {
            Mark::Text(text) => !face::has_all(&text.text, text.weight),
            _ => false,
        })
    }

    fn bottom(&self) -> f64 {
        self.size.1 - FOOT_MM
    }

    fn put(&mut self, text: Text) {
        self.page.marks.push(Mark::Text(text));
    }

    fn line(&mut self, x: f64, said: &str, size: f64, weight: Weight, ink: Ink) {
        self.put(text(at(x, self.y), size, weight, ink, said));
    }

    /// Ends the page, puts the drawings that wait after it, and begins the next with a line that says which sheet it belongs to.
    fn turn(&mut self) {
        let page = std::mem::replace(&mut self.page, Page::new(self.size.0, self.size.1, ""));
        self.done.push(page);
        self.done.append(&mut self.waiting);
        self.y = TOP_MM;
        let said = face::fit(
            &format!("{}: {}", self.paper.kind, self.paper.about),
            SMALL_MM,
            Weight::Regular,
            self.room_mm,
        );
        self.line(LEFT_MM, &said, SMALL_MM, Weight::Regular, Ink::SOFT);
        self.page.line(
            &[
                at(LEFT_MM, TOP_MM + 1.6),
                at(LEFT_MM + self.room_mm, TOP_MM + 1.6),
            ],
            Stroke::whole(Ink::RULE, 0.2),
        );
        self.y += 9.0;
        self.page.begin(self.place.clone(), "");
    }

    /// Turns the page unless at least so much of it is left.
    fn need(&mut self, mm: f64) {
        if self.y + mm > self.bottom() {
            self.turn();
        }
    }

    /// What stands at the top of the first page: letterhead, kind of sheet, what it is about, date.
    fn head(&mut self) {
        self.letterhead();
        self.y += 3.0;
        self.tag_next(Role::Title);
        self.line(LEFT_MM, self.paper.kind, 6.2, Weight::Bold, Ink::TEXT);
        self.y += 6.0;
        self.tag_next(Role::Paragraph);
        for said in face::wrap(&self.paper.about, 4.0, Weight::Regular, self.room_mm) {
            self.line(LEFT_MM, &said, 4.0, Weight::Regular, Ink::TEXT);
            self.y += 5.2;
        }
        if !self.paper.date.is_empty() {
            self.tag_next(Role::Paragraph);
            let said = face::fit(
                &capital(&self.paper.date),
                BODY_MM,
                Weight::Regular,
                self.room_mm,
            );
            self.line(LEFT_MM, &said, BODY_MM, Weight::Regular, Ink::SOFT);
            self.y += 3.2;
        }
        self.page.line(
            &[at(LEFT_MM, self.y), at(LEFT_MM + self.room_mm, self.y)],
            Stroke::whole(EDGE, 0.7),
        );
        self.y += 7.5;
    }

    /// The firm's logo at the left and its lines at the right; nothing where no firm is given.
    fn letterhead(&mut self) {
        let firm = &self.paper.firm;
        let mut low = self.y;
        if let Some(picture) = &firm.logo {
            let (wide, tall) = (f64::from(picture.width), f64::from(picture.height));
            let mm = (LOGO_MM.0 / wide).min(LOGO_MM.1 / tall);
            let top = self.y - 4.0;
            self.tag_next(Role::Figure);
            self.page
                .tell(firm.lines.first().map_or("Logo", String::as_str));
            self.page.marks.push(Mark::Picture(Shown {
                picture: picture.clone(),
                at: at(LEFT_MM, top),
                width_mm: mm * wide,
                height_mm: mm * tall,
            }));
            low = top + mm * tall;
        }
        for (k, said) in firm.lines.iter().enumerate() {
            self.tag_next(Role::Paragraph);
            let (weight, size) = match k {
                0 => (Weight::Bold, BODY_MM),
                _ => (Weight::Regular, SMALL_MM),
            };
            let said = face::fit(said, size, weight, self.room_mm - LOGO_MM.0 - 6.0);
            self.put(Text {
                anchor: Anchor::End,
                ..text(
                    at(LEFT_MM + self.room_mm, self.y),
                    size,
                    weight,
                    Ink::TEXT,
                    said,
                )
            });
            self.y += if k == 0 { 4.4 } else { 3.6 };
        }
        if self.y > TOP_MM || low > TOP_MM {
            self.y = self.y.max(low) + 4.0;
        }
    }

    /// All pages, each with its number and the caution at its foot, which are not read out.
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
            page.begin(Vec::new(), "");
            let margin = if page.title.is_empty() { LEFT_MM } else { 10.0 };
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

#[cfg(test)]
mod tests {
    use super::super::super::block::Table;
    use super::*;

    fn sheet(blocks: Vec<Block>) -> Paper {
        Paper {
            kind: "Crew sheet",
            about: "a site".into(),
            date: String::new(),
            size: PaperSize::A4,
            firm: Default::default(),
            blocks,
        }
    }

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
            size: PaperSize::A4,
            firm: Default::default(),
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
                        start.x >= 10.0 && start.x + text.width_mm() <= 200.0,
                        "{text:?}"
                    );
                    assert!(text.at.y > 10.0 && text.at.y < 293.0, "{text:?}");
                    words += text.text.matches("another").count();
                }
            }
        }
        assert_eq!(words, 4 * 400);
    }

    /// Wherever on a page it falls, a heading stands on the page on which its table begins, folded or not.
    #[test]
    fn a_heading_stays_with_its_table() {
        let rows: Vec<Vec<String>> = (0..60)
            .map(|k| vec![k.to_string(), "cell".into()])
            .collect();
        for before in 30..60 {
            let paper = sheet(
                (0..before)
                    .map(|_| Block::Say("before".into()))
                    .chain([
                        Block::Heading("Head".into()),
                        Block::Table(Table::new(&["No", "what"], &[true, false], rows.clone())),
                    ])
                    .collect(),
            );
            let has = |page: &Page, said: &str| {
                let marks = page.each();
                let mut texts = marks.iter().filter_map(|(_, mark)| match mark {
                    Mark::Text(text) => Some(text.text.as_str()),
                    _ => None,
                });
                texts.any(|text| text == said)
            };
            let pages = pages(&paper);
            let head = pages.iter().position(|page| has(page, "Head"));
            let table = pages.iter().position(|page| has(page, "cell"));
            assert!(
                head.is_some() && head == table,
                "{before}: {head:?} {table:?}"
            );
        }
    }

    /// However cells and names beside values are drawn, each is read out whole before the next, and nothing that is drawn on
    /// every page is read out.
    #[test]
    fn what_is_read_out_is_in_the_order_of_reading() {
        let long = |word: &str| vec![word; 40].join(" ");
        let rows = vec![
            vec![long("one"), long("two")],
            vec!["".into(), "four".into()],
        ];
        let paper = sheet(vec![
            Block::Heading("Head".into()),
            Block::Pair(long("name"), long("value")),
            Block::Point("first".into()),
            Block::Point("second".into()),
            Block::Table(Table::new(&["left", "right"], &[false, true], rows)),
            Block::Say(long("last").repeat(100)),
        ]);
        let mut read: Vec<(Place, String)> = Vec::new();
        let pages = pages(&paper);
        assert!(pages.len() > 1);
        for page in &pages {
            for (part, marks) in page.in_parts() {
                for mark in marks {
                    if let (Some(part), Mark::Text(text)) = (part, mark)
                        && part.reads(mark)
                        && !part.place.is_empty()
                    {
                        read.push((part.place.clone(), text.text.clone()));
                    }
                }
            }
        }
        read.sort_by(|a, b| a.0.cmp(&b.0));
        let said: Vec<&str> = read.iter().flat_map(|(_, said)| said.split(' ')).collect();
        let mut said: Vec<&str> = said;
        said.dedup();
        let words = "Crew sheet a site Head name value first second left right one two four last";
        assert_eq!(said[..15], words.split(' ').collect::<Vec<_>>());
        let lists = read.iter().filter(|(place, _)| place[0].1 == Role::List);
        let lists: Vec<usize> = lists.map(|(place, _)| place[0].0).collect();
        assert_eq!(lists.len(), 2, "two points");
        assert_eq!(lists[0], lists[1], "of one list");
    }
}
