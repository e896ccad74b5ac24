//! The page for the phone in the other hand.

use boundwalk::fault::Fault;
use boundwalk::live::serve::Server;
use boundwalk::sheet::live as sheet;
use boundwalk::sheet::say::shown::Shown;
use std::net::SocketAddr;
use std::time::{Duration, Instant};

/// The page is asked for no more often than about this.
const EVERY: Duration = Duration::from_millis(200);

/// A page that is served, and when it was told last what to show.
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

    /// Whether it is time to say what is to be shown.
    pub fn is_due(&self) -> bool {
        self.told.is_none_or(|told| told.elapsed() >= EVERY)
    }

    pub fn show(&mut self, shown: &Shown) {
        self.server.show(sheet::now(shown));
        self.told = Some(Instant::now());
    }
}
