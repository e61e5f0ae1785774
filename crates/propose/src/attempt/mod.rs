//! One design: chosen, settled, built, held against the brief; and again, narrower, where it missed.
//!
//! `machine` says what follows what; each move has a file.

mod judge;
mod machine;
mod move_build;
mod move_choose;
mod move_settle;
mod outcome;

pub(crate) use outcome::{Made, Outcome, Start, Wish};

use crate::api::Phase;
use crate::choose::Fixed;
use crate::error::BriefProblem;
use crate::make::Maker;
use crate::measure::Missed;
use crate::reporter::Reporter;
use crate::types::{Choice, Gains, LevelBand, Pose, Subwoofers};
use loamline_design::Effort;
use machine::{Budget, Event, State};

/// Times one choice is settled and built before another is made.
const SETTLINGS: usize = 4;

/// A design being made.
struct Attempt<'m, 'j> {
    maker: &'m Maker<'j>,
    wish: &'m Wish<'m>,
    reporter: &'m Reporter<'m>,
    budget: Budget,
    /// The band designed for: narrower where a design missed.
    band: LevelBand,
    subs: Subwoofers,
    fixed: Fixed,
    /// Bass designed for beyond what is asked, dB, where a design was short of it.
    extra_bass_db: f64,
    gains: Option<Gains>,
    effort: Effort,
    /// Whether nothing was chosen yet.
    first: bool,
    /// Whether a design was built from the present choice.
    built: bool,
    /// What is being made.
    choice: Option<Choice>,
    poses: Vec<Pose>,
    /// Energy at every point of the fine grid over its target, as settled.
    settled: Vec<f64>,
    missed: Option<Missed>,
    made: Option<Made>,
    /// The design that came nearest to the brief.
    nearest: Option<Made>,
}

impl Maker<'_> {
    /// A design as wished.
    pub fn attempt(&self, wish: &Wish<'_>, reporter: &Reporter<'_>) -> Result<Outcome, BriefProblem> {
        let mut band = self.band_of(wish.part, wish.likeness, wish.effort.seed)?;
        if let Some(missed) = wish.missed {
            judge::narrow(self, &mut band, missed);
        }
        let mut attempt = Attempt {
            maker: self,
            wish,
            reporter,
            budget: Budget::new(wish.attempts, SETTLINGS, wish.always),
            band,
            subs: self.subs.clone(),
            fixed: self.fixed.clone(),
            extra_bass_db: 0.0,
            gains: wish.gains.clone(),
            effort: wish.effort,
            first: true,
            built: false,
            choice: None,
            poses: Vec::new(),
            settled: Vec::new(),
            missed: None,
            made: None,
            nearest: None,
        };
        let mut state = State::Choosing;
        loop {
            let event = match state {
                State::Choosing => attempt.choose()?,
                State::Settling => attempt.settle()?,
                State::Building => attempt.build()?,
                State::Met | State::GivenUp => return attempt.over(),
            };
            state = attempt.budget.step(state, event);
        }
    }
}

impl Attempt<'_, '_> {
    fn tell(&self, phase: Phase) {
        let kind = self.wish.kind;
        self.reporter.tell(|t| {
            t.phase = phase;
            t.option = Some(kind);
        });
    }

    /// What came of it.
    fn over(self) -> Result<Outcome, BriefProblem> {
        if let Some(made) = self.made {
            return Ok(Outcome::Met(Box::new(made)));
        }
        let choice = self.choice.ok_or(BriefProblem::NothingTried)?;
        let nearest = self.nearest.map(Box::new);
        Ok(Outcome::Unmet { choice: Box::new(choice), missed: self.missed, nearest })
    }

    /// Whether it is the last choice that may be made.
    fn is_last(&self) -> bool {
        self.budget.choices == 0
    }

    /// It ends here when told to stop, or when the time is up and there is a design.
    fn ends(&self) -> bool {
        self.reporter.stopped() || (self.reporter.time_is_up() && self.nearest.is_some())
    }
}

/// What a move tells the machine.
type Moved = Result<Event, BriefProblem>;
