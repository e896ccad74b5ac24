//! The doors that the fuzz targets go through: the same as those of the ordinary test of their seeds.

#[path = "../../tests/made/entry.rs"]
pub mod entry;
