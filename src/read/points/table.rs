//! Rows of text with separators: comma, semicolon, tab, bar or spaces; with or without a header; decimal point or
//! comma. Streamed row by row, with each row's line.

use super::beds::{self, Size, Unsized};
use super::columns::{Column, Role, by_name, by_numbers, of_a_plan};
use super::numbers::{angle_deg, number};
use super::own::{Rings, What};
use super::{Lies, Sheet, corner, eastward, in_degrees, needs_grid};
use crate::fault::Fault;
use crate::fix::{Fix, Quality};
use crate::grid;
use crate::mark::Mark;
use crate::notice::{ColumnRead, Notice};
use crate::process::Accuracy;
use crate::read::batch::Batch;
use crate::read::marks;
use crate::read::nmea::scan::end_of_line;
use crate::read::stamp::Stamp;
use crate::read::tally::Reason;
use std::io::{self, Read};

/// Rows looked at before the columns are decided.
const LOOKED_AT: usize = 60;
/// The longest row (bytes); a longer one ends the reading.
const LONGEST: usize = 1 << 20;

/// The separators, the more telling first: where a semicolon or tab fits, commas are decimal marks.
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
    let mut counted = Counted {
        inner: from,
        since: 0,
        newlines: 0,
        last: b'\n',
    };
    let mut rows = reader(&mut counted, separator, end_of_line(head));
    let mut record = csv::ByteRecord::new();
    let mut swapped = 0u64;
    let mut met = Met::default();
    let mut narrowest = usize::MAX;
    let mut last = None;
    loop {
        rows.get_mut().since = 0;
        match rows.read_byte_record(&mut record) {
            Ok(false) => break,
            Ok(true) => {}
            Err(e) => {
                batch.broken = Some(match e.into_kind() {
                    csv::ErrorKind::Io(e) => e,
                    _ => io::Error::other("a row could not be read"),
                });
                break;
            }
        }
        let line = record.position().map_or(0, csv::Position::line);
        let line = u32::try_from(line).unwrap_or(u32::MAX);
        if line <= layout.header_line || record.iter().all(|c| c.trim_ascii().is_empty()) {
            continue;
        }
        let cells = cells(&record, separator);
        if let Some(first) = cells.first()
            && (first.starts_with('#') || first.starts_with('%') || first.starts_with("//"))
        {
            batch.unknown += 1;
            continue;
        }
        *batch.sentences.entry("row".to_string()).or_default() += 1;
        let row = Row {
            cells: &cells,
            layout: &layout,
            line,
        };
        let before = batch.fixes.len();
        match row.take(sheet, &mut batch, &mut met)? {
            Took::Yes => {}
            Took::Swapped => swapped += 1,
            Took::Not(reason) => batch.tally.add(reason, sheet.file, line),
        }
        if let Some((_, width, _)) = last {
            narrowest = narrowest.min(width);
        }
        last = Some((line, cells.len(), before));
        if batch.fixes.len() + met.rings.kept() >= sheet.most_fixes {
            batch.stopped = true;
            break;
        }
    }
    drop(rows);
    // A last row without its end and with fewer cells than any other broke off, perhaps within a number.
    if let Some((line, width, before)) = last
        && counted.last != b'\n'
        && !batch.stopped
        && narrowest < usize::MAX
        && width < narrowest
        && batch.fixes.len() > before
    {
        batch.fixes.truncate(before);
        batch.tally.add(Reason::BadRow, sheet.file, line);
    }
    met.rings.close(&mut batch);
    batch.warnings.extend(met.unsized_beds.told());
    batch.lines = counted.newlines + u64::from(counted.last != b'\n');
    if batch.fixes.is_empty() {
        batch.swapped = swapped;
    }
    Ok(batch)
}

/// What is put together once all rows are read.
#[derive(Default)]
struct Met {
    rings: Rings,
    unsized_beds: Unsized,
}

/// Counts lines, and stops a row without an end.
struct Counted<'a> {
    inner: &'a mut dyn Read,
    since: usize,
    newlines: u64,
    last: u8,
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

