//! Decides which garden a survey is of, so that measuring it again adds a revision to the right one.
//!
//! A garden is a name and a place. A survey is a revision of the garden that
//!
//! 1. has had the very name, and whose outline it touches or comes within 50 m of; or
//! 2. has had the same last part of the name (`monday/J-0417` and `J-0417`) or the same job number, on the same ground:
//!    what both outlines cover is more than half of what either covers. So `measure` and `day`, which call a job by
//!    different names, keep one record of it, while the front and the back lawn of a job stay two.
//!
//! A survey that was withheld has no outline. In rule 1 the middle of its positions stands for it, and in place of rule 2 it must have a
//! log in common. Where the survey or the garden has no place at all (a plan in metres of its own, nothing fit to read), it is a
//! revision if it has a log in common and the same job number or last part of the name, or else both of these. Anything else is
//! another garden.

use super::blob;
use super::tables::Trouble;
use crate::fault::Fault;
use crate::plane::Plane;
use crate::survey::collect::stem;
use geo::{Area, BooleanOps, BoundingRect, Distance, Euclidean, MapCoords, MultiPolygon, Rect};
use rusqlite::{Connection, OptionalExtension, Transaction, params};
use sha2::{Digest, Sha256};

/// How far apart two outlines of one garden may lie, metres. Each of two walks with a phone may be off by 10 to 20 m; a garden next door
/// has another name.
const NEAR_M: f64 = 50.0;
/// From this share of common ground on two outlines are of one garden. A garden walked again covers nearly the same ground, and two lawns
/// of one job cover none of each other's, so any value between tells them apart.
const SAME_GROUND: f64 = 0.5;
/// Degrees of latitude in a metre, rounded up: a degree is at least 110.5 km (the Earth's smallest radius of curvature is 6335 km).
pub(super) const DEGREES_A_METRE: f64 = 1.0 / 110_500.0;
/// So many of the latest records with one log in common are looked at.
const LATEST: u32 = 16;

/// A survey as far as it tells which garden it is of.
#[derive(Debug, Clone)]
pub struct Seen<'a> {
    pub name: &'a str,
    pub job: Option<&'a str>,
    /// Latitude and longitude of the middle of the walk, degrees.
    pub place: Option<(f64, f64)>,
    /// The net lawns as longitude and latitude; empty where no area was given.
    pub outline: MultiPolygon<f64>,
    /// SHA-256 of the logs.
    pub logs: Vec<&'a str>,
}

/// How the ground of a survey lies to that of a garden.
#[derive(Debug, Clone, Copy)]
struct Ground {
    /// Least distance between the two, metres; 0 where they overlap.
    apart_m: f64,
    /// What both cover as a share of what either covers; `None` where one of them has no outline.
    shared: Option<f64>,
}

/// The key under which a whole name is kept among a garden's names.
pub(crate) fn whole(name: &str) -> String {
    format!("is/{name}")
}

/// The key of a name's last part, without a file's ending.
pub(crate) fn own(name: &str) -> String {
    let last = name.rsplit('/').next().unwrap_or(name);
    format!("own/{}", stem(last))
}

/// The key of a job number.
pub(crate) fn job(number: &str) -> String {
    format!("job/{}", number.trim())
}

impl Seen<'_> {
    /// The keys that gardens are looked for by: the name's last part and the job number.
    fn keys(&self) -> Vec<String> {
        let mut keys = vec![own(self.name)];
        keys.extend(self.job.map(job));
        keys
    }

    /// The rectangle round the outline, or the place alone where there is no outline, in degrees (x is the longitude). `None` without either.
    fn sides(&self) -> Option<Rect<f64>> {
        self.outline.bounding_rect().or_else(|| {
            let (lat, lon) = self.place?;
            let on_earth = (-90.0..=90.0).contains(&lat) && (-180.0..=180.0).contains(&lon);
            on_earth.then(|| Rect::new((lon, lat), (lon, lat)))
        })
    }
}

/// The garden that a survey is a revision of, made where there is none yet, and the survey's number there, one more than the last.
///
/// # Errors
/// Numbers that cannot go on, and a file that cannot be read.
pub(crate) fn next_revision(
    transaction: &Transaction<'_>,
    seen: &Seen<'_>,
) -> Result<(i64, i64), Trouble> {
    let garden = match known(transaction, seen)? {
        Some(garden) => garden,
        None => {
            let last: Option<i64> =
                transaction.query_row("SELECT max(id) FROM gardens", [], |row| row.get(0))?;
            let garden = after(last, "number of a garden")?;
            transaction
                .prepare_cached("INSERT INTO gardens (id) VALUES (?1)")?
                .execute([garden])?;
            garden
        }
    };
    Ok((garden, next_of(transaction, garden)?))
}

