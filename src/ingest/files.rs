use super::bounds::{self, MOST_WHOLE, read_at_most};
use super::collector::Rejected;
use super::discovery::{folder_name, kind_by_name, slashed};
use super::packing::MOST_UNPACKED;
use super::spreadsheet::split_sheet;
use crate::findings::{Finding, Severity};
use crate::trial::{LeftOut, Origin, TrialSource};
use std::collections::BTreeMap;
use std::io;
use std::path::{Component, Path, PathBuf};

/// The files of one trial, wherever they are: in a folder, alone, on standard input, or in memory.
#[derive(Debug)]
pub struct TrialFiles {
    pub(super) source: TrialSource,
    pub(super) name: String,
    pub(super) settings_beside: Option<String>,
    /// Links with the name of a log to files that are not there.
    dead_links: Vec<String>,
    /// Photographs that were left out when the files in memory were read from a folder.
    pub(super) left_out: Vec<LeftOut>,
    place: Place,
}

#[derive(Debug)]
enum Place {
    Folder {
        folder: PathBuf,
        listed: io::Result<BTreeMap<String, PathBuf>>,
    },
    Memory(BTreeMap<String, Option<Vec<u8>>>),
    /// A lone log that is too long to be held in memory.
    Lone {
        file: String,
        path: PathBuf,
    },
}

