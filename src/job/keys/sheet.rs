//! A TOML sheet that was parsed, with its lines, the settings that were asked for, and every fault that was found while reading it.

use super::Keys;
use crate::fault::Fault;
use serde::Serialize;
use std::cell::RefCell;
use std::fmt;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Every fault of a sheet, in the order of its lines. Never empty.
#[derive(Debug, Clone)]
pub struct Faults(pub Vec<Fault>);

impl Faults {
    /// The first of them as one fault, which says how many more there are. `shown` is the name of the sheet in its advice.
    pub(crate) fn first(self, shown: &str) -> Fault {
        let more = self.0.len().saturating_sub(1);
        match self.0.into_iter().next() {
            Some(first) if more > 0 => Fault::new(
                first.kind(),
                first.code(),
                format!("{first} ({more} more in this sheet.)"),
                format!("`boundwalk job {shown}` shows them all."),
            ),
            Some(first) => first,
            None => Fault::usage("job-sheet", "the job sheet has faults.", "").in_file(shown),
        }
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, fault) in self.0.iter().enumerate() {
            if at > 0 {
                writeln!(f)?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}

/// Where a setting came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// Written in the sheet, on this line.
    Sheet { line: u64 },
    /// Written in the rates file that the sheet names, on this line.
    Rates { line: u64 },
    /// Asked in the call, which wins over the sheet.
    Call,
    /// The default: it is not written anywhere.
    Default,
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Origin::Sheet { line } => write!(f, "job sheet, line {line}"),
            Origin::Rates { line } => write!(f, "rates file, line {line}"),
            Origin::Call => f.write_str("asked, before the job sheet"),
            Origin::Default => f.write_str("default"),
        }
    }
}

/// One setting as it was used, for documents that show what a number rests on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Setting {
    /// Table and key, such as `order.soil.depth_m` or `[[bed]] number 2 radius_m`.
    pub key: String,
    /// As written in the sheet, or the default.
    pub value: String,
    pub from: Origin,
}

/// Up to this many lines that are not TOML are slips of the pen, each of which is told. A file with more, and mostly broken lines, is no
/// job sheet.
const SLIPS: usize = 10;

/// A parsed sheet and what was found while reading it.
#[derive(Debug)]
pub struct Sheet<'t> {
    pub(super) text: &'t str,
    /// Whether faults may show what is written, and not only where.
    pub(super) shown: bool,
    name: String,
    line_starts: Vec<usize>,
    root: Spanned<DeTable<'t>>,
    /// Every fault with the byte offset that it is about.
    found: RefCell<Vec<(usize, Fault)>>,
    pub(super) settings: RefCell<Vec<(usize, Setting)>>,
    /// Lines that the TOML parser could not read. They get no second fault, as what it put in their place is not what was written.
    broken_lines: Vec<u64>,
}

impl<'t> Sheet<'t> {
    /// Parses `text`; `name` is what faults call the file. Always succeeds: what is not TOML is a fault like any
    /// other, and the rest of the sheet is read as far as it can be.
    pub(crate) fn parse(text: &'t str, name: &str) -> Sheet<'t> {
        Sheet::parse_as(text, name, true)
    }

    /// As [`Sheet::parse`], of a file that another one names: no fault shows anything of it but keys.
    pub(in crate::job) fn parse_unshown(text: &'t str, name: &str) -> Sheet<'t> {
        Sheet::parse_as(text, name, false)
    }

    fn parse_as(text: &'t str, name: &str, shown: bool) -> Sheet<'t> {
        let line_starts = std::iter::once(0)
            .chain(memchr::memchr_iter(b'\n', text.as_bytes()).map(|at| at + 1))
            .collect();
        let (root, errors) = DeTable::parse_recoverable(text);
        let mut sheet = Sheet {
            text,
            shown,
            name: name.to_owned(),
            line_starts,
            root,
            found: RefCell::default(),
            settings: RefCell::default(),
            broken_lines: Vec::new(),
        };
        for error in errors {
            let at = error.span().map_or(text.len(), |span| span.start);
            let line = sheet.line_at(at);
            if sheet.broken_lines.contains(&line) {
                continue;
            }
            // The fault does not show the line itself: the file may be any file that was named by a sheet, or by mistake.
            let fault = Fault::usage(
                "not-toml",
                format!(
                    "this line is not TOML ({}).",
                    error.message().trim().replace('\n', "; "),
                ),
                "Write one `key = value` a line, texts in double quotes, tables as [name] or [[name]].",
            );
            sheet.push(at, fault);
            sheet.broken_lines.push(line);
        }
        let (broken, lines) = (sheet.broken_lines.len(), sheet.line_starts.len());
        // For a rates file, of which nothing is shown, the caller counts the broken lines.
        if shown && broken > SLIPS && 2 * broken > lines {
            sheet.found.borrow_mut().clear();
            let fault = Fault::usage(
                "not-toml",
                format!("this is no job sheet: {broken} of its {lines} lines are not TOML."),
                "Name the job sheet here; logs go in its [walk], or are named to `boundwalk measure` by themselves.",
            );
            let first = sheet.broken_lines.first().copied().unwrap_or(1);
            let fault = fault.in_file(sheet.name.clone()).at_line(first);
            sheet.found.borrow_mut().push((0, fault));
        }
        sheet
    }

    /// Whether a table at the top of the sheet has this key, rightly or wrongly.
    pub(super) fn has(&self, table: &str, key: &str) -> bool {
        let table = self.root.get_ref().get(table).map(|table| table.get_ref());
        matches!(table, Some(DeValue::Table(table)) if table.contains_key(key))
    }

    /// The table at the top of the sheet.
    pub(crate) fn root(&self) -> Keys<'_> {
        Keys {
            sheet: self,
            name: String::new(),
            at: 0,
            table: self.root.get_ref(),
            asked: Vec::new(),
        }
    }

    /// Line of a byte offset, from 1.
    pub(super) fn line_at(&self, at: usize) -> u64 {
        self.line_starts.partition_point(|&start| start <= at) as u64
    }

    /// Records a fault about the byte `at`, unless its line is one that the TOML parser could not read.
    pub(super) fn push(&self, at: usize, fault: Fault) {
        let line = self.line_at(at);
        if self.broken_lines.contains(&line) {
            return;
        }
        // A fault of a file that the sheet names has its own file and line already.
        let fault = match fault.file() {
            Some(_) => fault,
            None => fault.in_file(self.name.clone()).at_line(line),
        };
        self.found.borrow_mut().push((at, fault));
    }

    /// Every setting that was asked for: those of the sheet in its order, then defaults.
    fn settings(&self) -> Vec<Setting> {
        let mut all = self.settings.borrow().clone();
        all.sort_by_key(|(at, _)| *at);
        all.into_iter().map(|(_, setting)| setting).collect()
    }

    /// Ends the reading, and gives the settings.
    ///
    /// # Errors
    /// All faults found, in the order of their lines.
    pub(crate) fn finish(self) -> Result<Vec<Setting>, Faults> {
        let settings = self.settings();
        let mut found = self.found.into_inner();
        if found.is_empty() {
            return Ok(settings);
        }
        found.sort_by_key(|(at, _)| *at);
        Err(Faults(found.into_iter().map(|(_, fault)| fault).collect()))
    }
}

/// A text cut to 50 characters, so that it fits into one line of a message.
pub(super) fn clip(text: &str) -> String {
    if text.chars().count() <= 50 {
        text.to_owned()
    } else {
        let mut short: String = text.chars().take(49).collect();
        short.push('…');
        short
    }
}
