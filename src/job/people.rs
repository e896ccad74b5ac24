//! For whom a job is, who does it and how to get there: tables of the job sheet that documents show and on which no number depends.

use super::SheetFile;
use super::keys::{Keys, Limits};
use std::path::Path;

/// What the job sheet says for the documents alone.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Paperwork {
    /// Notes for whoever goes there.
    pub notes: Option<String>,
    /// The paper that documents are printed on; where it is `None`, the one that goes with their units.
    pub paper: Option<PaperSize>,
    /// `[customer]`.
    pub customer: Option<Party>,
    /// `[firm]`, of the sheet and of the rates file it names.
    pub firm: Option<Firm>,
    /// `[access]`.
    pub access: Option<Access>,
}

/// The paper that documents are printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaperSize {
    /// ISO 216: 210 by 297 mm.
    A4,
    /// ANSI/ASME Y14.1 A: 8.5 by 11 in.
    Letter,
}

/// A customer or a firm.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Party {
    /// What it is called.
    pub name: Option<String>,
    /// Line by line.
    pub address: Vec<String>,
    /// Telephone number.
    pub telephone: Option<String>,
    /// Address for electronic mail.
    pub email: Option<String>,
}

/// Who measures, sells and lays.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Firm {
    /// Name and address.
    pub party: Party,
    /// Who measured.
    pub surveyor: Option<String>,
    /// Its picture for the head of documents.
    pub logo: Option<Logo>,
}

/// A picture that lies beside the sheet and was found to be one that can be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Logo {
    /// Where it lies.
    pub file: SheetFile,
    /// Its content: PNG or SVG.
    pub bytes: Vec<u8>,
}

/// `[access]`: how turf and machines get to the lawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Access {
    /// The narrowest place on the way, metres.
    pub gate_width_m: Option<f64>,
    /// Where a lorry may stand.
    pub parking: Option<String>,
    /// Steps on the way.
    pub steps: Option<String>,
    /// Where and how a delivery is set down.
    pub unload: Option<String>,
}

impl Firm {
    /// What the sheet says of the firm, and where it says nothing, what all jobs share.
    fn over(self, shared: Firm) -> Firm {
        let (party, all) = (self.party, shared.party);
        Firm {
            party: Party {
                name: party.name.or(all.name),
                address: match party.address.is_empty() {
                    true => all.address,
                    false => party.address,
                },
                telephone: party.telephone.or(all.telephone),
                email: party.email.or(all.email),
            },
            surveyor: self.surveyor.or(shared.surveyor),
            logo: self.logo.or(shared.logo),
        }
    }
}

impl Paperwork {
    /// Takes over the firm of the rates file, where the sheet says nothing of it.
    pub(super) fn shares(&mut self, shared: Option<Firm>) {
        self.firm = match (self.firm.take(), shared) {
            (Some(own), Some(shared)) => Some(own.over(shared)),
            (own, shared) => own.or(shared),
        };
    }
}

/// Reads `[customer]`, `[firm]` and `[access]`. Notes and paper stand in `[job]` and are read there.
pub(super) fn read(root: &mut Keys<'_>, folder: &Path) -> Paperwork {
    Paperwork {
        customer: root.table("customer").map(|mut keys| {
            let customer = party(&mut keys);
            keys.done();
            customer
        }),
        firm: firm(root, folder),
        access: root.table("access").map(|mut keys| {
            let access = Access {
                gate_width_m: keys.length_m("gate_width_m", Limits::POSITIVE.up_to(100.0)),
                parking: keys.text("parking"),
                steps: keys.text("steps"),
                unload: keys.text("unload"),
            };
            keys.done();
            access
        }),
        ..Paperwork::default()
    }
}

/// `paper` of `[job]`.
pub(super) fn paper(keys: &mut Keys<'_>) -> Option<PaperSize> {
    keys.choice(
        "paper",
        &[("a4", PaperSize::A4), ("letter", PaperSize::Letter)],
    )
}

/// `[firm]`; its logo lies in `folder`.
pub(super) fn firm(root: &mut Keys<'_>, folder: &Path) -> Option<Firm> {
    root.table("firm").map(|mut keys| {
        let firm = Firm {
            party: party(&mut keys),
            surveyor: keys.text("surveyor"),
            logo: logo(&mut keys, folder),
        };
        keys.done();
        firm
    })
}

fn party(keys: &mut Keys<'_>) -> Party {
    Party {
        name: keys.text("name"),
        address: keys.texts("address").unwrap_or_default(),
        telephone: keys.text("telephone"),
        email: keys.text("email"),
    }
}

/// Reads the logo. A fault tells its line and key and never the name of the picture, as who reads it may not be who wrote the rates file.
fn logo(keys: &mut Keys<'_>, folder: &Path) -> Option<Logo> {
    let path = folder.join(keys.text("logo")?);
    let read = match SheetFile::read(&path) {
        Ok((_, bytes)) if bytes.len() as u64 > super::LARGEST_SHEET => {
            Err("it is larger than 1 MB".to_owned())
        }
        Ok((file, bytes)) => seen(&bytes).map(|()| Logo { file, bytes }),
        Err(error) => Err(format!("it cannot be read ({error})")),
    };
    read.map_err(|why| {
        keys.fault(
            Some("logo"),
            format!("{} logo cannot be used: {why}.", keys.name()),
            "Name a picture in PNG or SVG that lies beside the sheet, or leave the line out.",
        );
    })
    .ok()
}

/// Whether the picture can be drawn.
#[cfg(feature = "sheets")]
fn seen(bytes: &[u8]) -> Result<(), String> {
    crate::picture::Picture::read(bytes).map(|_| ())
}

/// A build without sheets draws no picture, so any file will do.
#[cfg(not(feature = "sheets"))]
fn seen(_: &[u8]) -> Result<(), String> {
    Ok(())
}
