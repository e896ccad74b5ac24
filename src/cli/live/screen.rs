//! Shows a live walk as one screen of a terminal: the area in large figures, what is seen, what is wrong, and the track. It has no
//! colours, since reversed letters can be seen on dark and on light; what is wrong also has a sign and a word.

use boundwalk::sheet::say::shown::{Ground, NO_AREA, NOTHING_WRONG, Shown};
use boundwalk::visible::{columns, visible};
use console::Term;
use geo::Coord;
use std::fmt::Write as _;

/// How many columns names get before their values.
const NAMES: usize = 12;
/// How many columns what is seen gets beside the track.
const SEEN: usize = 46;
/// How many rows the large figures have.
const LARGE: usize = 5;
/// With fewer columns or rows than these no track is drawn.
const LEAST: (usize, usize) = (16, 6);
/// How many times as high as wide a character on the screen is.
const TALL: f64 = 2.0;

/// The shapes of the large figures: three by five dots, each row as three bits.
const DIGITS: [(char, [u8; LARGE]); 13] = [
    ('0', [7, 5, 5, 5, 7]),
    ('1', [2, 6, 2, 2, 7]),
    ('2', [7, 1, 7, 4, 7]),
    ('3', [7, 1, 7, 1, 7]),
    ('4', [5, 5, 7, 1, 1]),
    ('5', [7, 4, 7, 1, 7]),
    ('6', [7, 4, 7, 5, 7]),
    ('7', [7, 1, 1, 2, 2]),
    ('8', [7, 5, 7, 5, 7]),
    ('9', [7, 5, 7, 1, 7]),
    ('.', [0, 0, 0, 0, 2]),
    ('±', [2, 7, 2, 0, 7]),
    ('-', [0, 0, 7, 0, 0]),
];

/// What the terminal shows.
#[derive(Debug)]
pub struct Screen {
    term: Term,
    begun: bool,
    bold: bool,
    /// Where the page is, if there is one.
    page: Option<String>,
}

impl Screen {
    pub fn new(page: Option<String>) -> Screen {
        Screen {
            page,
            term: Term::stderr(),
            begun: false,
            bold: std::env::var_os("NO_COLOR").is_none_or(|set| set.is_empty()),
        }
    }

    /// Draws the whole screen with `foot` as its last line; with a bell where something has turned bad. The odd characters are escape
    /// sequences that move the cursor, clear the rest of a line, and so on.
    pub fn draw(&mut self, shown: &Shown, foot: String, bell: bool) {
        let (rows, width) = self.term.size();
        let (rows, width) = (usize::from(rows).max(8), usize::from(width).max(40));
        let mut out = String::new();
        if !self.begun {
            out.push_str("\x1b[?25l\x1b[2J");
            self.begun = true;
        }
        out.push_str("\x1b[H");
        let all = self.lines(shown, foot, (rows, width));
        for (number, line) in all.iter().take(rows).enumerate() {
            let alarm = line.starts_with("!!") && self.bold;
            let end = if number + 1 < all.len().min(rows) {
                "\r\n"
            } else {
                ""
            };
            let shown = cut(line, width);
            let _ = match alarm {
                true => write!(out, "\x1b[7m{shown}\x1b[0m\x1b[K{end}"),
                false => write!(out, "{shown}\x1b[K{end}"),
            };
        }
        out.push_str("\x1b[J");
        if bell {
            out.push('\x07');
        }
        // Where the terminal is gone, a signal ends the walk.
        let _ = self.term.write_str(&out).and_then(|()| self.term.flush());
    }

    /// Puts the cursor below what is shown and makes it visible again.
    pub fn leave(&mut self) {
        let (rows, _) = self.term.size();
        let _ = self.term.write_str(&format!("\x1b[{rows};1H\r\n\x1b[?25h"));
    }
}

/// The line cut off to at most so many columns.
fn cut(line: &str, width: usize) -> String {
    let mut shown = visible(line).into_owned();
    while columns(&shown) > width {
        shown.pop();
    }
    shown
}

