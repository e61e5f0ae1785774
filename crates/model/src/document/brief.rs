//! The brief: sound here, quiet there, within these means.

use super::zones::Spare;
use crate::units::Quantity;
use indexmap::IndexMap;
use loamline_geometry::{Point2, Polygon};
use loamline_terms::{Hours, Laying, Supply};
use rust_decimal::Decimal;

record! {
    /// What the client wants and what limits it.
    Brief {
        /// How loudspeakers are to be fed where neither their line nor their programme says otherwise.
        supply: Supply = "supply" => word::<Supply>().or(Supply::Volts70),
        /// What the whole may cost, tax included.
        budget: Option<Decimal> = "budget" => money().optional(),
        /// Ways of laying cable that are allowed; all when empty.
        laying: Vec<Laying> = "laying" => list(word::<Laying>(), 0..=16).or(Vec::new()),
        /// Highest loss of level along a line at 1 kHz, dB, for its worst loudspeaker.
        loss_limit_db: f64 = "loss_limit" => quantity(Quantity::Level, 0.0..=6.0).like("0.5 dB").or(0.5),
        /// Share of a channel's rated power that the taps of its lines may add up to.
        load_share: f64 = "load_share" => quantity(Quantity::Fraction, 0.1..=1.0).or(0.8),
        /// When it is night for the neighbours' limits and the system is turned down: from one time to another.
        night_hours: Option<Hours> = "night_hours" => hours().optional(),
        /// How far the system is turned down at night, dB.
        night_turn_down_db: f64 = "night_turn_down" => quantity(Quantity::Level, 0.0..=60.0).like("10 dB").or(0.0),
        /// How far the system is turned down in the evening, when people talk, dB; there is no evening setting when absent.
        evening_turn_down_db: Option<f64> = "evening_turn_down" => quantity(Quantity::Level, 0.0..=60.0).like("6 dB").optional(),
        /// Level of the garden on a quiet night, which the system's own noise stays below, LAeq.
        quiet_night_dba: f64 = "quiet_night" => quantity(Quantity::Level, 0.0..=70.0).like("30 dBA").or(30.0),
        /// Margin below every neighbour's limit that a design must keep, dB.
        neighbour_margin_db: f64 = "neighbour_margin" => quantity(Quantity::Level, 0.0..=20.0).like("3 dB").or(3.0),
        /// How loudspeakers on one programme add up in the low octaves at a neighbour.
        neighbour_in_step: InStep = "neighbour_in_step" => word::<InStep>().or(InStep::Energy),
        /// Nearest a listener's ear comes to a loudspeaker, for the highest level anyone can stand in.
        nearest_listener_m: f64 = "nearest_listener" => quantity(Quantity::Length, 0.1..=20.0).like("0.5 m or 20 in").or(0.5),
        /// Frequency below which loudspeakers on one programme add as waves, above which as energy.
        coherent_below_hz: f64 = "coherent_below" => quantity(Quantity::Frequency, 20.0..=2000.0).like("400 Hz").or(400.0),
        /// What a proposed design may use.
        wishes: Wishes = "wishes" => nested_or_empty::<Wishes>(),
        /// What is to be left spare for later.
        spare: Spare = "spare" => nested_or_empty::<Spare>(),
    }
}

choice! {
    /// How loudspeakers on one programme add up in the low octaves at a neighbour.
    InStep {
        /// In energy, as ISO 9613-2 has it: two alike give 3 dB more than one.
        Energy = "energy",
        /// In step, the worst there can be: two alike give 6 dB more than one, in the octaves up to `coherent_below`.
        Worst = "worst",
    }
}

