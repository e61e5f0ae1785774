//! `loamline new DIR`

use crate::args::NewArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Format, whole_file};
use loamline_model::{Quantity, SourceFile, Units, read_job, shipped_catalogue};
use serde_json::json;
use std::io::Write as _;

/// A small job that passes `check`, with a comment on every part.
const STARTER: &str = include_str!("new_job.toml");
/// The same in feet, with cable by its gauge.
const STARTER_US: &str = include_str!("new_job_us.toml");
const NAME_LINE: &str = "name = \"New garden\"";
const RACK_LINE: &str = "name = \"Cupboard by the garden door\"";

/// The job to start from, and its line that says what it counts money in.
const fn starter(units: Units) -> (&'static str, &'static str) {
    match units {
        Units::Metric => (STARTER, "currency = \"EUR\""),
        Units::Us => (STARTER_US, "currency = \"USD\""),
    }
}

/// Units, money and mains of where a job is built.
#[derive(Debug, PartialEq)]
struct Place {
    units: Units,
    currency: String,
    /// As a fraction; that of the price book when absent.
    tax: Option<f64>,
    mains_v: f64,
    circuit_a: f64,
}

impl Place {
    /// What fits the units, unless something else is asked for.
    fn of(asked: &NewArguments, units: Units) -> Result<Self, Failure> {
        let usual = match units {
            Units::Metric => {
                Self { units, currency: "EUR".into(), tax: None, mains_v: 230.0, circuit_a: 16.0 }
            }
            Units::Us => {
                Self { units, currency: "USD".into(), tax: Some(0.0), mains_v: 120.0, circuit_a: 20.0 }
            }
        };
        let read = |text: &Option<String>, name: &str, kind: Quantity| match text {
            Some(text) => match kind.parse(text) {
                Ok(value) => Ok(Some(value)),
                Err(e) => Err(Failure::input(format!("--{name} {text}: {e}"))),
            },
            None => Ok(None),
        };
        let currency = match asked.currency.as_deref().map(|c| c.trim().to_uppercase()) {
            Some(code) if code.len() == 3 && code.bytes().all(|b| b.is_ascii_uppercase()) => code,
            Some(code) => {
                let wrong = format!("--currency {code}: write its three letters, such as USD");
                return Err(Failure::input(wrong));
            }
            None => usual.currency,
        };
        Ok(Self {
            units,
            currency,
            tax: read(&asked.tax, "tax", Quantity::Fraction)?.or(usual.tax),
            mains_v: read(&asked.mains, "mains", Quantity::Voltage)?.unwrap_or(usual.mains_v),
            circuit_a: read(&asked.circuit, "circuit", Quantity::Current)?.unwrap_or(usual.circuit_a),
        })
    }

    /// The job to start from, with a name.
    fn starter(&self, name: &str) -> String {
        let tax = self.tax.map_or_else(String::new, |tax| format!("\ntax = \"{}\"", percent(tax)));
        let (mains, circuit) = (self.mains_v, self.circuit_a);
        let (text, currency_line) = starter(self.units);
        text.replace(NAME_LINE, &format!("name = {name}"))
            .replace(currency_line, &format!("currency = \"{}\"{tax}", self.currency))
            .replace(RACK_LINE, &format!("{RACK_LINE}\nmains = \"{mains} V\"\ncircuit = \"{circuit} A\""))
    }

    /// What was taken, for whoever was not asked.
    fn words(&self) -> String {
        let shipped = shipped_catalogue().ok();
        let book = shipped.as_ref().and_then(|c| c.prices.as_ref()).map_or(0.0, |p| p.tax);
        let tax = match self.tax {
            Some(0.0) => "without tax".to_owned(),
            Some(tax) => format!("with {} tax", percent(tax)),
            None => format!("with the price book's tax ({} as shipped)", percent(book)),
        };
        let lengths = match self.units {
            Units::Metric => "in metres",
            Units::Us => "in feet and inches",
        };
        format!(
            "Everything of the job is told {lengths}. Amounts are in {}, {tax}; the rack is on {} V, {} A circuits. Change \
             them in job.toml (units, currency and tax under [job], mains and circuit at the rack), or begin again with \
             --units, --currency, --tax, --mains, --circuit.",
            self.currency, self.mains_v, self.circuit_a
        )
    }
}

/// `8.25 %`
fn percent(fraction: f64) -> String {
    format!("{} %", (fraction * 1e6).round() / 1e4)
}

