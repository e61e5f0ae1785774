//! The site: ground, walls, buildings, and what is already there.

use crate::units::Quantity;
use loamline_geometry::{Point2, Polygon};
use loamline_terms::{FlowClass, IpCode, Laying};
use rust_decimal::Decimal;

record! {
    /// The ground, the weather and the plan as a whole.
    Site {
        /// What the datum (x 0, y 0) is, so that a crew can find it.
        datum: String = "datum" => text().or(""),
        /// Bearing of true north from plan north, clockwise.
        true_north_deg: f64 = "true_north" => quantity(Quantity::Angle, -360.0..=360.0).or(0.0),
        /// Outline of the property.
        outline: Option<Polygon> = "outline" => outline().optional(),
        /// Ground where no surface is drawn.
        ground: SurfaceKind = "ground" => word::<SurfaceKind>().or(SurfaceKind::Lawn),
        /// Air on the day the levels are stated for.
        air: Air = "air" => nested_or_empty::<Air>(),
        /// Plan image under the drawing.
        underlay: Option<Underlay> = "underlay" => nested::<Underlay>().optional(),
        /// What is asked of equipment and ground work at this place.
        local: LocalFigures = "local" => nested_or_empty::<LocalFigures>(),
        /// The request that buried services be located and marked before anybody digs.
        locating: Locating = "locating" => nested_or_empty::<Locating>(),
    }
}

record! {
    /// What is asked of equipment and ground work at this place, as the local code or whoever is responsible there has it.
    /// Nothing is taken for a figure that is absent.
    LocalFigures {
        /// Protection of enclosures outdoors that is asked for.
        protection: Option<IpCode> = "protection" => ip_code().optional(),
        /// Coldest air there is.
        coldest_c: Option<f64> = "coldest" => quantity(Quantity::Temperature, -70.0..=30.0).like("-10 C or 14 F").optional(),
        /// Hottest air there is.
        hottest_c: Option<f64> = "hottest" => quantity(Quantity::Temperature, 0.0..=60.0).like("35 C or 95 F").optional(),
        /// Whether the air is salt: at the sea, at a salt-water pool.
        salt_air: bool = "salt_air" => flag().or(false),
        /// Least distance from loudspeakers and racks to open water.
        from_water_m: Option<f64> = "from_water" => quantity(Quantity::Length, 0.0..=50.0).like("3 m or 10 ft").optional(),
        /// Least distance from loudspeaker cable to buried mains cable beside it.
        from_mains_m: Option<f64> = "from_mains" => quantity(Quantity::Length, 0.0..=10.0).like("0.3 m or 1 ft").optional(),
        /// Least ground over a cable in a trench.
        cable_cover_m: Option<f64> = "cable_cover" => quantity(Quantity::Length, 0.0..=3.0).like("0.45 m or 18 in").optional(),
        /// Least ground over a cable in a slit; `cable_cover` when absent.
        slit_cover_m: Option<f64> = "slit_cover" => quantity(Quantity::Length, 0.0..=3.0).like("0.15 m or 6 in").optional(),
        /// Least depth of cable and conduit under paving.
        paving_cover_m: Option<f64> = "paving_cover" => quantity(Quantity::Length, 0.0..=3.0).like("0.1 m or 4 in").optional(),
        /// How deep the ground freezes.
        frost_depth_m: Option<f64> = "frost_depth" => quantity(Quantity::Length, 0.0..=5.0).like("0.8 m or 32 in").optional(),
        /// Longest that cable may be pulled through a sleeve between places to pull from.
        longest_pull_m: Option<f64> = "longest_pull" => quantity(Quantity::Length, 1.0..=1000.0).like("60 m or 200 ft").optional(),
    }
}

record! {
    /// A request to the owners of buried services, or to the office that calls them all, to mark what they have.
    Locating {
        /// Its number.
        number: String = "number" => text().or(""),
        /// Day it was made.
        made: String = "made" => text().or(""),
        /// First day the marks may be relied on.
        from: String = "from" => text().or(""),
        /// Last day they hold; after it nobody digs before a new request.
        until: String = "until" => text().or(""),
    }
}