impl Screen {
    /// The lines of the whole screen from the top. The track stands beside what is seen, if there is room for it.
    fn lines(&self, shown: &Shown, foot: String, (rows, width): (usize, usize)) -> Vec<String> {
        let foot = [shown.said.to_owned(), foot];
        let mut all = vec![format!("boundwalk live   {}   {}", shown.time, shown.log)];
        all.extend(self.page.iter().map(|url| format!("page: {url}")));
        all.extend(area(shown, width));
        all.extend(shown.wrong.iter().map(|one| format!("!! {one}")));
        if shown.wrong.is_empty() {
            all.push(format!("   {NOTHING_WRONG}"));
        }
        let named = |(name, value): &(&str, String)| format!("{name:NAMES$}{value}");
        let mut seen: Vec<String> = shown.rows.iter().map(named).collect();
        seen.extend(shown.doubts.iter().map(|doubt| format!("Doubt: {doubt}")));
        let room = rows.saturating_sub(all.len() + foot.len());
        let track = match (width.checked_sub(SEEN + 1), &shown.ground) {
            (Some(beside), Some(ground)) if beside >= LEAST.0 && room >= LEAST.1 => {
                track(ground, beside, room)
            }
            _ => Vec::new(),
        };
        for row in 0..room {
            let left = seen.get(row).map_or("", String::as_str);
            all.push(match track.get(row) {
                Some(right) => {
                    let left = cut(left, SEEN);
                    let gap = SEEN + 1 - columns(&left);
                    format!("{left}{:gap$}{right}", "")
                }
                None => left.to_owned(),
            });
        }
        all.extend(foot);
        all
    }
}

/// The net area with its band, in large figures where there is room for them, and in words.
fn area(shown: &Shown, width: usize) -> Vec<String> {
    let unit = shown.area_unit;
    let (text, said) = match &shown.area {
        Some(area) => (
            format!("{}±{}", area.value, area.uncertainty),
            format!("   net {} ± {} {unit}", area.value, area.uncertainty),
        ),
        None => ("-".to_owned(), format!("   {NO_AREA}")),
    };
    let said = match &shown.pieces {
        Some(pieces) => format!("{said}   {pieces}"),
        None => said,
    };
    let mut all = vec![String::new()];
    let figures = large(&text);
    if figures.iter().all(|row| columns(row) <= width) {
        all.extend(figures);
        all.push(String::new());
    }
    all.push(said);
    all
}

/// A text in large figures, each dot two columns wide. Characters without a shape are left out.
fn large(text: &str) -> Vec<String> {
    (0..LARGE)
        .map(|row| {
            let mut line = "   ".to_owned();
            for letter in text.chars() {
                let dots = DIGITS.iter().find(|(known, _)| *known == letter);
                let Some((_, rows)) = dots else { continue };
                for bit in [4, 2, 1] {
                    line.push_str(if rows[row] & bit > 0 { "██" } else { "  " });
                }
                line.push(' ');
            }
            line.trim_end().to_owned()
        })
        .collect()
}

/// The track from above, north up: `.` where it was walked, `S` where it began, `B` and `C` for marked beds and corners, `@` where the
/// walker is.
fn track(ground: &Ground, width: usize, rows: usize) -> Vec<String> {
    let wide_m = ground.size.x / (width - 1) as f64;
    let tall_m = ground.size.y / (rows - 1) as f64 / TALL;
    let column_m = wide_m.max(tall_m);
    // The northern end of the view is in the first row.
    let top = ground.least.y + ground.size.y;
    let mut grid = vec![vec![' '; width]; rows];
    let mut put = |at: Coord<f64>, sign: char| {
        let column = ((at.x - ground.least.x) / column_m).round() as usize;
        let row = ((top - at.y) / column_m / TALL).round() as usize;
        if let Some(place) = grid.get_mut(row).and_then(|row| row.get_mut(column)) {
            *place = sign;
        }
    };
    for pair in ground.walked.windows(2) {
        let [a, b] = pair else { continue };
        let step = *b - *a;
        let steps = (step.x.hypot(step.y) / column_m).ceil().clamp(1.0, 200.0) as u32;
        for part in 0..=steps {
            put(*a + step * (f64::from(part) / f64::from(steps)), '.');
        }
    }
    for (place, sign) in &ground.signs {
        put(*place, *sign);
    }
    put(ground.here, '@');
    grid.into_iter()
        .map(|row| row.into_iter().collect())
        .collect()
}
