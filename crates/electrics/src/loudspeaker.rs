//! What a loudspeaker's terminals look like to a line.
//!
//! Four descriptions: a resistance; a measured table of magnitude and phase; the lumped moving-coil circuit of Thiele
//! and Small, Z = Re + j w Le + Res / (1 + j Qms (f/fs - fs/f)) with Res = Re Qms/Qes (Small, "Direct-Radiator
//! Loudspeaker System Analysis", JAES 20 (1972), impedance of the driver in free air or in a large enclosure); and
//! series or parallel groups of any of these. A dual-coil driver is the moving-coil circuit with its two coils wired
//! in series, in parallel, or one of them left open.
//! Left out: the second peak of vented boxes (use a table), semi-inductance of the coil, level dependence.
//! Checked against: ngspice with the same circuit in `checks/test_network_ngspice.py`.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use crate::error::InputError;

/// One row of a measured impedance table.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ImpedancePoint {
    /// Frequency in Hz, above zero.
    pub frequency_hz: f64,
    /// Magnitude in ohm, above zero.
    pub magnitude_ohm: f64,
    /// Phase in degrees, within -90..=90 (a loudspeaker takes power).
    #[serde(default)]
    pub phase_deg: f64,
}

/// How the two coils of a dual-coil driver are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CoilWiring {
    /// One coil after the other: twice the resistance of a coil.
    Series,
    /// Coils in parallel: half the resistance of a coil.
    Parallel,
    /// The second coil left unconnected: half the motor.
    OneCoil,
}

/// The electrical load a loudspeaker makes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Loudspeaker {
    /// A pure resistance at all frequencies, DC included.
    Resistance {
        /// Resistance in ohm, above zero.
        resistance_ohm: f64,
    },
    /// A measured table, interpolated over log frequency (log magnitude, linear phase), ends held.
    Table {
        /// Rows, frequency rising.
        points: Vec<ImpedancePoint>,
        /// Resistance at DC in ohm, above zero.
        dc_resistance_ohm: f64,
    },
    /// The moving-coil circuit.
    ThieleSmall {
        /// Coil resistance in ohm, above zero.
        re_ohm: f64,
        /// Coil inductance in H, zero or more.
        le_h: f64,
        /// Resonance in Hz, above zero.
        fs_hz: f64,
        /// Mechanical Q, above zero.
        qms: f64,
        /// Electrical Q, above zero.
        qes: f64,
    },
    /// A driver with two like coils on one former. Coils wound together couple fully: in series the inductance is
    /// four times, in parallel once that of a coil.
    DualCoil {
        /// Resistance of one coil in ohm, above zero.
        coil_re_ohm: f64,
        /// Inductance of one coil alone in H, zero or more.
        coil_le_h: f64,
        /// Resonance in Hz, above zero.
        fs_hz: f64,
        /// Mechanical Q, above zero.
        qms: f64,
        /// Electrical Q with both coils driven (the same in series and in parallel), above zero.
        qes: f64,
        /// How the coils are joined.
        wiring: CoilWiring,
    },
    /// Loudspeakers one after the other.
    Series(Vec<Loudspeaker>),
    /// Loudspeakers in parallel, such as a back-to-back pair.
    Parallel(Vec<Loudspeaker>),
}

impl Loudspeaker {
    /// A pure resistance.
    #[must_use]
    pub fn resistance(resistance_ohm: f64) -> Self {
        Self::Resistance { resistance_ohm }
    }

    /// Checks every value; `place` names the loudspeaker in the error.
    ///
    /// # Errors
    /// The first value outside its range, an empty table or group, or a table whose frequencies do not rise.
    pub fn check(&self, place: &str) -> Result<(), InputError> {
        match self {
            Self::Resistance { resistance_ohm } => {
                InputError::check_positive(place, "resistance", "ohm", *resistance_ohm)
            }
            Self::Table { points, dc_resistance_ohm } => {
                InputError::check_positive(place, "DC resistance", "ohm", *dc_resistance_ohm)?;
                check_table(place, points)
            }
            Self::ThieleSmall { re_ohm, le_h, fs_hz, qms, qes } => {
                check_motor(place, *re_ohm, *le_h, *fs_hz, *qms, *qes)
            }
            Self::DualCoil { coil_re_ohm, coil_le_h, fs_hz, qms, qes, .. } => {
                check_motor(place, *coil_re_ohm, *coil_le_h, *fs_hz, *qms, *qes)
            }
            Self::Series(members) | Self::Parallel(members) => {
                if members.is_empty() {
                    return Err(InputError::Empty {
                        place: place.to_owned(),
                        quantity: "group of loudspeakers",
                    });
                }
                members.iter().enumerate().try_for_each(|(i, member)| {
                    member.check(&format!("{place}, loudspeaker {} of the group", i + 1))
                })
            }
        }
    }

