//! Tells what each column of a table holds: by its title, or by its numbers where there is no header row.

use super::numbers::{angle_deg, number};
use crate::process::Accuracy;
use crate::read::accuracy;
use crate::units::named_m;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Role {
    Name,
    Lat,
    Lon,
    /// The letter of the hemisphere (N, S, E, W), where it stands in a column of its own.
    NorthSouth,
    EastWest,
    Easting,
    Northing,
    /// `x` and `y`, which are degrees or metres by their size.
    X,
    Y,
    Height,
    Separation,
    /// A horizontal accuracy, and of which kind.
    Accuracy(Accuracy),
    SigmaEast,
    SigmaNorth,
    Quality,
    /// The quality column of open post-processing software: 1 is fixed, 2 float, 5 single.
    PostQuality,
    Satellites,
    Hdop,
    Date,
    Time,
    Text,
    Radius,
    Diameter,
    /// These are of a list that this program wrote: what a row is, which ring it belongs to, the height of the plane that areas were
    /// measured on, and what the metres are of.
    What,
    Ring,
    PlaneHeight,
    Grid,
}

/// One recognised column: its role, its place, its name as written, and metres per unit for lengths.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Column {
    pub role: Role,
    pub index: usize,
    pub title: String,
    pub unit_m: f64,
}

/// The columns of a header row; `None` where it names no position.
pub(super) fn by_name(cells: &[&str]) -> Option<Vec<Column>> {
    let mut columns: Vec<Column> = Vec::new();
    for (index, cell) in cells.iter().enumerate() {
        if let Some(role) = role(cell)
            && !columns.iter().any(|c| c.role == role)
        {
            columns.push(Column {
                role,
                index,
                title: cell.trim().to_string(),
                unit_m: split_unit(cell).1.unwrap_or(1.0),
            });
        }
    }
    share_units(&mut columns, cells);
    let has = |role| columns.iter().any(|c| c.role == role);
    // A column `q` has the numbers of post-processing software only beside that software's columns of sigmas. Elsewhere it is an ordinary
    // quality.
    if has(Role::PostQuality) && !(has(Role::SigmaNorth) && has(Role::SigmaEast)) {
        for column in &mut columns {
            if column.role == Role::PostQuality {
                column.role = Role::Quality;
            }
        }
    }
    let pair = |a, b| columns.iter().any(|c| c.role == a) && columns.iter().any(|c| c.role == b);
    (pair(Role::Lat, Role::Lon) || pair(Role::Easting, Role::Northing) || pair(Role::X, Role::Y))
        .then_some(columns)
}

/// What a column with this title holds, whether or not a unit is written into the title; `None` where the title is not known.
fn role(title: &str) -> Option<Role> {
    let lower = title.to_lowercase();
    // What stands in brackets is a unit, and no part of the name.
    let bare = lower.split(['(', '[']).next().unwrap_or(&lower);
    for (letters, role) in [("n/s", Role::NorthSouth), ("e/w", Role::EastWest)] {
        if bare.trim_start().starts_with(letters) {
            return Some(role);
        }
    }
    let key: String = bare.chars().filter(|c| c.is_alphanumeric()).collect();
    let short = ["degrees", "deg", "wgs84", "utc"]
        .iter()
        .find_map(|unit| key.strip_suffix(unit));
    let named = exact(&key).or_else(|| short.and_then(exact));
    let without_unit = split_unit(title).0;
    let named = named.or_else(|| exact(&without_unit));
    let accuracy = || accuracy::kind(title).or_else(|| accuracy::kind(&without_unit));
    named.or_else(|| accuracy().map(Role::Accuracy))
}

