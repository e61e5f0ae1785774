//! Ground by how sound meets it.

words! {
    /// Class of effective flow resistivity (Nordtest ACOU 104; Directive (EU) 2015/996).
    FlowClass {
        /// Moss or snow, 12.5 kPa s/m2.
        A = "A",
        /// Soft forest floor, 31.5 kPa s/m2.
        B = "B",
        /// Loose turf, 80 kPa s/m2.
        C = "C",
        /// Normal uncompacted soil, 200 kPa s/m2.
        D = "D",
        /// Compacted lawn or gravel, 500 kPa s/m2.
        E = "E",
        /// Dense gravel, 2000 kPa s/m2.
        F = "F",
        /// Asphalt or paving, 20 000 kPa s/m2.
        G = "G",
        /// Concrete and water, 200 000 kPa s/m2.
        H = "H",
    }
}

impl FlowClass {
    /// Effective flow resistivity, kPa s/m2: the unit of the tables and of the impedance formula they belong to.
    pub const fn flow_resistivity_kpa_s_per_m2(self) -> f64 {
        match self {
            Self::A => 12.5,
            Self::B => 31.5,
            Self::C => 80.0,
            Self::D => 200.0,
            Self::E => 500.0,
            Self::F => 2000.0,
            Self::G => 20_000.0,
            Self::H => 200_000.0,
        }
    }

    /// Ground factor of ISO 9613-2: 1 for porous ground, 0 for hard ground.
    pub const fn ground_factor(self) -> f64 {
        match self {
            Self::A | Self::B | Self::C | Self::D => 1.0,
            Self::E => 0.7,
            Self::F => 0.3,
            Self::G | Self::H => 0.0,
        }
    }
}
