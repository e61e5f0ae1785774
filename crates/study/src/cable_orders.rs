//! What cable to order, and what to cut from which spool.

use crate::spools::no_spool_holds;
use loamline_adapt::LaidCable;
use loamline_geometry::Point2;
use loamline_limits::PROBLEMS_TOLD;
use loamline_model::{Job, Units};
use loamline_routing::{CutList, SpoolError, cut_list};
use serde::Serialize;
use thiserror::Error;

/// One length to cut.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Cut {
    /// Tag of the cable: that of its run, or of the runs that share it.
    pub tag: String,
    /// Length to cut, metres: rounded up to what is cut in the units of the job, a tenth of a metre or a whole foot.
    pub length_m: f64,
}

/// One spool, and what is cut from it in the order of cutting.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OrderedSpool {
    /// Length of the full spool, metres.
    pub spool_m: f64,
    /// Longest cut first.
    pub cuts: Vec<Cut>,
    /// What stays on the spool, metres.
    pub left_m: f64,
    /// Racks it is cut for, where others are too far to carry it to; empty where it is cut for all there are.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub racks: Vec<String>,
}

/// How far a crew carries a spool from rack to rack, metres (common practice, no source). Shorter orders more spools than are
/// needed, longer has a cut list that sends people across the grounds for one cable.
const CARRIED_M: f64 = 150.0;

/// Cable of one type.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CableOrder {
    /// Catalogue id.
    pub cable: String,
    /// Metres to cut, all cables together: the sum of the lengths as they are cut.
    pub cut_m: f64,
    /// Metres on all spools together.
    pub ordered_m: f64,
    /// No choice of spools orders less, metres.
    pub least_ordered_m: f64,
    /// How many spools of each length, longest first: (metres, spools).
    pub to_order: Vec<(f64, usize)>,
    /// Spools with their cuts, longest spool first.
    pub spools: Vec<OrderedSpool>,
}

impl CableOrder {
    /// Left on all spools together, metres.
    pub fn left_m(&self) -> f64 {
        self.spools.iter().map(|s| s.left_m).sum()
    }
}

/// A cable that no spool holds in one piece.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{cable}: {reason}")]
pub struct CableOrderError {
    /// Catalogue id of the cable.
    pub cable: String,
    /// Why there is no cut list.
    pub reason: String,
}

/// Cable by type, in the order of the catalogue: of the spool lengths each is sold in, those that order least in all. Racks too
/// far from each other to carry a spool between them have spools of their own.
///
/// # Errors
/// [`CableOrderError`] when a cable is longer than the longest spool it is sold in.
pub fn cable_orders(job: &Job, cables: &[LaidCable]) -> Result<Vec<CableOrder>, CableOrderError> {
    let mut orders = Vec::new();
    let districts = districts(job);
    // Rounded before spools are filled, so that what a crew measures off fits, and what is printed adds up.
    let units = job.document().units();
    for (id, cable) in &job.catalogue().cables {
        let own: Vec<&LaidCable> = cables.iter().filter(|c| c.cable == *id && !c.existing).collect();
        if own.is_empty() {
            continue;
        }
        too_long(job, id, &own)?;
        let mut order = CableOrder {
            cable: id.clone(),
            cut_m: own.iter().map(|c| units.cut_m(c.order_m)).sum(),
            ordered_m: 0.0,
            least_ordered_m: 0.0,
            to_order: Vec::new(),
            spools: Vec::new(),
        };
        for (cables, racks) in shared_out(job, &own, &districts) {
            add(&mut order, units, &cables, &cable.spools_m, &racks)
                .map_err(|e| CableOrderError { cable: id.clone(), reason: e.to_string() })?;
        }
        // Longest spool first, of all districts together.
        order.spools.sort_by(|a, b| b.spool_m.total_cmp(&a.spool_m));
        for spool in &order.spools {
            match order.to_order.iter_mut().find(|(length_m, _)| *length_m == spool.spool_m) {
                Some((_, count)) => *count += 1,
                None => order.to_order.push((spool.spool_m, 1)),
            }
        }
        orders.push(order);
    }
    Ok(orders)
}

