//! The numbers of the rules a phone weighs, ranks and judges readings by without a network: each is the engine's own.

use loamline_electrics::COPPER_COEFFICIENT_PER_K;
use loamline_faults::{Effort, Tolerances, rules};
use loamline_study::{DAYS_A_YEAR, LEAKAGE_DEVIATION};
use serde::Serialize;
use utoipa::ToSchema;

/// The numbers of every rule of readings. Where none is named, the source is common practice.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct ReadingRules {
    /// What is taken down of a reading.
    taken: TakenRules,
    /// How explanations are weighed: crates/faults/src/weigh.rs.
    weigh: WeighRules,
    /// Which explanations are told, and how: crates/faults/src/locate.rs and groups.rs.
    rank: RankRules,
    /// What is to be measured next: crates/faults/src/next.rs and outcomes.rs.
    next: NextRules,
    /// What a single reading says: crates/faults/src/judge.rs.
    judge: JudgeRules,
    /// How a line moves over the years: crates/faults/src/drift.rs and crates/study/src/years.rs.
    years: YearRules,
}

/// What is taken down of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct TakenRules {
    /// The end of an insulation tester's range, taken down where it shows more, ohm.
    tester_range_ohm: f64,
}

/// How explanations are weighed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct WeighRules {
    /// Of faults at a joint, this share is seen by opening it (from memory: a careful look misses one in twenty).
    seen: f64,
    /// How likely insulation that is not good is with a fault that lets water or earth in, 0 to 1 (from memory).
    leaks: f64,
    /// How likely doubtful insulation is without one, 0 to 1 (from memory).
    leaks_doubtfully: f64,
    /// How likely bad insulation is without one, 0 to 1 (from memory).
    leaks_badly: f64,
    /// Steepness of the end of the meter's range, relative.
    range_edge: f64,
    /// A contradiction between a number and an open line grows no further than this, standard deviations.
    contradiction: f64,
}

/// Which explanations are told.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct RankRules {
    /// Explanations with a smaller probability are not listed, 0 to 1.
    listed: f64,
    /// An explanation this many standard deviations off is none.
    far_off: f64,
    /// Predictions nearer than this are the same, standard deviations (deciding between them is right 69 times in 100).
    alike: f64,
    /// Points of an explanation are possible while their probability is this near to that of the likeliest, natural logarithm.
    allowed: f64,
    /// Share of the probability that lies before, and as much beyond, the stretch of a run that is told.
    tail: f64,
    /// A cut has a place where a cell of its grid has more than this many times an even share.
    placed: f64,
}

/// What is to be measured next.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct NextRules {
    /// Work of one more reading at the rack, minutes (common practice, no source).
    rack_min: f64,
    /// Work of finding, opening, reading and closing a joint, minutes (common practice, no source).
    joint_min: f64,
    /// Frequencies nearer to each other than this are the same test, Hz.
    same_hz: f64,
    /// Error of meter and leads, standard deviation, ohm.
    meter_floor_ohm: f64,
    /// Points of an explanation with a smaller probability do not steer the choice, 0 to 1.
    steers: f64,
    /// A test that tells no more than this is not named, bits.
    worth: f64,
    /// How many tests are named.
    listed: usize,
    /// Into how many bins the natural logarithm of ohms is cut.
    bins: usize,
    /// How far the bins reach beyond the lowest and the highest mean, natural logarithm of ohms.
    margin: f64,
    /// A reading is spread over so many of its standard deviations on either side.
    reach: f64,
}

/// What a single reading says, and all readings of a line together.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct JudgeRules {
    /// Resistance to earth of a line in order, at least, megohm (common practice, no source).
    leakage_mohm: f64,
    /// Below this it is bad, between the two doubtful, megohm (common practice, no source).
    leakage_doubtful_mohm: f64,
    /// Voltage of the insulation tester, volts DC, at most.
    insulation_test_v: f64,
    /// What is seen to before it is switched on, and after.
    insulation_caution: &'static str,
    /// A line is good with more than this probability of nothing being wrong, 0 to 1 (common practice, no source).
    line_good: f64,
    /// It is bad with no more than this, between the two doubtful, 0 to 1 (common practice, no source).
    line_doubtful: f64,
}

/// How a line moves over the years.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct YearRules {
    /// Days of a year.
    days_a_year: f64,
    /// A slope is sure that is more than this many of its standard errors: 95 % of a normal variable lie nearer.
    sure: f64,
    /// A limit passed later than this is not told, years.
    ahead_years: f64,
    /// One reading of a loop errs by this, relative standard deviation: the meter.
    meter: f64,
    /// The same: the temperature of its copper, by the temperature coefficient.
    temperature: f64,
    /// The same: the meter's leads, ohm.
    meter_floor_ohm: f64,
    /// One reading of the resistance to earth errs by this, relative standard deviation (from memory: the day's wetness).
    leakage: f64,
}

/// The rules, of a meter and a job with these tolerances.
pub fn reading_rules(tolerances: &Tolerances) -> ReadingRules {
    let effort = Effort::default();
    ReadingRules {
        taken: TakenRules { tester_range_ohm: rules::TESTER_RANGE_OHM },
        weigh: WeighRules {
            seen: rules::SEEN,
            leaks: rules::LEAKS,
            leaks_doubtfully: rules::LEAKS_DOUBTFULLY,
            leaks_badly: rules::LEAKS_BADLY,
            range_edge: rules::RANGE_EDGE,
            contradiction: rules::CONTRADICTION,
        },
        rank: RankRules {
            listed: rules::LISTED,
            far_off: rules::FAR_OFF,
            alike: rules::ALIKE,
            allowed: rules::ALLOWED,
            tail: rules::TAIL,
            placed: rules::PLACED,
        },
        next: NextRules {
            rack_min: effort.rack_min,
            joint_min: effort.joint_min,
            same_hz: rules::SAME_HZ,
            meter_floor_ohm: tolerances.meter_floor_ohm,
            steers: rules::STEERS,
            worth: rules::WORTH,
            listed: rules::TESTS_LISTED,
            bins: rules::BINS,
            margin: rules::MARGIN,
            reach: rules::REACH,
        },
        judge: JudgeRules {
            leakage_mohm: rules::LEAKAGE_MOHM,
            leakage_doubtful_mohm: rules::LEAKAGE_DOUBTFUL_MOHM,
            insulation_test_v: loamline_terms::INSULATION_TEST_V,
            insulation_caution: loamline_terms::INSULATION_CAUTION,
            line_good: rules::LINE_GOOD,
            line_doubtful: rules::LINE_DOUBTFUL,
        },
        years: YearRules {
            days_a_year: DAYS_A_YEAR,
            sure: rules::TWO_SIDED_95,
            ahead_years: rules::AHEAD_YEARS,
            meter: tolerances.meter,
            temperature: COPPER_COEFFICIENT_PER_K * tolerances.temperature_k,
            meter_floor_ohm: tolerances.meter_floor_ohm,
            leakage: LEAKAGE_DEVIATION,
        },
    }
}
