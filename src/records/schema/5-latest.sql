-- What a person expects to see: each garden's lawns as last measured, each with the survey's band, date, job and site. A later
-- attempt that gave no area does not take them off the map. Columns have at most ten letters, as a shapefile wants them.

-- Requirement 150: a view's first column stands for its key; OGC_FID is the name that GDAL knows it by.
CREATE VIEW latest_lawns AS
  SELECT l.id AS OGC_FID, l.geom AS geom, s.name AS survey, s.garden AS garden, s.revision AS revision, l.label AS label,
    l.net_m2 AS net_m2, l.sigma_m2 AS sigma_m2, s.net_m2 AS total_m2, s.band_m2 AS band_m2, s.confidence AS confidence,
    s.status AS status, s.walked_on AS walked_on, s.job AS job, s.site AS site
  FROM lawns l JOIN surveys s ON s.id = l.survey_id
  WHERE s.revision = (SELECT max(n.revision) FROM surveys n WHERE n.garden = s.garden AND n.net_m2 IS NOT NULL);

INSERT INTO gpkg_contents (table_name, data_type, identifier, description, min_x, min_y, max_x, max_y, srs_id)
  SELECT 'latest_lawns', 'features', 'latest_lawns', 'Lawns as last measured; total_m2 plus and minus band_m2 is the survey''s net area',
    min_x, min_y, max_x, max_y, srs_id FROM gpkg_contents WHERE table_name = 'lawns';
INSERT INTO gpkg_geometry_columns VALUES ('latest_lawns', 'geom', 'MULTIPOLYGON', 4326, 0, 0);

UPDATE gpkg_extensions SET definition = 'http://www.geopackage.org/spec130/#extension_metadata'
  WHERE extension_name = 'gpkg_metadata';

-- How layers are drawn, where GIS programs look for it; its columns are those that they write themselves.
CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  f_table_catalog TEXT(256),
  f_table_schema TEXT(256),
  f_table_name TEXT(256),
  f_geometry_column TEXT(256),
  styleName TEXT(30),
  styleQML TEXT,
  styleSLD TEXT,
  useAsDefault BOOLEAN,
  description TEXT,
  owner TEXT(30),
  ui TEXT(30),
  update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now'))
);
INSERT INTO gpkg_contents (table_name, data_type, identifier, description) VALUES
  ('layer_styles', 'attributes', 'layer_styles', 'How the layers are drawn');
