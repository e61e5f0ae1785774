//! What a design costs: the same prices and the same counting as the quotation, without its wording.
//!
//! Checked against the quotation of `loamline pack` (`checks/test_propose.py`): the totals differ by rounding only.

use loamline_adapt::LaidRun;
use loamline_geometry::Point2;
use loamline_model::catalogue::LoudspeakerModel;
use loamline_model::document::{Laying, Mount};
use loamline_model::{Choice as _, Job, JobNode};
use loamline_routing::Hole;
use rust_decimal::prelude::ToPrimitive;

/// Room dug on each side of what goes into a hole, and depth of gravel under it, metres, as in the papers.
const OVERDIG_M: f64 = 0.075;
const GRAVEL_M: f64 = 0.1;
/// Working hours of a crew of two in a day, as in the papers.
const CREW_HOURS: f64 = 16.0;

/// The price book of a job, ready to add up.
pub(crate) struct Prices<'j> {
    job: &'j Job,
    margin: f64,
    tax: f64,
    hour: f64,
}

/// A price before and after tax.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Price {
    pub net: f64,
    pub total: f64,
}

fn money(d: rust_decimal::Decimal) -> f64 {
    d.to_f64().unwrap_or(0.0)
}

/// Material and labour added up.
#[derive(Default)]
struct Sum {
    material: f64,
    labour_s: f64,
}

impl<'j> Prices<'j> {
    pub fn new(job: &'j Job) -> Self {
        let p = job.catalogue().prices.as_ref();
        Self {
            job,
            margin: 1.0 + p.map_or(0.0, |p| p.material_margin),
            tax: 1.0 + p.map_or(0.0, |p| p.tax),
            hour: p.map_or(0.0, |p| money(p.labour_per_hour)),
        }
    }

    fn task(&self, sum: &mut Sum, name: &str, count: f64) {
        let task = self.job.catalogue().prices.as_ref().and_then(|p| p.tasks.get(name));
        if let Some(t) = task {
            sum.material += count * money(t.material);
            sum.labour_s += count * t.labour_s;
        }
    }

    fn total(&self, sum: &Sum) -> f64 {
        self.tax * (self.margin * sum.material + self.hour * sum.labour_s / 3600.0)
    }

    /// A loudspeaker in its place with its joint, without cable, tax included.
    pub fn loudspeaker(&self, m: &LoudspeakerModel) -> f64 {
        let mut sum = Sum { material: money(m.price), labour_s: m.labour_s };
        self.mounting(&mut sum, m, m.mount);
        self.task(&mut sum, "joint", 1.0);
        self.task(&mut sum, "strain-tie", 2.0);
        sum.material += 2.0 * self.connector(2.0, 3);
        self.total(&sum)
    }

    fn mounting(&self, sum: &mut Sum, m: &LoudspeakerModel, mount: Mount) {
        match mount {
            Mount::Stake => self.task(sum, "stake", 1.0),
            Mount::InGround | Mount::Base => {
                let Some(h) = &m.hole else { return };
                let dug = Hole {
                    length_m: h.length_m,
                    width_m: h.width_m,
                    depth_m: h.depth_m,
                    overdig_m: OVERDIG_M,
                    gravel_depth_m: GRAVEL_M,
                };
                if let Ok(d) = dug.digging() {
                    self.task(sum, "hole", d.excavation_m3);
                    self.task(sum, "gravel", d.gravel_m3);
                }
            }
            Mount::Bracket | Mount::Eaves | Mount::Surface => {}
        }
    }

    /// Connectors for wires of a size at one conductor of a joint.
    fn connector(&self, size_mm2: f64, wires: usize) -> f64 {
        let all = self.job.catalogue().connectors.values().filter(|c| {
            c.gel_filled && c.smallest_mm2 <= size_mm2 + 1e-9 && size_mm2 <= c.largest_mm2 + 1e-9
        });
        let fitting: Vec<_> = all.collect();
        let enough = fitting.iter().filter(|c| c.conductors as usize >= wires).min_by_key(|c| c.price);
        if let Some(c) = enough {
            return money(c.price);
        }
        fitting.iter().max_by_key(|c| c.conductors).map_or(0.0, |c| {
            let each = (c.conductors as usize).saturating_sub(1).max(1);
            money(c.price) * wires.saturating_sub(1).div_ceil(each) as f64
        })
    }

    /// An amplifier in its rack, tax included.
    pub fn amplifier(&self, id: &str) -> f64 {
        let Some(a) = self.job.catalogue().amplifiers.get(id) else { return 0.0 };
        let mut sum = Sum { material: money(a.price), labour_s: a.labour_s };
        self.task(&mut sum, "test-line", f64::from(a.channels));
        self.task(&mut sum, "commission-channel", f64::from(a.channels));
        self.total(&sum)
    }

