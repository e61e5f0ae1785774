//! Reading one file of a job or a catalogue: syntax first, then what it holds.

use super::catalogue_rules::check_catalogue;
use crate::catalogue::Catalogue;
use crate::reading::{Node, Place, Problem, ProblemKind, Record};
use crate::source::{Report, SourceFile, parse_recovering};

/// Reads catalogue files and puts them together, a later entry in place of an earlier one of the same id.
///
/// # Errors
/// Every problem of every file.
pub fn read_catalogue(files: &[SourceFile]) -> Result<Catalogue, Report> {
    let mut report = Report::default();
    let mut all = Catalogue::empty();
    for file in files {
        match read_file(file, &mut report, |node, problems| {
            let read = Catalogue::read(node, &Place::ROOT, problems)?;
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
    let (node, syntax) = parse_recovering(&file.text);
    let mut problems = Vec::new();
    let out = read(&node, &mut problems);
    let sound = syntax.is_empty();
    if !sound {
        // What follows from a broken line would only confuse; what is wrong with a value by itself would not.
        problems.retain(|p| stands_alone(&p.kind));
    }
    report.add(file, &node, syntax, problems);
    out.filter(|_| sound && report.is_empty())
}

fn stands_alone(kind: &ProblemKind) -> bool {
    use ProblemKind as K;
    matches!(
        kind,
        K::Quantity(_) | K::OutOfRange { .. } | K::NotOffered { .. } | K::Outline(_) | K::BadId { .. }
    )
}
