//! Job folders as one zip file, in and out. What is inside names rows of the store, never files here.

mod zip_list;

use super::names::attachment_name;
use crate::error::{ApiError, FieldProblem};
use crate::error_code::ErrorCode;
use crate::random::sha256;
use crate::store::AttachmentRow;
use axum::http::StatusCode;
use loamline_limits::{
    ATTACHMENT_BYTES, Bound, CATALOGUE_BYTES, Exceeded, FOLDER_BYTES, JOB_FILE_BYTES, ZIP_BYTES, go_on,
};
use loamline_terms::{Sentence, capitalised, say};
use std::collections::HashSet;
use std::io::{Cursor, Read, Write as _};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// A job folder.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Folder {
    /// The text of `job.toml`.
    pub text: String,
    /// Its own catalogue files: name and text, in the order of their names.
    pub catalogue: Vec<(String, String)>,
    /// Attachments with their contents.
    pub attachments: Vec<(AttachmentRow, Vec<u8>)>,
    /// Files that belong to no part of a job and were left out.
    pub left_out: Vec<String>,
}

/// Media type of a content, told by its first bytes: those a job may keep.
pub fn media_type(bytes: &[u8]) -> Option<&'static str> {
    let starts = |magic: &[u8]| bytes.starts_with(magic);
    if starts(b"\x89PNG\r\n\x1a\n") {
        Some("image/png")
    } else if starts(b"\xff\xd8\xff") {
        Some("image/jpeg")
    } else if starts(b"%PDF-") {
        Some("application/pdf")
    } else {
        None
    }
}

fn bad(message: impl Into<Sentence>) -> ApiError {
    ApiError::invalid(say!("The job folder was not taken in."), vec![FieldProblem::new("", message)])
}

/// What a file of a folder is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Job,
    Catalogue,
    Attachment,
}

impl Part {
    /// By its place in the folder; none for what belongs to no part.
    fn of(place: &str) -> Option<Self> {
        match place.split_once('/') {
            None if place == "job.toml" => Some(Self::Job),
            Some(("catalogue", f)) if f.ends_with(".toml") && !f.contains('/') => Some(Self::Catalogue),
            Some(("attachments", _)) => Some(Self::Attachment),
            _ => None,
        }
    }

    fn most(self) -> &'static Bound {
        match self {
            Self::Job => &JOB_FILE_BYTES,
            Self::Catalogue => &CATALOGUE_BYTES,
            Self::Attachment => &ATTACHMENT_BYTES,
        }
    }
}

/// What may still be unpacked.
struct Unpacked {
    left: u64,
}

impl Unpacked {
    fn pass(&mut self, bytes: u64) -> Result<(), ApiError> {
        self.left = self.left.checked_sub(bytes).ok_or_else(|| {
            let more = Exceeded { bound: &FOLDER_BYTES, found: FOLDER_BYTES.number.saturating_add(1) };
            ApiError::too_large("", more)
        })?;
        Ok(())
    }

    /// A file's content. What it says about its size is no more than a wish: memory grows with what really comes.
    fn read(&mut self, file: impl Read, name: &str) -> Result<Vec<u8>, ApiError> {
        let mut content = Vec::new();
        // No part is larger than the largest: of a file that is, one byte more is read, which shows it.
        let most = self.left.min(ATTACHMENT_BYTES.number);
        file.take(most + 1).read_to_end(&mut content).map_err(|e| cannot_unpack(name, &e))?;
        self.pass(u64::try_from(content.len()).unwrap_or(u64::MAX))?;
        Ok(content)
    }

    /// Counts a file without keeping it.
    fn pass_over(&mut self, file: impl Read, name: &str) -> Result<(), ApiError> {
        let bytes = std::io::copy(&mut file.take(self.left + 1), &mut std::io::sink());
        self.pass(bytes.map_err(|e| cannot_unpack(name, &e))?)
    }
}

fn cannot_unpack(name: &str, e: &std::io::Error) -> ApiError {
    bad(say!("{name} cannot be unpacked: {why}.", name = name, why = e.to_string()))
}

