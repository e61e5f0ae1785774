//! The bill of quantities: one entry per thing bought and per task done.

use crate::counted::Counted;
use crate::holes::HoleNeed;
use crate::money::measured;
use crate::wording::Wording;
use indexmap::IndexMap;
use loamline_model::{Choice as _, Job, Units};
use loamline_study::{CableOrder, GroundNeed, JointNeed, opens_ground};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// Part of the bill.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = BillGroup))]
#[serde(rename_all = "lowercase")]
pub enum Group {
    /// Loudspeakers and subwoofers.
    Loudspeakers,
    /// Amplifiers.
    Amplifiers,
    /// Cable.
    Cable,
    /// Connectors and other small material.
    Sundries,
    /// Laying and digging.
    Ground,
    /// Work that is neither laying nor digging.
    Work,
}

impl Group {
    /// Every group, in the order of the bill.
    pub const ALL: [Self; 6] =
        [Self::Loudspeakers, Self::Amplifiers, Self::Cable, Self::Sundries, Self::Ground, Self::Work];

    /// Its key in the language file.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Loudspeakers => "loudspeakers",
            Self::Amplifiers => "amplifiers",
            Self::Cable => "cable",
            Self::Sundries => "sundries",
            Self::Ground => "ground",
            Self::Work => "work",
        }
    }
}

/// What a quantity counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = BillUnit))]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// Pieces.
    Piece,
    /// Metres.
    Metre,
    /// Cubic metres.
    CubicMetre,
}

impl Unit {
    /// Its key in the language file.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Piece => "piece",
            Self::Metre => "metre",
            Self::CubicMetre => "cubic_metre",
        }
    }
}

/// An entry of the bill.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BillItem {
    /// Code by which a price book knows it: `loudspeaker/ID`, `cable/ID`, `laying/METHOD`, `task/ID`, ...
    pub code: String,
    /// Part of the bill.
    pub group: Group,
    /// What it is.
    pub description: String,
    /// What it is for: tags; spools, in metres like the quantity beside it.
    pub note: String,
    /// How much.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub quantity: Decimal,
    /// Of what.
    pub unit: Unit,
    /// Price of the material of one, before margin; of all of it where [`BillItem::as_stated`].
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub material: Decimal,
    /// Whether the price is the one the job states for it: labour is in it, and no margin is added.
    pub as_stated: bool,
    /// Labour for all of it, hours.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub labour_h: Decimal,
}

/// Works out the bill. Pure: the same job, words and count give the same bill.
pub fn bill(job: &Job, wording: &dyn Wording, counted: &Counted) -> Vec<BillItem> {
    let mut bill = Bill { job, wording, items: Vec::new() };
    bill.equipment();
    bill.cable(&counted.cables);
    bill.links();
    bill.joints(&counted.joints);
    bill.laying(&counted.ground);
    bill.task("wall-hole", Group::Work, count(counted.wall_holes), Unit::Piece);
    bill.digging(&counted.crossings, &counted.holes);
    bill.work();
    bill.visits();
    bill.items.retain(|item| !item.quantity.is_zero());
    bill.items.sort_by_key(|item| item.group);
    bill.items
}

struct Bill<'a> {
    job: &'a Job,
    wording: &'a dyn Wording,
    items: Vec<BillItem>,
}

fn count(n: usize) -> Decimal {
    Decimal::from(n as u64)
}

fn hours(seconds: f64) -> Decimal {
    measured(seconds / 3600.0, 2)
}

