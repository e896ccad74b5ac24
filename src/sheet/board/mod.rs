//! The drawing board: marks on paper and the forms in which they are written (SVG, PDF, PNG). Places are in millimetres from the
//! top left corner of the page, x to the right and y downwards. What is drawn is decided once, so every form shows the same.

pub mod face;
mod glyphs;
mod objects;
pub mod pdf;
pub mod png;
pub mod svg;
mod tags;

use crate::picture::Picture;
pub use face::Weight;
use geo::Coord;

/// A colour: red, green, blue. Things are told apart by lightness, dash or hatch as well, so that a black and white print shows
/// them too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ink(pub u8, pub u8, pub u8);

impl Ink {
    pub(crate) const TEXT: Ink = Ink(0x16, 0x20, 0x1b);
    /// For what matters less. Its contrast on white is at least 7:1, so that it passes WCAG 2.2, 1.4.6.
    pub(crate) const SOFT: Ink = Ink(0x4a, 0x55, 0x50);
    pub(crate) const RULE: Ink = Ink(0xb4, 0xbd, 0xb7);
    pub(crate) const WHITE: Ink = Ink(0xff, 0xff, 0xff);
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    pub ink: Ink,
    pub width_mm: f64,
    /// Lengths of dashes and gaps in turn; empty for an unbroken line.
    pub dash_mm: &'static [f64],
}

impl Stroke {
    pub(crate) const fn whole(ink: Ink, width_mm: f64) -> Stroke {
        Stroke {
            ink,
            width_mm,
            dash_mm: &[],
        }
    }
}

/// Lines, open or closed. Closed ones may be filled, by the even-odd rule: what lies inside two of them is not filled, so holes stay
/// open.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    pub lines: Vec<Vec<Coord<f64>>>,
    pub closed: bool,
    pub fill: Option<Ink>,
    pub stroke: Option<Stroke>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Circle {
    pub centre: Coord<f64>,
    pub radius_mm: f64,
    pub fill: Option<Ink>,
    pub stroke: Option<Stroke>,
}

/// Which part of a text stands at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// One line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    pub text: String,
    /// Its place on the base line, which the letters stand on; `anchor` says which part of the text stands there.
    pub at: Coord<f64>,
    /// The font's size (its em).
    pub size_mm: f64,
    pub weight: Weight,
    pub anchor: Anchor,
    /// How far it is turned, clockwise on the paper.
    pub turn_deg: f64,
    pub ink: Ink,
}

impl Text {
    pub(crate) fn width_mm(&self) -> f64 {
        face::width_mm(&self.text, self.size_mm, self.weight)
    }

    /// Where the base line begins.
    pub(crate) fn start(&self) -> Coord<f64> {
        let back = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => 0.5 * self.width_mm(),
            Anchor::End => self.width_mm(),
        };
        let (sin, cos) = self.turn_deg.to_radians().sin_cos();
        Coord {
            x: self.at.x - back * cos,
            y: self.at.y - back * sin,
        }
    }
}

/// Marks that belong together. On a screen they may show more when pointed at.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// What it is, such as "corner", "bed" or "leader".
    pub class: &'static str,
    /// A heading and a text that a screen shows on hover, tap or keyboard focus.
    pub tip: Option<(String, String)>,
    pub marks: Vec<Mark>,
}

/// A picture that the user gave, with its place and size on the page.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    pub picture: Picture,
    /// Its top left corner.
    pub at: Coord<f64>,
    pub width_mm: f64,
    pub height_mm: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    Path(Path),
    Circle(Circle),
    Text(Text),
    Picture(Shown),
    Group(Group),
}

impl Mark {
    /// The same mark, moved on the paper.
    #[must_use]
    pub(crate) fn moved(mut self, by: Coord<f64>) -> Mark {
        match &mut self {
            Mark::Path(path) => {
                for place in path.lines.iter_mut().flatten() {
                    *place = *place + by;
                }
            }
            Mark::Circle(circle) => circle.centre = circle.centre + by,
            Mark::Text(text) => text.at = text.at + by,
            Mark::Picture(shown) => shown.at = shown.at + by,
            Mark::Group(group) => {
                let marks = std::mem::take(&mut group.marks);
                group.marks = marks.into_iter().map(|mark| mark.moved(by)).collect();
            }
        }
        self
    }
}

/// What a run of marks is to somebody who has the page read out by a screen reader.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// The title of the whole document.
    Title,
    Heading,
    Paragraph,
    /// Paragraphs that belong together.
    Group,
    /// A part of a paragraph that is drawn beside another.
    Span,
    List,
    Item,
    ItemBody,
    Table,
    Row,
    /// A cell that names what stands below it.
    Head,
    /// A cell that names what stands beside it.
    RowHead,
    Cell,
    /// A drawing or picture. Its description is read out, not the words drawn in it.
    Figure,
}

