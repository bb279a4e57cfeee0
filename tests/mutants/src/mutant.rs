//! A mutant with a name that outlives changes elsewhere in its file.

use crate::compile::Source;
use crate::operators::{Change, Site};
use std::collections::BTreeMap;

/// One change of one place.
#[derive(Debug, Clone)]
pub struct Mutant {
    pub number: u32,
    /// Relative to the tree, with `/`.
    pub file: String,
    pub line: usize,
    pub column: usize,
    pub kind: &'static str,
    /// File, function, change and the text that is changed; a count where that is not the only one.
    pub name: String,
}

/// A longer text is cut, at a letter.
const LONGEST_TEXT: usize = 120;

fn named(file: &str, site: &Site, change: &Change) -> String {
    let text: String = site.text.chars().take(LONGEST_TEXT).collect();
    let more = if text.len() < site.text.len() { "…" } else { "" };
    if site.is_body {
        format!("{file} {}: body {}", site.function, change.told)
    } else {
        format!("{file} {}: {} in {text}{more}", site.function, change.told)
    }
}

/// All mutants, by number.
pub fn mutants(sources: &[Source]) -> Vec<Mutant> {
    let mut times: BTreeMap<String, usize> = BTreeMap::new();
    let mut all = Vec::new();
    for source in sources {
        let file = source.name.to_string_lossy().replace('\\', "/");
        let changes = source.sites.iter().flat_map(|site| site.changes.iter().map(move |change| (site, change)));
        for (number, (site, change)) in (source.first..).zip(changes) {
            let mut name = named(&file, site, change);
            let seen = times.entry(name.clone()).or_default();
            *seen += 1;
            if *seen > 1 {
                name.push_str(&format!(" (number {seen})"));
            }
            all.push(Mutant { number, file: file.clone(), line: site.line, column: site.column, kind: change.kind, name });
        }
    }
    all
}

/// The folder below `src` that a file stands in, or the file itself.
pub fn folder(file: &str) -> &str {
    file.strip_prefix("src/").and_then(|rest| rest.split('/').next()).unwrap_or(file)
}

fn mixed(mut value: u64) -> u64 {
    // SplitMix64's last steps, so that names near one another are drawn apart.
    value = (value ^ (value >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    value = (value ^ (value >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    value ^ (value >> 31)
}

/// The share of the mutants of each folder that a seed draws: the same of the same names, whatever the others.
pub fn sampled(all: Vec<Mutant>, share: f64, seed: u64) -> Vec<Mutant> {
    let rank = |mutant: &Mutant| mutant.name.bytes().fold(mixed(seed), |state, byte| mixed(state ^ u64::from(byte)));
    let mut by_folder: BTreeMap<String, Vec<Mutant>> = BTreeMap::new();
    all.into_iter().for_each(|mutant| by_folder.entry(folder(&mutant.file).to_owned()).or_default().push(mutant));
    let mut drawn = Vec::new();
    for (_, mut own) in by_folder {
        own.sort_by_key(rank);
        own.truncate((own.len() as f64 * share).ceil() as usize);
        own.sort_by_key(|mutant| mutant.number);
        drawn.append(&mut own);
    }
    drawn
}
