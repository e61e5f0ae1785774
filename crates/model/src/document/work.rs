//! How the work is laid into days.

use crate::units::Quantity;
use indexmap::IndexMap;
use loamline_terms::Hours;

choice! {
    /// A task of the plan of work, in the order of the work.
    WorkTask {
        /// Holes through outer walls.
        Walls = "walls",
        /// Buried services crossed by hand.
        Crossings = "crossings",
        /// Holes for what stands in the ground, gravel in them.
        Holes = "holes",
        /// Pilot holes and stakes.
        Stakes = "stakes",
        /// Ground opened, cable laid, ground closed.
        Cable = "cable",
        /// Loudspeakers put up.
        Loudspeakers = "loudspeakers",
        /// Joints made.
        Joints = "joints",
        /// Amplifiers mounted.
        Amplifiers = "amplifiers",
        /// What is none of the others.
        Other = "other",
        /// Lines measured.
        Lines = "lines",
        /// Channels loaded, confirmed and set.
        Channels = "channels",
    }
}

record! {
    /// How the work is laid into days.
    PlanOfWork {
        /// People on site.
        crew: u32 = "crew" => whole(1..=100).or(2u32),
        /// Working hours of a day on site; travel and setting up come to them.
        hours_s: f64 = "hours" => quantity(Quantity::Duration, 3600.0..=57_600.0).like("8 h").or(28_800.0),
        /// Daylight that work outdoors keeps to; not looked at when absent.
        daylight: Option<Hours> = "daylight" => hours().optional(),
        /// The first day, as it should be printed.
        first_day: String = "first_day" => text().or(""),
        /// What is particular to tasks, by the words of their kinds.
        tasks: IndexMap<String, PlannedTask> = "tasks" => map_of::<PlannedTask>(),
    }
}

record! {
    /// What is particular to a task.
    PlannedTask {
        /// Day of the work it is not begun before, from 1.
        from_day: Option<u32> = "from_day" => whole(1..=400).optional(),
        /// Note for the crew.
        note: String = "note" => text().or(""),
    }
}

impl PlanOfWork {
    /// Hours of labour in a day of the whole crew.
    pub fn crew_hours(&self) -> f64 {
        f64::from(self.crew) * self.hours_s / 3600.0
    }

    /// Hours of labour outdoors in a day of the whole crew.
    pub fn crew_hours_outdoors(&self) -> f64 {
        let light_s = self.daylight.map_or(f64::INFINITY, |light| f64::from(light.minutes()) * 60.0);
        f64::from(self.crew) * self.hours_s.min(light_s) / 3600.0
    }
}
