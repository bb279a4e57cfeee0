//! Files that are being written, known by name: an interrupted run takes them away, and the next run those that a killed one left.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use tempfile::NamedTempFile;

/// How names of files begin that are not whole yet.
const PREFIX: &str = ".unfinished-";

/// The unfinished files of this process.
static OPEN: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());

fn open() -> MutexGuard<'static, BTreeSet<PathBuf>> {
    OPEN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A file that has no name of its own yet. It is locked while it is written, so that other runs see that somebody is at it; it vanishes when
/// it is dropped before [`Unfinished::finish`].
#[derive(Debug)]
pub(super) struct Unfinished {
    file: NamedTempFile,
    listed: Listed,
}

/// A name on the list, for as long as this lives.
#[derive(Debug)]
struct Listed(PathBuf);

impl Drop for Listed {
    fn drop(&mut self) {
        open().remove(&self.0);
    }
}

impl Unfinished {
    /// A new file in `folder`.
    pub(super) fn begin(folder: &Path) -> io::Result<Self> {
        // Another run may clear the folder between the birth of a file and its lock: then a new one is made.
        loop {
            let mut list = open();
            let file = tempfile::Builder::new().prefix(PREFIX).tempfile_in(folder)?;
            let listed = Listed(file.path().to_owned());
            list.insert(listed.0.clone());
            drop(list);
            let begun = Self { file, listed };
            // A file system without locks does without.
            let locked = begun.file.as_file().try_lock().is_ok();
            if !locked || begun.file.path().exists() {
                return Ok(begun);
            }
        }
    }

    /// Writes all of `bytes`, readable by all, and waits until they have reached the disk.
    pub(super) fn fill(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all(bytes)?;
        readable_by_all(self.file.as_file())?;
        self.file.as_file().sync_all()
    }

    /// Gives the file its name, in place of a file that has it if `replace`.
    pub(super) fn finish(self, path: &Path, replace: bool) -> io::Result<()> {
        let list = open();
        let named = if replace { self.file.persist(path) } else { self.file.persist_noclobber(path) };
        drop(list);
        drop(self.listed);
        named.map(drop).map_err(|refused| refused.error)
    }
}

/// Temporary files are private to their owner; a report is for others too.
#[cfg(unix)]
fn readable_by_all(file: &File) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn readable_by_all(_file: &File) -> io::Result<()> {
    Ok(())
}

/// Takes away what this process has not finished, and keeps it from finishing anything while the list is held.
#[cfg(any(unix, test))]
fn take_away() -> MutexGuard<'static, BTreeSet<PathBuf>> {
    let mut list = open();
    for path in &*list {
        let _ = fs::remove_file(path); // one that never came to be needs no care
    }
    list.clear();
    list
}

/// From now on an interrupt (SIGINT) or a request to end (SIGTERM) takes away what is unfinished and ends the program with 128 + the signal's
/// number, as shells count: 130 and 143. On other systems than Unix the next run clears the folder.
///
/// # Errors
/// When the system refuses to tell of signals; the program then ends as the system does it.
#[cfg(unix)]
pub fn clear_when_interrupted() -> io::Result<()> {
    use signal_hook::consts::{SIGINT, SIGTERM};
    let mut signals = signal_hook::iterator::Signals::new([SIGINT, SIGTERM])?;
    std::thread::Builder::new().name("interrupt".to_owned()).spawn(move || {
        if let Some(signal) = signals.forever().next() {
            let _list = take_away();
            std::process::exit(128 + signal);
        }
    })?;
    Ok(())
}

/// Does nothing here: the next run clears the folder.
///
/// # Errors
/// None.
#[cfg(not(unix))]
pub fn clear_when_interrupted() -> io::Result<()> {
    Ok(())
}

/// Takes away unfinished files of `folder` that a killed run left; one that a run still writes is locked and stays.
pub fn clear_left_behind(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for path in entries.flatten().map(|entry| entry.path()) {
        let ours = path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(PREFIX));
        let regular = path.symlink_metadata().is_ok_and(|about| about.is_file());
        if ours && regular && File::options().write(true).open(&path).is_ok_and(|file| file.try_lock().is_ok()) {
            let _ = fs::remove_file(&path); // a folder that may not be changed keeps it
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::{Unfinished, clear_left_behind, take_away};
    use std::fs;

    #[test]
    fn unfinished_files_are_taken_away_and_finished_ones_stay() {
        let folder = tempfile::tempdir().unwrap();
        let names = || fs::read_dir(folder.path()).unwrap().count();
        let begin = || {
            let mut one = Unfinished::begin(folder.path()).unwrap();
            one.fill(b"half").unwrap();
            one
        };
        begin().finish(&folder.path().join("whole"), false).unwrap();
        let half = begin();
        clear_left_behind(folder.path());
        assert_eq!(names(), 2, "somebody is at it");
        drop(take_away());
        assert_eq!(names(), 1);
        drop(half);
        drop(begin());
        assert!(begin().finish(&folder.path().join("whole"), false).is_err(), "a file that is there is not replaced");
        assert_eq!(names(), 1);
        fs::write(folder.path().join(".unfinished-killed"), b"half").unwrap();
        clear_left_behind(folder.path());
        assert_eq!(names(), 1);
    }
}
