//! The state of a live survey, and what is done with each event. What comes is first written to the log, then looked at, then shown, so
//! that nothing is shown that is not kept.

use super::page::Page;
use super::plain::Plain;
use super::screen::Screen;
use super::sheet::Sheet;
use super::{Args, TICK};
use crate::cli::ask::{self, Options, StandardInput};
use crate::cli::{Stop, say};
use boundwalk::fault::Fault;
use boundwalk::fix::DAY_S;
use boundwalk::live::answer::{self, Answer, Worker};
use boundwalk::live::keep::Keep;
use boundwalk::live::marks::{self, Line, What, Where};
use boundwalk::live::now::{Now, Wrong};
use boundwalk::live::typed::{KEYS, Typed};
use boundwalk::live::{Event, Link};
use boundwalk::read::piece::Pieces;
use boundwalk::sheet::say::live as words;
use boundwalk::sheet::say::shown::Shown;
use boundwalk::survey::Request;
use boundwalk::units::Units;
use geo::Coord;
use std::mem::{Discriminant, discriminant};
use std::path::PathBuf;
use std::sync::mpsc::SyncSender;
use std::time::{Duration, Instant};

/// The least time between two drawings of the screen; the eye would not see more.
const FRAME: Duration = Duration::from_millis(30);
/// How often it is tried again to write what the disk did not take.
const AGAIN: Duration = Duration::from_secs(1);

/// How the walk is shown on the terminal.
enum View {
    None,
    Plain(Plain),
    Screen(Box<Screen>),
}

/// A live survey.
pub struct Live {
    keep: Keep,
    sheet: Sheet,
    pieces: Pieces,
    now: Now,
    answer: Option<Answer>,
    /// Marks whose time has not come yet; one without a time waits for the first position.
    waiting: Vec<(Option<f64>, What)>,
    typed: Typed,
    /// Where the screen shows each mark, metres on the plane, and its sign; a blank for a mark that is not shown.
    signs: Vec<(Coord<f64>, char)>,
    /// The last message to the walker.
    said: String,
    worker: Worker,
    options: Options,
    units: Units,
    replayed: bool,
    started: Instant,
    view: Option<View>,
    page: Option<Page>,
    /// Whether something came that is not shown yet.
    fresh: bool,
    /// When the screen was last drawn.
    shown: Instant,
    /// When it was last tried to write what the disk did not take.
    tried: Instant,
    /// How many bytes and marks there were when the walk was last given to be measured.
    measured: (u64, usize),
    /// The receiver's time of day up to which that was.
    measured_to_s: Option<f64>,
    /// What kinds of thing were wrong when it was last looked.
    bad: Vec<Discriminant<Wrong>>,
    over: bool,
}

impl Live {
    pub fn new(
        args: &Args,
        keep: Keep,
        sheet: Sheet,
        page: Option<Page>,
        replayed: bool,
        to: SyncSender<Event>,
    ) -> Live {
        keep.sync(to.clone());
        let url = page.as_ref().map(Page::url);
        let view = match (args.on_screen(), args.output.is_quiet()) {
            (true, _) => View::Screen(Box::new(Screen::new(url))),
            (false, true) => View::None,
            (false, false) => View::Plain(Plain::default()),
        };
        let now = Instant::now();
        Live {
            keep,
            sheet,
            pieces: Pieces::default(),
            now: Now::default(),
            answer: None,
            waiting: Vec::new(),
            typed: Typed::default(),
            signs: Vec::new(),
            said: String::new(),
            worker: Worker::start(to),
            options: args.options.clone(),
            units: args.output.units(),
            replayed,
            started: now,
            view: Some(view),
            page,
            fresh: true,
            shown: now,
            tried: now,
            measured: (0, 0),
            measured_to_s: None,
            bad: Vec::new(),
            over: false,
        }
    }

    pub fn is_over(&self) -> bool {
        self.over
    }

    /// Whether everything is shown before the next event is taken. It is where a log is replayed in lines, so that the lines are the same each
    /// time.
    pub fn is_paced(&self) -> bool {
        self.replayed && matches!(self.view, Some(View::Plain(_)))
    }

    /// How long to wait for the next event.
    pub fn patience(&self) -> Duration {
        match (self.fresh, &self.view) {
            (true, Some(View::Screen(_))) => FRAME.saturating_sub(self.shown.elapsed()),
            _ => TICK,
        }
    }

    /// Seconds since the start; where a log is replayed in lines, by the log's clock.
    fn elapsed_s(&self) -> f64 {
        match self.is_paced() {
            true => self.now.walked_s(),
            false => self.started.elapsed().as_secs_f64(),
        }
    }

    /// The receiver's time of day.
    fn tod_s(&self) -> Option<f64> {
        self.now.here()?.0
    }

