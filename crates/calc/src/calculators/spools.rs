//! Which lengths to cut from which spool.

use crate::{Answer, Calculator, Input, Inputs, Outcome, Output, Calculation, number};
use loamline_model::Quantity;
use loamline_routing::cut_list;

pub static CALCULATOR: Calculator = Calculator {
    name: "spools",
    purpose: "Least cable to order for a list of lengths, and what to cut from each spool",
    inputs: &[
        Input::list("lengths", Quantity::Length, "lengths of cable wanted").above(0.0),
        Input::list("spool", Quantity::Length, "cable on a full spool; several where it is sold in several lengths").above(0.0),
        Input::value("spare", Quantity::Length, "added to every length before it is cut").range(0.0, 1000.0).default("0 m"),
    ],
    alternatives: &[],
    results: &[
        Output::unit("spools", "", "spools to open"),
        Output::unit("spools_m", "m", "length of each spool"),
        Output::unit("cuts", "m", "lengths to cut from each spool, spare included"),
        Output::unit("leftover_m", "m", "left on all spools together"),
    ],
    sources: &[
        "cutting stock: exact dynamic programming up to 18 lengths from one spool length, 13 from several; minimum-slack filling (Gupta and Ho 1999) beyond",
        "lower bound by dual feasible functions (Fekete and Schepers 2001)",
    ],
    example: "lengths=62,48,40,35,31,22,18,12 spool=100 spare=0.5",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let list = cut_list(inputs.list("lengths")?, inputs.list("spool")?, inputs.value("spare")?)?;
    let cuts: Vec<Vec<f64>> =
        list.spools.iter().map(|s| s.cuts.iter().map(|&i| list.cut_m[i]).collect()).collect();
    let mut answer = Answer::new();
    answer.value("spools", list.spools.len());
    answer.value("spools_m", list.spools.iter().map(|s| s.spool_m).collect::<Vec<_>>());
    answer.value("cuts", &cuts);
    answer.number("leftover_m", list.leftover_m);
    for (i, (spool, cuts)) in list.spools.iter().zip(&cuts).enumerate() {
        let words: Vec<String> = cuts.iter().map(|m| number(*m)).collect();
        let (length, left) = (number(spool.spool_m), number(spool.left_m));
        answer.working.note(format!("spool {}, {length} m: {} m; {left} m left", i + 1, words.join(" + ")));
    }
    let total: f64 = list.cut_m.iter().sum();
    answer.working.step(
        "left over = spools - cuts",
        format!("{} - {}", number(list.ordered_m), number(total)),
        list.leftover_m,
        "m",
    );
    answer.working.note(if list.least_proven {
        format!("no choice of spools orders less than these {} m: proven", number(list.ordered_m))
    } else {
        format!("no choice of spools can order less than {} m", number(list.least_ordered_m))
    });
    Ok(answer)
}
