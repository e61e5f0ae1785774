//! Spellings, messages and the way back, for every kind of quantity.

use super::{Quantity, QuantityProblem, Units, read_conductor, read_gauge};
use loamline_terms::ConductorSize;
use proptest::prelude::*;

#[track_caller]
fn reads(kind: Quantity, text: &str, expected: f64) {
    let value = kind.parse(text).unwrap_or_else(|error| panic!("{error}"));
    assert!(
        (value - expected).abs() <= 1e-9 * expected.abs().max(1e-12),
        "{text}: {value}, expected {expected}"
    );
}

#[track_caller]
fn refuses(kind: Quantity, text: &str, message: &str) {
    assert_eq!(kind.parse(text).unwrap_err().to_string(), message);
}

// Conversion factors: NIST SP 811 (2008) Appendix B, exact definitions.
#[test]
fn lengths() {
    for (text, metres) in [
        ("12 ft 6 in", 3.81),
        ("12ft6in", 3.81),
        ("12' 6\"", 3.81),
        ("7'6\"", 2.286),
        ("7'-6\"", 2.286),
        ("7\u{2032}6\u{2033}", 2.286),
        ("7' 6''", 2.286),
        ("18in", 0.4572),
        ("6 1/2 in", 0.1651),
        ("1/2 in", 0.0127),
        ("6\u{bd}\"", 0.1651),
        ("12 ft 6 1/2 in", 3.8227),
        ("-2 ft 6 in", -0.762),
        ("3.8 m", 3.8),
        ("3.8", 3.8),
        (".5", 0.5),
        ("450 mm", 0.45),
        ("45cm", 0.45),
        ("1 m 20 cm", 1.2),
        ("2 km", 2000.0),
        ("10 yd", 9.144),
        ("12 FT 6 IN", 3.81),
        ("3.8\u{a0}m", 3.8),
        ("1e-3", 0.001),
        ("+4 m", 4.0),
    ] {
        reads(Quantity::Length, text, metres);
    }
}

