//! Reading a call: `key=value` arguments and a JSON document, checked against the description, every problem at once.

use crate::answer::Report;
use crate::error::{CalcError, InputProblem};
use crate::inputs::{Inputs, Read};
use crate::spec::{Calculation, Calculator, Input, InputKind, Need};
use loamline_acoustics::Band;
use loamline_limits::LIST_ITEMS;
use loamline_model::{Quantity, Units, closest};
use serde_json::{Map, Value};

/// A value before it is read.
enum Raw {
    Text(String),
    Json(Value),
}

impl Calculator {
    /// Reads the arguments (`key=value`) and the JSON object, if any, and calculates. An argument outranks the same key
    /// in the object.
    ///
    /// # Errors
    /// [`CalcError::Inputs`] with every problem of the call, or [`CalcError::Refused`] when there is no answer for
    /// these values.
    pub fn calculate(
        &'static self,
        arguments: &[String],
        document: Option<&Value>,
    ) -> Result<Report, CalcError> {
        match self.run {
            Calculation::Values(run) => {
                let inputs = self.read(arguments, document)?;
                let mut working = Vec::new();
                if !inputs.defaulted.is_empty() {
                    let taken = inputs
                        .defaulted
                        .iter()
                        .map(|(key, text)| format!("{key} = {text}"))
                        .collect::<Vec<_>>();
                    working.push(format!("not given, so taken as: {}", taken.join(", ")));
                }
                self.report(run(&inputs), inputs.to_json(), working)
            }
            Calculation::Document(run) => {
                let document = self.check_document(arguments, document)?;
                self.report(run(&Value::Object(document.clone())), document, Vec::new())
            }
        }
    }

    fn report(
        &self,
        outcome: crate::error::Outcome,
        inputs: Map<String, Value>,
        mut working: Vec<String>,
    ) -> Result<Report, CalcError> {
        let refused = |message| CalcError::Refused { calculator: self.name, message };
        let answer = outcome.map_err(|refusal| refused(refusal.message))?;
        if let Some(key) = answer.not_finite.first() {
            return Err(refused(format!(
                "{key} has no finite value for these inputs; check that none of them is extreme"
            )));
        }
        working.extend(answer.working.steps);
        let sources = self.sources.iter().map(|source| (*source).to_owned()).chain(answer.sources).collect();
        Ok(Report { calculator: self.name, inputs, results: answer.results, working, sources })
    }

    fn fail(&self, problems: Vec<InputProblem>) -> CalcError {
        CalcError::Inputs { calculator: self.name, problems }
    }

    fn unknown_key(&self, key: &str) -> InputProblem {
        let known = self.inputs.iter().map(|input| input.key).collect::<Vec<_>>();
        InputProblem::UnknownKey {
            key: key.to_owned(),
            suggestion: closest(key, known.iter().copied()).map(str::to_owned),
            known,
        }
    }

    fn check_document(
        &self,
        arguments: &[String],
        document: Option<&Value>,
    ) -> Result<Map<String, Value>, CalcError> {
        let mut problems = Vec::new();
        if !arguments.is_empty() {
            problems.push(InputProblem::Document(format!(
                "takes a JSON document (--input FILE, or --input - to read it from standard input), not {}",
                arguments.join(" ")
            )));
        }
        let object = match document {
            Some(Value::Object(object)) => object.clone(),
            Some(other) => {
                problems.push(wrong_json("the document", "an object", other));
                return Err(self.fail(problems));
            }
            None => {
                if problems.is_empty() {
                    problems.push(InputProblem::Document(
                        "a JSON document is missing: --input FILE, or --input - to read it from standard input"
                            .to_owned(),
                    ));
                }
                return Err(self.fail(problems));
            }
        };
        problems.extend(
            object
                .keys()
                .filter(|key| self.inputs.iter().all(|input| input.key != key.as_str()))
                .map(|key| self.unknown_key(key)),
        );
        for input in self.inputs {
            if input.need == Need::Required && !object.contains_key(input.key) {
                problems.push(missing(input));
            }
        }
        if problems.is_empty() { Ok(object) } else { Err(self.fail(problems)) }
    }