    /// Impedance in ohm at `frequency_hz`; zero hertz is DC. Values must have passed [`Loudspeaker::check`].
    #[must_use]
    pub fn impedance_ohm(&self, frequency_hz: f64) -> Complex64 {
        match self {
            Self::Resistance { resistance_ohm } => Complex64::from(*resistance_ohm),
            Self::Table { points, dc_resistance_ohm } => {
                if frequency_hz > 0.0 {
                    interpolate(points, frequency_hz)
                } else {
                    Complex64::from(*dc_resistance_ohm)
                }
            }
            Self::ThieleSmall { re_ohm, le_h, fs_hz, qms, qes } => {
                motor_impedance(*re_ohm, *le_h, *fs_hz, *qms, *qes, frequency_hz)
            }
            Self::DualCoil { coil_re_ohm, coil_le_h, fs_hz, qms, qes, wiring } => {
                let (re, le, qes) = match wiring {
                    CoilWiring::Series => (2.0 * coil_re_ohm, 4.0 * coil_le_h, *qes),
                    CoilWiring::Parallel => (0.5 * coil_re_ohm, *coil_le_h, *qes),
                    // Half the motor strength squared over half the damping resistance: Qes doubles.
                    CoilWiring::OneCoil => (*coil_re_ohm, *coil_le_h, 2.0 * qes),
                };
                motor_impedance(re, le, *fs_hz, *qms, qes, frequency_hz)
            }
            Self::Series(members) => members.iter().map(|member| member.impedance_ohm(frequency_hz)).sum(),
            Self::Parallel(members) => {
                members.iter().map(|member| member.impedance_ohm(frequency_hz).inv()).sum::<Complex64>().inv()
            }
        }
    }

    /// The frequency of the lowest |Z| from 20 Hz to 20 kHz and that |Z|, searched on a 48-per-octave grid.
    #[must_use]
    pub fn minimum_impedance(&self) -> (f64, f64) {
        let mut best = (20.0, f64::INFINITY);
        for step in 0..=(48 * 10) {
            let f = 20.0 * 1000f64.powf(f64::from(step) / f64::from(48 * 10));
            let z = self.impedance_ohm(f).norm();
            if z < best.1 {
                best = (f, z);
            }
        }
        best
    }
}

fn check_table(place: &str, points: &[ImpedancePoint]) -> Result<(), InputError> {
    if points.is_empty() {
        return Err(InputError::Empty { place: place.to_owned(), quantity: "impedance table" });
    }
    let mut previous: Option<f64> = None;
    for point in points {
        InputError::check_positive(place, "impedance table frequency", "Hz", point.frequency_hz)?;
        InputError::check_positive(place, "impedance table magnitude", "ohm", point.magnitude_ohm)?;
        InputError::check_range(place, "impedance table phase", "degrees", point.phase_deg, -90.0, 90.0)?;
        if let Some(previous) = previous
            && point.frequency_hz <= previous
        {
            return Err(InputError::NotRising {
                place: place.to_owned(),
                quantity: "impedance table frequency",
                unit: "Hz",
                previous,
                next: point.frequency_hz,
            });
        }
        previous = Some(point.frequency_hz);
    }
    Ok(())
}

fn check_motor(place: &str, re: f64, le: f64, fs: f64, qms: f64, qes: f64) -> Result<(), InputError> {
    InputError::check_positive(place, "coil resistance Re", "ohm", re)?;
    InputError::check_not_negative(place, "coil inductance Le", "H", le)?;
    InputError::check_positive(place, "resonance fs", "Hz", fs)?;
    InputError::check_positive(place, "mechanical Q Qms", "", qms)?;
    InputError::check_positive(place, "electrical Q Qes", "", qes)
}

fn motor_impedance(re: f64, le: f64, fs: f64, qms: f64, qes: f64, frequency_hz: f64) -> Complex64 {
    let coil = Complex64::new(re, std::f64::consts::TAU * frequency_hz * le);
    if frequency_hz <= 0.0 {
        return coil; // the motional branch is a mass that does not move at DC: an inductor, shorted
    }
    let res = re * qms / qes;
    coil + res / Complex64::new(1.0, qms * (frequency_hz / fs - fs / frequency_hz))
}

