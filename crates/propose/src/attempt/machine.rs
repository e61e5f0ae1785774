//! The order in which a design is made, apart from how: states, what can happen in them, and what follows.

/// What is done next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum State {
    /// Loudspeakers are chosen.
    Choosing,
    /// Those chosen are settled on the full field.
    Settling,
    /// Those settled are built and held against the brief.
    Building,
    /// Nothing: it meets the brief.
    Met,
    /// Nothing: it is as near as it came.
    GivenUp,
}

/// What came of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Event {
    /// Loudspeakers were chosen; `possible` when they meet everything as far as the choice sees.
    Chosen { possible: bool },
    /// They were settled.
    Settled,
    /// They were settled, and are too far from the brief to be built.
    Hopeless,
    /// The design meets the brief.
    Meets,
    /// It does not: `levels` are missed, which settling may mend; `bass`, which other subwoofers may; `far` from it, where
    /// only other loudspeakers can; `near` it, where once more may do.
    Misses { levels: bool, bass: bool, far: bool, near: bool },
    /// It is not worth going on: too dear, nothing to build, or told to stop.
    Ends,
}

/// Designs built from one choice beyond the usual number while they are near the brief.
const MORE: usize = 2;

/// What may still be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Budget {
    /// Choices.
    pub choices: usize,
    /// Designs built from one choice, and how many of them are left for the present one.
    pub builds_of_each: usize,
    pub builds: usize,
    /// How many more the present one gets for being near.
    more: usize,
    /// Whether the last choice is built however far it is.
    always: bool,
    /// Whether the present choice seemed possible.
    possible: bool,
    /// Whether a choice was made before.
    chosen: bool,
}

impl Budget {
    /// So many choices, each built so many times and a little oftener where it is near; `always` when there has to be a
    /// design.
    pub const fn new(choices: usize, builds_of_each: usize, always: bool) -> Self {
        Self { choices, builds_of_each, builds: 0, more: 0, always, possible: true, chosen: false }
    }

    /// Most designs that can be built from the beginning on.
    #[cfg(test)]
    const fn most_builds(&self) -> usize {
        self.choices * (self.builds_of_each + MORE) + self.builds + self.more
    }

    const fn next_choice(self) -> State {
        if self.possible && self.choices > 0 { State::Choosing } else { State::GivenUp }
    }

