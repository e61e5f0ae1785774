//! The system: loudspeakers, lines of cable, amplifiers and their processing.

use crate::units::Quantity;
use indexmap::IndexMap;
use loamline_geometry::Point2;
use loamline_terms::{Polarity, Supply};

record! {
    /// A loudspeaker in its place.
    Loudspeaker {
        /// Catalogue id of the model.
        model: String = "model" => text().required(),
        /// Where it stands, in plan.
        position: Point2 = "position" => point().required(),
        /// Height of its acoustic centre above local ground; usual for the model when absent.
        height_m: Option<f64> = "height" => quantity(Quantity::Length, -2.0..=60.0).like("0.3 m or 1 ft").optional(),
        /// Where it points, clockwise from plan north.
        bearing_deg: f64 = "bearing" => quantity(Quantity::Angle, -360.0..=360.0).or(0.0),
        /// How far up (positive) or down it points.
        pitch_deg: f64 = "pitch" => quantity(Quantity::Angle, -90.0..=90.0).or(0.0),
        /// Transformer tap at the line's rated voltage, watts; absent on a low-impedance line.
        tap_w: Option<f64> = "tap" => quantity(Quantity::Power, 0.1..=2000.0).like("10 W").optional(),
        /// Line it hangs on.
        line: Option<String> = "line" => text().optional(),
        /// How it is fixed; usual for the model when absent.
        mount: Option<Mount> = "mount" => word::<Mount>().optional(),
        /// Which conductor goes to its positive terminal.
        polarity: Polarity = "polarity" => word::<Polarity>().or(Polarity::Normal),
        /// How the two voice coils of a dual-coil subwoofer are wired.
        coils: Option<Coils> = "coils" => word::<Coils>().optional(),
        /// Whether its place, aim and model are fixed by the person.
        pinned: bool = "pinned" => flag().or(false),
        /// Serial number of the piece that was put up.
        serial: String = "serial" => text().or(""),
        /// Note for the crew.
        note: String = "note" => text().or(""),
    }
}

choice! {
    /// How a loudspeaker is fixed.
    Mount {
        /// On a ground stake.
        Stake = "stake",
        /// On a bracket on a wall or post.
        Bracket = "bracket",
        /// On a bracket under the eaves.
        Eaves = "eaves",
        /// Standing on the ground.
        Surface = "surface",
        /// In a hole, its port above the ground.
        InGround = "in ground",
        /// Bolted to a base in the ground.
        Base = "base",
    }
}

choice! {
    /// How two voice coils are wired.
    Coils {
        /// One after the other: impedances add.
        Series = "series",
        /// In parallel: impedance halves.
        Parallel = "parallel",
    }
}

choice! {
    /// What a joint is.
    JointKind {
        /// A joint in the ground.
        Buried = "buried",
        /// A joint in a box that can be opened.
        Box = "box",
    }
}

record! {
    /// A joint away from a loudspeaker.
    Joint {
        /// Where it is.
        position: Point2 = "position" => point().required(),
        /// Whether it can be opened.
        kind: JointKind = "kind" => word::<JointKind>().or(JointKind::Buried),
        /// Note for the crew.
        note: String = "note" => text().or(""),
    }
}

choice! {
    /// Where a line may branch.
    Topology {
        /// Daisy chain: from loudspeaker to loudspeaker only.
        Chain = "chain",
        /// Branched: also at joints in boxes.
        Tree = "tree",
    }
}

