//! `loamline propose JOB [--option KIND] [--time 5s] [--write] [--compare]`

use super::open::{self, decibels, section};
use super::price_book;
use crate::args::{OptionChoice, ProposeArguments};
use crate::failure::{Failure, Verdict};
use crate::interrupt;
use crate::output::{self, Column, Format, Progress, Table, paragraph};
use loamline_limits::{Leave, PROPOSAL_WORK_S};
use loamline_model::{JobFile, LoadError, Quantity};
use loamline_propose::{
    Failure as Unmet, Figures, OptionKind, Proposal, ProposeOptions, ProposeProgress, Proposed, SoFar, Watch,
    propose_keeping, rule_of_thumb,
};
use loamline_quotation::{amount, estimate};
use serde_json::json;

pub fn run(arguments: &ProposeArguments, format: Format) -> Result<Verdict, Failure> {
    let mut file = JobFile::open(&arguments.job).map_err(|error| match error {
        LoadError::Invalid(report) => Failure::Job(Box::new(report)),
        other => Failure::input(other),
    })?;
    let format = format.of(file.job());
    let options = options(arguments)?;
    let currency = file.job().document().about.currency.clone();
    let progress = Progress::start("Looking for places");
    let watch = |p: &ProposeProgress| {
        progress.say(sign_of_life(p, &currency));
        true
    };
    let interrupted = Leave::unbounded();
    interrupt::ends(&interrupted);
    let make = |file: &JobFile| made_or_left(file, &options, &watch, &interrupted);
    let mut proposal = make(&file)?;
    if let Some(number) = arguments.accept {
        let changes = proposal.failure.map_or_else(Vec::new, |f| f.changes);
        let change = number.checked_sub(1).and_then(|k| changes.get(k)).ok_or_else(|| {
            Failure::input(match changes.len() {
                0 => "--accept: there is no change to take over; the brief is met, or none was found"
                    .to_owned(),
                n => format!("--accept: {number}; the changes told are 1 to {n}"),
            })
        })?;
        file.apply(&change.edit).map_err(Failure::input)?;
        output::log(&format!("Taken over: {}", change.sentence));
        proposal = make(&file)?;
    }
    let thumb = if arguments.compare {
        Some(rule_of_thumb(&file, &options.prices).map_err(Failure::input)?)
    } else {
        None
    };
    progress.finish();
    let unknown = price_book::name_unknown(&options.prices, file.job());
    let chosen = proposal.options.first();
    if arguments.write && proposal.failure.is_some() {
        output::log(
            "Nothing is written: the nearest design misses the brief. Take over a change with --accept N, or change the brief.",
        );
    }
    if arguments.write && proposal.unfinished {
        output::log("Nothing is written: the search was not finished.");
    }
    let done = proposal.failure.is_none() && !proposal.unfinished;
    if let Some(chosen) = chosen.filter(|_| arguments.write && done) {
        file.apply(&chosen.edit).map_err(Failure::input)?;
        file.save(&arguments.job).map_err(Failure::input)?;
        output::log(&if chosen.edit.operations.is_empty() {
            format!("The job has the {} design already: nothing is changed.", names(chosen))
        } else {
            format!("The {} design is written into the job.", names(chosen))
        });
    }
    if format.json {
        let job = &file.job().document().about;
        let job = json!({ "name": job.name, "reference": job.reference });
        output::json(
            &json!({ "job": job, "proposal": proposal, "rule_of_thumb": thumb, "unknown_prices": unknown }),
        )?;
    } else {
        output::data(&text(&proposal, thumb.as_ref(), format))?;
    }
    Ok(if done { Verdict::Fine } else { Verdict::Errors })
}

/// Share of the time that `--within` leaves which the search may take: the rest puts in order what it found.
const SEARCHED: f64 = 0.9;

/// A proposal; where the search was left before its end, by the clock or by Ctrl-C, the best whole design made by then.
///
/// # Errors
/// When nothing can be proposed, or there was no whole design yet.
fn made_or_left(
    file: &JobFile,
    options: &ProposeOptions,
    watch: Watch<'_>,
    interrupted: &Leave,
) -> Result<Proposal, Failure> {
    let so_far = SoFar::default();
    let (in_time, most) = (Leave::share_of_what_is_left(SEARCHED), Leave::within(options.most()));
    let search = || most.scope(|| propose_keeping(file, options, watch, &so_far));
    let over = match interrupted.scope(|| in_time.scope(search)) {
        Ok(Ok(Ok(made))) => return made.map_err(Failure::input),
        Ok(Ok(Err(over)) | Err(over)) | Err(over) => over,
    };
    let left = so_far.proposal(file, options).ok_or_else(|| Failure::out_of_time(over))?;
    output::log(&format!("The search ends here: {over}. The best whole design made by then stands below."));
    Ok(left)
}