    fn read(&self, arguments: &[String], document: Option<&Value>) -> Result<Inputs, CalcError> {
        let mut problems = Vec::new();
        let raw = self.collect(arguments, document, &mut problems);
        let mut inputs = Inputs::default();
        for input in self.inputs {
            let given = raw.iter().find(|(key, _)| *key == input.key).map(|(_, raw)| raw);
            match (given, input.need) {
                (Some(raw), _) => match read_value(input, raw) {
                    Ok(read) => inputs.given.push((input.key, read)),
                    Err(mut found) => problems.append(&mut found),
                },
                (None, Need::Default(text)) => match read_value(input, &Raw::Text(text.to_owned())) {
                    Ok(read) => {
                        inputs.given.push((input.key, read));
                        inputs.defaulted.push((input.key, text.to_owned()));
                    }
                    Err(mut found) => problems.append(&mut found),
                },
                (None, Need::ThirdOctaves) => {
                    let centres = Band::all().map(Band::centre_hz).collect();
                    inputs.given.push((input.key, Read::Numbers(centres)));
                    inputs
                        .defaulted
                        .push((input.key, "the 31 third octaves from 20 Hz to 20 kHz".to_owned()));
                }
                (None, Need::Required) => problems.push(missing(input)),
                (None, Need::Optional) => {}
            }
        }
        for sets in self.alternatives {
            problems.extend(check_alternatives(sets, &raw));
        }
        if problems.is_empty() { Ok(inputs) } else { Err(self.fail(problems)) }
    }

