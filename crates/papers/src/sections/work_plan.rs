//! The plan of work: what is done on which day, with what, and what is loaded for it.

use super::common::{common, sentence};
use super::schedules::shown;
use crate::material::Material;
use crate::stages::{self, Stage};
use loamline_limits::go_on;
use loamline_model::Choice as _;
use loamline_model::document::WorkTask;
use loamline_quotation::{BillItem, Day, days, task_of, waits_for};
use serde_json::{Value, json};

/// Whether there is work to lay into days.
pub fn has_work(m: &Material<'_>) -> bool {
    stages::has_work(&m.bill)
}

/// The days of a stage, each with what it is called: a job that is built in several begins anew with each.
fn named_days(m: &Material<'_>, stage: &Stage) -> Vec<(String, Day)> {
    let words = &m.options.words;
    let name = |k: usize| {
        let day = words.fill("work.day", &[("number", &(k + 1).to_string())]);
        match (stage.name.as_str(), stage.first_day.as_str()) {
            ("", _) => day,
            (phase, date) if k == 0 && !date.is_empty() => {
                words.fill("work.of_phase_from", &[("phase", phase), ("date", date), ("day", &day)])
            }
            (phase, _) => words.fill("work.of_phase", &[("phase", phase), ("day", &day)]),
        }
    };
    let laid = days(&stage.bill, &m.job.document().work);
    laid.into_iter().enumerate().map(|(k, day)| (name(k), day)).collect()
}

/// Data of the plan.
pub fn work_plan(m: &Material<'_>) -> (Value, Vec<String>) {
    let words = &m.options.words;
    let plan = &m.job.document().work;
    let laid: Vec<(&Stage, Vec<(String, Day)>)> =
        m.stages.iter().map(|stage| (stage, named_days(m, stage))).collect();
    let mut data = common(m);
    let visits = m.bill.iter().find(|i| i.code == "task/visit").map(|i| i.quantity.normalize().to_string());
    let all = laid.iter().flat_map(|(_, days)| days);
    let worked = all.filter(|(_, day)| !day.tasks.is_empty()).count().to_string();
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
    let days = laid.iter().flat_map(|(stage, days)| days.iter().map(move |day| one_day(m, stage, day)));
    data["days"] = days.collect();
    (data, Vec::new())
}

/// What happens on which day, for the client: a name and what is done; nothing of days on which nobody comes.
pub fn days_for_client(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let laid = m.stages.iter().flat_map(|stage| named_days(m, stage));
    let one = |(name, day): (String, Day)| {
        let done: Vec<String> = (day.tasks.iter())
            .map(|part| words.get(&format!("day.{}", part.task.word())).to_owned())
            .collect();
        (!done.is_empty()).then(|| json!([name, sentence(&done.join("; "))]))
    };
    laid.filter_map(one).collect()
}

/// The two ends of hours of the day.
fn written(m: &Material<'_>, (from, to): (String, String)) -> String {
    m.options.words.fill("work.from_to", &[("from", &from), ("to", &to)])
}

/// A number without zeros behind the point.
fn number(value: f64) -> String {
    let text = loamline_terms::fixed(value, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn one_day(m: &Material<'_>, stage: &Stage, (title, day): &(String, Day)) -> Value {
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
        let notes: Vec<String> = [said.to_owned(), after(m, stage, part.task), own.to_owned()]
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
            load.extend(stage.bill.iter().filter(|i| is_loaded(i, part.task)).map(|i| loaded(m, i)));
        }
    }
    json!({
        "title": title,
        "rows": rows,
        "tools": tools,
        "load": load,
    })
}

/// What a task waits for, of what the stage has.
fn after(m: &Material<'_>, stage: &Stage, task: WorkTask) -> String {
    let there = |t: &&WorkTask| stage.bill.iter().any(|i| task_of(&i.code) == Some(**t));
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
