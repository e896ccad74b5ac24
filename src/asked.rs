//! Everything that is asked of one survey, as one value: [`Request`]. From it follow the settings that sheets and records show, the
//! files that are read, and the fingerprint: a hash that is the same as long as nothing has changed that the result depends on.
//!
//! The request and every type of the job sheet are taken apart below by the names of all their fields, never with `..`. A new
//! field does not compile before it stands here as well: among those an answer depends on, or after the `;` among those it
//! doesn't, with the reason.

use crate::fault::Fault;
use crate::job::keys::{Origin, Setting};
use crate::job::order::{
    Crew, Delivery, Edging, Method, Mulch, OldTurf, OrderSettings, Seed, Soil, Spread, Turf,
};
use crate::job::people::{Access, Firm, Logo, PaperSize, Paperwork, Party};
use crate::job::price::{Extra, PriceSettings};
use crate::job::shape::{self, Across, Diagonal, Figure, Hand, Ordinates, Rule, Shape};
use crate::job::taped::{Offset, Square};
use crate::job::{
    Bed, Carry, Corner, Deduct, Edge, Job, Path as GardenPath, Place, SheetFile, Side, Span, Tape,
    Walk,
};
use crate::read::{Input, LogFile, LogKind};
use jiff::civil::Date;
use rust_decimal::Decimal;
use sha2::{Digest, Sha256};
use std::path::PathBuf;

/// The revision of the method that results come from. Raised with every change to the program that moves an area, a band, a
/// count or a status by more than rounding, or adds to the document: what was kept or recorded before is then measured again,
/// although its inputs are the same. `tests/method.rs` sees to it.
pub const METHOD: u32 = 21;
/// Name of the result document and its version.
pub const SCHEMA: &str = "boundwalk/result/1";

/// Everything asked of one survey. What the command line says wins over the job sheet.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Request {
    /// What sheets call the survey; where it is empty, the name is taken from the first log.
    pub name: String,
    /// Logs named in the call, which take the place of the job sheet's. They are measured as one lawn unless the sheet says otherwise.
    pub logs: Vec<Input>,
    pub job: Job,
    /// Logs named in the call of walks round what is to be taken off the area.
    pub deduct: Vec<Input>,
    pub carry: Carry,
    /// One sigma of a position, metres per axis; overrides what the log claims.
    pub sigma_m: Option<f64>,
    pub correlation_s: Option<f64>,
    /// The chance that the true area lies within the band, 0.5 to 0.999; 0.95 unless it is told.
    pub confidence: Option<f64>,
    /// Whether anything doubtful withholds the result.
    pub strict: bool,
    /// The national grid, such as `EPSG:25832`, of eastings and northings in point lists, and of those written; or `local`, where a
    /// list is in metres of a plan.
    pub grid: Option<String>,
    /// Take the logs of one walk in the order of their times, rather than in the order given.
    pub by_time: bool,
    /// How many fixes are read of each log at the most; all where it is `None`.
    pub max_fixes: Option<u64>,
    /// How far the result is worked out: what nobody will look at can be left out.
    pub depth: Depth,
}

/// How far a survey is worked out. Each depth has all that those before it have, and takes longer.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Depth {
    /// The numbers, as a table of many surveys has them; the logs' hashes are left out.
    Numbers,
    /// The check sheet (lengths to tape) and the set-out table as well: all that the result document has.
    Document,
    /// What only drawings have as well: sides, walks, the outlines of the band.
    #[default]
    Drawing,
}

/// The hash of everything a result depends on: this program's version and method, all that was asked, the job sheet and the
/// rates file it names, and the names and contents of the logs. In hexadecimal.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Fingerprint(pub String);

/// A log by its name, without its folder, and the SHA-256 of its bytes in hexadecimal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileHash {
    pub name: String,
    pub sha256: String,
}

impl Request {
    /// Asks for the net area of one lawn, walked in these logs. Set further fields for more.
    #[must_use]
    pub fn of(logs: impl IntoIterator<Item = Input>) -> Request {
        Request {
            logs: logs.into_iter().collect(),
            ..Request::default()
        }
    }

