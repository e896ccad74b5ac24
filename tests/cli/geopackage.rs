//! The records file by the rules of the standard: OGC 12-128r17 and r19, GeoPackage Encoding Standard 1.3.1 and 1.4.0,
//! each rule named by its requirement. A general-purpose GIS reader goes through the same file in `.ci/geopackage`.

use super::call;
use super::day::yard;
use rusqlite::Connection;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// Records of a yard, measured twice so that there are revisions.
pub fn recorded(folder: &Path, yard: &Path) -> std::path::PathBuf {
    let file = folder.join("lawns.gpkg");
    for more in [&[][..], &["--sigma", "0.03"]] {
        let mut args = vec![
            "day",
            yard.to_str().unwrap(),
            "--records",
            file.to_str().unwrap(),
            "-q",
        ];
        args.extend(more);
        let (_, stderr, code) = call(&args);
        assert_eq!(code, 3, "{stderr}");
    }
    file
}

fn texts(db: &Connection, sql: &str) -> Vec<String> {
    let mut statement = db.prepare(sql).unwrap();
    let rows = statement
        .query_map([], |row| {
            let value: rusqlite::types::Value = row.get(0)?;
            Ok(match value {
                rusqlite::types::Value::Text(text) => text,
                rusqlite::types::Value::Integer(n) => n.to_string(),
                rusqlite::types::Value::Real(x) => x.to_string(),
                rusqlite::types::Value::Null => "NULL".into(),
                rusqlite::types::Value::Blob(_) => "BLOB".into(),
            })
        })
        .unwrap();
    rows.map(Result::unwrap).collect()
}

fn one(db: &Connection, sql: &str) -> String {
    let all = texts(db, sql);
    assert_eq!(all.len(), 1, "{sql}: {all:?}");
    all[0].clone()
}

#[test]
fn a_file_of_records_is_a_geopackage() {
    let (temp, yard) = yard();
    let file = recorded(temp.path(), &yard);
    // Requirement 1: "The first 16 bytes SHALL be the null-terminated ASCII string SQLite format 3".
    let bytes = fs::read(&file).unwrap();
    assert_eq!(&bytes[..16], b"SQLite format 3\0");
    // Requirement 2: "0x47504B47 (GPKG in ASCII) in the application_id field" (offset 68 of the header, by SQLite's
    // file format) and the version in user_version (offset 60).
    assert_eq!(&bytes[68..72], b"GPKG");
    assert_eq!(u32::from_be_bytes(bytes[60..64].try_into().unwrap()), 10300);
    // Not left in a mode that needs a second file beside it: read and write version 1 of the header.
    assert_eq!(&bytes[18..20], &[1, 1]);
    let beside: Vec<_> = fs::read_dir(temp.path())
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .filter(|n| n.to_string_lossy().starts_with("lawns.gpkg-"))
        .collect();
    assert!(beside.is_empty(), "{beside:?}");

    let db = Connection::open(&file).unwrap();
    // Requirement 6 and Requirement 7.
    assert_eq!(one(&db, "PRAGMA integrity_check"), "ok");
    assert!(texts(&db, "PRAGMA foreign_key_check").is_empty());
    // Requirement 5: columns are only declared with the types of the table "GeoPackage Data Types".
    let types: BTreeSet<&str> = [
        "BOOLEAN",
        "TINYINT",
        "SMALLINT",
        "MEDIUMINT",
        "INT",
        "INTEGER",
        "FLOAT",
        "DOUBLE",
        "REAL",
        "TEXT",
        "BLOB",
        "DATE",
        "DATETIME",
        "MULTIPOLYGON",
        "MULTILINESTRING",
    ]
    .into();
    for table in texts(&db, "SELECT table_name FROM gpkg_contents") {
        for declared in texts(
            &db,
            &format!("SELECT type FROM pragma_table_info('{table}')"),
        ) {
            // TEXT may have a length behind it.
            let declared = declared.split('(').next().unwrap_or_default();
            assert!(types.contains(declared), "{table}: {declared}");
        }
        if table == "latest_lawns" {
            continue;
        }
        // Requirement 14 and 119: a table of that name, its primary key of type INTEGER and an alias of the rowid.
        assert_eq!(
            texts(
                &db,
                &format!("SELECT name || ' ' || type FROM pragma_table_info('{table}') WHERE pk")
            ),
            ["id INTEGER"],
            "{table}"
        );
        db.execute_batch(&format!("SELECT rowid = id FROM {table} LIMIT 1"))
            .unwrap();
    }
    // Requirement 11: three reference systems at least.
    assert_eq!(
        texts(
            &db,
            "SELECT srs_id || ' ' || organization || ' ' || organization_coordsys_id FROM gpkg_spatial_ref_sys ORDER BY srs_id"
        ),
        ["-1 NONE -1", "0 NONE 0", "4326 EPSG 4326"]
    );
    // Requirement 15: last_change is ISO 8601.
    for when in texts(
        &db,
        "SELECT last_change FROM gpkg_contents UNION ALL SELECT recorded_at FROM surveys",
    ) {
        assert!(
            when.len() == 24 && when.ends_with('Z') && when.as_bytes()[10] == b'T',
            "{when}"
        );
    }
    // Requirement 18 and 118: every layer and every table of attributes has its row; nothing else is in the file but
    // the standard's own tables, SQLite's and the indexes'.
    let listed: BTreeSet<String> = texts(&db, "SELECT table_name FROM gpkg_contents")
        .into_iter()
        .collect();
    for table in texts(
        &db,
        "SELECT name FROM sqlite_master WHERE type IN ('table', 'view')",
    ) {
        assert!(
            listed.contains(&table)
                || ["gpkg_", "sqlite_", "rtree_"]
                    .iter()
                    .any(|own| table.starts_with(own)),
            "{table}"
        );
    }
    let layers = texts(
        &db,
        "SELECT table_name FROM gpkg_contents WHERE data_type = 'features' ORDER BY 1",
    );
    assert_eq!(
        layers,
        ["bands", "deductions", "latest_lawns", "lawns", "walks"]
    );
    // Requirements 22 to 28: one geometry column each, of a known type, in a known reference system, without z and m.
    assert_eq!(
        texts(
            &db,
            "SELECT table_name FROM gpkg_geometry_columns ORDER BY 1"
        ),
        layers
    );
    assert!(
        texts(
            &db,
            "SELECT 1 FROM gpkg_geometry_columns WHERE srs_id <> 4326 OR z <> 0 OR m <> 0"
        )
        .is_empty()
    );
    for layer in &layers {
        // Requirement 31: the declared type of the column is that of gpkg_geometry_columns.
        let named = one(
            &db,
            &format!(
                "SELECT geometry_type_name FROM gpkg_geometry_columns WHERE table_name = '{layer}'"
            ),
        );
        assert_eq!(
            one(
                &db,
                &format!("SELECT type FROM pragma_table_info('{layer}') WHERE name = 'geom'")
            ),
            named
        );
        geometries(&db, layer, &named);
        if layer != "latest_lawns" {
            index(&db, layer);
        }
    }
    metadata(&db);
}