/// The number of a garden's next revision.
///
/// # Errors
/// As [`next_revision`].
pub(crate) fn next_of(transaction: &Transaction<'_>, garden: i64) -> Result<i64, Trouble> {
    let last: Option<i64> = transaction
        .prepare_cached("SELECT max(revision) FROM surveys WHERE garden = ?1")?
        .query_row([garden], |row| row.get(0))?;
    after(last, "revision")
}

/// The number after the last one, from 1; a fault where there is no sensible one.
fn after(last: Option<i64>, what: &str) -> Result<i64, Trouble> {
    match last.unwrap_or(0).checked_add(1) {
        Some(next) if next > 0 => Ok(next),
        _ => Err(Trouble::Fault(Fault::unreadable(
            "records-damaged",
            format!(
                "the last {what} in these records is {}, after which none can follow.",
                last.unwrap_or(0)
            ),
            "Another program must have written that. Take the file from a backup, or begin a new one.",
        ))),
    }
}

/// The garden that a survey is of, by the rules above; `None` where it is a new one. Of several that fit, one with the same whole name goes
/// before others, then the one with most ground in common, then the nearest.
fn known(transaction: &Transaction<'_>, seen: &Seen<'_>) -> Result<Option<i64>, Trouble> {
    let mut best: Option<((bool, f64, f64), i64)> = None;
    for garden in nearby(transaction, seen)? {
        let Some(ground) = ground(transaction, garden, seen)? else {
            continue;
        };
        let same_name = has(transaction, garden, &whole(seen.name))?;
        let same = ground.apart_m <= NEAR_M
            && (same_name
                || (!other_job(transaction, garden, seen)?
                    && match ground.shared {
                        Some(shared) => shared > SAME_GROUND,
                        None => shares_a_log(transaction, garden, seen)?,
                    }));
        let rank = (same_name, ground.shared.unwrap_or(0.0), -ground.apart_m);
        if same && best.is_none_or(|(other, _)| rank > other) {
            best = Some((rank, garden));
        }
    }
    if let Some((_, garden)) = best {
        return Ok(Some(garden));
    }
    // Where the survey or the garden has no place, logs and job numbers are what is left to go by.
    for garden in with_a_log(transaction, seen)? {
        let mut keys = seen.keys().into_iter();
        if placeless(transaction, garden, seen)?
            && keys.try_fold(false, |any, key| {
                Ok::<_, Trouble>(any || has(transaction, garden, &key)?)
            })?
        {
            return Ok(Some(garden));
        }
    }
    let Some(number) = seen.job else {
        return Ok(None);
    };
    for garden in called(transaction, &job(number))? {
        if placeless(transaction, garden, seen)? && has(transaction, garden, &own(seen.name))? {
            return Ok(Some(garden));
        }
    }
    Ok(None)
}

/// Gardens with the survey's job number or the last part of its name whose rectangle comes near its own. This is a quick first search by
/// an index; the outlines themselves are compared afterwards.
fn nearby(transaction: &Transaction<'_>, seen: &Seen<'_>) -> Result<Vec<i64>, Trouble> {
    let Some(sides) = seen.sides() else {
        return Ok(Vec::new());
    };
    let north = NEAR_M * DEGREES_A_METRE;
    let furthest = sides.min().y.abs().max(sides.max().y.abs()) + north;
    let east = (north / furthest.to_radians().cos().max(1e-6)).min(360.0);
    let (west_end, east_end) = (sides.min().x - east, sides.max().x + east);
    // CROSS JOIN makes SQLite begin with the places: a name alone may be that of thousands of gardens.
    let mut search = transaction.prepare_cached(
        "SELECT n.garden FROM rtree_garden_names_place p CROSS JOIN garden_names n ON n.id = p.id WHERE p.minname = ?1 AND p.maxname = ?1 \
         AND p.maxx >= ?2 AND p.minx <= ?3 AND p.maxy >= ?4 AND p.miny <= ?5 AND n.name = ?6",
    )?;
    let mut found = Vec::new();
    for key in seen.keys() {
        // 180° east and 180° west are one place, so a rectangle across it is looked for on both sides.
        for turn in [0.0, 360.0, -360.0] {
            if turn != 0.0 && west_end >= -180.0 && east_end <= 180.0 {
                continue;
            }
            let rows = search.query_map(
                params![
                    number_of(&key),
                    west_end + turn,
                    east_end + turn,
                    sides.min().y - north,
                    sides.max().y + north,
                    key
                ],
                |row| row.get(0),
            )?;
            for garden in rows {
                let garden: i64 = garden?;
                if !found.contains(&garden) {
                    found.push(garden);
                }
            }
        }
    }
    Ok(found)
}

