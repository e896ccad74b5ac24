//! Reads one row of a table: a corner of an outline, a bed or a mark.

use super::beds::{self, Size, Unsized};
use super::columns::Role;
use super::layout::Layout;
use super::numbers::{angle_deg, number};
use super::own::{Rings, What};
use super::{Lies, Sheet, corner, eastward, in_degrees, needs_grid};
use crate::fault::Fault;
use crate::fix::{Fix, Quality};
use crate::left_out::LeftOut;
use crate::mark::Mark;
use crate::plane;
use crate::process::Accuracy;
use crate::read::batch::Batch;
use crate::read::marks;
use crate::read::stamp::Stamp;

/// What is collected from the rows, and used once all are read.
#[derive(Default)]
pub(super) struct Met {
    pub rings: Rings,
    pub unsized_beds: Unsized,
}

/// One row of a table.
pub(super) struct Row<'a> {
    pub cells: &'a [String],
    pub layout: &'a Layout,
    pub line: u32,
}

/// What became of a row.
pub(super) enum Took {
    Yes,
    Swapped,
    Not(LeftOut),
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

    /// Takes the row for a corner, or for a bed or mark.
    pub(crate) fn take(
        &self,
        sheet: &Sheet<'_>,
        batch: &mut Batch,
        met: &mut Met,
    ) -> Result<Took, Fault> {
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
            Quality::NoFix => return Ok(Took::Not(LeftOut::Void)),
            Quality::DeadReckoning => return Ok(Took::Not(LeftOut::DeadReckoning)),
            _ => {}
        }
        match what {
            Some(What::Corner) if self.layout.column(Role::Ring).is_some() => met.rings.corner(fix),
            // In a list without the column `ring`, which this program always writes, the word "edge" is somebody else's, and the row is a
            // corner like the others.
            Some(what @ (What::Edge | What::Hole)) if self.layout.column(Role::Ring).is_some() => {
                let (ring, label) = (self.cell(Role::Ring), self.cell(Role::Name));
                met.rings.place(what, ring, label, fix, batch);
            }
            _ => batch.fixes.push(fix),
        }
        Ok(Took::Yes)
    }

    /// Latitude and longitude in degrees; of a plan y and x in metres. The outer error ends the reading of the list, the inner one says why
    /// this row is not used.
    fn position(
        &self,
        sheet: &Sheet<'_>,
        batch: &mut Batch,
    ) -> Result<Result<(f64, f64), Took>, Fault> {
        let layout = self.layout;
        // A list that this program wrote says itself that it is of a plan.
        let own = self.cell(Role::Grid).eq_ignore_ascii_case(plane::LOCAL);
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
                return Ok(Err(Took::Not(LeftOut::BadRow)));
            };
            return Ok(match (in_degrees(lon, lat), in_degrees(lat, lon)) {
                (true, _) => Ok((lat, eastward(lon))),
                (false, true) => Err(Took::Swapped),
                (false, false) => Err(Took::Not(LeftOut::BadPosition)),
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
            return Ok(Err(Took::Not(LeftOut::BadRow)));
        };
        if let Lies::OnGrid(to_degrees) = sheet.lies {
            return to_degrees(x, y)
                .map(|(lat, lon)| Ok((lat, eastward(lon))))
                .map_err(|fault| fault.at_line(u64::from(self.line)));
        }
        // Where x and y can be degrees, x is the longitude and y the latitude, as in drawings.
        if layout.column(Role::X).is_some() && in_degrees(x, y) {
            return Ok(Ok((y, eastward(x))));
        }
        Err(needs_grid((x, y), self.line))
    }

    /// A latitude or longitude, negative where a column for the hemisphere says south or west.
    fn angle_deg(&self, role: Role, hemisphere: Role) -> Option<f64> {
        let angle = angle_deg(self.cell(role))?;
        Some(match self.cell(hemisphere).as_bytes() {
            [b'S' | b's' | b'W' | b'w', ..] => -angle.abs(),
            _ => angle,
        })
    }

    /// y and x of a plan in metres, from the columns of eastings and northings or of x and y.
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
            _ => Err(Took::Not(LeftOut::BadRow)),
        })
    }

    fn metres_or(&self, role: Role) -> Option<f64> {
        // The number stays in the unit of the grid, which the conversion to degrees expects.
        number(self.cell(role))
    }

    /// The radius that a row gives, in metres: such a row is a bed, not a corner. `None` where it gives none. What was meant as a size but
    /// cannot be one comes back as an error, as it was written.
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

    /// The time of the row, from a column of dates and times, or of each.
    fn stamp(&self) -> Option<Stamp> {
        let (date, time) = (self.cell(Role::Date), self.cell(Role::Time));
        if date.is_empty() {
            return Stamp::parse(time.as_bytes());
        }
        Stamp::parse(format!("{date}T{time}").as_bytes()).or_else(|| Stamp::parse(time.as_bytes()))
    }

    /// Fills in what the row says beside its position: height, time, accuracy, satellites and quality.
    fn fill(&self, fix: &mut Fix) {
        let separation = self.metres(Role::Separation).unwrap_or(0.0);
        fix.height_m = self.metres(Role::Height).map(|h| h + separation);
        let stamp = self.stamp();
        fix.clock_s = stamp.map(|s| s.tod_s);
        fix.date = stamp.and_then(|s| s.date);
        // Of several columns of accuracies the first kind in the order of `Accuracy` is used.
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

/// A quality that is written as a digit of GGA or in words.
fn quality(text: &str) -> Quality {
    if let [digit @ b'0'..=b'8'] = text.as_bytes() {
        return match Quality::from_gga(digit - b'0') {
            // In tables a 3 may as well mean "3D" as the precise (military) service, so that it says nothing.
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
