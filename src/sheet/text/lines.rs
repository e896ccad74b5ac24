//! Builds a text of lines never wider than a terminal's 80 columns. Beside the lines it keeps what was said as blocks, so that sheets can
//! lay out the same content in their own way.

use crate::sheet::block::{Block, Table};
use crate::units::NO_BREAK;
use crate::visible::{columns as wide, visible};

/// The most columns that a line has.
pub(crate) const WIDTH: usize = 80;
/// The column where the values of [`Lines::pair`] start.
pub(crate) const VALUES: usize = 16;

/// A text being laid out: its lines, and the blocks that say the same.
#[derive(Debug, Default)]
pub struct Lines(Vec<String>, Vec<Block>);

impl Lines {
    /// An empty line, unless there is one already or nothing stands above it.
    pub(crate) fn blank(&mut self) {
        if self.0.last().is_some_and(|line| !line.is_empty()) {
            self.0.push(String::new());
        }
    }

    /// A title over the whole width: what the text is on the left, whose it is on the right, or below where there is no room.
    pub(crate) fn title(&mut self, left: &str, right: &str) {
        let gap = WIDTH.saturating_sub(wide(left) + wide(right));
        if gap >= 2 {
            self.push(format!("{left}{}{right}", " ".repeat(gap)));
        } else {
            self.push(left.to_owned());
            self.indented(0, 0, right);
        }
        self.0.push("=".repeat(WIDTH));
    }

    pub(crate) fn heading(&mut self, text: &str) {
        self.1.push(Block::Heading(text.to_owned()));
        self.blank();
        self.push(text.to_owned());
        self.0.push("-".repeat(wide(text)));
    }

    /// A name and its value beside it; a long name gets a line of its own.
    pub(crate) fn pair(&mut self, name: &str, value: &str) {
        self.1.push(Block::Pair(name.to_owned(), value.to_owned()));
        let mut head = format!("{name}{}", " ".repeat(VALUES.saturating_sub(wide(name))));
        if wide(name) >= VALUES {
            self.indented(0, 2, name);
            head = " ".repeat(VALUES);
        }
        for part in wrap(value, WIDTH - VALUES) {
            self.push(format!("{head}{part}"));
            head = " ".repeat(VALUES);
        }
    }

    pub(crate) fn paragraph(&mut self, indent: usize, text: &str) {
        self.hanging(indent, indent, text);
    }

    /// A paragraph whose first line starts at `first` and whose others start at `rest`.
    pub(crate) fn hanging(&mut self, first: usize, rest: usize, text: &str) {
        self.1.push(Block::Say(text.to_owned()));
        self.indented(first, rest, text);
    }

    /// Adds the lines of a paragraph without noting it as a block.
    fn indented(&mut self, first: usize, rest: usize, text: &str) {
        for (at, part) in wrap(text, WIDTH - first.max(rest)).iter().enumerate() {
            self.push(format!(
                "{}{part}",
                " ".repeat(if at == 0 { first } else { rest })
            ));
        }
    }

    pub(crate) fn bullet(&mut self, mark: &str, text: &str) {
        self.1.push(Block::Point(text.to_owned()));
        for (at, part) in wrap(text, WIDTH - 4).iter().enumerate() {
            let head = if at == 0 {
                format!("  {mark} ")
            } else {
                "    ".to_owned()
            };
            self.push(format!("{head}{part}"));
        }
    }

    /// Rows of a name, an amount with its unit, and a remark. Amounts stand under each other by their decimal points.
    pub(crate) fn table(&mut self, rows: &[(String, String, String)], unit: &str) {
        self.1
            .push(Block::Table(Table::amounts("", "", rows, unit)));
        self.amounts(rows, unit);
    }

