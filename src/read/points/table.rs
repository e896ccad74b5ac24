//! Reads a table: rows of text with a separator (comma, semicolon, tab, bar or spaces), with or without a header, with decimal points or
//! commas. The separator and the columns are found from the first rows; then the table is read row by row.

use super::Sheet;
use super::columns::by_name;
use super::layout::{borrowed, layout, numbers_in};
use super::numbers::number;
use super::row::{Met, Row, Took};
use crate::fault::Fault;
use crate::left_out::LeftOut;
use crate::read::batch::Batch;
use crate::read::nmea::scan::end_of_line;
use std::io::{self, Read};

/// How many rows are looked at before the columns are decided.
const LOOKED_AT: usize = 60;
/// The longest row, bytes; a longer one ends the reading.
const LONGEST: usize = 1 << 20;

/// The separators, in the order in which they are preferred where several fit: with a semicolon or a tab, commas are decimal marks.
const SEPARATORS: [u8; 5] = [b';', b'\t', b'|', b',', b' '];

/// Reads one table whose first bytes are `head`.
pub(crate) fn read(
    from: &mut dyn Read,
    head: &[u8],
    sheet: &Sheet<'_>,
    mut batch: Batch,
) -> Result<Batch, Fault> {
    let separator = separator(head);
    let looked_at = first_rows(head, separator);
    let layout = layout(&looked_at, sheet.lies)?;
    batch.warnings.push(layout.report(separator));
    let mut counted = Counted::of(from);
    let mut rows = reader(&mut counted, separator, end_of_line(head));
    let mut record = csv::ByteRecord::new();
    let mut swapped = 0u64;
    let mut met = Met::default();
    let mut widths = Widths::default();
    while next(&mut rows, &mut record, &mut batch) {
        let line = line_of(&record);
        if line <= layout.header_line || record.iter().all(|c| c.trim_ascii().is_empty()) {
            continue;
        }
        let cells = cells(&record, separator);
        if is_comment(&cells) {
            batch.unknown += 1;
            continue;
        }
        *batch.sentences.entry("row".to_string()).or_default() += 1;
        let row = Row {
            cells: &cells,
            layout: &layout,
            line,
        };
        widths.add(line, &cells, batch.fixes.len());
        match row.take(sheet, &mut batch, &mut met)? {
            Took::Yes => {}
            Took::Swapped => swapped += 1,
            Took::Not(reason) => batch.tally.add(reason, sheet.file, line),
        }
        if batch.fixes.len() + met.rings.kept() >= sheet.most_fixes {
            batch.stopped = true;
            break;
        }
    }
    drop(rows);
    let unended = counted.last != b'\n';
    if unended && !batch.stopped {
        widths.leave_out_torn(&mut batch, sheet.file);
        widths.tell_short(&mut batch);
    }
    met.rings.close(&mut batch);
    batch.warnings.extend(met.unsized_beds.told());
    batch.lines = counted.newlines + u64::from(unended);
    if batch.fixes.is_empty() {
        batch.swapped = swapped;
    }
    Ok(batch)
}

/// Reads the next row. `false` where there is none, or the rest cannot be read, which is noted.
fn next(
    rows: &mut csv::Reader<&mut Counted<'_>>,
    record: &mut csv::ByteRecord,
    batch: &mut Batch,
) -> bool {
    rows.get_mut().since = 0;
    rows.read_byte_record(record).unwrap_or_else(|e| {
        batch.broken = Some(match e.into_kind() {
            csv::ErrorKind::Io(e) => e,
            _ => io::Error::other("a row could not be read"),
        });
        false
    })
}

/// The last row's line, its width in cells and how many fixes came before it, and the least width of all rows before it. Also how many decimals
/// its last cell has, and the fewest of those before it.
#[derive(Default)]
struct Widths {
    last: Option<(u32, usize, usize)>,
    narrowest: Option<usize>,
    decimals: Option<usize>,
    fewest: Option<usize>,
}

impl Widths {
    fn add(&mut self, line: u32, cells: &[String], fixes_before: usize) {
        let width = cells.len();
        let last = cells.last().filter(|cell| number(cell).is_some());
        let decimals = last.map(|cell| cell.split(['.', ',']).nth(1).map_or(0, str::len));
        if let Some(before) = std::mem::replace(&mut self.decimals, decimals) {
            self.fewest = Some(self.fewest.map_or(before, |fewest| fewest.min(before)));
        }
        if let Some((_, width, _)) = self.last.replace((line, width, fixes_before)) {
            self.narrowest = Some(self.narrowest.map_or(width, |least| least.min(width)));
        }
    }

    /// Leaves out the last row, which has no line end, if it has fewer cells than any other: then the file broke off within it, perhaps
    /// within a number.
    fn leave_out_torn(&self, batch: &mut Batch, file: u16) {
        if let (Some((line, width, before)), Some(narrowest)) = (self.last, self.narrowest)
            && width < narrowest
            && batch.fixes.len() > before
        {
            batch.fixes.truncate(before);
            batch.tally.add(LeftOut::BadRow, file, line);
        }
    }