    /// Whether every number asked outright lies in its range; those of a job sheet were checked as it was read.
    ///
    /// # Errors
    /// Names the first that does not, and its range.
    pub fn check(&self) -> Result<(), Fault> {
        let ranges = [
            ("confidence", self.confidence, 0.5, 0.999),
            ("sigma_m", self.sigma_m, f64::MIN_POSITIVE, f64::MAX),
            ("correlation_s", self.correlation_s, 0.0, f64::MAX),
            ("carry.offset_m", self.carry.offset_m, 0.0, f64::MAX),
            ("carry.sigma_m", self.carry.sigma_m, 0.0, f64::MAX),
        ];
        for (name, value, least, most) in ranges {
            if let Some(value) = value
                && !(least..=most).contains(&value)
            {
                let range = match (least, most) {
                    (0.0, f64::MAX) => "0 or more".to_owned(),
                    (_, f64::MAX) => "more than 0".to_owned(),
                    _ => format!("from {least} to {most}"),
                };
                return Err(Fault::usage(
                    "arguments",
                    format!("{name} is {value}."),
                    format!("It must be a number {range}."),
                ));
            }
        }
        if self.carry.offset_m.is_some_and(|m| m > 0.0) && self.carry.side.is_none() {
            return Err(Fault::usage(
                "arguments",
                "The antenna was carried off the edge, and carry.side does not say on which side.",
                "Set carry.side to Inside or Outside.",
            ));
        }
        Ok(())
    }

    /// What was set, and where: first what was asked in the call, as it wins over the job sheet; then what the sheet and the rates file
    /// that it names say, and the defaults. Files appear by their names, never with their folders.
    #[must_use]
    pub fn settings(&self) -> Vec<Setting> {
        let Request {
            // Shown as the survey's name.
            name: _,
            // Shown with their hashes, as files read.
            logs: _,
            job,
            deduct,
            carry,
            sigma_m,
            correlation_s,
            confidence,
            strict,
            grid,
            by_time,
            max_fixes,
            // Changes what is worked out, never a number.
            depth: _,
        } = self;
        let Carry {
            offset_m,
            side,
            sigma_m: carry_sigma_m,
        } = carry;
        let number = |value: &Option<f64>| value.map(|v| v.to_string());
        let flag = |value: &bool| value.then(|| "true".to_owned());
        let side = side.map(|side| match side {
            Side::Inside => "inside".to_owned(),
            Side::Outside => "outside".to_owned(),
        });
        let asked = [
            ("carry_m", number(offset_m)),
            ("carry_side", side),
            ("carry_sigma_m", number(carry_sigma_m)),
            ("sigma_m", number(sigma_m)),
            ("correlation_s", number(correlation_s)),
            ("confidence", number(confidence)),
            ("grid", grid.clone()),
            ("by_time", flag(by_time)),
            ("max_fixes", max_fixes.map(|n| n.to_string())),
            ("strict", flag(strict)),
        ];
        let deducts = deduct.iter().map(|log| ("deduct", Some(log.name())));
        asked
            .into_iter()
            .chain(deducts)
            .filter_map(|(key, value)| {
                Some(Setting {
                    key: key.to_owned(),
                    value: value?,
                    from: Origin::Call,
                })
            })
            .chain(job.settings.iter().cloned())
            .collect()
    }

    /// Every log that is read, in the order in which it is read.
    #[must_use]
    pub fn inputs(&self) -> Vec<Input> {
        let mut all: Vec<Input> = match self.logs.as_slice() {
            [] => self
                .job
                .walks
                .iter()
                .flat_map(|w| listed(&w.files))
                .collect(),
            // Logs named outright take the place of the sheet's.
            named => named.to_vec(),
        };
        all.extend(self.job.deducts.iter().flat_map(|d| listed(&d.files)));
        all.extend(self.deduct.iter().cloned());
        all.extend(self.job.paths.iter().flat_map(|p| listed(&p.files)));
        all
    }

    /// Every file that the answer rests on, none of which may be written over: logs, the job sheet, the rates file, the logo. A log of
    /// the sheet counts even where another was named in its place.
    pub fn files(&self) -> Vec<PathBuf> {
        #[rustfmt::skip]
        let Request {
            logs, job, deduct,
            name: _, carry: _, sigma_m: _, correlation_s: _, confidence: _, strict: _, grid: _, by_time: _, max_fixes: _, depth: _,
        } = self;
        #[rustfmt::skip]
        let Job {
            walks, deducts, paths, rates_file, sheet, paperwork: _,
            number: _, site: _, date: _, corners: _, edges: _, beds: _, tapes: _, squares: _, offsets: _, shapes: _, order: _,
            price: _, settings: _,
        } = job;
        let named = logs.iter().chain(deduct).filter_map(Input::on_disk);
        named
            .chain(walks.iter().flat_map(|walk| &walk.files))
            .chain(deducts.iter().flat_map(|deduct| &deduct.files))
            .chain(paths.iter().flat_map(|path| &path.files))
            .chain(
                sheet
                    .iter()
                    .chain(rates_file)
                    .chain(job.logo())
                    .map(|file| &file.path),
            )
            .cloned()
            .collect()
    }