record! {
    /// Air on the day the levels are stated for.
    Air {
        /// Temperature, degrees Celsius.
        temperature_c: f64 = "temperature" => quantity(Quantity::Temperature, -30.0..=50.0).or(20.0),
        /// Relative humidity, as a fraction.
        humidity: f64 = "humidity" => quantity(Quantity::Fraction, 0.05..=1.0).or(0.7),
        /// Pressure, pascals.
        pressure_pa: f64 = "pressure" => quantity(Quantity::AirPressure, 50.0e3..=110.0e3).or(101_325.0),
    }
}

record! {
    /// Plan image under the drawing.
    Underlay {
        /// File in the job's folder.
        image: String = "image" => text().required(),
        /// Metres on the ground per pixel.
        metres_per_pixel: f64 = "metres_per_pixel" => quantity(Quantity::Number, 1.0e-4..=100.0).like("0.02").required(),
        /// Where the image's lower left corner stands.
        origin: Point2 = "origin" => point().or(Point2::new(0.0, 0.0)),
        /// Bearing of the image's upward side.
        up_deg: f64 = "up" => quantity(Quantity::Angle, -360.0..=360.0).or(0.0),
    }
}

choice! {
    /// What the ground is.
    SurfaceKind {
        /// Mown grass.
        Lawn = "lawn",
        /// Planted bed under mulch.
        Bed = "bed",
        /// Loose gravel.
        Gravel = "gravel",
        /// Paving, asphalt or concrete.
        Paving = "paving",
        /// Timber deck on joists.
        Deck = "deck",
        /// Bare or rough soil.
        Soil = "soil",
        /// Under trees, leaf litter.
        Woodland = "woodland",
        /// Open water.
        Water = "water",
    }
}

impl SurfaceKind {
    /// Class of effective flow resistivity that is usual for this ground (Nordtest ACOU 104).
    pub const fn flow_class(self) -> FlowClass {
        match self {
            Self::Lawn => FlowClass::E,
            Self::Bed | Self::Soil => FlowClass::D,
            Self::Woodland => FlowClass::B,
            Self::Gravel => FlowClass::E,
            Self::Paving | Self::Deck => FlowClass::G,
            Self::Water => FlowClass::H,
        }
    }

    /// Usual way of laying cable in it; `None` where cable is not laid.
    pub const fn laying(self) -> Option<Laying> {
        match self {
            Self::Lawn => Some(Laying::Slit),
            Self::Bed | Self::Woodland | Self::Gravel => Some(Laying::Staked),
            Self::Soil => Some(Laying::Trench),
            Self::Paving => Some(Laying::LiftedPaving),
            Self::Deck => Some(Laying::Clipped),
            Self::Water => None,
        }
    }

    /// Whether a loudspeaker can usually be mounted in it.
    pub const fn takes_loudspeakers(self) -> bool {
        matches!(self, Self::Bed | Self::Gravel | Self::Soil | Self::Woodland)
    }
}

record! {
    /// A piece of ground.
    Surface {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Its outline.
        outline: Polygon = "outline" => outline().required(),
        /// What it is made of.
        kind: SurfaceKind = "kind" => word::<SurfaceKind>().required(),
        /// Class of flow resistivity; usual for the kind when absent.
        flow_class: Option<FlowClass> = "flow_class" => word::<FlowClass>().optional(),
        /// Height of the ground above the datum.
        elevation_m: f64 = "elevation" => quantity(Quantity::Length, -500.0..=9000.0).like("0.3 m or 1 ft").or(0.0),
        /// How cable is laid here; usual for the kind when absent.
        laying: Option<Laying> = "laying" => word::<Laying>().optional(),
        /// Price of laying a metre of cable here; from the price book when absent.
        laying_price: Option<Decimal> = "laying_price" => money().optional(),
        /// Whether loudspeakers may stand here; usual for the kind when absent.
        loudspeakers: Option<bool> = "loudspeakers" => flag().optional(),
    }
}

impl Surface {
    /// Class of flow resistivity, stated or usual for the kind.
    pub fn flow(&self) -> FlowClass {
        self.flow_class.unwrap_or(self.kind.flow_class())
    }

    /// Way of laying cable, stated or usual for the kind; `None` where cable is not laid.
    pub fn laying_method(&self) -> Option<Laying> {
        self.laying.or(self.kind.laying())
    }

    /// Whether loudspeakers may stand here, stated or usual for the kind.
    pub fn takes_loudspeakers(&self) -> bool {
        self.loudspeakers.unwrap_or(self.kind.takes_loudspeakers())
    }
}

