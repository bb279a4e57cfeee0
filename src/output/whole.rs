use super::unfinished::Unfinished;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Why a file was not written; whatever stood at its path before stands there still.
#[derive(Debug, thiserror::Error)]
pub enum NotWritten {
    /// The folder could not be made.
    #[error("the folder {} cannot be made: {source}; {}", folder.display(), what_to_do(source))]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The file exists and was not to be replaced.
    #[error("{} exists already", path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// The file could not be completed.
    #[error("{} cannot be written: {source}; {}", path.display(), what_to_do(source))]
    File {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// Writes `bytes` to `path`, replacing a file that stands there. The folder is made if need be. The bytes go to a temporary file of the
/// same folder, reach the disk, and only then take the name: a reader sees the old file or the new one, never half of one.
///
/// # Errors
/// [`NotWritten`]; the temporary file is gone then, and `path` is as it was.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), NotWritten> {
    finish(complete_beside(path, bytes)?, path, true)
}

/// Writes several files as [`write_whole`] does, all of them or none: they take their names in their order when the last of them has reached the disk. Unless
/// `replace`, none is written when something stands at the path of one.
///
/// # Errors
/// [`NotWritten`] of the first that cannot be written; [`NotWritten::Exists`] before anything is written. Where the system refuses a name after it gave others, those
/// that stood nowhere before are taken away again.
pub fn write_set(files: &[(PathBuf, Vec<u8>)], replace: bool) -> Result<(), NotWritten> {
    if let Some((path, _)) = files.iter().find(|(path, _)| !replace && path.symlink_metadata().is_ok()) {
        return Err(NotWritten::Exists { path: path.clone() });
    }
    let complete: Vec<Unfinished> = files.iter().map(|(path, bytes)| complete_beside(path, bytes)).collect::<Result<_, _>>()?;
    for (place, ((path, _), file)) in files.iter().zip(complete).enumerate() {
        if let Err(why) = finish(file, path, replace) {
            let named = files.iter().take(if replace { 0 } else { place });
            named.for_each(|(path, _)| drop(fs::remove_file(path))); // one that is gone already needs no care
            return Err(why);
        }
    }
    Ok(())
}

/// A complete temporary file in the folder of `path`.
fn complete_beside(path: &Path, bytes: &[u8]) -> Result<Unfinished, NotWritten> {
    let folder = folder_of(path);
    fs::create_dir_all(folder).map_err(|source| NotWritten::Folder { folder: folder.to_owned(), source })?;
    let complete = || -> io::Result<Unfinished> {
        let mut file = Unfinished::begin(folder)?;
        file.fill(bytes)?;
        Ok(file)
    };
    complete().map_err(|source| NotWritten::File { path: path.to_owned(), source })
}

/// Gives a complete file its name.
fn finish(complete: Unfinished, path: &Path, replace: bool) -> Result<(), NotWritten> {
    complete.finish(path, replace).map_err(|source| match source.kind() {
        io::ErrorKind::AlreadyExists if !replace => NotWritten::Exists { path: path.to_owned() },
        _ => NotWritten::File { path: path.to_owned(), source },
    })
}

/// What helps against what the system said.
fn what_to_do(source: &io::Error) -> &'static str {
    match source.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge => {
            "make room there or choose another folder, then run again"
        }
        io::ErrorKind::NotADirectory | io::ErrorKind::IsADirectory | io::ErrorKind::AlreadyExists => {
            "something else stands there: choose another folder, or take it away"
        }
        _ => "choose a folder that you may write in",
    }
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}