/// What a title stands for that is in lower case and has no separators or unit left.
fn exact(key: &str) -> Option<Role> {
    Some(match key {
        "name" | "point" | "pointname" | "pt" | "ptid" | "pointid" | "pointno" | "pointnumber"
        | "id" | "no" | "nr" | "number" | "label" | "station" | "p" => Role::Name,
        "lat" | "latitude" | "ylat" | "latitudens" => Role::Lat,
        "latdir" | "latitudedirection" | "lathemisphere" | "latitudehemisphere" | "latref" => {
            Role::NorthSouth
        }
        "londir" | "longitudedirection" | "lonhemisphere" | "longitudehemisphere" | "lonref" => {
            Role::EastWest
        }
        "lon" | "long" | "lng" | "longitude" | "xlon" | "longitudeew" => Role::Lon,
        "easting" | "eastings" | "east" | "e" | "xeast" | "ost" | "rechtswert" => Role::Easting,
        "northing" | "northings" | "north" | "n" | "ynorth" | "nord" | "hochwert" => Role::Northing,
        "x" => Role::X,
        "y" => Role::Y,
        "height" | "h" | "elevation" | "elev" | "ele" | "alt" | "altitude" | "z" | "rl"
        | "ellipsoidalheight" | "heightellipsoidal" | "ellipsoidheight" => Role::Height,
        "undulation" | "geoidheight" | "geoidseparation" | "separation" | "geoid" => {
            Role::Separation
        }
        "sigmaeast" | "sigmae" | "sde" | "sdeast" | "eaststddev" | "eastingrms" => Role::SigmaEast,
        "sigmanorth" | "sigman" | "sdn" | "sdnorth" | "northstddev" | "northingrms" => {
            Role::SigmaNorth
        }
        "fix" | "quality" | "fixquality" | "fixtype" | "solution" | "solutiontype"
        | "solutionstatus" | "gpsquality" | "status" => Role::Quality,
        "q" => Role::PostQuality,
        "satellites" | "sats" | "satsused" | "numsats" | "nsat" | "nsats" | "sv" | "ns" => {
            Role::Satellites
        }
        "hdop" => Role::Hdop,
        "date" => Role::Date,
        "time" | "timestamp" | "datetime" | "dateandtime" | "gpst" | "gpstime" | "utc"
        | "utctime" | "isotime" => Role::Time,
        "code" | "description" | "desc" | "remark" | "remarks" | "comment" | "comments"
        | "note" | "notes" | "cmt" | "feature" => Role::Text,
        "radius" | "rad" => Role::Radius,
        "diameter" | "dia" | "diam" => Role::Diameter,
        "what" => Role::What,
        "ring" => Role::Ring,
        "planeheight" => Role::PlaneHeight,
        "grid" => Role::Grid,
        _ => return None,
    })
}

/// A title without the unit that is written into it, and metres in one of that: `x (ft)`, `y_us_ft`, `radius in mm`, `xft`.
fn split_unit(title: &str) -> (String, Option<f64>) {
    // Letters that stand before a unit without anything between.
    const RUN_ON: [&str; 7] = ["feet", "ft", "metres", "meters", "mm", "cm", "m"];
    let lower = title.to_lowercase();
    let words: Vec<&str> = lower
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    let last = (1..words.len()).find_map(|at| Some((at, named_m(&words[at..].concat())?)));
    if let Some((at, unit_m)) = last {
        let name = words[..at].concat();
        let name = name.strip_suffix("in").unwrap_or(&name);
        return (name.to_string(), Some(unit_m));
    }
    let key = words.concat();
    let run_on = RUN_ON.iter().find_map(|unit| {
        let name = key.strip_suffix(unit)?;
        let telling = name.len() > 1 || matches!(name, "e" | "n" | "z" | "h" | "x" | "y");
        let known = telling && exact(&key).is_none() && exact(name).is_some();
        known.then(|| (name.to_string(), named_m(unit)))
    });
    // Among other words, as in "x, ft, local": but not "in", which is a word itself.
    let among = || {
        words
            .iter()
            .skip(1)
            .find_map(|word| named_m(word).filter(|_| *word != "in"))
    };
    run_on.unwrap_or_else(|| (key.clone(), among()))
}

/// Where one of two coordinates says its unit, the other is in the same.
fn share_units(columns: &mut [Column], cells: &[&str]) {
    for pair in [
        [Role::X, Role::Y],
        [Role::Easting, Role::Northing],
        [Role::SigmaEast, Role::SigmaNorth],
    ] {
        let said = |role| {
            let column = columns.iter().find(|c| c.role == role)?;
            split_unit(cells[column.index]).1
        };
        if let (Some(unit_m), None) | (None, Some(unit_m)) = (said(pair[0]), said(pair[1])) {
            let both = columns.iter_mut().filter(|c| pair.contains(&c.role));
            both.for_each(|column| column.unit_m = unit_m);
        }
    }
}

/// Takes a row below the titles for their units, if it holds no numbers and a unit of length. `false` where it is none.
pub(super) fn units_below(columns: &mut [Column], cells: &[&str]) -> bool {
    let unit_m = |cell: &str| {
        let word: String = cell.chars().filter(|c| c.is_alphanumeric()).collect();
        named_m(&word.to_lowercase())
    };
    let row = cells.iter().any(|cell| unit_m(cell).is_some())
        && !cells.iter().any(|cell| number(cell).is_some());
    for column in columns.iter_mut().filter(|_| row) {
        if let Some(unit_m) = cells.get(column.index).and_then(|cell| unit_m(cell)) {
            column.unit_m = unit_m;
        }
    }
    row
}

/// A column without a title of its own.
fn untitled(role: Role, index: usize) -> Column {
    Column {
        role,
        index,
        title: format!("column {}", index + 1),
        unit_m: 1.0,
    }
}

