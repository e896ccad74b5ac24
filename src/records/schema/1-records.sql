-- What was measured. Nothing here is ever changed or taken away: measuring again adds a revision.

CREATE TABLE record_schema (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  version INTEGER NOT NULL,
  applied_at DATETIME NOT NULL,
  program TEXT NOT NULL
);

CREATE TABLE versions (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  program TEXT NOT NULL,
  result_schema TEXT NOT NULL,
  UNIQUE (program, result_schema)
);

CREATE TABLE surveys (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
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
  UNIQUE (name, revision)
);

CREATE TABLE orders (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  survey_id INTEGER NOT NULL REFERENCES surveys(id),
  item TEXT NOT NULL,
  quantity DOUBLE NOT NULL,
  unit TEXT NOT NULL,
  net DOUBLE,
  allowance DOUBLE,
  basis TEXT
);

CREATE TABLE log_files (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  survey_id INTEGER NOT NULL REFERENCES surveys(id),
  name TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  kind TEXT NOT NULL,
  lines INTEGER NOT NULL,
  fixes INTEGER NOT NULL,
  damaged INTEGER NOT NULL,
  first_time TEXT,
  last_time TEXT
);

CREATE TABLE settings (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  survey_id INTEGER NOT NULL REFERENCES surveys(id),
  name TEXT NOT NULL,
  value TEXT NOT NULL,
  source TEXT NOT NULL
);

CREATE TABLE warnings (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  survey_id INTEGER NOT NULL REFERENCES surveys(id),
  code TEXT NOT NULL,
  doubt BOOLEAN NOT NULL,
  message TEXT NOT NULL
);

CREATE TABLE lawns (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  geom MULTIPOLYGON,
  survey_id INTEGER NOT NULL REFERENCES surveys(id),
  survey TEXT NOT NULL,
  revision INTEGER NOT NULL,
  label TEXT,
  net_m2 DOUBLE,
  sigma_m2 DOUBLE
);

CREATE TABLE deductions (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  geom MULTIPOLYGON,
  survey_id INTEGER NOT NULL REFERENCES surveys(id),
  survey TEXT NOT NULL,
  revision INTEGER NOT NULL,
  label TEXT,
  kind TEXT NOT NULL,
  area_m2 DOUBLE,
  deducted_m2 DOUBLE
);

CREATE TABLE walks (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  geom MULTILINESTRING,
  survey_id INTEGER NOT NULL REFERENCES surveys(id),
  survey TEXT NOT NULL,
  revision INTEGER NOT NULL
);

CREATE TABLE bands (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  geom MULTIPOLYGON,
  survey_id INTEGER NOT NULL REFERENCES surveys(id),
  survey TEXT NOT NULL,
  revision INTEGER NOT NULL,
  edge TEXT NOT NULL,
  area_m2 DOUBLE
);

CREATE INDEX orders_of_survey ON orders (survey_id);
CREATE INDEX log_files_of_survey ON log_files (survey_id);
CREATE INDEX log_files_by_hash ON log_files (sha256);
CREATE INDEX settings_of_survey ON settings (survey_id);
CREATE INDEX warnings_of_survey ON warnings (survey_id);
CREATE INDEX lawns_of_survey ON lawns (survey_id);
CREATE INDEX deductions_of_survey ON deductions (survey_id);
CREATE INDEX walks_of_survey ON walks (survey_id);
CREATE INDEX bands_of_survey ON bands (survey_id);

-- Requirement 118: a row for every table of attributes; Requirement 18: one for every layer.
INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) VALUES
  ('record_schema', 'attributes', 'record_schema', 'Versions of this file''s own tables', NULL),
  ('versions', 'attributes', 'versions', 'Versions of the program that measured', NULL),
  ('surveys', 'attributes', 'surveys', 'Every survey measured, each measuring a revision', NULL),
  ('orders', 'attributes', 'orders', 'What was to be ordered', NULL),
  ('log_files', 'attributes', 'log_files', 'Logs measured from, with their SHA-256', NULL),
  ('settings', 'attributes', 'settings', 'What each survey was measured with', NULL),
  ('warnings', 'attributes', 'warnings', 'What was seen on the way', NULL),
  ('lawns', 'features', 'lawns', 'Net lawns', 4326),
  ('deductions', 'features', 'deductions', 'Beds, paths and whatever else was taken off', 4326),
  ('walks', 'features', 'walks', 'Walked lines after cleaning', 4326),
  ('bands', 'features', 'bands', 'The net lawns drawn in and out to the low and high end of the band', 4326);

INSERT INTO gpkg_geometry_columns VALUES
  ('lawns', 'geom', 'MULTIPOLYGON', 4326, 0, 0),
  ('deductions', 'geom', 'MULTIPOLYGON', 4326, 0, 0),
  ('walks', 'geom', 'MULTILINESTRING', 4326, 0, 0),
  ('bands', 'geom', 'MULTIPOLYGON', 4326, 0, 0);
