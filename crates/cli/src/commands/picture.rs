//! `loamline picture JOB > garden.svg`

use super::open;
use crate::args::PictureArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Format, Progress};
use loamline_model::Quantity;
use loamline_papers::{PictureView, Words, perspective};
use loamline_study::{PlayedAt, played};
use serde_json::json;

pub fn run(arguments: &PictureArguments, format: Format) -> Result<Verdict, Failure> {
    let study = open::study(&arguments.job)?;
    let at = PlayedAt::from(arguments.when);
    let ways = played(study.job());
    let played = ways.iter().find(|p| p.at == at).copied().ok_or_else(|| {
        let known: Vec<&str> = ways.iter().map(|p| p.at.word()).collect();
        Failure::input(format!(
            "--when {}: the brief says nothing of it; there is {}",
            at.word(),
            known.join(", ")
        ))
    })?;
    let bearing = |text: &String| {
        let degrees = Quantity::Angle.parse(text).map_err(|e| Failure::input(format!("--bearing: {e}")))?;
        Ok::<f64, Failure>(degrees.rem_euclid(360.0))
    };
    let view = PictureView {
        bearing_deg: arguments.bearing.as_ref().map(bearing).transpose()?,
        tilt_deg: arguments.tilt.as_deref().map(tilt_deg).transpose()?,
        played,
        programme: arguments.programme.clone(),
        alone: true,
        ..PictureView::usual(size_mm(&arguments.size)?)
    };
    let words = Words::of(format.of(study.job()).language).map_err(Failure::input)?;
    let progress = Progress::start("Drawing the picture");
    let svg = perspective(&study, &view, &words).map_err(Failure::input)?;
    progress.finish();
    if format.json {
        output::json(&json!({ "job": open::job_json(&study), "svg": svg }))?;
    } else {
        output::data(&svg)?;
    }
    Ok(Verdict::Fine)
}

fn tilt_deg(text: &str) -> Result<f64, Failure> {
    let degrees = Quantity::Angle.parse(text).map_err(|e| Failure::input(format!("--tilt: {e}")))?;
    let (least, most) = PictureView::TILTS_DEG;
    if (least..=most).contains(&degrees) {
        Ok(degrees)
    } else {
        Err(Failure::input(format!("--tilt: {degrees} deg; give {least} deg to {most} deg")))
    }
}

/// "240x160" as width and height, millimetres.
fn size_mm(text: &str) -> Result<(f64, f64), Failure> {
    let (least, most) = PictureView::SIZES_MM;
    let wrong = || {
        Failure::input(format!("--size {text}: give width x height in millimetres, {least} to {most} each"))
    };
    let side = |text: &str| text.trim().parse::<f64>().ok().filter(|mm| (least..=most).contains(mm));
    let (width, height) = text.split_once('x').ok_or_else(wrong)?;
    Ok((side(width).ok_or_else(wrong)?, side(height).ok_or_else(wrong)?))
}