fn options(arguments: &ProposeArguments) -> Result<ProposeOptions, Failure> {
    let time =
        |text: &String| Quantity::Duration.parse(text).map_err(|e| Failure::input(format!("--time: {e}")));
    let work_s = arguments.time.as_ref().map(time).transpose()?;
    if let Some(work_s) = work_s.filter(|s| !(0.5..=PROPOSAL_WORK_S.number as f64).contains(s)) {
        let told = format!("--time: {work_s} s; give 0.5 s to {}", PROPOSAL_WORK_S.shown());
        return Err(Failure::input(told));
    }
    let mut wanted: Vec<OptionKind> = arguments.option.iter().map(|o| kind(*o)).collect();
    if wanted.is_empty() {
        wanted = if arguments.write { vec![OptionKind::LeastCost] } else { OptionKind::ALL.to_vec() };
    }
    let prices = price_book::read(arguments.prices.as_ref())?;
    if arguments.write && wanted.len() > 1 {
        return Err(Failure::input("--write writes one option: name it with one --option"));
    }
    Ok(ProposeOptions { wanted, work_s, seed: arguments.seed, prices })
}

const fn kind(choice: OptionChoice) -> OptionKind {
    match choice {
        OptionChoice::LeastCost => OptionKind::LeastCost,
        OptionChoice::Balanced => OptionKind::Balanced,
        OptionChoice::MostEven => OptionKind::MostEven,
        OptionChoice::Loudest => OptionKind::Loudest,
        OptionChoice::LeastCostMixed => OptionKind::LeastCostMixed,
    }
}

fn sign_of_life(p: &ProposeProgress, currency: &str) -> String {
    let what = p.phase.words();
    let option = p.option.map_or_else(String::new, |o| format!(" ({})", o.word()));
    let best = p.best_cost.map_or_else(String::new, |c| format!(", best so far {}", estimate(currency, c)));
    let bound =
        p.bound.map_or_else(String::new, |c| format!(", loudspeakers at least {}", estimate(currency, c)));
    format!("{what}{option}{best}{bound}")
}

fn names(p: &Proposed) -> String {
    p.kinds.iter().map(|k| k.word()).collect::<Vec<_>>().join(", ")
}

fn text(proposal: &Proposal, thumb: Option<&Figures>, format: Format) -> String {
    let mut text = String::new();
    if let Some(failure) = &proposal.failure {
        text += &failure_text(failure, !proposal.options.is_empty(), &proposal.currency, format);
    }
    // A design that does not meet the brief is none of those asked for; one alone needs no name.
    let first = |p: &Proposed| p.kinds.first().map_or_else(String::new, |k| k.word().to_owned());
    let title = |p: &Proposed| {
        if proposal.unfinished {
            return "best so far".to_owned();
        }
        if proposal.failure.is_some() { "nearest".to_owned() } else { first(p) }
    };
    let several = proposal.options.len() > 1;
    let headed =
        |what: &str, p: &Proposed| if several { format!("{what}, {}", title(p)) } else { what.to_owned() };
    let of = |p: &Proposed| if several { format!("{}: ", title(p)) } else { String::new() };
    let columns: Vec<(String, &Figures, Option<f64>)> = proposal
        .options
        .iter()
        .map(|p| (title(p), &p.figures, p.robust_share))
        .chain(thumb.map(|t| ("rule of thumb".to_owned(), t, None)))
        .collect();
    if !columns.is_empty() {
        text += &section("Options", &side_by_side(&columns, &proposal.currency, format).to_string());
    }
    for option in proposal.options.iter().filter(|o| o.kinds.len() > 1 && proposal.failure.is_none()) {
        text += &paragraph(&format!("{} come to the same design.", names(option)));
    }
    for note in &proposal.notes {
        text += &paragraph(&format.tell(&note.sentence));
    }
    for option in &proposal.options {
        for unmet in &option.unmet {
            text += &paragraph(&format!("{}Not met: {}", of(option), format.tell(&unmet.sentence)));
        }
        for note in &option.notes {
            text += &paragraph(&format!("{}{}", of(option), format.tell(&note.sentence)));
        }
    }
    if let Some(first) = proposal.options.first() {
        let (cost, currency) = (first.choice_cost, &proposal.currency);
        let proven = proposal.bound.map_or_else(String::new, |bound| {
            format!(
                "; no choice among these that meets the brief at the gains looked at costs less than {} ({} % below)",
                estimate(currency, bound),
                loamline_terms::fixed(100.0 * (cost - bound) / cost.max(1.0), 0)
            )
        });
        text += &paragraph(&format!(
            "Looked at {} places and {} ways of using them. Loudspeakers with their share of cable and amplifiers cost {} as chosen{proven}.",
            proposal.places,
            proposal.candidates,
            estimate(currency, cost)
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
                format!("{} %", loamline_terms::fixed(100.0 * a.share_within, 0)),
                format!("{} dB", loamline_terms::fixed(a.spread_db, 1)),
                format!("{:+.1} dB", a.bass_over_mid_db),
            ]);
        }
        text += &section(&headed("Areas", option), &areas.to_string());
    }
    if let Some(first) = proposal.options.first().filter(|_| !proposal.unfinished) {
        let mut reasons = Table::new([Column::left("loudspeaker"), Column::wrapped("what it is for")]);
        for r in &first.reasons {
            reasons.row([r.loudspeaker.clone(), format.tell(&r.sentence)]);
        }
        text += &section(&headed("What each is for", first), &reasons.to_string());
    }
    if let Some(first) = proposal.options.first() {
        text += &open::findings_text(&first.findings, format);
    }
    text
}