/// Says which cables of a type no spool holds, by their tags and ends.
fn too_long(job: &Job, id: &str, own: &[&LaidCable]) -> Result<(), CableOrderError> {
    let units = job.document().units();
    let long: Vec<(&LaidCable, f64)> =
        own.iter().filter_map(|c| Some((*c, no_spool_holds(job, c)?))).collect();
    let Some((_, spool_m)) = long.first() else { return Ok(()) };
    let most = PROBLEMS_TOLD.most();
    let one = |(c, _): &(&LaidCable, f64)| {
        format!("run {} from {} to {} takes {}", c.tag, c.from, c.to, units.cut(c.order_m))
    };
    let told = long.iter().take(most).map(one).collect::<Vec<_>>().join(", ");
    let more = if long.len() > most { format!(" and {} more", long.len() - most) } else { String::new() };
    let it = if long.len() == 1 { "it" } else { "each" };
    let reason = format!(
        "{told}{more}, and the longest spool holds {}: put a joint in {it}, or use cable that is sold on longer spools",
        units.left(*spool_m)
    );
    Err(CableOrderError { cable: id.to_owned(), reason })
}

/// Adds the spools of some cables to an order.
fn add(
    order: &mut CableOrder,
    units: Units,
    cables: &[&LaidCable],
    spools_m: &[f64],
    racks: &[String],
) -> Result<(), SpoolError> {
    let lengths: Vec<f64> = cables.iter().map(|c| units.cut_m(c.order_m)).collect();
    let list: CutList = cut_list(&lengths, spools_m, 0.0)?;
    let cut = |&i: &usize| Cut { tag: cables[i].tag.clone(), length_m: lengths[i] };
    order.ordered_m += list.ordered_m;
    order.least_ordered_m += list.least_ordered_m;
    order.spools.extend(list.spools.iter().map(|s| OrderedSpool {
        spool_m: s.spool_m,
        cuts: s.cuts.iter().map(cut).collect(),
        left_m: s.left_m,
        racks: racks.to_vec(),
    }));
    Ok(())
}

/// Racks between which a spool is carried, in the order of the document: each is near one of the others.
fn districts(job: &Job) -> Vec<Vec<(&str, Point2)>> {
    let mut districts: Vec<Vec<(&str, Point2)>> = Vec::new();
    for (id, rack) in &job.document().racks {
        let near = |d: &Vec<(&str, Point2)>| d.iter().any(|(_, at)| at.distance(rack.position) <= CARRIED_M);
        let (joined, apart): (Vec<_>, Vec<_>) = districts.into_iter().partition(near);
        let mut one: Vec<(&str, Point2)> = joined.into_iter().flatten().collect();
        one.push((id, rack.position));
        districts = apart;
        districts.push(one);
    }
    let place =
        |d: &Vec<(&str, Point2)>| d.iter().filter_map(|(id, _)| job.document().racks.get_index_of(*id)).min();
    districts.sort_by_key(place);
    districts
}

