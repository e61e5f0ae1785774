//! `loamline propose JOB [--option KIND] [--time 5s] [--write] [--compare]`

use super::open::{self, decibels, section, shown};
use crate::args::{OptionChoice, ProposeArguments};
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Progress, Table, paragraph};
use loamline_model::{JobFile, LoadError, Quantity};
use loamline_propose::{
    Failure as Unmet, Figures, OptionKind, Phase, Proposal, ProposeOptions, ProposeProgress, Proposed,
    propose, rule_of_thumb,
};
use serde_json::json;

pub fn run(arguments: &ProposeArguments, format: Format) -> Result<Verdict, Failure> {
    let mut file = JobFile::open(&arguments.job).map_err(|error| match error {
        LoadError::Invalid(report) => Failure::Job(Box::new(report)),
        other => Failure::input(other),
    })?;
    let options = options(arguments)?;
    let currency = file.job().document().about.currency.clone();
    let progress = Progress::start("Looking for places");
    let watch = |p: &ProposeProgress| {
        progress.say(sign_of_life(p, &currency));
        true
    };
    let proposal = propose(&file, &options, &watch).map_err(Failure::input)?;
    let thumb = if arguments.compare { Some(rule_of_thumb(&file).map_err(Failure::input)?) } else { None };
    progress.finish();
    let chosen = proposal.options.first();
    if let Some(chosen) = chosen.filter(|_| arguments.write) {
        file.apply(&chosen.edit).map_err(Failure::input)?;
        file.save(&arguments.job).map_err(Failure::input)?;
        output::log(&format!("The {} design is written into the job.", names(chosen)));
    }
    if format.json {
        let job = &file.job().document().about;
        let job = json!({ "name": job.name, "reference": job.reference });
        output::json(&json!({ "job": job, "proposal": proposal, "rule_of_thumb": thumb }))?;
    } else {
        output::data(&text(&proposal, thumb.as_ref(), format))?;
    }
    Ok(if proposal.failure.is_some() { Verdict::Errors } else { Verdict::Fine })
}

fn options(arguments: &ProposeArguments) -> Result<ProposeOptions, Failure> {
    let work_s =
        Quantity::Duration.parse(&arguments.time).map_err(|e| Failure::input(format!("--time: {e}")))?;
    if !(0.5..=600.0).contains(&work_s) {
        return Err(Failure::input(format!("--time: {work_s} s; give 0.5 s to 10 min")));
    }
    let mut wanted: Vec<OptionKind> = arguments.option.iter().map(|o| kind(*o)).collect();
    if wanted.is_empty() {
        wanted = if arguments.write { vec![OptionKind::LeastCost] } else { OptionKind::ALL.to_vec() };
    }
    if arguments.write && wanted.len() > 1 {
        return Err(Failure::input("--write writes one option: name it with one --option"));
    }
    Ok(ProposeOptions { wanted, work_s, seed: arguments.seed })
}

const fn kind(choice: OptionChoice) -> OptionKind {
    match choice {
        OptionChoice::LeastCost => OptionKind::LeastCost,
        OptionChoice::Balanced => OptionKind::Balanced,
        OptionChoice::MostEven => OptionKind::MostEven,
    }
}

fn sign_of_life(p: &ProposeProgress, currency: &str) -> String {
    let what = match p.phase {
        Phase::Candidates => "Looking for places",
        Phase::Choosing => "Choosing loudspeakers",
        Phase::Refining => "Settling places and aims",
        Phase::Building => "Wiring and routing",
        Phase::Checking => "Checking",
        Phase::Relaxing => "Looking for the nearest brief that can be met",
        Phase::Done => "Done",
    };
    let option = p.option.map_or_else(String::new, |o| format!(" ({})", o.word()));
    let best = p.best_cost.map_or_else(String::new, |c| format!(", best so far {c:.0} {currency}"));
    let bound = p.bound.map_or_else(String::new, |c| format!(", loudspeakers at least {c:.0} {currency}"));
    format!("{what}{option}{best}{bound}")
}

fn names(p: &Proposed) -> String {
    p.kinds.iter().map(|k| k.word()).collect::<Vec<_>>().join(", ")
}

