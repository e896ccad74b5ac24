-- Version 1.3 of the standard, which every reader of today knows without a warning; in 1.4 only the triggers of the spatial
-- indexes have changed. OGC 12-128r17 (version 1.3.1), annex F.3: <t> the layer.

DROP TRIGGER "rtree_<t>_geom_update5";
DROP TRIGGER "rtree_<t>_geom_update6";
DROP TRIGGER "rtree_<t>_geom_update7";

CREATE TRIGGER "rtree_<t>_geom_update1" AFTER UPDATE OF "geom" ON "<t>"
  WHEN OLD."id" = NEW."id" AND
       (NEW."geom" NOTNULL AND NOT ST_IsEmpty(NEW."geom"))
BEGIN
  INSERT OR REPLACE INTO "rtree_<t>_geom" VALUES (
    NEW."id",
    ST_MinX(NEW."geom"), ST_MaxX(NEW."geom"),
    ST_MinY(NEW."geom"), ST_MaxY(NEW."geom")
  );
END;

CREATE TRIGGER "rtree_<t>_geom_update3" AFTER UPDATE ON "<t>"
  WHEN OLD."id" != NEW."id" AND
       (NEW."geom" NOTNULL AND NOT ST_IsEmpty(NEW."geom"))
BEGIN
  DELETE FROM "rtree_<t>_geom" WHERE id = OLD."id";
  INSERT OR REPLACE INTO "rtree_<t>_geom" VALUES (
    NEW."id",
    ST_MinX(NEW."geom"), ST_MaxX(NEW."geom"),
    ST_MinY(NEW."geom"), ST_MaxY(NEW."geom")
  );
END;

UPDATE gpkg_extensions SET definition = 'http://www.geopackage.org/spec130/#extension_rtree'
  WHERE table_name = '<t>' AND extension_name = 'gpkg_rtree_index';
