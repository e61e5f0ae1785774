//! What holds where a job is built: the sheet of paper that printers there hold, and the mains. A job says it once; what it leaves
//! out goes with its units.

use crate::reading::Choice as _;
use crate::units::Units;

choice! {
    /// A sheet of paper.
    Paper {
        /// ISO 216, 210 by 297 mm.
        A4 = "A4",
        /// ISO 216, 297 by 420 mm.
        A3 = "A3",
        /// ANSI A, 8 1/2 by 11 in.
        Letter = "Letter",
        /// ANSI B, 11 by 17 in.
        Tabloid = "Tabloid",
    }
}

impl Paper {
    /// The sheet printers hold where people read these units.
    pub const fn usual(units: Units) -> Self {
        match units {
            Units::Metric => Self::A4,
            Units::Us => Self::Letter,
        }
    }

    /// Width and height upright, millimetres.
    pub const fn size_mm(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::A3 => (297.0, 420.0),
            Self::Letter => (215.9, 279.4),
            Self::Tabloid => (279.4, 431.8),
        }
    }

    /// The sheet whose name this is, in any case.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().find(|(_, word, _)| word.eq_ignore_ascii_case(name)).map(|choice| choice.0)
    }

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::A3 => "A3",
            Self::Letter => "Letter",
            Self::Tabloid => "Tabloid",
        }
    }
}

/// The mains that something is on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mains {
    /// Voltage, V.
    pub voltage_v: f64,
    /// Rated current of one circuit, A.
    pub circuit_a: f64,
}

impl Mains {
    /// The mains where people read these units. Nominal voltages: 230 V (IEC 60038), 120 V (ANSI C84.1). Circuits of 16 A and
    /// 20 A: common practice, no source.
    pub const fn usual(units: Units) -> Self {
        match units {
            Units::Metric => Self { voltage_v: 230.0, circuit_a: 16.0 },
            Units::Us => Self { voltage_v: 120.0, circuit_a: 20.0 },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Mains, Paper};
    use crate::job::read_job;
    use crate::source::SourceFile;
    use crate::units::Units;

    fn read(about: &str, rack: &str) -> Result<crate::JobDocument, String> {
        let text =
            format!("format = 1\n[job]\nname = \"x\"\n{about}\n[racks.R1]\nposition = [0, 0]\n{rack}\n");
        read_job(&SourceFile::new("job.toml", text), &[])
            .map(|job| job.document().clone())
            .map_err(|report| report.to_string())
    }

    /// Paper, mains of the place and mains of its rack, volts and amperes.
    fn told(about: &str, rack: &str) -> (Paper, [f64; 4]) {
        let d = read(about, rack).unwrap();
        let (place, of_rack) = (d.mains(), d.mains_of(&d.racks["R1"]));
        let figures = [place.voltage_v, place.circuit_a, of_rack.voltage_v, of_rack.circuit_a];
        (d.paper(d.units()), figures)
    }

    #[test]
    fn what_a_job_does_not_say_goes_with_its_units() {
        assert_eq!(told("", ""), (Paper::A4, [230.0, 16.0, 230.0, 16.0]));
        assert_eq!(told("units = \"metric\"", ""), (Paper::A4, [230.0, 16.0, 230.0, 16.0]));
        assert_eq!(told("units = \"us\"", ""), (Paper::Letter, [120.0, 20.0, 120.0, 20.0]));
        // A file from before the job could say it has its mains at the rack.
        let old = ("units = \"us\"", "mains = \"230 V\"\ncircuit = \"10 A\"");
        assert_eq!(told(old.0, old.1), (Paper::Letter, [120.0, 20.0, 230.0, 10.0]));
    }

    #[test]
    fn what_a_job_says_comes_before_its_units_and_what_a_rack_says_before_the_job() {
        let about = "units = \"us\"\npaper = \"A3\"\nmains = \"100 V\"\ncircuit = \"15 A\"";
        assert_eq!(told(about, ""), (Paper::A3, [100.0, 15.0, 100.0, 15.0]));
        assert_eq!(told(about, "mains = \"208 V\""), (Paper::A3, [100.0, 15.0, 208.0, 15.0]));
        // Printed in other units than its own: the stated sheet stays, the usual one changes.
        assert_eq!(read(about, "").unwrap().paper(Units::Metric), Paper::A3);
        assert_eq!(read("units = \"us\"", "").unwrap().paper(Units::Metric), Paper::A4);
    }

    #[test]
    fn what_cannot_be_is_told_with_its_place() {
        for (about, parts) in [
            ("paper = \"A5\"", ["job.paper", "Tabloid"]),
            ("mains = \"12 kV\"", ["job.mains", "260"]),
            ("circuit = \"200 A\"", ["job.circuit", "125"]),
        ] {
            let why = read(about, "").unwrap_err();
            for part in parts {
                assert!(why.contains(part), "{part} in {why}");
            }
        }
    }

    /// Sizes: ISO 216 and ANSI/ASME Y14.1, from memory.
    #[test]
    fn sheets_go_by_their_names_in_any_case() {
        assert_eq!((Paper::named("a3"), Paper::named("LETTER")), (Some(Paper::A3), Some(Paper::Letter)));
        assert_eq!(Paper::named("A5"), None);
        for paper in [Paper::A4, Paper::A3, Paper::Letter, Paper::Tabloid] {
            assert_eq!(Paper::named(paper.name()), Some(paper));
        }
        let (width, height) = Paper::Letter.size_mm();
        assert!((width - 8.5 * 25.4).abs() < 1e-9 && (height - 11.0 * 25.4).abs() < 1e-9);
        assert_eq!(Mains::usual(Units::Us), Mains { voltage_v: 120.0, circuit_a: 20.0 });
    }
}