    fn collect(
        &self,
        arguments: &[String],
        document: Option<&Value>,
        problems: &mut Vec<InputProblem>,
    ) -> Vec<(&'static str, Raw)> {
        let is = |input: &&Input, key: &str| input.key == key || input.formerly == Some(key);
        let known = |key: &str| self.inputs.iter().find(|input| is(input, key)).map(|input| input.key);
        let mut raw: Vec<(&'static str, Raw)> = Vec::new();
        for argument in arguments {
            let Some((key, text)) = argument.split_once('=') else {
                problems.push(InputProblem::NotKeyValue(argument.clone()));
                continue;
            };
            let key = key.trim();
            match known(key) {
                None => problems.push(self.unknown_key(key)),
                Some(key) if raw.iter().any(|(given, _)| *given == key) => {
                    problems.push(InputProblem::Twice(key.to_owned()));
                }
                Some(key) => raw.push((key, Raw::Text(text.to_owned()))),
            }
        }
        match document {
            None => {}
            Some(Value::Object(object)) => {
                for (key, value) in object {
                    match known(key) {
                        None => problems.push(self.unknown_key(key)),
                        Some(key) if raw.iter().any(|(given, _)| *given == key) => {}
                        Some(key) => raw.push((key, Raw::Json(value.clone()))),
                    }
                }
            }
            Some(other) => problems.push(wrong_json("the document", "an object", other)),
        }
        raw
    }
}

fn missing(input: &Input) -> InputProblem {
    InputProblem::Missing { key: input.key, description: input.description, example: example(input) }
}

/// How a value of this input is typed.
pub(crate) fn example(input: &Input) -> String {
    let first = |quantity: Quantity| {
        let example = quantity.example();
        example.split(" or ").next().unwrap_or(example).replace(' ', "")
    };
    match input.kind {
        InputKind::Value(quantity) => first(quantity),
        InputKind::List(Quantity::Frequency) => "63,125,1000".to_owned(),
        InputKind::List(quantity) => format!("{0},{0}", first(quantity)),
        InputKind::Choice(words) => words.first().copied().unwrap_or_default().to_owned(),
        InputKind::Whole => "4".to_owned(),
        InputKind::Gauge => "14".to_owned(),
        InputKind::Text => "\"...\"".to_owned(),
        InputKind::Json(shape) => format!("({shape})"),
    }
}

fn check_alternatives(
    sets: &'static [&'static [&'static str]],
    raw: &[(&'static str, Raw)],
) -> Option<InputProblem> {
    let is_given = |key: &&'static str| raw.iter().any(|(given, _)| given == key);
    let mut given: Vec<&'static str> = Vec::new();
    for key in sets.iter().flat_map(|set| set.iter()).filter(|key| is_given(key)) {
        if !given.contains(key) {
            given.push(key);
        }
    }
    let fits = sets
        .iter()
        .any(|set| set.iter().all(|key| given.contains(key)) && given.iter().all(|key| set.contains(key)));
    (!fits).then_some(InputProblem::Alternatives { sets, given })
}

fn read_value(input: &Input, raw: &Raw) -> Result<Read, Vec<InputProblem>> {
    match input.kind {
        InputKind::Value(quantity) => {
            read_number(input, quantity, raw).map(Read::Number).map_err(|e| vec![e])
        }
        InputKind::List(quantity) => read_list(input, quantity, raw),
        InputKind::Choice(words) => read_choice(input, words, raw).map_err(|e| vec![e]),
        InputKind::Whole => read_whole(input, raw).map_err(|e| vec![e]),
        InputKind::Gauge => read_gauge(input, raw).map_err(|e| vec![e]),
        InputKind::Text => match raw {
            Raw::Text(text) | Raw::Json(Value::String(text)) => Ok(Read::Text(text.trim().to_owned())),
            Raw::Json(Value::Number(number)) => Ok(Read::Text(number.to_string())),
            Raw::Json(other) => Err(vec![wrong_json(input.key, "text", other)]),
        },
        // Only documents have these, and they are read as a whole.
        InputKind::Json(shape) => Err(vec![InputProblem::Document(format!(
            "{} ({shape}) can only be given in a JSON document",
            input.key
        ))]),
    }
}

fn read_number(input: &Input, quantity: Quantity, raw: &Raw) -> Result<f64, InputProblem> {
    let (value, text) = match raw {
        Raw::Text(text) | Raw::Json(Value::String(text)) => (quantity.parse(text), text.clone()),
        Raw::Json(Value::Number(number)) => {
            (quantity.of_number(number.as_f64().unwrap_or(f64::NAN)), number.to_string())
        }
        Raw::Json(other) => {
            let wanted =
                format!("{} (a number, or text such as \"{}\")", quantity.with_article(), quantity.example());
            return Err(wrong_json(input.key, &wanted, other));
        }
    };
    let value = value.map_err(|error| InputProblem::Quantity { key: input.key, error })?;
    check_range(input, quantity, value, &text)?;
    Ok(value)
}

fn check_range(input: &Input, quantity: Quantity, value: f64, text: &str) -> Result<(), InputProblem> {
    let inside = |value: f64| {
        input.range.is_none_or(|(least, most)| (least..=most).contains(&value))
            && input.above.is_none_or(|limit| value > limit)
    };
    if inside(value) {
        return Ok(());
    }
    let bare = text.trim().parse::<f64>().is_ok();
    let hint = (quantity == Quantity::Length && bare && inside(value / 1000.0) && value > 0.0)
        .then(|| format!("a bare number is metres; for millimetres write {}mm", text.trim()));
    Err(InputProblem::Range {
        key: input.key,
        value: with_unit(quantity, value),
        allowed: allowed(input),
        hint,
    })
}

/// The range of an input in words: `from -50 to 60 C`, `more than 0 m`.
pub(crate) fn allowed(input: &Input) -> String {
    let symbol = match input.kind {
        InputKind::Value(quantity) | InputKind::List(quantity) => quantity.symbol(),
        _ => "",
    };
    let unit = if symbol.is_empty() { String::new() } else { format!(" {symbol}") };
    match (input.range, input.above) {
        (Some((least, most)), Some(limit)) if limit >= least => {
            format!("more than {} and at most {}{unit}", plain(limit), plain(most))
        }
        (Some((least, most)), _) => format!("from {} to {}{unit}", plain(least), plain(most)),
        (None, Some(limit)) => format!("more than {}{unit}", plain(limit)),
        (None, None) => String::new(),
    }
}

fn plain(value: f64) -> String {
    Units::Metric.show(Quantity::Number, value)
}

fn with_unit(quantity: Quantity, value: f64) -> String {
    format!("{} {}", plain(value), quantity.symbol()).trim_end().to_owned()
}

fn read_list(input: &Input, quantity: Quantity, raw: &Raw) -> Result<Read, Vec<InputProblem>> {
    let items = match raw {
        Raw::Text(text) | Raw::Json(Value::String(text)) => {
            split_list(text).into_iter().map(Raw::Text).collect()
        }
        Raw::Json(Value::Array(items)) => items.iter().cloned().map(Raw::Json).collect::<Vec<_>>(),
        Raw::Json(other) => vec![Raw::Json(other.clone())],
    };
    if items.is_empty() {
        return Err(vec![missing(input)]);
    }
    let mut values = Vec::with_capacity(items.len());
    let mut problems = Vec::new();
    for item in &items {
        match read_number(input, quantity, item) {
            Ok(value) => values.push(value),
            Err(problem) => problems.push(problem),
        }
    }
    if problems.is_empty() { Ok(Read::Numbers(values)) } else { Err(problems) }
}

/// The items of a comma-separated list. `3x30 W` stands for three items; a unit on the last item alone counts for all
/// (`1,2,4 kHz`).
fn split_list(text: &str) -> Vec<String> {
    let mut items = Vec::new();
    for item in text.split(',').map(str::trim) {
        // A repeat that would make the list too long is a slip of the finger, and read as one unknown unit.
        let left = LIST_ITEMS.most().saturating_sub(items.len());
        let repeated = item.split_once(['x', '*']).and_then(|(count, value)| {
            let count = count.trim().parse::<usize>().ok().filter(|count| (1..=left).contains(count))?;
            Some((count, value.trim()))
        });
        match repeated {
            Some((count, value)) => items.extend(std::iter::repeat_n(value.to_owned(), count)),
            None => items.push(item.to_owned()),
        }
    }
    let is_bare = |item: &str| item.parse::<f64>().is_ok();
    if let Some((last, others)) = items.split_last()
        && !is_bare(last)
        && others.iter().all(|item| is_bare(item))
    {
        let unit = last.trim_start_matches(|c: char| c.is_ascii_digit() || "+-. /".contains(c)).to_owned();
        let with_unit = others.iter().map(|item| format!("{item} {unit}")).chain([last.clone()]);
        return with_unit.collect();
    }
    items
}

fn read_choice(input: &Input, words: &'static [&'static str], raw: &Raw) -> Result<Read, InputProblem> {
    let typed = match raw {
        Raw::Text(text) | Raw::Json(Value::String(text)) => text.trim(),
        Raw::Json(other) => {
            return Err(wrong_json(input.key, &format!("one of {}", words.join(", ")), other));
        }
    };
    let fold = |word: &str| word.to_ascii_lowercase().replace(['_', ' '], "-");
    words.iter().find(|word| fold(word) == fold(typed)).map(|word| Read::Word(word)).ok_or_else(|| {
        InputProblem::Choice {
            key: input.key,
            word: typed.to_owned(),
            suggestion: closest(typed, words.iter().copied()).map(str::to_owned),
            words,
        }
    })
}

fn read_whole(input: &Input, raw: &Raw) -> Result<Read, InputProblem> {
    let value = read_number(input, Quantity::Number, raw)?;
    if value.fract() == 0.0 && value.abs() < 1e15 {
        Ok(Read::Whole(value as i64))
    } else {
        Err(InputProblem::Range {
            key: input.key,
            value: plain(value),
            allowed: "a whole number".to_owned(),
            hint: None,
        })
    }
}

fn read_gauge(input: &Input, raw: &Raw) -> Result<Read, InputProblem> {
    let text = match raw {
        Raw::Text(text) | Raw::Json(Value::String(text)) => text.clone(),
        Raw::Json(Value::Number(number)) => number.to_string(),
        Raw::Json(other) => return Err(wrong_json(input.key, "a wire gauge such as 14", other)),
    };
    loamline_model::read_gauge(&text)
        .map(|gauge| Read::Whole(gauge.into()))
        .map_err(|error| InputProblem::Quantity { key: input.key, error })
}

fn wrong_json(key: &str, wanted: &str, found: &Value) -> InputProblem {
    let found = match found {
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "a number",
        Value::String(_) => "text",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    };
    InputProblem::Json { key: key.to_owned(), wanted: wanted.to_owned(), found }
}