pub fn run(asked: &NewArguments, format: Format) -> Result<Verdict, Failure> {
    let folder = &asked.folder;
    let file = folder.join("job.toml");
    if file.exists() {
        return Err(Failure::input(format!("{} is already there; choose another folder", file.display())));
    }
    let place = Place::of(asked, format.units)?;
    let text = place.starter(&toml_text(asked.name.as_deref().unwrap_or("New garden"))?);
    // What is out of range is told before anything is written.
    read_job(&SourceFile::new("job.toml", text.as_str()), &[])
        .map_err(|report| Failure::Job(Box::new(report)))?;
    let cannot =
        |error: std::io::Error| Failure::input(format!("{} cannot be written: {error}", file.display()));
    std::fs::create_dir_all(folder).map_err(cannot)?;
    whole_file(&file, |f| f.write_all(text.as_bytes()).map_err(cannot))?;
    if format.json {
        let Place { units, currency, tax, mains_v, circuit_a } = &place;
        output::json(
            &json!({ "job": folder, "file": file, "units": units, "currency": currency, "tax": tax,
            "mains_v": mains_v, "circuit_a": circuit_a }),
        )?;
    } else {
        output::data(&format!(
            "{} holds a small job to start from.\n{}Change it to your site, then:\n\n  \
             loamline check {folder}\n  loamline predict {folder}\n  loamline lines {folder}\n",
            file.display(),
            output::paragraph(&place.words()),
            folder = folder.display()
        ))?;
    }
    Ok(Verdict::Fine)
}

/// A basic string of TOML.
fn toml_text(name: &str) -> Result<String, Failure> {
    if name.chars().any(char::is_control) {
        return Err(Failure::input("--name: a name is one line of plain text"));
    }
    Ok(format!("\"{}\"", name.replace('\\', "\\\\").replace('"', "\\\"")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::Job;

    fn asked(options: [Option<&str>; 4]) -> NewArguments {
        let [currency, tax, mains, circuit] = options.map(|o| o.map(str::to_owned));
        NewArguments { folder: "garden".into(), name: None, currency, tax, mains, circuit }
    }

    fn job(options: [Option<&str>; 4], units: Units) -> Job {
        let text = Place::of(&asked(options), units).unwrap().starter("\"Mill\"");
        read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|report| panic!("{report}"))
    }

    #[test]
    fn the_starter_is_a_sound_job_under_any_name() {
        for units in [Units::Metric, Units::Us] {
            let (text, currency_line) = starter(units);
            for line in [NAME_LINE, currency_line, RACK_LINE] {
                assert_eq!(text.matches(line).count(), 1, "{line}");
            }
        }
        let name = r#"The "Old" \ Mill"#;
        let text = Place::of(&asked([None; 4]), Units::Metric).unwrap().starter(&toml_text(name).unwrap());
        let job =
            read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|report| panic!("{report}"));
        assert_eq!(job.document().about.name, name);
        assert!(toml_text("two\nlines").is_err());
    }

    /// Both starters are the same garden: no length of the one in feet is a foot and a half from the metric one.
    #[test]
    fn the_two_starters_are_one_garden() {
        let [metric, us] = [Units::Metric, Units::Us].map(|units| job([None; 4], units));
        let (metric, us) = (metric.document(), us.document());
        for (id, l) in &metric.loudspeakers {
            assert!((l.position - us.loudspeakers[id].position).norm() < 0.46, "{id}");
        }
        assert!(
            (metric.areas["terrace"].outline.area() / us.areas["terrace"].outline.area() - 1.0).abs() < 0.05
        );
        assert_eq!(metric.lines["A"].runs.len(), us.lines["A"].runs.len());
        assert_eq!(us.lines["A"].cable, "burial-2x14awg");
    }

    /// Nominal voltages: 120 V (ANSI C84.1), 230 V (IEC 60038). Circuits of 20 A and 16 A: common practice, no source.
    #[test]
    fn money_and_mains_fit_the_units_unless_something_else_is_said() {
        let told = |options, units| {
            let job = job(options, units);
            assert_eq!(job.document().about.units, Some(units));
            let (about, rack) = (&job.document().about, &job.document().racks["house"]);
            (about.currency.clone(), about.tax, rack.mains_v, rack.circuit_a)
        };
        assert_eq!(told([None; 4], Units::Metric), ("EUR".to_owned(), None, 230.0, 16.0));
        assert_eq!(told([None; 4], Units::Us), ("USD".to_owned(), Some(0.0), 120.0, 20.0));
        let changed = [Some("cad"), Some("8.25 %"), Some("208 V"), Some("15 A")];
        assert_eq!(told(changed, Units::Us), ("CAD".to_owned(), Some(0.0825), 208.0, 15.0));
        let said = Place::of(&asked([None; 4]), Units::Us).unwrap().words();
        assert!(
            said.starts_with(
                "Everything of the job is told in feet and inches. Amounts are in USD, without tax; the rack is on 120 V, \
                 20 A circuits."
            ),
            "{said}"
        );
        assert!(Place::of(&asked([Some("dollars"), None, None, None]), Units::Us).is_err());
    }
}
