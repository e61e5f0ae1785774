//! Sheets of labels by measure: how large a label is, how many lie on a sheet, what is between and around them.

use crate::error::PapersError;
use loamline_model::Quantity;
use loamline_model::document::Paper;

/// Smallest label that still holds a code a telephone reads beside text a person reads, millimetres (common practice, no
/// source: modules of 0.4 mm, letters of 5 pt).
const LEAST_MM: (f64, f64) = (45.0, 20.0);
/// Labels may stand over the sheet by this much in all: what is written in whole tenths of a millimetre is seldom exact.
const ROUNDED_MM: f64 = 0.3;
const MM_PER_IN: f64 = 25.4;

/// A sheet of labels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LabelStock {
    /// Width and height of a label, millimetres.
    size_mm: (f64, f64),
    /// Columns and rows.
    grid: (u32, u32),
    /// Between two labels, across and down, millimetres.
    gap_mm: (f64, f64),
    /// From the sheet's left and upper edges to the first label, millimetres; as much as on the other side when `None`.
    margin_mm: Option<(f64, f64)>,
}

impl LabelStock {
    /// The usual stock of a paper: 3 by 8 labels of 70 by 36 mm on A4, 3 by 10 labels of 2 5/8 by 1 in, 1/8 in apart, on
    /// Letter (common practice, no source).
    pub fn usual(paper: Paper) -> Self {
        let blank = Self { size_mm: (70.0, 36.0), grid: (3, 8), gap_mm: (0.0, 0.0), margin_mm: None };
        match sheet(paper) {
            Paper::Letter => Self {
                size_mm: (2.625 * MM_PER_IN, MM_PER_IN),
                grid: (3, 10),
                gap_mm: (MM_PER_IN / 8.0, 0.0),
                ..blank
            },
            _ => blank,
        }
    }

    /// Reads a stock as people write it: `70 mm x 36 mm, 3 x 8`, with `gap 1/8 in x 0 in` and `margin 7 mm x 15 mm` behind
    /// it where they are wanted. A measure without a unit has that of the other one.
    ///
    /// # Errors
    /// [`PapersError::Labels`] with what is not understood, or that labels are too small.
    pub fn read(text: &str) -> Result<Self, PapersError> {
        let fail = |reason: String| PapersError::Labels { reason };
        if text.chars().count() > LONGEST || text.chars().any(char::is_control) {
            return Err(fail(format!("write it in one line of at most {LONGEST} letters, as {EXAMPLE}")));
        }
        let mut parts = text.split(',').map(str::trim);
        let (Some(size), Some(grid)) = (parts.next(), parts.next()) else {
            return Err(fail(format!("\"{text}\" is no sheet of labels; write it as {EXAMPLE}")));
        };
        let count = |text: &str| text.trim().parse::<u32>().ok().filter(|n| (1..=MOST_ACROSS).contains(n));
        let grid = in_two(grid)
            .and_then(|(across, down)| Some((count(across)?, count(down)?)))
            .ok_or_else(|| fail(format!("\"{grid}\": write columns x rows, 1 to {MOST_ACROSS} of each")))?;
        let mut stock = Self { size_mm: lengths(size)?, grid, gap_mm: (0.0, 0.0), margin_mm: None };
        for part in parts {
            let (word, rest) = part.split_once(' ').unwrap_or((part, ""));
            match word {
                "gap" => stock.gap_mm = lengths(rest)?,
                "margin" => stock.margin_mm = Some(lengths(rest)?),
                _ => return Err(fail(format!("\"{part}\": a gap or a margin may stand here"))),
            }
        }
        if stock.size_mm.0 < LEAST_MM.0 || stock.size_mm.1 < LEAST_MM.1 {
            let (width, height) = LEAST_MM;
            return Err(fail(format!(
                "\"{size}\" is too small for a code and text: at least {width} x {height} mm"
            )));
        }
        Ok(stock)
    }

    /// The sheet's size, millimetres.
    pub(crate) fn sheet_mm(paper: Paper) -> (f64, f64) {
        sheet(paper).size_mm()
    }

    /// Width and height of a label, millimetres.
    pub(crate) const fn size_mm(&self) -> (f64, f64) {
        self.size_mm
    }

    /// Upper left corners of the labels of a sheet, row by row, millimetres.
    ///
    /// # Errors
    /// [`PapersError::Labels`] when they do not lie on the sheet.
    pub(crate) fn corners_mm(&self, paper: Paper) -> Result<Vec<(f64, f64)>, PapersError> {
        let (width, height) = Self::sheet_mm(paper);
        let extent = |size: f64, gap: f64, count: u32| f64::from(count) * (size + gap) - gap;
        let all = (
            extent(self.size_mm.0, self.gap_mm.0, self.grid.0),
            extent(self.size_mm.1, self.gap_mm.1, self.grid.1),
        );
        let (left, top) = self.margin_mm.unwrap_or(((width - all.0) / 2.0, (height - all.1) / 2.0));
        let over =
            |margin: f64, all: f64, sheet: f64| margin < -ROUNDED_MM || margin + all > sheet + ROUNDED_MM;
        if over(left, all.0, width) || over(top, all.1, height) {
            return Err(PapersError::Labels {
                reason: format!(
                    "{} by {} labels take {:.1} x {:.1} mm with their margin, and {} is {width} x {height} mm",
                    self.grid.0,
                    self.grid.1,
                    left.max(0.0) + all.0,
                    top.max(0.0) + all.1,
                    sheet(paper).name(),
                ),
            });
        }
        let column = |i: u32| left + f64::from(i) * (self.size_mm.0 + self.gap_mm.0);
        let row = |k: u32| top + f64::from(k) * (self.size_mm.1 + self.gap_mm.1);
        Ok((0..self.grid.1).flat_map(|k| (0..self.grid.0).map(move |i| (column(i), row(k)))).collect())
    }
}