    fn amounts(&mut self, rows: &[(String, String, String)], unit: &str) {
        let decimals = |text: &str| text.find('.').map_or(0, |at| text.len() - at);
        let most = rows.iter().map(|row| decimals(&row.1)).max().unwrap_or(0);
        let rows: Vec<_> = rows
            .iter()
            .map(|(name, amount, remark)| {
                let pad = most - decimals(amount);
                (
                    name.clone(),
                    format!("{amount}{}", " ".repeat(pad)),
                    remark.clone(),
                )
            })
            .collect();
        // Names get what is left of the line once amounts, unit and up to 24 columns of remarks have had their room.
        let widest = |of: fn(&(String, String, String)) -> &String| {
            rows.iter().map(|r| wide(of(r))).max().unwrap_or(0)
        };
        let (amounts, remarks) = (widest(|r| &r.1), widest(|r| &r.2));
        let room = WIDTH
            .saturating_sub(2 + 2 + amounts + 1 + wide(unit) + 2 + remarks.min(24))
            .max(12);
        let names = widest(|r| &r.0).clamp(20, room.max(20));
        for (name, amount, remark) in &rows {
            let parts = wrap(name, names);
            let name = parts.first().map_or("", String::as_str);
            let amount_text = format!("{}{amount} {unit}", " ".repeat(amounts - wide(amount)));
            let line = format!(
                "  {name}{}  {amount_text}",
                " ".repeat(names.saturating_sub(wide(name)))
            );
            let remark_at = wide(&line) + 2;
            let remark_parts = wrap(remark, WIDTH.saturating_sub(remark_at).max(8));
            for at in 0..parts.len().max(remark_parts.len()).max(1) {
                let head = match at {
                    0 => line.clone(),
                    _ => format!("    {}", parts.get(at).map_or("", String::as_str)),
                };
                match remark_parts.get(at).filter(|part| !part.is_empty()) {
                    Some(part) => {
                        let gap = remark_at.saturating_sub(wide(&head));
                        self.push(format!("{head}{}{part}", " ".repeat(gap)));
                    }
                    None => self.push(head),
                }
            }
        }
    }

    /// As [`Lines::table`], with a heading over names and remarks.
    pub(crate) fn table_headed(
        &mut self,
        names: &str,
        remarks: &str,
        rows: &[(String, String, String)],
        unit: &str,
    ) {
        self.1
            .push(Block::Table(Table::amounts(names, remarks, rows, unit)));
        let before = self.0.len();
        self.amounts(rows, unit);
        // The heading over the remarks begins at the column where the first row's remark does.
        let first_remark = rows.first().map_or("", |row| row.2.as_str());
        let column = self.0.get(before).and_then(|line| {
            let bytes = line
                .rfind(first_remark)
                .filter(|_| !first_remark.is_empty())?;
            line.get(..bytes).map(wide)
        });
        let mut line = format!("  {names}");
        if let Some(column) = column {
            line.push_str(&" ".repeat(column.saturating_sub(wide(&line)).max(1)));
            line.push_str(remarks);
        }
        self.0.insert(before, line);
    }

    /// A table of several columns: the first set to the left, the others to the right, the last to the left again.
    pub(crate) fn grid<const N: usize>(&mut self, head: &[&str; N], rows: &[[String; N]]) {
        self.1.push(Block::Table(Table {
            head: head.iter().map(|cell| (*cell).to_owned()).collect(),
            rows: rows.iter().map(|row| row.to_vec()).collect(),
            right: (0..N).map(|k| k > 0 && k + 1 < N).collect(),
        }));
        let mut widths = [0; N];
        for (k, width) in widths.iter_mut().enumerate() {
            let cells = rows.iter().filter_map(|r| r.get(k)).map(|c| wide(c));
            *width = cells.chain(head.get(k).map(|h| wide(h))).max().unwrap_or(0);
        }
        let line = |cells: Vec<&str>| {
            let mut text = String::from(" ");
            for (k, (cell, width)) in cells.iter().zip(widths).enumerate() {
                let pad = " ".repeat(width.saturating_sub(wide(cell)));
                if k == 0 || k + 1 == N {
                    text.push_str(&format!(" {cell}{pad}"));
                } else {
                    text.push_str(&format!("  {pad}{cell}"));
                }
                if k + 2 == N {
                    text.push(' ');
                }
            }
            text
        };
        self.push(line(head.to_vec()));
        for row in rows {
            self.push(line(row.iter().map(String::as_str).collect()));
        }
    }

    /// What was said, as blocks without a layout.
    #[cfg(feature = "sheets")]
    pub(crate) fn said(self) -> Vec<Block> {
        self.1
    }

    /// Adds a line that is already laid out; it becomes no block.
    pub(crate) fn set(&mut self, line: &str) {
        self.push(line.to_owned());
    }

