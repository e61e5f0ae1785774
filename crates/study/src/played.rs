//! How loud the system is played: as it is set, in the evening, by night.

use loamline_model::Job;
use loamline_model::document::Brief;

/// When the system is played.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PlayedAt {
    /// As it is set: a party, by day.
    Party,
    /// Turned down so that people talk; the limits by day hold.
    Evening,
    /// Turned down as the brief says, under the limits by night.
    Night,
}

impl PlayedAt {
    /// Every one.
    pub const ALL: [Self; 3] = [Self::Party, Self::Evening, Self::Night];

    /// The word it is asked for by.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Party => "party",
            Self::Evening => "evening",
            Self::Night => "night",
        }
    }

    /// The one of a word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|p| p.word() == word)
    }

    /// How far the brief turns the system down then, dB; none where it says nothing of the kind.
    pub fn turned_down_db(self, brief: &Brief) -> Option<f64> {
        match self {
            Self::Party => Some(0.0),
            Self::Evening => brief.evening_turn_down_db,
            Self::Night => Some(brief.night_turn_down_db).filter(|db| *db > 0.0),
        }
    }
}

/// A way a job is played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Played {
    /// When.
    pub at: PlayedAt,
    /// How far it is turned down, dB.
    pub turned_down_db: f64,
}

/// Every way a job is played, the loudest first. A night with limits of its own is one, turned down or not.
pub fn played(job: &Job) -> Vec<Played> {
    let d = job.document();
    let night_counts = d.neighbours.values().any(|n| n.night_dba.is_some() || n.night_63hz_db.is_some());
    let one = |at: PlayedAt| {
        let by_night = (at == PlayedAt::Night && night_counts).then_some(0.0);
        let turned_down_db = at.turned_down_db(&d.brief).or(by_night)?;
        Some(Played { at, turned_down_db })
    };
    PlayedAt::ALL.into_iter().filter_map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    fn of(brief: &str, neighbour: &str) -> Vec<(PlayedAt, f64)> {
        let text = format!("format = 1\n[job]\nname = \"Times\"\n[brief]\n{brief}\n{neighbour}");
        let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap();
        played(&job).into_iter().map(|p| (p.at, p.turned_down_db)).collect()
    }

    #[test]
    fn a_job_is_played_as_its_brief_says() {
        assert_eq!(of("", ""), [(PlayedAt::Party, 0.0)]);
        let both = of("evening_turn_down = \"6 dB\"\nnight_turn_down = \"12 dB\"", "");
        assert_eq!(both, [(PlayedAt::Party, 0.0), (PlayedAt::Evening, 6.0), (PlayedAt::Night, 12.0)]);
        let flat = "[neighbours.flat]\npoints = [[3, 7]]\nday = \"60 dBA\"\nnight = \"50 dBA\"\n";
        assert_eq!(of("", flat), [(PlayedAt::Party, 0.0), (PlayedAt::Night, 0.0)]);
        for at in PlayedAt::ALL {
            assert_eq!(PlayedAt::named(at.word()), Some(at));
        }
        assert_eq!(PlayedAt::named("noon"), None);
    }
}
