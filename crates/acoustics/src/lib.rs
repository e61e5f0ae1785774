//! Levels outdoors from loudspeakers: the field, areas, bass, exposure and neighbours.

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
    AreaArrivals, AreaError, AreaStatistics, Arrival, ArrivalSpread, ECHO_LEVEL_DB, ECHO_TIME_S, MAX_SAMPLES,
    SampleError, area_arrivals, area_statistics, arrival_spread, percentile, sample_outline,
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
    BoundaryBuilding, BoundaryGround, BoundaryProblem, BoundaryReceiver, BoundaryScene, BoundarySceneError,
    BoundaryScreen, BoundarySource, GroundRegion, ISO_OCTAVES, ISO_OCTAVES_HZ, Judgement, LimitQuantity,
    NeighbourLimit, OctavePower, ReceiverLevel, SourceContribution, Verdict, boundary_levels, judge,
    octave_directivity_db, sample_line,
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
    BASS_FIRST_BAND, BASS_LAST_BAND, BassLine, EnergyMatrix, Field, GroundMet, KeptField, NEAREST_M,
    PathShare, Points, Probe, Reason, Reflector, SourceShare, Waves, Way, arrivals, energy_matrix, field,
    probe, waves,
};
pub use ground::{
    Ground, GroundClass, GroundEffect, GroundError, GroundGeometry, LOWEST_HEIGHT_M, ground_effect,
};
pub use level::{
    SILENCE_DB, amplitude_from_db, db_from_amplitude, db_from_energy, energy_from_db, level_at_distance_db,
    mean_db, sum_db,
};
pub use scene::{
    Building, Mounting, Problem, Scene, SceneErrors, SceneInput, SceneProblem, Settings, Source, Subject,
    Surface, Wall,
};
pub use screen::{CLEAR_FRESNEL, GRAZING_LOSS_DB, MOST_LOSS_DB, ScreenError, screen_loss_db};
pub use source::{Drive, FilterTable, Programme, Radiation, SINE_CREST_DB, SourceError, full_scale_level_db};
pub use weighting::Weighting;
