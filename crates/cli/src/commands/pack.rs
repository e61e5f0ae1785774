//! `loamline pack JOB --out DIR [--zone Z] [--phase P]`, and `loamline language`, the files its words come from

use super::{languages, open, price_book};
use crate::args::PackArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Format, Progress, whole_file};
use crate::read::text;
use loamline_limits::{ATTACHMENT_BYTES, LOGO_BYTES};
use loamline_model::document::{Language, Paper};
use loamline_model::{Job, JobFile, LoadError};
use loamline_papers::{
    DesignOption, FirmProfile, LabelStock, Logo, OPTION_PICTURE_MM, PackFile, PackOptions, PapersError, Part,
    PictureView, Results, SitePhoto, Words, pack, perspective, scale_top_db,
};
use loamline_study::Study;
use serde_json::json;
use std::io::{Read as _, Write as _};
use std::path::Path;

pub fn run(arguments: &PackArguments, language: Option<&Path>, format: Format) -> Result<Verdict, Failure> {
    let part = open::part(&arguments.job, &arguments.part)?;
    let study = part.own();
    let format = format.of(study.job());
    let mut options = options((arguments, language), study.job(), format)?;
    options.photos = photos(&arguments.job, study.job())?;
    picture_designs(&arguments.job, part.standing(), &mut options)?;
    let progress = Progress::start("Making the papers");
    let results = Results::for_part(&part, &options);
    let files = pack(study.job(), &results, &options).map_err(Failure::input)?;
    progress.finish();
    let unknown = price_book::name_unknown(&options.prices, study.job());
    let used: Vec<String> = files.iter().map(|f| f.name.clone()).collect();
    let findings = if options.tells_levels() { part.findings() } else { part.findings_without_levels() };
    for file in &files {
        write(&arguments.out, file)?;
    }
    if format.json {
        output::json(&json!({
            "job": open::job_json(study),
            "folder": arguments.out,
            "files": used,
            "unknown_prices": unknown,
            "findings": findings,
        }))?;
    } else {
        let mut text = format!("{} files in {}:\n", files.len(), arguments.out.display());
        for name in &used {
            text.push_str(&format!("  {name}\n"));
        }
        output::data(&text)?;
    }
    Ok(open::verdict(&findings))
}

/// `loamline language`
pub fn language(name: &str) -> Result<Verdict, Failure> {
    let language = languages::named(name)?;
    output::data(Words::shipped(language))?;
    Ok(Verdict::Fine)
}

fn options(
    (arguments, language): (&PackArguments, Option<&Path>),
    job: &Job,
    format: Format,
) -> Result<PackOptions, Failure> {
    let mut options = PackOptions::usual().map_err(Failure::input)?;
    options.units = format.units;
    options.only = arguments
        .only
        .iter()
        .flat_map(|list| list.split(','))
        .map(|name| Part::named(name.trim()))
        .collect::<Result<_, _>>()
        .map_err(Failure::input)?;
    options.paper = match &arguments.paper {
        None => job.document().paper(format.units),
        Some(name) => Paper::named(name).ok_or_else(|| {
            Failure::input(format!("--paper {name}: the sheets are A4, A3, Letter and Tabloid"))
        })?,
    };
    if let Some(path) = &arguments.firm {
        options.firm = firm(path)?;
    }
    options.speak(job, None).map_err(Failure::input)?;
    if let Some(asked) = language {
        (options.words, options.crew_words) = (words(asked)?, None);
    }
    if let Some(asked) = &arguments.crew_language {
        options.crew_words = Some(words(asked)?);
    }
    if let Some(stock) = &arguments.labels {
        options.labels = Some(LabelStock::read(stock).map_err(|e| Failure::input(format!("--labels: {e}")))?);
    }
    options.prices = price_book::read(arguments.prices.as_ref())?;
    if let Some(path) = &arguments.options {
        options.designs = DesignOption::read(&text(path)?, &options.words).map_err(of(path))?;
    }
    Ok(options)
}