record! {
    /// A line of loudspeakers: runs of cable from a rack through joints.
    Line {
        /// Channel that feeds it.
        channel: Option<String> = "channel" => text().optional(),
        /// Rack or stub it starts at; the rack of the channel's amplifier when absent.
        start: Option<String> = "start" => text().optional(),
        /// Catalogue id of its cable.
        cable: String = "cable" => text().required(),
        /// How its loudspeakers are fed, where it differs from what its programme or the brief says.
        supply: Option<Supply> = "supply" => word::<Supply>().optional(),
        /// Which pair of its own cable's conductors it uses, from 1; a run may use another. In a run of other cable that has
        /// one pair it uses that one.
        pair: u32 = "pair" => whole(1..=12).or(1u32),
        /// Which pairs of its stub's existing cable it takes, from 1; several are joined in parallel. When absent: the pair
        /// of the number it uses in its own cable where that one is free, else the next free one, lines in their order.
        stub_pairs: Vec<u32> = "stub_pairs" => list(whole(1..=12), 0..=12).or(Vec::new()),
        /// Where it may branch.
        topology: Topology = "topology" => word::<Topology>().or(Topology::Chain),
        /// Its runs of cable, by tag; together a tree that starts where the line starts.
        runs: IndexMap<String, Run> = "runs" => at_most::<Run>(&loamline_limits::RUNS),
        /// Zone it belongs to; that of the rack it starts at when absent.
        zone: Option<String> = "zone" => text().optional(),
        /// Phase it is built in; that of its zone when absent, or of its rack where it names no zone.
        phase: Option<String> = "phase" => text().optional(),
    }
}

record! {
    /// One length of cable between two joints.
    Run {
        /// Where it comes from: the line's start, a joint or a loudspeaker.
        from: String = "from" => text().required(),
        /// Where it goes: a joint or a loudspeaker.
        to: String = "to" => text().required(),
        /// Whether what is behind it stands in series with the loudspeaker at its end nearer to the line's start: the current
        /// goes through that loudspeaker first. On low impedance only.
        in_series: bool = "in_series" => flag().or(false),
        /// Points it passes on the way, in order.
        via: Vec<Point2> = "via" => list(point(), 0..=1000).or(Vec::new()),
        /// Length of cable, ends and service loops included; worked out from the way when absent.
        length_m: Option<f64> = "length" => quantity(Quantity::Length, 0.05..=5000.0).like("12 m or 40 ft").optional(),
        /// Catalogue id of its cable, where it differs from the line's.
        cable: Option<String> = "cable" => text().optional(),
        /// Which pair of its cable's conductors the line uses in it, from 1, where it differs from the line's.
        pair: Option<u32> = "pair" => whole(1..=12).optional(),
        /// Sleeves it is drawn through, by id.
        sleeves: Vec<String> = "sleeves" => list(text(), 0..=20).or(Vec::new()),
        /// Whether its way is fixed by the person.
        fixed: bool = "fixed" => flag().or(false),
        /// Whether its cable is there already: neither bought nor laid.
        existing: bool = "existing" => flag().or(false),
    }
}

record! {
    /// An amplifier in a rack.
    Amplifier {
        /// Catalogue id of the model.
        model: String = "model" => text().required(),
        /// Rack it stands in.
        rack: String = "rack" => text().required(),
        /// Phase it is put in; that of its rack when absent.
        phase: Option<String> = "phase" => text().optional(),
        /// Serial number of the piece that was put in.
        serial: String = "serial" => text().or(""),
        /// How it was left: where it is reached and what was loaded.
        commissioned: Option<Commissioned> = "commissioned" => nested::<Commissioned>().optional(),
    }
}

record! {
    /// How an amplifier was left.
    Commissioned {
        /// Its name on the network.
        network_name: String = "network_name" => text().or(""),
        /// Its address on the network.
        address: String = "address" => text().or(""),
        /// How it is reached where there is no network, in words.
        reached: String = "reached" => text().or(""),
        /// Its firmware.
        firmware: String = "firmware" => text().or(""),
        /// Day its settings were saved.
        backup_date: String = "backup_date" => text().or(""),
        /// File its settings were saved to.
        backup_file: String = "backup_file" => text().or(""),
        /// Who holds the password; never the password itself.
        password_held_by: String = "password_held_by" => text().or(""),
    }
}