/// The end of line is one byte, because the library counts `\r\n` as part of the row after it; the `\r` is trimmed
/// off with the cells' white space.
fn reader<R: Read>(from: R, separator: u8, end_of_line: u8) -> csv::Reader<R> {
    csv::ReaderBuilder::new()
        .terminator(csv::Terminator::Any(end_of_line))
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .from_reader(from)
}

/// The cells of a row, trimmed. Separated by spaces, empty cells mean nothing, and a date and the time after it are one.
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

/// The separator that gives most rows one and the same number of cells, at least two.
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
        // Two numbers or two names in a row, else it cuts something else ("12 Example Lane").
        let telling = rows
            .iter()
            .filter(|(_, cells)| {
                cells.iter().filter(|c| angle_deg(c).is_some()).count() >= 2
                    || by_name(&borrowed(cells)).is_some()
            })
            .count();
        let score = alike.min(telling);
        if score > best.0 {
            best = (score, candidate);
        }
    }
    best.1
}

fn borrowed(cells: &[String]) -> Vec<&str> {
    cells.iter().map(String::as_str).collect()
}

/// The first rows of the head with their lines; the last, which may be cut, is left out where there are others.
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
        let line = record.position().map_or(0, csv::Position::line);
        let cells = cells(&record, separator);
        if cells.iter().any(|c| !c.is_empty()) {
            rows.push((u32::try_from(line).unwrap_or(u32::MAX), cells));
        }
    }
    rows
}

/// Which column is which.
struct Layout {
    columns: Vec<Column>,
    /// Rows up to this line are the header, in words that are known or not, and what stands before it; 0 where there
    /// is none.
    header_line: u32,
    /// Latitude and longitude, or easting and northing, might be the other way round.
    doubtful: bool,
}

fn layout(rows: &[(u32, Vec<String>)], lies: Lies<'_>) -> Result<Layout, Fault> {
    for (line, cells) in rows {
        let mut titles: Vec<&str> = borrowed(cells);
        // A header behind a comment sign; the sign may be a cell of its own.
        if let Some(first) = titles.first_mut() {
            *first = first.trim_start_matches(['#', '%', '/', ' ', '\u{feff}']);
        }
        if titles.first().is_some_and(|t| t.is_empty()) {
            titles.remove(0);
        }
        if let Some(columns) = by_name(&titles) {
            return Ok(Layout {
                columns,
                header_line: *line,
                doubtful: false,
            });
        }
    }
    let data: Vec<Vec<String>> = rows
        .iter()
        .map(|(_, cells)| cells.clone())
        .filter(|cells| cells.iter().filter(|c| angle_deg(c).is_some()).count() >= 2)
        .collect();
    let by_numbers = match lies {
        Lies::OnAPlan => of_a_plan(&data).map(|columns| (columns, false)),
        Lies::OnGrid(_) => by_numbers(&data, true),
        Lies::InDegrees => by_numbers(&data, false),
    };
    match by_numbers {
        Some((columns, doubtful)) => {
            // What stands before the first row of numbers is a header in other words.
            let numbers =
                |cells: &[String]| cells.iter().filter(|c| angle_deg(c).is_some()).count();
            let first = rows.iter().find(|(_, cells)| numbers(cells) >= 2);
            Ok(Layout {
                columns,
                header_line: first.map_or(0, |(line, _)| line.saturating_sub(1)),
                doubtful,
            })
        }
        None => Err(Fault::unreadable(
            "no-columns",
            "No columns of positions were recognised.",
            "Name the columns in a first row: name, latitude, longitude (or easting, northing), height, sigma, fix.",
        )),
    }
}

impl Layout {
    fn column(&self, role: Role) -> Option<&Column> {
        self.columns.iter().find(|c| c.role == role)
    }

    fn accuracies(&self) -> impl Iterator<Item = Accuracy> {
        self.columns.iter().filter_map(|c| match c.role {
            Role::Accuracy(kind) => Some(kind),
            _ => None,
        })
    }