/// Requirement 19 (the blob's format), 32 (its type), 33 (its reference system), 148 (within the layer's extent).
fn geometries(db: &Connection, layer: &str, named: &str) {
    let extent: [f64; 4] = db
        .query_row(
            "SELECT min_x, max_x, min_y, max_y FROM gpkg_contents WHERE table_name = ?1",
            [layer],
            |row| Ok([row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?]),
        )
        .unwrap();
    let mut statement = db
        .prepare(&format!("SELECT geom FROM {layer} WHERE geom NOT NULL"))
        .unwrap();
    let blobs: Vec<Vec<u8>> = statement
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert!(!blobs.is_empty(), "{layer}");
    for blob in blobs {
        assert_eq!(&blob[..3], b"GP\0");
        // Bits: reserved 0, standard, not empty, envelope of x and y, little endian.
        assert_eq!(blob[3], 0b0000_0011);
        assert_eq!(i32::from_le_bytes(blob[4..8].try_into().unwrap()), 4326);
        let number = |at: usize| f64::from_le_bytes(blob[at..at + 8].try_into().unwrap());
        let envelope = [number(8), number(16), number(24), number(32)];
        assert_eq!(blob[40], 1);
        let kind = u32::from_le_bytes(blob[41..45].try_into().unwrap());
        assert_eq!(kind, if named == "MULTIPOLYGON" { 6 } else { 5 });
        // The envelope is that of the places themselves.
        let mut own = [
            f64::INFINITY,
            f64::NEG_INFINITY,
            f64::INFINITY,
            f64::NEG_INFINITY,
        ];
        let end = walk_wkb(&blob, 40, &mut |x, y| {
            own = [own[0].min(x), own[1].max(x), own[2].min(y), own[3].max(y)];
        });
        assert_eq!(end, blob.len());
        assert_eq!(envelope, own);
        assert!(
            extent[0] <= own[0]
                && extent[1] >= own[1]
                && extent[2] <= own[2]
                && extent[3] >= own[3]
        );
    }
}

