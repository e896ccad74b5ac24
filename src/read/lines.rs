//! A file's bytes as the XML parser takes them, with their lines.

use std::io::{self, BufRead, Read};

/// The longest element, comment or text of a log (bytes).
pub(crate) const LONGEST: usize = 1 << 20;
const BLOCK: usize = 64 * 1024;

/// A buffered reader that stops anything endless, and knows on which line the present event began. Lines are counted
/// only where one is asked for: to count them at every event takes a tenth of the time.
pub(crate) struct Lines<'a> {
    inner: &'a mut dyn Read,
    buffer: Vec<u8>,
    at: usize,
    filled: usize,
    /// The line, from 1, at this place of the buffer.
    line: u64,
    counted: usize,
    /// Where the present event began in the buffer, or on which line if that is in an earlier buffer.
    began: usize,
    began_line: Option<u64>,
    /// The last byte of the buffer before.
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

    /// The line at a place of the buffer that isn't before the last that was asked for.
    fn count_to(&mut self, to: usize) -> u64 {
        let part = self.buffer.get(self.counted..to).unwrap_or(&[]);
        self.line += memchr::memchr_iter(b'\n', part).count() as u64;
        self.counted = self.counted.max(to);
        self.line
    }

    /// What of the buffer comes next.
    pub(crate) fn ahead(&self) -> &[u8] {
        self.buffer.get(self.at..self.filled).unwrap_or(&[])
    }

    /// The line of what comes next.
    pub(crate) fn line_ahead(&mut self) -> u64 {
        self.count_to(self.at)
    }

    /// Takes so many bytes of it, in which so many lines end. They are an event of their own.
    pub(crate) fn take(&mut self, bytes: usize, line_ends: u32) {
        self.count_to(self.at);
        self.at = (self.at + bytes).min(self.filled);
        self.line += u64::from(line_ends);
        self.counted = self.at;
        self.begin();
    }

    /// Lines read, a last one without its end included.
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
