#![doc = include_str!("../README.md")]
//!
//! What an installer types into whatever amplifier or processor is there, worked out so that drivers survive
//! and the sound is even. Everything here is a pure function of plain inputs.

mod filters;
mod gain_structure;
mod listen;
mod plan;
mod protect;
mod signals;
mod tune;
mod wav;

pub use filters::{
    Alignment, Chain, EqKind, EqSection, Pass, PassFilter, SampleRate, Section, SettingError, cascade_gain,
    wrapped_phase_rad,
};
pub use gain_structure::{
    Arriving, FeedingSource, GainAsked, GainStructure, InputSignal, InputStage, SourceGain, gain_structure,
};
pub use listen::{
    Agreement, BandResponse, Comparison, HeardPolarity, ListenError, ListenSettings, Listening, analyse,
};
pub use plan::{
    ChannelPlan, ChannelRole, LimitInWork, LineInWork, OrderOfWork, PlanProblem, PlaysIn, SettingRow,
    WORK_STAGES, WorkChannel, WorkStep, order_of_work, settings_table,
};
pub use protect::{
    Crossover, DriverNeed, FullDrive, HighPassChoice, HighPassNeeds, HighPassReason, LimiterCost,
    LimiterRule, LimiterThreshold, LimiterTimes, LineThreshold, PEAK_OVER_RMS, ProtectedLoad,
    ProtectionError, TransformerNeed, choose_crossover, choose_high_pass, dbu, dbv, limiter_cost,
    limiter_threshold, limiter_times, line_threshold, peak_behind,
};
pub use signals::{
    LineRhythm, NoiseSpec, PulseSpec, RhythmSpec, SignalError, Sweep, SweepSpec, line_rhythm, pink_noise,
    polarity_pulse,
};
pub use tune::{
    AreaArrivals, AreaDelayReport, AreaLevels, Arrival, Ceiling, DelayAdvice, DelayLimits, DelayVerdict,
    EqFit, FitLimits, FitTarget, GainLimits, TuneError, ZoneGains, area_average_db, balance_gains,
    fit_equaliser, hold, suggest_delays,
};
pub use wav::{Recording, WavError, WavFormat, read_recording, write_wav};