/// Whether a number has at least so many decimals.
fn decimals(cell: &str, least: usize) -> bool {
    let tail = cell.trim().rsplit(['.', ',']).next().unwrap_or("");
    cell.contains(['.', ',']) && tail.chars().take_while(char::is_ascii_digit).count() >= least
}

/// Whether at least nine in ten cells of a column pass a test.
fn nearly_all(rows: &[Vec<String>], index: usize, test: &dyn Fn(&str) -> bool) -> bool {
    let passes = |row: &&Vec<String>| row.get(index).is_some_and(|cell| test(cell));
    let good = rows.iter().filter(passes).count();
    good * 10 >= rows.len() * 9 && good > 0
}

/// What this column and the next are, if they are a position; else `None`. The flag says that they could be the other way round.
fn position_in(rows: &[Vec<String>], index: usize, grid: bool) -> Option<(Role, Role, bool)> {
    let both = |a: &dyn Fn(&str) -> bool, b: &dyn Fn(&str) -> bool| {
        nearly_all(rows, index, a) && nearly_all(rows, index + 1, b)
    };
    let large = |c: &str| number(c).is_some_and(|v| v.abs() > 1000.0);
    if grid {
        return both(&large, &large).then_some((Role::Easting, Role::Northing, true));
    }
    let within = |limit_deg: f64| {
        move |c: &str| {
            // A plain number counts only with four decimals or more; one with minutes and seconds, or a letter, shows that it is an angle.
            let told = decimals(c, 4) || number(c).is_none();
            told && angle_deg(c).is_some_and(|v| v.abs() <= limit_deg)
        }
    };
    let lettered = |letters: [char; 2]| move |c: &str| c.to_ascii_lowercase().contains(letters);
    if both(&within(180.0), &within(180.0)) {
        let (north, east) = (lettered(['n', 's']), lettered(['e', 'w']));
        if both(&north, &east) {
            return Some((Role::Lat, Role::Lon, false));
        }
        if both(&east, &north) {
            return Some((Role::Lon, Role::Lat, false));
        }
    }
    let lon_first = both(&within(180.0), &within(90.0));
    if both(&within(90.0), &within(180.0)) {
        return Some((Role::Lat, Role::Lon, lon_first));
    }
    if lon_first {
        return Some((Role::Lon, Role::Lat, false));
    }
    let broken = |index| nearly_all(rows, index, &|c| decimals(c, 1));
    (both(&large, &large) && (broken(index) || broken(index + 1))).then_some((
        Role::Easting,
        Role::Northing,
        false,
    ))
}

/// The columns of rows without a header, by their numbers. The flag says that latitude and longitude could be the
/// other way round.
pub(super) fn by_numbers(rows: &[Vec<String>], grid: bool) -> Option<(Vec<Column>, bool)> {
    let width = rows.iter().map(Vec::len).max()?;
    // The first two columns side by side that can be a position are taken for it.
    let mut columns = 0..width.saturating_sub(1);
    let (first, (a, b, doubtful)) =
        columns.find_map(|index| Some((index, position_in(rows, index, grid)?)))?;
    let mut found = vec![untitled(a, first), untitled(b, first + 1)];
    if first > 0 {
        found.push(untitled(Role::Name, 0));
    }
    let after = first + 2;
    if after < width
        && nearly_all(rows, after, &|c| {
            number(c).is_some_and(|v| v.abs() < 9000.0) && decimals(c, 1)
        })
    {
        found.push(untitled(Role::Height, after));
    }
    // A last column with words in it is what the surveyor called the point.
    if after < width
        && let Some(last) = width.checked_sub(1)
        && rows.iter().any(|r| {
            r.get(last)
                .is_some_and(|c| c.chars().any(char::is_alphabetic))
        })
    {
        found.push(untitled(Role::Text, last));
    }
    Some((found, doubtful))
}

/// The columns of rows of metres of a plan without a header: the first two columns of numbers, after one of names or running
/// numbers.
pub(super) fn of_a_plan(rows: &[Vec<String>]) -> Option<Vec<Column>> {
    let width = rows.iter().map(Vec::len).min()?;
    let numbers = |i: usize| {
        rows.iter()
            .all(|row| row.get(i).is_some_and(|cell| number(cell).is_some()))
    };
    let counts_on = rows.iter().enumerate().all(|(n, row)| {
        row.first()
            .and_then(|cell| number(cell))
            .is_some_and(|v| v == n as f64 + 1.0)
    });
    let named = !numbers(0) || (width > 2 && counts_on && rows.len() > 1);
    let first = usize::from(named);
    if !(numbers(first) && numbers(first + 1)) {
        return None;
    }
    let mut found = vec![untitled(Role::X, first), untitled(Role::Y, first + 1)];
    if named {
        found.push(untitled(Role::Name, 0));
    }
    if width > first + 2 && !numbers(width - 1) {
        found.push(untitled(Role::Text, width - 1));
    }
    Some(found)
}
