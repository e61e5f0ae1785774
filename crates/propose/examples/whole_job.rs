//! A job read, predicted, proposed and priced: `whole_job JOB`.
#![expect(clippy::print_stdout, reason = "its answer is what it prints")]

use loamline_model::JobFile;
use loamline_propose::{OptionKind, ProposeOptions, propose};
use loamline_quotation::{PriceBook, quotation};
use loamline_study::Study;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("whole_job JOB")?;
    let mut file = JobFile::open(folder.as_ref()).map_err(|e| e.to_string())?;

    let study = Study::new(file.job().clone());
    let heard = study.heard();
    for area in heard.levels.iter().flat_map(|levels| levels.areas.values()) {
        let (name, wanted, told) = (&area.name, area.target_dba, &area.statistics);
        println!("{name}: {:.1} dBA, wanted {wanted:.1} dBA, spread {:.1} dB", told.mean_dba, told.spread_db);
    }

    let wanted = vec![OptionKind::LeastCost];
    let options = ProposeOptions { wanted, work_s: Some(2.0), ..ProposeOptions::default() };
    let proposal = propose(&file, &options, &|_| true)?;
    let design = proposal.options.first().ok_or("no design came out")?;
    let (figures, currency) = (&design.figures, &proposal.currency);
    println!("Proposed: {} loudspeakers, {:.2} {currency}", figures.loudspeakers, figures.price);

    file.apply(&design.edit)?;
    let study = study.next(file.job().clone());
    let quoted = quotation(study.job(), &study.runs(), &PriceBook::default())?;
    println!("Quoted as written: {:.2} {}, tax included", quoted.total, quoted.currency);
    Ok(())
}
