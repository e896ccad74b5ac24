//! The day's table on the terminal, at most 80 columns wide (but for very long names): a row for each survey, and under each that is not
//! `ok` the reason.

use super::line::Line;
use crate::sheet::text::lines::Lines;
use crate::units::{Units, two_figures};
use crate::visible::{columns, visible};

/// The most columns for names; a longer name gets a line of its own.
const NAMES: usize = 22;

/// How the table is laid out.
#[derive(Debug, Clone, Copy)]
pub struct Table {
    names: usize,
    units: Units,
}

impl Table {
    /// A table for these names, whose column is as wide as they need.
    pub fn new<'a>(names: impl Iterator<Item = &'a str>, units: Units) -> Table {
        let widest = names.map(|name| columns(&visible(name))).max().unwrap_or(0);
        Table {
            names: widest.clamp("survey".len(), NAMES),
            units,
        }
    }

    /// A table for names that are not known yet.
    #[must_use]
    pub fn of_any(units: Units) -> Table {
        Table {
            names: NAMES,
            units,
        }
    }

    /// The titles of the columns, and a line below them.
    #[must_use]
    pub fn head(&self) -> String {
        let unit = self.units.area_unit();
        let head = self.row(
            "survey",
            &format!("net {unit}"),
            &format!("band {unit}"),
            "%",
            "status",
            ["pieces", "pallets", "checks"],
        );
        format!("{head}{}\n", "-".repeat(columns(head.trim_end())))
    }

    /// A survey's row, and why it is not `ok`.
    pub fn line(&self, line: &Line) -> String {
        let (net, band, percent) = match &line.area {
            Some(area) => {
                let shown = self.units.rounded_area(area.net_m2, area.band_m2);
                (
                    shown.value,
                    format!("± {}", shown.uncertainty),
                    two_figures(area.percent()),
                )
            }
            None => ("-".into(), "-".into(), "-".into()),
        };
        let last = [line.pieces, line.pallets, line.checks.map(u64::from)]
            .map(|count| count.map_or("-".to_owned(), |n| n.to_string()));
        let last = last.each_ref().map(String::as_str);
        let name = visible(&line.name);
        let mut text = String::new();
        let status = line.status.word();
        if columns(&name) > self.names {
            text.push_str(&name);
            text.push('\n');
            text.push_str(&self.row("", &net, &band, &percent, status, last));
        } else {
            text.push_str(&self.row(&name, &net, &band, &percent, status, last));
        }
        if let Some(reason) = &line.reason {
            let mut lines = Lines::default();
            lines.paragraph(4, reason);
            text.push_str(&lines.text());
        }
        text
    }

    fn row(
        &self,
        name: &str,
        net: &str,
        band: &str,
        percent: &str,
        status: &str,
        [pieces, pallets, checks]: [&str; 3],
    ) -> String {
        let row = format!(
            "{name}{} {net:>10} {band:>8} {percent:>5}  {status:<8} {pieces:>6} {pallets:>7} {checks:>6}",
            " ".repeat(self.names.saturating_sub(columns(name)))
        );
        format!("{}\n", row.trim_end())
    }
}

#[cfg(test)]
mod tests {
    use super::super::line::Figures;
    use super::*;
    use crate::survey::measured::Status;

    fn line(name: &str, status: Status) -> Line {
        Line {
            name: name.into(),
            status,
            job: None,
            site: None,
            date: None,
            area: (status != Status::Withheld).then_some(Figures {
                net_m2: 207.1734,
                band_m2: 2.2841,
                low_m2: 204.8893,
                high_m2: 209.4575,
            }),
            pieces: (status == Status::Ok).then_some(250),
            pallets: (status == Status::Ok).then_some(5),
            laid_pieces: (status == Status::Ok).then_some(212),
            checks: (status != Status::Withheld).then_some(3),
            reason: (status != Status::Ok).then(|| {
                "There is no usable position in the log. Check that the logger had a fix and recorded positions.".into()
            }),
        }
    }

    #[test]
    fn eighty_columns_whatever_the_name() {
        // As large as any estate in square feet.
        let mut large = line("a name as wide as can.", Status::Withheld);
        large.area = line("", Status::Ok).area.map(|area| Figures {
            net_m2: 1e3 * area.net_m2,
            band_m2: 1e3 * area.band_m2,
            ..area
        });
        let lines = [
            line("monday/J-0417", Status::Ok),
            line(&"long/".repeat(20), Status::Check),
            line("北の庭", Status::Ok),
            large,
            line("tab\tend\u{1b}[2J.nmea", Status::Withheld),
        ];
        let table = Table::new(lines.iter().map(|l| l.name.as_str()), Units::Metric);
        let mut text = table.head();
        for line in &lines {
            text.push_str(&table.line(line));
        }
        insta::assert_snapshot!(text);
        for row in text.lines().filter(|row| !row.starts_with("long/")) {
            assert!(columns(row) <= 80, "{row}");
            assert!(!row.contains(char::is_control));
        }
    }
}
