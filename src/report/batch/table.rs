use polars::prelude::{Column, CsvWriter, DataFrame, PolarsResult, SerWriter};

/// A column of a table; an empty cell is `None`.
#[derive(Debug, Clone, PartialEq)]
pub enum Cells {
    /// Words.
    Text(Vec<Option<String>>),
    /// Whole numbers.
    Count(Vec<Option<i64>>),
    /// Numbers.
    Number(Vec<Option<f64>>),
}

impl Cells {
    /// Number of cells.
    pub(super) fn len(&self) -> usize {
        match self {
            Self::Text(cells) => cells.len(),
            Self::Count(cells) => cells.len(),
            Self::Number(cells) => cells.len(),
        }
    }
}

/// A table with named columns of equal length.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Table {
    /// Names and cells, in order.
    pub columns: Vec<(&'static str, Cells)>,
}

impl Table {
    /// Number of rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.columns.first().map_or(0, |(_, cells)| cells.len())
    }

    /// As comma-separated text with a header. Text that a spreadsheet would take for a formula gets a `'` in front; numbers stay numbers.
    ///
    /// # Errors
    /// When columns are not of one length.
    pub fn csv(&self) -> PolarsResult<Vec<u8>> {
        let column = |(name, cells): &(&str, Cells)| match cells {
            Cells::Text(cells) => {
                let safe = |cell: &Option<String>| cell.as_deref().map(formula_safe);
                Column::new((*name).into(), cells.iter().map(safe).collect::<Vec<_>>())
            }
            Cells::Count(cells) => Column::new((*name).into(), cells),
            Cells::Number(cells) => Column::new((*name).into(), cells),
        };
        let mut frame = DataFrame::new(self.rows(), self.columns.iter().map(column).collect())?;
        let mut bytes = Vec::new();
        CsvWriter::new(&mut bytes).finish(&mut frame)?;
        Ok(bytes)
    }
}

/// A text cell that a spreadsheet cannot take for a formula: a `'` in front of what begins like one, the full-width forms of the signs among them.
///
/// ```
/// # use taperwright::report::formula_safe;
/// assert_eq!(formula_safe("=1+1"), "'=1+1");
/// assert_eq!(formula_safe("spring"), "spring");
/// ```
#[must_use]
pub fn formula_safe(text: &str) -> String {
    const BEGINNINGS: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];
    if text.starts_with(BEGINNINGS) { format!("'{text}") } else { text.to_owned() }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::*;

    #[test]
    fn text_is_no_formula_and_numbers_stay_numbers() {
        let texts = ["=1+1", "+1", "-1", "@a", "\ta", "＝1", "a=1", ""];
        let table = Table {
            columns: vec![
                ("text", Cells::Text(texts.iter().map(|text| Some((*text).to_owned())).collect())),
                ("number", Cells::Number((0..8).map(|i| (i != 2).then_some(-0.5 * f64::from(i))).collect())),
                ("count", Cells::Count((0..8).map(|i| Some(i - 3)).collect())),
            ],
        };
        let written = String::from_utf8(table.csv().unwrap()).unwrap();
        let mut read = csv::Reader::from_reader(written.as_bytes());
        let rows: Vec<csv::StringRecord> = read.records().map(Result::unwrap).collect();
        let first: Vec<&str> = rows.iter().map(|row| row.get(0).unwrap()).collect();
        assert_eq!(first, ["'=1+1", "'+1", "'-1", "'@a", "'\ta", "'＝1", "a=1", ""]);
        let numbers: Vec<Option<f64>> = rows.iter().map(|row| row.get(1).unwrap().parse().ok()).collect();
        assert_eq!((numbers[1], numbers[2], numbers[3]), (Some(-0.5), None, Some(-1.5)));
        assert_eq!(rows[0].get(2), Some("-3"));
    }
}
