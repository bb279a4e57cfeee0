//! Many trials at once: the index page and the table of all results.

use super::quantity::{Pen, on_page};
use super::units::PageOptions;
use crate::analysis::Analysis;
use minijinja::{Environment, context};
use polars::prelude::{Column, CsvWriter, DataFrame, PolarsResult, SerWriter};

const TEMPLATES: [(&str, &str); 3] = [
    ("index.html", include_str!("../../templates/index.html")),
    ("style.css", include_str!("../../templates/style.css")),
    ("cautions.html", include_str!("../../templates/cautions.html")),
];

/// What became of one trial of a batch.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchEntry {
    /// Name of the trial: of its settings where it was read, else of its folder or log.
    pub trial: String,
    /// Its page and results, or why there are none.
    pub outcome: BatchOutcome,
}

/// Whether a trial of a batch was reported.
#[derive(Debug, Clone, PartialEq)]
pub enum BatchOutcome {
    /// It has a page.
    Reported {
        /// Name of its files without ending.
        file: String,
        /// One line a setting.
        settings: Vec<SettingLine>,
        /// Sentences at the top of its page.
        warnings: usize,
    },
    /// It was rejected.
    Rejected {
        /// Number of faults.
        errors: usize,
        /// The first of them, in words.
        first: String,
    },
}

/// The main results of one setting, lengths in mm.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs, reason = "named as in the result file")]
pub struct SettingLine {
    pub setting: u32,
    pub readings: usize,
    pub passes: usize,
    pub from_mm: f64,
    pub to_mm: f64,
    pub taper_mm: f64,
    pub standard_uncertainty_mm: f64,
    pub low_mm: f64,
    pub high_mm: f64,
    pub barrel: Option<(f64, f64)>,
    pub outliers: usize,
}

impl SettingLine {
    /// One line a setting of `analysis`, in its order.
    #[must_use]
    pub fn all_of(analysis: &Analysis) -> Vec<Self> {
        let line = |shape: &crate::shape::Shape| Self {
            setting: shape.setting,
            readings: shape.readings,
            passes: shape.passes,
            from_mm: shape.tested_length.from,
            to_mm: shape.tested_length.to,
            taper_mm: shape.taper.value,
            standard_uncertainty_mm: shape.taper.standard_uncertainty,
            low_mm: shape.taper.interval95.low,
            high_mm: shape.taper.interval95.high,
            barrel: shape.barrel.as_ref().map(|barrel| (barrel.value, barrel.standard_uncertainty)),
            outliers: shape.outliers.len(),
        };
        analysis.shape.iter().map(line).collect()
    }
}

/// One row of the table: a setting of a trial, or a trial without any.
struct Row<'a> {
    entry: &'a BatchEntry,
    line: Option<&'a SettingLine>,
}

fn rows(entries: &[BatchEntry]) -> Vec<Row<'_>> {
    let mut rows = Vec::with_capacity(entries.len());
    for entry in entries {
        match &entry.outcome {
            BatchOutcome::Reported { settings, .. } if !settings.is_empty() => {
                rows.extend(settings.iter().map(|line| Row { entry, line: Some(line) }));
            }
            _ => rows.push(Row { entry, line: None }),
        }
    }
    rows
}

/// A text cell that a spreadsheet cannot take for a formula: a `'` in front of what begins like one.
///
/// ```
/// # use taperwright::report::formula_safe;
/// assert_eq!(formula_safe("=1+1"), "'=1+1");
/// assert_eq!(formula_safe("spring"), "spring");
/// ```
#[must_use]
pub fn formula_safe(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) { format!("'{text}") } else { text.to_owned() }
}