record! {
    /// A channel of an amplifier, with its processing.
    Channel {
        /// Amplifier it belongs to.
        amplifier: String = "amplifier" => text().required(),
        /// Output of the amplifier, from 1.
        output: u32 = "output" => whole(1..=64).required(),
        /// Whether it is bridged with the next output.
        bridged: bool = "bridged" => flag().or(false),
        /// Inputs of its amplifier it adds, from 1; nothing is said about them when empty.
        inputs: Vec<u32> = "inputs" => list(whole(1..=64), 0..=64).or(Vec::new()),
        /// Programme it plays; the first programme when absent.
        programme: Option<String> = "programme" => text().optional(),
        /// Gain re full scale (0 dB) at the level the system is meant to play: re the line's voltage, at low impedance the
        /// greatest voltage of the amplifier.
        gain_db: f64 = "gain" => quantity(Quantity::Level, -80.0..=12.0).like("-6 dB").or(0.0),
        /// Delay, seconds.
        delay_s: f64 = "delay" => quantity(Quantity::Duration, 0.0..=2.0).like("10 ms").or(0.0),
        /// Polarity of the whole channel.
        polarity: Polarity = "polarity" => word::<Polarity>().or(Polarity::Normal),
        /// High-pass filter that protects transformers and drivers.
        high_pass: Option<Filter> = "high_pass" => nested::<Filter>().optional(),
        /// Low-pass filter, for subwoofers.
        low_pass: Option<Filter> = "low_pass" => nested::<Filter>().optional(),
        /// Equaliser sections, by name.
        equaliser: IndexMap<String, Equaliser> = "equaliser" => map_of::<Equaliser>(),
        /// Limiter.
        limiter: Option<Limiter> = "limiter" => nested::<Limiter>().optional(),
    }
}

choice! {
    /// Family of a high-pass or low-pass filter.
    FilterKind {
        /// Butterworth: flat pass band, -3.01 dB at the corner.
        Butterworth = "butterworth",
        /// Linkwitz-Riley: two Butterworth in a row, -6.02 dB at the corner.
        LinkwitzRiley = "linkwitz-riley",
        /// Bessel, normalised to -3.01 dB at the corner.
        Bessel = "bessel",
    }
}

record! {
    /// A high-pass or low-pass filter.
    Filter {
        /// Family.
        kind: FilterKind = "kind" => word::<FilterKind>().or(FilterKind::Butterworth),
        /// Order: 6 dB per octave each.
        order: u32 = "order" => whole(1..=8).or(4u32),
        /// Corner frequency.
        corner_hz: f64 = "corner" => quantity(Quantity::Frequency, 10.0..=20_000.0).like("90 Hz").required(),
    }
}

choice! {
    /// Kind of an equaliser section.
    EqualiserKind {
        /// Bell around its centre.
        Bell = "bell",
        /// Shelf below its corner.
        LowShelf = "low shelf",
        /// Shelf above its corner.
        HighShelf = "high shelf",
    }
}

record! {
    /// An equaliser section.
    Equaliser {
        /// Kind.
        kind: EqualiserKind = "kind" => word::<EqualiserKind>().or(EqualiserKind::Bell),
        /// Centre or corner frequency.
        frequency_hz: f64 = "frequency" => quantity(Quantity::Frequency, 10.0..=20_000.0).required(),
        /// Gain at the centre, or of the shelf.
        gain_db: f64 = "gain" => quantity(Quantity::Level, -24.0..=12.0).like("-3 dB").required(),
        /// Quality factor.
        q: f64 = "q" => quantity(Quantity::Number, 0.1..=20.0).like("0.7").or(0.707),
    }
}

record! {
    /// A limiter's thresholds at the amplifier's output.
    Limiter {
        /// RMS threshold, volts.
        rms_v: f64 = "rms" => quantity(Quantity::Voltage, 0.01..=1000.0).required(),
        /// Peak threshold, volts; when absent 6 dB over the RMS threshold (common practice, no source), and no more than the peak
        /// of a sine at the voltage of a line on the channel.
        peak_v: Option<f64> = "peak" => quantity(Quantity::Voltage, 0.01..=1500.0).like("100 V").optional(),
    }
}
