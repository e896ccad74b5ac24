//! Finds the header of a table and what its columns hold, and tells the user how they were understood.

use super::Lies;
use super::columns::{Column, Role, by_name, by_numbers, of_a_plan, units_below};
use super::numbers::angle_deg;
use crate::fault::Fault;
use crate::notice::{ColumnRead, Notice};
use crate::process::Accuracy;

/// The columns of a table, and where its rows begin.
pub(super) struct Layout {
    columns: Vec<Column>,
    /// Rows up to this line are the header, whether or not its words are known, and what stands before it; 0 where there is none.
    pub header_line: u32,
    /// Whether latitude and longitude, or easting and northing, might be the other way round.
    doubtful: bool,
}

/// Finds the columns by their titles, else by the numbers in them. `rows` are the first rows of the table with their lines.
pub(super) fn layout(rows: &[(u32, Vec<String>)], lies: Lies<'_>) -> Result<Layout, Fault> {
    for (at, (line, cells)) in rows.iter().enumerate() {
        let mut titles: Vec<&str> = borrowed(cells);
        // A header may stand behind a comment sign, which may be a cell of its own.
        if let Some(first) = titles.first_mut() {
            *first = first.trim_start_matches(['#', '%', '/', ' ', '\u{feff}']);
        }
        if titles.first().is_some_and(|t| t.is_empty()) {
            titles.remove(0);
        }
        if let Some(mut columns) = by_name(&titles) {
            let below = rows.get(at + 1);
            let below = below.filter(|(_, cells)| units_below(&mut columns, &borrowed(cells)));
            return Ok(Layout {
                columns,
                header_line: below.map_or(*line, |(line, _)| *line),
                doubtful: false,
            });
        }
    }
    let data: Vec<Vec<String>> = rows
        .iter()
        .map(|(_, cells)| cells.clone())
        .filter(|cells| numbers_in(cells) >= 2)
        .collect();
    let by_numbers = match lies {
        Lies::OnAPlan => of_a_plan(&data).map(|columns| (columns, false)),
        Lies::OnGrid(_) => by_numbers(&data, true),
        Lies::InDegrees => by_numbers(&data, false),
    };
    match by_numbers {
        Some((columns, doubtful)) => {
            // What stands before the first row of numbers is a header in words that are not known.
            let first = rows.iter().find(|(_, cells)| numbers_in(cells) >= 2);
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
    pub(crate) fn column(&self, role: Role) -> Option<&Column> {
        self.columns.iter().find(|c| c.role == role)
    }

    pub(crate) fn accuracies(&self) -> impl Iterator<Item = Accuracy> {
        self.columns.iter().filter_map(|c| match c.role {
            Role::Accuracy(kind) => Some(kind),
            _ => None,
        })
    }

    /// A notice of what each column was taken for, for the user to check.
    pub(crate) fn report(&self, separator: u8) -> Notice {
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

/// How many cells are numbers or angles.
pub(super) fn numbers_in(cells: &[String]) -> usize {
    cells.iter().filter(|c| angle_deg(c).is_some()).count()
}

pub(super) fn borrowed(cells: &[String]) -> Vec<&str> {
    cells.iter().map(String::as_str).collect()
}
