//! What stands beside the logs of a trial: photographs, and a set of limits in a file.

use super::super::bounds::MOST_SETTINGS;
use super::super::criteria::{self, CriteriaChoice};
use super::super::photographs::{MOST_PHOTOGRAPH, MOST_PHOTOGRAPHS, photograph, remark, too_many_points};
use super::super::read::Reading;
use super::super::settings::Document;
use crate::trial::{CriteriaFile, LeftOut, Trial, WhyLeftOut};

impl Reading<'_> {
    /// Reads the photographs of the folder, by name. A link is not followed: it could lead out of the folder. They are not packed: the page shows them
    /// byte for byte.
    pub(in crate::ingest) fn photographs(&mut self, files: Vec<String>, trial: &mut Trial) {
        self.left_out = self.files.left_out.clone();
        for file in files {
            let why = if self.files.is_link(&file) {
                WhyLeftOut::Link
            } else if trial.photographs.len() >= MOST_PHOTOGRAPHS {
                WhyLeftOut::TooMany
            } else if let Some(size) = self.files.size(&file).filter(|size| *size > MOST_PHOTOGRAPH) {
                WhyLeftOut::TooLarge(size)
            } else {
                match self.files.read(&file, MOST_PHOTOGRAPH).map(|bytes| photograph(&file, bytes)) {
                    Ok(Some(picture)) => {
                        if let Some(points) = too_many_points(&picture.bytes) {
                            self.left_out.push(LeftOut { file, why: WhyLeftOut::TooManyPoints(points) });
                            continue;
                        }
                        self.note(&file, &picture.bytes, None);
                        trial.photographs.push(picture);
                        continue;
                    }
                    Ok(None) => WhyLeftOut::NotAPhotograph,
                    Err(error) => WhyLeftOut::Unreadable(error.to_string()),
                }
            };
            self.left_out.push(LeftOut { file, why });
        }
        self.left_out.iter().for_each(|left_out| self.collector.add(remark(left_out)));
    }

    /// Reads the set of limits that the options or `[acceptance] criteria` name; its limits come first.
    pub(in crate::ingest) fn criteria(&mut self, document: &Document, trial: &mut Trial) {
        let choice = match (&self.options.criteria, trial.acceptance.criteria.as_deref()) {
            (Some(asked), _) => Ok(asked.clone()),
            (None, Some(named)) => CriteriaChoice::find(named, |name| self.files.read(name, MOST_SETTINGS)),
            (None, None) => return,
        };
        let (stated, file) = match choice {
            Ok(CriteriaChoice::BuiltIn(set)) => (criteria::read(set.text, set.name, &mut self.collector), None),
            Ok(CriteriaChoice::File { name, bytes }) => {
                self.input(&name, &bytes);
                let stated = criteria::read_bytes(&bytes, &name, &mut self.collector);
                (stated, Some(CriteriaFile { name, chosen: self.options.criteria.is_some(), ..CriteriaFile::default() }))
            }
            Err(finding) => {
                let place = "acceptance.criteria";
                return self.collector.add(document.error(finding.code, place, finding.found.to_string(), finding.help));
            }
        };
        criteria::add(&mut trial.acceptance, stated, file, trial.machine.swing_mm, &mut self.collector);
    }
}