fn interpolate(points: &[ImpedancePoint], frequency_hz: f64) -> Complex64 {
    let above = points.partition_point(|point| point.frequency_hz < frequency_hz);
    let polar = |magnitude: f64, phase_deg: f64| Complex64::from_polar(magnitude, phase_deg.to_radians());
    match (above.checked_sub(1).and_then(|below| points.get(below)), points.get(above)) {
        (Some(low), Some(high)) => {
            let t = (frequency_hz / low.frequency_hz).ln() / (high.frequency_hz / low.frequency_hz).ln();
            let magnitude = low.magnitude_ohm * (high.magnitude_ohm / low.magnitude_ohm).powf(t);
            polar(magnitude, low.phase_deg + t * (high.phase_deg - low.phase_deg))
        }
        (Some(edge), None) | (None, Some(edge)) => polar(edge.magnitude_ohm, edge.phase_deg),
        (None, None) => Complex64::new(f64::MAX, 0.0), // an empty table does not pass `check`
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WOOFER: Loudspeaker =
        Loudspeaker::ThieleSmall { re_ohm: 6.0, le_h: 0.5e-3, fs_hz: 60.0, qms: 4.0, qes: 0.5 };

    #[test]
    fn peak_at_resonance_is_re_plus_res() {
        // Small 1972: |Z| at fs = Re + Re Qms/Qes.
        let z = WOOFER.impedance_ohm(60.0);
        assert!((z.re - 54.0).abs() < 1e-12);
        assert_eq!(WOOFER.impedance_ohm(0.0), Complex64::new(6.0, 0.0));
    }

    #[test]
    fn table_is_held_at_its_ends_and_exact_at_its_rows() {
        let table = Loudspeaker::Table {
            points: vec![
                ImpedancePoint { frequency_hz: 100.0, magnitude_ohm: 8.0, phase_deg: 30.0 },
                ImpedancePoint { frequency_hz: 1000.0, magnitude_ohm: 4.0, phase_deg: -30.0 },
            ],
            dc_resistance_ohm: 3.4,
        };
        assert!((table.impedance_ohm(20.0).norm() - 8.0).abs() < 1e-12);
        assert!((table.impedance_ohm(1000.0).norm() - 4.0).abs() < 1e-12);
        let mid = table.impedance_ohm((1e5f64).sqrt());
        assert!((mid.norm() - 32f64.sqrt()).abs() < 1e-12 && mid.arg().abs() < 1e-12);
        assert_eq!(table.impedance_ohm(0.0).re, 3.4);
    }

    #[test]
    fn coils_in_series_are_four_times_coils_in_parallel() {
        let coil = |wiring| Loudspeaker::DualCoil {
            coil_re_ohm: 4.0,
            coil_le_h: 1e-3,
            fs_hz: 30.0,
            qms: 5.0,
            qes: 0.4,
            wiring,
        };
        for f in [0.0, 20.0, 30.0, 100.0, 1000.0] {
            let ratio =
                coil(CoilWiring::Series).impedance_ohm(f) / coil(CoilWiring::Parallel).impedance_ohm(f);
            assert!((ratio - 4.0).norm() < 1e-12);
        }
        assert!((coil(CoilWiring::OneCoil).impedance_ohm(30.0).re - (4.0 + 4.0 * 5.0 / 0.8)).abs() < 1e-12);
    }

    #[test]
    fn groups_add_as_resistors_do() {
        let eight = || Loudspeaker::resistance(8.0);
        assert_eq!(Loudspeaker::Series(vec![eight(), eight()]).impedance_ohm(100.0).re, 16.0);
        assert_eq!(Loudspeaker::Parallel(vec![eight(), eight()]).impedance_ohm(100.0).re, 4.0);
    }

    #[test]
    fn the_lowest_impedance_of_a_driver_lies_above_resonance() {
        let (f, z) = WOOFER.minimum_impedance();
        assert!(f > 100.0 && z > 6.0 && z < 8.0, "{f} {z}");
    }

    #[test]
    fn bad_values_name_the_loudspeaker() {
        let bad = Loudspeaker::Parallel(vec![Loudspeaker::resistance(8.0), Loudspeaker::resistance(-1.0)]);
        assert_eq!(
            bad.check("loudspeaker L3").unwrap_err().to_string(),
            "loudspeaker L3, loudspeaker 2 of the group: resistance is -1 ohm; it must be above zero"
        );
    }
}
