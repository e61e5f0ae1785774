//! The firm: letterhead, logo, prices and language that the papers of all jobs have in common.
//!
//! Each is a file of the store, as it was sent once it could be read. Papers and proposals read them when they are made;
//! [`Firm::sum`] tells whether papers that were made are still the firm's.

use crate::error::{ApiError, FieldProblem};
use crate::random::sha256;
use crate::store::{FirmFile, Store};
use loamline_model::document::Language;
use loamline_quotation::{PriceBook, QuotationError};
use loamline_terms::say;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Names of the firm's files.
pub const PROFILE: &str = "profile.json";
/// The logo.
pub const LOGO: &str = "logo";
/// The price book.
pub const PRICES: &str = "prices.csv";
/// The language file of the papers.
pub const LANGUAGE: &str = "language.toml";

/// What a firm puts on its papers.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct FirmText {
    /// Name of the firm; empty for papers without a letterhead.
    pub name: String,
    /// Lines of the letterhead under the name: address, telephone, mail.
    pub lines: Vec<String>,
    /// First paragraph of a proposal; the usual one when empty.
    pub opening: String,
    /// Last paragraph of a proposal; the usual one when empty.
    pub closing: String,
    /// Terms at the foot of a quotation; the usual ones when empty.
    pub terms: Vec<String>,
    /// Address of the firm's own server under which jobs are found; the reference of the job is added to it.
    pub server: String,
    /// Sheets of labels, for example `70 mm x 36 mm, 3 x 8`; the usual ones of the paper when empty.
    pub labels: String,
    /// Frequencies its line meter reads at, such as `dc` and `1 kHz`; the usual ones when empty.
    pub meter: Vec<String>,
    /// Language of the papers of a job that states none: `en`, `en-us` or `es`; English when empty.
    pub language: String,
    /// Language of what a crew reads, of a job that states none; that of the papers when empty.
    pub crew_language: String,
}

/// The firm as the store has it.
pub struct Firm(Vec<FirmFile>);

impl Firm {
    /// The firm of a store.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn of(store: &dyn Store) -> Result<Self, ApiError> {
        Ok(Self(store.firm()?))
    }

    /// A file of the firm's.
    pub fn file(&self, name: &str) -> Option<&FirmFile> {
        self.0.iter().find(|f| f.name == name)
    }

    fn text(&self, name: &str) -> Option<String> {
        self.file(name).map(|f| String::from_utf8_lossy(&f.bytes).into_owned())
    }

    /// Another text for every other firm: the checksums of all its files.
    pub fn sum(&self) -> String {
        self.0.iter().map(|f| format!("{} {}\n", f.name, f.sha256)).collect()
    }

    /// What it puts on its papers.
    pub fn profile(&self) -> FirmText {
        self.file(PROFILE).and_then(|f| serde_json::from_slice(&f.bytes).ok()).unwrap_or_default()
    }

    /// Its price book as it was sent.
    pub fn price_text(&self) -> Option<String> {
        self.text(PRICES)
    }

    /// Its language file as it was sent.
    pub fn language_text(&self) -> Option<String> {
        self.text(LANGUAGE)
    }

    /// Its own prices; none where it has no book.
    ///
    /// # Errors
    /// When the book cannot be read any more.
    pub fn prices(&self) -> Result<PriceBook, ApiError> {
        self.price_text().map_or_else(|| Ok(PriceBook::default()), |text| price_book(&text))
    }
}

/// A price book, read.
///
/// # Errors
/// Every line that is wrong.
pub fn price_book(text: &str) -> Result<PriceBook, ApiError> {
    PriceBook::read(text).map_err(|e| match e {
        QuotationError::PriceBook { problems } => {
            let told = problems.into_iter().map(|p| FieldProblem::new("", p)).collect();
            ApiError::invalid(say!("The price book cannot be used."), told)
        }
        e => ApiError::field("", e.to_string()),
    })
}

/// A file of the firm's, to be kept.
pub fn firm_file(name: &str, bytes: Vec<u8>) -> FirmFile {
    FirmFile { name: name.to_owned(), sha256: sha256(&bytes), bytes }
}