    /// How many lines there are so far.
    pub(crate) fn count(&self) -> usize {
        self.0.len()
    }

    /// Drops the lines beyond so many.
    pub(crate) fn keep(&mut self, most: usize) {
        self.0.truncate(most);
    }

    /// Puts another text below.
    pub(crate) fn append(&mut self, mut other: Lines) {
        self.0.append(&mut other.0);
        self.1.append(&mut other.1);
    }

    pub(crate) fn text(&self) -> String {
        let mut text = self.0.join("\n");
        text.push('\n');
        text
    }

    /// Adds a line with blanks at its end taken off and hidden characters shown by their number.
    pub(crate) fn push(&mut self, line: String) {
        self.0.push(visible(line.trim_end()).into_owned());
    }
}

/// The text broken at blanks into lines of at most `room` columns; a longer word is broken inside. There is always at least one line.
fn wrap(text: &str, room: usize) -> Vec<String> {
    let room = room.max(1);
    let mut lines: Vec<String> = vec![String::new()];
    for word in text.split(|c: char| c.is_whitespace() && c != NO_BREAK) {
        // A log's name or a label may bring characters that would move the terminal's cursor.
        let shown = visible(word);
        let mut left = shown.as_ref();
        while !left.is_empty() {
            let Some(line) = lines.last_mut() else { break };
            let used = wide(line);
            if used + usize::from(used > 0) + wide(left) <= room {
                if used > 0 {
                    line.push(' ');
                }
                line.push_str(left);
                left = "";
            } else if used > 0 {
                lines.push(String::new());
            } else {
                let (part, rest) = left.split_at(within(left, room));
                line.push_str(part);
                left = rest;
                lines.push(String::new());
            }
        }
    }
    if lines.len() > 1 && lines.last().is_some_and(String::is_empty) {
        lines.pop();
    }
    lines
}

/// How many bytes of the text's beginning take no more columns than `room`; those of one character at the least.
fn within(text: &str, room: usize) -> usize {
    let ends = text.char_indices().map(|(at, c)| at + c.len_utf8());
    let fit = ends.take_while(|end| text.get(..*end).is_some_and(|part| wide(part) <= room));
    let first = text.chars().next().map_or(0, char::len_utf8);
    fit.last().unwrap_or(first)
}

/// The text on one line of at most `room` columns; where it is wider, its end gives way to "…".
pub(crate) fn cut(text: &str, room: usize) -> String {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let text = visible(&text);
    if wide(&text) <= room {
        return text.into_owned();
    }
    let end = within(&text, room.saturating_sub(1));
    format!("{}…", text.get(..end).unwrap_or("").trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Units;

    #[test]
    fn nothing_is_wider_than_the_page() {
        let mut out = Lines::default();
        let long = "x".repeat(300);
        let words = "several words ".repeat(30);
        out.title(&words, &long);
        out.pair("a name", &words);
        out.pair(&words[..20], &long);
        out.bullet("!", &long);
        out.hanging(2, 4, &words);
        let rows = [
            (long.clone(), "12.4".into(), words.clone()),
            ("b".into(), "1".into(), String::new()),
        ];
        out.table(&rows, "m²");
        out.table_headed("names", "remarks", &rows, "m²");
        for line in out.text().lines() {
            // A title's left side is ours and short; here it is made long on purpose.
            if !line.starts_with("several words several words several") {
                assert!(wide(line) <= WIDTH, "{}: {line}", wide(line));
            }
        }
    }

    #[test]
    fn no_line_ends_within_a_number() {
        let said = format!("{} in all", Units::Metric.weight(12_100.0));
        for room in 1..20 {
            let parts = wrap(&said, room);
            let cut = parts.iter().any(|part| part.trim() == "100");
            assert!(!cut || room < "12 100".len(), "{parts:?}");
        }
        assert_eq!(wrap(&said, 8), ["12\u{a0}100", "kg in", "all"]);
    }

    #[test]
    fn control_characters_do_not_reach_the_terminal() {
        let mut out = Lines::default();
        out.bullet("!", "a\u{1b}[31mred\u{7}");
        assert!(!out.text().contains('\u{1b}'));
    }
}
