//! Air density of a bench run.

use crate::bench::uncertainty::{Source, Uncertain};
use crate::physics::atmosphere;
use crate::season::{BenchDecl, Declared, Finding, Season};
use crate::stats::gum::rectangular;

/// Air density of a run, kg/m³; what was not declared comes from the standard atmosphere.
pub(super) fn declared_density(
    decl: &BenchDecl,
    season: &Season,
    findings: &mut Vec<Finding>,
) -> Declared {
    let elevation = season.site.elevation_m.unwrap_or(0.0);
    let standard = atmosphere::standard(atmosphere::geopotential(elevation));
    let temperature = decl.temperature_k.unwrap_or(standard.temperature_k);
    let pressure = decl.pressure_pa.unwrap_or(standard.pressure_pa);
    let is_default = decl.temperature_k.is_none() || decl.pressure_pa.is_none();
    if is_default {
        let missing = match (decl.temperature_k, decl.pressure_pa) {
            (None, None) => "temperature and pressure",
            (None, _) => "temperature",
            _ => "pressure",
        };
        findings.push(
            Finding::note(
                "standard-air",
                format!(
                    "bench run '{}' has no {missing}: the standard atmosphere at {elevation:.0} m \
                     was taken",
                    decl.id
                ),
                "Note temperature and station pressure beside a bench run: the density is then \
                 known to 0.5 % instead of 3 %.",
            )
            .at("season.toml", decl.line, None),
        );
    }
    Declared {
        value: match decl.relative_humidity {
            Some(rh) => atmosphere::density_moist(pressure, temperature, rh),
            None => atmosphere::density(pressure, temperature),
        },
        is_default,
    }
}

/// Air density with its uncertainty: 0.5 % where temperature and pressure were declared, else 3 %
/// (10 K or 30 hPa off the standard atmosphere).
pub fn density(density: Declared, run: &str) -> Uncertain {
    let limit = if density.is_default { 0.03 } else { 0.005 };
    Uncertain::exact(density.value).with(
        Source::Density {
            run: run.to_owned(),
        },
        rectangular(limit * density.value),
        f64::INFINITY,
    )
}
