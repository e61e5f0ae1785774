//! Which lengths to cut from which spool.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Run, number};
use loamline_model::Quantity;
use loamline_routing::{EXACT_CUTS, cut_list};

pub static CALCULATOR: Calculator = Calculator {
    name: "spools",
    purpose: "Fewest spools for a list of lengths, and what to cut from each",
    inputs: &[
        Input::list("lengths", Quantity::Length, "lengths of cable wanted").above(0.0),
        Input::value("spool", Quantity::Length, "cable on a full spool").above(0.0),
        Input::value("spare", Quantity::Length, "added to every length before it is cut").range(0.0, 1000.0).default("0 m"),
    ],
    alternatives: &[],
    results: &[
        Output::unit("spools", "", "spools to open"),
        Output::unit("cuts", "m", "lengths to cut from each spool, spare included"),
        Output::unit("leftover_m", "m", "left on all spools together"),
    ],
    sources: &[
        "cutting stock: exact dynamic programming up to 18 lengths; minimum-slack filling (Gupta and Ho 1999) beyond",
        "lower bound L2 (Martello and Toth 1990)",
    ],
    example: "lengths=62,48,40,35,31,22,18,12 spool=100 spare=0.5",
    run: Run::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let (lengths, spool) = (inputs.list("lengths")?, inputs.value("spool")?);
    let list = cut_list(lengths, spool, inputs.value("spare")?)?;
    let cuts: Vec<Vec<f64>> = list.cuts.iter().map(|c| c.iter().map(|&i| list.cut_m[i]).collect()).collect();
    let mut answer = Answer::new();
    answer.value("spools", list.spools());
    answer.value("cuts", &cuts);
    answer.number("leftover_m", list.leftover_m);
    for (i, spool_cuts) in cuts.iter().enumerate() {
        let words: Vec<String> = spool_cuts.iter().map(|m| number(*m)).collect();
        let used: f64 = spool_cuts.iter().sum();
        answer.working.note(format!("spool {}: {} m; {} m left", i + 1, words.join(" + "), number(spool - used)));
    }
    let total: f64 = list.cut_m.iter().sum();
    answer.working.step(
        "left over = spools * spool - cuts",
        format!("{} * {} - {}", list.spools(), number(spool), number(total)),
        list.leftover_m,
        "m",
    );
    answer.working.note(if lengths.len() <= EXACT_CUTS {
        format!("{} spools are the fewest, and the longest piece left is as long as it can be: all subsets tried", list.spools())
    } else if list.fewest_proven {
        format!("{} spools are the fewest: the lower bound L2 says so", list.spools())
    } else {
        format!("no list can do with fewer than {} spools (lower bound L2)", list.lower_bound_spools)
    });
    Ok(answer)
}
