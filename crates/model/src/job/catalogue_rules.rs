//! Rules within a catalogue entry.

use super::broken::{broken, broken_with_hint, coldest_before_hottest};
use crate::catalogue::{
    AmplifierModel, Catalogue, DirectivityKind, ImpedanceModel, LoudspeakerModel, TransformerModel,
};
use crate::document::{Laying, Mount};
use crate::reading::{Choice as _, Problem, ProblemKind, did_you_mean};

/// Reports every broken rule of a catalogue file.
pub(super) fn check_catalogue(catalogue: &Catalogue, problems: &mut Vec<Problem>) {
    for (id, model) in &catalogue.loudspeakers {
        loudspeaker(&format!("/loudspeakers/{id}"), model, problems);
    }
    for (id, model) in &catalogue.amplifiers {
        amplifier(&format!("/amplifiers/{id}"), model, problems);
    }
    for (id, c) in &catalogue.cables {
        coldest_before_hottest(&format!("/cables/{id}"), c.coldest_c, c.hottest_c, problems);
    }
    for (id, c) in &catalogue.connectors {
        if c.smallest_mm2 > c.largest_mm2 {
            let rule = format!(
                "the smallest conductor, {} mm2, is thicker than the largest, {} mm2",
                c.smallest_mm2, c.largest_mm2
            );
            broken(problems, format!("/connectors/{id}/smallest"), rule);
        }
    }
    for way in catalogue.prices.iter().flat_map(|p| p.laying.keys()) {
        let words = || Laying::ALL.iter().map(|c| c.1);
        if !words().any(|w| w == way) {
            let kind =
                ProblemKind::NotOffered { found: way.clone(), offered: words().map(str::to_owned).collect() };
            problems.push(
                Problem::with_key(format!("/prices/laying/{way}"), kind).hint(did_you_mean(way, words())),
            );
        }
    }
}

fn loudspeaker(at: &str, model: &LoudspeakerModel, problems: &mut Vec<Problem>) {
    let d = &model.directivity;
    let wanted: &[(&str, bool)] = match d.kind {
        DirectivityKind::Piston => &[("diameter", d.diameter_m.is_some())],
        DirectivityKind::Coverage => {
            &[("horizontal", d.horizontal_deg.is_some()), ("vertical", d.vertical_deg.is_some())]
        }
        DirectivityKind::AllRound => &[("vertical", d.vertical_deg.is_some())],
        DirectivityKind::Omnidirectional => &[],
    };
    for (key, _) in wanted.iter().filter(|w| !w.1) {
        let rule = format!("`{key}` is missing: directivity of kind \"{}\" needs it", d.kind.word());
        broken(problems, format!("{at}/directivity"), rule);
    }
    if let Some(peak_w) = model.rated_peak_w.filter(|peak_w| *peak_w < model.rated_w) {
        let rule =
            format!("the rated peak power, {peak_w} W, is less than the continuous one, {} W", model.rated_w);
        broken(problems, format!("{at}/rated_peak"), rule);
    }
    match &model.transformer {
        None if !model.low_impedance => broken_with_hint(
            problems,
            at,
            "this loudspeaker can be fed in no way",
            "give it a `transformer`, or set low_impedance = true",
        ),
        Some(t) if t.taps_25v_w.is_empty() && t.taps_70v_w.is_empty() && t.taps_100v_w.is_empty() => {
            broken_with_hint(
                problems,
                format!("{at}/transformer"),
                "this transformer has no taps",
                "give it `taps_25v`, `taps_70v` or `taps_100v`, in watts",
            );
        }
        Some(t) => windings(&format!("{at}/transformer"), t, problems),
        None => {}
    }
    if let Some(i) = &model.impedance {
        impedance(&format!("{at}/impedance"), i, problems);
    }
    let w = &model.withstands;
    coldest_before_hottest(&format!("{at}/withstands"), w.coldest_c, w.hottest_c, problems);
    if model.mount == Mount::InGround && model.hole.is_none() {
        broken(problems, at, "`hole` is missing: a loudspeaker mounted in the ground needs one");
    }
}

/// Copper and core lose no more than the whole.
fn windings(at: &str, t: &TransformerModel, problems: &mut Vec<Problem>) {
    let lost = 1.0 - 10f64.powf(-t.insertion_loss_db / 10.0);
    let core = t.core_loss.unwrap_or(0.0);
    let whole = format!("of {} dB of insertion loss", t.insertion_loss_db);
    if core > lost {
        let rule = format!(
            "the core takes {} % of the power, more than the {} % {whole}",
            loamline_terms::fixed(100.0 * core, 1),
            loamline_terms::fixed(100.0 * lost, 1)
        );
        return broken(problems, format!("{at}/core_loss"), rule);
    }
    let (Some(ohm), Some(least)) = (t.primary_ohm, t.least_tap_ohm()) else { return };
    let primary = ohm / least;
    if primary + core > lost {
        let rule = format!(
            "the primary's {ohm} ohm at the tap of {least} ohm take {} % of the power; the {} % {whole} leave {} % \
             to it, {} ohm",
            loamline_terms::fixed(100.0 * primary, 1),
            loamline_terms::fixed(100.0 * lost, 1),
            loamline_terms::fixed(100.0 * (lost - core), 1),
            loamline_terms::fixed((lost - core) * least, 1),
            least = loamline_terms::fixed(least, 1)
        );
        broken(problems, format!("{at}/primary_resistance"), rule);
    }
}

fn impedance(at: &str, i: &ImpedanceModel, problems: &mut Vec<Problem>) {
    if i.thiele_small.is_some() == i.magnitude_ohm.is_some() {
        broken(
            problems,
            at,
            "impedance is given either by `thiele_small` or by `magnitude` (with or without `phase`)",
        );
    }
    let frequencies = |table: &[(f64, f64)]| table.iter().map(|p| p.0).collect::<Vec<_>>();
    if let Some(phase) = &i.phase_deg {
        let magnitude = i.magnitude_ohm.as_deref().unwrap_or_default();
        if frequencies(phase) != frequencies(magnitude) {
            broken(
                problems,
                format!("{at}/phase"),
                "phase must be given at the same frequencies as `magnitude`",
            );
        }
    }
}

fn amplifier(at: &str, model: &AmplifierModel, problems: &mut Vec<Problem>) {
    let low_impedance =
        model.power_8ohm_w.is_some() || model.power_4ohm_w.is_some() || model.power_2ohm_w.is_some();
    match (model.line_voltages_v.is_empty(), model.line_power_w) {
        (false, None) => broken(
            problems,
            at,
            "`line_power` is missing: an amplifier with `line_voltages` needs its power on such a line",
        ),
        (true, Some(_)) => broken(
            problems,
            format!("{at}/line_power"),
            "`line_power` needs `line_voltages`, the voltages of the lines it can feed",
        ),
        (true, None) if !low_impedance => broken_with_hint(
            problems,
            at,
            "this amplifier has no rated power",
            "give it `line_voltages` and `line_power`, or `power_8ohm`, `power_4ohm`, `power_2ohm`",
        ),
        _ => {}
    }
}
