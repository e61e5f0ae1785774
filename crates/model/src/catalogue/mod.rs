//! The catalogue: equipment and prices, from TOML files. Ids are generic descriptions; there are no brands.

mod amplifiers;
mod cables;
mod loudspeakers;
mod prices;

pub use amplifiers::{AmplifierInputs, AmplifierModel};
pub use cables::{Cable, CableRating, Conduit, Connector};
pub use loamline_terms::Strands;
pub use loudspeakers::{
    Coverage, Dimensions, Directivity, DirectivityKind, DualCoil, Hole, ImpedanceModel, Leads,
    LoudspeakerKind, LoudspeakerModel, MakerSettings, ReferenceSpace, ThieleSmall, TransformerModel,
    Withstands,
};
pub use prices::{LayingPrice, Prices, TaskPrice};

use indexmap::IndexMap;

record! {
    /// One catalogue file, or several put together (a later file's entry replaces an earlier one of the same id).
    Catalogue {
        /// Loudspeakers by id.
        loudspeakers: IndexMap<String, LoudspeakerModel> = "loudspeakers" => map_of::<LoudspeakerModel>(),
        /// Amplifiers by id.
        amplifiers: IndexMap<String, AmplifierModel> = "amplifiers" => map_of::<AmplifierModel>(),
        /// Cables by id.
        cables: IndexMap<String, Cable> = "cables" => map_of::<Cable>(),
        /// Connectors by id.
        connectors: IndexMap<String, Connector> = "connectors" => map_of::<Connector>(),
        /// Conduits by id.
        conduits: IndexMap<String, Conduit> = "conduits" => map_of::<Conduit>(),
        /// Prices of labour, laying and sundries.
        prices: Option<Prices> = "prices" => nested::<Prices>().optional(),
    }
}

impl Catalogue {
    /// Puts another catalogue on top: its entries replace those of the same id, its prices the prices.
    pub fn add(&mut self, other: Self) {
        self.loudspeakers.extend(other.loudspeakers);
        self.amplifiers.extend(other.amplifiers);
        self.cables.extend(other.cables);
        self.connectors.extend(other.connectors);
        self.conduits.extend(other.conduits);
        self.prices = other.prices.or_else(|| self.prices.take());
    }

    /// A catalogue without entries.
    pub fn empty() -> Self {
        Self {
            loudspeakers: IndexMap::new(),
            amplifiers: IndexMap::new(),
            cables: IndexMap::new(),
            connectors: IndexMap::new(),
            conduits: IndexMap::new(),
            prices: None,
        }
    }
}
