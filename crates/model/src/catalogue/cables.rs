//! Cables, connectors and conduits of the catalogue.

use crate::units::Quantity;
use loamline_terms::Strands;
use rust_decimal::Decimal;

choice! {
    /// Where a cable may be laid.
    CableRating {
        /// In soil without conduit.
        Burial = "burial",
        /// In conduit outdoors.
        Conduit = "conduit",
        /// On a wall outdoors, in sunlight.
        Sunlight = "sunlight",
    }
}

record! {
    /// A cable of the catalogue.
    Cable {
        /// What it is, for the papers.
        description: String = "description" => text().required(),
        /// Size of a conductor: a gauge ("14 AWG") or an area ("2.5 mm2"). Square millimetres.
        conductor_mm2: f64 = "conductor" => quantity(Quantity::ConductorArea, 0.01..=1000.0).required(),
        /// Number of conductors.
        conductors: u32 = "conductors" => whole(2..=24).required(),
        /// How they are made.
        strands: Strands = "strands" => word::<Strands>().or(Strands::Stranded),
        /// Outside diameter.
        outside_diameter_m: f64 = "outside_diameter" => quantity(Quantity::Length, 0.002..=0.2).like("8 mm or 0.3 in").required(),
        /// Where it may be laid.
        ratings: Vec<CableRating> = "ratings" => list(word::<CableRating>(), 0..=4).required(),
        /// Coldest air it may lie in; not known when absent.
        coldest_c: Option<f64> = "coldest" => quantity(Quantity::Temperature, -70.0..=30.0).like("-30 C or -22 F").optional(),
        /// Hottest air it may lie in; not known when absent.
        hottest_c: Option<f64> = "hottest" => quantity(Quantity::Temperature, 0.0..=150.0).like("70 C or 158 F").optional(),
        /// Colours of its conductors, pair by pair, positive first.
        colours: Vec<String> = "colours" => list(text(), 0..=24).or(Vec::new()),
        /// Inductance of a pair's loop, henries per metre.
        inductance_h_per_m: f64 = "inductance" => quantity(Quantity::InductancePerLength, 0.0..=1.0e-5).or(0.65e-6),
        /// Capacitance of a pair, farads per metre.
        capacitance_f_per_m: f64 = "capacitance" => quantity(Quantity::CapacitancePerLength, 0.0..=1.0e-8).or(60.0e-12),
        /// Longest it may be pulled through a sleeve between places to pull from; not known when absent.
        longest_pull_m: Option<f64> = "longest_pull" => quantity(Quantity::Length, 1.0..=1000.0).like("60 m or 200 ft").optional(),
        /// Lengths it is sold in, spool by spool.
        spools_m: Vec<f64> = "spools" => list(quantity(Quantity::Length, 1.0..=5000.0).like("150 m or 500 ft"), 1..=10).required(),
        /// Price per metre.
        price_per_m: Decimal = "price_per_m" => money().required(),
    }
}

record! {
    /// A connector of the catalogue.
    Connector {
        /// What it is, for the papers.
        description: String = "description" => text().required(),
        /// Smallest conductor it takes, square millimetres.
        smallest_mm2: f64 = "smallest" => quantity(Quantity::ConductorArea, 0.01..=1000.0).required(),
        /// Largest conductor it takes, square millimetres.
        largest_mm2: f64 = "largest" => quantity(Quantity::ConductorArea, 0.01..=1000.0).required(),
        /// Most conductors it joins.
        conductors: u32 = "conductors" => whole(2..=12).required(),
        /// Whether it is filled with gel and may be buried.
        gel_filled: bool = "gel_filled" => flag().or(true),
        /// Price of one.
        price: Decimal = "price" => money().required(),
    }
}

record! {
    /// A conduit of the catalogue.
    Conduit {
        /// What it is, for the papers.
        description: String = "description" => text().required(),
        /// Inside diameter.
        inside_diameter_m: f64 = "inside_diameter" => quantity(Quantity::Length, 0.005..=1.0).like("25 mm or 1 in").required(),
        /// Price per metre.
        price_per_m: Decimal = "price_per_m" => money().required(),
    }
}
