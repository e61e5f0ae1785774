//! Tables as CSV that a spreadsheet opens cleanly: UTF-8 with its mark, lines ended as RFC 4180 asks, cells quoted
//! where they need it, and no cell that a spreadsheet would take for a formula.

/// A table of texts.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    /// Headings.
    pub headings: Vec<String>,
    /// Rows, as many cells each as there are headings.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// A table without rows.
    pub fn new(headings: impl IntoIterator<Item = String>) -> Self {
        Self { headings: headings.into_iter().collect(), rows: Vec::new() }
    }

    /// The table as bytes of a CSV file.
    pub fn csv(&self) -> Vec<u8> {
        let mut out = "\u{feff}".as_bytes().to_vec();
        let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        for row in std::iter::once(&self.headings).chain(&self.rows) {
            // Writing to memory does not fail, and `flexible` rows do not occur.
            let _ = writer.write_record(row.iter().map(|cell| harmless(cell)));
        }
        out.extend(writer.into_inner().unwrap_or_default());
        out
    }
}

/// A cell a spreadsheet would compute gets an apostrophe in front; numbers stay numbers.
fn harmless(cell: &str) -> String {
    let formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err();
    if formula { format!("'{cell}") } else { cell.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_quoted_and_never_formulas() {
        let mut table = Table::new(["Tag".to_owned(), "Note".to_owned()]);
        table.rows.push(vec!["L1".to_owned(), "red, \"positive\"".to_owned()]);
        table.rows.push(vec!["=SUM(A1)".to_owned(), "-3.5".to_owned()]);
        let text = String::from_utf8(table.csv()).unwrap();
        assert_eq!(text, "\u{feff}Tag,Note\r\nL1,\"red, \"\"positive\"\"\"\r\n'=SUM(A1),-3.5\r\n");
    }
}