    /// The fingerprint of this request with these logs, one for each of [`Request::inputs`] and in the same order.
    #[must_use]
    pub fn fingerprint(&self, logs: &[FileHash]) -> Fingerprint {
        let mut parts = Parts(Sha256::new());
        parts.add(env!("CARGO_PKG_VERSION").as_bytes());
        parts.add(SCHEMA.as_bytes());
        parts.add(&METHOD.to_le_bytes());
        self.put(&mut parts);
        for FileHash { name, sha256 } in logs {
            parts.add(name.as_bytes());
            parts.add(sha256.as_bytes());
        }
        Fingerprint(parts.hexadecimal())
    }

    /// The fingerprint with the logs as they were read for the result (its `log.files`); `None` where not all of them were read, or their
    /// hashes were not worked out.
    #[must_use]
    pub fn fingerprint_read(&self, read: &[LogFile]) -> Option<Fingerprint> {
        let inputs = self.inputs();
        // A lawn measured by tape alone has no log: the sheet stands in its place, and is hashed as such.
        let read: Vec<&LogFile> = read.iter().filter(|f| f.kind != LogKind::Tape).collect();
        let as_asked = read.len() == inputs.len()
            && read
                .iter()
                .zip(&inputs)
                .all(|(read, asked)| read.name == asked.name() && !read.sha256.is_empty());
        let hash = |file: &&LogFile| FileHash {
            name: file.name.clone(),
            sha256: file.sha256.clone(),
        };
        as_asked.then(|| self.fingerprint(&read.iter().map(hash).collect::<Vec<_>>()))
    }

    /// The fingerprint with the logs as they lie on the disk; `None` where one cannot be read, or comes through a pipe and can be read only
    /// once.
    #[must_use]
    pub fn fingerprint_on_disk(&self) -> Option<Fingerprint> {
        let hashes: Option<Vec<FileHash>> = self
            .inputs()
            .iter()
            .map(|input| {
                Some(FileHash {
                    name: input.name(),
                    sha256: input.hash_on_disk()?,
                })
            })
            .collect();
        Some(self.fingerprint(&hashes?))
    }
}

/// Files that the job sheet lists, as inputs.
fn listed(files: &[PathBuf]) -> impl Iterator<Item = Input> {
    files.iter().cloned().map(Input::File)
}

/// The hash of a fingerprint, to which one part after another is added.
struct Parts(Sha256);

impl Parts {
    /// Lengths go in as well, so that no two lists run together into the same bytes.
    fn add(&mut self, bytes: &[u8]) {
        self.0.update((bytes.len() as u64).to_le_bytes());
        self.0.update(bytes);
    }

