//! Tables on printed pages. A table is as wide as its cells ask for, up to the page's width, and may be split between rows when a page
//! is turned. A long and narrow one is folded: it is cut into two or three columns that stand beside each other, to save paper.

use super::{BODY_MM, Flow, LEFT_MM, SMALL_MM, STEP_MM};
use crate::sheet::block::Table;
use crate::sheet::board::{Anchor, Ink, Role, Stroke, Weight, at, face, text};

/// Room between columns.
const GAP_MM: f64 = 4.0;
/// Height of a row with one line of text.
const ROW_MM: f64 = 1.3 + STEP_MM - 0.8;
/// Tables of fewer rows than this are not folded.
const LONG: usize = 16;

/// A folded table is not begun with fewer rows than these.
const FEWEST: usize = 4;

/// How the text of a cell is set.
#[derive(Clone, Copy)]
struct Style {
    size_mm: f64,
    weight: Weight,
    ink: Ink,
}

impl Style {
    const HEAD: Style = Style {
        size_mm: SMALL_MM,
        weight: Weight::Bold,
        ink: Ink::SOFT,
    };
    const CELL: Style = Style {
        size_mm: BODY_MM * 0.94,
        weight: Weight::Regular,
        ink: Ink::TEXT,
    };
}

impl Flow<'_> {
    /// Lays out a table. A long and narrow one is folded page by page: as many rows as fit, each column read down to its end before the
    /// next.
    pub(super) fn table(&mut self, table: &Table) {
        self.blocks += 1;
        let beside = beside(table, self.room_mm);
        if beside < 2 {
            return self.rows(table, 0, usize::MAX);
        }
        let mut rows = table.rows.as_slice();
        let mut before = 0;
        while !rows.is_empty() {
            let room_mm = self.bottom() - self.y - 2.0 * ROW_MM;
            let tall =
                ((room_mm / ROW_MM).floor().max(0.0) as usize).min(rows.len().div_ceil(beside));
            if tall < FEWEST.min(rows.len().div_ceil(beside)) {
                self.turn();
                continue;
            }
            let (these, left) = rows.split_at(rows.len().min(beside * tall));
            self.rows(
                &folded(table, these, beside, tall),
                before,
                table.head.len(),
            );
            before += these.len();
            rows = left;
        }
    }

    /// Lays out rows. `before` counts the rows of the same table that were laid out before. In a folded table each part has `folds` columns
    /// and then an empty one; `usize::MAX` stands for a table that is not folded.
    fn rows(&mut self, table: &Table, before: usize, folds: usize) {
        let columns = table
            .rows
            .iter()
            .map(Vec::len)
            .chain([table.head.len()])
            .max()
            .unwrap_or(0);
        if columns == 0 {
            return;
        }
        let widths = widths(table, columns, self.room_mm);
        let size = Style::CELL.size_mm;
        let head: Vec<Vec<String>> = (0..columns)
            .map(|k| {
                let said = table.head.get(k).map_or("", String::as_str);
                face::wrap(said, SMALL_MM, Weight::Bold, widths[k])
            })
            .collect();
        let headed = table.head.iter().any(|cell| !cell.is_empty());
        self.y += 0.5;
        self.need(3.0 * STEP_MM);
        let folded = table.rows.len();
        // Headings are drawn again on each page and above each part, but read out only once, where they are drawn first.
        let heads = |k: usize| (before == 0 && k < folds).then_some((0, k, Role::Head));
        let repeated = |_: usize| None;
        if headed {
            self.cells(&head, &widths, table, Style::HEAD, &heads);
        }
        for (at, row) in table.rows.iter().enumerate() {
            let cells: Vec<Vec<String>> = (0..columns)
                .map(|k| {
                    let said = row.get(k).map_or("", String::as_str);
                    face::wrap(said, size, Weight::Regular, widths[k])
                })
                .collect();
            let tall = cells.iter().map(Vec::len).max().unwrap_or(1) as f64 * STEP_MM;
            if self.y + tall > self.bottom() {
                self.turn();
                if headed {
                    self.cells(&head, &widths, table, Style::HEAD, &repeated);
                }
            }
            // Row and column under which a cell is read out. A folded table is read as if it were not folded; its empty columns are not read.
            let place = |k: usize| {
                let (fold, column) = match folds {
                    usize::MAX => (0, k),
                    _ => (k / (folds + 1), k % (folds + 1)),
                };
                let row = 1 + before + fold * folded + at;
                (column < folds).then_some((row, column, Role::Cell))
            };
            self.cells(&cells, &widths, table, Style::CELL, &place);
        }
        self.y += 1.6;
    }

    /// Lays out the cells of one row, each a list of lines, and the rule below them. `place` says for each cell where in the table it is
    /// read out, if it is.
    fn cells(
        &mut self,
        cells: &[Vec<String>],
        widths: &[f64],
        table: &Table,
        style: Style,
        place: &dyn Fn(usize) -> Option<(usize, usize, Role)>,
    ) {
        let Style {
            size_mm,
            weight,
            ink,
        } = style;
        let tall = cells.iter().map(Vec::len).max().unwrap_or(1);
        let mut x = LEFT_MM;
        for (k, (cell, width)) in cells.iter().zip(widths).enumerate() {
            let right = table.right.get(k).copied().unwrap_or(false);
            match place(k) {
                Some((row, column, role)) => {
                    self.tag(&[(0, Role::Table), (row, Role::Row), (column, role)]);
                }
                None => self.tag(&[]),
            }
            for (line, said) in cell.iter().enumerate() {
                let y = self.y + STEP_MM * line as f64;
                let mut text = text(at(x, y), size_mm, weight, ink, said.as_str());
                if right {
                    text.at.x = x + width;
                    text.anchor = Anchor::End;
                }
                self.put(text);
            }
            x += width + GAP_MM;
        }
        let across: f64 = widths.iter().sum::<f64>() + GAP_MM * (widths.len().max(1) - 1) as f64;
        self.y += STEP_MM * (tall as f64 - 1.0) + 1.3;
        self.page.line(
            &[at(LEFT_MM, self.y), at(LEFT_MM + across, self.y)],
            Stroke::whole(Ink::RULE, 0.15),
        );
        self.y += STEP_MM - 0.8;
    }
}

