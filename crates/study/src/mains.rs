//! Racks: what their amplifiers draw from the mains, the heat they give, and the circuits they need.

use crate::finding::{Finding, Severity, Subject};
use indexmap::IndexMap;
use loamline_electrics::{AmplifierPower, CONTINUOUS_SHARE, CircuitPlan, Supply, plan_circuits};
use loamline_model::Job;
use loamline_model::document::Mains;
use loamline_terms::say;

/// Real over apparent power of an amplifier's mains supply where nothing is stated (common practice, no source).
const POWER_FACTOR: f64 = 0.9;

/// The mains plan of every rack that holds amplifiers, with what cannot be fed.
pub fn mains(job: &Job) -> (IndexMap<String, CircuitPlan>, Vec<Finding>) {
    let d = job.document();
    let (mut plans, mut findings) = (IndexMap::new(), Vec::new());
    for (id, rack) in &d.racks {
        let amplifiers: Vec<AmplifierPower> = d
            .amplifiers
            .iter()
            .filter(|(_, a)| a.rack == *id)
            .filter_map(|(name, a)| {
                let m = job.catalogue().amplifiers.get(&a.model)?;
                let each = [m.line_power_w, m.power_2ohm_w, m.power_4ohm_w, m.power_8ohm_w];
                let rated_w = f64::from(m.channels) * each.into_iter().flatten().fold(0.0, f64::max);
                Some(AmplifierPower {
                    name: name.clone(),
                    rated_w,
                    idle_w: m.idle_w,
                    eighth_power_draw_w: None,
                    efficiency: m.efficiency,
                    power_factor: POWER_FACTOR,
                })
            })
            .collect();
        if amplifiers.is_empty() {
            continue;
        }
        let Mains { voltage_v, circuit_a } = d.mains_of(rack);
        let supply = Supply { voltage_v, breaker_a: circuit_a, continuous_share: CONTINUOUS_SHARE };
        match plan_circuits(&amplifiers, &supply) {
            Ok(plan) => {
                plans.insert(id.clone(), plan);
            }
            Err(e) => findings.push(
                Finding::new(
                    Severity::Error,
                    Subject::new("racks", id),
                    say!("Rack {id}: {reason}.", id = id, reason = e.to_string()),
                )
                .mend(say!(
                    "Give it a larger circuit, or smaller amplifiers. A licensed electrician decides."
                )),
            ),
        }
    }
    (plans, findings)
}

#[cfg(test)]
mod tests {
    use super::mains;
    use crate::plain::Plain;
    use loamline_model::{Job, SourceFile, read_job};

    fn job(about: &str, rack: &str) -> Job {
        let text = format!(
            "format = 1\n[job]\nname = \"x\"\n{about}\n[racks.R1]\nposition = [0, 0]\n{rack}\n\
             [amplifiers.P1]\nmodel = \"line-4x280\"\nrack = \"R1\"\n"
        );
        read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|report| panic!("{report}"))
    }

    fn current_a(job: &Job) -> f64 {
        mains(job).0["R1"].draws[0].eighth_current_a
    }

    /// A load of so many watts draws a current that goes with one over the voltage.
    #[test]
    fn a_rack_draws_from_the_mains_of_the_job_unless_it_says_others() {
        let metric = current_a(&job("", ""));
        for (about, rack, volts) in [
            ("units = \"us\"", "", 120.0),
            ("mains = \"100 V\"", "", 100.0),
            ("units = \"us\"\nmains = \"240 V\"", "", 240.0),
            ("units = \"us\"", "mains = \"230 V\"", 230.0),
        ] {
            let drawn = current_a(&job(about, rack));
            assert!((drawn / metric * volts / 230.0 - 1.0).abs() < 1e-9, "{about} {rack}: {drawn} A");
        }
    }

    #[test]
    fn what_says_the_same_mains_another_way_is_the_same_job_and_others_are_not() {
        let plain = |about, rack| Plain::of(&job(about, rack));
        assert_eq!(plain("", ""), plain("mains = \"230 V\"\ncircuit = \"16 A\"\npaper = \"A3\"", ""));
        assert_ne!(plain("", ""), plain("units = \"us\"", ""));
        assert_eq!(plain("units = \"us\"", ""), plain("", "mains = \"120 V\"\ncircuit = \"20 A\""));
    }
}