#[cfg(feature = "papers")]
mod papers {
    use super::{Firm, FirmText, LOGO};
    use crate::error::{ApiError, cannot};
    use loamline_model::Job;
    use loamline_model::document::Language;
    use loamline_papers::{FirmProfile, LabelStock, Logo, PackOptions, PapersError, Words};
    use loamline_terms::{capitalised, say};

    impl Firm {
        /// Makes the papers of a job the firm's, in the languages that the job states or else the firm.
        ///
        /// # Errors
        /// When what is kept of the firm cannot be read any more.
        pub fn put_on(&self, options: &mut PackOptions, job: &Job) -> Result<(), ApiError> {
            let said = self.profile();
            let FirmText { name, lines, opening, closing, terms, server, labels, meter, .. } = said;
            options.firm = FirmProfile {
                name,
                lines,
                opening,
                closing,
                terms,
                server,
                labels: stock(&labels)?,
                meter_hz: meter_hz(&meter)?,
                language: super::language("/language", &said.language)?,
                crew_language: super::language("/crew_language", &said.crew_language)?,
                logo_file: String::new(),
                logo: self.file(LOGO).map(|f| logo(f.bytes.clone())).transpose()?,
            };
            options.prices = self.prices()?;
            // What was complete when it was brought in is used still.
            let own = self.language_text().map(|text| Words::kept(&text)).transpose().map_err(told(""))?;
            options.speak(job, own).map_err(cannot)
        }
    }

    fn told(path: &'static str) -> impl Fn(PapersError) -> ApiError {
        move |e| match e {
            PapersError::Labels { reason } => {
                ApiError::field(path, say!("No labels can be printed so: {reason}.", reason = reason))
            }
            PapersError::Firm { reason } => ApiError::field(path, format!("{}.", capitalised(&reason))),
            PapersError::Language { .. } => {
                ApiError::field(path, format!("{}.", capitalised(&e.to_string())))
            }
            e => cannot(e),
        }
    }

    /// Sheets of labels by their measures; none for an empty text.
    pub fn stock(labels: &str) -> Result<Option<LabelStock>, ApiError> {
        let labels = Some(labels).filter(|l| !l.trim().is_empty());
        labels.map(LabelStock::read).transpose().map_err(told("/labels"))
    }

    /// Frequencies of a meter as they are typed.
    pub fn meter_hz(typed: &[String]) -> Result<Vec<f64>, ApiError> {
        let wrong =
            || ApiError::field("/meter", say!("A meter reads at {rule}.", rule = FirmProfile::meter_rule()));
        FirmProfile::meter_of(typed).ok_or_else(wrong)
    }

    pub fn logo(bytes: Vec<u8>) -> Result<Logo, ApiError> {
        Logo::read(bytes).map_err(told(""))
    }

    pub fn words(text: &str) -> Result<Words, ApiError> {
        Words::read(text).map_err(told(""))
    }

    /// The language file that comes with the program, to translate.
    pub const fn shipped_words() -> Option<&'static str> {
        Some(Words::shipped(Language::English))
    }
}

#[cfg(not(feature = "papers"))]
mod papers {
    use crate::error::ApiError;
    use crate::error_code::ErrorCode;
    use axum::http::StatusCode;

    fn without<T>() -> Result<T, ApiError> {
        Err(ApiError::new(
            StatusCode::NOT_FOUND,
            ErrorCode::NotBuilt,
            loamline_terms::say!("The papers are not in this program: it was built without them."),
        ))
    }

    pub fn stock(labels: &str) -> Result<(), ApiError> {
        if labels.trim().is_empty() { Ok(()) } else { without() }
    }

    pub fn meter_hz(typed: &[String]) -> Result<(), ApiError> {
        if typed.is_empty() { Ok(()) } else { without() }
    }

    pub fn logo(_: Vec<u8>) -> Result<(), ApiError> {
        without()
    }

    pub fn words(_: &str) -> Result<(), ApiError> {
        without()
    }

    pub const fn shipped_words() -> Option<&'static str> {
        None
    }
}

