//! The page for the phone in the walker's other hand: serves it, and tells it several times a second what to show.

use boundwalk::fault::Fault;
use boundwalk::live::serve::Server;
use boundwalk::sheet::live as sheet;
use boundwalk::sheet::say::shown::Shown;
use std::net::SocketAddr;
use std::time::{Duration, Instant};

/// How often the page is told what to show. Browsers ask hardly more often.
const EVERY: Duration = Duration::from_millis(200);

/// A page that is served, and the moment when it was last told what to show.
#[derive(Debug)]
pub struct Page {
    server: Server,
    told: Option<Instant>,
}

impl Page {
    pub fn start(address: SocketAddr) -> Result<Page, Fault> {
        Ok(Page {
            server: Server::start(address, sheet::document)?,
            told: None,
        })
    }

    pub fn url(&self) -> String {
        self.server.url()
    }

    /// Whether it is time to tell it again.
    pub fn is_due(&self) -> bool {
        self.told.is_none_or(|told| told.elapsed() >= EVERY)
    }

    pub fn show(&mut self, shown: &Shown) {
        self.server.show(sheet::now(shown));
        self.told = Some(Instant::now());
    }
}
