-- A garden is a name and a place. Until now a name alone told surveys apart, so that two gardens of one name became
-- revisions of each other. `garden` is the garden's number; revisions are counted within it.

CREATE TABLE gardens (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  -- The survey whose outline, or whose place where none has an outline, stands for the garden.
  shown_by INTEGER REFERENCES surveys(id)
);

-- What a garden has been called: each begins with `is/` (the whole name), `own/` (its last part) or `job/` (job number).
CREATE TABLE garden_names (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  garden INTEGER NOT NULL REFERENCES gardens(id),
  name TEXT NOT NULL,
  UNIQUE (garden, name)
);
CREATE INDEX garden_names_by_name ON garden_names (name, garden);

-- Where each of these names is used: degrees, and a number that stands for the name, so that the same name in many
-- places and many names in the same place are found equally fast.
CREATE VIRTUAL TABLE rtree_garden_names_place USING rtree(id, minx, maxx, miny, maxy, minname, maxname);

-- SQLite cannot take the rule "a name has each revision once" off a table, so the table is made anew. The numbers given
-- to garden and revision here are put right by the next part of this step.
CREATE TABLE surveys_with_garden (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  garden INTEGER NOT NULL REFERENCES gardens(id),
  name TEXT NOT NULL,
  revision INTEGER NOT NULL,
  recorded_at DATETIME NOT NULL,
  version_id INTEGER NOT NULL REFERENCES versions(id),
  status TEXT NOT NULL,
  reason TEXT,
  job TEXT,
  site TEXT,
  walked_on DATE,
  gross_m2 DOUBLE,
  deductions_m2 DOUBLE,
  net_m2 DOUBLE,
  sigma_m2 DOUBLE,
  confidence DOUBLE,
  band_m2 DOUBLE,
  low_m2 DOUBLE,
  high_m2 DOUBLE,
  perimeter_m DOUBLE,
  receiver TEXT,
  lat DOUBLE,
  lon DOUBLE,
  fingerprint TEXT,
  document TEXT NOT NULL,
  UNIQUE (garden, revision)
);
INSERT INTO surveys_with_garden
  SELECT id, -id, name, 1, recorded_at, version_id, status, reason, job, site, walked_on, gross_m2, deductions_m2, net_m2,
    sigma_m2, confidence, band_m2, low_m2, high_m2, perimeter_m, receiver, lat, lon, fingerprint, document
  FROM surveys;
UPDATE sqlite_sequence SET seq = max(seq, (SELECT seq FROM sqlite_sequence WHERE name = 'surveys'))
  WHERE name = 'surveys_with_garden';
DROP TABLE surveys;
ALTER TABLE surveys_with_garden RENAME TO surveys;
CREATE INDEX surveys_by_name ON surveys (name, garden, revision);
CREATE INDEX surveys_by_fingerprint ON surveys (fingerprint);

ALTER TABLE lawns ADD COLUMN garden INTEGER;
ALTER TABLE deductions ADD COLUMN garden INTEGER;
ALTER TABLE walks ADD COLUMN garden INTEGER;
ALTER TABLE bands ADD COLUMN garden INTEGER;

INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) VALUES
  ('gardens', 'attributes', 'gardens', 'Gardens, each with one or more surveys as its revisions', NULL),
  ('garden_names', 'attributes', 'garden_names', 'What each garden has been called', NULL);
