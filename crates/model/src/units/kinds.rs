//! The table of quantities: what each is called, which unit its numbers have, which spellings are understood.

use super::unit::{Unit, decibels, offset, prefixed, unit};

/// A kind of quantity. Numbers of a kind are always in its one unit, [`Quantity::symbol`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Quantity {
    /// Length, m.
    Length,
    /// Ground area, m2.
    Area,
    /// Volume, m3.
    Volume,
    /// Angle, degrees.
    Angle,
    /// Temperature, degrees Celsius.
    Temperature,
    /// Voltage, V.
    Voltage,
    /// Voltage of a signal between pieces of equipment, V RMS; decibels re 1 V (dBV) and re 0.7746 V (dBu) are understood.
    SignalVoltage,
    /// Current, A.
    Current,
    /// Power, W.
    Power,
    /// Resistance or impedance magnitude, ohm.
    Impedance,
    /// Frequency, Hz.
    Frequency,
    /// Sound level or level difference, dB; a weighting letter typed with it (dBA) is understood and left to the
    /// context.
    Level,
    /// Cross-section of a conductor, mm2. A bare number below 0.001 is taken as m2: no conductor is that thin in mm2,
    /// none that thick in m2.
    ConductorArea,
    /// Duration, s.
    Duration,
    /// Pressure, Pa. A bare number below 200 is taken as kPa: no air anywhere on the ground is below 200 Pa.
    AirPressure,
    /// Inductance, H.
    Inductance,
    /// Capacitance, F.
    Capacitance,
    /// Resistance of a cable per metre, ohm/m.
    ResistancePerLength,
    /// Inductance of a cable per metre, H/m.
    InductancePerLength,
    /// Capacitance of a cable per metre, F/m.
    CapacitancePerLength,
    /// Effective flow resistivity of the ground, kPa s/m2.
    FlowResistivity,
    /// Mass, kg.
    Mass,
    /// Speed, m/s.
    Speed,
    /// A share, 0 to 1: a bare number is the fraction itself, `30 %` is 0.3.
    Fraction,
    /// A percentage, 0 to 100: a bare number is per cent, `70 %` is 70.
    Percent,
    /// An amount of money, in the job's currency.
    Money,
    /// A number without a unit.
    Number,
}

/// What is known about a quantity.
pub(super) struct Kind {
    name: &'static str,
    with_article: &'static str,
    symbol: &'static str,
    example: &'static str,
    pub units: &'static [Unit],
    /// Several parts may add up, largest unit first: `12 ft 6 in`, `1 h 30 min`.
    pub compound: bool,
}

/// An inch, m.
pub(super) const IN_M: f64 = 0.0254;
/// A foot, m.
pub(super) const FT_M: f64 = 0.3048;

macro_rules! kind {
    ($static_name:ident, $name:literal, $article:literal, $symbol:literal, $example:literal, $compound:literal, $units:expr) => {
        static $static_name: Kind = Kind {
            name: $name,
            with_article: $article,
            symbol: $symbol,
            example: $example,
            units: $units,
            compound: $compound,
        };
    };
}

