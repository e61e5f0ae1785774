//! What comes to a channel over leads and links.

use super::JobDocument;
use super::sources::Lead;
use super::system::Channel;

impl JobDocument {
    /// Leads that end at the inputs a channel adds, in the order of the document.
    pub fn leads_of_channel<'d>(
        &'d self,
        channel: &'d Channel,
    ) -> impl Iterator<Item = (&'d String, &'d Lead)> {
        self.leads.iter().filter(move |(_, lead)| {
            lead.amplifier == channel.amplifier && channel.inputs.contains(&lead.input)
        })
    }

    /// How much later a channel plays than its own delay says: the longest delay of the links it is fed through.
    pub fn link_delay_s(&self, channel: &Channel) -> f64 {
        let links =
            self.leads_of_channel(channel).filter_map(|(_, lead)| self.links.get(lead.link.as_ref()?));
        links.map(|link| link.delay_s).fold(0.0, f64::max)
    }
}
