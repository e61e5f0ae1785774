//! A zip file opened with its list of files held small: the list stands at the end, and opening makes every entry of it in
//! memory.
//!
//! First the number of files is looked up that the end states (the zip format's own page, APPNOTE.TXT, sections 4.3.14 to
//! 4.3.16); then no more is read for the list than it may have, so that an end that does not tell the truth gains nothing.

use loamline_limits::{Exceeded, FOLDER_FILES, FOLDER_LIST_BYTES};
use std::cell::Cell;
use std::io::{self, Cursor, Read, Seek, SeekFrom};
use std::rc::Rc;
use zip::ZipArchive;

/// What the end of a zip file begins with, and its bytes without the comment.
const END: (&[u8], usize) = (b"PK\x05\x06", 22);
/// The same for the larger end of a zip file of very many or very large files; it stands before the other one.
const LARGE_END: (&[u8], usize) = (b"PK\x06\x06", 56);
/// The same for what stands between the two and says where the larger one is.
const LOCATOR: (&[u8], usize) = (b"PK\x06\x07", 20);

/// Why a zip file is not opened. Displays as a sentence without its end.
#[derive(Debug, thiserror::Error)]
pub enum NotOpened {
    /// It is none.
    #[error("this is no zip file: {0}")]
    NoZip(String),
    /// It lists more than a job folder has.
    #[error(transparent)]
    TooMuch(#[from] Exceeded),
}

/// Opens a zip file, unless it lists more than a job folder has.
///
/// # Errors
/// [`NotOpened`].
pub fn open(zip: &[u8]) -> Result<ZipArchive<Sparing<'_>>, NotOpened> {
    let stated = files_stated(zip).ok_or_else(|| NotOpened::NoZip("it does not end like one".to_owned()))?;
    FOLDER_FILES.check_u64(stated)?;
    let left = Rc::new(Cell::new(Some(FOLDER_LIST_BYTES.number)));
    let opened = ZipArchive::new(Sparing { bytes: Cursor::new(zip), left: Rc::clone(&left) });
    if left.get().is_none() {
        let found = FOLDER_LIST_BYTES.number.saturating_add(1);
        return Err(Exceeded { bound: &FOLDER_LIST_BYTES, found }.into());
    }
    let archive = opened.map_err(|e| NotOpened::NoZip(e.to_string()))?;
    // What the files themselves take is counted as they are unpacked.
    left.set(Some(u64::MAX));
    FOLDER_FILES.check(archive.len())?;
    Ok(archive)
}

/// A zip file of which only so much is read.
pub struct Sparing<'a> {
    bytes: Cursor<&'a [u8]>,
    /// Bytes that may still be read; none once more was wanted.
    left: Rc<Cell<Option<u64>>>,
}

impl Read for Sparing<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let read = self.bytes.read(into)?;
        let left = self.left.get().and_then(|left| left.checked_sub(read as u64));
        self.left.set(left);
        left.map(|_| read).ok_or_else(|| io::Error::other("its list of files is too long"))
    }
}

impl Seek for Sparing<'_> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.bytes.seek(to)
    }
}

/// The most files that an end of a zip file states; none where there is no end that can be read. Ends are looked for as far
/// back as opening can get: where one does not fit, it goes on with the one before.
fn files_stated(zip: &[u8]) -> Option<u64> {
    let mut stated: Option<u64> = None;
    for at in (zip.len().saturating_sub(FOLDER_LIST_BYTES.most())..zip.len()).rev() {
        let Some(end) = record(zip, at, END) else { continue };
        if number(&end[20..22]) > (zip.len() - at - END.1) as u64 {
            continue; // its comment would be cut off
        }
        let locator = at.checked_sub(LOCATOR.1).filter(|at| record(zip, *at, LOCATOR).is_some());
        let files = match (locator, stated) {
            (Some(locator), _) => files_of_large_end(zip, locator)?,
            (None, None) => number(&end[8..10]).max(number(&end[10..12])),
            // Bytes of a packed photo may look like one; it could name 65 535 files and no more.
            (None, Some(_)) => 0,
        };
        stated = Some(stated.unwrap_or(0).max(files));
    }
    stated
}

/// Files stated by the larger end that belongs to a locator: right before it, without anything of later versions of the
/// format. Another one is not looked for.
fn files_of_large_end(zip: &[u8], locator: usize) -> Option<u64> {
    let at = locator.checked_sub(LARGE_END.1)?;
    let (end, locator) = (record(zip, at, LARGE_END)?, record(zip, locator, LOCATOR)?);
    // Its length is stated without the first twelve bytes.
    let fits = number(&locator[8..16]) == at as u64 && number(&end[4..12]) == LARGE_END.1 as u64 - 12;
    fits.then(|| number(&end[24..32]).max(number(&end[32..40])))
}

