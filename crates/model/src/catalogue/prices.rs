//! Prices of labour, laying and sundries.

use crate::units::Quantity;
use indexmap::IndexMap;
use rust_decimal::Decimal;

record! {
    /// What laying a metre of cable one way costs.
    LayingPrice {
        /// Material per metre.
        material_per_m: Decimal = "material_per_m" => money().or(Decimal::ZERO),
        /// Labour per metre.
        labour_s_per_m: f64 = "labour_per_m" => quantity(Quantity::Duration, 0.0..=36_000.0).like("2 min").required(),
    }
}

record! {
    /// A task or sundry priced by the piece.
    TaskPrice {
        /// What it is, for the quotation.
        description: String = "description" => text().required(),
        /// Material for one.
        material: Decimal = "material" => money().or(Decimal::ZERO),
        /// Labour for one.
        labour_s: f64 = "labour" => quantity(Quantity::Duration, 0.0..=360_000.0).like("30 min").or(0.0),
    }
}

record! {
    /// Prices of labour, laying and sundries.
    Prices {
        /// Currency of every price in the catalogue: a three-letter code of ISO 4217; the job's when absent.
        currency: Option<String> = "currency" => text().optional(),
        /// Smallest amount a total is rounded to (0.05 where no smaller coin goes round); the currency's own when absent.
        rounding: Option<Decimal> = "rounding" => money().optional(),
        /// Price of an hour of labour.
        labour_per_hour: Decimal = "labour_per_hour" => money().required(),
        /// Margin on equipment and material, as a fraction added to its price.
        material_margin: f64 = "material_margin" => quantity(Quantity::Fraction, 0.0..=5.0).like("15 %").or(0.0),
        /// Tax on the whole, as a fraction.
        tax: f64 = "tax" => quantity(Quantity::Fraction, 0.0..=1.0).like("20 %").or(0.0),
        /// Prices per metre by way of laying (the words of `laying`).
        laying: IndexMap<String, LayingPrice> = "laying" => map_of::<LayingPrice>(),
        /// Prices by task: `joint`, `service-crossing`, `wall-hole`, `hole`, `stake`, `strain-tie`, `test-line`, ...
        tasks: IndexMap<String, TaskPrice> = "tasks" => map_of::<TaskPrice>(),
        /// Most sensible extra cable, as a fraction of the length.
        waste: f64 = "waste" => quantity(Quantity::Fraction, 0.0..=0.5).like("5 %").or(0.05),
        /// Service loop at each end of a run at a joint.
        service_loop_m: f64 = "service_loop" => quantity(Quantity::Length, 0.0..=5.0).like("0.6 m or 2 ft").or(0.6),
    }
}