/// Reads a zip file of a job folder: `job.toml`, `catalogue/*.toml`, `attachments/*`, at its root or in one folder.
///
/// # Errors
/// When it is no zip file, is too large or lists too many files, holds no job, or unpacks to too much.
pub fn import(bytes: &[u8]) -> Result<Folder, ApiError> {
    ZIP_BYTES.check(bytes.len()).map_err(|more| ApiError::too_large("", more))?;
    let mut archive = zip_list::open(bytes).map_err(|e| bad(format!("{}.", capitalised(&e.to_string()))))?;
    let names: Vec<String> = archive.file_names().map(|n| n.replace('\\', "/")).collect();
    let root = names
        .iter()
        .filter_map(|n| n.strip_suffix("job.toml").filter(|r| r.is_empty() || r.ends_with('/')))
        .min_by_key(|r| r.len())
        .map(str::to_owned)
        .ok_or_else(|| bad(say!("There is no job.toml in it: a job is a folder that holds one.")))?;
    let mut folder = Folder::default();
    let mut found = false;
    let mut places = HashSet::new();
    let mut unpacked = Unpacked { left: FOLDER_BYTES.number };
    let too_large = |name: &str| {
        let name = name.to_owned();
        move |more: Exceeded| ApiError::too_large("", more).about(&name)
    };
    for i in 0..archive.len() {
        go_on();
        let file = archive
            .by_index(i)
            .map_err(|e| bad(say!("A file in it cannot be read: {why}.", why = e.to_string())))?;
        let name = file.name().replace('\\', "/");
        if file.is_dir() {
            continue;
        }
        let place = name.strip_prefix(&root).map(str::to_owned);
        let kind = place.as_deref().and_then(Part::of);
        let Some((part, place)) = kind.zip(place) else {
            // Not kept, but what it unpacks to counts: nobody sends gigabytes of nothing by mistake.
            unpacked.pass_over(file, &name)?;
            folder.left_out.push(name);
            continue;
        };
        // `catalogue/own.toml` and `catalogue\own.toml` are one place: neither is thrown away without a word.
        if !places.insert(place.clone()) {
            return Err(bad(say!("Two files in it are called {name}: keep one of them.", name = &name)));
        }
        let stated = file.size();
        let content = unpacked.read(file, &name)?;
        let size = u64::try_from(content.len()).unwrap_or(u64::MAX);
        // Of what is cut short the whole size is told, as far as the zip file says it.
        let whole = if size > ATTACHMENT_BYTES.number { size.max(stated) } else { size };
        part.most().check_u64(whole).map_err(too_large(&name))?;
        let text = |content: Vec<u8>| {
            String::from_utf8(content).map_err(|_| bad(say!("{name} is not text in UTF-8.", name = &name)))
        };
        let file_name = place.rsplit('/').next().unwrap_or_default();
        match part {
            Part::Job => {
                folder.text = text(content)?;
                found = true;
            }
            Part::Catalogue => folder.catalogue.push((file_name.to_owned(), text(content)?)),
            Part::Attachment => {
                match (attachment_name("", &place["attachments/".len()..]), media_type(&content)) {
                    (Ok(name), Some(kind)) => {
                        let row = AttachmentRow {
                            name,
                            sha256: sha256(&content),
                            media_type: kind.to_owned(),
                            size,
                        };
                        folder.attachments.push((row, content));
                    }
                    _ => folder.left_out.push(name),
                }
            }
        }
    }
    if !found {
        return Err(bad(say!("There is no job.toml in it: a job is a folder that holds one.")));
    }
    folder.catalogue.sort();
    Ok(folder)
}

/// Writes a job folder as a zip file; equal folders give equal bytes.
///
/// # Errors
/// When it is too large for a zip file.
pub fn export(folder: &Folder) -> Result<Vec<u8>, ApiError> {
    let catalogue =
        folder.catalogue.iter().map(|(name, text)| (format!("catalogue/{name}"), text.as_bytes()));
    let attached =
        folder.attachments.iter().map(|(row, b)| (format!("attachments/{}", row.name), b.as_slice()));
    let job = std::iter::once(("job.toml".to_owned(), folder.text.as_bytes()));
    let files: Vec<(String, &[u8])> = job.chain(catalogue).chain(attached).collect();
    zipped(files.iter().map(|(name, bytes)| (name.as_str(), *bytes)))
}

