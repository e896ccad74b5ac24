//! What a sheet says, without how it is laid out.

#[cfg(feature = "sheets")]
use super::board::{Page, picture::Picture};
#[cfg(feature = "sheets")]
use crate::job::people::PaperSize;

/// One piece of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    Heading(String),
    /// The number of the whole sheet, and a line or two about it.
    Lead(String, Vec<String>),
    /// What must be seen before the rest.
    Alert(String, Vec<String>),
    /// A name and its value; an empty name goes on with the one before.
    Pair(String, String),
    Say(String),
    /// One of a list.
    Point(String),
    Table(Table),
    /// Shares of a whole, the largest first.
    Bars(Vec<Bar>),
    /// A drawing, on paper a page of its own.
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
    /// Empty texts where a column needs no name.
    pub head: Vec<String>,
    pub rows: Vec<Vec<String>>,
    /// Set to the right, column by column.
    pub right: Vec<bool>,
}

impl Table {
    /// Names, amounts with their unit, remarks.
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

#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    pub name: String,
    pub value: String,
    /// 0 to 1.
    pub share: f64,
}

/// A sheet for people.
#[derive(Debug, Clone, PartialEq)]
pub struct Paper {
    /// "Lawn area", "Crew sheet".
    pub kind: &'static str,
    /// Whose.
    pub about: String,
    pub date: String,
    #[cfg(feature = "sheets")]
    pub size: PaperSize,
    /// Whose paper it is.
    #[cfg(feature = "sheets")]
    pub firm: Letterhead,
    pub blocks: Vec<Block>,
}

/// What stands above a sheet of a firm's.
#[cfg(feature = "sheets")]
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Letterhead {
    /// The name first.
    pub lines: Vec<String>,
    pub logo: Option<Picture>,
}
