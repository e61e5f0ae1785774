//! Reading one file of a job or a catalogue: syntax first, then what it holds.

use super::catalogue_rules::check_catalogue;
use crate::catalogue::Catalogue;
use crate::reading::{DocumentPlace, Node, NodeValue, Problem, ProblemKind, Record};
use crate::source::{Report, SourceFile, parse_recovering, readable};
use loamline_limits::{CATALOGUE_BYTES, CATALOGUE_FILES, Exceeded};

/// Reads catalogue files and puts them together, a later entry in place of an earlier one of the same id.
///
/// # Errors
/// Every problem of every file.
pub fn read_catalogue(files: &[SourceFile]) -> Result<Catalogue, Report> {
    let mut report = Report::default();
    let mut all = Catalogue::empty();
    let together = files.iter().map(|f| f.text.len()).sum();
    if let Err(more) = CATALOGUE_FILES.check(files.len()).and_then(|()| CATALOGUE_BYTES.check(together)) {
        return Err(too_much(&SourceFile::new("catalogue", ""), more));
    }
    for file in files {
        match read_file(file, &mut report, |node, problems| {
            let read = Catalogue::read(node, &DocumentPlace::ROOT, problems)?;
            check_catalogue(&read, problems);
            Some(read)
        }) {
            Some(read) => all.add(read),
            None => continue,
        }
    }
    if report.is_empty() { Ok(all) } else { Err(report) }
}

/// Reads one file: syntax first, then whatever `read` makes of it.
pub(super) fn read_file<T>(
    file: &SourceFile,
    report: &mut Report,
    read: impl FnOnce(&Node, &mut Vec<Problem>) -> Option<T>,
) -> Option<T> {
    if let Err(more) = readable(&file.text) {
        report.append(too_much(file, more));
        return None;
    }
    let (node, syntax) = parse_recovering(&file.text);
    let mut problems = Vec::new();
    let out = read(&node, &mut problems);
    let good = syntax.is_empty();
    if !good {
        // What follows from a broken line would only confuse; what is wrong with a value by itself would not.
        problems.retain(|p| stands_alone(&p.kind));
    }
    report.add(file, &node, syntax, problems);
    out.filter(|_| good && report.is_empty())
}

/// The report on a file of which too much is there to be read.
fn too_much(file: &SourceFile, more: Exceeded) -> Report {
    let mut report = Report::default();
    let nothing = Node::without_place(NodeValue::Nothing);
    report.add(&SourceFile::new(&*file.name, ""), &nothing, Vec::new(), vec![Problem::new("", more.into())]);
    report
}

fn stands_alone(kind: &ProblemKind) -> bool {
    use ProblemKind as K;
    matches!(
        kind,
        K::Quantity(_)
            | K::OutOfRange { .. }
            | K::NotOffered { .. }
            | K::Outline(_)
            | K::BadId { .. }
            | K::TooMuch(_)
    )
}