    /// What follows when something happened in a state; what has nothing to do with the state changes nothing.
    pub fn step(&mut self, state: State, event: Event) -> State {
        match (state, event) {
            (State::Choosing | State::Settling | State::Building, Event::Ends) => State::GivenUp,
            (State::Choosing, Event::Chosen { possible }) => {
                let again = self.chosen;
                self.choices = self.choices.saturating_sub(1);
                (self.builds, self.more) = (self.builds_of_each, MORE);
                (self.possible, self.chosen) = (possible, true);
                // What a narrower band makes impossible was as near as it gets before.
                if again && !possible { State::GivenUp } else { State::Settling }
            }
            (State::Settling, Event::Settled) if self.builds > 0 => State::Building,
            (State::Settling, Event::Settled) => self.next_choice(),
            (State::Settling, Event::Hopeless)
                if self.always && self.builds > 0 && self.next_choice() == State::GivenUp =>
            {
                State::Building
            }
            (State::Settling, Event::Hopeless) => self.next_choice(),
            (State::Building, Event::Meets) => State::Met,
            (State::Building, Event::Misses { levels, bass, far, near }) => {
                if near && self.builds == 1 && self.more > 0 {
                    self.more -= 1;
                } else {
                    self.builds = self.builds.saturating_sub(1);
                }
                // What a check found wrong with the lines stays wrong however the same loudspeakers are settled.
                let stuck = !levels && !bass;
                match (far || stuck || self.builds == 0, levels) {
                    (true, _) => self.next_choice(),
                    (false, true) => State::Settling,
                    (false, false) => State::Building,
                }
            }
            (state, _) => state,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_chance::Draws;

    /// Every event there is.
    fn events() -> Vec<Event> {
        let flags = [false, true];
        let misses = (0..16u8).map(|bits| {
            let bit = |k: u8| bits & (1 << k) != 0;
            Event::Misses { levels: bit(0), bass: bit(1), far: bit(2), near: bit(3) }
        });
        let chosen = flags.iter().map(|&possible| Event::Chosen { possible });
        misses.chain(chosen).chain([Event::Settled, Event::Hopeless, Event::Meets, Event::Ends]).collect()
    }

    /// Whether a state can bring forth an event.
    fn can(state: State, event: Event) -> bool {
        match state {
            State::Choosing => matches!(event, Event::Chosen { .. } | Event::Ends),
            State::Settling => matches!(event, Event::Settled | Event::Hopeless | Event::Ends),
            State::Building => matches!(event, Event::Meets | Event::Misses { .. } | Event::Ends),
            State::Met | State::GivenUp => false,
        }
    }

    #[test]
    fn no_sequence_of_events_leaves_the_budget_and_every_one_ends() {
        let all = events();
        for start in 0..4000u64 {
            let mut draws = Draws::new(start);
            let choices = 1 + (start % 5) as usize;
            let mut budget = Budget::new(choices, 1 + (start % 4) as usize, start % 2 == 0);
            let (most_builds, mut state) = (budget.most_builds(), State::Choosing);
            let (mut builds, mut chosen, mut steps) = (0, 0, 0);
            while !matches!(state, State::Met | State::GivenUp) {
                let fitting: Vec<Event> = all.iter().copied().filter(|e| can(state, *e)).collect();
                // Seldom a lucky end, so that the budget is what ends most.
                let event = fitting[draws.below(fitting.len())];
                let lucky = matches!(event, Event::Meets | Event::Ends);
                if lucky && draws.below(8) != 0 {
                    continue;
                }
                builds += usize::from(state == State::Building);
                chosen += usize::from(state == State::Choosing);
                state = budget.step(state, event);
                steps += 1;
                assert!(
                    builds <= most_builds && chosen <= choices,
                    "{start}: {builds} builds, {chosen} choices"
                );
                assert!(steps <= 4 * (most_builds + choices) + 4, "{start} does not end");
            }
        }
    }

    #[test]
    fn what_does_not_belong_to_a_state_changes_nothing() {
        for state in [State::Choosing, State::Settling, State::Building, State::Met, State::GivenUp] {
            for event in events().into_iter().filter(|e| !can(state, *e)) {
                let mut budget = Budget::new(2, 2, true);
                let before = budget;
                assert_eq!((budget.step(state, event), budget), (state, before), "{state:?} {event:?}");
            }
        }
    }

    #[test]
    fn the_last_choice_is_built_however_far_it_is_where_there_has_to_be_a_design() {
        for (always, then) in [(true, State::Building), (false, State::GivenUp)] {
            let mut budget = Budget::new(1, 3, always);
            let settling = budget.step(State::Choosing, Event::Chosen { possible: false });
            assert_eq!(budget.step(settling, Event::Hopeless), then);
        }
    }

    #[test]
    fn what_is_near_is_settled_a_little_oftener() {
        for (near, most) in [(false, 1), (true, 1 + MORE)] {
            let mut budget = Budget::new(1, 1, true);
            let mut state = budget.step(State::Choosing, Event::Chosen { possible: true });
            let mut builds = 0;
            while state != State::GivenUp {
                state = budget.step(state, Event::Settled);
                builds += 1;
                state = budget.step(state, Event::Misses { levels: true, bass: false, far: false, near });
            }
            assert_eq!(builds, most);
        }
    }

    #[test]
    fn a_choice_is_settled_again_where_levels_are_missed_by_little() {
        let mut budget = Budget::new(2, 2, true);
        let settling = budget.step(State::Choosing, Event::Chosen { possible: true });
        let building = budget.step(settling, Event::Settled);
        let missed = Event::Misses { levels: true, bass: false, far: false, near: false };
        assert_eq!(budget.step(building, missed), State::Settling);
        assert_eq!(budget.step(State::Building, missed), State::Choosing, "its builds are used up");
    }
}
