//! A job without its words: what can change a figure. Two revisions that differ in words alone are alike here.

use loamline_model::Job;
use loamline_model::catalogue::Catalogue;
use loamline_model::document::{JobDocument, Spare};
use rust_decimal::Decimal;

/// Document and catalogue of a job, names, notes, visits and prices taken out. Whatever is worked out from a `Plain` says nothing
/// that reads them: names are put in when a result is handed out, visits are read beside it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Plain {
    document: JobDocument,
    catalogue: Catalogue,
}

impl Plain {
    pub(crate) fn of(job: &Job) -> Self {
        let mut d = job.document().clone();
        d.visits.clear();
        without_parts(&mut d);
        d.marks.values_mut().for_each(|x| x.name.clear());
        d.programmes.values_mut().for_each(|x| x.name.clear());
        d.areas.values_mut().for_each(|x| x.name.clear());
        d.neighbours.values_mut().for_each(|x| x.name.clear());
        d.neighbours.values_mut().flat_map(|x| x.floors.values_mut()).for_each(|f| f.name.clear());
        d.surfaces.values_mut().for_each(|x| x.name.clear());
        d.walls.values_mut().for_each(|x| x.name.clear());
        d.buildings.values_mut().for_each(|x| x.name.clear());
        d.sleeves.values_mut().for_each(|x| x.name.clear());
        d.passages.values_mut().for_each(|x| x.name.clear());
        d.stubs.values_mut().for_each(|x| x.name.clear());
        d.racks.values_mut().for_each(|x| x.name.clear());
        d.loudspeakers.values_mut().for_each(|x| (x.note, x.serial) = Default::default());
        d.joints.values_mut().for_each(|x| x.note.clear());
        d.sources.values_mut().for_each(|x| (x.name, x.note) = Default::default());
        d.leads.values_mut().for_each(|x| x.note.clear());
        d.links.values_mut().for_each(|x| (x.name, x.note, x.price) = Default::default());
        d.amplifiers.values_mut().for_each(|x| (x.commissioned, x.serial) = Default::default());
        for text in [&mut d.about.name, &mut d.about.reference, &mut d.about.summary, &mut d.about.date] {
            text.clear();
        }
        d.about.notes.clear();
        d.about.status = None;
        (d.client.name, d.client.address, d.client.contacts) = Default::default();
        d.about.currency.clear();
        // What goes with the units is put down where it counts before they are taken out.
        let on: Vec<_> = d.racks.values().map(|rack| d.mains_of(rack)).collect();
        for (rack, mains) in d.racks.values_mut().zip(on) {
            (rack.mains_v, rack.circuit_a) = (Some(mains.voltage_v), Some(mains.circuit_a));
        }
        (d.about.units, d.about.paper, d.about.mains_v, d.about.circuit_a) = (None, None, None, None);
        (d.about.language, d.about.crew_language) = (None, None);
        d.about.meter_hz.clear();
        (d.about.allowance, d.about.rounding) = (None, None);
        Self { document: d, catalogue: unpriced(job.catalogue()) }
    }

    /// The part of it that a meter at a line's end can tell: not who listens where, nor what is played and how loudspeakers
    /// point.
    pub(crate) fn as_a_meter_sees_it(&self) -> Self {
        let mut seen = self.clone();
        let d = &mut seen.document;
        let supplies: Vec<_> = d.lines.values().map(|l| d.supply_of_line(l)).collect();
        d.lines.values_mut().zip(supplies).for_each(|(l, supply)| l.supply = Some(supply));
        d.areas.clear();
        d.neighbours.clear();
        d.programmes.clear();
        d.channels.clear();
        d.sources.clear();
        d.leads.clear();
        d.links.clear();
        d.loudspeakers.values_mut().for_each(|l| (l.bearing_deg, l.pitch_deg) = (0.0, 0.0));
        seen
    }
}

/// Takes out who owns what and when it is built: which part of a job is looked at changes no figure of it.
fn without_parts(d: &mut JobDocument) {
    d.zones.clear();
    d.phases.clear();
    d.areas.values_mut().for_each(|x| (x.zone, x.phase) = (None, None));
    d.racks.values_mut().for_each(|x| (x.zone, x.phase, x.units) = (None, None, None));
    d.lines.values_mut().for_each(|x| (x.zone, x.phase) = (None, None));
    d.amplifiers.values_mut().for_each(|x| x.phase = None);
    d.brief.spare = Spare { channels: None, power: None, ducts: None, units: None };
}

/// The catalogue without prices: what a thing costs changes no figure but the price. Of the price book the allowances on
/// lengths stay.
fn unpriced(catalogue: &Catalogue) -> Catalogue {
    let mut c = catalogue.clone();
    c.loudspeakers.values_mut().for_each(|x| x.price = Decimal::ZERO);
    c.amplifiers.values_mut().for_each(|x| x.price = Decimal::ZERO);
    c.cables.values_mut().for_each(|x| x.price_per_m = Decimal::ZERO);
    c.connectors.values_mut().for_each(|x| x.price = Decimal::ZERO);
    c.conduits.values_mut().for_each(|x| x.price_per_m = Decimal::ZERO);
    if let Some(p) = &mut c.prices {
        (p.currency, p.rounding) = (None, None);
        p.labour_per_hour = Decimal::ZERO;
        (p.material_margin, p.tax) = (0.0, 0.0);
        p.laying.clear();
        p.tasks.clear();
    }
    c
}
