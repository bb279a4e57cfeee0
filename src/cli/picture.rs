//! A finding, drawn: the offending line, what was found there and what would be right.

use super::excerpt::{Excerpt, printable};
use crate::findings::{Finding, Severity};
use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, SourceCode};
use std::fmt;
use std::path::{Path, PathBuf};

/// Problems of one trial that are drawn; of the others the count is told.
pub const DRAWN: usize = 20;

#[derive(Debug)]
struct Picture {
    code: &'static str,
    severity: Severity,
    message: String,
    help: String,
    label: String,
    excerpt: Option<Excerpt>,
}

impl fmt::Display for Picture {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&self.message)
    }
}

impl std::error::Error for Picture {}

impl Diagnostic for Picture {
    fn code<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(self.code))
    }

    fn severity(&self) -> Option<miette::Severity> {
        Some(match self.severity {
            Severity::Error => miette::Severity::Error,
            Severity::Warning => miette::Severity::Warning,
            Severity::Note => miette::Severity::Advice,
        })
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.help))
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.excerpt.as_ref().map(|excerpt| excerpt as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let excerpt = self.excerpt.as_ref()?;
        Some(Box::new(std::iter::once(LabeledSpan::new_with_span(Some(self.label.clone()), excerpt.fault()))))
    }
}

/// The file that a finding of the trial at `trial` (a folder or a lone log) speaks of.
fn file_of(trial: &Path, finding: &Finding) -> Option<PathBuf> {
    let file = finding.file.as_ref()?;
    Some(if trial.is_dir() { trial.join(file) } else { trial.to_owned() })
}

/// The first text that a finding quotes between back-quotes.
fn quoted(text: &str) -> Option<&str> {
    let start = text.find('`')? + 1;
    let rest = text.get(start..)?;
    rest.get(..rest.find('`')?)
}

/// One finding of the trial at `trial`, drawn.
#[must_use]
pub fn drawn(trial: &Path, finding: &Finding, colour: bool) -> String {
    let file = file_of(trial, finding);
    let excerpt = match (&file, finding.row) {
        (Some(file), Some(row)) => Excerpt::read(file, row, quoted(&finding.found).or(finding.column.as_deref())),
        _ => None,
    };
    let mut place: Vec<String> = vec![file.as_deref().unwrap_or(trial).display().to_string()];
    place.extend(finding.row.map(|row| format!("row {row}")));
    place.extend(finding.column.as_ref().map(|column| format!("column {column}")));
    let picture = Picture {
        code: finding.code,
        severity: finding.severity,
        message: printable(&format!("{}: {}", place.join(", "), finding.found)),
        help: printable(&finding.help),
        label: finding.column.as_ref().map_or_else(|| "here".to_owned(), |column| printable(&format!("column {column}"))),
        excerpt,
    };
    let theme = if colour { GraphicalTheme::unicode() } else { GraphicalTheme::unicode_nocolor() };
    let handler = GraphicalReportHandler::new_themed(theme).with_links(false).with_wrap_lines(false).with_context_lines(2);
    let mut text = String::new();
    if handler.render_report(&mut text, &picture).is_err() {
        text = format!("{}\n  help: {}\n", picture.message, picture.help);
    }
    text
}

/// The findings of one trial, drawn: all kinds but notes, the first [`DRAWN`] of them, then how many more there are.
#[must_use]
pub fn all_drawn(trial: &Path, findings: &[Finding], colour: bool) -> String {
    let shown: Vec<&Finding> = findings.iter().filter(|finding| finding.severity != Severity::Note).collect();
    let mut text: String = shown.iter().take(DRAWN).map(|finding| drawn(trial, finding, colour) + "\n").collect();
    if shown.len() > DRAWN {
        text.push_str(&format!("{}: {} findings in all; the first {DRAWN} are shown\n", trial.display(), shown.len()));
    }
    text
}