/// Cables by the district their line comes from, with its racks; all together where there is one district.
fn shared_out<'c>(
    job: &Job,
    own: &[&'c LaidCable],
    districts: &[Vec<(&str, Point2)>],
) -> Vec<(Vec<&'c LaidCable>, Vec<String>)> {
    if districts.len() < 2 {
        return vec![(own.to_vec(), Vec::new())];
    }
    let rack_of = |cable: &LaidCable| {
        let line = cable.carries.first().and_then(|c| job.document().lines.get(&c.line))?;
        job.document().rack_of_line(line)
    };
    let mut shared: Vec<(Vec<&LaidCable>, Vec<String>)> =
        districts.iter().map(|d| (Vec::new(), d.iter().map(|(id, _)| (*id).to_owned()).collect())).collect();
    for &cable in own {
        let rack = rack_of(cable);
        let at = districts.iter().position(|d| d.iter().any(|(id, _)| Some(*id) == rack)).unwrap_or(0);
        if let Some(district) = shared.get_mut(at) {
            district.0.push(cable);
        }
    }
    shared.retain(|(cables, _)| !cables.is_empty());
    shared
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_adapt::{laid_cables, laid_runs};
    use loamline_model::{SourceFile, read_job};

    /// Two racks so far apart, each with a loudspeaker 60 m away; spools of burial cable are 100 m and 250 m.
    fn orders(apart_m: f64) -> Vec<CableOrder> {
        orders_in("metric", apart_m)
    }

    fn orders_in(units: &str, apart_m: f64) -> Vec<CableOrder> {
        let rack = |n: u32, x: f64| {
            format!(
                "[racks.R{n}]\nposition = [{x}, 0]\n[loudspeakers.L{n}]\nmodel = \"stake-110-wide\"\n\
                 position = [{x}, 60]\ntap = \"10 W\"\nline = \"A{n}\"\n[lines.A{n}]\nstart = \"R{n}\"\n\
                 cable = \"burial-2x4.0mm2\"\nruns = {{ A{n}-1 = {{ from = \"R{n}\", to = \"L{n}\" }} }}\n"
            )
        };
        let text = format!(
            "format = 1\n[job]\nname = \"Spools\"\nunits = \"{units}\"\n{}{}",
            rack(1, 0.0),
            rack(2, apart_m)
        );
        let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap();
        cable_orders(&job, &laid_cables(&job, &laid_runs(&job))).unwrap()
    }

    #[test]
    fn a_spool_is_not_carried_across_the_grounds() {
        let far = &orders(800.0)[0];
        assert_eq!(far.to_order, [(100.0, 2)]);
        assert_eq!(far.spools.iter().map(|s| s.racks.join(",")).collect::<Vec<_>>(), ["R1", "R2"]);
        assert!((far.ordered_m - 200.0).abs() < 1e-9 && (far.left_m() + far.cut_m - 200.0).abs() < 1e-6);
        let near = &orders(40.0)[0];
        assert!(near.spools.iter().all(|s| s.racks.is_empty()));
        assert!((near.cut_m - far.cut_m).abs() < 1e-9);
    }

    /// 400 m to a loudspeaker on spools of 250 m: the error names the run, both its ends and both lengths.
    #[test]
    fn a_run_that_no_spool_holds_is_told_by_its_tag_and_ends() {
        let text = "format = 1\n[job]\nname = \"Long\"\nunits = \"metric\"\n[racks.R1]\nposition = [0, 0]\n\
                    [loudspeakers.L7]\nmodel = \"stake-110-wide\"\nposition = [400, 0]\ntap = \"10 W\"\nline = \"A\"\n\
                    [lines.A]\nstart = \"R1\"\ncable = \"burial-2x4.0mm2\"\n\
                    runs = { A3 = { from = \"R1\", to = \"L7\", fixed = true } }\n";
        let job = read_job(&SourceFile::new("job.toml", text.to_owned()), &[]).unwrap();
        let cables = laid_cables(&job, &laid_runs(&job));
        let why = cable_orders(&job, &cables).unwrap_err().to_string();
        let cut = job.document().units().cut(cables[0].order_m);
        assert!(
            why.starts_with("burial-2x4.0mm2: run A3 from R1 to L7 takes ") && why.contains(&cut),
            "{why}"
        );
        assert!(why.contains("the longest spool holds 250.0 m: put a joint in it"), "{why}");
    }

    /// What is measured off a spool is a whole foot (or a tenth of a metre), what they come to is their sum, and with what is left
    /// it is the spool: two cables of one length are twice the feet of one, not the feet of their sum.
    #[test]
    fn what_is_cut_adds_up_as_it_is_measured_off() {
        for (units, step_m) in [("us", 0.3048), ("metric", 0.1)] {
            let order = &orders_in(units, 40.0)[0];
            let cuts: Vec<f64> = order.spools.iter().flat_map(|s| &s.cuts).map(|c| c.length_m).collect();
            assert_eq!(cuts.len(), 2);
            for length_m in &cuts {
                let steps = length_m / step_m;
                assert!((steps - steps.round()).abs() < 1e-6, "{units}: {length_m}");
            }
            assert!((order.cut_m - cuts.iter().sum::<f64>()).abs() < 1e-9, "{units}");
            assert!((order.left_m() + order.cut_m - order.ordered_m).abs() < 1e-6, "{units}");
        }
    }
}