/// A language by its name; none for an empty one.
fn language(path: &'static str, name: &str) -> Result<Option<Language>, ApiError> {
    if name.trim().is_empty() {
        return Ok(None);
    }
    let unknown = || {
        let told = say!("There is no such language: there are {languages}.", languages = Language::names());
        ApiError::field(path, told)
    };
    Language::named(name).map(Some).ok_or_else(unknown)
}

/// Asks whether there are the languages that papers are to be in.
///
/// # Errors
/// Which there is not.
pub fn check_languages(text: &FirmText) -> Result<(), ApiError> {
    language("/language", &text.language)?;
    language("/crew_language", &text.crew_language).map(|_| ())
}

/// Asks whether sheets of labels can be printed on.
///
/// # Errors
/// Why not.
pub fn check_labels(labels: &str) -> Result<(), ApiError> {
    papers::stock(labels).map(|_| ())
}

/// Asks whether a meter can read at the frequencies typed.
///
/// # Errors
/// Why not.
pub fn check_meter(typed: &[String]) -> Result<(), ApiError> {
    papers::meter_hz(typed).map(|_| ())
}

/// Asks whether a logo can be printed.
///
/// # Errors
/// When it is neither PNG nor SVG, damaged, or larger than is taken.
pub fn check_logo(bytes: &[u8]) -> Result<(), ApiError> {
    papers::logo(bytes.to_vec()).map(|_| ())
}

/// Asks whether a language file has every word of the papers.
///
/// # Errors
/// Every word that is missing.
pub fn check_language(text: &str) -> Result<(), ApiError> {
    papers::words(text).map(|_| ())
}

/// The language file that comes with the program; none where the papers are not in it.
pub const fn shipped_language() -> Option<&'static str> {
    papers::shipped_words()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::SqliteStore;

    #[test]
    fn a_firm_is_what_is_kept_of_it_and_its_sum_changes_with_every_file() {
        let store = SqliteStore::in_memory().unwrap();
        let none = Firm::of(&store).unwrap();
        assert_eq!((none.profile(), none.sum().as_str()), (FirmText::default(), ""));
        assert_eq!(none.prices().unwrap(), PriceBook::default());
        let profile = FirmText { name: "Example".into(), ..FirmText::default() };
        store.keep_of_firm(&firm_file(PROFILE, serde_json::to_vec(&profile).unwrap())).unwrap();
        let first = Firm::of(&store).unwrap();
        assert_eq!(first.profile(), profile);
        store
            .keep_of_firm(&firm_file(PRICES, b"code,price\nmargin,18 %\nlabour/hour,62\n".to_vec()))
            .unwrap();
        let second = Firm::of(&store).unwrap();
        assert_ne!(first.sum(), second.sum());
        assert_eq!(second.prices().unwrap().price("labour/hour").unwrap().to_string(), "62");
        assert!(store.drop_of_firm(PRICES).unwrap() && !store.drop_of_firm(PRICES).unwrap());
        assert_eq!(Firm::of(&store).unwrap().sum(), first.sum());
    }

    #[test]
    fn a_firms_languages_are_those_there_are() {
        let spoken = |language: &str, crew: &str| FirmText {
            language: language.to_owned(),
            crew_language: crew.to_owned(),
            ..FirmText::default()
        };
        assert!(check_languages(&spoken("", "")).is_ok() && check_languages(&spoken("en-us", "es")).is_ok());
        let why = check_languages(&spoken("en", "latin")).unwrap_err();
        let told = &why.problem.problems[0];
        assert_eq!(told.path, "/crew_language");
        assert!(told.message.contains("en, en-us, es"), "{}", told.message);
    }

    #[test]
    fn every_wrong_line_of_a_price_book_is_told() {
        let why = price_book("code,price\nmargin,lots\ntask/joint,\n").unwrap_err();
        let told: Vec<&str> = why.problem.problems.iter().map(|p| p.message.as_str()).collect();
        assert_eq!(told.len(), 2, "{told:?}");
        assert!(told[0].starts_with("line 2: ") && told[1].starts_with("line 3: "), "{told:?}");
    }
}
