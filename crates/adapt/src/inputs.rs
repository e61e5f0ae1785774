//! Sources, leads and inputs as the processing engine wants them: what a channel adds, source by source.

use loamline_model::catalogue::AmplifierInputs;
use loamline_model::document::{Lead, Source, SourceSignal};
use loamline_model::{ChannelView, Job};
use loamline_processing::{Arriving, FeedingSource, InputSignal};

/// A lead that ends at an input a channel adds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AddedLead<'j> {
    /// Id of the lead.
    pub id: &'j str,
    /// The lead.
    pub lead: &'j Lead,
    /// Its source.
    pub source: &'j Source,
    /// Inputs of the amplifier.
    pub inputs: &'j AmplifierInputs,
}

impl AddedLead<'_> {
    /// Whether what comes out of the lead is what the input takes: light for light, a voltage for a voltage.
    pub fn fits(&self) -> bool {
        self.source.is_optical() == self.inputs.is_optical(self.lead.input)
    }
}

/// Every lead of the job whose source and inputs are known, in the order of the document.
pub fn leads(job: &Job) -> impl Iterator<Item = AddedLead<'_>> {
    let d = job.document();
    d.leads.iter().filter_map(|(id, lead)| {
        let model = &d.amplifiers.get(&lead.amplifier)?.model;
        let inputs = job.catalogue().amplifiers.get(model)?.inputs.as_ref()?;
        Some(AddedLead { id, lead, source: d.sources.get(&lead.source)?, inputs })
    })
}

/// Leads that end at the inputs a channel adds.
pub fn leads_of_channel<'j>(job: &'j Job, c: &ChannelView<'j>) -> Vec<AddedLead<'j>> {
    let added = |l: &AddedLead<'_>| {
        l.lead.amplifier == c.channel.amplifier && c.channel.inputs.contains(&l.lead.input)
    };
    leads(job).filter(added).collect()
}

/// What a channel gets from each of its sources; a lead that does not fit its input brings nothing.
pub fn feeding_sources(job: &Job, c: &ChannelView<'_>) -> Vec<FeedingSource> {
    let mut sources: Vec<FeedingSource> = Vec::new();
    for l in leads_of_channel(job, c).iter().filter(|l| l.fits()) {
        let signal = InputSignal { lead: l.id.to_owned(), input: l.lead.input, arriving: arriving(l) };
        match sources.iter_mut().find(|s| s.source == l.lead.source) {
            Some(known) => known.inputs.push(signal),
            None => sources.push(FeedingSource { source: l.lead.source.clone(), inputs: vec![signal] }),
        }
    }
    sources
}

fn arriving(l: &AddedLead<'_>) -> Arriving {
    match l.source.level_v() {
        Some(nominal_v) => Arriving::Voltage {
            nominal_v,
            highest_v: l.source.highest_v,
            noise_v: l.source.noise_v,
            sensitivity_v: l.inputs.sensitivity_v,
            greatest_v: l.inputs.greatest_v,
        },
        None => Arriving::Light { sides: if l.source.signal == SourceSignal::Stereo { 2 } else { 1 } },
    }
}
