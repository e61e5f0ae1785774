//! The labour of a bill laid into days.
//!
//! The whole crew does one thing after the other, in the order of the work (common practice, no source): holes in walls and
//! crossings of services before the cable that goes through them, what is dug and staked before the loudspeakers that stand in
//! it, cable and loudspeakers before the joints, joints before the lines are measured, lines and amplifiers before the channels
//! are set. Work outdoors keeps to the daylight; what is left of the day goes to work indoors that nothing keeps waiting.
//! Travel and setting up, as the bill has them, come to the hours on site of every day in equal parts. Nothing is added to the hours of the bill and
//! nothing is left out: they are counted in hundredths of an hour, as the bill prints them.

use crate::bill::BillItem;
use loamline_limits::go_on;
use loamline_model::Choice as _;
use loamline_model::document::{PlanOfWork, WorkTask};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive as _;

/// What must be finished before a task begins.
pub const fn waits_for(task: WorkTask) -> &'static [WorkTask] {
    match task {
        WorkTask::Cable => &[WorkTask::Walls, WorkTask::Crossings],
        WorkTask::Loudspeakers => &[WorkTask::Holes, WorkTask::Stakes],
        WorkTask::Joints => &[WorkTask::Cable, WorkTask::Loudspeakers],
        WorkTask::Lines => &[WorkTask::Joints],
        WorkTask::Channels => &[WorkTask::Lines, WorkTask::Amplifiers],
        WorkTask::Walls
        | WorkTask::Crossings
        | WorkTask::Holes
        | WorkTask::Stakes
        | WorkTask::Amplifiers
        | WorkTask::Other => &[],
    }
}

/// Whether a task is done outdoors.
const fn outdoors(task: WorkTask) -> bool {
    !matches!(task, WorkTask::Amplifiers | WorkTask::Lines | WorkTask::Channels)
}

/// The task an entry of the bill belongs to: that of its labour, or that its material is for. `None` for travel and setting up.
pub fn task_of(code: &str) -> Option<WorkTask> {
    let mut parts = code.split('/');
    let (kind, id) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
    Some(match (kind, id) {
        ("task", "visit") => return None,
        ("loudspeaker", _) => WorkTask::Loudspeakers,
        ("amplifier", _) => WorkTask::Amplifiers,
        ("cable" | "laying" | "link", _) => WorkTask::Cable,
        ("connector", _) | ("task", "joint" | "strain-tie") => WorkTask::Joints,
        ("task", "wall-hole") => WorkTask::Walls,
        ("task", "service-crossing") => WorkTask::Crossings,
        ("task", "hole" | "gravel") => WorkTask::Holes,
        ("task", "stake") => WorkTask::Stakes,
        ("task", "test-line") => WorkTask::Lines,
        ("task", "commission-channel") => WorkTask::Channels,
        _ => WorkTask::Other,
    })
}

/// A part of a task on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DayTask {
    /// The task.
    pub task: WorkTask,
    /// Labour, hours.
    pub labour_h: Decimal,
    /// Whether it is begun on this day, so that what it takes is loaded.
    pub begins: bool,
    /// Whether it is finished on this day.
    pub ends: bool,
}

/// A day of the work.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Day {
    /// Travel and setting up, hours of labour.
    pub setting_up_h: Decimal,
    /// What is done, in its order; nothing on a day that only waits for a task's own day.
    pub tasks: Vec<DayTask>,
}

/// Lays the labour of a bill into days; none for a bill without labour and without work.
pub fn days(bill: &[BillItem], plan: &PlanOfWork) -> Vec<Day> {
    let labour = |of: Option<WorkTask>| -> u64 {
        bill.iter().filter(|i| task_of(&i.code) == of).map(|i| hundredths(i.labour_h)).sum()
    };
    let there = |task: WorkTask| bill.iter().any(|i| task_of(&i.code) == Some(task));
    let tasks: Vec<(WorkTask, u64)> =
        WorkTask::ALL.iter().map(|t| t.0).filter(|t| there(*t)).map(|t| (t, labour(Some(t)))).collect();
    let setting_up = labour(None);
    if tasks.is_empty() {
        return Vec::new();
    }
    let whole = |hours: f64| (hours * 100.0).floor().max(1.0) as u64;
    let (total, light) = (whole(plan.crew_hours()), whole(plan.crew_hours_outdoors()));
    let laid = laid(&tasks, plan, (total, light));
    let worked = laid.iter().filter(|day| !day.is_empty()).count().max(1) as u64;
    let setting = |day: u64| setting_up / worked + u64::from(day < setting_up % worked);
    written(&tasks, &laid, setting)
}

/// Parts of tasks on a day, in their order: index of the task, hundredths of an hour.
type Parts = Vec<(usize, u64)>;

