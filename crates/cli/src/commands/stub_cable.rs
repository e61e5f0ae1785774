//! `loamline locate JOB --stub T1 --reading dc=1.9ohm [--write]`

use super::open;
use super::reading::reading;
use super::tolerances::tolerances;
use crate::args::LocateArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Format};
use loamline_faults::{MeterReading, Place, Shown};
use loamline_model::{JobFile, LoadError, Quantity};
use loamline_study::{Study, stub_length};
use serde_json::json;

pub fn run(stub: &str, arguments: &LocateArguments, format: Format) -> Result<Verdict, Failure> {
    let mut file = match JobFile::open(&arguments.job) {
        Ok(file) => file,
        Err(LoadError::Invalid(report)) => return Err(Failure::Job(Box::new(report))),
        Err(error) => return Err(Failure::input(error)),
    };
    let format = format.of(file.job());
    let readings: Vec<MeterReading> =
        arguments.reading.iter().map(|r| reading(r)).collect::<Result<_, _>>()?;
    let loop_ohm = match readings.as_slice() {
        [MeterReading { place: Place::Rack, frequency_hz: 0.0, shown: Shown::Ohm(ohm), .. }] => *ohm,
        [MeterReading { shown: Shown::Open, .. }] => {
            return Err(Failure::input(format!(
                "the loop reads open: join the two conductors of that pair at stub-out {stub} and read again; if it stays open, the cable is cut"
            )));
        }
        _ => {
            return Err(Failure::input(format!(
                "the length of the cable at stub-out {stub} comes from one reading at the rack at direct current: --reading dc=OHM"
            )));
        }
    };
    let allowed = tolerances(&arguments.tolerances)?;
    let temperature_c = match &arguments.ground_temperature {
        Some(text) => {
            let wrong = |e| Failure::input(format!("--ground-temperature {text}: {e}"));
            Some(Quantity::Temperature.parse(text).map_err(wrong)?)
        }
        None => None,
    };
    let found = stub_length(file.job(), stub, loop_ohm, temperature_c, &allowed).map_err(Failure::study)?;
    if arguments.write {
        file.apply(&found.edit).map_err(Failure::input)?;
        file.save(&arguments.job).map_err(Failure::input)?;
    }
    if format.json {
        let study = Study::new(file.job().clone());
        let job = open::job_json(&study);
        output::json(&json!({ "job": job, "stub": stub, "written": arguments.write, "found": found }))?;
    } else {
        let stored = if arguments.write {
            format!("The length is stored at stub-out {stub} in job.toml.")
        } else {
            "Nothing is written; --write stores the length.".to_owned()
        };
        let sentences = found.sentences.iter().map(|s| format.tell(&s.sentence)).chain([stored]);
        output::data(&sentences.map(|s| output::paragraph(&s)).collect::<String>())?;
    }
    Ok(Verdict::Fine)
}