    /// A last number without its end and with fewer decimals than any above it may have broken off. It may as well be whole, so it is kept.
    fn tell_short(&self, batch: &mut Batch) {
        if self.decimals < self.fewest && batch.broken.is_none() {
            batch.broken = self
                .decimals
                .map(|_| io::Error::other("its last number is shorter than those above it"));
        }
    }
}

fn line_of(record: &csv::ByteRecord) -> u32 {
    let line = record.position().map_or(0, csv::Position::line);
    u32::try_from(line).unwrap_or(u32::MAX)
}

fn is_comment(cells: &[String]) -> bool {
    let signs = ["#", "%", "//"];
    let first = cells.first();
    first.is_some_and(|first| signs.iter().any(|sign| first.starts_with(sign)))
}

/// A reader that counts lines, and fails on a row without an end.
struct Counted<'a> {
    inner: &'a mut dyn Read,
    since: usize,
    newlines: u64,
    last: u8,
}

impl Counted<'_> {
    fn of(inner: &mut dyn Read) -> Counted<'_> {
        Counted {
            inner,
            since: 0,
            newlines: 0,
            last: b'\n',
        }
    }
}

impl Read for Counted<'_> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        if self.since > LONGEST {
            return Err(io::Error::other("a row longer than a megabyte"));
        }
        let n = self.inner.read(out)?;
        let got = out.get(..n).unwrap_or(&[]);
        self.since += n;
        self.newlines += memchr::memchr_iter(b'\n', got).count() as u64;
        self.last = got.last().copied().unwrap_or(self.last);
        Ok(n)
    }
}

/// A reader of rows. Its end of line is one byte, because the library counts `\r\n` as part of the row after it; the `\r` is trimmed
/// off with the cells' white space.
fn reader<R: Read>(from: R, separator: u8, end_of_line: u8) -> csv::Reader<R> {
    csv::ReaderBuilder::new()
        .terminator(csv::Terminator::Any(end_of_line))
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .from_reader(from)
}

/// The cells of a row, trimmed. Where spaces separate them, empty cells are left out, and a date and the time after it are joined to one.
fn cells(record: &csv::ByteRecord, separator: u8) -> Vec<String> {
    let all = record
        .iter()
        .map(|cell| String::from_utf8_lossy(cell).trim().to_string());
    if separator != b' ' {
        return all.collect();
    }
    let mut cells: Vec<String> = Vec::new();
    for cell in all.filter(|cell| !cell.is_empty()) {
        match cells.last_mut() {
            Some(date) if is_date(date) && cell.contains(':') => {
                date.push('T');
                date.push_str(&cell);
            }
            _ => cells.push(cell),
        }
    }
    cells
}

fn is_date(text: &str) -> bool {
    matches!(
        text.as_bytes(),
        [a, _, _, _, b'-' | b'/', _, _, b'-' | b'/', _, _] if a.is_ascii_digit()
    )
}

/// The separator with which most rows have the same number of cells, at least two; a comma where none has.
fn separator(head: &[u8]) -> u8 {
    let mut best = (0usize, b',');
    for candidate in SEPARATORS {
        let rows = first_rows(head, candidate);
        let mut widths: Vec<usize> = rows.iter().map(|(_, cells)| cells.len()).collect();
        widths.sort_unstable();
        let middle = widths.get(widths.len() / 2).copied().unwrap_or(0);
        if middle < 2 {
            continue;
        }
        let alike = widths.iter().filter(|w| **w == middle).count();
        // A row counts only if it has two numbers or names columns of a position. Else the separator cuts something else ("12 Example Lane").
        let telling = rows
            .iter()
            .filter(|(_, cells)| numbers_in(cells) >= 2 || by_name(&borrowed(cells)).is_some())
            .count();
        let score = alike.min(telling);
        if score > best.0 {
            best = (score, candidate);
        }
    }
    best.1
}

/// The first rows of the head with their lines. Where the file is longer than the head, the last row, which may be cut, is left out.
fn first_rows(head: &[u8], separator: u8) -> Vec<(u32, Vec<String>)> {
    let whole = match memchr::memrchr2(b'\n', b'\r', head) {
        Some(end) if head.len() >= crate::read::input::HEAD => head.get(..end).unwrap_or(head),
        _ => head,
    };
    let mut rows = Vec::new();
    for record in reader(whole, separator, end_of_line(head))
        .byte_records()
        .take(LOOKED_AT)
    {
        let Ok(record) = record else { break };
        let cells = cells(&record, separator);
        if cells.iter().any(|c| !c.is_empty()) {
            rows.push((line_of(&record), cells));
        }
    }
    rows
}
