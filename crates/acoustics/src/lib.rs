#![doc = include_str!("../README.md")]
//!
//! # Adding up
//! Loudspeakers on one programme add as waves in the bands up to the transition frequency
//! ([`Settings::coherent_to_hz`], 400 Hz unless set: 20 Hz to 400 Hz, 14 bands) and in energy above; the paths of one
//! loudspeaker add as waves everywhere. Different programmes add in energy.
//!
//! # Accuracy of the fast field
//! The fast field is held against the plain formula on 48 lines per third octave: half of the points within 0.06 dB, 95
//! % within 0.5 dB, in every band. Each shortcut states its own bound where it is taken: ground 6e-4 of the direct sound
//! (0.005 dB outside dips), sines 2e-5, cross terms left out 0.05 dB, far loudspeakers 0.1 dB
//! ([`Settings::cut_off_db`]), waves of the loudspeakers not in hand 0.001 dB. On a site much larger than a garden the
//! 16 lines of a band come to their limit, since ways that differ by 60 m beat once per line: a hundred loudspeakers
//! on one signal, 9 m apart, leave 0.57 dB at 95 % of points in the 400 Hz band and less below. Fewer lines would save
//! time but not stay within 0.5 dB there (12 lines: 1.3 dB).
//!
//! # Which call to use
//! - Levels at points: [`field`].
//! - One loudspeaker or a few change, again and again: [`IncrementalField`], with [`Scene::with_input`] or
//!   [`Scene::set_source`], so that only what differs is computed. A whole field costs as much as all loudspeakers.
//! - Every loudspeaker alone, to choose and weigh them (energies are linear in power and gain): [`energy_matrix`] once.
//! - First arrivals: [`arrivals_of`] with that matrix. [`arrivals`] makes the matrix itself, which is nearly all of its
//!   time. A gain scales a loudspeaker's energies and a delay leaves them as they are: no need for another matrix.
//! - All of that over a listening area, on a site of any size: [`area_heard`], which follows far loudspeakers to a few places.
//! - The bass of each loudspeaker alone as waves: [`waves`].
//!
//! # Speed
//! A full field costs points times loudspeakers; moving one loudspeaker ([`IncrementalField`]) costs points alone. Counted from
//! the source, a loudspeaker at a point of guesthouse-garden (6.0 paths) takes about 29700 operations of 32 bits. On a
//! server processor of 2023, busy with other work, that came to 1.24 us of one core by the processor's own time, 24
//! Gflop/s: a fifth of the 129 Gflop/s that 8 lanes of multiply-adds reach there, counted the same way. What keeps
//! it from the limit: a quarter is path finding, in scalar 64-bit numbers; and half of the vector instructions are
//! single additions or multiplications. Vectors of 512 bits were no faster. A step of a drag reads 0.9 kB per point of
//! what the other loudspeakers make. `bench` measures all of this anew, beside NumPy.
//!
//! The cost per loudspeaker at constant density grows until a site is much wider than the distance over which waves
//! are taken to keep in step ([`Settings::in_step_m`], 100 m): each point then has as many loudspeakers within it as
//! it will ever have. What lies beyond is lumped and costs little.

mod air;
mod areas;
mod bands;
mod bass;
mod boundary;
mod directivity;
mod exposure;
mod field;
mod ground;
mod level;
mod scene;
mod screen;
mod source;
mod weighting;

pub use air::{Absorption, Air, AirError};
pub use areas::{
    AreaArrivals, AreaError, AreaStatistics, Arrival, ArrivalSpread, ECHO_LEVEL_DB, ECHO_TIME_S, SampleError,
    area_arrivals, area_statistics, arrival_spread, grid_steps, percentile, sample_outline,
};
pub use bands::{
    BAND_COUNT, Band, BandValues, OCTAVE_COUNT, Octave, OctaveValues, band_values, octave_means_db,
    octave_sums_db,
};
pub use bass::{
    BassBand, BassError, BassField, BassLevels, BassSearch, Cancellation, RankedSetting, SEARCH_COUNTS,
    SPREAD_CLASS_DB, SearchCoverage, SearchResult, SubwooferSetting, bass_levels, cancellations,
    search_subwoofers,
};
pub use boundary::{
    Aimed, BoundaryBuilding, BoundaryGround, BoundaryProblem, BoundaryReceiver, BoundaryScene,
    BoundarySceneError, BoundaryScreen, BoundarySource, BoundaryStep, FaceOf, FaceReflection, GroundRegion,
    ISO_OCTAVES, ISO_OCTAVES_HZ, Judgement, LimitQuantity, NeighbourLimit, OctaveLevels, OctavePower,
    OctavesError, ReceiverLevel, Reflection, SourceContribution, Verdict, boundary_levels,
    boundary_levels_after, in_step_db, judge, octave_directivity_db, sample_line,
};
pub use directivity::{
    Aim, Coverage, CoveragePoint, DEFAULT_REAR_FLOOR_DB, Directivity, DirectivityError, DirectivityTable,
    LookUp, MeasuredResponse, Piston, PistonRear, SphericalGrid, TABLE_LANES, TableRow, piston_amplitude,
    piston_directivity_index_db,
};
pub use exposure::{
    ExposureError, NIOSH_CEILING_DBA, NIOSH_EXCHANGE_DB, NIOSH_LIMIT_DBA, NIOSH_SHIFT_S, WHO_VENUE_LIMIT_DBA,
    niosh_dose_percent, niosh_permitted_s, who_venue_margin_db,
};
pub use field::{
    AreaHeard, AreaShares, BassLine, EnergyMatrix, Field, GroundMet, IncrementalField, NEAREST_M, PathShare,
    Points, Probe, Reason, Reflector, SourceShare, Waves, WavesError, Way, area_heard, area_shares, arrivals,
    arrivals_of, energy_matrix, field, field_within, probe, waves,
};
pub use ground::{Ground, GroundEffect, GroundError, GroundGeometry, LOWEST_HEIGHT_M, ground_effect};
pub use level::{
    SILENCE_DB, amplitude_from_db, db_from_amplitude, db_from_energy, energy_from_db, level_at_distance_db,
    mean_db, sum_db,
};
pub use scene::{
    Building, GroundStep, Mounting, Problem, Scene, SceneErrors, SceneInput, SceneProblem, Settings, Source,
    Subject, Surface, Terrain, Wall,
};
pub use screen::{CLEAR_FRESNEL, GRAZING_LOSS_DB, MOST_LOSS_DB, ScreenError, screen_loss_db};
pub use source::{FilterTable, Programme, Radiation, SINE_CREST_DB, SourceError, full_scale_level_db};
pub use weighting::Weighting;
