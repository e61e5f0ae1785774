//! Which leads of a loudspeaker are connected, and which are capped: coils in series or parallel, or the transformer alone.

use crate::material::Material;
use loamline_model::PlacedLoudspeaker;
use loamline_model::catalogue::Leads;
use loamline_model::document::Coils;

/// How a loudspeaker is wired, in words; `None` where there is nothing to choose: terminals, and a single coil.
pub fn wiring(m: &Material<'_>, l: &PlacedLoudspeaker<'_>) -> Option<String> {
    let words = &m.options.words;
    let none = Leads { coil: Vec::new(), second_coil: Vec::new(), transformer: Vec::new() };
    let leads = l.model.leads.as_ref().unwrap_or(&none);
    let two_coils = l.model.dual_coil.is_some();
    let through_transformer = l.placed.tap_w.is_some() && l.model.transformer.is_some();
    let named = |colours: &[String], place: usize, key: &str| {
        let stated = colours.get(place).map(|colour| words.colour(colour));
        stated.unwrap_or_else(|| words.get(&format!("wiring.{key}")).to_owned())
    };
    let coils: Vec<String> = if two_coils {
        [&leads.coil, &leads.second_coil].map(Vec::as_slice).concat()
    } else {
        leads.coil.clone()
    };
    let (connected, unused) = if through_transformer {
        if leads.transformer.is_empty() && coils.is_empty() {
            return None;
        }
        let pair = [
            ("positive", named(&leads.transformer, 0, "line_positive")),
            ("negative", named(&leads.transformer, 1, "line_negative")),
        ];
        (fill(m, "wiring.transformer", &pair), coils)
    } else if two_coils {
        let ends = [
            ("first_positive", named(&leads.coil, 0, "first_positive")),
            ("first_negative", named(&leads.coil, 1, "first_negative")),
            ("second_positive", named(&leads.second_coil, 0, "second_positive")),
            ("second_negative", named(&leads.second_coil, 1, "second_negative")),
        ];
        let key = match l.placed.coils {
            Some(Coils::Series) => "wiring.series",
            Some(Coils::Parallel) => "wiring.parallel",
            None => return None,
        };
        (fill(m, key, &ends), leads.transformer.clone())
    } else if l.model.leads.is_some() {
        let pair = [
            ("positive", named(&leads.coil, 0, "first_positive")),
            ("negative", named(&leads.coil, 1, "first_negative")),
        ];
        (fill(m, "wiring.coil", &pair), leads.transformer.clone())
    } else {
        return None;
    };
    Some(match unused.as_slice() {
        [] => connected,
        unused => {
            let unused: Vec<String> = unused.iter().map(|colour| words.colour(colour)).collect();
            words.fill("wiring.capped", &[("wired", &connected), ("unused", &unused.join(", "))])
        }
    })
}

fn fill(m: &Material<'_>, key: &str, values: &[(&str, String)]) -> String {
    let values: Vec<(&str, &str)> = values.iter().map(|(name, value)| (*name, value.as_str())).collect();
    m.options.words.fill(key, &values)
}

#[cfg(test)]
mod tests {
    use super::super::loudspeakers::fixing;
    use super::*;
    use crate::options::PackOptions;
    use crate::results::Results;
    use loamline_model::{SourceFile, read_job};

    /// A subwoofer with two coils wired as said, and two loudspeakers back to back on one stake beside one of its own.
    fn told(sub: &str, supply: &str) -> (Option<String>, Vec<String>) {
        let tap = if supply == "70.7 V" { "tap = \"10 W\"\n" } else { "" };
        let stakes = [("L1", 0, "[10, 3]"), ("L2", 180, "[10, 3.01]"), ("L3", 0, "[12, 3]")].map(|(tag, bearing, at)| {
            format!(
                "[loudspeakers.{tag}]\nmodel = \"stake-110-wide\"\nposition = {at}\nbearing = {bearing}\nline = \"A\"\n{tap}"
            )
        });
        let text = format!(
            "format = 1\n[job]\nname = \"Two coils\"\n[brief]\nsupply = \"{supply}\"\n[racks.R1]\nposition = [0, 0]\n\
             [amplifiers.P1]\nmodel = \"line-4x280\"\nrack = \"R1\"\n[channels.C1]\namplifier = \"P1\"\noutput = 1\n\
             [lines.A]\nchannel = \"C1\"\ncable = \"burial-2x14awg\"\n\
             [loudspeakers.S1]\nmodel = \"ground-sub-320\"\nposition = [4, 4]\nline = \"A\"\n{sub}\n{}",
            stakes.concat()
        );
        let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap();
        let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
        let m = Material::gather(&job, &results, &options).unwrap();
        let wired = wiring(&m, &job.loudspeaker("S1").unwrap());
        let stakes = ["L1", "L2", "L3"].map(|tag| fixing(&m, &job.loudspeaker(tag).unwrap()));
        assert_eq!(job.stakes(), 2);
        assert!(m.bill.iter().any(|i| i.code == "task/stake" && i.quantity == 2.into()), "one stake for two");
        (wired, stakes.to_vec())
    }

    /// In series the current leaves one coil and enters the next; in parallel both have the line's voltage; through the
    /// transformer its own leads alone are on the line. Colours are the catalogue's.
    #[test]
    fn coils_and_leads_are_told_by_the_catalogues_colours() {
        let (series, stakes) = told("coils = \"series\"", "low impedance");
        assert_eq!(
            series.unwrap(),
            "line positive to red, black to orange, grey to line negative; cap each unused lead by itself: violet, white"
        );
        assert!(
            stakes[0].starts_with("ground stake")
                && stakes[0].ends_with("it carries L2 too, each with its own aim")
        );
        assert_eq!(stakes[1], "on the stake of L1, aimed as said here: no stake and no hole of its own");
        assert!(!stakes[2].contains("carries"), "{}", stakes[2]);
        let (parallel, _) = told("coils = \"parallel\"", "low impedance");
        assert_eq!(
            parallel.unwrap(),
            "red and orange to line positive, black and grey to line negative; cap each unused lead by itself: violet, white"
        );
        let (transformer, _) = told("tap = \"100 W\"", "70.7 V");
        assert_eq!(
            transformer.unwrap(),
            "violet to the line's positive, white to its negative, the transformer's leads alone; cap each unused lead by itself: red, black, orange, grey"
        );
    }
}