/// In how many parts (at most three) a long table can stand beside itself; 1 for one that is short, wide or ragged.
fn beside(table: &Table, room_mm: f64) -> usize {
    let columns = table.head.len();
    let whole = table.rows.iter().all(|row| row.len() == columns);
    if table.rows.len() < LONG || columns == 0 || !whole {
        return 1;
    }
    let wide = naturals(table, columns).iter().sum::<f64>() + GAP_MM * (columns + 1) as f64;
    ((room_mm / wide).floor() as usize).clamp(1, 3)
}

/// How much room the beginning of a table needs, so that the page is turned before a table that has less.
pub(super) fn least_mm(table: &Table, room_mm: f64) -> f64 {
    let beside = beside(table, room_mm);
    let folded_mm = (2 + FEWEST.min(table.rows.len().div_ceil(beside))) as f64 * ROW_MM;
    if beside < 2 { 4.0 * STEP_MM } else { folded_mm }
}

/// These rows folded into at most `beside` parts of `tall` rows, side by side with an empty column between them.
fn folded(table: &Table, rows: &[Vec<String>], beside: usize, tall: usize) -> Table {
    let columns = table.head.len();
    let beside = beside.min(rows.len().div_ceil(tall));
    let each = |cells: &dyn Fn(usize) -> Vec<String>| {
        let parts: Vec<Vec<String>> = (0..beside).map(cells).collect();
        parts.join(&String::new())
    };
    let right: Vec<Vec<bool>> = (0..beside)
        .map(|_| {
            (0..columns)
                .map(|k| table.right.get(k).copied().unwrap_or(false))
                .collect()
        })
        .collect();
    Table {
        head: each(&|_| table.head.clone()),
        right: right.join(&false),
        rows: (0..tall)
            .map(|at| {
                each(&|k| {
                    let row = rows.get(k * tall + at).cloned();
                    row.unwrap_or_else(|| vec![String::new(); columns])
                })
            })
            .collect(),
    }
}

/// The width of each column. Where their natural widths do not fit together, the widest are cut down to one width at which all fit; it is
/// found by halving an interval.
fn widths(table: &Table, columns: usize, room_mm: f64) -> Vec<f64> {
    let natural = naturals(table, columns);
    let room = room_mm - GAP_MM * (columns - 1) as f64;
    let (mut low, mut high) = (4.0, room_mm);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if natural.iter().map(|w| w.min(middle)).sum::<f64>() > room {
            high = middle;
        } else {
            low = middle;
        }
    }
    natural.iter().map(|w| w.min(low)).collect()
}

/// How wide each column would be if there were room: as wide as its widest cell or its heading.
fn naturals(table: &Table, columns: usize) -> Vec<f64> {
    let size = Style::CELL.size_mm;
    (0..columns)
        .map(|k| {
            let cells = table.rows.iter().filter_map(|row| row.get(k));
            let widest = cells
                .map(|cell| face::width_mm(&face::clean(cell), size, Weight::Regular))
                .fold(0.0, f64::max);
            let head = table.head.get(k).map_or(0.0, |head| {
                face::width_mm(&face::clean(head), SMALL_MM, Weight::Bold)
            });
            f64::max(widest, head) + 0.2
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::pages;
    use super::*;
    use crate::job::people::PaperSize;
    use crate::sheet::block::{Block, Paper};
    use crate::sheet::board::Mark;

    /// Two hundred narrow rows take two pages where one below the other they would take four; each stands there once, and a column is
    /// read down.
    #[test]
    fn long_narrow_tables_stand_beside_themselves() {
        let rows = (0..200).map(|k| vec![format!("row {k}"), "1.00 m".into()]);
        let table = Table::new(&["row", "length"], &[false, true], rows.collect());
        let paper = Paper {
            kind: "Crew sheet",
            about: "a lawn".into(),
            date: String::new(),
            size: PaperSize::Letter,
            firm: Default::default(),
            blocks: vec![Block::Table(table)],
        };
        let pages = pages(&paper);
        assert_eq!(pages.len(), 2);
        let mut found: Vec<(usize, f64, f64, usize)> = Vec::new();
        for (number, page) in pages.iter().enumerate() {
            for (_, mark) in page.each() {
                if let Mark::Text(text) = mark
                    && let Some(k) = text.text.strip_prefix("row ").and_then(|k| k.parse().ok())
                {
                    found.push((number, text.at.x, text.at.y, k));
                }
            }
        }
        found.sort_by(|a, b| {
            (a.0.cmp(&b.0))
                .then(a.1.total_cmp(&b.1))
                .then(a.2.total_cmp(&b.2))
        });
        let in_turn: Vec<usize> = found.iter().map(|row| row.3).collect();
        assert_eq!(in_turn, (0..200).collect::<Vec<_>>());
    }
}
