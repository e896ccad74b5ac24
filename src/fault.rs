//! The error type of the library. A fault says what went wrong, in which file and line, and what to do next; its [`Kind`] decides the
//! exit code of the program.

pub mod document;

use crate::refusal::Refusal;
use std::fmt;

/// How a fault ends the work. It decides the exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The call or the job sheet is wrong (exit code 2).
    Usage,
    /// Nothing could be read (exit code 1).
    Unreadable,
    /// Read, but no honest number can be given (exit code 3).
    Withheld,
}

/// The one error type of the library: a sentence on what was wrong, the place, and advice.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault(Box<Inner>);

#[derive(Debug, Clone, PartialEq)]
struct Inner {
    kind: Kind,
    code: &'static str,
    file: Option<String>,
    line: Option<u64>,
    what: String,
    advice: String,
    refusal: Option<Refusal>,
    off_grid: Option<(f64, f64)>,
}

impl From<Refusal> for Fault {
    fn from(refusal: Refusal) -> Fault {
        let mut fault = Fault::withheld(refusal.code(), refusal.seen(), refusal.advice());
        fault.0.refusal = Some(refusal);
        fault
    }
}

impl Fault {
    /// `code` is a stable short name in kebab-case, `what` a sentence on what was seen,
    /// `advice` a sentence on what to do next.
    pub fn new(
        kind: Kind,
        code: &'static str,
        what: impl Into<String>,
        advice: impl Into<String>,
    ) -> Fault {
        Fault(Box::new(Inner {
            kind,
            code,
            file: None,
            line: None,
            what: what.into(),
            advice: advice.into(),
            refusal: None,
            off_grid: None,
        }))
    }
    /// The call or the job sheet is wrong.
    pub fn usage(code: &'static str, what: impl Into<String>, advice: impl Into<String>) -> Fault {
        Fault::new(Kind::Usage, code, what, advice)
    }
    /// Nothing could be read.
    pub fn unreadable(
        code: &'static str,
        what: impl Into<String>,
        advice: impl Into<String>,
    ) -> Fault {
        Fault::new(Kind::Unreadable, code, what, advice)
    }
    /// Read, but no honest number can be given.
    pub fn withheld(
        code: &'static str,
        what: impl Into<String>,
        advice: impl Into<String>,
    ) -> Fault {
        Fault::new(Kind::Withheld, code, what, advice)
    }
    /// Names the file it happened in.
    #[must_use]
    pub fn in_file(mut self, file: impl Into<String>) -> Fault {
        self.0.file = Some(file.into());
        self
    }
    /// Names the line, from 1.
    #[must_use]
    pub fn at_line(mut self, line: u64) -> Fault {
        self.0.line = Some(line);
        self
    }
    /// The same fault with another sentence on what was seen.
    pub(crate) fn saying(mut self, what: String) -> Fault {
        self.0.what = what;
        self
    }
    /// The same fault with another sentence on what to do next.
    pub(crate) fn advising(mut self, advice: String) -> Fault {
        self.0.advice = advice;
        self
    }
    /// Why a survey that was read gives no area; `None` for a fault of another kind.
    #[must_use]
    pub fn refusal(&self) -> Option<&Refusal> {
        self.0.refusal.as_ref()
    }
    /// Marks the fault as one where nothing says which national grid this easting and northing belong to.
    #[must_use]
    pub(crate) fn of_no_grid(mut self, numbers: (f64, f64)) -> Fault {
        self.0.off_grid = Some(numbers);
        self
    }
    /// The easting and northing of which no grid is known, where that is what was wrong.
    pub(crate) fn off_grid(&self) -> Option<(f64, f64)> {
        self.0.off_grid
    }
    /// How it ends the work.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.0.kind
    }
    /// A stable short name in kebab-case.
    #[must_use]
    pub fn code(&self) -> &'static str {
        self.0.code
    }
    /// The file it happened in, as it was named.
    #[must_use]
    pub fn file(&self) -> Option<&str> {
        self.0.file.as_deref()
    }
    /// The line, from 1.
    #[must_use]
    pub fn line(&self) -> Option<u64> {
        self.0.line
    }
    /// A sentence on what was seen.
    #[must_use]
    pub fn what(&self) -> &str {
        &self.0.what
    }
    /// A sentence on what to do next; may be empty.
    #[must_use]
    pub fn advice(&self) -> &str {
        &self.0.advice
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.0.file, self.0.line) {
            (Some(file), Some(line)) => write!(f, "{file} line {line}: ")?,
            (Some(file), None) => write!(f, "{file}: ")?,
            (None, Some(line)) => write!(f, "line {line}: ")?,
            (None, None) => {}
        }
        write!(f, "{}", self.0.what)?;
        if !self.0.advice.is_empty() {
            write!(f, " {}", self.0.advice)?;
        }
        Ok(())
    }
}

impl std::error::Error for Fault {}
