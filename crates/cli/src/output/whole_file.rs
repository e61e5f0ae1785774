//! Files that are there whole or as they were: whoever ends the program half way finds nothing half written.

use crate::failure::Failure;
use std::fs::File;
use std::path::{Path, PathBuf};

/// Writes a file beside its place and puts it there in one step. What is no file (a device, a pipe) is written to as it is.
pub fn whole_file(path: &Path, write: impl FnOnce(&mut File) -> Result<(), Failure>) -> Result<(), Failure> {
    let unwritable = |e: std::io::Error| Failure::unwritable(path, &e);
    let is_other = std::fs::metadata(path).is_ok_and(|found| !found.is_file());
    if is_other {
        return write(&mut File::create(path).map_err(unwritable)?);
    }
    // Where a link leads, not the link.
    let place = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let beside = beside(&place);
    let mut file = File::create(&beside).map_err(unwritable)?;
    let written = write(&mut file).and_then(|()| std::fs::rename(&beside, &place).map_err(unwritable));
    if written.is_err() {
        // Best effort: the failure to report is the first one.
        let _removed = std::fs::remove_file(&beside);
    }
    written
}

fn beside(place: &Path) -> PathBuf {
    let name = place.file_name().unwrap_or_default().to_string_lossy();
    place.with_file_name(format!(".{name}.{}", std::process::id()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write as _;

    #[test]
    fn a_file_is_written_whole_or_stays_as_it_was() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        whole_file(&path, |f| f.write_all(b"old").map_err(Failure::Write)).unwrap();
        let gave_up = whole_file(&path, |f| {
            f.write_all(b"n").map_err(Failure::Write)?;
            Err(Failure::input("gave up"))
        });
        assert!(gave_up.is_err());
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        whole_file(&path, |f| f.write_all(b"new").map_err(Failure::Write)).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"new");
        // Nothing is left beside it.
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
