//! The memory-only world the typesetting library works in.

use super::filling::Filling;
use super::fonts::FONTS;
use super::templates::TEMPLATES;
use crate::error::PapersError;
use std::collections::HashMap;
use std::sync::LazyLock;
use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{DiagSpan, FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World, WorldExt};

static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| LazyHash::new(Library::default()));

pub struct PapersWorld {
    main: FileId,
    sources: HashMap<FileId, Source>,
    files: HashMap<FileId, Bytes>,
}

fn id(path: &str) -> Result<FileId, PapersError> {
    let path = VirtualPath::new(path)
        .map_err(|e| PapersError::Template { template: path.to_owned(), reasons: format!("{e:?}") })?;
    Ok(RootedPath::new(VirtualRoot::Project, path).intern())
}

impl PapersWorld {
    pub fn new(filling: &Filling<'_>) -> Result<Self, PapersError> {
        let mut sources = HashMap::new();
        for (name, text) in TEMPLATES {
            let id = id(name)?;
            sources.insert(id, Source::new(id, (*text).to_owned()));
        }
        let mut files = HashMap::new();
        files.insert(id("data.json")?, Bytes::from_string(filling.data.to_string()));
        for (number, drawing) in filling.drawings.iter().enumerate() {
            files.insert(id(&format!("drawings/{number}.svg"))?, Bytes::from_string(drawing.clone()));
        }
        if let Some(logo) = filling.logo {
            let name = format!("logo.{}", logo.ending());
            files.insert(id(&name)?, Bytes::new(logo.bytes().to_vec()));
        }
        for (number, photo) in filling.photos.iter().enumerate() {
            let name = format!("photos/{number}.{}", photo.ending());
            files.insert(id(&name)?, Bytes::new(photo.bytes().to_vec()));
        }
        Ok(Self { main: id(filling.template)?, sources, files })
    }

    /// Template and line of a problem, as a prefix to its message; empty when it has no place.
    pub fn place(&self, span: impl Into<DiagSpan>) -> String {
        let span = span.into();
        let found = span.id().and_then(|id| {
            let source = self.sources.get(&id)?;
            let line = source.lines().byte_to_line(self.range(span)?.start)?;
            Some(format!("{} line {}: ", id.get().vpath().get_without_slash(), line + 1))
        });
        found.unwrap_or_default()
    }
}

impl World for PapersWorld {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &FONTS.book
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        self.sources.get(&id).cloned().ok_or_else(|| missing(id))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let source = || self.sources.get(&id).map(|s| Bytes::from_string(s.text().to_owned()));
        self.files.get(&id).cloned().or_else(source).ok_or_else(|| missing(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.fonts.get(index).cloned()
    }

    /// No clock: the date on the papers is the job's.
    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

fn missing(id: FileId) -> FileError {
    FileError::NotFound(id.get().vpath().get_with_slash().into())
}
