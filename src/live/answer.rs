//! What the survey makes of a walk so far. The log as it lies on the disk is measured by the same stages as in `measure`, on a
//! thread of its own. The longer that takes, the less often it is done.

use super::Event;
use crate::fault::Fault;
use crate::next_step::NextStep;
use crate::notice::{Notice, Weight};
use crate::survey::{self, Depth, Measured, Request};
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::thread;
use std::time::{Duration, Instant};

/// After each answer the thread rests for so many times as long as the answer took, so that it takes little of a processor's time.
const SHARE: u32 = 60;
/// The least rest after an answer.
const LEAST: Duration = Duration::from_secs(1);
/// A log of more bytes than this is measured only at the end of the walk, since the memory that measuring takes grows with it. A day at
/// 10 Hz is less.
const LARGEST: u64 = 256 << 20;

/// What a person is told of the walk so far.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Answer {
    /// Net area and half its band, square metres; `None` where none can be given.
    pub net: Option<(f64, f64)>,
    /// Why nothing could be measured.
    pub refusal: Option<String>,
    /// Whole laps found.
    pub laps: u32,
    /// How far the ends of the laps are apart, metres.
    pub closing_gap_m: f64,
    /// What a piece is called, and how many are needed for the low end of the band and for the high end; `None` without an order.
    pub pieces: Option<(String, u64, u64)>,
    /// What would narrow the band, and to how much, square metres.
    pub next: Vec<(NextStep, f64)>,
    /// The receiver's time of day up to which the walk was measured, seconds.
    pub to_s: Option<f64>,
    /// What speaks against the area, or why there is none.
    pub doubts: Vec<Notice>,
}

impl Answer {
    /// The answer that a result gives; `to_s` is left for the caller to fill in.
    #[must_use]
    fn of(measured: &Measured) -> Answer {
        let ring = measured.ring.as_ref();
        let doubts = measured.warnings.iter();
        let doubts = doubts.filter(|notice| notice.weight() == Weight::Doubt);
        Answer {
            net: measured.area.as_ref().map(|a| (a.net_m2, a.band_m2)),
            refusal: None,
            laps: ring.map_or(0, |ring| ring.laps),
            closing_gap_m: ring.map_or(0.0, |ring| ring.closing_gap_m),
            pieces: pieces(measured),
            next: measured
                .next
                .iter()
                .map(|next| (next.remedy, next.band_m2))
                .collect(),
            to_s: None,
            doubts: doubts.cloned().collect(),
        }
    }

    fn refused(fault: &Fault) -> Answer {
        Answer {
            refusal: Some(fault.what().to_owned()),
            ..Answer::default()
        }
    }
}

/// How many pieces the low and the high end of the band take. Pieces are counted by area in the proportion of those that the order needs
/// for the area it covers.
fn pieces(measured: &Measured) -> Option<(String, u64, u64)> {
    let (area, order) = (measured.area.as_ref()?, measured.order.as_ref()?);
    let turf = order.turf.as_ref()?;
    if area.net_m2 <= 0.0 || order.cover_area_m2 <= 0.0 {
        return None;
    }
    // Turf lies on the slope, the band's ends are on the plan.
    let slope = area.slope_m2.map_or(1.0, |m2| m2 / area.net_m2);
    let per_m2 = turf.pieces as f64 * slope / order.cover_area_m2;
    let of = |m2: f64| (per_m2 * m2).ceil().max(0.0) as u64;
    Some((turf.noun.clone(), of(area.low_m2), of(area.high_m2)))
}

/// Measures here and now. A fault becomes an answer that says why there is no area.
#[must_use]
pub fn now(request: &Request) -> Answer {
    let request = Request {
        depth: Depth::Document,
        ..request.clone()
    };
    match survey::measure(&request) {
        Ok(measured) => Answer::of(&measured),
        Err(fault) => Answer::refused(&fault),
    }
}

/// Whether a log is small enough to be measured while it grows.
#[must_use]
pub fn may_be(bytes: u64) -> bool {
    bytes <= LARGEST
}

/// The thread that measures, as seen from the loop that asks it.
#[derive(Debug)]
pub struct Worker {
    asks: SyncSender<Request>,
    /// When it was asked what it has not answered yet.
    busy_since: Option<Instant>,
    /// When it may be asked again.
    next: Instant,
}

impl Worker {
    /// Starts the thread; its answers are sent as events.
    #[must_use]
    pub fn start(to: SyncSender<Event>) -> Worker {
        let (asks, asked): (_, Receiver<Request>) = sync_channel(1);
        thread::spawn(move || {
            for request in asked {
                if to.send(Event::Answer(Box::new(now(&request)))).is_err() {
                    return;
                }
            }
        });
        Worker {
            asks,
            busy_since: None,
            next: Instant::now(),
        }
    }

    /// Whether it may be asked.
    #[must_use]
    pub fn is_free(&self) -> bool {
        self.busy_since.is_none() && Instant::now() >= self.next
    }

    /// Asks for an answer; it comes as an event.
    pub fn ask(&mut self, request: Request) {
        match self.asks.try_send(request) {
            Ok(()) => self.busy_since = Some(Instant::now()),
            // A busy thread will be free again, and one that is gone ends with everything else.
            Err(TrySendError::Full(_) | TrySendError::Disconnected(_)) => {}
        }
    }

    /// Takes note that it has answered, and works out how long it rests.
    pub fn answered(&mut self) {
        if let Some(since) = self.busy_since.take() {
            self.next = Instant::now() + LEAST.max(since.elapsed() * SHARE);
        }
    }
}