    /// The guess, for the reader to check.
    fn report(&self, separator: u8) -> Notice {
        let columns: Vec<ColumnRead> = self
            .columns
            .iter()
            .filter_map(|c| {
                let taken_for = match c.role {
                    Role::Name => "name",
                    Role::Lat => "latitude",
                    Role::Lon => "longitude",
                    Role::Easting => "easting",
                    Role::Northing => "northing",
                    Role::X => "x",
                    Role::Y => "y",
                    Role::Height => "height",
                    Role::Accuracy(_) | Role::SigmaEast | Role::SigmaNorth => "sigma",
                    Role::Hdop => "HDOP",
                    Role::Quality | Role::PostQuality => "fix",
                    Role::Time => "time",
                    Role::Radius => "radius",
                    Role::Diameter => "diameter",
                    _ => return None,
                };
                Some(ColumnRead {
                    taken_for,
                    title: c.title.to_string(),
                    accuracy: match c.role {
                        Role::Accuracy(kind) => Some(kind),
                        _ => None,
                    },
                })
            })
            .collect();
        let between = match separator {
            b'\t' => "tabs",
            b';' => "semicolons",
            b'|' => "bars",
            b' ' => "spaces",
            _ => "commas",
        };
        match self.doubtful {
            true => Notice::ColumnsGuessed { between, columns },
            false => Notice::Columns { between, columns },
        }
    }
}

struct Row<'a> {
    cells: &'a [String],
    layout: &'a Layout,
    line: u32,
}

enum Took {
    Yes,
    Swapped,
    Not(Reason),
}

