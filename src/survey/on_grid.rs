//! Puts the measured places on a national grid, as eastings and northings.

use super::measured::{GridFacts, GridPlace, Measured};
use crate::fault::Fault;
use crate::grid::Grid;
use crate::limits::log::GRID_TIED_M;
use crate::notice::Notice;

/// Puts every lettered point and every deduction's centre on the grid. Areas stay those on the ground, which differ from those on the
/// grid by its scale.
///
/// # Errors
/// A place outside of the grid, and a grid whose shift file is not installed. There is then no grid at all, as half of the places would
/// be worth nothing.
pub(crate) fn put(measured: &mut Measured, grid: &Grid) -> Result<(), Fault> {
    let place = |name: &str, lat: Option<f64>, lon: Option<f64>| -> Result<GridPlace, Fault> {
        // Nothing on a plan's own metres comes here.
        let (lat, lon) = (lat.unwrap_or(f64::NAN), lon.unwrap_or(f64::NAN));
        let at = grid.to_grid(lat, lon)?;
        Ok(GridPlace {
            name: name.to_owned(),
            easting: at.x,
            northing: at.y,
        })
    };
    let points = measured
        .points
        .iter()
        .map(|p| place(&p.name, p.lat, p.lon))
        .collect::<Result<_, _>>()?;
    let deductions = measured
        .deductions
        .iter()
        .map(|d| place(&d.label, d.lat, d.lon))
        .collect::<Result<_, _>>()?;
    let accuracy_m = grid.accuracy_m();
    if let Some(m) = accuracy_m.filter(|m| *m > GRID_TIED_M) {
        measured.warnings.push(Notice::GridAccuracy {
            code: grid.code(),
            name: grid.name().to_owned(),
            accuracy_m: m,
        });
    }
    measured.grid = Some(GridFacts {
        code: format!("EPSG:{}", grid.code()),
        name: grid.name().to_owned(),
        unit: grid.unit().to_owned(),
        accuracy_m,
        points,
        deductions,
    });
    Ok(())
}
