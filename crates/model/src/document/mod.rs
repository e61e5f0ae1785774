//! The job document as types: what a `job.toml` holds.
//!
//! Everything with an identity lives in a map keyed by the id a crew sees on its tag. Numbers are SI. A
//! [`JobDocument`] has the right shape; a [`crate::Job`] has in addition passed every rule between its parts.

mod brief;
mod client;
mod custom;
mod links;
mod owners;
mod readings;
mod site;
mod sources;
mod system;
mod tags;
mod work;
mod zones;

pub use brief::{Area, Brief, Floor, InStep, Listeners, Matching, Neighbour, Programme, Spectrum, Wishes};
pub use client::{Client, Contact, JobStatus, Language};
pub use custom::{Mains, Paper};
pub use readings::{Done, KeptLine, MeasuredLevel, Meter, MeterKind, Photo, Reading, Visit, VisitKind, Work};
pub use site::{
    Air, Building, LocalFigures, Locating, Mark, NoGo, Passage, Rack, Service, ServiceKind, Site, Sleeve,
    Stub, Surface, SurfaceKind, Underlay, Wall, WallKind,
};
pub use sources::{
    Lead, LeadSide, Link, LinkKind, SignalConnector, Source, SourceKind, SourceOutput, SourceSignal,
};
pub use system::{
    Amplifier, Channel, Coils, Commissioned, Equaliser, EqualiserKind, Filter, FilterKind, Joint, JointKind,
    Limiter, Line, Loudspeaker, Mount, Run, Topology,
};
pub use work::{PlanOfWork, PlannedTask, WorkTask};
pub use zones::{Owner, Phase, Spare, Zone};

pub use loamline_terms::{FlowClass, Hours, Laying, Polarity, Supply};

use crate::units::{Quantity, Units};
use indexmap::IndexMap;
use loamline_limits as limits;
use rust_decimal::Decimal;