    /// A metre of the cheapest cable on the way to a loudspeaker, laid at a price per metre, tax included.
    pub fn cable_per_m(&self, lay_per_m: f64) -> f64 {
        let cables = self.job.catalogue().cables.values();
        let cheapest = cables.map(|c| money(c.price_per_m)).fold(f64::INFINITY, f64::min);
        let waste = 1.0 + self.job.catalogue().prices.as_ref().map_or(0.05, |p| p.waste);
        self.tax * (lay_per_m + if cheapest.is_finite() { self.margin * waste * cheapest } else { 0.0 })
    }

    /// The whole of a job as it stands.
    pub fn job(&self, job: &Job, runs: &[LaidRun]) -> Price {
        let mut sum = Sum::default();
        for l in job.loudspeakers() {
            sum.material += money(l.model.price);
            sum.labour_s += l.model.labour_s;
            self.mounting(&mut sum, l.model, l.mount);
        }
        for a in job.document().amplifiers.values() {
            if let Some(m) = job.catalogue().amplifiers.get(&a.model) {
                sum.material += money(m.price);
                sum.labour_s += m.labour_s;
            }
        }
        self.cable(job, runs, &mut sum);
        self.task(&mut sum, "test-line", job.document().lines.len() as f64);
        self.task(&mut sum, "commission-channel", job.document().channels.len() as f64);
        let days = (sum.labour_s / 3600.0 / CREW_HOURS).ceil();
        self.task(&mut sum, "visit", days);
        let allowance = job.document().about.allowance.map_or(0.0, money);
        let total = self.total(&sum) + self.tax * allowance;
        Price { net: total / self.tax, total }
    }

    /// Joints where new cable goes on from existing cable: one at each stub, with the conductors of every line there.
    fn stub_joints(&self, job: &Job, runs: &[LaidRun], sum: &mut Sum) {
        for stub in job.document().stubs.keys() {
            let onward: Vec<&LaidRun> = runs.iter().filter(|r| r.from == *stub && !r.is_existing()).collect();
            let Some(first) = onward.first() else { continue };
            self.task(sum, "joint", 1.0);
            self.task(sum, "strain-tie", 1.0 + onward.len() as f64);
            let mm2 = |cable: &str| job.catalogue().cables.get(cable).map_or(0.0, |c| c.conductor_mm2);
            let thickest = onward.iter().map(|r| mm2(&r.cable)).fold(mm2(&first.cable), f64::max);
            for (line, _) in job.document().lines_at_stub(stub) {
                let wires = 1 + onward.iter().filter(|r| r.line == line).count();
                sum.material += 2.0 * self.connector(thickest, wires);
            }
        }
    }

    fn cable(&self, job: &Job, runs: &[LaidRun], sum: &mut Sum) {
        self.stub_joints(job, runs, sum);
        let laying = job.catalogue().prices.as_ref().map(|p| &p.laying);
        for r in runs.iter().filter(|r| !r.is_existing()) {
            let Some(c) = job.catalogue().cables.get(&r.cable) else { continue };
            sum.material += r.length.order_m * money(c.price_per_m);
            self.task(sum, "service-crossing", r.crosses.len() as f64);
            let holes = r.through.iter().filter(|o| o.passage.is_none()).count();
            self.task(sum, "wall-hole", holes as f64);
            for p in &r.pieces {
                let way = p.laying.unwrap_or(Laying::Trench).word();
                if let Some(l) = laying.and_then(|l| l.get(way)) {
                    sum.material += p.length_m * money(l.material_per_m);
                    sum.labour_s += p.length_m * l.labour_s_per_m;
                }
            }
            // A joint wherever cable ends away from a rack.
            if matches!(job.node(&r.to), Some(JobNode::Rack(_) | JobNode::Stub(_)) | None) {
                continue;
            }
            let onward = runs.iter().filter(|o| o.line == r.line && o.from == r.to);
            let ends: Vec<&LaidRun> = std::iter::once(r).chain(onward).collect();
            self.task(sum, "strain-tie", ends.len() as f64);
            self.task(sum, "joint", 1.0);
            let size =
                |r: &LaidRun| job.catalogue().cables.get(&r.cable).map(|c| (c.conductor_mm2, c.conductors));
            let sizes: Vec<(f64, u32)> = ends.iter().filter_map(|r| size(r)).collect();
            let (mm2, conductors) =
                sizes.iter().fold((0.0, 0), |(m, n), s| (f64::max(m, s.0), u32::max(n, s.1)));
            let pair = job.document().lines.get(&r.line).map_or(1, |l| l.pair);
            let speaker = job.document().loudspeakers.contains_key(&r.to);
            for number in 1..=conductors {
                let wires = sizes.iter().filter(|s| s.1 >= number).count();
                let in_use = (number - 1) / 2 + 1 == pair;
                sum.material += self.connector(mm2, wires + usize::from(speaker && in_use));
            }
        }
    }
}

/// Straight distance from a place to the nearest of some others, metres; 0 for none.
pub(crate) fn nearest_m(at: Point2, others: impl Iterator<Item = Point2>) -> f64 {
    let m = others.map(|o| o.distance(at)).fold(f64::INFINITY, f64::min);
    if m.is_finite() { m } else { 0.0 }
}
