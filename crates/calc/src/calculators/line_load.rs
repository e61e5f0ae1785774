//! The taps on a channel.

use crate::{Answer, Calculation, Calculator, Input, Inputs, Outcome, Output, number};
use loamline_model::Quantity;

pub static CALCULATOR: Calculator = Calculator {
    name: "line-load",
    purpose: "Whether a channel carries the taps on its line",
    inputs: &[
        Input::list("taps", Quantity::Power, "taps on the line").above(0.0),
        Input::value("rating", Quantity::Power, "rated power of the channel").above(0.0),
        Input::value("share", Quantity::Fraction, "share of the rating the taps may fill")
            .formerly("headroom")
            .range(0.01, 1.0)
            .default("0.8"),
    ],
    alternatives: &[],
    results: &[
        Output::quantity("total_w", Quantity::Power, "all taps together"),
        Output::quantity("used_fraction", Quantity::Fraction, "of the rating"),
        Output::unit("fits", "", "true when the taps stay within the share"),
    ],
    sources: &["common practice, no source (80 % of the rating)"],
    example: "taps=12x7.5W,30W rating=240W",
    run: Calculation::Values(run),
};

fn run(inputs: &Inputs) -> Outcome {
    let (taps, rating, share) = (inputs.list("taps")?, inputs.value("rating")?, inputs.value("share")?);
    let total: f64 = taps.iter().sum();
    let used = total / rating;
    // A sum that is the share but for rounding fits.
    let fits = used <= share * (1.0 + 1e-12);
    let mut answer = Answer::new();
    let sum = taps.iter().map(|tap| number(*tap)).collect::<Vec<_>>().join(" + ");
    answer.working.step("sum of taps", sum, total, "W");
    answer.working.step("used = sum / rating", format!("{} / {}", number(total), number(rating)), used, "");
    let verdict = if fits { "fits" } else { "too much" };
    answer.working.note(format!("{} against {} allowed: {verdict}", number(used), number(share)));
    answer.number("total_w", total);
    answer.number("used_fraction", used);
    answer.value("fits", fits);
    Ok(answer)
}