record! {
    /// A job: the brief, the site, the system and the readings of one outdoor loudspeaker installation.
    JobDocument {
        /// Version of this document's form; 1.
        format: u32 = "format" => whole(1..=1).required(),
        /// What the job is, for the papers.
        about: About = "job" => nested::<About>().required(),
        /// Whom the job is for.
        client: Client = "client" => nested_or_empty::<Client>(),
        /// What the client wants and what limits it.
        brief: Brief = "brief" => nested_or_empty::<Brief>(),
        /// What is played, by programme id.
        programmes: IndexMap<String, Programme> = "programmes" => at_most::<Programme>(&limits::PROGRAMMES),
        /// Phases the work is done in, by id, in the order they are built.
        phases: IndexMap<String, Phase> = "phases" => at_most::<Phase>(&limits::ZONES),
        /// Zones the place is divided into, by id.
        zones: IndexMap<String, Zone> = "zones" => at_most::<Zone>(&limits::ZONES),
        /// Where sound is wanted, by area id.
        areas: IndexMap<String, Area> = "areas" => at_most::<Area>(&limits::AREAS),
        /// Where quiet is wanted, by neighbour id.
        neighbours: IndexMap<String, Neighbour> = "neighbours" => at_most::<Neighbour>(&limits::NEIGHBOURS),
        /// The ground, the weather and the plan as a whole.
        site: Site = "site" => nested_or_empty::<Site>(),
        /// What the ground is made of, by surface id; where two overlap, the later one in the file wins.
        surfaces: IndexMap<String, Surface> = "surfaces" => at_most::<Surface>(&limits::GROUND_THINGS),
        /// Walls, fences and hedges, by id.
        walls: IndexMap<String, Wall> = "walls" => at_most::<Wall>(&limits::GROUND_THINGS),
        /// Buildings, by id.
        buildings: IndexMap<String, Building> = "buildings" => at_most::<Building>(&limits::GROUND_THINGS),
        /// Places where nothing may be put or laid, by id.
        no_go: IndexMap<String, NoGo> = "no_go" => at_most::<NoGo>(&limits::GROUND_THINGS),
        /// Buried services, by id.
        services: IndexMap<String, Service> = "services" => at_most::<Service>(&limits::SMALL_THINGS),
        /// Existing sleeves and conduits, by id.
        sleeves: IndexMap<String, Sleeve> = "sleeves" => at_most::<Sleeve>(&limits::SMALL_THINGS),
        /// Openings through outer walls that cable may be drawn through, by id.
        passages: IndexMap<String, Passage> = "passages" => at_most::<Passage>(&limits::SMALL_THINGS),
        /// Existing cable ends that can be picked up, by id.
        stubs: IndexMap<String, Stub> = "stubs" => at_most::<Stub>(&limits::SMALL_THINGS),
        /// Places for amplifiers, by id.
        racks: IndexMap<String, Rack> = "racks" => at_most::<Rack>(&limits::SMALL_THINGS),
        /// Fixed points to tape from (a corner of a wall, a gate post), by id.
        marks: IndexMap<String, Mark> = "marks" => at_most::<Mark>(&limits::SMALL_THINGS),
        /// Loudspeakers in their places, by tag.
        loudspeakers: IndexMap<String, Loudspeaker> = "loudspeakers" => at_most::<Loudspeaker>(&limits::LOUDSPEAKERS),
        /// Joints away from loudspeakers, by tag.
        joints: IndexMap<String, Joint> = "joints" => at_most::<Joint>(&limits::SMALL_THINGS),
        /// Lines of loudspeakers, by letter or name.
        lines: IndexMap<String, Line> = "lines" => at_most::<Line>(&limits::LINES),
        /// Amplifiers, by id.
        amplifiers: IndexMap<String, Amplifier> = "amplifiers" => at_most::<Amplifier>(&limits::SMALL_THINGS),
        /// Amplifier channels in use, by id, with their processing.
        channels: IndexMap<String, Channel> = "channels" => at_most::<Channel>(&limits::SMALL_THINGS),
        /// What plays, by id.
        sources: IndexMap<String, Source> = "sources" => at_most::<Source>(&limits::SMALL_THINGS),
        /// Leads from sources to amplifiers, by id.
        leads: IndexMap<String, Lead> = "leads" => at_most::<Lead>(&limits::SMALL_THINGS),
        /// Links that bring sound from rack to rack, by id.
        links: IndexMap<String, Link> = "links" => at_most::<Link>(&limits::SMALL_THINGS),
        /// How the work is laid into days.
        work: PlanOfWork = "work" => nested_or_empty::<PlanOfWork>(),
        /// Visits to the site with what was measured and done, by id.
        visits: IndexMap<String, Visit> = "visits" => at_most::<Visit>(&limits::VISITS),
    }
}

