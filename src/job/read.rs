//! Makes a [`Job`] from the text of a job sheet. All of the sheet is read even where something in it is wrong, so that every fault is told
//! at once.

use super::keys::{Faults, Keys, Sheet};
use super::people::Paperwork;
use super::price::Shared;
use super::shape::Shape;
use super::taped::{Offset, Square};
use super::walked::{bed, deduct, edge, garden_path, name_apart, named_corner, tape, walk};
use super::{Job, LARGEST_SHEET, SheetFile};
use crate::fault::Fault;
use std::path::Path;

/// The most readings of a tape in one sheet. To adjust this many takes a second, and the time grows with their cube.
const MOST_READINGS: usize = 500;
/// The most walked deductions and paths of one sheet, far more than a garden has. Each is cut off what those before it left, so that the
/// work grows with their number squared: 200 paths take half a second, 1000 take twenty.
const MOST_CUTS: usize = 200;
impl Job {
    /// Reads a sheet from a file; the files it names are looked for beside it.
    ///
    /// # Errors
    /// One fault if the file cannot be read or is not text, else every fault in it.
    pub fn from_file(path: &Path) -> Result<Job, Faults> {
        let name = path.display().to_string();
        let (sheet, bytes) =
            SheetFile::read(path).map_err(|error| Faults(vec![unread(&name, &error)]))?;
        let folder = path.parent().unwrap_or(Path::new(""));
        let mut job = Job::from_bytes(&bytes, &name, folder)?;
        job.sheet = Some(sheet);
        Ok(job)
    }

    /// Reads a sheet; `name` is what faults call it, `folder` is where its files are.
    ///
    /// # Errors
    /// Every fault in the sheet, in the order of its lines.
    pub fn from_bytes(bytes: &[u8], name: &str, folder: &Path) -> Result<Job, Faults> {
        if bytes.len() as u64 > LARGEST_SHEET {
            return Err(Faults(vec![
                Fault::usage(
                    "too-large",
                    "this is larger than 1 MB, which no job sheet is.",
                    "Name the sheet itself; if it is a log, name it without --job.",
                )
                .in_file(name),
            ]));
        }
        let text = std::str::from_utf8(bytes).map_err(|error| {
            let before = bytes.get(..error.valid_up_to()).unwrap_or(bytes);
            let line = 1 + memchr::memchr_iter(b'\n', before).count() as u64;
            Faults(vec![
                Fault::usage(
                    "not-text",
                    "this line holds bytes that are not UTF-8 text, as a job sheet must be.",
                    "Save the sheet as UTF-8; if it is a log, name it without --job.",
                )
                .in_file(name)
                .at_line(line),
            ])
        })?;
        Job::from_text(text.strip_prefix('\u{feff}').unwrap_or(text), name, folder)
    }

    /// Reads a sheet's text, as [`Job::from_bytes`].
    ///
    /// # Errors
    /// Every fault in the sheet, in the order of its lines.
    pub fn from_text(text: &str, name: &str, folder: &Path) -> Result<Job, Faults> {
        let sheet = Sheet::parse(text, name);
        let mut job = whole(sheet.root(), folder);
        job.settings = sheet.finish()?;
        Ok(job)
    }
}

/// Whether these bytes are a job sheet rather than a log, told by the first line that is neither blank nor a comment:
/// `[table]`, `[[table]]` or `key = value`.
pub fn looks_like_sheet(bytes: &[u8]) -> bool {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let first = bytes
        .split(|&b| b == b'\n')
        .map(<[u8]>::trim_ascii)
        .find(|line| !line.is_empty() && !line.starts_with(b"#"));
    let Some(line) = first else { return false };
    let bare = |b: &u8| b.is_ascii_alphanumeric() || matches!(b, b'_' | b'-' | b'.');
    if let Some(inner) = line.strip_prefix(b"[") {
        let inner = inner.strip_prefix(b"[").unwrap_or(inner);
        let name = inner.iter().take_while(|b| bare(b)).count();
        return inner.first().is_some_and(u8::is_ascii_alphabetic)
            && inner.get(name) == Some(&b']');
    }
    let key = line.iter().take_while(|b| bare(b)).count();
    let value = line
        .get(key..)
        .and_then(|rest| rest.trim_ascii_start().strip_prefix(b"="));
    // `SRID=4326;POLYGON(...)` is well-known text: a number in a sheet is followed by no semicolon.
    let number = |value: &[u8]| {
        let text = value.trim_ascii_start();
        let digits = text.iter().take_while(|b| b.is_ascii_digit()).count();
        digits > 0 && text.get(digits) == Some(&b';')
    };
    key > 0 && value.is_some_and(|value| !number(value))
}

