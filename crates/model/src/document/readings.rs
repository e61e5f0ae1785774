//! Readings: visits to the site, with what was measured where.

use crate::units::Quantity;
use indexmap::IndexMap;

choice! {
    /// Why somebody came.
    VisitKind {
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

record! {
    /// A visit to the site.
    Visit {
        /// Day, as year-month-day.
        date: String = "date" => text().required(),
        /// Why somebody came.
        kind: VisitKind = "kind" => word::<VisitKind>().or(VisitKind::Maintenance),
        /// Temperature of the ground, where known.
        ground_temperature_c: Option<f64> = "ground_temperature" => quantity(Quantity::Temperature, -30.0..=60.0).optional(),
        /// What was measured, by id.
        readings: IndexMap<String, Reading> = "readings" => map_of::<Reading>(),
        /// Notes.
        notes: String = "notes" => text().or(""),
    }
}

record! {
    /// One reading: exactly one of impedance, dc, leakage or level.
    Reading {
        /// Line it was taken on.
        line: String = "line" => text().required(),
        /// Where: the line's start (when absent), a joint or a loudspeaker, looking away from the rack.
        at: Option<String> = "at" => text().optional(),
        /// Magnitude of impedance.
        impedance_ohm: Option<f64> = "impedance" => quantity(Quantity::Impedance, 0.0..=1.0e9).optional(),
        /// Frequency of the impedance reading.
        frequency_hz: Option<f64> = "frequency" => quantity(Quantity::Frequency, 10.0..=40_000.0).optional(),
        /// Resistance of the loop at direct current.
        dc_ohm: Option<f64> = "dc" => quantity(Quantity::Impedance, 0.0..=1.0e9).optional(),
        /// Resistance from the conductors to earth.
        leakage_ohm: Option<f64> = "leakage" => quantity(Quantity::Impedance, 0.0..=1.0e12).optional(),
        /// Sound level, LAeq, at a loudspeaker's or area's measuring place.
        level_dba: Option<f64> = "level" => quantity(Quantity::Level, 0.0..=140.0).optional(),
    }
}
