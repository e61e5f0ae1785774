//! The contract every calculator keeps, and the messages of bad calls.

use crate::{CalcError, Calculation, Need, all, find, reference};
use serde_json::{Value, json};

fn call(name: &str, arguments: &[&str]) -> Result<crate::Report, CalcError> {
    let arguments = arguments.iter().map(|text| (*text).to_owned()).collect::<Vec<_>>();
    find(name)?.calculate(&arguments, None)
}

#[track_caller]
fn refused(name: &str, arguments: &[&str]) -> String {
    call(name, arguments).unwrap_err().to_string()
}

/// Arguments as a shell would split the example.
fn split_example(example: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for letter in example.chars() {
        match letter {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            other => words.last_mut().unwrap().push(other),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

#[test]
fn every_calculator_answers_its_example_with_the_keys_it_describes() {
    assert!(!all().is_empty());
    for calculator in all() {
        let report = match calculator.run {
            Calculation::Values(_) => calculator.calculate(&split_example(calculator.example), None),
            Calculation::Document(_) => {
                let document: Value = serde_json::from_str(calculator.example)
                    .unwrap_or_else(|error| panic!("{}: example is not JSON: {error}", calculator.name));
                calculator.calculate(&[], Some(&document))
            }
        }
        .unwrap_or_else(|error| panic!("{error}"));
        let described = calculator.results.iter().map(|output| output.key).collect::<Vec<_>>();
        for key in report.results.keys() {
            assert!(described.contains(&key.as_str()), "{}: {key} is not described", calculator.name);
        }
        assert!(!report.results.is_empty(), "{}", calculator.name);
        assert!(!report.working.is_empty(), "{} shows no working", calculator.name);
        assert!(!report.sources.is_empty(), "{} names no source", calculator.name);
    }
}

#[test]
fn descriptions_are_consistent() {
    for (index, calculator) in all().iter().enumerate() {
        assert!(
            all().iter().skip(index + 1).all(|other| other.name != calculator.name),
            "{}",
            calculator.name
        );
        assert!(!calculator.purpose.ends_with('.'), "{}: no full stop after a purpose", calculator.name);
        for key in calculator.alternatives.iter().flat_map(|sets| sets.iter()).flat_map(|set| set.iter()) {
            let input = calculator.inputs.iter().find(|input| input.key == *key);
            assert!(
                input.is_some_and(|input| input.need == Need::Optional),
                "{}: {key} is in alternatives, so it must be an optional input",
                calculator.name
            );
        }
        assert!(reference(all()).contains(&format!("## {}\n", calculator.name)));
    }
}

#[test]
fn values_carry_units_and_defaults_are_stated() {
    let fahrenheit = call("sound-speed", &["temperature=68F"]).unwrap();
    assert_eq!(fahrenheit.results, call("sound-speed", &[]).unwrap().results);
    let report = call("air-absorption", &["frequency=1,2,4 kHz"]).unwrap();
    assert_eq!(report.inputs["frequency"], json!([1000.0, 2000.0, 4000.0]));
    assert_eq!(report.inputs["pressure"], json!(101_325.0));
    assert_eq!(
        report.working[0],
        "not given, so taken as: temperature = 20 C, humidity = 70 %, pressure = 101.325 kPa"
    );
    let bands = call("air-absorption", &[]).unwrap();
    assert_eq!(bands.results["attenuation_db_per_m"].as_array().unwrap().len(), 31);
    let repeated = call("air-absorption", &["frequency=3x1kHz,2 kHz"]).unwrap();
    assert_eq!(repeated.inputs["frequency"], json!([1000.0, 1000.0, 1000.0, 2000.0]));
}

#[test]
fn documents_and_arguments_mix() {
    let calculator = find("air-absorption").unwrap();
    let document = json!({"temperature": "50 F", "humidity": 50, "frequency": [1000, "2 kHz"]});
    let report = calculator.calculate(&["humidity=80%".to_owned()], Some(&document)).unwrap();
    assert_eq!(report.inputs["humidity"], json!(80.0));
    assert_eq!(report.inputs["frequency"], json!([1000.0, 2000.0]));
    assert!((report.inputs["temperature"].as_f64().unwrap() - 10.0).abs() < 1e-12);
    let wrong = json!({"temperature": true, "humidity": [1], "presure": 100});
    assert_eq!(
        calculator.calculate(&[], Some(&wrong)).unwrap_err().to_string(),
        "air-absorption: there is no input \"presure\"; did you mean \"pressure\"? the inputs are temperature, \
         humidity, pressure, frequency\n\
         air-absorption: temperature must be a temperature (a number, or text such as \"20 C or 68 F\"); the document \
         has true or false\n\
         air-absorption: humidity must be a percentage (a number, or text such as \"70 %\"); the document has a list"
    );
    let list = json!([1, 2]);
    assert!(calculator.calculate(&[], Some(&list)).unwrap_err().to_string().contains("must be an object"));
}

#[test]
fn every_problem_of_a_call_is_told_at_once() {
    assert_eq!(
        refused(
            "air-absorption",
            &["temprature=20", "humidity=3 kg", "pressure=2 bar", "loud", "frequency=0,1k"]
        ),
        "air-absorption: there is no input \"temprature\"; did you mean \"temperature\"? the inputs are temperature, \
         humidity, pressure, frequency\n\
         air-absorption: \"loud\" is not key=value; write for example length=30 or \"length=98 ft\"\n\
         air-absorption: humidity: \"3 kg\" is a mass; a percentage is wanted, e.g. 70 %\n\
         air-absorption: pressure must be from 50000 to 120000 Pa; 200000 Pa is not\n\
         air-absorption: frequency must be more than 0 Hz; 0 Hz is not"
    );
    assert_eq!(
        refused("sound-speed", &["temperature=20", "temperature=21"]),
        "sound-speed: temperature is given twice"
    );
    assert_eq!(
        refused("sund-speed", &[]),
        "there is no calculator \"sund-speed\"; did you mean \"sound-speed\"? `loamline calc list` shows them all"
    );
    assert_eq!(refused("zzz", &[]), "there is no calculator \"zzz\"; `loamline calc list` shows them all");
}

mod with_alternatives {
    use crate::{Answer, Calculation, Calculator, Input, Inputs, Outcome, Output};
    use loamline_model::Quantity;

    static WIRE: Calculator = Calculator {
        name: "test-wire",
        purpose: "A calculator for the tests",
        inputs: &[
            Input::gauge(),
            Input::conductor_area(),
            Input::value("length", Quantity::Length, "how far").above(0.0).range(0.0, 10.0),
            Input::choice("shape", &["round", "flat"], "which shape").default("round"),
        ],
        alternatives: &[&[&["gauge"], &["area"]]],
        results: &[Output::unit("area", "mm2", "the area")],
        sources: &["none"],
        example: "gauge=14 length=1",
        run: Calculation::Values(run),
    };

    fn run(inputs: &Inputs) -> Outcome {
        let mut answer = Answer::new();
        answer.number("area", inputs.conductor()?.area_mm2() / (inputs.value("length")? - 1.0).abs());
        Ok(answer)
    }

    fn call(arguments: &[&str]) -> Result<f64, String> {
        let arguments = arguments.iter().map(|text| (*text).to_owned()).collect::<Vec<_>>();
        let report = WIRE.calculate(&arguments, None).map_err(|error| error.to_string())?;
        Ok(report.results["area"].as_f64().unwrap())
    }

    #[test]
    fn one_of_two_is_wanted() {
        assert!((call(&["area=2.5mm2", "length=2"]).unwrap() - 2.5).abs() < 1e-12);
        assert!((call(&["gauge=14", "length=2"]).unwrap() - 2.081).abs() < 1e-3);
        assert_eq!(call(&["length=2"]).unwrap_err(), "test-wire: give gauge, or area");
        assert_eq!(
            call(&["length=2", "gauge=14", "area=2"]).unwrap_err(),
            "test-wire: give gauge, or area; gauge and area are given"
        );
        assert_eq!(
            call(&["gauge=14"]).unwrap_err(),
            "test-wire: length is missing (how far); give for example length=3.8m"
        );
    }

    #[test]
    fn messages_of_ranges_words_and_answers() {
        assert_eq!(
            call(&["gauge=14", "length=450"]).unwrap_err(),
            "test-wire: length must be more than 0 and at most 10 m; 450 m is not; a bare number is metres; for \
             millimetres write 450mm"
        );
        assert_eq!(
            call(&["gauge=14", "length=2", "shape=rond"]).unwrap_err(),
            "test-wire: shape cannot be \"rond\"; did you mean \"round\"? it is one of round, flat"
        );
        assert_eq!(
            call(&["gauge=14", "length=1"]).unwrap_err(),
            "test-wire: area has no finite value for these inputs; check that none of them is extreme"
        );
        assert!(call(&["gauge=14.5", "length=2"]).unwrap_err().contains("is not a wire gauge"));
    }
}