    /// The log's name, and how much is in it.
    fn log(&self) -> String {
        let name = self.keep.path().file_name().unwrap_or_default();
        let kept = self.keep.bytes().div_ceil(1024);
        format!("{} ({kept} kB kept)", name.to_string_lossy())
    }

    /// All that is to be shown now.
    fn shown(&self, now_s: f64) -> Shown<'_> {
        let answer = self.answer.as_ref();
        Shown {
            log: self.log(),
            said: &self.said,
            ..Shown::of(&self.now, now_s, answer, &self.signs, self.units)
        }
    }

    /// The last line of the screen: what is being typed, or the keys there are.
    fn foot(&self) -> String {
        let keys = || KEYS.map(|(letter, word, _)| format!("{letter} {word}"));
        self.typed.asked().unwrap_or_else(|| keys().join("  "))
    }

    /// Does what an event asks for.
    pub fn take(&mut self, event: Event) {
        self.fresh = true;
        match event {
            Event::Bytes(bytes) => self.bytes(&bytes),
            Event::Link(link) => {
                if let Link::Lost(why) = &link
                    && self.now.lost.is_none()
                {
                    self.tell(&format!("the line is lost ({why}); it is tried again"));
                }
                let came_s = self.elapsed_s();
                self.now.link(link, came_s);
            }
            Event::Mark(line) => self.mark(&line),
            Event::Key(key) => {
                let time = self.tod_s().map_or(String::new(), words::time_of_day);
                if let Some(line) = self.typed.key(key, &time) {
                    self.mark(&line);
                }
            }
            Event::Answer(mut answer) => {
                self.worker.answered();
                answer.to_s = self.measured_to_s;
                self.answer = Some(*answer);
            }
            Event::Unkept(error) => self.tell(&format!("the disk: {error}")),
            Event::Ended | Event::Stop => self.over = true,
        }
    }

    /// Writes what came to the log, and then looks at what the log took. With no bytes, what is still held is tried again.
    fn bytes(&mut self, bytes: &[u8]) {
        let held_before = self.keep.held() > 0;
        let (written, told) = self.keep.write(bytes);
        if let Err(error) = told {
            if !held_before {
                self.tell(&format!(
                    "the log is not kept any more ({error}); it is tried again"
                ));
            }
            self.over |= self.keep.is_full();
        }
        self.now.held(self.keep.held());
        self.now.unmeasured(!answer::may_be(self.keep.bytes()));
        let came_s = self.elapsed_s();
        let piece = self.pieces.take(&written);
        self.now.heard(came_s, piece.damaged);
        for fix in &piece.fixes {
            self.now.fix(fix, came_s);
        }
        if !piece.fixes.is_empty() {
            self.due();
        }
    }

    /// Puts down the marks whose time has come; those without a time at once, if there is a position.
    fn due(&mut self) {
        let Some((now_s, ..)) = self.now.here() else {
            return;
        };
        // A time counts as past if it lies within the last twelve hours, so that it works over midnight as well.
        let is_due = |(tod_s, _): &mut (Option<f64>, What)| match (*tod_s, now_s) {
            (Some(tod_s), Some(now_s)) => (now_s - tod_s).rem_euclid(DAY_S) < DAY_S / 2.0,
            _ => true,
        };
        let due: Vec<_> = self.waiting.extract_if(.., is_due).collect();
        for (tod_s, what) in due {
            self.put(tod_s, what);
        }
    }

    /// Takes a line of the second input: a mark, or an order to take one back or to finish.
    pub fn mark(&mut self, line: &str) {
        match marks::read(line) {
            Ok(None) => {}
            Ok(Some(Line::Finish)) => self.over = true,
            Ok(Some(Line::Undo)) => match self.waiting.pop() {
                Some((_, what)) => self.tell(&format!("taken back: {what}")),
                None => self.undo(),
            },
            Ok(Some(Line::Mark(tod_s, what))) => {
                self.waiting.push((tod_s, what));
                self.due();
            }
            Err(why) => self.tell(&why),
        }
    }

    /// Puts a mark down at this time, or where the walker is now.
    /// Takes the last mark back.
    fn undo(&mut self) {
        match self.sheet.marks.undo() {
            Some(what) => {
                self.signs.pop();
                self.tell(&format!("taken back: {what}"));
                self.write_sheet();
            }
            None => self.tell("there is no mark to take back"),
        }
    }

    fn put(&mut self, tod_s: Option<f64>, what: What) {
        let here = self.now.here();
        let tod_s = tod_s.or(here.and_then(|(tod_s, ..)| tod_s));
        let at = match (tod_s, here) {
            (Some(tod_s), _) => Where::Time(tod_s),
            (None, Some((_, lat_deg, lon_deg))) => Where::Place(lat_deg, lon_deg),
            // There was no position yet that the mark could be at.
            (None, None) => return,
        };
        let time = match at {
            Where::Time(tod_s) => format!("{}; ", words::time_of_day(tod_s)),
            Where::Place(..) => String::new(),
        };
        let said = format!("{time}marked: {what}");
        if matches!(what, What::Start | What::Lawn(_) | What::BedEdge(_)) {
            self.now.track.begin();
        }
        let sign = match what {
            What::Bed { .. } => 'B',
            What::Corner(_) => 'C',
            _ => ' ',
        };
        match self.sheet.marks.add(at, what) {
            Ok(()) => {
                self.signs.extend(self.now.at().map(|at| (at, sign)));
                self.tell(&said);
                self.write_sheet();
            }
            Err(why) => self.tell(why),
        }
    }

    fn write_sheet(&mut self) {
        if let Err(fault) = self.sheet.write() {
            self.tell(&fault.to_string());
        }
    }

    /// Tells the walker something that happened.
    fn tell(&mut self, text: &str) {
        text.clone_into(&mut self.said);
        if let Some(View::Plain(_)) = &self.view {
            say::note(text);
        }
    }

    /// The request to measure the walk so far.
    fn request(&self) -> Result<Request, Stop> {
        let asked = ask::sort(&[self.to_measure()], None, StandardInput::Whole)?;
        Ok(self.options.request(asked, Vec::new()))
    }

    fn to_measure(&self) -> PathBuf {
        let sheet = self.sheet.to_measure();
        sheet.unwrap_or(self.keep.path()).to_owned()
    }

    /// Has the walk so far measured by the other thread, if there is anything new, that thread is free, and the log is not too large.
    fn ask(&mut self) {
        let state = (self.keep.bytes(), self.sheet.marks.all().len());
        let new = state != self.measured && self.now.fixes > 0;
        if new
            && self.worker.is_free()
            && answer::may_be(self.keep.bytes())
            && let Ok(request) = self.request()
        {
            self.measured = state;
            self.measured_to_s = self.tod_s();
            self.worker.ask(request);
        }
    }

    /// Shows what there is, where it is time to, and has the walk measured again.
    pub fn show(&mut self) {
        if self.keep.held() > 0 && self.tried.elapsed() >= AGAIN {
            self.tried = Instant::now();
            self.bytes(&[]);
        }
        let now_s = self.elapsed_s();
        let wrong = self.now.wrong(now_s);
        let kinds: Vec<_> = wrong.iter().map(discriminant).collect();
        let turned_bad = kinds.iter().any(|kind| !self.bad.contains(kind));
        let changed = kinds != self.bad;
        if let Some(mut page) = self.page.take_if(|page| page.is_due()) {
            page.show(&self.shown(now_s));
            self.page = Some(page);
        }
        // The view is taken out of `self` while it is used, since showing also reads the rest of `self`.
        let Some(mut view) = self.view.take() else {
            return;
        };
        match &mut view {
            View::None => {}
            View::Plain(plain) => {
                if changed {
                    plain.wrong(&self.now, &wrong, self.units);
                }
                if plain.is_due(&self.now) {
                    if self.replayed {
                        self.answer_now();
                    }
                    plain.line(&self.now, now_s, self.answer.as_ref(), self.units);
                }
            }
            View::Screen(screen) => {
                let stale = self.shown.elapsed();
                if (self.fresh && stale >= FRAME) || stale >= TICK || changed {
                    screen.draw(&self.shown(now_s), self.foot(), turned_bad);
                    self.shown = Instant::now();
                    self.fresh = false;
                }
            }
        }
        if !self.is_inline(&view) {
            self.ask();
        }
        self.bad = kinds;
        self.view = Some(view);
    }

    /// Whether the other thread is not asked for answers: where a log is replayed in lines each answer is worked out just before its line, and
    /// where nothing is shown none is wanted.
    fn is_inline(&self, view: &View) -> bool {
        match view {
            View::None => self.page.is_none(),
            View::Plain(_) => self.replayed,
            View::Screen(_) => false,
        }
    }

    /// Measures the walk so far here and now, while everything else waits.
    fn answer_now(&mut self) {
        if answer::may_be(self.keep.bytes())
            && let Ok(request) = self.request()
        {
            let to_s = self.tod_s();
            self.answer = Some(Answer {
                to_s,
                ..answer::now(&request)
            });
        }
    }

    /// Ends the walk. Gives back what is to be measured, if anything came, and a fault where not all of it could be kept.
    pub fn end(mut self) -> (Option<PathBuf>, Result<(), Fault>) {
        for (tod_s, what) in std::mem::take(&mut self.waiting) {
            self.put(tod_s, what);
        }
        if let Some(View::Screen(screen)) = &mut self.view {
            screen.leave();
        }
        let path = self.to_measure();
        let came = self.keep.bytes() > 0;
        if !came && let Some(sheet) = self.sheet.to_measure() {
            // The sheet was written by this run, for a log that is not there.
            let _ = std::fs::remove_file(sheet);
        }
        (came.then_some(path), self.keep.end().map(drop))
    }
}
