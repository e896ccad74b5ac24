//! The job sheet: a TOML file that says what was walked and taped, and what to order, for one job. Every setting in it may be left out or
//! has a default, and each is kept with the line that it came from.
//!
//! The types are here, [`read`] makes them from a sheet, [`keys`] is how a sheet's tables are read, and
//! [`template`] is a sheet to start from.

#[doc(hidden)]
pub mod keys;
pub mod order;
pub mod people;
pub mod price;
pub mod read;
pub mod shape;
pub mod taped;
mod walked;

use keys::Setting;
use sha2::{Digest, Sha256};
use std::path::PathBuf;

/// Which side of the walked edge the antenna was carried on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// On the lawn, so that the walk lies within the edge.
    Inside,
    /// Off the lawn, so that the walk lies round the edge.
    Outside,
}

/// How the antenna was carried along an edge. Where all are `None`, it was over the edge, with the default sigma. An offset above 0 always has
/// its side, except on an [`Edge`], which then has the side of its walk.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Carry {
    /// Distance of the antenna from the edge, metres, 0 or more.
    pub offset_m: Option<f64>,
    /// Which side of the edge it was carried on.
    pub side: Option<Side>,
    /// How closely that was kept all the way round, metres, one sigma (standard deviation); 0.02 unless it is told.
    pub sigma_m: Option<f64>,
}

/// The part of a log's time in which something was walked; all of it unless told.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Span {
    /// When the walk round it began: UTC, seconds of the day.
    pub start_s: Option<f64>,
    /// When it ended: UTC, seconds of the day.
    pub end_s: Option<f64>,
}

/// One lawn to measure: `[walk]`, or one `[[lawn]]`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Walk {
    /// What sheets call the lawn.
    pub label: String,
    /// Paths already joined to the sheet's own folder.
    pub files: Vec<PathBuf>,
    /// When its edge was walked.
    pub span: Span,
    /// How the antenna was carried.
    pub carry: Carry,
    /// Error of a position, metres per axis, one sigma; overrides what the log says.
    pub sigma_m: Option<f64>,
    /// For how long errors of position last, seconds; where it is not told, the band is averaged over a range.
    pub correlation_s: Option<f64>,
    /// Where the coordinates of its lists lie: "local", or an EPSG code.
    pub grid: Option<String>,
}

/// `[[edge]]`: one side of the lawn along which the antenna was carried differently.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// The corner the side begins at.
    pub from: String,
    /// The corner it ends at.
    pub to: String,
    /// How the antenna was carried along it.
    pub carry: Carry,
}

/// `[[deduct]]`: something that was walked round and is taken off the lawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Deduct {
    /// What sheets call it.
    pub label: String,
    /// Its logs, joined to the sheet's own folder.
    pub files: Vec<PathBuf>,
    /// When it was walked round.
    pub span: Span,
    /// How the antenna was carried round it.
    pub carry: Carry,
    /// Where the coordinates of its lists lie, as in [`Walk::grid`].
    pub grid: Option<String>,
}

/// `[[path]]`: a path that was walked along its middle and is taken off the lawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    /// What sheets call it.
    pub label: String,
    /// Its logs, joined to the sheet's own folder.
    pub files: Vec<PathBuf>,
    /// Width over all, metres, above 0.
    pub width_m: f64,
    /// Error of the width, metres, one sigma.
    pub width_sigma_m: Option<f64>,
    /// Where the coordinates of its lists lie, as in [`Walk::grid`].
    pub grid: Option<String>,
}

/// Where a bed or a corner is.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    /// By its coordinates on WGS 84.
    At {
        /// North, degrees, -90 to 90.
        lat_deg: f64,
        /// East, degrees, -180 to 180.
        lon_deg: f64,
    },
    /// Where the surveyor stood at this time.
    Time {
        /// UTC, seconds since midnight.
        tod_s: f64,
    },
    /// Where the surveyor stood still for the n-th time, from 1: inside the ring for a bed, along the edge for a corner.
    Pause(u32),
}

/// `[[corner]]`: a corner of the lawn by its name.
#[derive(Debug, Clone, PartialEq)]
pub struct Corner {
    /// What it is called.
    pub name: String,
    /// A pause is counted along the edge.
    pub place: Place,
}

/// `[[bed]]`: a point with a radius.
#[derive(Debug, Clone, PartialEq)]
pub struct Bed {
    /// What sheets call it.
    pub label: String,
    /// Its centre.
    pub place: Place,
    /// Radius, metres, above 0.
    pub radius_m: f64,
    /// Error of the radius, metres, one sigma.
    pub radius_sigma_m: Option<f64>,
}

