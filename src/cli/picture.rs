//! A finding, drawn: the offending line, what was found there and what would be right.

use super::excerpt::{Excerpt, printable};
use crate::findings::{Finding, Severity};
use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, SourceCode};
use std::fmt;
use std::path::{Path, PathBuf};

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

/// The file that a finding speaks of: `of` is the trial's folder or lone log, or `None` where the finding names its own path.
fn file_of(of: Option<&Path>, finding: &Finding) -> Option<PathBuf> {
    let file = Path::new(finding.file.as_ref()?);
    Some(match of {
        None => file.to_owned(),
        Some(trial) if trial.is_dir() => trial.join(file),
        Some(trial) => trial.to_owned(),
    })
}

/// The first text that a finding quotes between back-quotes.
fn quoted(text: &str) -> Option<&str> {
    let start = text.find('`')? + 1;
    let rest = text.get(start..)?;
    rest.get(..rest.find('`')?)
}

/// One finding, drawn. `of` is the trial's folder or lone log, or `None` where the finding names its own path.
#[must_use]
pub fn drawn(of: Option<&Path>, finding: &Finding, colour: bool) -> String {
    let file = file_of(of, finding);
    let excerpt = match (&file, finding.row) {
        (Some(file), Some(row)) => Excerpt::read(file, row, quoted(&finding.found).or(finding.column.as_deref())),
        _ => None,
    };
    let mut place: Vec<String> = file.as_deref().or(of).map(|path| path.display().to_string()).into_iter().collect();
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

/// The findings of one trial, drawn one below the other: all kinds but notes.
#[must_use]
pub fn all_drawn(of: Option<&Path>, findings: &[Finding], colour: bool) -> String {
    findings.iter().filter(|finding| finding.severity != Severity::Note).map(|finding| drawn(of, finding, colour) + "\n").collect()
}