fn unread(name: &str, error: &std::io::Error) -> Fault {
    let (code, advice) = match error.kind() {
        std::io::ErrorKind::NotFound => (
            "no-such-file",
            "Check the name, or write one with `boundwalk job > job.toml`.",
        ),
        std::io::ErrorKind::IsADirectory => ("directory", "Name the sheet itself, not its folder."),
        std::io::ErrorKind::PermissionDenied => ("not-permitted", "Check that you may read it."),
        _ => ("unreadable", "Name a file that holds it."),
    };
    Fault::unreadable(
        code,
        format!("the job sheet cannot be read ({error})."),
        advice,
    )
    .in_file(name)
}

/// Reads the whole sheet. A new kind of table is to be read from here.
fn whole(mut root: Keys<'_>, folder: &Path) -> Job {
    let mut job = Job::default();
    let shared = about(&mut job, &mut root, folder);
    lawns(&mut job, &mut root, folder);
    inside(&mut job, &mut root, folder);
    readings(&mut job, &mut root);
    order_and_price(&mut job, &mut root, folder, shared);
    root.done();
    job
}

/// Reads `[job]`, and whom it is for. Gives what the rates file says that all jobs share, where `[job]` names one.
fn about(job: &mut Job, root: &mut Keys<'_>, folder: &Path) -> Option<Shared> {
    let (mut notes, mut paper, mut shared) = (None, None, None);
    if let Some(mut keys) = root.table("job") {
        shared = super::price::rates_file(&mut keys, folder);
        job.number = keys.text("number");
        job.site = keys.text("site");
        job.date = keys.date("date");
        notes = keys.text("notes");
        paper = super::people::paper(&mut keys);
        keys.done();
    }
    job.paperwork = Paperwork {
        notes,
        paper,
        ..super::people::read(root, folder)
    };
    shared
}

/// Reads `[walk]` or `[[lawn]]`, with the corners and sides of the edge.
fn lawns(job: &mut Job, root: &mut Keys<'_>, folder: &Path) {
    let has_walk = root.has("walk");
    if let Some(keys) = root.table("walk") {
        job.walks.push(walk(keys, folder, true));
    }
    for keys in root.tables("lawn") {
        if has_walk && job.walks.len() == 1 {
            keys.fault(
                None,
                "the sheet has both [walk] and [[lawn]].",
                "Use [walk] for one lawn, or only [[lawn]] tables for several.",
            );
        }
        job.walks.push(walk(keys, folder, false));
    }
    name_apart(&mut job.walks);
    for keys in root.tables("corner") {
        job.corners.extend(named_corner(keys, &job.corners));
    }
    let side = job.walks.iter().find_map(|walk| walk.carry.side);
    let edges = root.tables("edge").into_iter();
    job.edges = edges.filter_map(|keys| edge(keys, side)).collect();
}

/// Reads what is taken off: `[[deduct]]`, `[[path]]`, `[[bed]]`.
fn inside(job: &mut Job, root: &mut Keys<'_>, folder: &Path) {
    for (at, keys) in root.tables("deduct").into_iter().enumerate() {
        job.deducts.push(deduct(keys, folder, at + 1));
    }
    for (at, keys) in root.tables("path").into_iter().enumerate() {
        job.paths.extend(garden_path(keys, folder, at + 1));
    }
    let cuts = job.deducts.len() + job.paths.len();
    if cuts > MOST_CUTS {
        root.fault(
            Some(if job.paths.is_empty() { "deduct" } else { "path" }),
            format!("There are {cuts} tables [[deduct]] and [[path]]; a sheet takes {MOST_CUTS} together."),
            "Leave out what lies outside the lawn, or divide the job.",
        );
    }
    for (at, keys) in root.tables("bed").into_iter().enumerate() {
        job.beds.extend(bed(keys, at + 1));
    }
}

