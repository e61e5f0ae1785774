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
    decoded(bytes).map_err(unreadable)
}

/// Bytes as text, with or without the mark some editors put before it.
fn decoded(mut bytes: Vec<u8>) -> Result<String, std::io::Error> {
    let wrong = |why: &str| std::io::Error::new(std::io::ErrorKind::InvalidData, why);
    if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") {
        return Err(wrong("it is text in UTF-16, as some shells write it with `>`; save it as UTF-8"));
    }
    if bytes.starts_with(b"\xef\xbb\xbf") {
        bytes.drain(..3);
    }
    String::from_utf8(bytes).map_err(|_| wrong("it is not text in UTF-8"))
}

#[cfg(test)]
mod tests {
    use super::decoded;

    /// Byte order marks as the Unicode Standard has them (section 23.8).
    #[test]
    fn text_is_read_as_any_editor_and_shell_writes_it() {
        assert_eq!(decoded(b"a = 1\r\n".to_vec()).unwrap(), "a = 1\r\n");
        assert_eq!(decoded("\u{feff}{}".as_bytes().to_vec()).unwrap(), "{}");
        assert_eq!(decoded(Vec::new()).unwrap(), "");
        for (bytes, told) in
            [(&b"\xff\xfe{\0}\0"[..], "UTF-16"), (b"\xfe\xff\0{\0}", "UTF-16"), (b"caf\xe9", "UTF-8")]
        {
            let why = decoded(bytes.to_vec()).unwrap_err().to_string();
            assert!(why.contains(told), "{why}");
        }
    }
}
