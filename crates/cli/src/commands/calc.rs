//! `loamline calc NAME key=value ...`

use crate::args::CalcArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Table};
use loamline_calc::{Calculator, InputKind, OutputUnit, Report};
use loamline_model::{Quantity, Units};
use loamline_terms::Band;
use serde_json::{Value, json};
use std::path::Path;

pub fn run(arguments: &CalcArguments, format: Format) -> Result<Verdict, Failure> {
    match arguments.name.as_str() {
        "list" => list(arguments, format)?,
        "help" => help(arguments)?,
        name => answer(name, arguments, format)?,
    }
    Ok(Verdict::Fine)
}

fn list(arguments: &CalcArguments, format: Format) -> Result<(), Failure> {
    if let Some(extra) = arguments.inputs.first() {
        return Err(Failure::input(format!("calc list takes no inputs; {extra} was given")));
    }
    if format.json {
        let entries = loamline_calc::all()
            .iter()
            .map(|calculator| {
                json!({"name": calculator.name, "purpose": calculator.purpose,
                "inputs": calculator.inputs.iter().map(|input| input.key).collect::<Vec<_>>(),
                "results": calculator.results.iter().map(|output| output.key).collect::<Vec<_>>()})
            })
            .collect::<Vec<_>>();
        return output::json(&json!({ "calculators": entries }));
    }
    if arguments.markdown {
        return output::data(&loamline_calc::reference(loamline_calc::all()));
    }
    let mut table = Table::new([Column::left("calculator"), Column::wrapped("what it is for")]);
    for calculator in loamline_calc::all() {
        table.row([calculator.name, calculator.purpose]);
    }
    output::data(&format!("{table}\n`loamline calc help NAME` shows what a calculator takes and gives.\n"))
}

fn help(arguments: &CalcArguments) -> Result<(), Failure> {
    let [name] = arguments.inputs.as_slice() else {
        return Err(Failure::input("name one calculator, e.g. loamline calc help sound-speed"));
    };
    let calculator = loamline_calc::find(name).map_err(Failure::input)?;
    output::data(&help_text(calculator))
}

fn help_text(calculator: &Calculator) -> String {
    let mut inputs =
        Table::new([Column::left("input"), Column::wrapped("what it is"), Column::wrapped("how to give it")]);
    for input in calculator.inputs {
        inputs.row([input.key, input.description, &loamline_calc::input_details(input)]);
    }
    let mut results = Table::new([Column::left("result"), Column::wrapped("what it is")]);
    for output in calculator.results {
        results.row([output.key, &loamline_calc::output_details(output)]);
    }
    let title = output::paragraph(&format!("{}: {}.", calculator.name, calculator.purpose));
    let mut text = format!("{title}\n{inputs}");
    for sets in calculator.alternatives {
        text.push_str(&format!("Give {}.\n", loamline_calc::choices(sets)));
    }
    text.push_str(&format!("\n{results}\nSources\n"));
    for source in calculator.sources {
        text.push_str(&output::indented(source));
    }
    format!("{text}\nExample\n  {}\n", loamline_calc::example_call(calculator))
}

fn answer(name: &str, arguments: &CalcArguments, format: Format) -> Result<(), Failure> {
    let calculator = loamline_calc::find(name).map_err(Failure::input)?;
    let document = arguments.input.as_deref().map(read_json).transpose()?;
    let report = calculator
        .calculate(&arguments.inputs, document.as_ref())
        .map_err(|error| Failure::input(format!("{error}\n`loamline calc help {name}` shows the inputs.")))?;
    if format.json {
        return output::json(&report);
    }
    output::data(&text(calculator, &report, arguments.explain, format.units))
}

fn read_json(path: &Path) -> Result<Value, Failure> {
    let name = if path == Path::new("-") { "standard input".to_owned() } else { path.display().to_string() };
    let text = crate::read::text(path)?;
    serde_json::from_str(&text).map_err(|error| {
        Failure::input(format!(
            "{name} is not JSON: line {}, column {}: {error}",
            error.line(),
            error.column()
        ))
    })
}

/// The answer as a person reads it: single values in lines, lists in a table beside the input they belong to.
fn text(calculator: &Calculator, report: &Report, explain: bool, units: Units) -> String {
    let mut text = String::new();
    let mut lists = Vec::new();
    for output in calculator.results {
        match report.results.get(output.key) {
            None => {}
            Some(Value::Array(items)) if items.iter().all(Value::is_number) && !items.is_empty() => {
                lists.push((output, items));
            }
            Some(value) => {
                text.push_str(&format!("{}: {}\n", output.description, show(value, output.shown, units)));
            }
        }
    }
    if let Some((_, first)) = lists.first() {
        text.push_str(&list_table(calculator, report, &lists, first.len(), units));
    }
    if explain {
        text.push_str("\nWorking\n");
        for step in &report.working {
            text.push_str(&output::indented(step));
        }
        text.push_str("\nSources\n");
        for source in &report.sources {
            text.push_str(&output::indented(source));
        }
    }
    text
}

fn list_table(
    calculator: &Calculator,
    report: &Report,
    lists: &[(&loamline_calc::Output, &Vec<Value>)],
    length: usize,
    units: Units,
) -> String {
    let beside = calculator.inputs.iter().find_map(|input| match input.kind {
        InputKind::List(quantity) => {
            let items = report.inputs.get(input.key)?.as_array()?;
            (items.len() == length).then_some((input.key, OutputUnit::Quantity(quantity), items))
        }
        _ => None,
    });
    let fitting = lists.iter().filter(|(_, items)| items.len() == length).collect::<Vec<_>>();
    let mut columns = vec![Column::right(beside.map_or("", |(key, ..)| key))];
    columns.extend(fitting.iter().map(|(output, _)| Column::right(output.key)));
    let mut table = Table::new(columns);
    for index in 0..length {
        let first = match beside {
            Some((_, shown, items)) => {
                items.get(index).map(|item| show(item, shown, units)).unwrap_or_default()
            }
            None => (index + 1).to_string(),
        };
        let cells = fitting.iter().map(|(output, items)| {
            items.get(index).map(|item| show(item, output.shown, units)).unwrap_or_default()
        });
        table.row(std::iter::once(first).chain(cells));
    }
    let mut text = table.to_string();
    for (output, items) in lists.iter().filter(|(_, items)| items.len() != length) {
        let items = items.iter().map(|item| show(item, output.shown, units)).collect::<Vec<_>>();
        text.push_str(&format!("{}: {}\n", output.description, items.join(", ")));
    }
    text
}

fn show(value: &Value, shown: OutputUnit, units: Units) -> String {
    match (value, shown) {
        (Value::Number(number), OutputUnit::Quantity(quantity)) => {
            let value = number.as_f64().unwrap_or_default();
            match Band::with_centre(value).filter(|_| quantity == Quantity::Frequency) {
                Some(band) => band.label().to_owned(),
                None => units.show(quantity, value),
            }
        }
        (Value::Number(number), OutputUnit::Unit(unit)) => {
            let number = loamline_calc::number(number.as_f64().unwrap_or_default());
            format!("{number} {unit}").trim_end().to_owned()
        }
        (Value::Bool(true), _) => "yes".to_owned(),
        (Value::Bool(false), _) => "no".to_owned(),
        (Value::String(word), _) => word.clone(),
        (structure, _) => format!("\n{structure:#}"),
    }
}
