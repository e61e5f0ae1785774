//! Hours of the day, from one time to another, past midnight as well.

use serde::{Serialize, Serializer};
use std::fmt;

const MINUTES_A_DAY: u16 = 24 * 60;

/// Hours of the day that come back every day: `22:00 to 07:00`, told by the clock they were written by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hours {
    from_min: u16,
    until_min: u16,
    /// Whether they were written as `10 pm to 7 am`.
    by_halves: bool,
}

impl Hours {
    /// Reads `22:00 to 07:00`, `22-7` or `10 pm to 7 am`. `None` when it is nothing of the kind, or when both times are the
    /// same.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let text = text.trim().to_lowercase();
        let (from, until) = text
            .split_once(" to ")
            .or_else(|| text.split_once(['-', '\u{2013}']))
            .map(|(a, b)| (a.trim(), b.trim()))?;
        let by_halves = from.ends_with('m') || until.ends_with('m');
        let hours = Self { from_min: minutes(from)?, until_min: minutes(until)?, by_halves };
        (hours.from_min != hours.until_min).then_some(hours)
    }

    /// The hours of the day that these are not.
    #[must_use]
    pub const fn others(self) -> Self {
        Self { from_min: self.until_min, until_min: self.from_min, by_halves: self.by_halves }
    }

    /// How long they are, minutes.
    #[must_use]
    pub const fn minutes(self) -> u16 {
        (self.until_min + MINUTES_A_DAY - self.from_min) % MINUTES_A_DAY
    }

    /// When they begin and end, each as `22:00`, or `10 pm` where they were written so.
    #[must_use]
    pub fn ends(self) -> (String, String) {
        let written = |min: u16| {
            if self.by_halves { of_a_half(min) } else { format!("{:02}:{:02}", min / 60, min % 60) }
        };
        (written(self.from_min), written(self.until_min))
    }
}

/// A time as `10 pm` or `6:05 am`: 12 am is midnight.
fn of_a_half(min: u16) -> String {
    let (hour, minute) = (min / 60, min % 60);
    let half = if hour < 12 { "am" } else { "pm" };
    let hour = if hour % 12 == 0 { 12 } else { hour % 12 };
    if minute == 0 { format!("{hour} {half}") } else { format!("{hour}:{minute:02} {half}") }
}

/// A time of day in minutes from midnight.
fn minutes(text: &str) -> Option<u16> {
    let (clock, half) = match (text.strip_suffix("am"), text.strip_suffix("pm")) {
        (Some(clock), _) => (clock.trim(), Some(0)),
        (_, Some(clock)) => (clock.trim(), Some(12)),
        _ => (text, None),
    };
    let (hour, minute) = clock.split_once([':', '.', 'h']).unwrap_or((clock, "0"));
    let digits = |t: &str| (1..=2).contains(&t.len()) && t.bytes().all(|b| b.is_ascii_digit());
    if !digits(hour) || !digits(minute) {
        return None;
    }
    let (hour, minute): (u16, u16) = (hour.parse().ok()?, minute.parse().ok()?);
    let hour = match half {
        Some(half) if (1..=12).contains(&hour) => hour % 12 + half,
        Some(_) => return None,
        None => hour,
    };
    let total = hour * 60 + minute;
    (minute < 60 && total <= MINUTES_A_DAY).then_some(total % MINUTES_A_DAY)
}

impl fmt::Display for Hours {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (from, until) = self.ends();
        write!(f, "{from} to {until}")
    }
}

impl Serialize for Hours {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_are_read_as_people_write_them() {
        // The two clocks side by side: 12 am is midnight, 12 pm is noon.
        for (text, shown) in [
            ("22:00 to 07:00", "22:00 to 07:00"),
            ("22-7", "22:00 to 07:00"),
            ("10 pm to 7 am", "10 pm to 7 am"),
            ("10:30pm to 6:05am", "10:30 pm to 6:05 am"),
            ("12 am to 12 pm", "12 am to 12 pm"),
            ("23.30 \u{2013} 24:00", "23:30 to 00:00"),
        ] {
            assert_eq!(Hours::read(text).map(|h| h.to_string()).as_deref(), Some(shown), "{text}");
        }
        assert_eq!(Hours::read("22:00 to 07:00").unwrap().minutes(), 9 * 60);
        assert_eq!(Hours::read("10 pm to 7 am").unwrap().minutes(), 9 * 60);
        assert_eq!(Hours::read("10 pm to 7 am").unwrap().others().to_string(), "7 am to 10 pm");
        assert_eq!(Hours::read("07:30 to 17:00").unwrap().minutes(), 9 * 60 + 30);
        assert_eq!(Hours::read("22:00 to 07:00").unwrap().others().to_string(), "07:00 to 22:00");
        for wrong in [
            "",
            "22:00",
            "22:00 to 22:00",
            "25:00 to 7",
            "22:70 to 7",
            "13 pm to 7 am",
            "late to early",
            "-3 to 5",
        ] {
            assert_eq!(Hours::read(wrong), None, "{wrong}");
        }
    }
}
