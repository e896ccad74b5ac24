//! Adds surveys to the records: as many as are ready in one transaction (all or none), each as a new revision of its garden. A survey has
//! a row of its own, rows in tables (order, logs, settings, warnings) and shapes in the layers of a map.

use super::Records;
use super::blob::Envelope;
use super::entry::{Entry, Shape};
use super::garden::{self, Seen};
use super::schema::program;
use super::tables::{LATEST, Trouble};
use crate::asked::SCHEMA;
use crate::fault::Fault;
use geo::MultiPolygon;
use rusqlite::{Transaction, TransactionBehavior, params};
use std::collections::{BTreeMap, HashMap, HashSet};

/// The moment at which a survey is recorded, in SQL: UTC, ISO 8601, to the millisecond. This is the one result that depends on the clock.
const NOW: &str = "strftime('%Y-%m-%dT%H:%M:%fZ', 'now')";

/// What a survey was recorded as: the number of its garden and of its revision.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct Added {
    pub garden: i64,
    pub revision: i64,
}

impl Records {
    /// Records these surveys, all or none. Gives the garden and the revision of each.
    ///
    /// # Errors
    /// A full disk, numbers that cannot go on, or another program that never ends its writing.
    pub fn add(&mut self, entries: &[&Entry]) -> Result<Vec<Added>, Fault> {
        self.add_all(entries).map_err(|error| self.told(error))
    }

    fn add_all(&mut self, entries: &[&Entry]) -> Result<Vec<Added>, Trouble> {
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let version = version_id(&transaction, &program(), SCHEMA)?;
        let mut added = Vec::new();
        for entry in entries {
            added.push(one(&transaction, entry, version)?);
        }
        if !entries.is_empty() {
            changed(&transaction, &extents(entries))?;
        }
        transaction.commit()?;
        Ok(added)
    }

    /// For each name, the fingerprints of what was last recorded under it: one for each garden of that name.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn fingerprints(&self) -> Result<HashMap<String, HashSet<String>>, Fault> {
        let read = || -> rusqlite::Result<HashMap<String, HashSet<String>>> {
            // With max() in a group SQLite takes the other columns from the row that holds the greatest.
            let mut latest = self.connection.prepare(
                "SELECT name, fingerprint, max(revision) FROM surveys GROUP BY name, garden",
            )?;
            let mut rows = latest.query([])?;
            let mut all: HashMap<String, HashSet<String>> = HashMap::new();
            while let Some(row) = rows.next()? {
                // A survey whose row is damaged counts as never recorded.
                if let (Ok(name), Ok(Some(fingerprint))) = (row.get(0), row.get(1)) {
                    all.entry(name).or_default().insert(fingerprint);
                }
            }
            Ok(all)
        };
        read().map_err(|error| self.told(error.into()))
    }
}

/// The number under which a program's version and the form of its results are recorded; made where there is none yet.
pub(super) fn version_id(
    transaction: &Transaction<'_>,
    program: &str,
    result_schema: &str,
) -> rusqlite::Result<i64> {
    let this = params![program, result_schema];
    transaction
        .prepare_cached("INSERT OR IGNORE INTO versions (program, result_schema) VALUES (?1, ?2)")?
        .execute(this)?;
    transaction
        .prepare_cached("SELECT id FROM versions WHERE program = ?1 AND result_schema = ?2")?
        .query_row(this, |row| row.get(0))
}

/// Records one survey.
fn one(transaction: &Transaction<'_>, entry: &Entry, version: i64) -> Result<Added, Trouble> {
    let seen = seen(entry);
    let (garden, revision) = garden::next_revision(transaction, &seen)?;
    let added = Added { garden, revision };
    row(transaction, entry, version, added)?;
    let survey = transaction.last_insert_rowid();
    garden::remember(transaction, garden, survey, &seen)?;
    tables(transaction, entry, survey)?;
    layers(transaction, entry, survey, added)?;
    Ok(added)
}

/// Adds the survey's own row.
fn row(
    transaction: &Transaction<'_>,
    entry: &Entry,
    version: i64,
    Added { garden, revision }: Added,
) -> rusqlite::Result<()> {
    let head = &entry.measured;
    let area = head.area.as_ref();
    transaction
        .prepare_cached(&format!(
            "INSERT INTO surveys (name, revision, recorded_at, version_id, status, reason, job, site, walked_on, gross_m2, \
             deductions_m2, net_m2, sigma_m2, confidence, band_m2, low_m2, high_m2, perimeter_m, receiver, lat, lon, \
             fingerprint, document, garden, customer) VALUES (?1, ?2, {NOW}, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, \
             ?16, ?17, ?18, ?19, ?20, ?21, ?22, ?23, ?24)"
        ))?
        .execute(params![
            head.name,
            revision,
            version,
            head.status,
            head.reason,
            head.job,
            head.site,
            head.walked_on,
            area.map(|a| a.gross_m2),
            area.map(|a| a.deductions_m2),
            area.map(|a| a.net_m2),
            area.map(|a| a.sigma_m2),
            area.map(|a| a.confidence),
            area.map(|a| a.band_m2),
            area.map(|a| a.low_m2),
            area.map(|a| a.high_m2),
            head.perimeter_m,
            head.receiver,
            head.place.map(|place| place.0),
            head.place.map(|place| place.1),
            entry.fingerprint,
            entry.document,
            garden,
            head.customer,
        ])?;
    Ok(())
}

