//! A channel with nothing set, for the tests of the order of work.

use super::channel::{ChannelPlan, ChannelRole};
use super::work::WorkChannel;
use crate::filters::Chain;

pub(super) fn bare_channel(id: &str) -> WorkChannel {
    WorkChannel {
        plan: ChannelPlan {
            id: id.to_owned(),
            role: ChannelRole::FullRange,
            chain: Chain::default(),
            limiter: None,
            times: None,
            drives_load: true,
        },
        amplifier: "rack amplifier".to_owned(),
        from_input_db: None,
        lowest_load_ohm: 16.0,
        line_voltage_v: 70.7,
        lines: Vec::new(),
        plays_in: Vec::new(),
    }
}