/// The table of a batch as CSV: one row a setting, rejected trials with empty cells, lengths in mm whatever the pages show.
///
/// # Errors
/// When the table cannot be put together, which no input should bring about.
pub fn summary_csv(entries: &[BatchEntry]) -> PolarsResult<Vec<u8>> {
    let rows = rows(entries);
    let text = |name: &str, of: &dyn Fn(&BatchEntry) -> Option<String>| {
        Column::new(name.into(), rows.iter().map(|row| of(row.entry).map(|text| formula_safe(&text))).collect::<Vec<_>>())
    };
    let count = |name: &str, of: &dyn Fn(&Row<'_>) -> Option<u64>| Column::new(name.into(), rows.iter().map(of).collect::<Vec<_>>());
    let length = |name: &str, of: &dyn Fn(&SettingLine) -> Option<f64>| {
        Column::new(name.into(), rows.iter().map(|row| row.line.and_then(of)).collect::<Vec<Option<f64>>>())
    };
    let columns = vec![
        text("trial", &|entry| Some(entry.trial.clone())),
        text("state", &|entry| Some(if matches!(entry.outcome, BatchOutcome::Reported { .. }) { "reported" } else { "rejected" }.into())),
        text("page", &|entry| match &entry.outcome {
            BatchOutcome::Reported { file, .. } => Some(format!("{file}.html")),
            BatchOutcome::Rejected { .. } => None,
        }),
        count("setting", &|row| row.line.map(|line| u64::from(line.setting))),
        count("readings", &|row| row.line.map(|line| line.readings as u64)),
        count("passes", &|row| row.line.map(|line| line.passes as u64)),
        length("tested_from_mm", &|line| Some(line.from_mm)),
        length("tested_to_mm", &|line| Some(line.to_mm)),
        length("taper_mm", &|line| Some(line.taper_mm)),
        length("taper_standard_uncertainty_mm", &|line| Some(line.standard_uncertainty_mm)),
        length("taper_interval95_low_mm", &|line| Some(line.low_mm)),
        length("taper_interval95_high_mm", &|line| Some(line.high_mm)),
        length("barrel_mm", &|line| line.barrel.map(|(value, _)| value)),
        length("barrel_standard_uncertainty_mm", &|line| line.barrel.map(|(_, u)| u)),
        count("outliers", &|row| row.line.map(|line| line.outliers as u64)),
        count("warnings", &|row| match &row.entry.outcome {
            BatchOutcome::Reported { warnings, .. } => Some(*warnings as u64),
            BatchOutcome::Rejected { .. } => None,
        }),
        text("rejected_because", &|entry| match &entry.outcome {
            BatchOutcome::Reported { .. } => None,
            BatchOutcome::Rejected { first, .. } => Some(first.clone()),
        }),
    ];
    let mut frame = DataFrame::new(rows.len(), columns)?;
    let mut bytes = Vec::new();
    CsvWriter::new(&mut bytes).finish(&mut frame)?;
    Ok(bytes)
}

/// The index page of a batch: every trial with its taper and a link to its page; rejected ones with their first fault.
///
/// # Errors
/// When the template fails, which no input should bring about.
pub fn index_html(entries: &[BatchEntry], options: &PageOptions) -> Result<String, minijinja::Error> {
    let pen = Pen { units: options.units };
    let mut reported = Vec::new();
    let mut rejected = Vec::new();
    for entry in entries {
        match &entry.outcome {
            BatchOutcome::Reported { file, settings, warnings } => {
                let lines: Vec<_> = settings.iter().map(|line| setting_cells(&pen, line)).collect();
                reported.push(context! { trial => entry.trial, file, warnings, lines });
            }
            BatchOutcome::Rejected { errors, first } => rejected.push(context! { trial => entry.trial, errors, first }),
        }
    }
    let mut environment = Environment::new();
    environment.set_trim_blocks(true);
    environment.set_lstrip_blocks(true);
    for (name, source) in TEMPLATES {
        environment.add_template(name, source)?;
    }
    environment.get_template("index.html")?.render(context! {
        reported,
        rejected,
        acceptance => false,
        difference_unit => options.units.difference().symbol,
        length_unit => options.units.length().symbol,
        version => env!("CARGO_PKG_VERSION"),
    })
}

fn setting_cells(pen: &Pen, line: &SettingLine) -> minijinja::Value {
    let u = line.standard_uncertainty_mm;
    context! {
        setting => line.setting,
        readings => line.readings,
        passes => line.passes,
        outliers => line.outliers,
        length => pen.length(line.to_mm - line.from_mm, on_page("length")).cell(),
        taper => pen.difference(line.taper_mm, u, on_page("taper")).cell(),
        low => pen.difference(line.low_mm, u, on_page("low")).cell(),
        high => pen.difference(line.high_mm, u, on_page("high")).cell(),
        barrel => line.barrel.map(|(value, u)| pen.difference(value, u, on_page("barrel")).cell()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entries() -> Vec<BatchEntry> {
        let line = SettingLine {
            setting: 0,
            readings: 36,
            passes: 4,
            from_mm: 10.0,
            to_mm: 210.0,
            taper_mm: 0.0125,
            standard_uncertainty_mm: 0.001,
            low_mm: 0.0105,
            high_mm: 0.0145,
            barrel: None,
            outliers: 1,
        };
        vec![
            BatchEntry {
                trial: "=cmd|' /C calc'!A0".into(),
                outcome: BatchOutcome::Reported { file: "a".into(), settings: vec![line], warnings: 2 },
            },
            BatchEntry { trial: "<b>".into(), outcome: BatchOutcome::Rejected { errors: 3, first: "@ is not a number".into() } },
        ]
    }

    #[test]
    fn the_table_has_a_row_for_each_and_no_formula() {
        let text = String::from_utf8(summary_csv(&entries()).unwrap()).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 3);
        assert!(lines[1].starts_with("'=cmd") && lines[1].contains(",0.0125,0.001,0.0105,0.0145,,,1,2,"), "{}", lines[1]);
        assert!(lines[2].starts_with("<b>,rejected,,") && lines[2].ends_with("'@ is not a number"), "{}", lines[2]);
    }

    #[test]
    fn the_index_escapes_names() {
        let page = index_html(&entries(), &PageOptions::default()).unwrap();
        assert!(page.contains("&lt;b&gt;") && !page.contains("<b>"));
        assert!(page.contains("href=\"a.html\""));
    }
}
