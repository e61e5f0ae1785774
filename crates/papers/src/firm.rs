//! The firm's profile: letterhead, logo, its own wording. Neutral until a firm gives its own.

use crate::error::PapersError;
use crate::label_stock::LabelStock;
use loamline_limits::{Exceeded, LOGO_BYTES, LOGO_POINTS};
use loamline_model::Quantity;
use loamline_model::document::Language;
use serde::Serialize;
use typst::foundations::Bytes;
use typst::visualize::{ExchangeFormat, RasterImage, SvgImage};

/// A firm's logo, PNG or SVG.
#[derive(Debug, Clone, PartialEq)]
pub struct Logo {
    /// The file's contents.
    bytes: Vec<u8>,
    /// Whether it is a drawing; else it is a PNG picture.
    svg: bool,
    /// Width over height.
    shape: f64,
}

impl Logo {
    /// Reads a logo from the contents of a file: a PNG picture or an SVG drawing. Letters in a drawing are set in
    /// the papers' own fonts; a logo that needs its own wants them as outlines.
    ///
    /// # Errors
    /// [`PapersError::Firm`] when it is neither, is damaged, or is larger than 2 MB.
    pub fn read(bytes: Vec<u8>) -> Result<Self, PapersError> {
        let fail = |reason: String| PapersError::Firm { reason };
        let too_large = |more: Exceeded| fail(more.to_string());
        LOGO_BYTES.check(bytes.len()).map_err(too_large)?;
        let svg = !bytes.starts_with(b"\x89PNG\r\n\x1a\n");
        let (width, height) = if svg {
            let drawing = SvgImage::new(Bytes::new(bytes.clone())).map_err(|_| {
                fail("the logo is neither a PNG picture nor an SVG drawing that can be read".to_owned())
            })?;
            (drawing.width(), drawing.height())
        } else {
            LOGO_POINTS.check_u64(points(&bytes)).map_err(too_large)?;
            let picture = RasterImage::plain(Bytes::new(bytes.clone()), ExchangeFormat::Png)
                .map_err(|e| fail(format!("the logo is a damaged PNG picture: {e}")))?;
            (f64::from(picture.width()), f64::from(picture.height()))
        };
        Ok(Self { bytes, svg, shape: width / height })
    }

    /// The file's contents.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Ending of its file name.
    pub const fn ending(&self) -> &'static str {
        if self.svg { "svg" } else { "png" }
    }

    /// Width and height when printed, millimetres: as high as allowed, unless it would be too wide.
    pub fn size_mm(&self, most: (f64, f64)) -> (f64, f64) {
        let width = (most.1 * self.shape).min(most.0);
        (width, width / self.shape)
    }
}

/// Width times height as the head of a PNG file states them (its chunk IHDR); 0 where it is cut off.
fn points(png: &[u8]) -> u64 {
    let number = |at: usize| -> Option<u64> {
        Some(u64::from(u32::from_be_bytes(png.get(at..at + 4)?.try_into().ok()?)))
    };
    number(16).zip(number(20)).map_or(0, |(width, height)| width * height)
}

/// What a firm puts on its papers.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct FirmProfile {
    /// Name of the firm; empty for papers without a letterhead.
    pub name: String,
    /// Lines of the letterhead under the name: address, telephone, mail.
    pub lines: Vec<String>,
    /// First paragraph of a proposal.
    pub opening: String,
    /// Last paragraph of a proposal.
    pub closing: String,
    /// Terms at the foot of a quotation.
    pub terms: Vec<String>,
    /// Address of the firm's own server under which jobs are found; the reference of the job is added to it.
    pub server: String,
    /// The sheets its labels are printed on.
    #[serde(skip)]
    pub labels: Option<LabelStock>,
    /// Frequencies its line meter reads at, hertz; 0 is direct current.
    #[serde(skip)]
    pub meter_hz: Vec<f64>,
    /// Language of the papers of a job that states none.
    #[serde(skip)]
    pub language: Option<Language>,
    /// Language of what a crew reads, of a job that states none.
    #[serde(skip)]
    pub crew_language: Option<Language>,
    /// Name of the logo's file, beside the profile; whoever reads the profile reads it too and puts it into `logo`.
    #[serde(skip)]
    pub logo_file: String,
    /// The logo.
    #[serde(skip)]
    pub logo: Option<Logo>,
}

