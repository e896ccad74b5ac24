//! The pipeline for one survey, and its result.

pub mod measured;

pub use crate::read::Input;
pub use measured::Measured;

use crate::fault::Fault;
use crate::job::{Carry, Job};

/// Everything asked of one survey. What the command line says wins over the job sheet.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Request {
    /// What sheets call the survey; empty: taken from the first log.
    pub name: String,
    /// Logs named outright; measured as one lawn unless the sheet says otherwise.
    pub logs: Vec<Input>,
    pub job: Job,
    /// Walked deductions named outright.
    pub deduct: Vec<Input>,
    pub carry: Carry,
    /// Metres per axis, one sigma; overrides the log.
    pub sigma_m: Option<f64>,
    pub correlation_s: Option<f64>,
    /// 0.5 to 0.999; 0.95 unless told.
    pub confidence: Option<f64>,
    /// Anything doubtful withholds the result.
    pub strict: bool,
}

/// Measures one survey.
///
/// # Errors
/// A [`Fault`] of kind `Unreadable` or `Usage` where there is nothing to report on. A survey that was read but
/// gives no honest number is *not* an error: it comes back with status `withheld`, no area, and the reason in
/// its warnings.
pub fn measure(request: &Request) -> Result<Measured, Fault> {
    let _ = request;
    Err(Fault::unreadable(
        "unbuilt",
        "The pipeline is not here yet.",
        "",
    ))
}