impl Bill<'_> {
    fn equipment(&mut self) {
        let mut models: IndexMap<&str, Vec<&str>> = IndexMap::new();
        for l in self.job.loudspeakers() {
            models.entry(&l.placed.model).or_default().push(l.id);
        }
        for (id, tags) in &models {
            let Some(m) = self.job.catalogue().loudspeakers.get(*id) else { continue };
            let code = format!("loudspeaker/{id}");
            self.pieces(code, Group::Loudspeakers, &m.description, tags, m.price, m.labour_s);
        }
        let mut models: IndexMap<&str, Vec<&str>> = IndexMap::new();
        for (id, amplifier) in self.job.amplifiers_to_mount() {
            models.entry(&amplifier.model).or_default().push(id);
        }
        for (id, tags) in &models {
            let Some(m) = self.job.catalogue().amplifiers.get(*id) else { continue };
            let code = format!("amplifier/{id}");
            self.pieces(code, Group::Amplifiers, &m.description, tags, m.price, m.labour_s);
        }
    }

    /// So many pieces of one model, with the tags they carry.
    fn pieces(
        &mut self,
        code: String,
        group: Group,
        description: &str,
        tags: &[&str],
        price: Decimal,
        labour_s: f64,
    ) {
        self.items.push(BillItem {
            code,
            group,
            description: description.to_owned(),
            note: self.wording.tags(tags),
            quantity: count(tags.len()),
            unit: Unit::Piece,
            material: price,
            as_stated: false,
            labour_h: hours(labour_s * tags.len() as f64),
        });
    }

    fn cable(&mut self, cables: &[CableOrder]) {
        for need in cables {
            let Some(cable) = self.job.catalogue().cables.get(&need.cable) else { continue };
            self.items.push(BillItem {
                code: format!("cable/{}", need.cable),
                group: Group::Cable,
                description: cable.description.clone(),
                note: self.wording.spools(need),
                // Whole feet in metres have four decimals: with two the feet would not come back.
                quantity: measured(need.cut_m, if self.job.document().units() == Units::Us { 4 } else { 1 }),
                unit: Unit::Metre,
                material: cable.price_per_m,
                as_stated: false,
                labour_h: Decimal::ZERO,
            });
        }
    }

    /// Links between racks at the prices stated for them. A part of a job has those to racks it brings amplifiers to; where several
    /// parts bring some, each has the link.
    fn links(&mut self) {
        let d = self.job.document();
        for (id, link) in &d.links {
            let Some(stated) = link.price else { continue };
            let here = d.amplifiers.values().any(|a| a.rack == link.to);
            if here && !self.job.amplifiers_to_mount().any(|(_, a)| a.rack == link.to) {
                continue;
            }
            let name = if link.name.is_empty() { id } else { &link.name };
            self.items.push(BillItem {
                code: format!("link/{id}"),
                group: Group::Cable,
                description: name.clone(),
                note: self.wording.stated(name),
                quantity: Decimal::ONE,
                unit: Unit::Piece,
                material: stated,
                as_stated: true,
                labour_h: Decimal::ZERO,
            });
        }
    }

    fn joints(&mut self, joints: &[JointNeed]) {
        let mut counts: IndexMap<&str, usize> = IndexMap::new();
        for connector in joints.iter().flat_map(|j| &j.conductors).flat_map(|c| &c.connectors) {
            *counts.entry(connector).or_default() += 1;
        }
        for (id, connector) in &self.job.catalogue().connectors {
            if let Some(&n) = counts.get(id.as_str()) {
                self.items.push(BillItem {
                    code: format!("connector/{id}"),
                    group: Group::Sundries,
                    description: connector.description.clone(),
                    note: String::new(),
                    quantity: count(n),
                    unit: Unit::Piece,
                    material: connector.price,
                    as_stated: false,
                    labour_h: Decimal::ZERO,
                });
            }
        }
        let ties = joints.iter().map(JointNeed::cable_ends).sum();
        self.task("strain-tie", Group::Sundries, count(ties), Unit::Piece);
        self.task("joint", Group::Work, count(joints.len()), Unit::Piece);
    }

    fn laying(&mut self, ground: &[GroundNeed]) {
        let Some(prices) = &self.job.catalogue().prices else { return };
        for need in ground {
            let word = need.laying.word();
            let price = prices.laying.get(word);
            // Less than what a bill is rounded to is no sharing.
            let shared = opens_ground(need.laying) && need.shared_m >= 0.05;
            let own = need.priced_by.as_ref().and_then(|id| {
                let surface = self.job.document().surfaces.get(id)?;
                let name = if surface.name.is_empty() { id } else { &surface.name };
                Some((id, name, surface.laying_price?))
            });
            let mut notes: Vec<String> =
                own.iter().map(|(_, name, _)| self.wording.stated(name)).filter(|n| !n.is_empty()).collect();
            if shared {
                notes.push(self.wording.shared());
            }
            let usual_labour_h = hours(need.length_m * price.map_or(0.0, |p| p.labour_s_per_m));
            self.items.push(BillItem {
                code: own.map_or_else(|| format!("laying/{word}"), |(id, ..)| format!("laying/{word}/{id}")),
                group: Group::Ground,
                description: self.wording.laying(need.laying),
                note: notes.join("; "),
                quantity: measured(need.length_m, 1),
                unit: Unit::Metre,
                material: own
                    .map(|(.., stated)| stated)
                    .or(price.map(|p| p.material_per_m))
                    .unwrap_or_default(),
                as_stated: own.is_some(),
                labour_h: if own.is_some() { Decimal::ZERO } else { usual_labour_h },
            });
        }
    }

    fn digging(&mut self, crossings: &[String], holes: &[HoleNeed]) {
        let services = &self.job.document().services;
        let charge = |id: &String| services.get(id).and_then(|s| s.crossing_charge);
        let usual = crossings.iter().filter(|id| charge(id).is_none()).count();
        self.task("service-crossing", Group::Ground, count(usual), Unit::Piece);
        for (id, service) in services {
            let times = crossings.iter().filter(|c| *c == id).count();
            let Some(stated) = service.crossing_charge.filter(|_| times > 0) else { continue };
            let task = self.job.catalogue().prices.as_ref().and_then(|p| p.tasks.get("service-crossing"));
            self.items.push(BillItem {
                code: format!("task/service-crossing/{id}"),
                group: Group::Ground,
                description: task.map_or_else(String::new, |t| t.description.clone()),
                note: self.wording.stated(id),
                quantity: count(times),
                unit: Unit::Piece,
                material: stated,
                as_stated: true,
                labour_h: Decimal::ZERO,
            });
        }
        self.task("stake", Group::Ground, count(self.job.stakes()), Unit::Piece);
        let soil = measured(holes.iter().map(|h| h.soil_m3).sum(), 3);
        self.task("hole", Group::Ground, soil, Unit::CubicMetre);
        let gravel = measured(holes.iter().map(|h| h.gravel_m3).sum(), 3);
        self.task("gravel", Group::Ground, gravel, Unit::CubicMetre);
    }

    fn work(&mut self) {
        let lines = self.job.lines().count();
        self.task("test-line", Group::Work, count(lines), Unit::Piece);
        let channels = self.job.channels_to_set_up().count();
        self.task("commission-channel", Group::Work, count(channels), Unit::Piece);
    }

    /// Days on site: all labour so far, shared by a crew.
    fn visits(&mut self) {
        let labour: Decimal = self.items.iter().map(|i| i.labour_h).sum();
        let crew_hours = measured(self.job.document().work.crew_hours(), 2);
        let days = labour.checked_div(crew_hours).unwrap_or_default().ceil();
        self.task("visit", Group::Work, days, Unit::Piece);
    }

    /// A task of the price list; left out where the list has none of that name.
    fn task(&mut self, id: &str, group: Group, quantity: Decimal, unit: Unit) {
        let prices = self.job.catalogue().prices.as_ref();
        let Some(task) = prices.and_then(|p| p.tasks.get(id)) else { return };
        let labour_h = measured(task.labour_s, 3) * quantity / Decimal::from(3600);
        self.items.push(BillItem {
            code: format!("task/{id}"),
            group,
            description: task.description.clone(),
            note: String::new(),
            quantity,
            unit,
            material: task.material,
            as_stated: false,
            labour_h: labour_h
                .round_dp_with_strategy(2, rust_decimal::RoundingStrategy::MidpointAwayFromZero),
        });
    }
}