impl TrialFiles {
    /// Finds the files at `path`: a folder (or the `trial.toml` in it), a lone log, or `-` for a log from standard input.
    ///
    /// # Errors
    /// A lone log or standard input that cannot be read; the files of a folder are read later, one by one.
    pub fn at(path: &Path) -> Result<Self, Rejected> {
        if path == Path::new("-") {
            let bytes = bounds::all_of(io::stdin().lock(), MOST_WHOLE).map_err(|error| unreadable("standard input", &error))?;
            let name = "standard-input".to_owned();
            let files = BTreeMap::from([(name.clone(), Some(bytes))]);
            return Ok(Self {
                source: TrialSource::StandardInput,
                name,
                settings_beside: None,
                dead_links: Vec::new(),
                left_out: Vec::new(),
                place: Place::Memory(files),
            });
        }
        if path.is_dir() {
            return Ok(Self::of_folder(path));
        }
        if path.file_name().is_some_and(|name| name == "trial.toml") {
            return Ok(Self::of_folder(parent_of(path)));
        }
        let whole = path.to_string_lossy();
        let (path, sheet) = match split_sheet(&whole).filter(|_| !path.is_file()) {
            Some((file, sheet)) => (Path::new(file), Some(sheet)),
            None => (path, None),
        };
        let with_sheet = |name: String, mark: char| sheet.map_or(name.clone(), |sheet| format!("{name}{mark}{sheet}"));
        let file = with_sheet(path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned()), ':');
        let stem = with_sheet(path.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned()), '-');
        let size = path.metadata().map_or(0, |about| if about.is_file() { about.len() } else { 0 });
        let place = if size > MOST_UNPACKED as u64 {
            Place::Lone { file, path: path.to_owned() }
        } else {
            let bytes = read_at_most(path, MOST_WHOLE).map_err(|error| unreadable(&slashed(path), &error))?;
            Place::Memory(BTreeMap::from([(file, Some(bytes))]))
        };
        let parent = parent_of(path);
        Ok(Self {
            source: TrialSource::LoneLog,
            name: stem,
            settings_beside: parent.join("trial.toml").is_file().then(|| folder_name(parent)),
            dead_links: Vec::new(),
            left_out: Vec::new(),
            place,
        })
    }

    /// The files of a trial folder.
    #[must_use]
    pub fn of_folder(folder: &Path) -> Self {
        let mut dead_links = Vec::new();
        let listed = std::fs::read_dir(folder).map(|entries| {
            let paths = entries.filter_map(Result::ok).map(|entry| entry.path());
            let named = paths.map(|path| (path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned()), path));
            let mut files = BTreeMap::new();
            for (name, path) in named {
                let dead = path.is_symlink() && !path.exists() && kind_by_name(&path).is_some();
                if dead {
                    dead_links.push(name.clone());
                }
                if dead || path.is_file() {
                    files.insert(name, path);
                }
            }
            files
        });
        Self {
            source: TrialSource::Folder,
            name: folder_name(folder),
            settings_beside: None,
            dead_links,
            left_out: Vec::new(),
            place: Place::Folder { folder: folder.to_owned(), listed },
        }
    }

    /// Files in memory, by name; `None` for one that is only known to be there. `origin` says how they were come by.
    #[must_use]
    pub fn in_memory(origin: &Origin, files: BTreeMap<String, Option<Vec<u8>>>) -> Self {
        Self {
            source: origin.source,
            name: origin.name.clone(),
            settings_beside: origin.settings_beside.clone(),
            dead_links: origin.not_read.iter().filter(|file| kind_by_name(Path::new(file)).is_some()).cloned().collect(),
            left_out: origin.left_out.clone(),
            place: Place::Memory(files),
        }
    }

    /// Names of the files that lie together, or why they cannot be listed, with the folder.
    pub(super) fn names(&self) -> Result<Vec<String>, (String, String)> {
        match &self.place {
            Place::Folder { folder, listed } => match listed {
                Ok(listed) => Ok(listed.keys().cloned().collect()),
                Err(error) => Err((slashed(folder), error.to_string())),
            },
            Place::Memory(files) => Ok(files.keys().cloned().collect()),
            Place::Lone { file, .. } => Ok(vec![file.clone()]),
        }
    }

    /// Whether a file of the folder is a link to somewhere else.
    pub(super) fn is_link(&self, name: &str) -> bool {
        match &self.place {
            Place::Folder { folder, .. } => folder.join(name).is_symlink(),
            Place::Memory(_) | Place::Lone { .. } => false,
        }
    }

    /// The size of a file of the folder, bytes, where it can be told without reading it.
    pub(super) fn size(&self, name: &str) -> Option<u64> {
        match &self.place {
            Place::Folder { folder, .. } => folder.join(name).metadata().ok().map(|about| about.len()),
            Place::Memory(files) => files.get(name)?.as_ref().map(|bytes| bytes.len() as u64),
            Place::Lone { path, .. } => path.metadata().ok().map(|about| about.len()),
        }
    }

    /// Where a file lies that is too long to be held in memory: larger than any that a page could carry.
    pub(super) fn long(&self, name: &str) -> Option<&Path> {
        let path = match &self.place {
            // A link is looked at by `read`.
            Place::Folder { listed, .. } => listed.as_ref().ok()?.get(name).filter(|path| !path.is_symlink())?,
            Place::Lone { path, .. } => path,
            Place::Memory(_) => return None,
        };
        path.metadata().is_ok_and(|about| about.len() > MOST_UNPACKED as u64).then_some(path.as_path())
    }

    /// Whether a file with the name of a log is a link to one that is not there.
    pub(super) fn is_dead_link(&self, name: &str) -> bool {
        self.dead_links.iter().any(|link| link == name)
    }

    /// The bytes of a file by its name, or its path from the folder; an error of kind `InvalidInput` when that path leads out of the folder, by itself or by a
    /// link: a report carries what it read, and must not carry off what lies elsewhere. Of kind `FileTooLarge` beyond `most` bytes.
    pub(super) fn read(&self, name: &str, most: u64) -> io::Result<Vec<u8>> {
        match &self.place {
            Place::Folder { folder, listed } => {
                let known = listed.as_ref().ok().and_then(|listed| listed.get(name));
                match known {
                    Some(path) if !path.is_symlink() => read_at_most(path, most),
                    _ => read_within(folder, name, most),
                }
            }
            Place::Memory(files) => match files.get(name) {
                // A long log that is in memory already takes no more of it.
                Some(Some(bytes)) if most < MOST_WHOLE => bounds::all_of(bytes.as_slice(), most),
                Some(Some(bytes)) => Ok(bytes.clone()),
                Some(None) => Err(io::Error::other("its bytes are not at hand")),
                None => Err(io::ErrorKind::NotFound.into()),
            },
            Place::Lone { file, path } if file == name => read_at_most(path, most),
            Place::Lone { .. } => Err(io::ErrorKind::NotFound.into()),
        }
    }
}

/// The bytes of the file `name` below `folder`, at most `most`.
///
/// # Errors
/// As [`TrialFiles::read`].
pub(super) fn read_within(folder: &Path, name: &str, most: u64) -> io::Result<Vec<u8>> {
    read_at_most(&within(folder, name)?, most)
}

/// The path `name` below `folder`, links resolved.
fn within(folder: &Path, name: &str) -> io::Result<PathBuf> {
    let leads_out = || io::Error::new(io::ErrorKind::InvalidInput, "the path leads out of the trial's folder");
    let plain = |part: Component<'_>| matches!(part, Component::Normal(_) | Component::CurDir);
    if !Path::new(name).components().all(plain) {
        return Err(leads_out());
    }
    let path = folder.join(name).canonicalize()?;
    if path.starts_with(folder.canonicalize()?) { Ok(path) } else { Err(leads_out()) }
}

pub(super) fn parent_of(path: &Path) -> &Path {
    path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

pub(super) fn unreadable(file: &str, error: &io::Error) -> Rejected {
    let (code, help) = bounds::unreadable(error);
    Rejected::because(Finding::new(code, Severity::Error, error.to_string(), help).in_file(file))
}