impl Row<'_> {
    fn cell(&self, role: Role) -> &str {
        let index = self.layout.column(role).map(|c| c.index);
        let cell = index.and_then(|i| self.cells.get(i));
        cell.map_or("", String::as_str)
    }

    /// A length in metres.
    fn metres(&self, role: Role) -> Option<f64> {
        let unit_m = self.layout.column(role)?.unit_m;
        number(self.cell(role)).map(|v| v * unit_m)
    }

    fn sigma(&self, role: Role) -> Option<f32> {
        self.metres(role)
            .map(|v| v as f32)
            .filter(|v| *v > 0.0 && *v < 1.0e6)
    }

    fn take(&self, sheet: &Sheet<'_>, batch: &mut Batch, met: &mut Met) -> Result<Took, Fault> {
        let (lat, lon) = match self.position(sheet, batch)? {
            Ok(position) => position,
            Err(not) => return Ok(not),
        };
        batch.plane_height_m = batch.plane_height_m.or(self.metres(Role::PlaneHeight));
        let what = What::of(self.cell(Role::What));
        match self.size() {
            Ok(radius_m) if radius_m.is_some() || matches!(what, Some(What::Bed | What::Mark)) => {
                batch.marks.push(self.mark(sheet, lat, lon, radius_m));
                return Ok(Took::Yes);
            }
            Ok(_) => {}
            Err(text) => {
                met.unsized_beds.add(self.line, &text);
                return Ok(Took::Yes);
            }
        }
        let mut fix = corner(lat, lon, sheet.file, self.line);
        self.fill(&mut fix);
        if matches!(fix.quality, Quality::Manual | Quality::Simulator) && batch.made_up.is_none() {
            batch.made_up = Some((self.line, fix.quality));
        }
        match fix.quality {
            _ if sheet.keep_all => {}
            Quality::NoFix => return Ok(Took::Not(Reason::Void)),
            Quality::DeadReckoning => return Ok(Took::Not(Reason::DeadReckoning)),
            _ => {}
        }
        match what {
            Some(What::Corner) if self.layout.column(Role::Ring).is_some() => met.rings.corner(fix),
            // Without its ring an "edge" is somebody else's word, and the row a corner like the others.
            Some(what @ (What::Edge | What::Hole)) if self.layout.column(Role::Ring).is_some() => {
                let (ring, label) = (self.cell(Role::Ring), self.cell(Role::Name));
                met.rings.place(what, ring, label, fix, batch);
            }
            _ => batch.fixes.push(fix),
        }
        Ok(Took::Yes)
    }

    /// Latitude and longitude in degrees; of a plan y and x in metres.
    fn position(
        &self,
        sheet: &Sheet<'_>,
        batch: &mut Batch,
    ) -> Result<Result<(f64, f64), Took>, Fault> {
        let layout = self.layout;
        // A list of ours says itself that it is of a plan.
        let own = self.cell(Role::Grid).eq_ignore_ascii_case(grid::LOCAL);
        if own || matches!(sheet.lies, Lies::OnAPlan) {
            batch.local = true;
            return self.on_a_plan();
        }
        if layout.column(Role::Lat).is_some() && layout.column(Role::Lon).is_some() {
            let pair = (
                self.angle_deg(Role::Lat, Role::NorthSouth),
                self.angle_deg(Role::Lon, Role::EastWest),
            );
            let (Some(lat), Some(lon)) = pair else {
                return Ok(Err(Took::Not(Reason::BadRow)));
            };
            return Ok(match (in_degrees(lon, lat), in_degrees(lat, lon)) {
                (true, _) => Ok((lat, eastward(lon))),
                (false, true) => Err(Took::Swapped),
                (false, false) => Err(Took::Not(Reason::BadPosition)),
            });
        }
        let (easting, northing) = if layout.column(Role::Easting).is_some() {
            (
                self.metres_or(Role::Easting),
                self.metres_or(Role::Northing),
            )
        } else {
            (self.metres_or(Role::X), self.metres_or(Role::Y))
        };
        let (Some(x), Some(y)) = (easting, northing) else {
            return Ok(Err(Took::Not(Reason::BadRow)));
        };
        if let Lies::OnGrid(to_degrees) = sheet.lies {
            return to_degrees(x, y)
                .map(|(lat, lon)| Ok((lat, eastward(lon))))
                .map_err(|fault| fault.at_line(u64::from(self.line)));
        }
        // Drawings call longitude x and latitude y.
        if layout.column(Role::X).is_some() && in_degrees(x, y) {
            return Ok(Ok((y, eastward(x))));
        }
        Err(needs_grid((x, y), self.line))
    }

    /// A latitude or longitude, south or west where a column of its own says so.
    fn angle_deg(&self, role: Role, hemisphere: Role) -> Option<f64> {
        let angle = angle_deg(self.cell(role))?;
        Some(match self.cell(hemisphere).as_bytes() {
            [b'S' | b's' | b'W' | b'w', ..] => -angle.abs(),
            _ => angle,
        })
    }

    /// y and x in metres, from whichever columns there are that can be metres.
    fn on_a_plan(&self) -> Result<Result<(f64, f64), Took>, Fault> {
        let pairs = [(Role::Easting, Role::Northing), (Role::X, Role::Y)];
        let there = |role| self.layout.column(role).is_some();
        let Some((x, y)) = pairs.into_iter().find(|(x, y)| there(*x) && there(*y)) else {
            return Err(Fault::usage(
                "local-degrees",
                "The list has latitudes and longitudes, and was said to be of a plan's metres (grid \"local\").",
                "Leave \"local\" out, or name the columns of metres x and y.",
            )
            .at_line(u64::from(self.line)));
        };
        Ok(match (self.metres(x), self.metres(y)) {
            (Some(x), Some(y)) => Ok((y, x)),
            _ => Err(Took::Not(Reason::BadRow)),
        })
    }

    fn metres_or(&self, role: Role) -> Option<f64> {
        // A grid's own unit is the grid's affair.
        number(self.cell(role))
    }

    /// The radius that a row gives, in metres: such a row is a bed, not a corner. What was meant as one but cannot be comes back as
    /// it was written.
    fn size(&self) -> Result<Option<f64>, String> {
        for (role, per_radius) in [(Role::Radius, 1.0), (Role::Diameter, 2.0)] {
            let unit_m = self.layout.column(role).map_or(1.0, |c| c.unit_m);
            match beds::size(self.cell(role), unit_m) {
                Size::None => {}
                Size::Metres(m) => return Ok(Some(m / per_radius)),
                Size::Unreadable => return Err(self.cell(role).to_owned()),
            }
        }
        let texts = [self.cell(Role::Text), self.cell(Role::Name)];
        let found = texts.iter().find_map(|text| marks::radius_m(text));
        match texts.into_iter().find(|text| marks::speaks_of_size(text)) {
            Some(text) if found.is_none() => Err(text.to_owned()),
            _ => Ok(found),
        }
    }

    fn mark(&self, sheet: &Sheet<'_>, lat_deg: f64, lon_deg: f64, radius_m: Option<f64>) -> Mark {
        let (name, text) = (self.cell(Role::Name), self.cell(Role::Text));
        let label = [name, text].into_iter().find(|t| !t.is_empty());
        let texts: Vec<&str> = [name, text].into_iter().filter(|t| !t.is_empty()).collect();
        Mark {
            label: label.map_or_else(|| format!("row {}", self.line), str::to_string),
            lat_deg,
            lon_deg,
            radius_m,
            text: texts.join("; "),
            clock_s: self.stamp().map(|s| s.tod_s),
            file: sheet.file,
            line: self.line,
        }
    }

    fn stamp(&self) -> Option<Stamp> {
        let (date, time) = (self.cell(Role::Date), self.cell(Role::Time));
        if date.is_empty() {
            return Stamp::parse(time.as_bytes());
        }
        Stamp::parse(format!("{date}T{time}").as_bytes()).or_else(|| Stamp::parse(time.as_bytes()))
    }

    fn fill(&self, fix: &mut Fix) {
        let separation = self.metres(Role::Separation).unwrap_or(0.0);
        fix.height_m = self.metres(Role::Height).map(|h| h + separation);
        let stamp = self.stamp();
        fix.clock_s = stamp.map(|s| s.tod_s);
        fix.date = stamp.and_then(|s| s.date);
        // Of several columns the one that leaves least to be believed.
        let mut kinds: Vec<Accuracy> = self.layout.accuracies().collect();
        kinds.sort_unstable();
        let stated = |kind: Accuracy| Some(kind.axis_m(self.sigma(Role::Accuracy(kind))?));
        let both = kinds.into_iter().find_map(stated);
        fix.sigma_east_m = self.sigma(Role::SigmaEast).or(both);
        fix.sigma_north_m = self.sigma(Role::SigmaNorth).or(both);
        fix.satellites = self.cell(Role::Satellites).parse().ok();
        fix.hdop = number(self.cell(Role::Hdop))
            .map(|v| v as f32)
            .filter(|v| *v > 0.0 && *v < 99.0);
        fix.quality = if self.layout.column(Role::PostQuality).is_some() {
            post_quality(self.cell(Role::PostQuality))
        } else {
            quality(self.cell(Role::Quality))
        };
    }
}