/// The bytes of a record, where one of this kind stands there.
fn record<'a>(zip: &'a [u8], at: usize, (begins, length): (&[u8], usize)) -> Option<&'a [u8]> {
    zip.get(at..at.checked_add(length)?).filter(|record| record.starts_with(begins))
}

/// A whole number, its lowest byte first.
fn number(bytes: &[u8]) -> u64 {
    bytes.iter().rev().fold(0, |sum, byte| (sum << 8) | u64::from(*byte))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::zipped;

    fn zip_of(names: impl Iterator<Item = String>) -> Vec<u8> {
        let names: Vec<String> = names.collect();
        zipped(names.iter().map(|name| (name.as_str(), &b""[..]))).unwrap()
    }

    fn small() -> Vec<u8> {
        zip_of(std::iter::once("job.toml".to_owned()))
    }

    /// The same zip file with a larger end, which states so many files.
    fn with_large_end(zip: &[u8], files: u64) -> Vec<u8> {
        let (body, end) = zip.split_at(zip.len() - END.1);
        let mut large = body.to_vec();
        large.extend_from_slice(LARGE_END.0);
        large.extend_from_slice(&44u64.to_le_bytes());
        large.extend_from_slice(&[45, 0, 45, 0, 0, 0, 0, 0, 0, 0, 0, 0]);
        for stated in [files, files, number(&end[12..16]), number(&end[16..20])] {
            large.extend_from_slice(&stated.to_le_bytes());
        }
        large.extend_from_slice(LOCATOR.0);
        large.extend_from_slice(&[0; 4]);
        large.extend_from_slice(&(body.len() as u64).to_le_bytes());
        large.extend_from_slice(&1u32.to_le_bytes());
        let mut end = end.to_vec();
        end[8..12].fill(0xff);
        large.extend_from_slice(&end);
        large
    }

    fn opened(zip: &[u8]) -> Result<usize, String> {
        open(zip).map(|archive| archive.len()).map_err(|e| e.to_string())
    }

    #[test]
    fn what_lists_little_is_opened_whatever_stands_around_it() {
        assert_eq!(opened(&small()), Ok(1));
        assert_eq!(opened(&zip_of(std::iter::empty())), Ok(0));
        assert_eq!(opened(&with_large_end(&small(), 1)), Ok(1));
        let behind_something = [b"#!/bin/sh\n".to_vec(), small()].concat();
        assert_eq!(opened(&behind_something), Ok(1));
        let mut with_comment = small();
        let comment_length = with_comment.len() - 2;
        with_comment[comment_length] = 9;
        with_comment.extend_from_slice(b"a comment");
        assert_eq!(opened(&with_comment), Ok(1));
    }

    #[test]
    fn too_many_files_are_refused_by_the_number_that_is_stated() {
        let many = zip_of((0..=FOLDER_FILES.number).map(|n| n.to_string()));
        assert!(opened(&many).unwrap_err().starts_with("2001 files are too many"));
        let mut stated = small();
        let end = stated.len() - END.1;
        for at in [8, 10] {
            stated[end + at..end + at + 2].copy_from_slice(&60_000u16.to_le_bytes());
        }
        assert!(opened(&stated).unwrap_err().starts_with("60 000 files are too many"));
        let mut millions = with_large_end(&small(), 2_700_000);
        assert!(opened(&millions).unwrap_err().starts_with("2 700 000 files are too many"));
        // Nor does an end of nothing hide the one before.
        millions.extend_from_slice(END.0);
        millions.extend_from_slice(&[0; 18]);
        assert!(opened(&millions).unwrap_err().starts_with("2 700 000 files are too many"));
    }

    #[test]
    fn a_list_of_endless_names_is_not_read_to_its_end() {
        let names = zip_of((0..40).map(|n| format!("{n}{}", "x".repeat(60_000))));
        let told = opened(&names).unwrap_err();
        assert!(told.contains("2.1 MB or more, and at most 2 MB"), "{told}");
    }

    #[test]
    fn what_does_not_end_like_a_zip_file_is_none() {
        let whole = small();
        let mut elsewhere = with_large_end(&whole, 1);
        let locator = elsewhere.len() - END.1 - LOCATOR.1;
        elsewhere[locator + 8] ^= 1;
        let zeros = vec![0; 3_000_000];
        for zip in [&[][..], &b"no zip"[..], &whole[..whole.len() - 1], &zeros[..], &elsewhere[..]] {
            assert!(opened(zip).unwrap_err().contains("no zip file"), "{} bytes", zip.len());
        }
    }
}
