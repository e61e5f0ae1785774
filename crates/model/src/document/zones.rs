//! Zones and phases: what belongs together above the listening area, and what is built together.

use crate::units::Quantity;
use rust_decimal::Decimal;

record! {
    /// What is built, priced, measured and handed over together. Phases follow each other in the order of the file.
    Phase {
        /// What it is.
        name: String = "name" => text().or(""),
        /// The first day of its work, as it should be printed.
        first_day: String = "first_day" => text().or(""),
        /// What it may cost, tax included.
        budget: Option<Decimal> = "budget" => money().optional(),
        /// Amount set aside for things not listed, added to its own quotation.
        allowance: Option<Decimal> = "allowance" => money().optional(),
    }
}

record! {
    /// A part of the place above the listening area: a building with its terraces, a garden, a district.
    Zone {
        /// What it is.
        name: String = "name" => text().or(""),
        /// Phase it is built in, where its areas, racks and lines say no other; there from the beginning when absent.
        phase: Option<String> = "phase" => text().optional(),
        /// What it may cost, tax included.
        budget: Option<Decimal> = "budget" => money().optional(),
        /// Amount set aside for things not listed, added to its own quotation.
        allowance: Option<Decimal> = "allowance" => money().optional(),
        /// What is to be left spare in it, where it differs from the brief.
        spare: Spare = "spare" => nested_or_empty::<Spare>(),
    }
}

record! {
    /// What is to be left spare for later: nothing is asked for what is absent.
    Spare {
        /// Outputs of amplifiers in each rack that nothing uses.
        channels: Option<u32> = "channels" => whole(0..=1000).optional(),
        /// Share of what each channel may carry that its lines leave.
        power: Option<f64> = "power" => quantity(Quantity::Fraction, 0.0..=0.95).like("20 %").optional(),
        /// Share of the inside of each sleeve with cable in it that stays empty.
        ducts: Option<f64> = "ducts" => quantity(Quantity::Fraction, 0.0..=0.95).like("20 %").optional(),
        /// Height units of each rack that nothing fills, where its height is stated.
        units: Option<u32> = "units" => whole(0..=100).optional(),
    }
}

impl Spare {
    /// What is asked here, and where it says nothing what is asked by another.
    pub fn or(&self, other: &Self) -> Self {
        Self {
            channels: self.channels.or(other.channels),
            power: self.power.or(other.power),
            ducts: self.ducts.or(other.ducts),
            units: self.units.or(other.units),
        }
    }
}

/// The zone and the phase a thing belongs to; in none where it is nobody's, and built from the beginning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Owner<'d> {
    /// Id of the zone.
    pub zone: Option<&'d str>,
    /// Id of the phase.
    pub phase: Option<&'d str>,
}
