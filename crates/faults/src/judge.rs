//! What a single reading says at once, before anything is ranked: whether it is what the line should read.
//!
//! A loop reading is good inside the 95 % interval of [`ExpectedReading`] (the one `expect` prints), doubtful outside it and
//! inside the 99.9 % interval, bad beyond: of good lines' readings one in twenty is not good, one in a thousand bad. The
//! two sides are alike: too low is a short, water or a tap set too high as surely as too high is a splice or a cut.
//! Leakage has one side, against [`LEAKAGE_MOHM`].

use serde::Serialize;

use crate::expect::ExpectedReading;
use crate::grade::Grade;
use crate::hypotheses::Fault;
use crate::locate::Diagnosis;
use crate::readings::Shown;

/// A line in order leaks to earth through no less than this, megohm: the one rule of insulation.
pub const LEAKAGE_MOHM: f64 = loamline_terms::INSULATION_LEAST_MOHM;
/// Below this, megohm, insulation is bad; between the two it is doubtful (common practice, no source): wet ground alone can
/// bring a good line there.
pub const LEAKAGE_DOUBTFUL_MOHM: f64 = 0.1;
/// What is taken down where an insulation tester shows more than its range, ohm (common practice, no source: the end of the
/// range of testers of the trade).
pub const TESTER_RANGE_OHM: f64 = 2e8;
/// A line is good where all its readings together leave more than this for nothing being wrong, 0..=1 (common practice, no
/// source: with less somebody looks again).
pub const LINE_GOOD: f64 = 0.8;
/// A line is bad where they leave no more than this, 0..=1; between the two it is doubtful (common practice, no source).
pub const LINE_DOUBTFUL: f64 = 0.3;

/// Which side of what is expected a reading lies on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "lowercase")]
pub enum Says {
    /// Within it.
    Within,
    /// Below it.
    Low,
    /// Above it.
    High,
    /// So far below it that a short along the line reads the same.
    Short,
    /// The meter shows an open line where it should show a number.
    Open,
}

/// What a reading says.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Judgement {
    /// How good it is.
    pub grade: Grade,
    /// On which side it lies.
    pub says: Says,
}

impl Judgement {
    const GOOD: Self = Self { grade: Grade::Good, says: Says::Within };

    /// Whether nothing is to be done.
    #[must_use]
    pub fn good(&self) -> bool {
        self.grade == Grade::Good
    }
}

impl ExpectedReading {
    /// What a reading of this quantity says.
    #[must_use]
    pub fn judge(&self, shown: Shown) -> Judgement {
        let bad = |says| Judgement { grade: Grade::Bad, says };
        let (Some(low), Some(high)) = (self.low_ohm, self.high_ohm) else {
            // A good line reads open here.
            return match shown {
                Shown::Open => Judgement::GOOD,
                Shown::Ohm(_) => bad(Says::Low),
            };
        };
        let Shown::Ohm(ohm) = shown else { return bad(Says::Open) };
        if (low..=high).contains(&ohm) {
            return Judgement::GOOD;
        }
        let far = ohm < self.far_low_ohm.unwrap_or(low) || ohm > self.far_high_ohm.unwrap_or(high);
        let says = match ohm {
            _ if ohm > high => Says::High,
            _ if far && self.short_ohm.is_some_and(|short| ohm <= short) => Says::Short,
            _ => Says::Low,
        };
        Judgement { grade: if far { Grade::Bad } else { Grade::Doubtful }, says }
    }
}

/// What a resistance from the conductors to earth says, ohm; `above`: the tester showed more than that. `None` where the
/// tester's range ends below the limit, so that nothing can be told.
#[must_use]
pub fn judge_leakage(ohm: f64, above: bool) -> Option<Judgement> {
    let grade = match ohm / 1e6 {
        m if m >= LEAKAGE_MOHM => return Some(Judgement::GOOD),
        _ if above => return None,
        m if m >= LEAKAGE_DOUBTFUL_MOHM => Grade::Doubtful,
        _ => Grade::Bad,
    };
    Some(Judgement { grade, says: Says::Low })
}

impl Diagnosis {
    /// What the readings of a line, ranked together, say of the whole of it.
    #[must_use]
    pub fn grade(&self) -> Grade {
        let healthy = self.explanations.iter().find(|e| e.fault == Fault::Healthy);
        judge_line(healthy.map_or(0.0, |e| e.probability), self.unexplained.is_none())
    }
}

