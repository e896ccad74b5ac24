//! Which column of a table is which: by its name, or by its numbers where there is no header.

use super::numbers::{angle_deg, number};
use crate::process::Accuracy;
use crate::read::accuracy;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Role {
    Name,
    Lat,
    Lon,
    /// The letter of the hemisphere, where it stands in a column of its own.
    NorthSouth,
    EastWest,
    Easting,
    Northing,
    /// `x` and `y`, degrees or metres by their size.
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
    /// Of a list of ours: what a row is, which ring it belongs to, the height of its plane, and what its metres are of.
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
                unit_m: unit_m(cell),
            });
        }
    }
    let has = |role| columns.iter().any(|c| c.role == role);
    // Post-processing software names its satellites and sigmas so; its quality numbers are another set.
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

fn role(title: &str) -> Option<Role> {
    let lower = title.to_lowercase();
    // A unit in brackets is no part of the name.
    let bare = lower.split(['(', '[']).next().unwrap_or(&lower);
    for (letters, role) in [("n/s", Role::NorthSouth), ("e/w", Role::EastWest)] {
        if bare.trim_start().starts_with(letters) {
            return Some(role);
        }
    }
    let key: String = bare.chars().filter(|c| c.is_alphanumeric()).collect();
    let short = [
        "metres", "meters", "degrees", "deg", "wgs84", "utc", "mm", "cm", "m",
    ]
    .iter()
    .find_map(|unit| key.strip_suffix(unit))
    .filter(|rest| rest.len() > 1 || matches!(*rest, "e" | "n" | "z" | "h" | "x" | "y"))
    .filter(|_| !matches!(key.as_str(), "sum" | "num" | "rtkm"));
    let named = exact(&key).or_else(|| short.and_then(exact));
    named.or_else(|| accuracy::kind(title).map(Role::Accuracy))
}

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
        "easting" | "eastings" | "east" | "e" | "xeast" => Role::Easting,
        "northing" | "northings" | "north" | "n" | "ynorth" => Role::Northing,
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

/// Metres per unit, from a unit written into the name; metres unless it says otherwise.
fn unit_m(title: &str) -> f64 {
    let lower = title.to_lowercase();
    let says = |unit: &str| {
        lower
            .split(|c: char| !c.is_alphanumeric())
            .skip(1)
            .any(|word| word == unit)
    };
    if says("mm") {
        0.001
    } else if says("cm") {
        0.01
    } else if says("ft") || says("feet") {
        0.3048
    } else {
        1.0
    }
}

/// The columns of rows without a header, by their numbers. The flag says that latitude and longitude could be the
/// other way round.
pub(super) fn by_numbers(rows: &[Vec<String>], grid: bool) -> Option<(Vec<Column>, bool)> {
    let width = rows.iter().map(Vec::len).max()?;
    // A column counts where nearly all of its cells are numbers with decimals.
    let all = |i: usize, test: &dyn Fn(&str) -> bool| {
        let good = rows
            .iter()
            .filter(|r| r.get(i).is_some_and(|c| test(c)))
            .count();
        good * 10 >= rows.len() * 9 && good > 0
    };
    let decimals = |cell: &str, least: usize| {
        let tail = cell.trim().rsplit(['.', ',']).next().unwrap_or("");
        cell.contains(['.', ',']) && tail.chars().take_while(char::is_ascii_digit).count() >= least
    };
    let column = |role, index| Column {
        role,
        index,
        title: format!("column {}", index + 1),
        unit_m: 1.0,
    };
    let lettered =
        |i: usize, letters: [char; 2]| all(i, &|c: &str| c.to_ascii_lowercase().contains(letters));
    let mut found = Vec::new();
    let mut doubtful = false;
    let mut first = None;
    for i in 0..width.saturating_sub(1) {
        let pair = |limit_a: f64, limit_b: f64, least: usize| {
            let within = |limit: f64| {
                move |c: &str| {
                    // Minutes and seconds, or a letter, say what it is without many decimals.
                    let told = decimals(c, least) || number(c).is_none();
                    told && angle_deg(c).is_some_and(|v| v.abs() <= limit)
                }
            };
            all(i, &within(limit_a)) && all(i + 1, &within(limit_b))
        };
        if grid {
            let large = |c: &str| number(c).is_some_and(|v| v.abs() > 1000.0);
            if all(i, &large) && all(i + 1, &large) {
                found = vec![column(Role::Easting, i), column(Role::Northing, i + 1)];
                doubtful = true;
            }
        } else if pair(180.0, 180.0, 4) && lettered(i, ['n', 's']) && lettered(i + 1, ['e', 'w']) {
            found = vec![column(Role::Lat, i), column(Role::Lon, i + 1)];
        } else if pair(180.0, 180.0, 4) && lettered(i, ['e', 'w']) && lettered(i + 1, ['n', 's']) {
            found = vec![column(Role::Lon, i), column(Role::Lat, i + 1)];
        } else if pair(90.0, 180.0, 4) {
            found = vec![column(Role::Lat, i), column(Role::Lon, i + 1)];
            doubtful = pair(180.0, 90.0, 4);
        } else if pair(180.0, 90.0, 4) {
            found = vec![column(Role::Lon, i), column(Role::Lat, i + 1)];
        } else if all(i, &|c| number(c).is_some_and(|v| v.abs() > 1000.0))
            && all(i + 1, &|c| number(c).is_some_and(|v| v.abs() > 1000.0))
            && (all(i, &|c| decimals(c, 1)) || all(i + 1, &|c| decimals(c, 1)))
        {
            found = vec![column(Role::Easting, i), column(Role::Northing, i + 1)];
        }
        if !found.is_empty() {
            first = Some(i);
            break;
        }
    }
    let first = first?;
    if first > 0 {
        found.push(column(Role::Name, 0));
    }
    let after = first + 2;
    if after < width
        && all(after, &|c| {
            number(c).is_some_and(|v| v.abs() < 9000.0) && decimals(c, 1)
        })
    {
        found.push(column(Role::Height, after));
    }
    // A last column of words is the controller's code.
    if after < width
        && let Some(last) = width.checked_sub(1)
        && rows.iter().any(|r| {
            r.get(last)
                .is_some_and(|c| c.chars().any(char::is_alphabetic))
        })
    {
        found.push(column(Role::Text, last));
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
    let column = |role, index: usize| Column {
        role,
        index,
        title: format!("column {}", index + 1),
        unit_m: 1.0,
    };
    let mut found = vec![column(Role::X, first), column(Role::Y, first + 1)];
    if named {
        found.push(column(Role::Name, 0));
    }
    if width > first + 2 && !numbers(width - 1) {
        found.push(column(Role::Text, width - 1));
    }
    Some(found)
}