#[test]
fn other_kinds() {
    use Quantity as Q;
    for (kind, text, expected) in [
        (Q::Temperature, "72 F", 22.222_222_222_222_22),
        (Q::Temperature, "68\u{b0}F", 20.0),
        (Q::Temperature, "20 C", 20.0),
        (Q::Temperature, "20\u{b0}C", 20.0),
        (Q::Temperature, "20", 20.0),
        (Q::Temperature, "-5 degC", -5.0),
        (Q::Temperature, "293.15 K", 20.0),
        (Q::Voltage, "70.7 V", 70.7),
        (Q::Voltage, "70.7v", 70.7),
        (Q::Voltage, "500 mV", 0.5),
        // dBV is re 1 V, dBu re 1 mW in 600 ohm, sqrt(0.6) V (IEC 60268-2 names both).
        (Q::SignalVoltage, "0.316 V", 0.316),
        (Q::SignalVoltage, "775 mV", 0.775),
        (Q::SignalVoltage, "-10 dBV", 0.1_f64.sqrt()),
        (Q::SignalVoltage, "0 dBu", 0.6_f64.sqrt()),
        (Q::SignalVoltage, "+20 dBu", 60.0_f64.sqrt()),
        (Q::SignalVoltage, "-60 dbv", 0.001),
        (Q::Power, "30 W", 30.0),
        (Q::Power, "1.5 kW", 1500.0),
        (Q::Power, "7.5", 7.5),
        (Q::Impedance, "8 ohm", 8.0),
        (Q::Impedance, "8\u{3a9}", 8.0),
        (Q::Impedance, "2 kohm", 2000.0),
        (Q::Impedance, "2k", 2000.0),
        (Q::Impedance, "2 K\u{3a9}", 2000.0),
        (Q::Frequency, "1.2 kHz", 1200.0),
        (Q::Frequency, "250Hz", 250.0),
        (Q::Frequency, "250 HZ", 250.0),
        (Q::Frequency, "1k", 1000.0),
        (Q::Level, "85 dBA", 85.0),
        (Q::Level, "85 dB(A)", 85.0),
        (Q::Level, "80 dB", 80.0),
        (Q::Level, "80 db", 80.0),
        (Q::Level, "-6", -6.0),
        (Q::Angle, "15 deg", 15.0),
        (Q::Angle, "15\u{b0}", 15.0),
        (Q::Angle, "3.141592653589793 rad", 180.0),
        (Q::Duration, "4 h", 14_400.0),
        (Q::Duration, "1 h 30 min", 5400.0),
        (Q::Duration, "250 ms", 0.25),
        (Q::Fraction, "30 %", 0.3),
        (Q::Fraction, "0.3", 0.3),
        (Q::Percent, "70 %", 70.0),
        (Q::Percent, "70", 70.0),
        (Q::AirPressure, "101.3 kPa", 101_300.0),
        (Q::AirPressure, "101.3", 101_300.0),
        (Q::AirPressure, "101325", 101_325.0),
        (Q::AirPressure, "1013 hPa", 101_300.0),
        (Q::ConductorArea, "2.5 mm2", 2.5),
        (Q::ConductorArea, "2.5 mm\u{b2}", 2.5),
        (Q::ConductorArea, "2.5mm^2", 2.5),
        (Q::ConductorArea, "2.5", 2.5),
        (Q::ConductorArea, "2.5e-6", 2.5),
        (Q::ConductorArea, "2.5e-6 m2", 2.5),
        (Q::InductancePerLength, "0.65 uH/m", 0.65e-6),
        (Q::InductancePerLength, "0.65 \u{b5}H/m", 0.65e-6),
        (Q::CapacitancePerLength, "60 pF/m", 60e-12),
        (Q::ResistancePerLength, "8.286 ohm/km", 8.286e-3),
        (Q::ResistancePerLength, "2.525 ohm/1000ft", 2.525e-3 / 0.3048),
        (Q::Inductance, "0.4 mH", 4e-4),
        (Q::Capacitance, "100 nF", 1e-7),
        (Q::FlowResistivity, "200 kPa s/m2", 200.0),
        (Q::FlowResistivity, "200 kPa\u{b7}s/m\u{b2}", 200.0),
        (Q::FlowResistivity, "200000 Pa s/m2", 200.0),
        (Q::Area, "100 sq ft", 9.290_304),
        (Q::Area, "25 m2", 25.0),
        (Q::Volume, "1 cu yd", 0.764_554_857_984),
        (Q::Volume, "50 L", 0.05),
        (Q::Mass, "26 lb", 11.793_401_62),
        (Q::Mass, "1 lb 8 oz", 0.680_388_555),
        (Q::Speed, "36 km/h", 10.0),
        (Q::Current, "20 mA", 0.02),
        (Q::Money, "12.50", 12.5),
        (Q::Number, "4", 4.0),
    ] {
        reads(kind, text, expected);
    }
}

// ASTM B258: diameters 2.053 mm (12 AWG), 1.628 mm (14 AWG), 11.684 mm (4/0).
#[test]
fn wire_sizes() {
    for (text, gauge) in
        [("14 AWG", 14), ("14awg", 14), ("AWG 14", 14), ("#14", 14), ("14 ga", 14), ("4/0 AWG", -3)]
    {
        assert_eq!(read_conductor(text), Ok(ConductorSize::Awg(gauge)), "{text}");
    }
    assert_eq!(read_conductor("2.5 mm2"), Ok(ConductorSize::AreaMm2(2.5)));
    assert_eq!(read_conductor("2.5"), Ok(ConductorSize::AreaMm2(2.5)));
    assert_eq!(read_gauge("14"), Ok(14));
    assert_eq!(read_gauge("12 AWG"), Ok(12));
    for (gauge, diameter_mm) in [(12, 2.053), (14, 1.628), (-3, 11.684)] {
        let area = ConductorSize::Awg(gauge).area_mm2();
        let diameter = (area * 4.0 / std::f64::consts::PI).sqrt();
        assert!((diameter - diameter_mm).abs() < 6e-4, "{gauge}: {diameter}");
    }
    reads(Quantity::ConductorArea, "14 AWG", ConductorSize::Awg(14).area_mm2());
    assert_eq!(
        read_conductor("14.5 AWG").unwrap_err().to_string(),
        "\"14.5 AWG\" is not a wire gauge; AWG runs from 4/0 (thick) to 40 (thin) in whole numbers, e.g. 14 AWG"
    );
    assert!(read_conductor("99 AWG").is_err());
    assert!(read_conductor("5/0 AWG").is_err());
    assert!(read_conductor("-2.5 mm2").is_err());
    assert!(read_conductor("0").is_err());
    assert!(read_gauge("2.5 mm2").is_err());
}