/// Files as one zip file; equal files give equal bytes.
///
/// # Errors
/// When they are too large for a zip file.
pub fn zipped<'a>(files: impl Iterator<Item = (&'a str, &'a [u8])>) -> Result<Vec<u8>, ApiError> {
    let written = || -> Result<Vec<u8>, zip::result::ZipError> {
        let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
        let method = |m| SimpleFileOptions::default().compression_method(m);
        for (name, bytes) in files {
            // Pictures and PDFs are packed already.
            let packed = media_type(bytes).is_some();
            let how = if packed { CompressionMethod::Stored } else { CompressionMethod::Deflated };
            zip.start_file(name, method(how))?;
            zip.write_all(bytes)?;
        }
        Ok(zip.finish()?.into_inner())
    };
    written().map_err(|e| {
        ApiError::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            ErrorCode::Store,
            say!("The files cannot be packed: {why}.", why = e.to_string()),
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_survives_the_way_out_and_in() {
        let png = b"\x89PNG\r\n\x1a\nrest".to_vec();
        let row = AttachmentRow {
            name: "plan.png".into(),
            sha256: sha256(&png),
            media_type: "image/png".into(),
            size: 12,
        };
        let folder = Folder {
            text: "format = 1\n".into(),
            catalogue: vec![("own.toml".into(), "# nothing\n".into())],
            attachments: vec![(row, png)],
            left_out: Vec::new(),
        };
        assert_eq!(import(&export(&folder).unwrap()).unwrap(), folder);
    }

    fn zipped(files: &[(&str, &[u8])]) -> Vec<u8> {
        super::zipped(files.iter().copied()).unwrap()
    }

    #[test]
    fn paths_that_climb_are_left_out_and_a_folder_around_is_fine() {
        let bytes = zipped(&[
            ("garden/job.toml", b"format = 1"),
            ("garden/attachments/../../evil.png", b"\x89PNG\r\n\x1a\n"),
            ("garden/attachments/x.png", b"no picture"),
            ("../../root.toml", b""),
        ]);
        let folder = import(&bytes).unwrap();
        assert_eq!(folder.text, "format = 1");
        assert!(folder.attachments.is_empty());
        assert_eq!(folder.left_out.len(), 3);
    }

    #[test]
    fn two_files_of_one_place_are_refused() {
        for (one, other, contents) in [
            ("catalogue/own.toml", "catalogue\\own.toml", [&b"# x"[..], &b"# y"[..]]),
            (
                "attachments/a.png",
                "attachments\\a.png",
                [&b"\x89PNG\r\n\x1a\n1"[..], &b"\x89PNG\r\n\x1a\n2"[..]],
            ),
        ] {
            let files = zipped(&[("job.toml", b"format = 1"), (one, contents[0]), (other, contents[1])]);
            let told = import(&files).unwrap_err().problem.problems[0].message.clone();
            assert!(told.contains(&format!("are called {one}: keep one")), "{told}");
        }
    }

    #[test]
    fn what_is_no_job_folder_is_refused_with_a_reason() {
        assert!(import(b"no zip").unwrap_err().problem.problems[0].message.contains("no zip file"));
        let none = import(&zipped(&[("readme.txt", b"hello")])).unwrap_err();
        assert!(none.problem.problems[0].message.contains("job.toml"));
        let bomb = vec![0u8; FOLDER_BYTES.most() + 2];
        let e = import(&zipped(&[("job.toml", b"format = 1"), ("zeros", &bomb)])).unwrap_err();
        assert_eq!(e.status, StatusCode::PAYLOAD_TOO_LARGE);
        let long = vec![b'#'; 4_100_000];
        let e = import(&zipped(&[("job.toml", &long)])).unwrap_err();
        assert!(
            e.problem.message.contains("job.toml") && e.problem.message.contains("at most 4 MB"),
            "{e:?}"
        );
    }
}
