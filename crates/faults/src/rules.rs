//! The numbers of the rules by which readings are weighed, ranked, judged and followed over the years, each from the one
//! place it stands at: for whoever applies the same rules to a [`Table`](crate::Table) or an
//! [`ExpectedReading`](crate::ExpectedReading) without this program.

pub use crate::drift::AHEAD_YEARS;
pub use crate::groups::{ALIKE, ALLOWED};
pub use crate::judge::{LEAKAGE_DOUBTFUL_MOHM, LEAKAGE_MOHM, LINE_DOUBTFUL, LINE_GOOD, TESTER_RANGE_OHM};
pub use crate::locate::{FAR_OFF, LISTED, PLACED, TAIL};
pub use crate::next::{LISTED as TESTS_LISTED, SAME_HZ, STEERS, WORTH};
pub use crate::normal::TWO_SIDED_95;
pub use crate::outcomes::{BINS, MARGIN, REACH};
pub use crate::weigh::{CONTRADICTION, LEAKS, LEAKS_BADLY, LEAKS_DOUBTFULLY, RANGE_EDGE, SEEN};
