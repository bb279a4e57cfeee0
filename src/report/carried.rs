//! What a page carries so that it can be made again: its files, packed, with their hashes, and the options of the run.

use super::page::CannotRender;
use super::quantity::escape_into;
use super::units::Units;
use crate::analysis::Analysis;
use crate::ingest::{is_photograph, unpack};
use crate::trial::Origin;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use minijinja::Value;
use serde::{Deserialize, Serialize};

/// Name and version of the record's layout.
pub const LAYOUT: &str = "taperwright-carried/1";
/// The element that holds the record: inert, never shown, in need of no script.
pub const OPENING: &str = "<template id=\"carried\">";
/// The end of that element.
pub const CLOSING: &str = "</template>";

/// The record: with it, and the bytes of its files, the page is made again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Carried {
    /// `LAYOUT`.
    pub layout: String,
    /// Version of the program that made the page.
    pub version: String,
    /// Seed of every random draw.
    pub seed: u64,
    /// Draws of the Monte Carlo budget.
    pub draws: usize,
    /// Units of the page.
    pub units: Units,
    /// How the files were come by.
    pub origin: Origin,
    /// Files that were read, in the order of the page.
    pub files: Vec<CarriedFile>,
}

/// A file of the record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CarriedFile {
    /// Path relative to the trial.
    pub file: String,
    /// SHA-256 of its bytes, lower-case hexadecimal.
    pub sha256: String,
    /// Size in bytes.
    pub bytes: u64,
    /// A zlib stream of its bytes in base64; `None` where it is too large to be carried.
    pub packed: Option<String>,
}

/// The photograph called `file` as a page shows it; `None` where it shows none of that name.
#[must_use]
pub fn shown_photograph(page: &str, file: &str) -> Option<Vec<u8>> {
    let mut name = String::new();
    escape_into(&mut name, file);
    let (_, after) = page.split_once(&format!("<img data-file=\"{name}\" src=\"data:"))?;
    let (_, data) = after.split_once(";base64,")?;
    STANDARD.decode(data.split_once('"')?.0).ok()
}

impl Carried {
    /// The record of `analysis` on a page in `units`.
    #[must_use]
    pub fn of(analysis: &Analysis, units: Units) -> Self {
        let files = analysis.trial.inputs.iter().map(|input| CarriedFile {
            file: input.file.clone(),
            sha256: input.sha256.clone(),
            bytes: input.bytes,
            packed: input.packed.as_ref().map(|packed| STANDARD.encode(packed)),
        });
        Self {
            layout: LAYOUT.to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            seed: analysis.seed,
            draws: analysis.monte_carlo_draws,
            units,
            origin: analysis.trial.origin.clone(),
            files: files.collect(),
        }
    }

    /// Names of the files that are too large to be carried, for a sentence; `None` where all are carried.
    pub(super) fn too_large(&self) -> Option<String> {
        let names: Vec<&str> =
            self.files.iter().filter(|file| file.packed.is_none() && !is_photograph(&file.file)).map(|file| file.file.as_str()).collect();
        (!names.is_empty()).then(|| names.join(", "))
    }

    /// The element that holds the record.
    ///
    /// # Errors
    /// When the record cannot be written, which no analysis should bring about.
    pub(super) fn html(&self) -> Result<Value, CannotRender> {
        let text = serde_json::to_string(self)
            .map_err(|error| minijinja::Error::new(minijinja::ErrorKind::BadSerialization, error.to_string()))?;
        // quotes stay as they are: in the text of an element they mean nothing
        let text = text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
        Ok(Value::from_safe_string(format!("{OPENING}{text}{CLOSING}")))
    }

    /// The record of a page.
    ///
    /// # Errors
    /// A sentence, when the page holds none, more than one, or one that cannot be read.
    pub fn on_page(page: &str) -> Result<Self, String> {
        let mut parts = page.split(OPENING);
        let (_, after) = (parts.next(), parts.next());
        let text = after.and_then(|after| after.split_once(CLOSING)).map(|(text, _)| text);
        let Some(text) = text else { return Err("it carries no logs".to_owned()) };
        if parts.next().is_some() {
            return Err("it carries more than one set of logs".to_owned());
        }
        let text = text.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&");
        let record: Self = serde_json::from_str(&text).map_err(|error| format!("what it carries cannot be read: {error}"))?;
        if record.layout == LAYOUT { Ok(record) } else { Err(format!("what it carries has the layout `{}`, not {LAYOUT}", record.layout)) }
    }
}

impl CarriedFile {
    /// Its bytes, no more than it states; `None` where it is not carried, or what is carried is damaged or larger than stated.
    #[must_use]
    pub fn unpacked(&self) -> Option<Vec<u8>> {
        unpack(&STANDARD.decode(self.packed.as_ref()?).ok()?, usize::try_from(self.bytes).ok()?)
    }
}
