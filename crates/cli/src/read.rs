//! Reading files somebody names, none larger than it may be.

use crate::failure::Failure;
use loamline_limits::PAPERS_FILE_BYTES;
use std::io::Read;
use std::path::Path;

/// The text of a file; standard input for `-`. Of a larger one no more is read than shows it.
pub fn text(path: &Path) -> Result<String, Failure> {
    let is_input = path == Path::new("-");
    let name = if is_input { "standard input".to_owned() } else { path.display().to_string() };
    let mut bytes = Vec::new();
    let mut read = |from: &mut dyn Read| from.take(PAPERS_FILE_BYTES.number + 1).read_to_end(&mut bytes);
    let done = if is_input {
        read(&mut std::io::stdin().lock())
    } else {
        std::fs::File::open(path).and_then(|mut file| read(&mut file))
    };
    let unreadable = |error| Failure::Read { path: name.clone(), error };
    let length = done.map_err(unreadable)?;
    PAPERS_FILE_BYTES.check(length).map_err(|more| Failure::input(format!("{name}: {more}")))?;
    String::from_utf8(bytes).map_err(|_| {
        unreadable(std::io::Error::new(std::io::ErrorKind::InvalidData, "it is not text in UTF-8"))
    })
}