/// What is said of a line that is healthy with this probability, 0..=1; one whose readings nothing explains is bad.
fn judge_line(healthy: f64, explained: bool) -> Grade {
    match healthy {
        _ if !explained => Grade::Bad,
        p if p > LINE_GOOD => Grade::Good,
        p if p > LINE_DOUBTFUL => Grade::Doubtful,
        _ => Grade::Bad,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Place, Tolerances, expected_readings};
    use loamline_electrics::{Connection, Line, Load, Loudspeaker, PairConstants, Run, Service};

    /// 50 m of 0.02 ohm/m there and back to one load of 100 ohm: 101 ohm; shorted at the far end 1.03 ohm.
    fn line() -> Line {
        Line {
            name: "A".into(),
            service: Service::LowImpedance,
            source_joint: "R1".into(),
            joints: Vec::new(),
            runs: vec![Run {
                name: "a1".into(),
                from: "R1".into(),
                to: "L1".into(),
                length_m: 50.0,
                pair: PairConstants {
                    loop_resistance_ohm_per_m: 0.02,
                    loop_inductance_h_per_m: 0.6e-6,
                    capacitance_f_per_m: 1e-10,
                },
                in_series: false,
                laid: None,
            }],
            loads: vec![Load {
                name: "L1".into(),
                at: "L1".into(),
                connection: Connection::Direct,
                loudspeaker: Loudspeaker::resistance(100.0),
                nominal_ohm: 100.0,
                series_capacitor_f: None,
                in_series: false,
            }],
        }
    }

    #[test]
    fn both_sides_of_the_interval_count_and_a_short_is_told_from_a_low_reading() {
        let all = expected_readings(&line(), &[0.0], &Tolerances::default()).unwrap();
        let at_rack = all.iter().find(|r| r.place == Place::Rack).unwrap();
        let (low, high) = (at_rack.low_ohm.unwrap(), at_rack.high_ohm.unwrap());
        assert!(low < 101.0 && 101.0 < high);
        let says = |ohm: f64| {
            let j = at_rack.judge(Shown::Ohm(ohm));
            (j.grade, j.says)
        };
        assert_eq!(says(101.0), (Grade::Good, Says::Within));
        assert_eq!((says(low), says(high)), ((Grade::Good, Says::Within), (Grade::Good, Says::Within)));
        assert_eq!(says(0.999 * low), (Grade::Doubtful, Says::Low));
        assert_eq!(says(1.001 * high), (Grade::Doubtful, Says::High));
        // 50 ohm is half of the load, no short; 1 ohm is what the cable alone reads.
        assert_eq!(says(50.0), (Grade::Bad, Says::Low));
        assert_eq!(says(1.0), (Grade::Bad, Says::Short));
        assert_eq!(says(0.0), (Grade::Bad, Says::Short));
        assert_eq!(says(300.0), (Grade::Bad, Says::High));
        let open = at_rack.judge(Shown::Open);
        assert_eq!((open.grade, open.says), (Grade::Bad, Says::Open));
        // 1.96 and 3.29 deviations of the normal variable ln(ohm + offset).
        let offset = Tolerances::default().offset_ohm();
        let of = |ohm: f64| ((ohm + offset) / (101.0 + offset)).ln();
        let ratio = of(at_rack.far_high_ohm.unwrap()) / of(high);
        assert!((ratio - 3.290_527 / 1.959_964).abs() < 1e-3, "{ratio}");
    }

    #[test]
    fn leakage_is_held_against_its_limit() {
        let grade = |ohm, above| judge_leakage(ohm, above).map(|j| j.grade);
        assert_eq!(grade(2e4, false), Some(Grade::Bad));
        assert_eq!(grade(5e5, false), Some(Grade::Doubtful));
        assert_eq!(grade(1e6, false), Some(Grade::Good));
        assert_eq!(grade(2e8, true), Some(Grade::Good));
        // "More than 50 kohm" may be anything.
        assert_eq!(grade(5e4, true), None);
    }

    #[test]
    fn a_line_is_as_good_as_it_is_likely_to_be_healthy() {
        let told =
            [(1.0, true), (0.81, true), (0.8, true), (0.31, true), (0.3, true), (0.0, true), (1.0, false)];
        let grades = told.map(|(healthy, explained)| judge_line(healthy, explained));
        use Grade::{Bad, Doubtful, Good};
        assert_eq!(grades, [Good, Good, Doubtful, Doubtful, Bad, Bad, Bad]);
    }
}
