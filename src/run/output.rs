//! The report and the season's tables, put down as they are made.

use std::io;

use rayon::prelude::*;

use super::RunError;
use crate::findings::evidence::Evidence;
use crate::findings::{Findings, flight_pictures};
use crate::report::{self, Content, ReportError, Sink, Stage, Written};
use crate::season::Season;
use crate::store::parquet::{self, ByFlight, EncodeError};
use crate::store::{PassSampleRow, SeasonTables, StripRow, TrackRow};

/// What to write.
#[derive(Debug, Clone, Copy)]
pub struct Extent {
    pub pages: bool,
    /// The flights' own pictures as PNG, too.
    pub flight_pictures: bool,
}

/// Flights whose rows are held at once while their tables are written.
const AT_ONCE: usize = 16;

/// Makes everything and hands it to the stage.
pub fn write(
    (season, tables, findings): (&Season, &SeasonTables, &Findings),
    extent: Extent,
    stage: &Stage,
    tell: &(dyn Fn() + Sync),
) -> Result<(), RunError> {
    let evidence = Evidence { season, tables };
    if extent.pages {
        let own = |i: usize| {
            let flight = findings.flights.get(i).map_or("", |f| f.id.as_str());
            flight_pictures::document(&evidence, flight)
        };
        let content = Content {
            findings,
            own: &own,
            flight_pictures: extent.flight_pictures,
            tell,
        };
        report::render_into(content, stage)?;
    } else {
        report::data_into(findings, stage)?;
    }
    for (name, bytes) in parquet::encode_all(tables)? {
        stage.put(&name, &bytes)?;
    }
    stage.fill(&parquet::file_name::<StripRow>(), &mut |strips| {
        let track = stage.fill(&parquet::file_name::<TrackRow>(), &mut |track| {
            let samples = parquet::file_name::<PassSampleRow>();
            let samples = stage.fill(&samples, &mut |samples| {
                by_flight(tables, &mut *strips, &mut *track, samples).map_err(io::Error::other)
            });
            samples.map_err(io::Error::other)
        });
        track.map_err(io::Error::other)
    })?;
    Ok(())
}

type To<'a> = &'a mut (dyn io::Write + Send);

/// The tables of flights' own rows, some flights at a time.
fn by_flight(tables: &SeasonTables, strips: To, track: To, samples: To) -> Result<(), EncodeError> {
    let flights = tables.flights.len();
    let mut strips = ByFlight::<StripRow, _>::new(strips)?;
    let mut track = ByFlight::<TrackRow, _>::new(track)?;
    let mut samples = ByFlight::<PassSampleRow, _>::new(samples)?;
    for from in (0..flights).step_by(AT_ONCE) {
        let batches = (from..flights.min(from + AT_ONCE))
            .into_par_iter()
            .map(|flight| {
                let own = tables.own.of(flight);
                Ok((
                    ByFlight::<_, To>::batch(&own.strips)?,
                    ByFlight::<_, To>::batch(&own.track)?,
                    ByFlight::<_, To>::batch(&own.pass_samples)?,
                ))
            })
            .collect::<Result<Vec<_>, EncodeError>>()?;
        let (one, (two, three)) = rayon::join(
            || batches.iter().try_for_each(|b| strips.add(&b.0)),
            || {
                rayon::join(
                    || batches.iter().try_for_each(|b| track.add(&b.1)),
                    || batches.iter().try_for_each(|b| samples.add(&b.2)),
                )
            },
        );
        one.and(two).and(three)?;
    }
    strips.finish()?;
    track.finish()?;
    samples.finish()
}

/// Puts the finished report into its place.
pub fn finish(stage: Stage) -> Result<Written, RunError> {
    stage.finish().map_err(RunError::from)
}

impl From<ReportError> for RunError {
    fn from(error: ReportError) -> Self {
        match error {
            ReportError::Write { .. } => RunError::Input(format!(
                "{error}. Name a folder you can write to with --out."
            )),
            fault => RunError::Fault(fault.to_string()),
        }
    }
}

impl From<EncodeError> for RunError {
    fn from(error: EncodeError) -> Self {
        RunError::Fault(error.to_string())
    }
}
