//! Everything the papers are made from, worked out once and shared by all of them.

use crate::cables_in_use::CableNames;
use crate::drawing::{self, PlanRequest, Reader, Sheet};
use crate::error::PapersError;
use crate::label_stock::LabelStock;
use crate::options::{PackOptions, Part};
use crate::results::Results;
use crate::stages::{Stage, stages};
use crate::wording::PaperWording;
use loamline_adapt::LaidCable;
use loamline_model::Job;
use loamline_quotation::{BillItem, Counted, GroundNeed, HoleNeed, JointNeed, Quotation, bill, quote};
use rust_decimal::Decimal;

/// A drawing of the pack.
#[derive(Debug, Clone)]
pub struct PackDrawing {
    /// File name without ending.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// The sheet it is for.
    pub sheet: Sheet,
    /// Tags without room for their label.
    pub without_label: Vec<String>,
    /// Tags on it.
    pub tags: Vec<String>,
    /// The drawing.
    pub svg: String,
}

/// The key of the plans by itself.
#[derive(Debug, Clone)]
pub struct KeyDrawing {
    /// Title for people.
    pub title: String,
    /// Width and height, millimetres.
    pub size_mm: (f64, f64),
    /// The drawing.
    pub svg: String,
}

/// Everything worked out once, shared by the parts.
pub struct Material<'a> {
    pub job: &'a Job,
    pub results: &'a Results,
    pub options: &'a PackOptions,
    pub laid: Vec<LaidCable>,
    pub joints: Vec<JointNeed>,
    pub cables: Vec<loamline_study::CableOrder>,
    pub ground: Vec<GroundNeed>,
    pub holes: Vec<HoleNeed>,
    pub bill: Vec<BillItem>,
    /// What is built at which time; none where the papers tell no days.
    pub stages: Vec<Stage>,
    pub quotation: Quotation,
    /// Price of each design that stands beside this one, in the order of the options.
    pub design_prices: Vec<Option<Decimal>>,
    pub plans: Vec<PackDrawing>,
    /// The key of the plans, where it stands on a sheet of its own.
    pub key: Option<KeyDrawing>,
    /// The sheet of labels.
    pub label_stock: LabelStock,
    /// Upper left corners of the labels on it, millimetres; none where no labels are wanted.
    pub label_corners_mm: Vec<(f64, f64)>,
}

/// Beyond so many loudspeakers they are set out by a list, line by line, joints that are alike are drawn once with theirs, and
/// lines are found on the parts of the plan: five sketches to a page would make a pack that nobody carries. Below it a sketch
/// by each tag saves a look at the plan.
const SKETCHED_MOST: usize = 150;

/// On the plans of such a job one tag in so many may be without a label.
const FEW_WITHOUT_LABEL: usize = 100;

impl<'a> Material<'a> {
    /// Whether crews work by lists.
    pub fn is_large(&self) -> bool {
        self.job.document().loudspeakers.len() > SKETCHED_MOST
    }

    /// What cables are called on these papers.
    pub fn cable_names(&self) -> CableNames<'a> {
        CableNames { job: self.job, words: &self.options.words, units: self.options.units }
    }

    /// Works everything out.
    pub fn gather(job: &'a Job, results: &'a Results, options: &'a PackOptions) -> Result<Self, PapersError> {
        let counted = Counted::of(job, &results.runs)?;
        let bill = bill(job, &PaperWording { words: &options.words }, &counted);
        let tells_days = options.wants(Part::WorkPlan) || options.wants(Part::Proposal);
        let stages =
            if tells_days { stages(job, (&results.runs, &bill), &options.words)? } else { Vec::new() };
        let quotation = quote(job, &bill, &options.prices)?;
        let design_prices = options.designs.iter().map(|d| d.price_in(job, &options.prices));
        let design_prices = design_prices.collect::<Result<_, _>>()?;
        let (plans, key) = plans(job, &counted.laid, options);
        let stock = options.labels.or(options.firm.labels);
        let label_stock = stock.unwrap_or_else(|| LabelStock::usual(options.paper));
        let wanted = options.wants(Part::Labels);
        let label_corners_mm = if wanted { label_stock.corners_mm(options.paper)? } else { Vec::new() };
        let Counted { laid, joints, cables, ground, holes, .. } = counted;
        Ok(Self {
            job,
            results,
            options,
            laid,
            joints,
            cables,
            ground,
            holes,
            bill,
            stages,
            quotation,
            design_prices,
            plans,
            key,
            label_stock,
            label_corners_mm,
        })
    }
}