/// A language by its name, else from a file.
fn words(asked: &Path) -> Result<Words, Failure> {
    match asked.to_str().and_then(Language::named) {
        Some(language) => Words::of(language).map_err(Failure::input),
        None => Words::read(&text(asked)?).map_err(of(asked)),
    }
}

/// The photos that visits name and that lie in the job's folder, under `attachments`. One that cannot be printed is told and
/// left out: it is no reason to have no papers.
fn photos(folder: &Path, job: &Job) -> Result<Vec<SitePhoto>, Failure> {
    let mut photos: Vec<SitePhoto> = Vec::new();
    let named = job.document().visits.values().flat_map(|v| v.photos.values());
    for photo in named {
        // The name of an attachment is no path.
        let plain = Path::new(&photo.file).file_name().is_some_and(|name| name == photo.file.as_str());
        if !plain || photos.iter().any(|p| p.name() == photo.file) {
            continue;
        }
        let path = folder.join("attachments").join(&photo.file);
        let mut bytes = Vec::new();
        let read = match std::fs::File::open(&path) {
            // Many jobs come without their photos.
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => continue,
            Err(error) => Err(error),
            Ok(file) => file.take(ATTACHMENT_BYTES.number + 1).read_to_end(&mut bytes),
        };
        read.map_err(|error| Failure::Read { path: path.display().to_string(), error })?;
        match SitePhoto::read(&photo.file, bytes) {
            Ok(read) => photos.push(read),
            Err(why) => output::log(&format!("Left out: {why}")),
        }
    }
    Ok(photos)
}

/// Draws every design of a proposal: the job with its edit, in the colours and from the side of the job as it is.
fn picture_designs(folder: &Path, study: &Study, options: &mut PackOptions) -> Result<(), Failure> {
    if options.designs.iter().all(|d| d.edit.is_none()) {
        return Ok(());
    }
    let file = JobFile::open(folder).map_err(|error| match error {
        LoadError::Invalid(report) => Failure::Job(Box::new(report)),
        other => Failure::input(other),
    })?;
    let view = PictureView {
        key: false,
        named: false,
        top_db: scale_top_db(study),
        ..PictureView::usual(OPTION_PICTURE_MM)
    };
    for design in &mut options.designs {
        let Some(edit) = &design.edit else { continue };
        // A proposal of another state of the job is told by its figures alone.
        let Ok(job) = file.preview(edit) else {
            output::log(&format!("{}: no picture, the job has changed since it was proposed", design.name));
            continue;
        };
        match perspective(&Study::new(job), &view, &options.words) {
            Ok(svg) => design.picture = Some(svg),
            Err(why) => output::log(&format!("{}: no picture, {why}", design.name)),
        }
    }
    Ok(())
}

/// Names the file a problem is in.
fn of(path: &Path) -> impl Fn(PapersError) -> Failure {
    move |e| Failure::input(format!("{}: {e}", path.display()))
}

/// A firm's profile with the logo it names.
fn firm(path: &Path) -> Result<FirmProfile, Failure> {
    let mut firm = FirmProfile::read(&text(path)?).map_err(of(path))?;
    if !firm.logo_file.is_empty() {
        let file = path.parent().unwrap_or(Path::new("")).join(&firm.logo_file);
        let mut bytes = Vec::new();
        // Of one that is too large no more is read than shows it.
        let read = std::fs::File::open(&file)
            .and_then(|logo| logo.take(LOGO_BYTES.number + 1).read_to_end(&mut bytes));
        read.map_err(|error| Failure::Read { path: file.display().to_string(), error })?;
        firm.logo = Some(Logo::read(bytes).map_err(of(&file))?);
    }
    Ok(firm)
}

fn write(folder: &Path, file: &PackFile) -> Result<(), Failure> {
    let path = folder.join(&file.name);
    let written = match path.parent() {
        Some(parent) => std::fs::create_dir_all(parent),
        None => Ok(()),
    };
    written.map_err(|e| Failure::unwritable(&path, &e))?;
    whole_file(&path, |f| f.write_all(&file.bytes).map_err(|e| Failure::unwritable(&path, &e)))
}