choice! {
    /// What a wall is.
    WallKind {
        /// Masonry, concrete or stone.
        Masonry = "masonry",
        /// Solid boards without gaps.
        Fence = "fence",
        /// Hedge or planting: does not screen sound.
        Hedge = "hedge",
    }
}

record! {
    /// A wall, fence or hedge.
    Wall {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Its line in plan.
        line: Vec<Point2> = "line" => line().required(),
        /// Height from foot to top.
        height_m: f64 = "height" => quantity(Quantity::Length, 0.05..=60.0).like("1.8 m or 6 ft").required(),
        /// Height of its foot above the datum. When it and `top` are absent: the lowest ground on either side of it,
        /// along the whole of its line.
        foot_m: Option<f64> = "foot" => quantity(Quantity::Length, -500.0..=9000.0).like("0.3 m or 1 ft").optional(),
        /// Height of its top above the datum, instead of `foot`.
        top_m: Option<f64> = "top" => quantity(Quantity::Length, -500.0..=9060.0).like("2.1 m or 7 ft").optional(),
        /// What it is made of.
        kind: WallKind = "kind" => word::<WallKind>().or(WallKind::Masonry),
        /// Share of energy its faces absorb, the same in every band.
        absorption: Option<f64> = "absorption" => quantity(Quantity::Fraction, 0.0..=1.0).like("20 %").optional(),
        /// Share of energy its faces absorb, by frequency; overrides `absorption`.
        absorption_bands: Option<Vec<(f64, f64)>> = "absorption_bands" => over_frequency(quantity(Quantity::Fraction, 0.0..=1.0).like("20 %")).optional(),
        /// Whether cable may be clipped along it.
        clip: bool = "clip" => flag().or(false),
        /// Whether loudspeakers may be fixed to it.
        loudspeakers: bool = "loudspeakers" => flag().or(false),
    }
}

impl Wall {
    /// Height of its foot above the datum, metres, where the wall says its foot or its top.
    pub fn stated_foot_m(&self) -> Option<f64> {
        self.foot_m.or(self.top_m.map(|top_m| top_m - self.height_m))
    }
}

record! {
    /// A building.
    Building {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Its outline.
        outline: Polygon = "outline" => outline().required(),
        /// Height above the ground it stands on: the lowest outside along its outline.
        height_m: f64 = "height" => quantity(Quantity::Length, 0.5..=300.0).like("3 m or 10 ft").required(),
        /// Share of energy its faces absorb, the same in every band.
        absorption: Option<f64> = "absorption" => quantity(Quantity::Fraction, 0.0..=1.0).like("20 %").optional(),
        /// Share of energy its faces absorb, by frequency; overrides `absorption`.
        absorption_bands: Option<Vec<(f64, f64)>> = "absorption_bands" => over_frequency(quantity(Quantity::Fraction, 0.0..=1.0).like("20 %")).optional(),
        /// Whether cable may be clipped along its walls.
        clip: bool = "clip" => flag().or(false),
        /// Whether new holes for cable may be made through its outer walls; passages and stubs may be used in any case.
        holes: bool = "holes" => flag().or(true),
        /// Whether loudspeakers may be fixed to its walls or eaves.
        loudspeakers: bool = "loudspeakers" => flag().or(false),
    }
}

record! {
    /// A place where nothing may be put or laid.
    NoGo {
        /// Why.
        reason: String = "reason" => text().or(""),
        /// Its outline.
        outline: Polygon = "outline" => outline().required(),
    }
}

choice! {
    /// What a buried service carries.
    ServiceKind {
        /// Mains electricity.
        Electric = "electric",
        /// Gas.
        Gas = "gas",
        /// Water under pressure.
        Water = "water",
        /// Drain or sewer.
        Drain = "drain",
        /// Irrigation.
        Irrigation = "irrigation",
        /// Telephone or data.
        Telecom = "telecom",
        /// Not known.
        Unknown = "unknown",
    }
}

