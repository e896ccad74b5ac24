-- Annex F.3 "R-tree Spatial Indexes", as of version 1.4.0: <t> the layer.

CREATE VIRTUAL TABLE "rtree_<t>_geom" USING rtree(id, minx, maxx, miny, maxy);

CREATE TRIGGER "rtree_<t>_geom_insert" AFTER INSERT ON "<t>"
  WHEN (new."geom" NOT NULL AND NOT ST_IsEmpty(NEW."geom"))
BEGIN
  INSERT OR REPLACE INTO "rtree_<t>_geom" VALUES (
    NEW."id",
    ST_MinX(NEW."geom"), ST_MaxX(NEW."geom"),
    ST_MinY(NEW."geom"), ST_MaxY(NEW."geom")
  );
END;

CREATE TRIGGER "rtree_<t>_geom_update2" AFTER UPDATE OF "geom" ON "<t>"
  WHEN OLD."id" = NEW."id" AND
       (NEW."geom" ISNULL OR ST_IsEmpty(NEW."geom"))
BEGIN
  DELETE FROM "rtree_<t>_geom" WHERE id = OLD."id";
END;

CREATE TRIGGER "rtree_<t>_geom_update4" AFTER UPDATE ON "<t>"
  WHEN OLD."id" != NEW."id" AND
       (NEW."geom" ISNULL OR ST_IsEmpty(NEW."geom"))
BEGIN
  DELETE FROM "rtree_<t>_geom" WHERE id IN (OLD."id", NEW."id");
END;

CREATE TRIGGER "rtree_<t>_geom_update5" AFTER UPDATE ON "<t>"
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

CREATE TRIGGER "rtree_<t>_geom_update6" AFTER UPDATE OF "geom" ON "<t>"
  WHEN OLD."id" = NEW."id" AND
       (NEW."geom" NOTNULL AND NOT ST_IsEmpty(NEW."geom")) AND
       (OLD."geom" NOTNULL AND NOT ST_IsEmpty(OLD."geom"))
BEGIN
  UPDATE "rtree_<t>_geom" SET
    minx = ST_MinX(NEW."geom"),
    maxx = ST_MaxX(NEW."geom"),
    miny = ST_MinY(NEW."geom"),
    maxy = ST_MaxY(NEW."geom")
  WHERE id = NEW."id";
END;

CREATE TRIGGER "rtree_<t>_geom_update7" AFTER UPDATE OF "geom" ON "<t>"
  WHEN OLD."id" = NEW."id" AND
       (NEW."geom" NOTNULL AND NOT ST_IsEmpty(NEW."geom")) AND
       (OLD."geom" ISNULL OR ST_IsEmpty(OLD."geom"))
BEGIN
  INSERT INTO "rtree_<t>_geom" VALUES (
    NEW."id",
    ST_MinX(NEW."geom"), ST_MaxX(NEW."geom"),
    ST_MinY(NEW."geom"), ST_MaxY(NEW."geom")
  );
END;

CREATE TRIGGER "rtree_<t>_geom_delete" AFTER DELETE ON "<t>"
  WHEN old."geom" NOT NULL
BEGIN
  DELETE FROM "rtree_<t>_geom" WHERE id = OLD."id";
END;

INSERT INTO gpkg_extensions VALUES
  ('<t>', 'geom', 'gpkg_rtree_index', 'http://www.geopackage.org/spec140/#extension_rtree', 'write-only');