record! {
    /// What a proposed design may use.
    Wishes {
        /// Catalogue ids of the loudspeakers that may be proposed; any when empty.
        models: Vec<String> = "models" => list(text(), 0..=200).or(Vec::new()),
        /// Catalogue ids of loudspeakers that may not be proposed.
        not_models: Vec<String> = "not_models" => list(text(), 0..=200).or(Vec::new()),
        /// Most loudspeakers to propose, subwoofers included.
        at_most: Option<u32> = "at_most" => whole(1..=10_000).optional(),
        /// Least distance from a loudspeaker to paving and paths.
        path_setback_m: f64 = "path_setback" => quantity(Quantity::Length, 0.0..=10.0).like("0.3 m or 1 ft").or(0.3),
        /// Whether the loudspeakers of a listening area are alike, or mixed where that costs less.
        matching: Matching = "matching" => word::<Matching>().or(Matching::Alike),
        /// Least distance between two loudspeakers that are alike in an area: nearer together they are heard as one, with
        /// gaps in the treble where their sound cancels.
        apart_m: f64 = "apart" => quantity(Quantity::Length, 0.0..=20.0).like("1.5 m or 5 ft").or(1.5),
        /// Least distance from a loudspeaker to the edge of the bed it stands in, where the bed is wide enough: room for the
        /// spade and the mower.
        edge_setback_m: f64 = "edge_setback" => quantity(Quantity::Length, 0.0..=5.0).like("0.15 m or 6 in").or(0.15),
        /// Least distance from a loudspeaker to open water.
        water_setback_m: f64 = "water_setback" => quantity(Quantity::Length, 0.0..=50.0).like("3 m or 10 ft").or(3.0),
    }
}

choice! {
    /// Whether the loudspeakers of a listening area are alike.
    Matching {
        /// One model and one tap in each listening area, evenly spaced in rows.
        Alike = "alike",
        /// Any models side by side, each on a tap of its own, wherever they cost least.
        Mixed = "mixed",
    }
}

record! {
    /// Something that is played.
    Programme {
        /// What it is.
        name: String = "name" => text().or(""),
        /// How its energy spreads over frequency.
        spectrum: Spectrum = "spectrum" => word::<Spectrum>().or(Spectrum::SimulatedProgramme),
        /// Own spectrum: relative level per third octave, dB; overrides `spectrum`.
        levels_db: Option<Vec<(f64, f64)>> = "levels" => over_frequency(quantity(Quantity::Level, -100.0..=100.0).like("-6 dB")).optional(),
        /// Peak over RMS, dB, apart from how its energy spreads: 3.01 sine, 6 the test signal of IEC 60268-1, 9 to 12 dense
        /// music, 15 and more live.
        crest_factor_db: f64 = "crest_factor" => quantity(Quantity::Level, 3.0..=30.0).like("12 dB").or(12.0),
        /// Whether it is speech, to be understood: no subwoofer is to play it, and other programmes heard where it is wanted
        /// are judged by how they mask it.
        speech: bool = "speech" => flag().or(false),
        /// Lowest frequency it is to be played from; for speech 88 Hz when absent, else whatever loudspeakers take.
        low_cut_hz: Option<f64> = "low_cut" => quantity(Quantity::Frequency, 20.0..=500.0).like("80 Hz").optional(),
        /// How the loudspeakers that play it are to be fed, where it differs from the brief.
        supply: Option<Supply> = "supply" => word::<Supply>().optional(),
    }
}

/// Lower edge of the 125 Hz octave, the lowest that speech is judged in (IEC 60268-16), Hz.
const SPEECH_FROM_HZ: f64 = 88.0;

impl Programme {
    /// Lowest frequency it is to be played from, Hz; none where loudspeakers alone decide.
    pub fn lowest_hz(&self) -> Option<f64> {
        self.low_cut_hz.or(self.speech.then_some(SPEECH_FROM_HZ))
    }
}

choice! {
    /// How a programme's energy spreads over frequency.
    Spectrum {
        /// Equal energy per third octave.
        Pink = "pink",
        /// Spectrum of the simulated programme signal of IEC 60268-1; its crest factor, 6 dB, is not meant by it.
        SimulatedProgramme = "simulated programme",
    }
}