#[test]
fn messages_say_what_to_type() {
    refuses(Quantity::Length, "3 kg", "\"3 kg\" is a mass; a length is wanted, e.g. 3.8 m or 12 ft 6 in");
    refuses(
        Quantity::Length,
        "3 metrs",
        "\"3 metrs\" has the unknown unit \"metrs\"; did you mean \"metre\"? A length is wanted, e.g. 3.8 m or 12 ft 6 in",
    );
    refuses(
        Quantity::Angle,
        "3 furlongs",
        "\"3 furlongs\" has the unknown unit \"furlongs\"; an angle is wanted, e.g. 15 deg; units understood: deg, rad",
    );
    refuses(Quantity::Power, "", "nothing was given; a power is wanted, e.g. 30 W");
    refuses(
        Quantity::Power,
        "lots",
        "\"lots\" has no number where one is expected; a power is wanted, e.g. 30 W",
    );
    refuses(
        Quantity::Power,
        "5 W 3 W",
        "\"5 W 3 W\" has parts that do not make one value; a power is wanted, e.g. 30 W",
    );
    refuses(
        Quantity::Length,
        "6 in 2 ft",
        "\"6 in 2 ft\" has parts that do not make one value; a length is wanted, e.g. 3.8 m or 12 ft 6 in",
    );
    refuses(Quantity::Power, "30 mw", "\"30 mw\": \"mw\" could mean mW or MW; upper and lower case decide");
    refuses(Quantity::Power, "1e400 W", "\"1e400 W\" is not a finite number; a power is wanted, e.g. 30 W");
    refuses(
        Quantity::Length,
        "3,8 m",
        "\"3,8 m\" has a comma in the number; write decimals with a point: 3.8 m",
    );
    refuses(
        Quantity::SignalVoltage,
        "4 dB",
        "\"4 dB\" is a level; a signal voltage is wanted, e.g. 0.316 V or -10 dBV or +4 dBu",
    );
    refuses(
        Quantity::Level,
        "4 dBu",
        "\"4 dBu\" is a signal voltage; a level is wanted, e.g. 85 dB or 85 dBA",
    );
    refuses(Quantity::Number, "4 m", "\"4 m\" is a length; a plain number is wanted, e.g. 4");
    refuses(
        Quantity::Money,
        "4 shillings",
        "\"4 shillings\" has the unit \"shillings\"; an amount of money is wanted, without a unit, e.g. 12.50",
    );
    for text in ["nan", "inf", "-", "12 -", "1/0 in", "--3", "3..4", "3 m 4", "\u{bd}\u{bd}", "5 W -"] {
        assert!(Quantity::Length.parse(text).is_err(), "{text}");
    }
    assert_eq!(
        Quantity::Length.parse("8 ohm").unwrap_err().problem,
        QuantityProblem::OtherKind { unit: "ohm".to_owned(), found: Quantity::Impedance }
    );
    assert!(Quantity::Length.of_number(f64::NAN).is_err());
    assert!(Quantity::Length.parse("14 AWG").unwrap_err().to_string().contains("conductor cross-section"));
}

#[test]
fn examples_in_messages_are_understood() {
    for kind in Quantity::ALL {
        for example in kind.example().split(" or ") {
            assert!(kind.parse(example).is_ok(), "{}: {example}", kind.name());
        }
        if !kind.symbol().is_empty() {
            reads(kind, &format!("300 {}", kind.symbol()), 300.0);
        }
        for spelling in kind.spellings() {
            assert!(kind.parse(&format!("2 {spelling}")).is_ok(), "{}: {spelling}", kind.name());
        }
    }
}

