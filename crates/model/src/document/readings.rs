//! Visits to the site: what was measured, what was done and what was photographed, and where.

use super::site::{Rack, Stub};
use super::system::{Joint, Line, Loudspeaker};
use crate::units::Quantity;
use indexmap::IndexMap;
use loamline_geometry::Point2;
use loamline_terms::Shown;

choice! {
    /// Why somebody came.
    VisitKind {
        /// A first look, before anything is offered.
        Survey = "survey",
        /// While the system was being built.
        Building = "building",
        /// At handover.
        Handover = "handover",
        /// Upkeep.
        Maintenance = "maintenance",
        /// Something was wrong.
        Fault = "fault",
    }
}

choice! {
    /// Work a crew ticks off.
    Work {
        /// A joint made and closed.
        Joint = "joint",
        /// A joint opened and found good.
        Opened = "opened",
        /// A loudspeaker stands or hangs in its place.
        Placed = "placed",
        /// A tap set and looked at.
        Tap = "tap",
        /// A hole dug to its size.
        Hole = "hole",
        /// A run of cable laid.
        Laid = "laid",
        /// A step of the order of work at the rack.
        Step = "step",
    }
}

record! {
    /// A visit to the site.
    Visit {
        /// Day, as year-month-day.
        date: String = "date" => text().required(),
        /// Why somebody came.
        kind: VisitKind = "kind" => word::<VisitKind>().or(VisitKind::Maintenance),
        /// Temperature of the ground, where known.
        ground_temperature_c: Option<f64> = "ground_temperature" => quantity(Quantity::Temperature, -30.0..=60.0).like("12 C or 54 F").optional(),
        /// What was measured of lines, by id.
        readings: IndexMap<String, Reading> = "readings" => map_of::<Reading>(),
        /// Sound levels that were measured, by id.
        levels: IndexMap<String, MeasuredLevel> = "levels" => map_of::<MeasuredLevel>(),
        /// Meters it was measured with, by id.
        meters: IndexMap<String, Meter> = "meters" => map_of::<Meter>(),
        /// What was done, by id.
        done: IndexMap<String, Done> = "done" => map_of::<Done>(),
        /// What was photographed, by id.
        photos: IndexMap<String, Photo> = "photos" => map_of::<Photo>(),
        /// Lines that were measured or worked on and have been changed, replaced or removed since, as they were then.
        lines: IndexMap<String, KeptLine> = "lines" => map_of::<KeptLine>(),
        /// Notes.
        notes: String = "notes" => text().or(""),
    }
}

record! {
    /// A line as it was while something was measured or done, kept when an edit replaced it or changed what a meter reads of it.
    /// Nothing below it refers to the rest of the job: another line may have its id by now.
    KeptLine {
        /// Id the line had.
        line: String = "line" => text().required(),
        /// Whether another line came in its place, or none; false where the line stayed and something on it was changed.
        replaced: bool = "replaced" => flag().or(true),
        /// Readings of this visit that were taken of it.
        readings: Vec<String> = "readings" => list(text(), 0..=10_000).or(Vec::new()),
        /// What was done on it in this visit.
        done: Vec<String> = "done" => list(text(), 0..=10_000).or(Vec::new()),
        /// What was photographed of it in this visit.
        photos: Vec<String> = "photos" => list(text(), 0..=10_000).or(Vec::new()),
        /// The line with its runs; where it started and how it was fed stand in it, its channel does not.
        as_it_was: Line = "as_it_was" => nested::<Line>().required(),
        /// Loudspeakers on it.
        loudspeakers: IndexMap<String, Loudspeaker> = "loudspeakers" => map_of::<Loudspeaker>(),
        /// Joints its runs ended at.
        joints: IndexMap<String, Joint> = "joints" => map_of::<Joint>(),
        /// The stub it started at, if it did.
        stubs: IndexMap<String, Stub> = "stubs" => map_of::<Stub>(),
        /// The rack it came from.
        racks: IndexMap<String, Rack> = "racks" => map_of::<Rack>(),
    }
}