/// Adds what a map shows of the survey: lawns, deductions, walks and the edges of the band.
fn layers(
    transaction: &Transaction<'_>,
    entry: &Entry,
    survey: i64,
    Added { garden, revision }: Added,
) -> rusqlite::Result<()> {
    let name = &entry.measured.name;
    let bytes = |shape: &Shape| shape.blob.as_ref().map(|blob| blob.bytes.clone());
    for shape in &entry.lawns {
        transaction
            .prepare_cached(
                "INSERT INTO lawns (geom, survey_id, survey, garden, revision, label, net_m2, sigma_m2) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            )?
            .execute(params![bytes(shape), survey, name, garden, revision, shape.label, shape.area_m2, shape.other_m2])?;
    }
    for shape in &entry.deductions {
        transaction
            .prepare_cached(
                "INSERT INTO deductions (geom, survey_id, survey, garden, revision, label, kind, area_m2, deducted_m2) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            )?
            .execute(params![
                bytes(shape),
                survey,
                name,
                garden,
                revision,
                shape.label,
                shape.kind,
                shape.area_m2,
                shape.other_m2
            ])?;
    }
    for blob in &entry.walks {
        transaction
            .prepare_cached(
                "INSERT INTO walks (geom, survey_id, survey, garden, revision) VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute(params![blob.bytes, survey, name, garden, revision])?;
    }
    for shape in &entry.bands {
        transaction
            .prepare_cached(
                "INSERT INTO bands (geom, survey_id, survey, garden, revision, edge, area_m2) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            )?
            .execute(params![bytes(shape), survey, name, garden, revision, shape.kind, shape.area_m2])?;
    }
    Ok(())
}

/// For each layer of the map, the rectangle round all that is added to it.
pub(super) type Extents = BTreeMap<&'static str, Envelope>;

/// The rectangles round all shapes of these surveys.
fn extents(entries: &[&Entry]) -> Extents {
    let mut extents = Extents::new();
    for entry in entries {
        let shapes = [
            ("lawns", &entry.lawns),
            ("deductions", &entry.deductions),
            ("bands", &entry.bands),
        ];
        let blobs = shapes.into_iter().flat_map(|(layer, shapes)| {
            let blobs = shapes.iter().filter_map(|shape| shape.blob.as_ref());
            blobs.map(move |blob| (layer, blob))
        });
        for (layer, blob) in blobs.chain(entry.walks.iter().map(|blob| ("walks", blob))) {
            reach(&mut extents, layer, blob.envelope);
        }
    }
    extents
}

/// Widens the extent of a layer.
pub(super) fn reach(extents: &mut Extents, layer: &'static str, envelope: Envelope) {
    extents
        .entry(layer)
        .and_modify(|all| *all = all.with(envelope))
        .or_insert(envelope);
}

/// What of a survey tells which garden it is of.
fn seen(entry: &Entry) -> Seen<'_> {
    let head = &entry.measured;
    let outlines = entry.lawns.iter().filter_map(|lawn| {
        let blob = lawn.blob.as_ref()?;
        super::blob::decode_polygons(&blob.bytes)
    });
    Seen {
        name: &head.name,
        job: head.job.as_deref(),
        place: head.place,
        outline: MultiPolygon(outlines.flatten().collect()),
        logs: head.files.iter().map(|file| file.sha256.as_str()).collect(),
    }
}

/// Adds the survey's rows in the tables of orders, logs, settings and warnings.
fn tables(transaction: &Transaction<'_>, entry: &Entry, survey: i64) -> rusqlite::Result<()> {
    for line in &entry.measured.orders {
        transaction
            .prepare_cached(
                "INSERT INTO orders (survey_id, item, quantity, unit, net, allowance, basis) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            )?
            .execute(params![survey, line.item, line.order, line.unit, line.net, line.allowance, line.basis])?;
    }
    for file in &entry.measured.files {
        let kind = serde_json::to_value(file.kind).ok();
        transaction
            .prepare_cached(
                "INSERT INTO log_files (survey_id, name, sha256, kind, lines, fixes, damaged, first_time, last_time) \
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            )?
            .execute(params![
                survey,
                file.name,
                file.sha256,
                kind.as_ref().and_then(|k| k.as_str()).unwrap_or_default(),
                i64::try_from(file.lines).unwrap_or(i64::MAX),
                i64::try_from(file.fixes).unwrap_or(i64::MAX),
                i64::try_from(file.damaged).unwrap_or(i64::MAX),
                file.first_time,
                file.last_time,
            ])?;
    }
    for setting in &entry.settings {
        transaction
            .prepare_cached(
                "INSERT INTO settings (survey_id, name, value, source) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![
                survey,
                setting.key,
                setting.value,
                setting.from.to_string()
            ])?;
    }
    for (code, doubt, message) in &entry.measured.warnings {
        transaction
            .prepare_cached(
                "INSERT INTO warnings (survey_id, code, doubt, message) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![survey, code, doubt, message])?;
    }
    Ok(())
}

/// Widens each layer's extent so that it holds everything in it (Requirement 148), and notes when the contents changed.
pub(super) fn changed(transaction: &Transaction<'_>, extents: &Extents) -> rusqlite::Result<()> {
    transaction
        .prepare_cached(&format!(
            "UPDATE gpkg_contents SET last_change = {NOW} WHERE data_type = 'attributes' AND table_name NOT IN ('record_schema', 'layer_styles')"
        ))?
        .execute([])?;
    for (layer, extent) in extents {
        transaction
            .prepare_cached(&format!(
                "UPDATE gpkg_contents SET last_change = {NOW}, min_x = min(coalesce(min_x, ?2), ?2), \
                 max_x = max(coalesce(max_x, ?3), ?3), min_y = min(coalesce(min_y, ?4), ?4), \
                 max_y = max(coalesce(max_y, ?5), ?5) WHERE table_name = ?1 OR (?1 = 'lawns' AND table_name = ?6)"
            ))?
            .execute(params![
                layer,
                extent.min_x,
                extent.max_x,
                extent.min_y,
                extent.max_y,
                LATEST
            ])?;
    }
    Ok(())
}