#[test]
fn writes_both_systems() {
    let (metric, us) = (Units::Metric, Units::Us);
    assert_eq!(metric.length(3.81), "3.81 m");
    assert_eq!(us.length(3.81), "12 ft 6 in");
    assert_eq!(us.length(3.657_6), "12 ft");
    assert_eq!(us.length(0.1651), "6 1/2 in");
    assert_eq!(us.length(3.656), "12 ft", "rounds up into the next foot");
    assert_eq!(us.length(-0.762), "-2 ft 6 in");
    assert_eq!(us.length(0.0), "0 in");
    assert_eq!(us.length(0.0064), "1/4 in");
    assert_eq!(metric.length(-0.001), "0.00 m");
    assert_eq!(metric.run(38.2), "38.2 m");
    assert_eq!(us.run(38.2), "125 ft");
    // 15.37 m are 50.4 ft: 51 to cut, 50 left of as much; what is whole already stays so.
    assert_eq!(
        [us.cut(15.37), us.left(15.37), us.cut(15.24), us.left(15.24)],
        ["51 ft", "50 ft", "50 ft", "50 ft"]
    );
    let metres = [metric.cut(28.31), metric.left(28.39), metric.cut(28.3), metric.left(28.3)];
    assert_eq!(metres, ["28.4 m", "28.3 m", "28.3 m", "28.3 m"]);
    // The same as numbers: 51 ft are 15.5448 m, and 28.31 m are cut as 28.4 m.
    let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
    assert!(near(us.cut_m(15.37), 15.5448) && near(us.cut_m(15.24), 15.24));
    assert!(near(metric.cut_m(28.31), 28.4) && near(metric.cut_m(28.3), 28.3));
    assert_eq!(metric.dimension(0.165), "165 mm");
    assert_eq!(us.dimension(0.165_1), "6 1/2 in");
    assert_eq!(us.dimension(0.019_05), "3/4 in");
    assert_eq!(metric.area(25.0), "25.0 m2");
    assert_eq!(us.area(25.0), "269 sq ft");
    assert_eq!(us.temperature(20.0), "68.0 F");
    assert_eq!(us.mass(12.0), "26.5 lb");
    assert_eq!(metric.show(Quantity::Impedance, 1234.5), "1.234 kohm");
    assert_eq!(metric.show(Quantity::Impedance, 999.99), "1 kohm");
    assert_eq!(metric.show(Quantity::CapacitancePerLength, 6e-11), "60 pF/m");
    assert_eq!(metric.show(Quantity::Duration, 5400.0), "1 h 30 min");
    assert_eq!(metric.show(Quantity::AirPressure, 101_325.0), "101.325 kPa");
    assert_eq!(metric.show(Quantity::Power, 0.0), "0 W");
}

/// By definition a foot is 0.3048 m and an inch 0.0254 m (international agreement, 1959): 9.144 m are 30 ft, 1.27 m 50 in,
/// 0.4 m 15.75 in to a quarter inch, 9.290304 m2 100 ft2, and 1 ohm per foot is 1 / 0.3048 ohm per metre.
#[test]
fn sentences_are_told_in_the_units_of_their_reader() {
    use loamline_terms::{Measure, Sentence};
    let said = Sentence::from("cut ")
        + Measure::Length(9.144)
        + " from R1 and "
        + Measure::Length(1.27)
        + " from L1, "
        + Measure::Clearance(0.4)
        + " off, over "
        + Measure::Area(9.290_304)
        + ", "
        + Measure::OhmPerLength(0.01 / 0.3048)
        + ", "
        + Measure::Temperature(20.0);
    assert_eq!(
        Units::Us.tell(&said),
        "cut 30 ft from R1 and 4 ft 2 in from L1, 1 ft 3 3/4 in off, over 100 sq ft, 0.0100 ohm per foot, 68.0 F"
    );
    assert_eq!(Units::Metric.tell(&said), said.to_string());
    assert_eq!(
        said,
        "cut 9.1 m from R1 and 1.3 m from L1, 0.40 m off, over 9 m2, 0.0328 ohm per metre, 20.0 C"
    );
}