/// Reads what was taped: `[[tape]]`, `[[square]]` and `[[offset]]` between corners of a walk, `[[shape]]` without a walk.
fn readings(job: &mut Job, root: &mut Keys<'_>) {
    let mut tables = |name| root.tables(name).into_iter();
    job.tapes = tables("tape").filter_map(tape).collect();
    job.squares = tables("square").filter_map(Square::read).collect();
    job.offsets = tables("offset").filter_map(Offset::read).collect();
    let readings = job.tapes.len() + job.squares.len() + job.offsets.len();
    if readings > MOST_READINGS {
        root.fault(
            Some("tape"),
            format!("There are {readings} readings in [[tape]], [[square]] and [[offset]]; the adjustment takes {MOST_READINGS}."),
            "Keep those between the corners of this lawn, or divide the job.",
        );
    }
    for (at, keys) in root.tables("shape").into_iter().enumerate() {
        job.shapes.extend(Shape::read(keys, at + 1));
    }
}

/// Reads `[order]` and `[delivery]`, and the prices.
fn order_and_price(job: &mut Job, root: &mut Keys<'_>, folder: &Path, shared: Option<Shared>) {
    job.order = root.table("order").map(super::order::read);
    let delivery = root.table("delivery").map(super::order::delivery);
    match &mut job.order {
        Some(order) => order.delivery = delivery,
        None if delivery.is_some() && !root.has("order") => root.fault(
            Some("delivery"),
            "the sheet has [delivery] but no [order], so nothing is delivered.",
            "Add [order], or leave [delivery] out.",
        ),
        None => {}
    }
    let (price, firm, rates_file) = super::price::read(root, folder, shared);
    job.price = price;
    job.rates_file = rates_file;
    job.paperwork.shares(firm);
    if job.price.is_some() && job.order.is_none() && !root.has("order") {
        let table = if root.has("price") { "price" } else { "cost" };
        root.fault(
            Some(table),
            format!("the sheet has [{table}] but no [order], so there is nothing to price."),
            format!("Add [order], or leave [{table}] out."),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::super::template;
    use super::*;
    use crate::job::{Carry, Place, Side};

    fn read(text: &str) -> Result<Job, Vec<String>> {
        Job::from_text(text, "job.toml", Path::new("garden"))
            .map_err(|faults| faults.0.iter().map(ToString::to_string).collect())
    }

    fn faults(text: &str) -> Vec<String> {
        read(text).expect_err("the sheet should have faults")
    }

    /// The sheet of the result contract, whole.
    const SHEET: &str = r#"
[job]
number = "J-0417"
site = "12 Example Lane"
date = 2026-05-14
[walk]
files = ["lawn.nmea"]
carry_m = 0.25
carry_side = "inside"
carry_sigma_m = 0.02
[[edge]]
from = "B"
to = "C"
carry_m = 0.40
[[deduct]]
label = "patio"
files = ["patio.nmea"]
[[path]]
label = "gravel path"
files = ["path.gpx"]
width_m = 1.2
[[bed]]
label = "birch"
lat = 52.1
lon = -1.2
radius_m = 0.35
radius_sigma_m = 0.02
[[bed]]
time = 10:42:30
diameter_m = "2ft 4in"
[[tape]]
from = "A"
to = "B"
length_m = 12.40
sigma_m = 0.02
"#;

    #[test]
    fn a_whole_sheet() {
        let job = read(SHEET).unwrap_or_else(|faults| panic!("{faults:#?}"));
        assert_eq!(job.number.as_deref(), Some("J-0417"));
        assert_eq!(job.date, jiff::civil::Date::new(2026, 5, 14).ok());
        assert_eq!(job.walks.len(), 1);
        assert_eq!(job.walks[0].files, [Path::new("garden").join("lawn.nmea")]);
        assert_eq!(job.walks[0].carry.side, Some(Side::Inside));
        assert_eq!(
            job.edges[0].carry,
            Carry {
                offset_m: Some(0.40),
                side: Some(Side::Inside),
                sigma_m: None
            }
        );
        assert_eq!(job.deducts[0].carry, Carry::default());
        assert_eq!(job.paths[0].width_m, 1.2);
        assert_eq!(
            job.beds[0].place,
            Place::At {
                lat_deg: 52.1,
                lon_deg: -1.2
            }
        );
        assert_eq!(job.beds[1].place, Place::Time { tod_s: 38_550.0 });
        approx::assert_abs_diff_eq!(job.beds[1].radius_m, 0.3556, epsilon = 1e-12);
        assert_eq!(job.beds[1].label, "bed 2");
        assert_eq!(job.tapes[0].length_m, 12.40);
        assert!(
            job.settings
                .iter()
                .any(|s| s.key == "walk.carry_m" && s.value == "0.25")
        );
    }

    #[test]
    fn whom_a_job_is_for_and_how_to_get_there() {
        let job = read(
            "[job]\nnotes = \"Key at no. 14\"\npaper = \"Letter\"\n[customer]\nname = \"A. Sample\"\naddress = [\"12 Example Lane\", \"Sampleton\"]\n\
             [firm]\nsurveyor = \"B. Sample\"\n[access]\ngate_width_m = \"3ft\"\n[order]\n[delivery]\ndate = 2026-06-02\nhours = \"early\"\n",
        )
        .unwrap_or_else(|faults| panic!("{faults:#?}"));
        let paperwork = &job.paperwork;
        assert_eq!(
            paperwork.paper,
            Some(super::super::people::PaperSize::Letter)
        );
        let customer = paperwork.customer.as_ref().expect("a customer");
        assert_eq!(customer.address, ["12 Example Lane", "Sampleton"]);
        let gate_m = paperwork.access.as_ref().and_then(|a| a.gate_width_m);
        approx::assert_abs_diff_eq!(gate_m.unwrap_or(0.0), 0.9144, epsilon = 1e-12);
        let delivery = job.order.and_then(|order| order.delivery);
        assert_eq!(
            delivery.map(|d| (d.date, d.hours)),
            Some((
                jiff::civil::Date::new(2026, 6, 2).ok(),
                Some("early".into())
            ))
        );
        assert!(faults("[customer]\nnme = \"A\"\n")[0].contains("Did you mean name?"));
    }

    #[test]
    fn all_faults_of_a_sheet_at_once() {
        let all = faults(
            "[wlak]\nfiles = [\"a\"]\n[[bed]]\nradius_m = 0\n[[bed]]\nlat = 200\nlon = 1\npause = 2\nradius_m = 1\ndiameter_m = 2\n[[tape]]\nfrom = \"A\"\nto = \"A\"\n[[path]]\nfiles = []\n",
        );
        for part in [
            "line 1: wlak is not known at the top of the sheet. Did you mean walk?",
            "line 3: [[bed]] number 1 has no place",
            "line 4: [[bed]] number 1 radius_m is 0; it must be more than 0 and at most 500",
            "line 5: [[bed]] number 2 says its place in more than one way",
            "line 6: [[bed]] number 2 lat is 200; it must be from -90 to 90",
            "line 10: [[bed]] number 2 has both radius_m and diameter_m",
            "line 11: [[tape]] number 1 has no length_m",
            "line 13: [[tape]] number 1 runs from A to A",
            "line 14: [[path]] number 1 has no width_m",
            "line 15: [[path]] number 1 files is empty",
        ] {
            assert!(
                all.iter().any(|fault| fault.contains(part)),
                "{part}\n{all:#?}"
            );
        }
        assert_eq!(all.len(), 10, "{all:#?}");
    }

    #[test]
    fn a_carry_needs_its_side() {
        assert!(faults("[walk]\ncarry_m = 0.2\n")[0].contains("carry_side"));
        assert!(faults("[walk]\ncarry_side = \"inside\"\n")[0].contains("no carry_m"));
        assert!(read("[walk]\ncarry_m = 0\n").is_ok());
    }

    #[test]
    fn several_lawns_or_one_walk_not_both() {
        let job = read("[[lawn]]\nfiles = \"a\"\n[[lawn]]\nlabel = \"back\"\nfiles = [\"b\"]\n");
        let labels: Vec<String> = job
            .into_iter()
            .flat_map(|j| j.walks)
            .map(|w| w.label)
            .collect();
        assert_eq!(labels, ["lawn 1", "back"]);
        let all =
            faults("[walk]\nfiles = \"a\"\n[[lawn]]\nfiles = \"b\"\n[[lawn]]\nfiles = \"c\"\n");
        assert_eq!(all.len(), 1, "{all:#?}");
        assert!(all[0].contains("both [walk] and [[lawn]]"));
    }

    #[test]
    fn sheets_are_told_from_logs_by_their_first_line() {
        for sheet in [
            "# a\n\n[walk]\n",
            "[[bed]]\r\n",
            "\u{feff}[job] # x\n",
            "title = 1",
        ] {
            assert!(looks_like_sheet(sheet.as_bytes()), "{sheet}");
        }
        for log in [
            "",
            "# only\n",
            "$GPGGA,1",
            "<gpx>",
            "{\"a\":1}",
            "[1, 2]",
            "lat,lon\n1,2",
            "[[1,2],[3,4]]",
            "SRID=4326;POLYGON((1 52, 2 52, 2 53, 1 52))",
        ] {
            assert!(!looks_like_sheet(log.as_bytes()), "{log}");
        }
    }

    #[test]
    fn the_template_is_a_sheet_and_names_every_key() {
        let text = template();
        let job = read(&text).unwrap_or_else(|faults| panic!("{faults:#?}"));
        assert_eq!(job.walks.len(), 1);
        // Every key a whole sheet is read by, as recorded while reading one, stands in the template.
        let keys = [
            "label",
            "sigma_m",
            "correlation_s",
            "width_sigma_m",
            "pause",
            "time",
            "radius_m",
            "diameter_m",
        ];
        for key in keys {
            assert!(
                text.contains(&format!("{key} = ")),
                "{key} is not in the template"
            );
        }
    }

    #[test]
    fn the_template_with_every_table_opened_is_a_sheet_too() {
        // "#: " marks what may be opened all together; "# or" marks alternatives.
        let opened: String = template()
            .lines()
            .map(|line| line.strip_prefix("#: ").unwrap_or(line))
            .filter(|line| !line.starts_with("# or"))
            .map(|line| format!("{line}\n"))
            .collect();
        let job = read(&opened).unwrap_or_else(|faults| panic!("{faults:#?}"));
        assert_eq!(
            (
                job.edges.len(),
                job.deducts.len(),
                job.paths.len(),
                job.beds.len(),
                job.tapes.len(),
                job.squares.len(),
                job.offsets.len(),
                job.shapes.len()
            ),
            (1, 1, 1, 3, 1, 1, 1, 2)
        );
    }

    /// Whoever deletes a line of the template must get what it showed: it says that every figure is a default.
    #[test]
    fn what_the_template_shows_is_what_a_sheet_without_it_takes() {
        let opened: String = template()
            .lines()
            .map(|line| line.strip_prefix("#: ").unwrap_or(line))
            .map(|line| format!("{line}\n"))
            .collect();
        let tables = "turf soil edging seed fertiliser water old_turf mulch".split(' ');
        let bare: String = tables.map(|name| format!("[order.{name}]\n")).collect();
        let bare = format!(
            "{}{bare}[order.crew]\nlay_m2_per_hour = 40\n",
            "[walk]\nfiles = [\"lawn.nmea\"]\n"
        );
        let order = |text: &str| {
            let job = read(text).unwrap_or_else(|faults| panic!("{faults:#?}"));
            job.order.unwrap_or_else(|| panic!("no order"))
        };
        let (shown, mut taken) = (order(&opened), order(&bare));
        // What has no default and says so.
        taken.slope_percent = shown.slope_percent;
        taken.fall_deg = shown.fall_deg;
        taken.delivery = shown.delivery.clone();
        if let (Some(shown), Some(taken)) = (&shown.turf, &mut taken.turf) {
            taken.kind.clone_from(&shown.kind);
            taken.direction_deg = shown.direction_deg;
        }
        assert_eq!(shown, taken);
    }
}
