//! A channel being tuned.

use crate::maker::MakersAsk;
use crate::report::ChannelTuned;
use loamline_model::ChannelView;
use loamline_processing::ChannelRole;
use loamline_study::Subject;

/// A channel being tuned, with what it drives.
pub(crate) struct Fed<'j> {
    pub view: ChannelView<'j>,
    pub tuned: ChannelTuned,
    /// Places of its loudspeakers among the scene's sources.
    pub sources: Vec<usize>,
    /// What the makers of its loudspeakers ask for.
    pub makers: MakersAsk,
}

impl Fed<'_> {
    /// Whether it drives subwoofers.
    pub fn is_bass(&self) -> bool {
        self.tuned.plan.role == ChannelRole::Subwoofers
    }
}

/// A channel as what a finding is about.
pub(crate) fn about_channel(id: &str) -> Subject {
    Subject::new("channels", id)
}