/// Where in the document's tree a run of marks stands. From the outermost element inwards each step says its number within the one that
/// holds it, and what it is. Runs are read out in the order of these numbers, in whatever order they are drawn. Empty for what is not
/// read out, such as lines and page numbers.
pub type Place = Vec<(usize, Role)>;

/// A part of a page: its marks from number `from` on, up to where the next part begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    pub from: usize,
    pub place: Place,
    /// The description of a figure that is read out in its place.
    pub told: String,
}

impl Part {
    /// Whether a mark of this part is read out. In a figure all are part of it; elsewhere only texts are read, not the lines beside and
    /// below them.
    pub(crate) fn reads(&self, mark: &Mark) -> bool {
        let figure = matches!(self.place.last(), Some((_, Role::Figure)));
        figure || matches!(mark, Mark::Text(text) if !text.text.trim().is_empty())
    }
}

/// One sheet of paper.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    pub width_mm: f64,
    pub height_mm: f64,
    /// Title and description, for those who cannot see the page.
    pub title: String,
    pub about: String,
    pub marks: Vec<Mark>,
    /// Headings that a reader may jump to: how far down the page, mm, and the words.
    pub headings: Vec<(f64, String)>,
    /// The parts in the order of the marks; marks before the first part are not read out.
    pub parts: Vec<Part>,
}

impl Page {
    pub(crate) fn new(width_mm: f64, height_mm: f64, title: &str) -> Page {
        Page {
            width_mm,
            height_mm,
            title: title.to_owned(),
            about: String::new(),
            marks: Vec::new(),
            headings: Vec::new(),
            parts: Vec::new(),
        }
    }

    /// Begins a part: what is drawn from now on has this place in the tree. `told` describes a figure; else it is empty.
    pub(crate) fn begin(&mut self, place: Place, told: impl Into<String>) {
        self.parts.push(Part {
            from: self.marks.len(),
            place,
            told: told.into(),
        });
    }

    /// Sets the description of the figure that was begun last.
    pub(crate) fn tell(&mut self, told: impl Into<String>) {
        if let Some(part) = self.parts.last_mut() {
            part.told = told.into();
        }
    }

    /// The page described for somebody who cannot see it: its title and what it shows.
    pub(crate) fn told(&self) -> String {
        [self.title.as_str(), self.about.as_str()]
            .join(". ")
            .trim_matches([' ', '.'])
            .to_owned()
    }

    /// The marks of each part in turn; first those before any part, with `None`.
    pub(crate) fn in_parts(&self) -> impl Iterator<Item = (Option<&Part>, &[Mark])> {
        let starts = [(None, 0)].into_iter();
        let starts = starts.chain(self.parts.iter().map(|part| (Some(part), part.from)));
        let ends = self.parts.iter().map(|part| part.from);
        let ends = ends.chain([self.marks.len()]);
        (starts.zip(ends)).map(|((part, from), to)| (part, &self.marks[from..to]))
    }

    pub(crate) fn line(&mut self, points: &[Coord<f64>], stroke: Stroke) {
        self.marks.push(line(points, stroke));
    }

    /// Every mark, groups opened, in the order of drawing, with the class of its innermost group.
    #[must_use]
    pub fn each(&self) -> Vec<(&'static str, &Mark)> {
        each(&self.marks)
    }
}

/// As [`Page::each`].
fn each(marks: &[Mark]) -> Vec<(&'static str, &Mark)> {
    fn open<'a>(class: &'static str, marks: &'a [Mark], all: &mut Vec<(&'static str, &'a Mark)>) {
        for mark in marks {
            match mark {
                Mark::Group(group) => open(group.class, &group.marks, all),
                other => all.push((class, other)),
            }
        }
    }
    let mut all = Vec::new();
    open("", marks, &mut all);
    all
}

/// An open line.
pub(crate) fn line(points: &[Coord<f64>], stroke: Stroke) -> Mark {
    Mark::Path(Path {
        lines: vec![points.to_vec()],
        closed: false,
        fill: None,
        stroke: Some(stroke),
    })
}

/// A text that begins at its place and is not turned.
pub(crate) fn text(
    at: Coord<f64>,
    size_mm: f64,
    weight: Weight,
    ink: Ink,
    text: impl Into<String>,
) -> Text {
    Text {
        text: text.into(),
        at,
        size_mm,
        weight,
        anchor: Anchor::Start,
        turn_deg: 0.0,
        ink,
    }
}

pub(crate) fn at(x: f64, y: f64) -> Coord<f64> {
    Coord { x, y }
}
