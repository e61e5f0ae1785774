//! Now, as it is written down.

use time::format_description::well_known::Rfc3339;
use time::{Duration, OffsetDateTime};

/// Now, RFC 3339 in UTC, to the second.
pub fn now() -> String {
    written(OffsetDateTime::now_utc())
}

/// So many seconds from now.
pub fn from_now(seconds: u64) -> String {
    let later = Duration::seconds(i64::try_from(seconds).unwrap_or(i64::MAX));
    let now = OffsetDateTime::now_utc();
    written(now.checked_add(later).unwrap_or(now))
}

/// So many seconds ago.
pub fn ago(seconds: u64) -> String {
    let earlier = Duration::seconds(i64::try_from(seconds).unwrap_or(i64::MAX));
    let now = OffsetDateTime::now_utc();
    written(now.checked_sub(earlier).unwrap_or(now))
}

fn written(at: OffsetDateTime) -> String {
    let whole = at.replace_nanosecond(0).unwrap_or(at);
    // Years beyond 9999 have no such form; no clock shows one.
    whole.format(&Rfc3339).unwrap_or_default()
}

/// Whether a text is a date and time as RFC 3339 has it.
pub fn is_date(text: &str) -> bool {
    OffsetDateTime::parse(text, &Rfc3339).is_ok()
}
