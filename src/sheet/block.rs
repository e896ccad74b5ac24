//! What a sheet for people says, as a list of blocks, without how it is laid out. The same blocks are laid out as HTML and as
//! printed pages (`paper`), so both say the same.

#[cfg(feature = "sheets")]
use super::board::Page;
#[cfg(feature = "sheets")]
use crate::job::people::PaperSize;
#[cfg(feature = "sheets")]
use crate::picture::Picture;

/// One piece of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    Heading(String),
    /// The one number the whole sheet is about, and a line or two about it.
    Lead(String, Vec<String>),
    /// What must be seen before the rest.
    Alert(String, Vec<String>),
    /// A name and its value. Where the name is empty, the value is one more line of the pair before.
    Pair(String, String),
    Say(String),
    /// One point of a list; points that follow each other are one list.
    Point(String),
    Table(Table),
    /// Shares of a whole, the largest first.
    Bars(Vec<Bar>),
    /// A drawing that gets a page of its own on paper.
    #[cfg(feature = "sheets")]
    Plan(Box<Page>),
    /// A drawing among the text.
    #[cfg(feature = "sheets")]
    Figure(Box<Page>),
    /// Lines to write on by hand.
    Write(Vec<String>),
}

#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    /// The columns' names; empty texts where a column needs none.
    pub head: Vec<String>,
    pub rows: Vec<Vec<String>>,
    /// For each column whether it is set to the right, as numbers are.
    pub right: Vec<bool>,
}

impl Table {
    /// A table of three columns: names, amounts in `unit`, remarks.
    pub(crate) fn amounts(
        names: &str,
        remarks: &str,
        rows: &[(String, String, String)],
        unit: &str,
    ) -> Table {
        Table {
            head: vec![names.to_owned(), unit.to_owned(), remarks.to_owned()],
            rows: rows
                .iter()
                .map(|(name, amount, remark)| vec![name.clone(), amount.clone(), remark.clone()])
                .collect(),
            right: vec![false, true, false],
        }
    }

    pub(crate) fn new(head: &[&str], right: &[bool], rows: Vec<Vec<String>>) -> Table {
        Table {
            head: head.iter().map(|cell| (*cell).to_owned()).collect(),
            rows,
            right: right.to_vec(),
        }
    }
}

/// One bar of a chart of shares.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    pub name: String,
    pub value: String,
    /// Its share of the whole, 0 to 1.
    pub share: f64,
}

/// A sheet for people.
#[derive(Debug, Clone, PartialEq)]
pub struct Paper {
    /// What sort of sheet it is, such as "Lawn area" or "Crew sheet".
    pub kind: &'static str,
    /// Which job, site or survey it is about.
    pub about: String,
    pub date: String,
    #[cfg(feature = "sheets")]
    pub size: PaperSize,
    /// The firm that hands it out.
    #[cfg(feature = "sheets")]
    pub firm: Letterhead,
    pub blocks: Vec<Block>,
}

/// The firm's name, address and logo as they stand at the top of its sheets.
#[cfg(feature = "sheets")]
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Letterhead {
    /// The firm's lines of text, the name first; none where no firm is given.
    pub lines: Vec<String>,
    pub logo: Option<Picture>,
}