fn plans(job: &Job, laid: &[LaidCable], options: &PackOptions) -> (Vec<PackDrawing>, Option<KeyDrawing>) {
    let words = &options.words;
    let blank = PlanRequest {
        job,
        laid,
        words,
        units: options.units,
        reader: Reader::Crew,
        centre: Default::default(),
        mm_per_m: 1.0,
        size_mm: (0.0, 0.0),
        field: None,
        only_line: None,
        parts: &[],
        numbered: &[],
        key: true,
        title: words.get("plan.key_title"),
    };
    let key = drawing::key_needs_a_sheet(&blank, options.paper).then(|| {
        let (svg, size_mm) = drawing::key_sheet(&blank, options.paper);
        KeyDrawing { title: blank.title.to_owned(), size_mm, svg }
    });
    let blank = PlanRequest { key: key.is_none(), title: "", ..blank };
    let whole = drawing::whole_sheet(&blank, options.paper, options.units);
    let one = |sheet: &Sheet, parts: &[Sheet], count: usize| {
        let count = count.to_string();
        let (name, title) = match sheet.detail {
            None => ("plan".to_owned(), words.get("plan.title").to_owned()),
            Some(n) => {
                let title = words.fill("plan.title_detail", &[("number", &n.to_string()), ("count", &count)]);
                let of_zone =
                    |zone: &String| words.fill("plan.title_zone", &[("title", &title), ("zone", zone)]);
                (format!("plan-{n}"), sheet.zone.as_ref().map_or_else(|| title.clone(), of_zone))
            }
        };
        let plan = drawing::draw(&PlanRequest {
            centre: sheet.centre,
            mm_per_m: sheet.scale.mm_per_m(),
            size_mm: sheet.size_mm,
            title: &title,
            key: blank.key && sheet.detail.is_none(),
            parts,
            ..blank
        });
        PackDrawing {
            name,
            title,
            sheet: sheet.clone(),
            without_label: plan.without_label,
            tags: plan.tags,
            svg: plan.svg,
        }
    };
    let too_coarse = drawing::unreadable(job, &whole.scale);
    // A drawing that nobody could read is not made to find that out.
    let alone = (!too_coarse).then(|| one(&whole, &[], 0));
    if let Some(alone) = alone.as_ref().filter(|plan| plan.without_label.is_empty()) {
        return (vec![alone.clone()], key);
    }
    let large = job.document().loudspeakers.len() > SKETCHED_MOST;
    let sets = drawing::part_sheets(&blank, &whole, options.units);
    let mut best: Option<(Vec<Sheet>, Vec<PackDrawing>)> = None;
    for sheets in sets {
        let count = sheets.len();
        let parts: Vec<PackDrawing> = sheets.iter().map(|sheet| one(sheet, &[], count)).collect();
        let missing = unlabelled(&parts).len();
        if best.as_ref().is_none_or(|(_, kept)| missing < unlabelled(kept).len()) {
            best = Some((sheets, parts));
        }
        // Of thousands of tags a few may stand in the table after the plans: a finer scale costs dozens of sheets.
        let told: usize =
            if large { best.iter().flat_map(|(_, kept)| kept).map(|p| p.tags.len()).sum() } else { 0 };
        if missing <= told / FEW_WITHOUT_LABEL {
            break;
        }
    }
    let plans = match best {
        Some((sheets, parts)) => std::iter::once(one(&whole, &sheets, 0)).chain(parts).collect(),
        None => vec![alone.unwrap_or_else(|| one(&whole, &[], 0))],
    };
    (plans, key)
}

/// Tags of what is on some of these plans and labelled on none.
pub fn unlabelled(plans: &[PackDrawing]) -> Vec<&str> {
    let mut tags: Vec<&str> = Vec::new();
    let labelled = |tag: &String| plans.iter().any(|p| p.tags.contains(tag));
    for tag in plans.iter().flat_map(|p| &p.without_label).filter(|tag| !labelled(tag)) {
        if !tags.contains(&tag.as_str()) {
            tags.push(tag);
        }
    }
    tags
}
