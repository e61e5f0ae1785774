//! What a design costs: once it is built its quotation, which its papers will say; before that what one more loudspeaker or
//! amplifier would add, at the same prices.

use crate::error::BriefProblem;
use loamline_adapt::LaidRun;
use loamline_geometry::Point2;
use loamline_model::Job;
use loamline_model::catalogue::LoudspeakerModel;
use loamline_model::document::Mount;
use loamline_quotation::{BillItem, Counted, PriceBook, Rates, Wordless, bill, hole_of, quote};
use rust_decimal::Decimal;

/// The prices of a job, a person's own before the catalogue's.
pub(crate) struct Prices<'j> {
    job: &'j Job,
    book: &'j PriceBook,
    margin: f64,
    tax: f64,
    hour: f64,
}

/// What a built design takes and costs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cost {
    /// What the client pays, tax included: the total of its quotation.
    pub total: f64,
    /// The same before tax.
    pub net: f64,
    /// Tax.
    pub tax: f64,
    /// What rounding adds to both, or takes from them.
    pub rounding: f64,
    /// Cable to cut, metres.
    pub cable_m: f64,
    /// Ground opened, metres.
    pub opened_m: f64,
    /// Its bill.
    pub bill: Vec<BillItem>,
}

/// A design with its runs as they lie, quoted.
pub(crate) fn cost(job: &Job, runs: &[LaidRun], book: &PriceBook) -> Result<Cost, BriefProblem> {
    let counted = Counted::of(job, runs)?;
    let bill = bill(job, &Wordless, &counted);
    let quotation = quote(job, &bill, book)?;
    Ok(Cost {
        total: number(quotation.total),
        net: number(quotation.net),
        tax: number(quotation.tax),
        rounding: number(quotation.rounding),
        cable_m: counted.cable_m(),
        opened_m: counted.opened_m(),
        bill,
    })
}

/// The number nearest to an amount: printed again, it shows the same digits.
fn number(d: Decimal) -> f64 {
    d.to_string().parse().unwrap_or(0.0)
}

/// Material and labour added up.
#[derive(Default)]
struct Sum {
    material: f64,
    labour_s: f64,
}

impl<'j> Prices<'j> {
    pub fn new(job: &'j Job, book: &'j PriceBook) -> Self {
        let rates = Rates::of(job, book);
        Self {
            job,
            book,
            margin: 1.0 + number(rates.margin),
            tax: 1.0 + number(rates.tax),
            hour: number(rates.hour),
        }
    }

    /// Price of the material of one, before margin.
    fn material(&self, kind: &str, id: &str, catalogue: Decimal) -> f64 {
        number(self.book.price(&format!("{kind}/{id}")).unwrap_or(catalogue))
    }

    fn task(&self, sum: &mut Sum, name: &str, count: f64) {
        let task = self.job.catalogue().prices.as_ref().and_then(|p| p.tasks.get(name));
        if let Some(t) = task {
            sum.material += count * self.material("task", name, t.material);
            sum.labour_s += count * t.labour_s;
        }
    }

    fn total(&self, sum: &Sum) -> f64 {
        self.tax * (self.margin * sum.material + self.hour * sum.labour_s / 3600.0)
    }

    /// A loudspeaker in its place with its joint, without cable, tax included.
    pub fn loudspeaker(&self, id: &str, m: &LoudspeakerModel) -> f64 {
        let mut sum = Sum { material: self.material("loudspeaker", id, m.price), labour_s: m.labour_s };
        if m.mount == Mount::Stake {
            self.task(&mut sum, "stake", 1.0);
        }
        if let Some(hole) = hole_of(id, m, m.mount) {
            self.task(&mut sum, "hole", hole.soil_m3);
            self.task(&mut sum, "gravel", hole.gravel_m3);
        }
        self.task(&mut sum, "joint", 1.0);
        self.task(&mut sum, "strain-tie", 2.0);
        sum.material += 2.0 * self.connector(2.0, 3);
        self.total(&sum)
    }

    /// Connectors for wires of a size at one conductor of a joint.
    fn connector(&self, size_mm2: f64, wires: u32) -> f64 {
        let all = self.job.catalogue().connectors.iter().filter(|(_, c)| {
            c.gel_filled
                && c.conductors >= wires
                && c.smallest_mm2 <= size_mm2 + 1e-9
                && size_mm2 <= c.largest_mm2 + 1e-9
        });
        let cheapest = all.min_by_key(|(_, c)| c.price);
        cheapest.map_or(0.0, |(id, c)| self.material("connector", id, c.price))
    }

    /// An amplifier in its rack, tax included.
    pub fn amplifier(&self, id: &str) -> f64 {
        let Some(a) = self.job.catalogue().amplifiers.get(id) else { return 0.0 };
        let mut sum = Sum { material: self.material("amplifier", id, a.price), labour_s: a.labour_s };
        self.task(&mut sum, "test-line", f64::from(a.channels));
        self.task(&mut sum, "commission-channel", f64::from(a.channels));
        self.total(&sum)
    }

    /// A metre of a cable, before margin.
    pub fn cable(&self, id: &str, price_per_m: Decimal) -> f64 {
        self.material("cable", id, price_per_m)
    }

    /// A metre of the cheapest cable on the way to a loudspeaker, laid at a price per metre, tax included.
    pub fn cable_per_m(&self, lay_per_m: f64) -> f64 {
        self.way(lay_per_m, 1.0)
    }

    /// Price of a metre of the cheapest cable, before margin; 0 where there is none.
    pub fn cheapest_cable(&self) -> f64 {
        let cables = self.job.catalogue().cables.iter();
        let least = cables.map(|(id, c)| self.cable(id, c.price_per_m)).fold(f64::INFINITY, f64::min);
        if least.is_finite() { least } else { 0.0 }
    }

    /// A way whose laying costs so much and that is so long, with the cheapest cable, tax included.
    pub fn way(&self, laying_price: f64, length_m: f64) -> f64 {
        let waste = 1.0 + self.job.catalogue().prices.as_ref().map_or(0.05, |p| p.waste);
        self.tax * (laying_price + self.margin * waste * self.cheapest_cable() * length_m)
    }

    /// A design with its runs as they lie, quoted.
    pub fn cost(&self, job: &Job, runs: &[LaidRun]) -> Result<Cost, BriefProblem> {
        cost(job, runs, self.book)
    }
}

/// Straight distance from a place to the nearest of some others, metres; 0 for none.
pub(crate) fn nearest_m(at: Point2, others: impl Iterator<Item = Point2>) -> f64 {
    let m = others.map(|o| o.distance(at)).fold(f64::INFINITY, f64::min);
    if m.is_finite() { m } else { 0.0 }
}
