//! Photos of the site for the client's papers.

use crate::error::PapersError;
use loamline_limits::{ATTACHMENT_BYTES, Exceeded, PHOTO_POINTS};
use typst::foundations::Bytes;
use typst::visualize::{ExchangeFormat, RasterImage};

/// A photo of the site, PNG or JPEG.
#[derive(Debug, Clone, PartialEq)]
pub struct SitePhoto {
    /// Name of the file attached to the job.
    name: String,
    bytes: Vec<u8>,
    png: bool,
}

impl SitePhoto {
    /// Reads a photo from the contents of a file attached to a job.
    ///
    /// # Errors
    /// [`PapersError::Photo`] when it is neither PNG nor JPEG, is damaged, or has more picture points than a paper takes.
    pub fn read(name: &str, bytes: Vec<u8>) -> Result<Self, PapersError> {
        let fail = |reason: String| PapersError::Photo { name: name.to_owned(), reason };
        let too_large = |more: Exceeded| fail(more.to_string());
        ATTACHMENT_BYTES.check(bytes.len()).map_err(too_large)?;
        let png = bytes.starts_with(b"\x89PNG\r\n\x1a\n");
        let points = if png { png_points(&bytes) } else { jpeg_points(&bytes) };
        let points = points.ok_or_else(|| fail("it is neither a PNG nor a JPEG picture".to_owned()))?;
        PHOTO_POINTS.check_u64(points).map_err(too_large)?;
        let format = if png { ExchangeFormat::Png } else { ExchangeFormat::Jpg };
        RasterImage::plain(Bytes::new(bytes.clone()), format)
            .map_err(|e| fail(format!("it is a damaged picture: {e}")))?;
        Ok(Self { name: name.to_owned(), bytes, png })
    }

    /// Name of the file attached to the job.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The file's contents.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Ending of its file name on the papers.
    pub const fn ending(&self) -> &'static str {
        if self.png { "png" } else { "jpg" }
    }
}

/// Width times height as the head of a PNG file states them (its chunk IHDR); none where it is cut off.
fn png_points(bytes: &[u8]) -> Option<u64> {
    let number = |at: usize| -> Option<u64> {
        Some(u64::from(u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?)))
    };
    Some(number(16)? * number(20)?)
}

/// The same of a JPEG file (ITU-T T.81, B.2.2: a frame header is one of the markers C0 to CF but C4, C8 and CC).
fn jpeg_points(bytes: &[u8]) -> Option<u64> {
    let mut rest = bytes.strip_prefix(&[0xff, 0xd8])?;
    loop {
        let [0xff, marker, high, low, body @ ..] = rest else { return None };
        let length = usize::from(u16::from_be_bytes([*high, *low]));
        match marker {
            0xff => {
                // A byte of filling before the marker.
                rest = &rest[1..];
                continue;
            }
            0xc4 | 0xc8 | 0xcc => {}
            0xc0..=0xcf => {
                let [_, h1, h0, w1, w0, ..] = body else { return None };
                let side = |a: u8, b: u8| u64::from(u16::from_be_bytes([a, b]));
                return Some(side(*h1, *h0) * side(*w1, *w0));
            }
            _ => {}
        }
        rest = body.get(length.checked_sub(2)?..)?;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Markers of a JPEG file by hand: start, application data of six bytes, a frame of 640 by 480.
    #[test]
    fn the_size_of_a_picture_is_read_from_its_head() {
        let mut file = vec![0xff, 0xd8, 0xff, 0xe0, 0, 8, 1, 2, 3, 4, 5, 6, 0xff];
        file.extend([0xff, 0xc4, 0, 3, 7]);
        file.extend([0xff, 0xc2, 0, 17, 8, 1, 224, 2, 128, 3]);
        assert_eq!(jpeg_points(&file), Some(640 * 480));
        assert_eq!(jpeg_points(&file[..20]), None);
        assert_eq!(jpeg_points(b"\xff\xd8\xff\xe0\x00\x01"), None);
    }

    #[test]
    fn what_is_no_photo_is_refused_with_its_name() {
        let refused = |bytes: &[u8]| SitePhoto::read("yard.jpg", bytes.to_vec()).unwrap_err().to_string();
        assert!(refused(b"GIF89a").contains("yard.jpg"));
        assert!(refused(b"GIF89a").contains("neither a PNG nor a JPEG"));
        let mut vast = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
        vast.extend([255; 8]);
        assert!(refused(&vast).contains("at most"), "{}", refused(&vast));
        let mut torn = vec![0xff, 0xd8, 0xff, 0xc0, 0, 17, 8, 0, 16, 0, 16, 3];
        torn.extend([0; 9]);
        assert!(refused(&torn).contains("damaged picture"));
    }
}
