-- Annex F.8 "Metadata": what the file is, for whoever meets it without this program.

CREATE TABLE gpkg_metadata (
  id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL,
  md_scope TEXT NOT NULL DEFAULT 'dataset',
  md_standard_uri TEXT NOT NULL,
  mime_type TEXT NOT NULL DEFAULT 'text/xml',
  metadata TEXT NOT NULL DEFAULT ''
);

CREATE TABLE gpkg_metadata_reference (
  reference_scope TEXT NOT NULL,
  table_name TEXT,
  column_name TEXT,
  row_id_value INTEGER,
  timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  md_file_id INTEGER NOT NULL,
  md_parent_id INTEGER,
  CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
  CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id)
);

-- Requirement 140.
INSERT INTO gpkg_extensions VALUES
  ('gpkg_metadata', NULL, 'gpkg_metadata', 'http://www.geopackage.org/spec140/#extension_metadata', 'read-write'),
  ('gpkg_metadata_reference', NULL, 'gpkg_metadata', 'http://www.geopackage.org/spec140/#extension_metadata', 'read-write');

INSERT INTO gpkg_metadata (id, md_scope, md_standard_uri, mime_type, metadata) VALUES
  (1, 'dataset', 'http://purl.org/dc/elements/1.1/', 'text/xml',
   '<metadata xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:title>Records of measured lawns</dc:title><dc:type>Dataset</dc:type><dc:description>Net areas of lawns with their error bands, measured from GNSS walks. Areas are on the ground, in square metres; net_m2 plus and minus band_m2 is the interval at the stated confidence. Measuring a survey again adds a revision. Approximate working measurements for ordering materials; not surveys of legal boundaries or levels.</dc:description><dc:creator>boundwalk</dc:creator></metadata>');

INSERT INTO gpkg_metadata_reference (reference_scope, md_file_id) VALUES ('geopackage', 1);
