//! Now, as it is written down.

use time::OffsetDateTime;
use time::format_description::well_known::Rfc3339;

/// Now, RFC 3339 in UTC, to the second.
pub fn now() -> String {
    let now = OffsetDateTime::now_utc();
    let whole = now.replace_nanosecond(0).unwrap_or(now);
    // Years beyond 9999 have no such form; no clock shows one.
    whole.format(&Rfc3339).unwrap_or_default()
}

/// Whether a text is a date and time as RFC 3339 has it.
pub fn is_date(text: &str) -> bool {
    OffsetDateTime::parse(text, &Rfc3339).is_ok()
}