fn failure_text(failure: &Unmet, designs: bool, currency: &str, format: Format) -> String {
    let mut text = paragraph(&format!("The brief cannot be met. {}", format.tell(&failure.sentence)));
    for (k, change) in failure.changes.iter().enumerate() {
        let (sentence, price) = (format.tell(&change.sentence), change.price);
        text += &paragraph(&format!(
            "Change {}: {sentence} The design then costs {}.",
            k + 1,
            amount(currency, price)
        ));
    }
    let below = if designs { " The nearest design without any stands below." } else { "" };
    text += &paragraph(&if failure.changes.is_empty() {
        format!("No change near it was found in the time allowed that meets it.{below}")
    } else {
        format!("Take one over with --accept N.{below}")
    });
    text
}

fn side_by_side(columns: &[(String, &Figures, Option<f64>)], currency: &str, format: Format) -> Table {
    let head = std::iter::once(Column::left("")).chain(columns.iter().map(|c| Column::right(c.0.clone())));
    let mut table = Table::new(head);
    let metres = |m: f64| format.units.run(m);
    let mut row = |what: &str, of: &dyn Fn(&Figures) -> String| {
        table.row(std::iter::once(what.to_owned()).chain(columns.iter().map(|c| of(c.1))));
    };
    row("price, tax included", &|f| amount(currency, f.price));
    row("least of an area on target", &|f| {
        format!("{} %", loamline_terms::fixed(100.0 * f.worst_share_within, 0))
    });
    row("largest spread", &|f| format!("{} dB", loamline_terms::fixed(f.worst_spread_db, 1)));
    row("least margin at a neighbour", &|f| {
        f.neighbour_margin_db.map_or_else(|| "-".to_owned(), |m| format!("{m:+.1} dB"))
    });
    if columns.iter().any(|c| c.2.is_some()) {
        let share = |s: Option<f64>| {
            s.map_or_else(|| "-".to_owned(), |s| format!("{} %", loamline_terms::fixed(100.0 * s, 0)))
        };
        let cells = columns.iter().map(|c| share(c.2));
        table.row(std::iter::once("holds when all varies a little".to_owned()).chain(cells));
    }
    let mut row = |what: &str, of: &dyn Fn(&Figures) -> String| {
        table.row(std::iter::once(what.to_owned()).chain(columns.iter().map(|c| of(c.1))));
    };
    row("loudest place", &|f| {
        f.loudest_dba.map_or_else(|| "-".to_owned(), |l| format!("{} dBA", loamline_terms::fixed(l, 1)))
    });
    row("loudspeakers + subwoofers", &|f| format!("{} + {}", f.loudspeakers, f.subwoofers));
    row("amplifiers", &|f| f.amplifiers.to_string());
    row("power", &|f| format!("{} W", loamline_terms::fixed(f.watts, 0)));
    row("cable", &|f| metres(f.cable_m));
    row("digging", &|f| metres(f.digging_m));
    table
}