record! {
    /// What the job is, for the papers.
    About {
        /// Name of the job.
        name: String = "name" => text().required(),
        /// How far it is; nothing is offered yet when absent.
        status: Option<JobStatus> = "status" => word::<JobStatus>().optional(),
        /// The firm's reference for it.
        reference: String = "reference" => text().or(""),
        /// One or two sentences about the place and the wish.
        summary: String = "summary" => text().or(""),
        /// Date of the papers, as it should be printed.
        date: String = "date" => text().or(""),
        /// Units in which people read everything of the job, on screen and on paper; numbers in the file are metres whatever
        /// it says. Where it is absent the command line and the papers are metric.
        units: Option<Units> = "units" => word::<Units>().optional(),
        /// Sheet of paper the job is printed on. Where it is absent A4, in US units Letter.
        paper: Option<Paper> = "paper" => word::<Paper>().optional(),
        /// Mains voltage of every rack that says no other. Where it is absent 230 V, in US units 120 V.
        mains_v: Option<f64> = "mains" => quantity(Quantity::Voltage, 90.0..=260.0).like("230 V").optional(),
        /// Rated current of one mains circuit of every rack that says no other. Where it is absent 16 A, in US units 20 A.
        circuit_a: Option<f64> = "circuit" => quantity(Quantity::Current, 1.0..=125.0).like("16 A").optional(),
        /// Language of the papers the office and the client read; the firm's when absent, else English.
        language: Option<Language> = "language" => word::<Language>().optional(),
        /// Language of what the crew reads: crew pack, plans, labels, what is settled before work starts, plan of work,
        /// electrical notes, as-built and service sheets, the phone's pages. The firm's when absent, else that of the papers.
        crew_language: Option<Language> = "crew_language" => word::<Language>().optional(),
        /// Currency of every amount of money in the job: a three-letter code of ISO 4217.
        currency: String = "currency" => text().or("EUR"),
        /// Smallest amount the client pays in, which the total is rounded to (0.05 where no smaller coin goes round); as the
        /// price book has it when absent.
        rounding: Option<Decimal> = "rounding" => money().optional(),
        /// Tax on the whole, as a fraction; as the price book has it when absent. A book of one's own that states a tax counts
        /// before it.
        tax: Option<f64> = "tax" => quantity(Quantity::Fraction, 0.0..=1.0).like("20 %").optional(),
        /// Notes for the crew.
        notes: String = "notes" => text().or(""),
        /// Frequencies the line meter of this job reads at; 0 or "dc" is direct current. Where none are stated those of the firm count,
        /// else direct current and 1 kHz on paper, and beside them those that tell most.
        meter_hz: Vec<f64> = "meter" => list(meter_frequency(quantity(Quantity::Frequency, 0.0..=40.0e3)), 0..=4).or(Vec::new()),
        /// Amount set aside for things not listed, added to the quotation.
        allowance: Option<Decimal> = "allowance" => money().optional(),
    }
}

impl JobDocument {
    /// Units people read the job in: as it says, else metric.
    pub fn units(&self) -> Units {
        self.about.units.unwrap_or_default()
    }

    /// The sheet the job is printed on: as it says, else that of the units it is printed in.
    pub fn paper(&self, units: Units) -> Paper {
        self.about.paper.unwrap_or_else(|| Paper::usual(units))
    }

    /// The mains of the place: as the job says, else those of its units.
    pub fn mains(&self) -> Mains {
        let usual = Mains::usual(self.units());
        Mains {
            voltage_v: self.about.mains_v.unwrap_or(usual.voltage_v),
            circuit_a: self.about.circuit_a.unwrap_or(usual.circuit_a),
        }
    }

    /// The mains a rack is on: as it says, else those of the place.
    pub fn mains_of(&self, rack: &Rack) -> Mains {
        let place = self.mains();
        Mains {
            voltage_v: rack.mains_v.unwrap_or(place.voltage_v),
            circuit_a: rack.circuit_a.unwrap_or(place.circuit_a),
        }
    }

    /// How the loudspeakers of a line are fed: as the line says, else the programme its channel plays, else the brief.
    pub fn supply_of_line(&self, line: &Line) -> Supply {
        line.supply.unwrap_or_else(|| {
            let channel = line.channel.as_ref().and_then(|c| self.channels.get(c));
            channel.map_or(self.brief.supply, |c| self.supply_of_programme(c.programme.as_deref()))
        })
    }

    /// How what plays a programme is fed, the first programme when none is named: as it says, else the brief.
    pub fn supply_of_programme(&self, id: Option<&str>) -> Supply {
        let programme = match id {
            Some(id) => self.programmes.get(id),
            None => self.programmes.values().next(),
        };
        programme.and_then(|p| p.supply).unwrap_or(self.brief.supply)
    }

    /// How far loudspeaker cable keeps from a buried service beside it, metres: as the service says, and from mains cable no
    /// nearer than is asked for at this place.
    pub fn kept_from_m(&self, service: &Service) -> f64 {
        let asked = self.site.local.from_mains_m.filter(|_| service.kind == ServiceKind::Electric);
        asked.map_or(service.clearance_m, |m| m.max(service.clearance_m))
    }
}