record! {
    /// A buried service.
    Service {
        /// What it carries.
        kind: ServiceKind = "kind" => word::<ServiceKind>().required(),
        /// Its line in plan, as far as known.
        line: Vec<Point2> = "line" => line().required(),
        /// Depth of its top, where known.
        depth_m: Option<f64> = "depth" => quantity(Quantity::Length, 0.0..=20.0).like("0.6 m or 2 ft").optional(),
        /// Least distance to keep when laying beside it.
        clearance_m: f64 = "clearance" => quantity(Quantity::Length, 0.0..=10.0).like("0.3 m or 1 ft").or(0.3),
        /// Charge for each crossing (digging by hand); from the price book when absent.
        crossing_charge: Option<Decimal> = "crossing_charge" => money().optional(),
    }
}

record! {
    /// An existing sleeve or conduit from one end of its line to the other.
    Sleeve {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Its line in plan; cable goes in at either end.
        line: Vec<Point2> = "line" => line().required(),
        /// Inside diameter.
        inside_diameter_m: f64 = "inside_diameter" => quantity(Quantity::Length, 0.005..=1.0).like("50 mm or 2 in").required(),
        /// Outside diameters of what is in it already.
        holds_m: Vec<f64> = "holds" => list(quantity(Quantity::Length, 0.001..=0.5).like("8 mm or 0.3 in"), 0..=100).or(Vec::new()),
        /// Places along its line, from its first point, at which cable can be pulled: pull pits.
        pits_m: Vec<f64> = "pits" => list(quantity(Quantity::Length, 0.0..=5000.0).like("40 m or 130 ft"), 0..=100).or(Vec::new()),
    }
}

record! {
    /// An opening through the outer wall of a building that cable may be drawn through.
    Passage {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Where it is in the outer wall, in plan.
        position: Point2 = "position" => point().required(),
        /// Inside diameter.
        inside_diameter_m: f64 = "inside_diameter" => quantity(Quantity::Length, 0.005..=1.0).like("50 mm or 2 in").required(),
        /// Outside diameters of what is in it already.
        holds_m: Vec<f64> = "holds" => list(quantity(Quantity::Length, 0.001..=0.5).like("8 mm or 0.3 in"), 0..=100).or(Vec::new()),
    }
}

record! {
    /// An existing cable end that can be picked up.
    Stub {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Where it comes out of the ground.
        position: Point2 = "position" => point().required(),
        /// Catalogue id of the cable.
        cable: String = "cable" => text().required(),
        /// Rack where its other end is; may be left out where there is only one.
        rack: Option<String> = "rack" => text().optional(),
        /// Length of cable from end to end, as stated or measured; unknown when absent.
        length_m: Option<f64> = "length" => quantity(Quantity::Length, 0.1..=5000.0).like("25 m or 80 ft").optional(),
        /// Pairs free to use, from 1; all of the cable's when absent.
        free_pairs: Option<Vec<u32>> = "free_pairs" => list(whole(1..=12), 0..=12).optional(),
        /// How many conductors are free, where it is not known which pairs; all of the cable's when absent.
        free_conductors: Option<u32> = "free_conductors" => whole(0..=24).optional(),
        /// What is printed on its jacket, for whoever judges it by the local code.
        marking: String = "marking" => text().or(""),
        /// Spare length at this end.
        tail_m: f64 = "tail" => quantity(Quantity::Length, 0.0..=100.0).like("0.6 m or 2 ft").or(0.6),
    }
}

record! {
    /// A place for amplifiers.
    Rack {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Where cable leaves it, in plan.
        position: Point2 = "position" => point().required(),
        /// Height at which cable leaves it above the ground, negative below it: in a cellar.
        height_m: f64 = "height" => quantity(Quantity::Length, -10.0..=50.0).like("0.5 m or 20 in").or(0.5),
        /// Mains voltage; the job's when absent.
        mains_v: Option<f64> = "mains" => quantity(Quantity::Voltage, 90.0..=260.0).like("230 V").optional(),
        /// Rated current of one mains circuit; the job's when absent.
        circuit_a: Option<f64> = "circuit" => quantity(Quantity::Current, 1.0..=125.0).like("16 A").optional(),
        /// Height units there are in it for equipment.
        units: Option<u32> = "units" => whole(1..=100).optional(),
        /// Zone it belongs to.
        zone: Option<String> = "zone" => text().optional(),
        /// Phase it is built in; that of its zone when absent.
        phase: Option<String> = "phase" => text().optional(),
    }
}

record! {
    /// A fixed point to tape from.
    Mark {
        /// What it is, so that a crew finds it.
        name: String = "name" => text().required(),
        /// Where it is.
        position: Point2 = "position" => point().required(),
    }
}