/// The tasks day by day, with so many hundredths of an hour in a day, and outdoors. A day on which everything waits for a day of
/// its own is empty.
fn laid(tasks: &[(WorkTask, u64)], plan: &PlanOfWork, (total, light): (u64, u64)) -> Vec<Parts> {
    let mut left: Vec<u64> = tasks.iter().map(|t| t.1).collect();
    let mut done = vec![false; tasks.len()];
    let from_day = |task: WorkTask| plan.tasks.get(task.word()).and_then(|t| t.from_day).unwrap_or(1);
    let mut days: Vec<Parts> = Vec::new();
    while done.iter().any(|d| !d) {
        go_on();
        let (mut room, mut lit) = (total, light.min(total));
        let mut parts = Parts::new();
        for (k, &(task, _)) in tasks.iter().enumerate() {
            let open = |other: &WorkTask| tasks.iter().zip(&done).any(|(t, done)| t.0 == *other && !done);
            let early = from_day(task) as usize > days.len() + 1;
            if done[k] || early || waits_for(task).iter().any(open) {
                continue;
            }
            let part = left[k].min(if outdoors(task) { lit } else { room });
            if part == 0 && left[k] > 0 {
                continue;
            }
            room -= part;
            lit = if outdoors(task) { lit - part } else { lit.min(room) };
            left[k] -= part;
            done[k] = left[k] == 0;
            parts.push((k, part));
        }
        days.push(parts);
    }
    days
}

/// The days as people read them, with what setting up takes on the so many-th day that is worked on.
fn written(tasks: &[(WorkTask, u64)], laid: &[Parts], setting: impl Fn(u64) -> u64) -> Vec<Day> {
    let (mut begun, mut left) = (vec![false; tasks.len()], tasks.iter().map(|t| t.1).collect::<Vec<_>>());
    let mut worked = 0;
    let mut days: Vec<Day> = Vec::with_capacity(laid.len());
    for parts in laid {
        let one = |&(k, part): &(usize, u64)| {
            left[k] -= part;
            let begins = !std::mem::replace(&mut begun[k], true);
            DayTask { task: tasks[k].0, labour_h: in_hours(part), begins, ends: left[k] == 0 }
        };
        let on_site = !parts.is_empty();
        let setting_up_h = if on_site { in_hours(setting(worked)) } else { Decimal::ZERO };
        worked += u64::from(on_site);
        days.push(Day { setting_up_h, tasks: parts.iter().map(one).collect() });
    }
    days
}

/// Hundredths of an hour of what a bill prints.
fn hundredths(labour_h: Decimal) -> u64 {
    (labour_h * Decimal::ONE_HUNDRED).round().to_u64().unwrap_or(0)
}

