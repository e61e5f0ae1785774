//! `loamline new DIR`

use crate::args::NewArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Format, whole_file};
use loamline_model::document::{Mains, Paper};
use loamline_model::{Quantity, SourceFile, Units, read_job, shipped_catalogue};
use serde_json::json;
use std::io::Write as _;

/// A small job that passes `check`, with a comment on every part.
const STARTER: &str = include_str!("new_job.toml");
/// The same in feet, with cable by its gauge.
const STARTER_US: &str = include_str!("new_job_us.toml");
const NAME_LINE: &str = "name = \"New garden\"";

/// The job to start from, and its line that says what it counts money in.
const fn starter(units: Units) -> (&'static str, &'static str) {
    match units {
        Units::Metric => (STARTER, "currency = \"EUR\""),
        Units::Us => (STARTER_US, "currency = \"USD\""),
    }
}

/// Units, money, mains and paper of where a job is built.
#[derive(Debug, PartialEq)]
struct Place {
    units: Units,
    currency: String,
    /// As a fraction; that of the price book when absent.
    tax: Option<f64>,
    mains: Mains,
    paper: Paper,
}

impl Place {
    /// What fits the units, unless something else is asked for.
    fn of(asked: &NewArguments, units: Units) -> Result<Self, Failure> {
        let (money, tax) = match units {
            Units::Metric => ("EUR", None),
            Units::Us => ("USD", Some(0.0)),
        };
        let mains = Mains::usual(units);
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
            None => money.to_owned(),
        };
        let paper = match asked.paper.as_deref().map(str::trim) {
            Some(name) => Paper::named(name).ok_or_else(|| {
                Failure::input(format!("--paper {name}: the sheets are A4, A3, Letter and Tabloid"))
            })?,
            None => Paper::usual(units),
        };
        Ok(Self {
            units,
            currency,
            tax: read(&asked.tax, "tax", Quantity::Fraction)?.or(tax),
            mains: Mains {
                voltage_v: read(&asked.mains, "mains", Quantity::Voltage)?.unwrap_or(mains.voltage_v),
                circuit_a: read(&asked.circuit, "circuit", Quantity::Current)?.unwrap_or(mains.circuit_a),
            },
            paper,
        })
    }

    /// The job to start from, with a name.
    fn starter(&self, name: &str) -> String {
        let tax = self.tax.map_or_else(String::new, |tax| format!("\ntax = \"{}\"", percent(tax)));
        let Mains { voltage_v, circuit_a } = self.mains;
        let (text, currency_line) = starter(self.units);
        let said = format!(
            "currency = \"{}\"{tax}\nmains = \"{voltage_v} V\"\ncircuit = \"{circuit_a} A\"\npaper = \"{}\"",
            self.currency,
            self.paper.name()
        );
        text.replace(NAME_LINE, &format!("name = {name}")).replace(currency_line, &said)
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
            "Everything of the job is told {lengths}. Amounts are in {}, {tax}; racks are on {} V, {} A circuits; papers are \
             {}. Change them in job.toml (units, currency, tax, mains, circuit and paper under [job]), or begin again with \
             --units, --currency, --tax, --mains, --circuit, --paper.",
            self.currency,
            self.mains.voltage_v,
            self.mains.circuit_a,
            self.paper.name()
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
        let Place { units, currency, tax, mains, paper } = &place;
        output::json(
            &json!({ "job": folder, "file": file, "units": units, "currency": currency, "tax": tax,
            "mains_v": mains.voltage_v, "circuit_a": mains.circuit_a, "paper": paper }),
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

    fn asked(options: [Option<&str>; 5]) -> NewArguments {
        let [currency, tax, mains, circuit, paper] = options.map(|o| o.map(str::to_owned));
        NewArguments { folder: "garden".into(), name: None, currency, tax, mains, circuit, paper }
    }

    fn job(options: [Option<&str>; 5], units: Units) -> Job {
        let text = Place::of(&asked(options), units).unwrap().starter("\"Mill\"");
        read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|report| panic!("{report}"))
    }

    #[test]
    fn the_starter_is_a_sound_job_under_any_name() {
        for units in [Units::Metric, Units::Us] {
            let (text, currency_line) = starter(units);
            for line in [NAME_LINE, currency_line] {
                assert_eq!(text.matches(line).count(), 1, "{line}");
            }
        }
        let name = r#"The "Old" \ Mill"#;
        let text = Place::of(&asked([None; 5]), Units::Metric).unwrap().starter(&toml_text(name).unwrap());
        let job =
            read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|report| panic!("{report}"));
        assert_eq!(job.document().about.name, name);
        assert!(toml_text("two\nlines").is_err());
    }

    /// Both starters are the same garden: no length of the one in feet is a foot and a half from the metric one.
    #[test]
    fn the_two_starters_are_one_garden() {
        let [metric, us] = [Units::Metric, Units::Us].map(|units| job([None; 5], units));
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
    fn money_mains_and_paper_fit_the_units_unless_something_else_is_said() {
        let told = |options, units| {
            let job = job(options, units);
            let d = job.document();
            assert_eq!(d.about.units, Some(units));
            // Said once, for the whole job: its rack follows it, whatever units it is read in later.
            assert_eq!((d.about.mains_v, d.about.paper), (Some(d.mains().voltage_v), Some(d.paper(units))));
            let of_rack = d.mains_of(&d.racks["house"]);
            let (currency, paper) = (d.about.currency.clone(), d.paper(units));
            (currency, d.about.tax, of_rack.voltage_v, of_rack.circuit_a, paper)
        };
        assert_eq!(told([None; 5], Units::Metric), ("EUR".to_owned(), None, 230.0, 16.0, Paper::A4));
        assert_eq!(told([None; 5], Units::Us), ("USD".to_owned(), Some(0.0), 120.0, 20.0, Paper::Letter));
        let changed = [Some("cad"), Some("8.25 %"), Some("208 V"), Some("15 A"), Some("tabloid")];
        assert_eq!(told(changed, Units::Us), ("CAD".to_owned(), Some(0.0825), 208.0, 15.0, Paper::Tabloid));
        let said = Place::of(&asked([None; 5]), Units::Us).unwrap().words();
        assert!(
            said.starts_with(
                "Everything of the job is told in feet and inches. Amounts are in USD, without tax; racks are on 120 V, \
                 20 A circuits; papers are Letter."
            ),
            "{said}"
        );
        assert!(Place::of(&asked([Some("dollars"), None, None, None, None]), Units::Us).is_err());
        assert!(Place::of(&asked([None, None, None, None, Some("A5")]), Units::Us).is_err());
    }
}
