//! Everything the papers are made from, worked out once and shared by all of them.

use crate::drawing::{self, PlanRequest, Reader, Sheet};
use crate::error::PapersError;
use crate::options::PackOptions;
use crate::quantities::{
    BillItem, GroundNeed, HoleNeed, JointNeed, Needs, bill, crossings, ground_needs, hole_needs, joint_needs,
    wall_holes,
};
use crate::quotation::{Quotation, quote};
use crate::results::Results;
use loamline_adapt::{LaidCable, laid_cables};
use loamline_model::Job;

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
    pub quotation: Quotation,
    pub plans: Vec<PackDrawing>,
}

impl<'a> Material<'a> {
    /// Works everything out.
    pub fn gather(job: &'a Job, results: &'a Results, options: &'a PackOptions) -> Result<Self, PapersError> {
        let laid = laid_cables(job, &results.runs);
        let joints = joint_needs(job, &laid);
        let cables = loamline_study::cable_orders(job, &laid)?;
        let ground = ground_needs(&results.runs, &laid);
        let holes = hole_needs(job);
        let needs = Needs {
            cables: &cables,
            joints: &joints,
            ground: &ground,
            crossings: crossings(&results.runs, &laid),
            wall_holes: wall_holes(&results.runs, &laid),
            holes: &holes,
        };
        let bill = bill(job, &options.words, options.units, needs);
        let quotation = quote(job, &bill, &options.prices)?;
        let plans = plans(job, options);
        Ok(Self { job, results, options, laid, joints, cables, ground, holes, bill, quotation, plans })
    }
}

fn plans(job: &Job, options: &PackOptions) -> Vec<PackDrawing> {
    let words = &options.words;
    let blank = PlanRequest {
        job,
        words,
        units: options.units,
        reader: Reader::Crew,
        centre: Default::default(),
        mm_per_m: 1.0,
        size_mm: (0.0, 0.0),
        field: None,
        only_line: None,
        parts: &[],
        key: true,
        title: "",
    };
    let mut set = drawing::sheets(&blank, options.paper, options.units);
    let one = |sheet: &Sheet, parts: &[Sheet], count: usize| {
        let count = count.to_string();
        let (name, title) = match sheet.detail {
            None => ("plan".to_owned(), words.get("plan.title").to_owned()),
            Some(n) => (
                format!("plan-{n}"),
                words.fill("plan.title_detail", &[("number", &n.to_string()), ("count", &count)]),
            ),
        };
        let plan = drawing::draw(&PlanRequest {
            centre: sheet.centre,
            mm_per_m: sheet.scale.mm_per_m(),
            size_mm: sheet.size_mm,
            title: &title,
            key: sheet.detail.is_none(),
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
    let mut overview = one(&set.overview, &set.details, 0);
    if !overview.without_label.is_empty() && set.details.is_empty() {
        set.details = drawing::detail_sheets(&blank, &set.overview, options.units);
        overview = one(&set.overview, &set.details, 0);
    }
    let count = set.details.len();
    std::iter::once(overview).chain(set.details.iter().map(|sheet| one(sheet, &[], count))).collect()
}