const EXAMPLE: &str = "\"70 mm x 36 mm, 3 x 8\", or \"2 5/8 in x 1 in, 3 x 10, gap 1/8 in x 0 in\"";
/// Longest text of a stock, letters: what is refused is repeated.
const LONGEST: usize = 120;
/// Most columns or rows: smaller labels than they would be hold nothing.
const MOST_ACROSS: u32 = 20;

/// Labels come on the sheets every printer takes: A4, and Letter where papers are American.
const fn sheet(paper: Paper) -> Paper {
    match paper {
        Paper::A4 | Paper::A3 => Paper::A4,
        Paper::Letter | Paper::Tabloid => Paper::Letter,
    }
}

/// What stands on the two sides of an `x`.
fn in_two(text: &str) -> Option<(&str, &str)> {
    text.split_once(['x', '×']).map(|(a, b)| (a.trim(), b.trim()))
}

/// Two lengths with an `x` between, millimetres.
fn lengths(text: &str) -> Result<(f64, f64), PapersError> {
    let not = || PapersError::Labels {
        reason: format!("\"{text}\": write two lengths with x between, for example 70 mm x 36 mm"),
    };
    let (across, down) = in_two(text).ok_or_else(not)?;
    let unit = |of: &str| of.trim_start_matches(|c: char| !c.is_ascii_alphabetic()).to_owned();
    let (unit_across, unit_down) = (unit(across), unit(down));
    let common = if unit_down.is_empty() { &unit_across } else { &unit_down };
    let read = |of: &str, own: &str| {
        let with_unit = if own.is_empty() { format!("{of} {common}") } else { of.to_owned() };
        let length_m = if common.is_empty() { None } else { Quantity::Length.parse(&with_unit).ok() };
        length_m.map(|m| m * 1000.0).filter(|mm| (0.0..=500.0).contains(mm)).ok_or_else(not)
    };
    Ok((read(across, &unit_across)?, read(down, &unit_down)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: (f64, f64), b: (f64, f64)) -> bool {
        (a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9
    }

    /// Margins by hand: 297 mm - 8 * 36 mm leave 4.5 mm above and below; 3 * 63.5 mm + 2 * 2.5 mm leave 7.25 mm on the sides of
    /// 210 mm, 7 * 38.1 mm leave 15.15 mm; 3 * 2 5/8 in + 2 * 1/8 in leave 3/16 in on the sides of 8 1/2 in, ten inches half an
    /// inch of eleven.
    #[test]
    fn common_stocks_lie_where_their_measures_say() {
        let first = |text: &str, paper| LabelStock::read(text).unwrap().corners_mm(paper).unwrap();
        let a4 = first("70 mm x 36 mm, 3 x 8", Paper::A4);
        assert!(a4.len() == 24 && close(a4[0], (0.0, 4.5)) && close(a4[23], (140.0, 256.5)), "{a4:?}");
        let fine = first("63.5 x 38.1 mm, 3 x 7, gap 2.5 x 0 mm", Paper::A4);
        assert!(
            fine.len() == 21 && close(fine[0], (7.25, 15.15)) && close(fine[1], (73.25, 15.15)),
            "{fine:?}"
        );
        let letter = first("2 5/8 in x 1 in, 3 x 10, gap 1/8 in x 0 in", Paper::Letter);
        assert!(letter.len() == 30 && close(letter[0], (25.4 * 3.0 / 16.0, 12.7)), "{letter:?}");
        for (read, paper) in [(letter, Paper::Tabloid), (a4, Paper::A3)] {
            let usual = LabelStock::usual(paper).corners_mm(paper).unwrap();
            assert!(usual.len() == read.len() && usual.iter().zip(&read).all(|(a, b)| close(*a, *b)));
        }
        let stated = first("50 x 25 mm, 2 x 2, margin 10 mm x 20 mm", Paper::A4);
        assert!(close(stated[0], (10.0, 20.0)) && close(stated[3], (60.0, 45.0)), "{stated:?}");
    }

    #[test]
    fn what_is_no_stock_or_does_not_fit_is_said() {
        let refused = |text: &str| LabelStock::read(text).unwrap_err().to_string();
        assert!(refused("70 mm x 36 mm").contains("write it as"));
        assert!(refused("70 x 36, 3 x 8").contains("two lengths"));
        assert!(refused(&"7".repeat(121)).contains("at most 120 letters"));
        assert!(refused("70 mm x 36 mm,\n3 x 8").contains("one line"));
        assert!(refused("70 mm x 36 mm, 0 x 8").contains("columns x rows"));
        assert!(refused("70 mm x 36 mm, 3 x 8, round").contains("a gap or a margin"));
        assert!(refused("30 mm x 10 mm, 3 x 8").contains("at least 45 x 20 mm"));
        let wide = LabelStock::read("70 mm x 36 mm, 3 x 9").unwrap();
        let error = wide.corners_mm(Paper::A4).unwrap_err().to_string();
        assert!(error.contains("3 by 9 labels") && error.contains("A4 is 210 x 297 mm"), "{error}");
    }
}
