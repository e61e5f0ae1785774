//! The plan of work: what is done on which day, with what, and what is loaded for it.

use super::common::{common, sentence};
use super::schedules::shown;
use crate::material::Material;
use loamline_limits::go_on;
use loamline_model::Choice as _;
use loamline_model::document::WorkTask;
use loamline_quotation::{BillItem, Day, days, task_of, waits_for};
use serde_json::{Value, json};

/// Whether there is work to lay into days.
pub fn has_work(m: &Material<'_>) -> bool {
    m.bill.iter().any(|i| task_of(&i.code).is_some() && !i.labour_h.is_zero())
}

/// Data of the plan.
pub fn work_plan(m: &Material<'_>) -> (Value, Vec<String>) {
    let words = &m.options.words;
    let plan = &m.job.document().work;
    let laid = days(&m.bill, plan);
    let mut data = common(m);
    let visits = m.bill.iter().find(|i| i.code == "task/visit").map(|i| i.quantity.normalize().to_string());
    let worked = laid.iter().filter(|d| !d.tasks.is_empty()).count().to_string();
    let hours = number(plan.hours_s / 3600.0);
    data["facts"] = json!([
        [words.get("work.crew"), plan.crew.to_string()],
        [words.get("work.hours"), format!("{hours} {}", words.get("unit.hour"))],
        [
            words.get("work.daylight"),
            plan.daylight.map_or_else(String::new, |light| written(m, light.ends()))
        ],
        [words.get("work.first_day"), plan.first_day],
        [words.get("work.labour"), format!("{} {}", m.quotation.labour_h, words.get("unit.hour"))],
        [words.get("work.days"), worked],
    ]);
    data["billed"] = match visits {
        Some(visits) if visits != worked => {
            words.fill("work.billed", &[("billed", &visits), ("days", &worked)])
        }
        _ => String::new(),
    }
    .into();
    data["days"] = laid.iter().enumerate().map(|(k, day)| one_day(m, k + 1, day)).collect();
    (data, Vec::new())
}

/// What happens on which day, for the client: a name and what is done; nothing of days on which nobody comes.
pub fn days_for_client(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let laid = days(&m.bill, &m.job.document().work);
    let one = |(k, day): (usize, &Day)| {
        let done: Vec<String> = (day.tasks.iter())
            .map(|part| words.get(&format!("day.{}", part.task.word())).to_owned())
            .collect();
        let name = words.fill("work.day", &[("number", &(k + 1).to_string())]);
        (!done.is_empty()).then(|| json!([name, sentence(&done.join("; "))]))
    };
    laid.iter().enumerate().filter_map(one).collect()
}

/// The two ends of hours of the day.
fn written(m: &Material<'_>, (from, to): (String, String)) -> String {
    m.options.words.fill("work.from_to", &[("from", &from), ("to", &to)])
}

/// A number without zeros behind the point.
fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn one_day(m: &Material<'_>, number: usize, day: &Day) -> Value {
    go_on();
    let words = &m.options.words;
    let unit = words.get("unit.hour");
    let mut rows: Vec<Value> = Vec::new();
    if !day.setting_up_h.is_zero() {
        rows.push(json!([
            words.get("work.setting_up"),
            "",
            format!("{} {unit}", day.setting_up_h.round_dp(2))
        ]));
    }
    let mut load: Vec<Value> = Vec::new();
    let mut tools: Vec<String> = Vec::new();
    for part in &day.tasks {
        let name = words.get(&format!("work.task.{}", part.task.word())).to_owned();
        let said = match (part.begins, part.ends) {
            (true, true) => "",
            (_, true) => words.get("work.finished"),
            _ => words.get("work.goes_on"),
        };
        let own = m.job.document().work.tasks.get(part.task.word()).map_or("", |t| t.note.as_str());
        let notes: Vec<String> = [said.to_owned(), after(m, part.task), own.to_owned()]
            .into_iter()
            .filter(|note| !note.is_empty())
            .collect();
        rows.push(json!([name, notes.join("; "), format!("{} {unit}", part.labour_h)]));
        for tool in words.list(&format!("work.tools.{}", part.task.word())) {
            if !tools.contains(&tool) {
                tools.push(tool);
            }
        }
        if part.begins {
            load.extend(m.bill.iter().filter(|i| is_loaded(i, part.task)).map(|i| loaded(m, i)));
        }
    }
    json!({
        "title": words.fill("work.day", &[("number", &number.to_string())]),
        "rows": rows,
        "tools": tools,
        "load": load,
    })
}

/// What a task waits for, of what the job has.
fn after(m: &Material<'_>, task: WorkTask) -> String {
    let there = |t: &&WorkTask| m.bill.iter().any(|i| task_of(&i.code) == Some(**t));
    let names: Vec<&str> =
        waits_for(task).iter().filter(there).map(|t| m.options.words.get(task_key(*t))).collect();
    if names.is_empty() {
        return String::new();
    }
    m.options.words.fill("work.after", &[("tasks", &names.join(", "))])
}

/// Key of a task's short name.
const fn task_key(task: WorkTask) -> &'static str {
    match task {
        WorkTask::Walls => "work.short.walls",
        WorkTask::Crossings => "work.short.crossings",
        WorkTask::Holes => "work.short.holes",
        WorkTask::Stakes => "work.short.stakes",
        WorkTask::Cable => "work.short.cable",
        WorkTask::Loudspeakers => "work.short.loudspeakers",
        WorkTask::Joints => "work.short.joints",
        WorkTask::Amplifiers => "work.short.amplifiers",
        WorkTask::Other => "work.short.other",
        WorkTask::Lines => "work.short.lines",
        WorkTask::Channels => "work.short.channels",
    }
}

/// Whether an entry of the bill is material that a task takes.
fn is_loaded(item: &BillItem, task: WorkTask) -> bool {
    task_of(&item.code) == Some(task) && !item.material.is_zero() && !item.as_stated
}

fn loaded(m: &Material<'_>, item: &BillItem) -> Value {
    let shown = shown(m, item);
    json!([shown.description, format!("{} {}", shown.quantity, shown.unit)])
}
