//! Reading the fixtures under `tests/published` and `tests/reference`.

use std::path::Path;

/// Text of a file below `tests/`.
pub fn text(path: &str) -> String {
    let full = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(path);
    std::fs::read_to_string(&full).unwrap_or_else(|e| panic!("{}: {e}", full.display()))
}

/// A table of numbers with a header line; one vector a column, in the file's order.
pub struct Table {
    names: Vec<String>,
    columns: Vec<Vec<f64>>,
}

impl Table {
    /// Reads a CSV file below `tests/`; empty cells become NaN.
    pub fn read(path: &str) -> Self {
        let text = text(path);
        let mut lines = text.lines().filter(|l| !l.starts_with('#') && !l.trim().is_empty());
        let names: Vec<String> = lines.next().expect("header").split(',').map(|s| s.trim().to_owned()).collect();
        let mut columns = vec![Vec::new(); names.len()];
        for line in lines {
            let cells: Vec<&str> = line.split(',').collect();
            assert_eq!(cells.len(), names.len(), "{path}: {line}");
            for (column, cell) in columns.iter_mut().zip(cells) {
                column.push(if cell.trim().is_empty() { f64::NAN } else { cell.trim().parse().unwrap_or(f64::NAN) });
            }
        }
        Self { names, columns }
    }

    /// The column called `name`.
    pub fn column(&self, name: &str) -> &[f64] {
        let at = self.names.iter().position(|n| n == name).unwrap_or_else(|| panic!("no column {name}"));
        &self.columns[at]
    }

    /// Names in order.
    pub fn names(&self) -> &[String] {
        &self.names
    }
}

/// A JSON file below `tests/`.
pub fn json(path: &str) -> serde_json::Value {
    serde_json::from_str(&text(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The number at a JSON pointer, whether stored as number or as text with all its digits.
pub fn number(value: &serde_json::Value, pointer: &str) -> f64 {
    let at = value.pointer(pointer).unwrap_or_else(|| panic!("nothing at {pointer}"));
    at.as_f64().or_else(|| at.as_str().and_then(|s| s.parse().ok())).unwrap_or_else(|| panic!("{pointer} is no number: {at}"))
}

/// A reference file with the columns test, key, value.
pub struct Reference {
    values: std::collections::BTreeMap<(String, String), f64>,
}

impl Reference {
    /// Reads it.
    pub fn read(path: &str) -> Self {
        let values = text(path)
            .lines()
            .skip(1)
            .map(|line| {
                let cells: Vec<&str> = line.split(',').collect();
                ((cells[0].to_owned(), cells[1].to_owned()), cells[2].parse().unwrap_or_else(|_| panic!("{path}: {line}")))
            })
            .collect();
        Self { values }
    }

    /// The value of one key of one test.
    pub fn value(&self, test: &str, key: &str) -> f64 {
        *self.values.get(&(test.to_owned(), key.to_owned())).unwrap_or_else(|| panic!("no {test} {key}"))
    }
}