record! {
    /// One reading: exactly one of impedance, dc, leakage or level.
    Reading {
        /// Line it was taken on.
        line: String = "line" => text().required(),
        /// Where: the rack (when absent), a stub, a joint or a loudspeaker, looking away from the rack.
        at: Option<String> = "at" => text().optional(),
        /// Magnitude of impedance, or "open" where the meter showed an open line.
        impedance: Option<Shown> = "impedance" => shown(quantity(Quantity::Impedance, 0.0..=1.0e9).like("280 ohm")).optional(),
        /// Frequency of the impedance reading.
        frequency_hz: Option<f64> = "frequency" => quantity(Quantity::Frequency, 10.0..=40_000.0).like("1 kHz").optional(),
        /// Resistance of the loop at direct current, or "open" where the meter showed an open line.
        dc: Option<Shown> = "dc" => shown(quantity(Quantity::Impedance, 0.0..=1.0e9).like("14.3 ohm")).optional(),
        /// Resistance from the conductors to earth.
        leakage_ohm: Option<f64> = "leakage" => quantity(Quantity::Impedance, 0.0..=1.0e12).like("20 Mohm").optional(),
        /// Sound level, LAeq, written down beside a line's readings; levels of an area or neighbour stand under `levels`.
        level_dba: Option<f64> = "level" => quantity(Quantity::Level, 0.0..=140.0).like("65 dBA").optional(),
        /// Whether the meter showed more than this, the end of its range: good insulation, or an open line.
        above: bool = "above" => flag().or(false),
    }
}

record! {
    /// A sound level where people listen, or at a neighbour: exactly one of area and neighbour, at least one of level and
    /// octave.
    MeasuredLevel {
        /// Listening area it was measured in, at ear height.
        area: Option<String> = "area" => text().optional(),
        /// Neighbour it was measured at, or at the boundary towards it.
        neighbour: Option<String> = "neighbour" => text().optional(),
        /// Floor of the neighbour, where it has several.
        floor: Option<String> = "floor" => text().optional(),
        /// Sound level, LAeq, everything on.
        level_dba: Option<f64> = "level" => quantity(Quantity::Level, 0.0..=140.0).like("65 dBA").optional(),
        /// Level of the 63 Hz octave, unweighted, everything on.
        octave_63hz_db: Option<f64> = "octave_63hz" => quantity(Quantity::Level, 0.0..=140.0).like("55 dB").optional(),
        /// Whether everything was turned down as it is by night.
        night: bool = "night" => flag().or(false),
        /// Notes.
        notes: String = "notes" => text().or(""),
    }
}

choice! {
    /// What a meter measures.
    MeterKind {
        /// Impedance of a line.
        Impedance = "impedance",
        /// Resistance of a loop.
        Resistance = "resistance",
        /// Insulation to earth.
        Insulation = "insulation",
        /// Sound level.
        Level = "level",
    }
}

record! {
    /// A meter that was used on a visit.
    Meter {
        /// What it measures.
        kind: MeterKind = "kind" => word::<MeterKind>().required(),
        /// What it is called.
        name: String = "name" => text().or(""),
        /// Its serial number.
        serial: String = "serial" => text().or(""),
        /// Day of its last calibration, as year-month-day.
        calibrated: String = "calibrated" => text().or(""),
    }
}

record! {
    /// Something ticked off.
    Done {
        /// What kind of work.
        work: Work = "work" => word::<Work>().required(),
        /// What it was done to: a joint, loudspeaker, rack or stub; absent for a run and a step.
        at: Option<String> = "at" => text().optional(),
        /// Line a run that was laid belongs to.
        line: Option<String> = "line" => text().optional(),
        /// Run that was laid.
        run: Option<String> = "run" => text().optional(),
        /// Tap found or set.
        tap_w: Option<f64> = "tap" => quantity(Quantity::Power, 0.1..=5000.0).like("10 W").optional(),
        /// Who did it.
        by: String = "by" => text().or(""),
        /// The step, or whatever else is worth knowing.
        notes: String = "notes" => text().or(""),
    }
}

record! {
    /// A photo.
    Photo {
        /// Name of the file attached to the job.
        file: String = "file" => text().required(),
        /// What it shows: a joint, loudspeaker, rack or stub.
        at: Option<String> = "at" => text().optional(),
        /// The place it shows, or was taken from, in plan.
        position: Option<Point2> = "position" => point().optional(),
        /// What there is to see.
        notes: String = "notes" => text().or(""),
    }
}

impl Visit {
    /// The line as it was when a reading was taken, with the id it is kept under; `None` for a reading of a line that
    /// still is what it was.
    pub fn kept_of_reading(&self, reading: &str) -> Option<(&str, &KeptLine)> {
        self.kept_line_with(|k| &k.readings, reading)
    }

    /// The same of something ticked off.
    pub fn kept_of_done(&self, done: &str) -> Option<(&str, &KeptLine)> {
        self.kept_line_with(|k| &k.done, done)
    }

    /// The same of a photo.
    pub fn kept_of_photo(&self, photo: &str) -> Option<(&str, &KeptLine)> {
        self.kept_line_with(|k| &k.photos, photo)
    }

    fn kept_line_with(
        &self,
        list: impl Fn(&KeptLine) -> &Vec<String>,
        id: &str,
    ) -> Option<(&str, &KeptLine)> {
        let found = self.lines.iter().find(|(_, k)| list(k).iter().any(|other| other == id));
        found.map(|(key, k)| (key.as_str(), k))
    }
}