/// `[[tape]]`: a taped check between two corners or marks.
#[derive(Debug, Clone, PartialEq)]
pub struct Tape {
    /// Corner or mark the tape was held at.
    pub from: String,
    /// Corner or mark it was read at.
    pub to: String,
    /// What it read, held level, metres.
    pub length_m: f64,
    /// Error of the reading, metres, one sigma.
    pub sigma_m: Option<f64>,
    /// Whether the edge between the two is straight, whatever the walk shows; `None` leaves that to the walk.
    pub straight: Option<bool>,
}

/// A whole job sheet.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Job {
    /// The job's number.
    pub number: Option<String>,
    /// Where it is, in words.
    pub site: Option<String>,
    /// What documents show, and no number depends on.
    pub paperwork: people::Paperwork,
    /// The day of the survey.
    pub date: Option<jiff::civil::Date>,
    /// One for `[walk]`, several for `[[lawn]]`.
    pub walks: Vec<Walk>,
    /// `[[corner]]`, in the order of the sheet; so are all lists that follow.
    pub corners: Vec<Corner>,
    /// `[[edge]]`.
    pub edges: Vec<Edge>,
    /// `[[deduct]]`.
    pub deducts: Vec<Deduct>,
    /// `[[path]]`.
    pub paths: Vec<Path>,
    /// `[[bed]]`.
    pub beds: Vec<Bed>,
    /// `[[tape]]`.
    pub tapes: Vec<Tape>,
    /// `[[square]]`.
    pub squares: Vec<taped::Square>,
    /// `[[offset]]`.
    pub offsets: Vec<taped::Offset>,
    /// `[[shape]]`.
    pub shapes: Vec<shape::Shape>,
    /// `[order]`; `None` where the sheet has none.
    pub order: Option<order::OrderSettings>,
    /// `[price]`; needs an order to price.
    pub price: Option<price::PriceSettings>,
    /// What all jobs share, named by `rates` of `[job]` or `[price]`.
    pub rates_file: Option<SheetFile>,
    /// Everything the sheet says, and what stands in for what it does not say.
    pub settings: Vec<Setting>,
    /// The file it was read from; `None` where it was made otherwise.
    pub sheet: Option<SheetFile>,
}

/// A job sheet or rates file as it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetFile {
    /// Where it lies.
    pub path: PathBuf,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
    /// How many lines it has.
    pub lines: u64,
}

/// The largest job sheet, rates file or logo that is read, bytes: room for 13 000 beds, some hundred times what anyone writes.
/// A larger file was named by mistake, or does not end.
pub const LARGEST_SHEET: u64 = 1024 * 1024;

impl SheetFile {
    /// Reads a plain file, and gives its bytes as well. Of one that is larger than [`LARGEST_SHEET`] one byte more than that is read, by
    /// which the caller sees that it is too large.
    ///
    /// # Errors
    /// Where it cannot be opened or read, or is no plain file.
    pub fn read(path: &std::path::Path) -> std::io::Result<(SheetFile, Vec<u8>)> {
        let bytes = crate::regular::bytes(path, LARGEST_SHEET)?;
        let digest = Sha256::digest(&bytes);
        let file = SheetFile {
            path: path.to_owned(),
            sha256: digest.iter().map(|byte| format!("{byte:02x}")).collect(),
            lines: memchr::memchr_iter(b'\n', &bytes).count() as u64
                + u64::from(bytes.last().is_some_and(|byte| *byte != b'\n')),
        };
        Ok((file, bytes))
    }
}

impl Job {
    /// Whether the lawn was taped, and no log of a walk is named.
    #[must_use]
    pub fn is_taped(&self) -> bool {
        let walked = self.walks.iter().any(|walk| !walk.files.is_empty());
        !walked && self.shapes.iter().any(|shape| !shape.deduct)
    }

    /// Every file the sheet names: logs in its order, then the rates file and the logo.
    pub fn files(&self) -> impl Iterator<Item = &std::path::Path> {
        let walks = self.walks.iter().flat_map(|walk| &walk.files);
        let deducts = self.deducts.iter().flat_map(|deduct| &deduct.files);
        let paths = self.paths.iter().flat_map(|path| &path.files);
        walks
            .chain(deducts)
            .chain(paths)
            .chain(
                self.rates_file
                    .iter()
                    .chain(self.logo())
                    .map(|file| &file.path),
            )
            .map(PathBuf::as_path)
    }

    /// The picture on its documents.
    pub(crate) fn logo(&self) -> Option<&SheetFile> {
        let logo = self.paperwork.firm.as_ref()?.logo.as_ref()?;
        Some(&logo.file)
    }
}

/// Sections of the template, in their order. Whoever adds a table to the sheet adds it here as well.
const TEMPLATE: [&str; 4] = [
    include_str!("job/template/survey.toml"),
    include_str!("job/template/people.toml"),
    include_str!("job/template/tape.toml"),
    include_str!("job/template/order.toml"),
];

/// A commented job sheet with every key there is, to start from. Optional keys are commented out.
#[must_use]
pub fn template() -> String {
    TEMPLATE.join("\n")
}