impl FirmProfile {
    /// Reads a profile: TOML with `name`, `lines`, `opening`, `closing`, `terms`, `server`, `logo`, `labels`, `meter`,
    /// `language`, `crew_language`, all optional.
    ///
    /// # Errors
    /// [`PapersError::Firm`] when it is not TOML, or naming every key that is not known or has a value of the wrong
    /// kind.
    pub fn read(text: &str) -> Result<Self, PapersError> {
        let fail = |reason: String| PapersError::Firm { reason };
        let document: toml_edit::DocumentMut =
            text.parse().map_err(|e: toml_edit::TomlError| fail(e.to_string()))?;
        let mut profile = Self::default();
        let mut faults = Vec::new();
        for (key, item) in document.iter() {
            let one = item.as_str().map(str::to_owned);
            let many: Option<Vec<String>> =
                item.as_array().and_then(|list| list.iter().map(|v| v.as_str().map(str::to_owned)).collect());
            if key == "meter" {
                match many.as_deref().and_then(Self::meter_of) {
                    Some(hz) => profile.meter_hz = hz,
                    None => faults.push(format!("meter must be a list of {}", Self::meter_rule())),
                }
                continue;
            }
            if let ("labels", Some(stock)) = (key, &one) {
                match LabelStock::read(stock) {
                    Ok(stock) => profile.labels = Some(stock),
                    Err(e) => faults.push(e.to_string()),
                }
                continue;
            }
            if matches!(key, "language" | "crew_language") {
                let place =
                    if key == "language" { &mut profile.language } else { &mut profile.crew_language };
                *place = one.as_deref().and_then(Language::named);
                if place.is_none() {
                    faults.push(format!("{key} must be one of {}", Language::names()));
                }
                continue;
            }
            let (text, list) = match key {
                "name" => (Some(&mut profile.name), None),
                "opening" => (Some(&mut profile.opening), None),
                "closing" => (Some(&mut profile.closing), None),
                "server" => (Some(&mut profile.server), None),
                "logo" => (Some(&mut profile.logo_file), None),
                "lines" => (None, Some(&mut profile.lines)),
                "terms" => (None, Some(&mut profile.terms)),
                "labels" => {
                    faults.push("labels must be a text".to_owned());
                    continue;
                }
                _ => {
                    let known = "name, lines, opening, closing, terms, server, logo, labels, meter, language, crew_language";
                    faults.push(format!("there is no key {key}; the keys are {known}"));
                    continue;
                }
            };
            match (text, list, one, many) {
                (Some(place), _, Some(value), _) => *place = value,
                (_, Some(place), _, Some(value)) => *place = value,
                (Some(_), ..) => faults.push(format!("{key} must be a text")),
                _ => faults.push(format!("{key} must be a list of texts")),
            }
        }
        if faults.is_empty() { Ok(profile) } else { Err(fail(faults.join("; "))) }
    }
}

/// As many frequencies as a sheet of readings has room to write.
const METER_COLUMNS: usize = 4;

impl FirmProfile {
    /// Frequencies of a meter as they are typed, hertz; `dc` is 0. None where they are not what [`Self::meter_rule`] says.
    pub fn meter_of(typed: &[String]) -> Option<Vec<f64>> {
        let one = |text: &String| match text.trim() {
            dc if dc.eq_ignore_ascii_case("dc") => Some(0.0),
            hz => Quantity::Frequency.parse(hz).ok().filter(|hz| (0.0..=40.0e3).contains(hz)),
        };
        (typed.len() <= METER_COLUMNS).then(|| typed.iter().map(one).collect())?
    }