kind!(
    LENGTH,
    "length",
    "a length",
    "m",
    "3.8 m or 12 ft 6 in",
    true,
    &[
        unit(&["m", "metre", "metres", "meter", "meters"], 1.0),
        unit(&["mm", "millimetre", "millimetres", "millimeter", "millimeters"], 1e-3),
        unit(&["cm", "centimetre", "centimetres", "centimeter", "centimeters"], 1e-2),
        unit(&["km", "kilometre", "kilometres", "kilometer", "kilometers"], 1e3),
        unit(&["ft", "'", "foot", "feet"], FT_M),
        unit(&["in", "\"", "''", "inch", "inches"], IN_M),
        unit(&["yd", "yard", "yards"], 0.9144),
        unit(&["um"], 1e-6),
    ]
);
kind!(
    AREA,
    "area",
    "an area",
    "m2",
    "25 m2 or 270 sq ft",
    false,
    &[
        unit(&["m2", "m^2", "sq m", "sqm", "square metres", "square meters"], 1.0),
        unit(&["mm2", "mm^2", "sq mm", "sqmm"], 1e-6),
        unit(&["cm2", "cm^2", "sq cm"], 1e-4),
        unit(&["ft2", "ft^2", "sq ft", "sqft", "square feet"], FT_M * FT_M),
        unit(&["in2", "in^2", "sq in", "sqin", "square inches"], IN_M * IN_M),
        unit(&["yd2", "yd^2", "sq yd", "square yards"], 0.9144 * 0.9144),
        unit(&["ha", "hectare", "hectares"], 1e4),
        unit(&["acre", "acres"], 4_046.856_422_4),
    ]
);
kind!(
    VOLUME,
    "volume",
    "a volume",
    "m3",
    "0.4 m3 or 14 cu ft",
    false,
    &[
        unit(&["m3", "m^3", "cu m", "cubic metres", "cubic meters"], 1.0),
        unit(&["L", "l", "litre", "litres", "liter", "liters"], 1e-3),
        unit(&["ft3", "ft^3", "cu ft", "cuft", "cubic feet"], FT_M * FT_M * FT_M),
        unit(&["yd3", "yd^3", "cu yd", "cubic yards"], 0.9144 * 0.9144 * 0.9144),
        unit(&["gal", "gallon", "gallons"], 231.0 * IN_M * IN_M * IN_M),
    ]
);
kind!(
    ANGLE,
    "angle",
    "an angle",
    "deg",
    "15 deg",
    false,
    &[
        unit(&["deg", "degree", "degrees"], 1.0),
        unit(&["rad", "radian", "radians"], 180.0 / std::f64::consts::PI),
    ]
);
kind!(
    TEMPERATURE,
    "temperature",
    "a temperature",
    "C",
    "20 C or 68 F",
    false,
    &[
        unit(&["C", "degC", "deg C", "celsius"], 1.0),
        offset(&["F", "degF", "deg F", "fahrenheit"], 1.0 / 1.8, -32.0 / 1.8),
        offset(&["K", "kelvin"], 1.0, -273.15),
    ]
);
kind!(
    VOLTAGE,
    "voltage",
    "a voltage",
    "V",
    "70.7 V",
    false,
    &[prefixed(&["V", "volt", "volts", "Vrms", "V rms"], 1.0)]
);
kind!(
    SIGNAL_VOLTAGE,
    "signal voltage",
    "a signal voltage",
    "V",
    "0.316 V or -10 dBV or +4 dBu",
    false,
    &[
        prefixed(&["V", "volt", "volts", "Vrms", "V rms"], 1.0),
        decibels(&["dBV"], 1.0),
        // 1 mW in 600 ohm.
        decibels(&["dBu"], 0.774_596_669_241_483_4),
    ]
);
kind!(
    CURRENT,
    "current",
    "a current",
    "A",
    "2.5 A",
    false,
    &[prefixed(&["A", "amp", "amps", "ampere", "amperes"], 1.0)]
);
kind!(
    POWER,
    "power",
    "a power",
    "W",
    "30 W",
    false,
    &[prefixed(&["W", "watt", "watts"], 1.0), prefixed(&["VA"], 1.0)]
);
kind!(
    IMPEDANCE,
    "impedance",
    "an impedance",
    "ohm",
    "8 ohm or 1.2 kohm",
    false,
    &[prefixed(&["ohm", "ohms"], 1.0), unit(&["k"], 1e3)]
);
kind!(
    FREQUENCY,
    "frequency",
    "a frequency",
    "Hz",
    "250 Hz or 1.2 kHz",
    false,
    &[prefixed(&["Hz", "hertz"], 1.0), unit(&["k"], 1e3)]
);
kind!(
    LEVEL,
    "level",
    "a level",
    "dB",
    "85 dB or 85 dBA",
    false,
    &[unit(
        &[
            "dB", "dBA", "dB(A)", "dB A", "dBC", "dB(C)", "dB C", "dBZ", "dB(Z)", "dB Z", "dB SPL",
            "decibel", "decibels"
        ],
        1.0
    )]
);
kind!(
    CONDUCTOR_AREA,
    "conductor cross-section",
    "a conductor cross-section",
    "mm2",
    "2.5 mm2 or 14 AWG",
    false,
    &[
        unit(&["mm2", "mm^2", "sq mm", "sqmm", "square millimetres", "square millimeters"], 1.0),
        unit(&["m2", "m^2"], 1e6),
        unit(&["kcmil", "MCM"], 0.506_707_479_097_497_8),
    ]
);
kind!(
    DURATION,
    "time",
    "a time",
    "s",
    "4 h or 30 min",
    true,
    &[
        unit(&["s", "sec", "secs", "second", "seconds"], 1.0),
        unit(&["ms", "millisecond", "milliseconds"], 1e-3),
        unit(&["us", "microsecond", "microseconds"], 1e-6),
        unit(&["min", "mins", "minute", "minutes"], 60.0),
        unit(&["h", "hr", "hrs", "hour", "hours"], 3600.0),
        unit(&["d", "day", "days"], 86_400.0),
    ]
);
kind!(
    AIR_PRESSURE,
    "pressure",
    "a pressure",
    "Pa",
    "101.3 kPa",
    false,
    &[
        unit(&["kPa", "kilopascal", "kilopascals"], 1e3),
        unit(&["Pa", "pascal", "pascals"], 1.0),
        unit(&["hPa"], 1e2),
        unit(&["MPa"], 1e6),
        unit(&["mbar", "millibar", "millibars"], 1e2),
        unit(&["bar", "bars"], 1e5),
        unit(&["atm"], 101_325.0),
        unit(&["inHg", "in Hg"], 3_386.389),
        unit(&["mmHg", "mm Hg"], 133.322_4),
        unit(&["psi"], 6_894.757),
    ]
);
kind!(
    INDUCTANCE,
    "inductance",
    "an inductance",
    "H",
    "0.4 mH",
    false,
    &[prefixed(&["H", "henry", "henries", "henrys"], 1.0)]
);
kind!(
    CAPACITANCE,
    "capacitance",
    "a capacitance",
    "F",
    "100 nF",
    false,
    &[prefixed(&["F", "farad", "farads"], 1.0)]
);
kind!(
    RESISTANCE_PER_LENGTH,
    "resistance per length",
    "a resistance per length",
    "ohm/m",
    "8.3 ohm/km",
    false,
    &[
        prefixed(&["ohm/m", "ohms/m"], 1.0),
        unit(&["ohm/km", "ohms/km"], 1e-3),
        unit(&["ohm/kft", "ohm/1000ft", "ohms/kft"], 1e-3 / FT_M),
        prefixed(&["ohm/ft", "ohms/ft"], 1.0 / FT_M),
    ]
);
kind!(
    INDUCTANCE_PER_LENGTH,
    "inductance per length",
    "an inductance per length",
    "H/m",
    "0.65 uH/m",
    false,
    &[prefixed(&["H/m"], 1.0), prefixed(&["H/km"], 1e-3), prefixed(&["H/ft"], 1.0 / FT_M)]
);
kind!(
    CAPACITANCE_PER_LENGTH,
    "capacitance per length",
    "a capacitance per length",
    "F/m",
    "60 pF/m",
    false,
    &[prefixed(&["F/m"], 1.0), prefixed(&["F/km"], 1e-3), prefixed(&["F/ft"], 1.0 / FT_M)]
);
kind!(
    FLOW_RESISTIVITY,
    "flow resistivity",
    "a flow resistivity",
    "kPa s/m2",
    "200 kPa s/m2",
    false,
    &[
        unit(&["kPa s/m2", "kPa s/m^2", "kPas/m2", "kPa.s/m2", "kPa*s/m2", "kN s/m4", "cgs rayl/cm"], 1.0),
        unit(&["Pa s/m2", "Pa s/m^2", "Pas/m2", "Pa.s/m2", "Pa*s/m2", "N s/m4"], 1e-3),
        unit(&["MPa s/m2"], 1e3),
    ]
);
kind!(
    MASS,
    "mass",
    "a mass",
    "kg",
    "12 kg or 26 lb",
    true,
    &[
        unit(&["kg", "kilogram", "kilograms"], 1.0),
        unit(&["g", "gram", "grams"], 1e-3),
        unit(&["t", "tonne", "tonnes"], 1e3),
        unit(&["lb", "lbs", "pound", "pounds"], 0.453_592_37),
        unit(&["oz", "ounce", "ounces"], 0.453_592_37 / 16.0),
    ]
);
kind!(
    SPEED,
    "speed",
    "a speed",
    "m/s",
    "3 m/s or 7 mph",
    false,
    &[
        unit(&["m/s"], 1.0),
        unit(&["km/h", "kph"], 1.0 / 3.6),
        unit(&["ft/s"], FT_M),
        unit(&["mph"], 0.447_04),
    ]
);
kind!(
    FRACTION,
    "share",
    "a share",
    "",
    "0.3 or 30 %",
    false,
    &[unit(&["%", "percent", "per cent", "pct"], 1e-2)]
);
kind!(
    PERCENT,
    "percentage",
    "a percentage",
    "%",
    "70 %",
    false,
    &[unit(&["%", "percent", "per cent", "pct", "%RH", "% RH"], 1.0)]
);
kind!(MONEY, "amount of money", "an amount of money", "", "12.50", false, &[]);
kind!(NUMBER, "number", "a plain number", "", "4", false, &[]);