fn in_hours(hundredths: u64) -> Decimal {
    Decimal::from(hundredths) / Decimal::ONE_HUNDRED
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bill::{Group, Unit};
    use indexmap::IndexMap;
    use loamline_model::document::{Hours, PlannedTask};
    use proptest::prelude::*;

    /// A code of every task, and travel.
    const CODES: [&str; 12] = [
        "task/wall-hole",
        "task/service-crossing",
        "task/hole",
        "task/stake",
        "laying/slit",
        "loudspeaker/one",
        "task/joint",
        "amplifier/one",
        "task/something-else",
        "task/test-line",
        "task/commission-channel",
        "task/visit",
    ];

    fn item(code: &str, labour_hundredths: u64) -> BillItem {
        BillItem {
            code: code.to_owned(),
            group: Group::Work,
            description: String::new(),
            note: String::new(),
            quantity: Decimal::ONE,
            unit: Unit::Piece,
            material: Decimal::ZERO,
            as_stated: false,
            labour_h: in_hours(labour_hundredths),
        }
    }

    fn plan(crew: u32, hours: f64, daylight: Option<&str>) -> PlanOfWork {
        PlanOfWork {
            crew,
            hours_s: hours * 3600.0,
            daylight: daylight.and_then(Hours::read),
            first_day: String::new(),
            tasks: IndexMap::new(),
        }
    }

    /// By hand: two people, eight hours, 16 h a day. 20 h of cable, then 4 h of joints; 2 h of travel for the two days.
    #[test]
    fn two_days_by_hand() {
        let bill = [item("laying/slit", 2000), item("task/joint", 400), item("task/visit", 200)];
        let days = days(&bill, &plan(2, 8.0, None));
        let hours = |d: &Day| d.tasks.iter().map(|t| (t.task, t.labour_h)).collect::<Vec<_>>();
        assert_eq!(days.len(), 2);
        assert_eq!(hours(&days[0]), [(WorkTask::Cable, Decimal::from(16))]);
        let second = [(WorkTask::Cable, Decimal::from(4)), (WorkTask::Joints, Decimal::from(4))];
        assert_eq!(hours(&days[1]), second);
        assert!(days[0].tasks[0].begins && !days[0].tasks[0].ends && days[1].tasks[0].ends);
        assert!(days.iter().all(|d| d.setting_up_h == Decimal::ONE));
    }

    /// By hand: six hours of light leave two hours of a day to a person, for what is done indoors.
    #[test]
    fn the_dark_hours_go_to_work_indoors() {
        let bill = [item("laying/slit", 600), item("amplifier/one", 300)];
        let days = days(&bill, &plan(1, 8.0, Some("09:00 to 15:00")));
        let hours: Vec<Vec<_>> =
            days.iter().map(|d| d.tasks.iter().map(|t| (t.task, t.labour_h)).collect()).collect();
        let (six, two, one) = (Decimal::from(6), Decimal::TWO, Decimal::ONE);
        let first = vec![(WorkTask::Cable, six), (WorkTask::Amplifiers, two)];
        assert_eq!(hours, [first, vec![(WorkTask::Amplifiers, one)]]);
    }

    #[test]
    fn a_task_waits_for_its_own_day_and_nobody_travels_meanwhile() {
        let bill = [item("task/joint", 100), item("task/visit", 100)];
        let mut plan = plan(1, 8.0, None);
        let own = PlannedTask { from_day: Some(3), note: String::new() };
        plan.tasks.insert("joints".to_owned(), own);
        let days = days(&bill, &plan);
        assert_eq!(days.len(), 3);
        assert!(days[..2].iter().all(|d| d.tasks.is_empty() && d.setting_up_h.is_zero()));
        assert_eq!(days[2].setting_up_h, Decimal::ONE);
    }

    #[test]
    fn there_are_no_days_without_work() {
        assert!(days(&[], &plan(2, 8.0, None)).is_empty());
        assert!(days(&[item("task/visit", 0)], &plan(2, 8.0, None)).is_empty());
    }

    proptest! {
        /// Whatever the bill, the crew and the light: the hours are the bill's, task by task; no day is longer than it is, nor
        /// work outdoors than the light; nothing begins before what it waits for is finished, nor before its own day.
        #[test]
        fn hours_are_the_bills_and_every_dependency_is_kept(
            labour in prop::collection::vec(prop::option::of(0..6000u64), CODES.len()),
            crew in 1..6u32,
            hours in 1..12u32,
            light in 1..14u16,
            waits in prop::collection::vec(prop::option::of(1..30u32), CODES.len()),
        ) {
            let entries = CODES.iter().zip(&labour).filter_map(|(code, h)| Some(item(code, (*h)?)));
            let bill: Vec<BillItem> = entries.collect();
            let light_text = format!("06:00 to {:02}:00", 6 + light);
            let mut plan = plan(crew, f64::from(hours), Some(&light_text));
            for (code, from_day) in CODES.iter().zip(&waits) {
                if let Some(task) = task_of(code) {
                    let own = PlannedTask { from_day: *from_day, note: String::new() };
                    plan.tasks.insert(task.word().to_owned(), own);
                }
            }
            let days = days(&bill, &plan);
            let parts: Vec<(usize, DayTask)> =
                days.iter().enumerate().flat_map(|(d, day)| day.tasks.iter().map(move |t| (d, *t))).collect();
            for (task, ..) in WorkTask::ALL {
                let planned: Decimal = parts.iter().filter(|p| p.1.task == *task).map(|p| p.1.labour_h).sum();
                let billed: Decimal =
                    bill.iter().filter(|i| task_of(&i.code) == Some(*task)).map(|i| i.labour_h).sum();
                prop_assert_eq!(planned, billed, "{:?}", task);
                let first = parts.iter().position(|p| p.1.task == *task);
                for before in waits_for(*task) {
                    let last = parts.iter().rposition(|p| p.1.task == *before);
                    prop_assert!(first.is_none() || last.is_none() || last < first, "{:?} {:?}", before, task);
                }
                let own = plan.tasks.get(task.word()).and_then(|t| t.from_day).unwrap_or(1);
                prop_assert!(first.is_none_or(|k| parts[k].0 + 1 >= own as usize));
                prop_assert_eq!(parts.iter().filter(|p| p.1.task == *task && p.1.begins).count(), usize::from(first.is_some()));
            }
            let setting: Decimal = days.iter().map(|d| d.setting_up_h).sum();
            let billed: Decimal = bill.iter().filter(|i| task_of(&i.code).is_none()).map(|i| i.labour_h).sum();
            if !parts.is_empty() {
                prop_assert_eq!(setting, billed);
            }
            let whole = Decimal::from(crew * hours);
            let lit = Decimal::from(crew * hours.min(u32::from(light)));
            for day in &days {
                let labour: Decimal = day.tasks.iter().map(|t| t.labour_h).sum();
                prop_assert!(labour <= whole);
                let out: Decimal = day.tasks.iter().filter(|t| outdoors(t.task)).map(|t| t.labour_h).sum();
                prop_assert!(out <= lit);
            }
        }
    }
}