/// A number that stands for a name in the index of places. It has 24 bits, as many as that index holds exactly; two names may share one.
fn number_of(name: &str) -> u32 {
    let hash = Sha256::digest(name.as_bytes());
    hash.iter()
        .take(3)
        .fold(0, |all, byte| (all << 8) | u32::from(*byte))
}

/// Notes the names of a survey that was added, and where its garden lies by it.
///
/// # Errors
/// A file that cannot be written.
pub(crate) fn remember(
    transaction: &Transaction<'_>,
    garden: i64,
    survey: i64,
    seen: &Seen<'_>,
) -> Result<(), Trouble> {
    let mut add = transaction
        .prepare_cached("INSERT OR IGNORE INTO garden_names (garden, name) VALUES (?1, ?2)")?;
    add.execute(params![garden, whole(seen.name)])?;
    for key in seen.keys() {
        add.execute(params![garden, key])?;
    }
    let before = shown(transaction, garden)?;
    // A survey without an outline does not take the place of one with an outline.
    let shows = match &before {
        Some(before) => !seen.outline.0.is_empty() || before.outline.0.is_empty(),
        None => true,
    };
    let sides = match before {
        Some(before) if !shows => before.sides(),
        _ => seen.sides(),
    };
    let Some(sides) = sides else {
        return Ok(());
    };
    if shows {
        transaction
            .prepare_cached("UPDATE gardens SET shown_by = ?2 WHERE id = ?1")?
            .execute([garden, survey])?;
    }
    let names: Vec<(i64, String)> = transaction
        .prepare_cached(
            "SELECT id, name FROM garden_names WHERE garden = ?1 AND NOT name GLOB 'is/*'",
        )?
        .query_map([garden], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<Result<_, _>>()?;
    let mut put = transaction.prepare_cached(
        "INSERT OR REPLACE INTO rtree_garden_names_place VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?6)",
    )?;
    for (id, name) in names {
        put.execute(params![
            id,
            sides.min().x,
            sides.max().x,
            sides.min().y,
            sides.max().y,
            number_of(&name)
        ])?;
    }
    Ok(())
}

/// Where a garden lies: its outline, or the middle of a walk that gave none.
struct Shown {
    place: Option<(f64, f64)>,
    outline: MultiPolygon<f64>,
}

impl Shown {
    /// The rectangle round it, in degrees.
    fn sides(&self) -> Option<Rect<f64>> {
        let seen = Seen {
            name: "",
            job: None,
            place: self.place,
            outline: self.outline.clone(),
            logs: Vec::new(),
        };
        seen.sides()
    }
}

/// Where a garden lies, by the survey that stands for it; `None` where none does.
fn shown(transaction: &Transaction<'_>, garden: i64) -> Result<Option<Shown>, Trouble> {
    let found: Option<(i64, Option<f64>, Option<f64>)> = transaction
        .prepare_cached(
            "SELECT s.id, s.lat, s.lon FROM gardens g JOIN surveys s ON s.id = g.shown_by WHERE g.id = ?1",
        )?
        .query_row([garden], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .optional()?;
    let Some((survey, lat, lon)) = found else {
        return Ok(None);
    };
    Ok(Some(Shown {
        place: lat.zip(lon),
        outline: outline(transaction, survey)?,
    }))
}

/// The net lawns of a recorded survey as longitude and latitude; empty where it has none that can be read.
///
/// # Errors
/// A file that cannot be read.
pub(crate) fn outline(connection: &Connection, survey: i64) -> Result<MultiPolygon<f64>, Trouble> {
    let blobs: Vec<Vec<u8>> = connection
        .prepare_cached("SELECT geom FROM lawns WHERE survey_id = ?1 AND typeof(geom) = 'blob'")?
        .query_map([survey], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    let polygons = blobs.iter().filter_map(|blob| blob::decode_polygons(blob));
    Ok(MultiPolygon(polygons.flatten().collect()))
}

/// How the survey's ground lies to the garden's; `None` where one of them has no place.
fn ground(
    transaction: &Transaction<'_>,
    garden: i64,
    seen: &Seen<'_>,
) -> Result<Option<Ground>, Trouble> {
    let Some(there) = shown(transaction, garden)? else {
        return Ok(None);
    };
    let (Some(here), Some(sides)) = (seen.sides(), there.sides()) else {
        return Ok(None);
    };
    let middle = here.center();
    let Ok(plane) = Plane::new(middle.y, middle.x, 0.0) else {
        return Ok(None);
    };
    let laid = |outline: &MultiPolygon<f64>| outline.map_coords(|at| plane.forward(at.y, at.x));
    let point = |sides: Rect<f64>| geo::Point(plane.forward(sides.center().y, sides.center().x));
    let (one, other) = (laid(&seen.outline), laid(&there.outline));
    Ok(Some(match (one.0.is_empty(), other.0.is_empty()) {
        (false, false) => {
            let both_m2 = one.intersection(&other).unsigned_area();
            let either_m2 = one.unsigned_area() + other.unsigned_area() - both_m2;
            Ground {
                apart_m: match both_m2 > 0.0 {
                    true => 0.0,
                    false => apart_m(&one, &other),
                },
                shared: Some(both_m2 / either_m2.max(f64::MIN_POSITIVE)),
            }
        }
        (true, false) => Ground {
            apart_m: Euclidean.distance(&point(here), &other),
            shared: None,
        },
        (false, true) => Ground {
            apart_m: Euclidean.distance(&point(sides), &one),
            shared: None,
        },
        (true, true) => Ground {
            apart_m: Euclidean.distance(&point(here), &point(sides)),
            shared: None,
        },
    }))
}

/// The least distance between two outlines that do not overlap, metres.
fn apart_m(one: &MultiPolygon<f64>, other: &MultiPolygon<f64>) -> f64 {
    use geo::Simplify;
    // Outlines of thousands of places are thinned to half a metre, which is enough to judge a distance of 50 m and much quicker.
    const COARSE_M: f64 = 0.5;
    let (one, other) = (one.simplify(COARSE_M), other.simplify(COARSE_M));
    one.iter()
        .flat_map(|a| other.iter().map(move |b| Euclidean.distance(a, b)))
        .fold(f64::INFINITY, f64::min)
}

/// Whether a garden ever had this key.
fn has(transaction: &Transaction<'_>, garden: i64, key: &str) -> Result<bool, Trouble> {
    Ok(transaction
        .prepare_cached("SELECT 1 FROM garden_names WHERE garden = ?1 AND name = ?2")?
        .exists(params![garden, key])?)
}

/// Whether the survey and the garden both have job numbers, and the garden never had the survey's.
fn other_job(transaction: &Transaction<'_>, garden: i64, seen: &Seen<'_>) -> Result<bool, Trouble> {
    let Some(number) = seen.job else {
        return Ok(false);
    };
    let numbered = transaction
        .prepare_cached("SELECT 1 FROM garden_names WHERE garden = ?1 AND name GLOB 'job/*'")?
        .exists([garden])?;
    Ok(numbered && !has(transaction, garden, &job(number))?)
}

/// The gardens that ever had this key.
///
/// # Errors
/// A file that cannot be read.
pub(crate) fn called(connection: &Connection, key: &str) -> rusqlite::Result<Vec<i64>> {
    connection
        .prepare_cached("SELECT garden FROM garden_names WHERE name = ?1 ORDER BY garden")?
        .query_map([key], |row| row.get(0))?
        .collect()
}

/// Whether the survey or the garden has no place.
fn placeless(transaction: &Transaction<'_>, garden: i64, seen: &Seen<'_>) -> Result<bool, Trouble> {
    let placed = transaction
        .prepare_cached("SELECT 1 FROM gardens WHERE id = ?1 AND shown_by NOT NULL")?
        .exists([garden])?;
    Ok(!placed || seen.sides().is_none())
}

/// Gardens lately measured from one of the survey's logs.
fn with_a_log(transaction: &Transaction<'_>, seen: &Seen<'_>) -> Result<Vec<i64>, Trouble> {
    let mut search = transaction.prepare_cached(
        "SELECT s.garden FROM log_files f JOIN surveys s ON s.id = f.survey_id WHERE f.sha256 = ?1 AND s.garden > 0 \
         ORDER BY f.id DESC LIMIT ?2",
    )?;
    let mut found = Vec::new();
    for hash in seen.logs.iter().filter(|hash| !hash.is_empty()) {
        let gardens = search.query_map(params![hash, LATEST], |row| row.get(0))?;
        for garden in gardens {
            found.push(garden?);
        }
    }
    found.dedup();
    Ok(found)
}

/// Whether the survey and one of the garden's late records have a log in common.
fn shares_a_log(
    transaction: &Transaction<'_>,
    garden: i64,
    seen: &Seen<'_>,
) -> Result<bool, Trouble> {
    Ok(with_a_log(transaction, seen)?.contains(&garden))
}