impl Quantity {
    /// All kinds, in the order of the documentation.
    pub const ALL: [Self; 27] = [
        Self::Length,
        Self::Area,
        Self::Volume,
        Self::Angle,
        Self::Temperature,
        Self::Voltage,
        Self::SignalVoltage,
        Self::Current,
        Self::Power,
        Self::Impedance,
        Self::Frequency,
        Self::Level,
        Self::ConductorArea,
        Self::Duration,
        Self::AirPressure,
        Self::Inductance,
        Self::Capacitance,
        Self::ResistancePerLength,
        Self::InductancePerLength,
        Self::CapacitancePerLength,
        Self::FlowResistivity,
        Self::Mass,
        Self::Speed,
        Self::Fraction,
        Self::Percent,
        Self::Money,
        Self::Number,
    ];

    pub(super) fn kind(self) -> &'static Kind {
        match self {
            Self::Length => &LENGTH,
            Self::Area => &AREA,
            Self::Volume => &VOLUME,
            Self::Angle => &ANGLE,
            Self::Temperature => &TEMPERATURE,
            Self::Voltage => &VOLTAGE,
            Self::SignalVoltage => &SIGNAL_VOLTAGE,
            Self::Current => &CURRENT,
            Self::Power => &POWER,
            Self::Impedance => &IMPEDANCE,
            Self::Frequency => &FREQUENCY,
            Self::Level => &LEVEL,
            Self::ConductorArea => &CONDUCTOR_AREA,
            Self::Duration => &DURATION,
            Self::AirPressure => &AIR_PRESSURE,
            Self::Inductance => &INDUCTANCE,
            Self::Capacitance => &CAPACITANCE,
            Self::ResistancePerLength => &RESISTANCE_PER_LENGTH,
            Self::InductancePerLength => &INDUCTANCE_PER_LENGTH,
            Self::CapacitancePerLength => &CAPACITANCE_PER_LENGTH,
            Self::FlowResistivity => &FLOW_RESISTIVITY,
            Self::Mass => &MASS,
            Self::Speed => &SPEED,
            Self::Fraction => &FRACTION,
            Self::Percent => &PERCENT,
            Self::Money => &MONEY,
            Self::Number => &NUMBER,
        }
    }

    /// What it is called: `length`, `conductor cross-section`.
    pub fn name(self) -> &'static str {
        self.kind().name
    }

    /// The name with its article, for sentences: `a length`, `an impedance`.
    pub fn with_article(self) -> &'static str {
        self.kind().with_article
    }

    /// The unit its numbers have: `m`, `C`, `kPa s/m2`; empty for plain numbers, shares and money.
    pub fn symbol(self) -> &'static str {
        self.kind().symbol
    }

    /// How one is typed: `3.8 m or 12 ft 6 in`.
    pub fn example(self) -> &'static str {
        self.kind().example
    }

    /// The usual spelling of each unit understood, without SI prefixes.
    pub fn spellings(self) -> Vec<&'static str> {
        self.kind().units.iter().filter_map(|unit| unit.names.first().copied()).collect()
    }
}
