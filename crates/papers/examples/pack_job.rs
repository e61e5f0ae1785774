//! Makes the pack of a job folder: `pack_job JOB OUT [PAPER] [us|metric] [PART...]`.

use loamline_model::Units;
use loamline_model::document::Paper;
use loamline_papers::{PackOptions, Part, Results, pack};
use std::error::Error;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (Some(job), Some(out)) = (arguments.first(), arguments.get(1)) else {
        return Err("give the job folder and the folder to write to".into());
    };
    let job = loamline_model::load_job(Path::new(job)).map_err(|e| format!("{e:?}"))?;
    let mut options = PackOptions::usual()?;
    options.units = job.document().units();
    options.paper = job.document().paper(options.units);
    for argument in &arguments[2..] {
        match argument.as_str() {
            "us" => options.units = Units::Us,
            "metric" => options.units = Units::Metric,
            other => match Paper::named(other) {
                Some(paper) => options.paper = paper,
                None => options.only.push(Part::named(other)?),
            },
        }
    }
    let start = std::time::Instant::now();
    let study = loamline_study::Study::new(job);
    let results = Results::of(&study);
    let files = pack(study.job(), &results, &options)?;
    let took = start.elapsed();
    for file in &files {
        let path = Path::new(out).join(&file.name);
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)?;
        }
        std::fs::write(path, &file.bytes)?;
    }
    #[expect(clippy::print_stdout, reason = "an example reports to its user")]
    {
        println!("{} files in {:.2} s", files.len(), took.as_secs_f64());
    }
    Ok(())
}
