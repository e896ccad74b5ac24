//! Gives the bytes of a file to the XML parser and knows on which line each element stands, for messages.

use std::io::{self, BufRead, Read};

/// The most bytes that one element, comment or text of a log may have.
pub(crate) const LONGEST: usize = 1 << 20;
const BLOCK: usize = 64 * 1024;

/// A buffered reader that fails on an event without an end, and knows on which line the present event began (an event is what the parser
/// gives at a time: a tag, a text, a comment). Lines are counted only where one is asked for: to count them at every event would take a tenth
/// of the time.
pub(crate) struct Lines<'a> {
    inner: &'a mut dyn Read,
    buffer: Vec<u8>,
    at: usize,
    filled: usize,
    /// The line, from 1, at the place `counted` of the buffer.
    line: u64,
    counted: usize,
    /// Where the present event began in the buffer, or on which line if that is in an earlier buffer.
    began: usize,
    began_line: Option<u64>,
    /// The last byte of the buffer before this one.
    last: u8,
    /// Bytes taken since the event began, and how many may be.
    since: usize,
    longest: usize,
}

impl<'a> Lines<'a> {
    pub(crate) fn new(inner: &'a mut dyn Read, longest: usize) -> Lines<'a> {
        Lines {
            inner,
            buffer: vec![0; BLOCK],
            at: 0,
            filled: 0,
            line: 1,
            counted: 0,
            began: 0,
            began_line: None,
            last: b'\n',
            since: 0,
            longest,
        }
    }

    /// Notes that an event of the parser begins here.
    pub(crate) fn begin(&mut self) {
        self.began = self.at;
        self.began_line = None;
        self.since = 0;
    }

    /// The line on which the present event began.
    pub(crate) fn began_line(&mut self) -> u32 {
        let line = match self.began_line {
            Some(line) => line,
            None => self.count_to(self.began),
        };
        u32::try_from(line).unwrap_or(u32::MAX)
    }

    /// The line at a place of the buffer. It must not be before a place that was asked for earlier.
    fn count_to(&mut self, to: usize) -> u64 {
        let part = self.buffer.get(self.counted..to).unwrap_or(&[]);
        self.line += memchr::memchr_iter(b'\n', part).count() as u64;
        self.counted = self.counted.max(to);
        self.line
    }

    /// The bytes of the buffer that have not been taken.
    pub(crate) fn ahead(&self) -> &[u8] {
        self.buffer.get(self.at..self.filled).unwrap_or(&[])
    }

    /// The line of what comes next.
    pub(crate) fn line_ahead(&mut self) -> u64 {
        self.count_to(self.at)
    }

    /// Takes so many of those bytes, in which so many lines end, past the parser. They count as an event of their own.
    pub(crate) fn take(&mut self, bytes: usize, line_ends: u32) {
        self.count_to(self.at);
        self.at = (self.at + bytes).min(self.filled);
        self.line += u64::from(line_ends);
        self.counted = self.at;
        self.begin();
    }

    /// Number of lines read, with a last one that has no line end.
    pub(crate) fn lines(&mut self) -> u64 {
        let line = self.count_to(self.at);
        let taken = self.buffer.get(..self.at).unwrap_or(&[]);
        line - u64::from(*taken.last().unwrap_or(&self.last) == b'\n')
    }
}

impl Read for Lines<'_> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let n = self.fill_buf()?.read(out)?;
        self.consume(n);
        Ok(n)
    }
}

impl BufRead for Lines<'_> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.at >= self.filled {
            if self.since > self.longest {
                return Err(io::Error::other("an element without an end"));
            }
            if self.began_line.is_none() {
                self.began_line = Some(self.count_to(self.began));
            }
            self.count_to(self.filled);
            let ended = self.buffer.get(..self.filled).unwrap_or(&[]);
            self.last = *ended.last().unwrap_or(&self.last);
            (self.at, self.filled, self.counted) = (0, 0, 0);
            self.filled = self.inner.read(&mut self.buffer)?;
        }
        Ok(self.ahead())
    }

    fn consume(&mut self, n: usize) {
        let to = (self.at + n).min(self.filled);
        self.since += to - self.at;
        self.at = to;
    }
}