fn text(proposal: &Proposal, thumb: Option<&Figures>, format: Format) -> String {
    let mut text = String::new();
    if let Some(failure) = &proposal.failure {
        text += &failure_text(failure);
    }
    let columns: Vec<(String, &Figures)> = proposal
        .options
        .iter()
        .map(|p| (names(p), &p.figures))
        .chain(thumb.map(|t| ("rule of thumb".to_owned(), t)))
        .collect();
    if !columns.is_empty() {
        text += &section("Options", &side_by_side(&columns, &proposal.currency, format).to_string());
    }
    for option in proposal.options.iter().filter(|o| o.kinds.len() > 1) {
        text += &paragraph(&format!(
            "{} come to the same design: none was found that lies between in price and evenness.",
            names(option)
        ));
    }
    if let Some(first) = proposal.options.first() {
        let over = first.choice_cost - proposal.bound;
        text += &paragraph(&format!(
            "Looked at {} places and {} ways of using them. Loudspeakers with their share of cable and amplifiers cost {:.0} {} as chosen; no choice among these that meets the brief costs less than {:.0} {} ({:.0} % below).",
            proposal.places,
            proposal.candidates,
            first.choice_cost,
            proposal.currency,
            proposal.bound,
            proposal.currency,
            100.0 * over / first.choice_cost.max(1.0)
        ));
        text.push('\n');
    }
    for option in &proposal.options {
        let mut areas = Table::new([
            Column::left("area"),
            Column::right("wanted"),
            Column::right("mean"),
            Column::right("on target"),
            Column::right("spread"),
            Column::right("bass-mid"),
        ]);
        for (id, a) in &option.figures.areas {
            areas.row([
                id.clone(),
                decibels(a.target_dba),
                decibels(a.mean_dba),
                format!("{:.0} %", 100.0 * a.share_within),
                format!("{:.1} dB", a.spread_db),
                format!("{:+.1} dB", a.bass_db),
            ]);
        }
        text += &section(&format!("Areas, {}", names(option)), &areas.to_string());
    }
    if let Some(first) = proposal.options.first() {
        let mut reasons = Table::new([Column::left("loudspeaker"), Column::wrapped("what it is for")]);
        for r in &first.reasons {
            reasons.row([&r.loudspeaker, &r.sentence]);
        }
        text += &section(&format!("What each is for, {}", names(first)), &reasons.to_string());
        text += &open::findings_text(&first.findings);
    }
    text
}

fn failure_text(failure: &Unmet) -> String {
    let mut text = paragraph(&format!("The brief cannot be met. {}", failure.sentence));
    match &failure.nearest {
        Some(nearest) => text += &paragraph(nearest),
        None => text += &paragraph("No brief near it was found that can be met."),
    }
    text
}

fn side_by_side(columns: &[(String, &Figures)], currency: &str, format: Format) -> Table {
    let head = std::iter::once(Column::left("")).chain(columns.iter().map(|c| Column::right(c.0.clone())));
    let mut table = Table::new(head);
    let mut row = |what: &str, of: &dyn Fn(&Figures) -> String| {
        table.row(std::iter::once(what.to_owned()).chain(columns.iter().map(|c| of(c.1))));
    };
    let metres = |m: f64| shown(format, Quantity::Length, m);
    row("price, tax included", &|f| format!("{:.0} {currency}", f.price));
    row("least of an area on target", &|f| format!("{:.0} %", 100.0 * f.worst_share_within));
    row("largest spread", &|f| format!("{:.1} dB", f.worst_spread_db));
    row("least margin at a neighbour", &|f| {
        f.neighbour_margin_db.map_or_else(|| "-".to_owned(), |m| format!("{m:+.1} dB"))
    });
    row("loudest place", &|f| f.loudest_dba.map_or_else(|| "-".to_owned(), |l| format!("{l:.1} dBA")));
    row("loudspeakers + subwoofers", &|f| format!("{} + {}", f.loudspeakers, f.subwoofers));
    row("amplifiers", &|f| f.amplifiers.to_string());
    row("power", &|f| format!("{:.0} W", f.watts));
    row("cable", &|f| metres(f.cable_m));
    row("digging", &|f| metres(f.digging_m));
    table
}