/// Once this took the square of its length: minutes for a megabyte.
#[test]
fn a_text_of_parts_without_end_is_refused_at_its_beginning() {
    let begun = std::time::Instant::now();
    for text in ["1 ft ".repeat(200_000), "1 ".repeat(400_000), "1-".repeat(400_000)] {
        let error = Quantity::Length.parse(&text).unwrap_err();
        assert!(!matches!(error.problem, QuantityProblem::NotFinite), "{:?}", error.problem);
    }
    assert!(begun.elapsed() < std::time::Duration::from_secs(10), "{:?}", begun.elapsed());
}

proptest! {
    #[test]
    fn never_panics(text in "\\PC{0,24}") {
        for kind in Quantity::ALL {
            let _ = kind.parse(&text);
        }
    }

    #[test]
    fn never_panics_on_near_misses(text in "[-0-9./ '\"a-zA-Z%^,\u{bd}\u{b5}]{0,12}") {
        for kind in Quantity::ALL {
            if let Ok(value) = kind.parse(&text) {
                prop_assert!(value.is_finite());
            }
        }
    }

    #[test]
    fn comes_back(value in -1e5..1e5f64, index in 0..Quantity::ALL.len(), us: bool) {
        let kind = Quantity::ALL[index];
        // Cross-sections and air pressures are positive, and below their limit a bare number means another unit; the
        // text always carries a unit, so this range exercises both.
        let units = if us { Units::Us } else { Units::Metric };
        let text = units.show(kind, value);
        let back = kind.parse(&text).map_err(|error| TestCaseError::fail(error.to_string()))?;
        // Tables round: half of the coarsest last digit shown of that kind.
        let rounding = match kind {
            Quantity::Length => 0.0064,
            Quantity::Area => 0.1,
            Quantity::Volume => 0.005,
            Quantity::Duration => 30.0,
            Quantity::Fraction => 0.0006,
            _ => 0.06,
        };
        prop_assert!((back - value).abs() <= rounding + 6e-4 * value.abs(), "{} -> {} -> {}", value, text, back);
    }

    #[test]
    fn small_values_come_back(exponent in -11.5..5.0f64, index in 0..Quantity::ALL.len()) {
        let kind = Quantity::ALL[index];
        let value = 10f64.powf(exponent);
        if matches!(kind, Quantity::Voltage | Quantity::Power | Quantity::Impedance | Quantity::Inductance
            | Quantity::Capacitance | Quantity::CapacitancePerLength | Quantity::Number) {
            let back = kind.parse(&Units::Metric.show(kind, value)).unwrap();
            prop_assert!((back / value - 1.0).abs() < 6e-4, "{} {}", value, back);
        }
    }

    #[test]
    fn feet_and_inches_are_within_an_eighth(length_m in -200.0..200.0f64) {
        let back = Quantity::Length.parse(&Units::Us.length(length_m)).unwrap();
        prop_assert!((back - length_m).abs() <= 0.0254 / 8.0 + 1e-9);
    }
}

/// The cases the web app's parser is held against too.
#[test]
fn lengths_are_read_as_the_app_reads_them() {
    let cases: serde_json::Value = serde_json::from_str(include_str!("lengths.json")).unwrap();
    let [read, refused] = ["read", "refused"].map(|key| cases[key].as_array().unwrap());
    assert!(read.len() > 20 && refused.len() > 10);
    for case in read {
        let (text, metres) = (case[0].as_str().unwrap(), case[1].as_f64().unwrap());
        let found = Quantity::Length.parse(text).unwrap_or_else(|e| panic!("{text}: {e}"));
        assert!((found - metres).abs() < 1e-9, "{text}: {found}");
    }
    for text in refused.iter().map(|t| t.as_str().unwrap()) {
        assert!(Quantity::Length.parse(text).is_err(), "{text}");
    }
}