    fn hexadecimal(self) -> String {
        let digest = self.0.finalize();
        digest.iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

/// Something that an answer depends on, and that adds itself to the hash.
trait Part {
    fn put(&self, to: &mut Parts);
}

/// Implements [`Part`] for structures: the fields that an answer depends on, and after the `;` those that it does not. Each field is hashed
/// by its name and its value.
macro_rules! structures {
    ($($name:path { $($field:ident),* $(; $($left:ident),*)? })*) => { $(
        impl Part for $name {
            fn put(&self, to: &mut Parts) {
                let Self { $($field,)* $($($left: _,)*)? } = self;
                $( to.add(stringify!($field).as_bytes()); $field.put(to); )*
            }
        }
    )* };
}

/// Implements [`Part`] for enums. A value is hashed by the name of its variant and what is in it.
macro_rules! choices {
    ($($name:path { $($variant:ident $({ $($field:ident),* })? $(( $($item:ident),* ))?),* })*) => { $(
        impl Part for $name {
            fn put(&self, to: &mut Parts) {
                match self { $(
                    Self::$variant $({ $($field),* })? $(( $($item),* ))? => {
                        to.add(stringify!($variant).as_bytes());
                        $($( $field.put(to); )*)?
                        $($( $item.put(to); )*)?
                    }
                )* }
            }
        }
    )* };
}

structures! {
    // How far it is worked out changes no number.
    Request { name, logs, job, deduct, carry, sigma_m, correlation_s, confidence, strict, grid, by_time, max_fixes; depth }
    // The settings are the sheet and its rates file as text, whose bytes are hashed.
    Job { number, site, paperwork, date, walks, corners, edges, deducts, paths, beds, tapes, squares, offsets, shapes, order, price, rates_file, sheet; settings }
    // The folder is not part of an answer: it may be moved.
    SheetFile { sha256; path, lines }
    Paperwork { notes, paper, customer, firm, access }
    Party { name, address, telephone, email }
    Firm { party, surveyor, logo }
    // Its hash stands for its bytes.
    Logo { file; bytes }
    Access { gate_width_m, parking, steps, unload }
    Carry { offset_m, side, sigma_m }
    Span { start_s, end_s }
    Walk { label, files, span, carry, sigma_m, correlation_s, grid }
    Edge { from, to, carry }
    Deduct { label, files, span, carry, grid }
    GardenPath { label, files, width_m, width_sigma_m, grid }
    Corner { name, place }
    Bed { label, place, radius_m, radius_sigma_m }
    Tape { from, to, length_m, sigma_m, straight }
    Square { corner, angle_deg, sigma_deg }
    Offset { point, from, to, offset_m, side, chainage_m, sigma_m }
    // The line is only for messages, and whatever moves it changes the sheet's bytes, which are hashed.
    Shape { label, figure, deduct, sigma_m, place; line }
    shape::Place { east_m, north_m, bearing_deg }
    Diagonal { from, to, length_m }
    Ordinates { hand, chainage_m, offsets_m }
    OrderSettings { chance_enough, slope_percent, slope_sigma_percent, fall_deg, turf, soil, edging, seed, fertiliser, water_mm, old_turf, mulch, crew, delivery }
    Turf { noun, kind, piece_width_m, piece_length_m, kg_per_m2, pieces_per_pallet, part_pallets, method, cutting_percent, size_tolerance_percent, min_piece_m, stagger_m, direction_deg }
    Soil { depth_m, density_t_m3, settlement_percent, bag_m3, round_t }
    Edging { piece_m, overlap_m, around }
    Seed { g_per_m2, purity_percent, germination_percent }
    Spread { g_per_m2 }
    OldTurf { depth_m, density_t_m3, swell_percent, skip_m3, skip_t }
    Mulch { depth_m, clear_radius_m }
    Crew { lay_m2_per_hour, hours_per_day, lay_within_h }
    Delivery { date, hours, vehicle_t, pallets_per_drop }
    PriceSettings { currency, decimals, tax_percent, markup_percent, quote_valid_until, rates, costs, extras }
    Extra { label, quantity, unit, rate }
}

choices! {
    Side { Inside, Outside }
    PaperSize { A4, Letter }
    Place { At { lat_deg, lon_deg }, Time { tod_s }, Pause(count) }
    Hand { Left, Right }
    Rule { Trapezoid, Simpson }
    Across { Radius(radius_m), Diameter(diameter_m) }
    Figure {
        Rectangle { length_m, width_m, hand },
        Triangle { base_m, height_m, foot_m, hand },
        ThreeSides { sides_m, hand },
        Circle { across, sector_deg },
        Ellipse { length_m, width_m },
        Trapezoid { parallel_m, height_m, hand },
        Polygon { sides_m, diagonals, inward, hand },
        Radii { radii_m },
        Offsets { rule, sides }
    }
    Method { Rows, Perimeter, Percent }
}

/// Implements [`Part`] for values without parts of their own, which are hashed as bytes.
macro_rules! values {
    ($($name:ty: $value:ident => $bytes:expr,)*) => { $(
        impl Part for $name {
            fn put(&self, to: &mut Parts) {
                let $value = self;
                to.add($bytes.as_ref());
            }
        }
    )* };
}

values! {
    bool: value => [u8::from(*value)],
    u32: value => value.to_le_bytes(),
    u64: value => value.to_le_bytes(),
    usize: value => (*value as u64).to_le_bytes(),
    f64: value => value.to_bits().to_le_bytes(),
    &str: value => value,
    String: value => value,
    Date: value => value.to_string(),
    Decimal: value => value.normalize().to_string(),
    // A path here is always that of a log, which counts by its name, as its content is hashed apart. Any other file is a `SheetFile`,
    // which has its hash.
    PathBuf: value => Input::File(value.clone()).name(),
    Input: value => value.name(),
}

impl<T: Part> Part for Option<T> {
    fn put(&self, to: &mut Parts) {
        to.add(&[u8::from(self.is_some())]);
        if let Some(value) = self {
            value.put(to);
        }
    }
}

impl<T: Part> Part for [T] {
    fn put(&self, to: &mut Parts) {
        to.add(&(self.len() as u64).to_le_bytes());
        for value in self {
            value.put(to);
        }
    }
}

impl<T: Part> Part for Vec<T> {
    fn put(&self, to: &mut Parts) {
        self.as_slice().put(to);
    }
}

impl<T: Part, const N: usize> Part for [T; N] {
    fn put(&self, to: &mut Parts) {
        self.as_slice().put(to);
    }
}

impl<A: Part, B: Part> Part for (A, B) {
    fn put(&self, to: &mut Parts) {
        self.0.put(to);
        self.1.put(to);
    }
}

#[cfg(test)]
mod tests;