    /// What may be typed as frequencies of a meter, in words.
    pub fn meter_rule() -> String {
        format!("at most {METER_COLUMNS} frequencies up to 40 kHz, such as dc and 1 kHz")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_firm_states_what_its_meter_reads_at() {
        let meter = |list: &str| FirmProfile::read(&format!("meter = {list}"));
        assert_eq!(meter("[\"DC\", \"1.2 kHz\"]").unwrap().meter_hz, [0.0, 1200.0]);
        for wrong in ["[\"3 m\"]", "\"dc\"", "[\"dc\", \"dc\", \"dc\", \"dc\", \"dc\"]", "[\"-5 Hz\"]"] {
            let error = meter(wrong).unwrap_err().to_string();
            assert!(error.contains("a list of at most 4 frequencies"), "{wrong}: {error}");
        }
    }

    #[test]
    fn a_firm_states_its_languages_by_name() {
        let firm = FirmProfile::read("language = \"en-us\"\ncrew_language = \"es\"\n").unwrap();
        assert_eq!(
            (firm.language, firm.crew_language),
            (Some(Language::AmericanEnglish), Some(Language::Spanish))
        );
        for wrong in ["crew_language = \"latin\"", "crew_language = 3"] {
            let error = FirmProfile::read(wrong).unwrap_err().to_string();
            assert!(error.contains("crew_language must be one of en, en-us, es"), "{wrong}: {error}");
        }
    }

    #[test]
    fn a_profile_is_read_and_every_strange_key_named() {
        let stock = "name = \"Example\"\nlabels = \"70 mm x 36 mm, 3 x 8\"\n";
        assert_eq!(FirmProfile::read(stock).unwrap().labels, LabelStock::read("70 mm x 36 mm, 3 x 8").ok());
        let error = FirmProfile::read("labels = \"round\"").unwrap_err().to_string();
        assert!(error.contains("no sheet of labels"), "{error}");
        let error = FirmProfile::read("labels = 3").unwrap_err().to_string();
        assert!(error.contains("labels must be a text"), "{error}");
        let profile =
            FirmProfile::read("name = \"Example\"\nlines = [\"1 Lane\"]\nlogo = \"x.svg\"\n").unwrap();
        assert_eq!((profile.name.as_str(), profile.lines.len()), ("Example", 1));
        assert_eq!(profile.logo_file, "x.svg");
        let error = FirmProfile::read("nam = \"x\"\nlines = \"x\"\nname = 3").unwrap_err().to_string();
        for part in ["there is no key nam; the keys are name,", "lines must be a list", "name must be a text"]
        {
            assert!(error.contains(part), "{error}");
        }
    }

    #[test]
    fn a_logo_is_a_png_or_an_svg_and_keeps_its_shape() {
        let svg = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"30\" height=\"10\"><path d=\"M0 0H30V10Z\"/></svg>";
        let logo = Logo::read(svg.into()).unwrap();
        assert_eq!(
            (logo.ending(), logo.size_mm((60.0, 12.0)), logo.size_mm((24.0, 12.0))),
            ("svg", (36.0, 12.0), (24.0, 8.0))
        );
        // One white point, PNG (made with zlib by hand).
        let png = [
            137, 80, 78, 71, 13, 10, 26, 10, 0, 0, 0, 13, 73, 72, 68, 82, 0, 0, 0, 1, 0, 0, 0, 1, 8, 0, 0, 0,
            0, 58, 126, 155, 85, 0, 0, 0, 10, 73, 68, 65, 84, 120, 156, 99, 248, 15, 0, 1, 1, 1, 0, 177, 56,
            246, 20, 0, 0, 0, 0, 73, 69, 78, 68, 174, 66, 96, 130,
        ];
        assert_eq!(Logo::read(png.to_vec()).unwrap().ending(), "png");
        let error = Logo::read(png[..40].to_vec()).unwrap_err().to_string();
        assert!(error.contains("damaged PNG"), "{error}");
        let mut vast = png;
        vast[16..24].fill(255);
        assert!(Logo::read(vast.to_vec()).unwrap_err().to_string().contains("at most 25 000 000"));
        assert!(Logo::read(b"GIF89a".to_vec()).unwrap_err().to_string().contains("neither a PNG"));
        let large = Logo::read(vec![b' '; LOGO_BYTES.most() + 1]).unwrap_err().to_string();
        assert!(large.contains("2.1 MB, and at most 2 MB"), "{large}");
    }
}