/// A slow, plain reading of Well-Known Binary (OGC 06-103r4, 8.2.8), apart from the program's own. Gives where it ends.
fn walk_wkb(blob: &[u8], mut at: usize, place: &mut dyn FnMut(f64, f64)) -> usize {
    let word = |at: usize| u32::from_le_bytes(blob[at..at + 4].try_into().unwrap());
    let kind = word(at + 1);
    let count = word(at + 5);
    at += 9;
    for _ in 0..count {
        match kind {
            4..=6 => at = walk_wkb(blob, at, place),
            3 => {
                let places = word(at) as usize;
                at += 4;
                let first: Vec<u8> = blob[at..at + 16].to_vec();
                for _ in 0..places {
                    at = one_place(blob, at, place);
                }
                // A ring closes (06-103r4, 6.1.11).
                assert_eq!(&blob[at - 16..at], first);
            }
            2 => at = one_place(blob, at, place),
            other => panic!("geometry of kind {other}"),
        }
    }
    at
}

fn one_place(blob: &[u8], at: usize, place: &mut dyn FnMut(f64, f64)) -> usize {
    let number = |at: usize| f64::from_le_bytes(blob[at..at + 8].try_into().unwrap());
    place(number(at), number(at + 8));
    at + 16
}

/// Requirements 75 to 77, as the abstract tests of annex F.3 go about it.
fn index(db: &Connection, layer: &str) {
    let mut row = db
        .prepare("SELECT column_name, scope FROM gpkg_extensions WHERE extension_name = 'gpkg_rtree_index' AND table_name = ?1")
        .unwrap();
    let row: (String, String) = row
        .query_row([layer], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap();
    assert_eq!(row, ("geom".into(), "write-only".into()));
    assert_eq!(
        one(
            db,
            &format!("SELECT sql FROM sqlite_master WHERE tbl_name = 'rtree_{layer}_geom'")
        ),
        format!(
            "CREATE VIRTUAL TABLE \"rtree_{layer}_geom\" USING rtree(id, minx, maxx, miny, maxy)"
        )
    );
    let triggers = texts(
        db,
        &format!(
            "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = '{layer}' ORDER BY name"
        ),
    );
    let expected: Vec<String> = [
        "delete", "insert", "update1", "update2", "update3", "update4",
    ]
    .iter()
    .map(|end| format!("rtree_{layer}_geom_{end}"))
    .collect();
    assert_eq!(triggers, expected);
    // Every geometry is in the index, its box around the envelope (SQLite keeps 32-bit numbers, rounded outward).
    let missed = format!(
        "SELECT count(*) FROM {layer} l LEFT JOIN rtree_{layer}_geom r ON r.id = l.id WHERE l.geom NOT NULL AND r.id IS NULL"
    );
    assert_eq!(one(db, &missed), "0");
    assert_eq!(
        one(db, &format!("SELECT count(*) FROM rtree_{layer}_geom")),
        one(
            db,
            &format!("SELECT count(*) FROM {layer} WHERE geom NOT NULL")
        )
    );
    assert_eq!(
        one(db, &format!("SELECT rtreecheck('rtree_{layer}_geom')")),
        "ok"
    );
}

/// Requirements 93 to 102 and 140.
fn metadata(db: &Connection) {
    assert_eq!(
        texts(
            db,
            "SELECT table_name FROM gpkg_extensions WHERE extension_name = 'gpkg_metadata' AND column_name IS NULL AND scope = 'read-write' ORDER BY 1"
        ),
        ["gpkg_metadata", "gpkg_metadata_reference"]
    );
    assert_eq!(
        one(db, "SELECT md_scope || ' ' || mime_type FROM gpkg_metadata"),
        "dataset text/xml"
    );
    assert!(one(db, "SELECT metadata FROM gpkg_metadata").contains("dc:title"));
    assert_eq!(
        texts(
            db,
            "SELECT reference_scope FROM gpkg_metadata_reference WHERE table_name IS NULL AND column_name IS NULL AND row_id_value IS NULL AND md_file_id IN (SELECT id FROM gpkg_metadata)"
        ),
        ["geopackage"]
    );
}

/// One row for each lawn that counts today, with what a person asks of it.
#[test]
fn the_latest_lawns_are_a_layer() {
    let (temp, yard) = yard();
    let file = recorded(temp.path(), &yard);
    let db = Connection::open(&file).unwrap();
    // Requirement 150: the first column of a view is of type INTEGER and unique.
    assert_eq!(
        one(
            &db,
            "SELECT name || ' ' || type FROM pragma_table_info('latest_lawns') WHERE cid = 0"
        ),
        "OGC_FID INTEGER"
    );
    let lawns = "SELECT survey || ' ' || revision FROM latest_lawns ORDER BY 1";
    assert_eq!(
        texts(&db, lawns),
        [
            "yard/J-0417 2",
            "yard/late/0930.log 2",
            "yard/late/1100.nmea 2"
        ]
    );
    assert_eq!(
        one(
            &db,
            "SELECT count(*) FROM latest_lawns l JOIN surveys s ON s.garden = l.garden AND s.revision = l.revision \
                  WHERE l.total_m2 = s.net_m2 AND l.band_m2 = s.band_m2 AND l.walked_on = '2026-05-14'"
        ),
        "3"
    );
    // As a shapefile takes them.
    let long = "SELECT name FROM pragma_table_info('latest_lawns') WHERE length(name) > 10";
    assert!(texts(&db, long).is_empty());
    // An attempt that gave no area takes no lawn off the map.
    db.execute_batch(
        "INSERT INTO surveys (garden, name, revision, recorded_at, version_id, status, document)
         SELECT garden, name, 3, recorded_at, version_id, 'withheld', '{}' FROM surveys WHERE revision = 2 AND net_m2 NOT NULL",
    )
    .unwrap();
    assert_eq!(texts(&db, lawns).len(), 3);
    // Each layer has one style, in well-formed XML.
    assert_eq!(
        texts(
            &db,
            "SELECT f_table_name FROM layer_styles WHERE useAsDefault ORDER BY 1"
        ),
        texts(
            &db,
            "SELECT table_name FROM gpkg_geometry_columns ORDER BY 1"
        )
    );
}

/// The triggers keep the index right whoever edits the layer, as a GIS may.
#[test]
fn the_index_follows_edits() {
    let (temp, yard) = yard();
    let file = recorded(temp.path(), &yard);
    let records = boundwalk::records::Records::open(&file).unwrap();
    drop(records);
    let db = Connection::open(&file).unwrap();
    // Functions as a GIS brings its own.
    use rusqlite::functions::FunctionFlags;
    db.create_scalar_function("ST_IsEmpty", 1, FunctionFlags::SQLITE_INNOCUOUS, |call| {
        Ok(call
            .get_raw(0)
            .as_blob()
            .map(|b| i32::from(b[3] & 16 != 0))
            .ok())
    })
    .unwrap();
    for (name, at) in [
        ("ST_MinX", 8),
        ("ST_MaxX", 16),
        ("ST_MinY", 24),
        ("ST_MaxY", 32),
    ] {
        db.create_scalar_function(name, 1, FunctionFlags::SQLITE_INNOCUOUS, move |call| {
            Ok(call
                .get_raw(0)
                .as_blob()
                .map(|b| f64::from_le_bytes(b[at..at + 8].try_into().unwrap()))
                .ok())
        })
        .unwrap();
    }
    let count = |sql: &str| -> i64 { db.query_row(sql, [], |row| row.get(0)).unwrap() };
    let before = count("SELECT count(*) FROM rtree_lawns_geom");
    let id = count("SELECT min(id) FROM lawns");
    db.execute("UPDATE lawns SET geom = NULL WHERE id = ?1", [id])
        .unwrap();
    assert_eq!(count("SELECT count(*) FROM rtree_lawns_geom"), before - 1);
    db.execute("UPDATE lawns SET geom = (SELECT geom FROM lawns WHERE id <> ?1 AND geom NOT NULL) WHERE id = ?1", [id]).unwrap();
    assert_eq!(count("SELECT count(*) FROM rtree_lawns_geom"), before);
    db.execute("UPDATE lawns SET id = 1000 WHERE id = ?1", [id])
        .unwrap();
    assert_eq!(
        count("SELECT count(*) FROM rtree_lawns_geom WHERE id = 1000"),
        1
    );
    db.execute("DELETE FROM lawns WHERE id = 1000", []).unwrap();
    assert_eq!(count("SELECT count(*) FROM rtree_lawns_geom"), before - 1);
    assert_eq!(one(&db, "SELECT rtreecheck('rtree_lawns_geom')"), "ok");
}