/// A quality as a GGA digit or in words.
fn quality(text: &str) -> Quality {
    if let [digit @ b'0'..=b'8'] = text.as_bytes() {
        return match Quality::from_gga(digit - b'0') {
            // In tables a 3 is "3D" as likely as the precise service, which no civilian has.
            Some(Quality::Pps) | None => Quality::Unknown,
            Some(quality) => quality,
        };
    }
    let lower = text.to_lowercase();
    let has = |word: &str| lower.contains(word);
    if lower.is_empty() {
        Quality::Unknown
    } else if has("simul") {
        Quality::Simulator
    } else if has("manual") {
        Quality::Manual
    } else if has("estimat") || has("dead") {
        Quality::DeadReckoning
    } else if has("no fix") || has("nofix") || has("none") || has("invalid") {
        Quality::NoFix
    } else if has("float") {
        Quality::RtkFloat
    } else if has("fixed") || lower == "fix" || lower == "rtk" || has("rtk fix") {
        Quality::RtkFixed
    } else if has("dgps") || has("dgnss") || has("sbas") || has("diff") {
        Quality::Differential
    } else if has("single") || has("auto") || has("standalone") || lower == "3d" || lower == "2d" {
        Quality::Autonomous
    } else {
        Quality::Unknown
    }
}

/// 1 fixed, 2 float, 3 SBAS, 4 differential, 5 single, 6 PPP: the numbers of open post-processing software (from
/// memory).
pub(crate) fn post_quality(text: &str) -> Quality {
    match text {
        "1" => Quality::RtkFixed,
        "2" => Quality::RtkFloat,
        "3" | "4" => Quality::Differential,
        "5" => Quality::Autonomous,
        _ => Quality::Unknown,
    }
}
