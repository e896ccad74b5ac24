//! The tags of a PDF, by which a screen reader reads it out (ISO 32000-1:2008, 14.7 and 14.8). They are a tree of headings, paragraphs,
//! lists, tables and figures in the order of reading, whose leaves are numbered runs of marks on the pages. Marks outside the
//! tree are called artifacts and are not read out.

use super::objects::Objects;
use super::{Part, Role};
use pdf_writer::types::{StructRole, TableHeaderScope};
use pdf_writer::writers::{StructElement, StructTreeRoot};
use pdf_writer::{Pdf, Ref, TextStr};
use std::collections::BTreeMap;

impl Role {
    /// The standard's name for the role.
    pub(crate) fn standard(self) -> StructRole {
        match self {
            Role::Title => StructRole::H1,
            Role::Heading => StructRole::H2,
            Role::Paragraph => StructRole::P,
            Role::Group => StructRole::Div,
            Role::Span => StructRole::Span,
            Role::List => StructRole::L,
            Role::Item => StructRole::LI,
            Role::ItemBody => StructRole::LBody,
            Role::Table => StructRole::Table,
            Role::Row => StructRole::TR,
            Role::Head | Role::RowHead => StructRole::TH,
            Role::Cell => StructRole::TD,
            Role::Figure => StructRole::Figure,
        }
    }
}

/// A place in the tree, as [`super::Place`] has it.
type At<'a> = &'a [(usize, Role)];

/// One element of the tree.
#[derive(Default)]
struct Element<'a> {
    /// The description of a figure; else empty.
    told: &'a str,
    /// Its runs of marks: the page's index and the run's number on that page.
    runs: Vec<(usize, i32)>,
    /// The elements in it.
    inner: Vec<Ref>,
}

/// The tree being gathered while pages are written.
#[derive(Default)]
pub struct Tags<'a> {
    elements: BTreeMap<At<'a>, Element<'a>>,
    /// For each page, the element that each of its runs belongs to.
    owners: Vec<Vec<At<'a>>>,
}

impl<'a> Tags<'a> {
    /// Begins the next page.
    pub(crate) fn page(&mut self) {
        self.owners.push(Vec::new());
    }

    /// Puts a part, and all that holds it, into the tree. It is there even where nothing is drawn: an empty cell of a table keeps those
    /// after it in their columns.
    pub(crate) fn part(&mut self, part: &'a Part) {
        for depth in 1..=part.place.len() {
            self.elements.entry(&part.place[..depth]).or_default();
        }
        if let Some(element) = self.elements.get_mut(part.place.as_slice())
            && !part.told.is_empty()
        {
            element.told = &part.told;
        }
    }

    /// Begins a run of marks of this part on the page begun last, and gives its number on that page, from 0.
    pub(crate) fn run(&mut self, part: &'a Part) -> i32 {
        let page = self.owners.len().saturating_sub(1);
        let Some(owners) = self.owners.last_mut() else {
            return 0;
        };
        let number = i32::try_from(owners.len()).unwrap_or(i32::MAX);
        owners.push(&part.place);
        if let Some(element) = self.elements.get_mut(part.place.as_slice()) {
            element.runs.push((page, number));
        }
        number
    }

    /// Writes the tree's root into `pdf`. The elements below it are small objects by the hundred, numbered one after another; they come
    /// back to be packed.
    pub(crate) fn write(
        mut self,
        root: Ref,
        pages: &[Ref],
        pdf: &mut Pdf,
        mut id: impl FnMut() -> Ref,
    ) -> Objects {
        let mut objects = Objects::default();
        let whole: At = &[];
        self.elements.entry(whole).or_default();
        let ids: BTreeMap<At, Ref> = self.elements.keys().map(|at| (*at, id())).collect();
        for (at, own) in &ids {
            if let Some((_, outer)) = at.split_last()
                && let Some(outer) = self.elements.get_mut(outer)
            {
                outer.inner.push(*own);
            }
        }
        for (at, element) in &self.elements {
            let mut written = objects.add(ids[at]).struct_element(ids[at]);
            match at.split_last() {
                None => written.kind(StructRole::Document).parent(root),
                Some(((_, role), outer)) => written.kind(role.standard()).parent(ids[outer]),
            };
            match at.last() {
                Some((_, Role::Head)) => scope(&mut written, TableHeaderScope::Column),
                Some((_, Role::RowHead)) => scope(&mut written, TableHeaderScope::Row),
                _ => {}
            }
            element.write(pages, written);
        }
        let owners: Vec<Ref> = self.owners.iter().map(|_| id()).collect();
        for (owners, own) in self.owners.iter().zip(&owners) {
            let mut array = objects.add(*own).indirect(*own).array();
            array.items(owners.iter().map(|at| ids[at]));
        }
        let mut written = pdf.indirect(root).start::<StructTreeRoot<'_>>();
        written.child(ids[whole]);
        let mut tree = written.parent_tree();
        let mut numbers = tree.nums();
        for (page, owners) in (0..).zip(owners) {
            numbers.insert(page, owners);
        }
        objects
    }
}

impl Element<'_> {
    fn write(&self, pages: &[Ref], mut written: StructElement<'_>) {
        if !self.told.is_empty() {
            written.alt(TextStr(self.told));
        }
        let first = self.runs.first().map(|run| run.0);
        if let Some(first) = first {
            written.page(pages[first]);
        }
        // Runs on the element's first page need only their number, those on other pages their page as well.
        let mut children = written.children();
        for (page, number) in &self.runs {
            if Some(*page) == first {
                children.marked_content_id(*number);
            } else {
                let mut run = children.marked_content_ref();
                run.page(pages[*page]).marked_content_id(*number);
            }
        }
        for inner in &self.inner {
            children.struct_element(*inner);
        }
    }
}

/// Says of a heading cell whether it names its column or its row.
fn scope(written: &mut StructElement<'_>, scope: TableHeaderScope) {
    written.attributes().push().table().scope(scope);
}