record! {
    /// A place where people listen.
    Area {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Its outline.
        outline: Polygon = "outline" => outline().required(),
        /// Whether people sit or stand; sets the ear height.
        listeners: Listeners = "listeners" => word::<Listeners>().or(Listeners::Standing),
        /// Ear height above the ground; overrides `listeners`.
        ear_height_m: Option<f64> = "ear_height" => quantity(Quantity::Length, 0.05..=5.0).like("1.2 m or 4 ft").optional(),
        /// Level wanted, LAeq.
        target_dba: f64 = "target" => quantity(Quantity::Level, 30.0..=115.0).like("70 dBA").required(),
        /// How far from the target a place may be, dB either way.
        within_db: f64 = "within" => quantity(Quantity::Level, 0.5..=12.0).like("3 dB").or(3.0),
        /// Bass wanted: level of the octaves 31.5 to 125 Hz over the mid band (500 to 2000 Hz), dB.
        bass_db: Option<f64> = "bass" => quantity(Quantity::Level, -20.0..=20.0).like("3 dB").optional(),
        /// Most bass that is wanted, in the same way; no limit when absent.
        bass_at_most_db: Option<f64> = "bass_at_most" => quantity(Quantity::Level, -20.0..=20.0).like("6 dB").optional(),
        /// Programme wanted here; the first programme when absent.
        programme: Option<String> = "programme" => text().optional(),
        /// Zone it belongs to.
        zone: Option<String> = "zone" => text().optional(),
        /// Phase it is built in; that of its zone when absent.
        phase: Option<String> = "phase" => text().optional(),
    }
}

choice! {
    /// Whether people sit or stand.
    Listeners {
        /// Ears at 1.2 m.
        Seated = "seated",
        /// Ears at 1.6 m.
        Standing = "standing",
    }
}

impl Area {
    /// Ear height above the ground, metres.
    pub fn ear_m(&self) -> f64 {
        self.ear_height_m.unwrap_or(match self.listeners {
            Listeners::Seated => 1.2,
            Listeners::Standing => 1.6,
        })
    }
}

record! {
    /// A place where quiet is wanted: points, or a boundary line.
    Neighbour {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Single points (a window, a balcony).
        points: Vec<Point2> = "points" => list(point(), 0..=1000).or(Vec::new()),
        /// A boundary line.
        line: Vec<Point2> = "line" => list(point(), 0..=1000).or(Vec::new()),
        /// Height above ground: 4 m is an upper window, as noise maps use it.
        height_m: f64 = "height" => quantity(Quantity::Length, 0.1..=200.0).like("4 m or 13 ft").or(4.0),
        /// Floors one above the other at the same points and line, each judged on its own, by floor; then `height` counts
        /// no more.
        floors: IndexMap<String, Floor> = "floors" => map_of::<Floor>(),
        /// Limit by day, LAeq.
        day_dba: f64 = "day" => quantity(Quantity::Level, 10.0..=120.0).like("50 dBA").required(),
        /// Limit by night, LAeq; as by day when absent.
        night_dba: Option<f64> = "night" => quantity(Quantity::Level, 10.0..=120.0).like("40 dBA").optional(),
        /// Limit of the 63 Hz octave by day, unweighted.
        day_63hz_db: Option<f64> = "day_63hz" => quantity(Quantity::Level, 10.0..=120.0).like("60 dB").optional(),
        /// Limit of the 63 Hz octave by night, unweighted.
        night_63hz_db: Option<f64> = "night_63hz" => quantity(Quantity::Level, 10.0..=120.0).like("50 dB").optional(),
    }
}

record! {
    /// A floor of a neighbour's house.
    Floor {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Height of its windows above ground.
        height_m: f64 = "height" => quantity(Quantity::Length, 0.1..=200.0).like("4 m or 13 ft").required(),
    }
}

impl Neighbour {
    /// Where it is judged one above the other: the id of each floor, none where it has no floors of its own, and the height
    /// above ground, metres.
    pub fn levels_m(&self) -> Vec<(Option<&str>, f64)> {
        if self.floors.is_empty() {
            return vec![(None, self.height_m)];
        }
        self.floors.iter().map(|(id, f)| (Some(id.as_str()), f.height_m)).collect()
    }
}
