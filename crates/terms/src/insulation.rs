//! The one rule of insulation, for every page, paper and phone.
//!
//! IEC 60364-6, 6.4.3.3 and Table 6.1 (from memory): circuits up to 500 V show at least 1 megohm to earth, tested at 500 V
//! DC; where connected equipment would suffer or falsify the reading, at 250 V DC, and still 1 megohm. Loudspeakers and
//! their transformers stay on a garden line, so every line is tested at 250 V, those at extra-low voltage too, for which
//! the table asks half a megohm: a buried joint that lets that much through is on its way to letting more.

/// Voltage of the insulation tester, volts DC, at most.
pub const INSULATION_TEST_V: f64 = 250.0;

/// Resistance to earth that both conductors of a line, joined, have at least, megohm.
pub const INSULATION_LEAST_MOHM: f64 = 1.0;

/// What the limit rests on.
pub const INSULATION_SOURCE: &str = "IEC 60364-6, from memory";

/// What is seen to before an insulation tester is switched on, and after.
pub const INSULATION_CAUTION: &str = "Amplifier, sources and everything else electronic off the line; nobody at a joint \
    or loudspeaker; 250 V at most, never 500 V where electronics may be connected; discharge the line after the test.";
