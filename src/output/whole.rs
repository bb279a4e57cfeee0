use super::unfinished::Unfinished;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Why a file was not written; whatever stood at its path before stands there still.
#[derive(Debug, thiserror::Error)]
pub enum NotWritten {
    /// The folder could not be made.
    #[error("the folder {} cannot be made: {source}", folder.display())]
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
    #[error("{} cannot be written: {source}", path.display())]
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
    let complete = complete_beside(path, bytes)?;
    complete.finish(path, true).map_err(|source| NotWritten::File { path: path.to_owned(), source })?;
    Ok(())
}

/// Writes `bytes` to `path` as [`write_whole`] does, but never replaces a file.
///
/// # Errors
/// [`NotWritten::Exists`] when something stands at `path`, and as [`write_whole`].
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), NotWritten> {
    let complete = complete_beside(path, bytes)?;
    complete.finish(path, false).map_err(|source| match source.kind() {
        io::ErrorKind::AlreadyExists => NotWritten::Exists { path: path.to_owned() },
        _ => NotWritten::File { path: path.to_owned(), source },
    })?;
    Ok(())
}

/// Writes several files as [`write_whole`] does. Unless `replace`, none is written when something stands at the path of one.
///
/// # Errors
/// [`NotWritten`] of the first that cannot be written; [`NotWritten::Exists`] before anything is written.
pub fn write_set(files: &[(PathBuf, Vec<u8>)], replace: bool) -> Result<(), NotWritten> {
    if let Some((path, _)) = files.iter().find(|(path, _)| !replace && path.symlink_metadata().is_ok()) {
        return Err(NotWritten::Exists { path: path.clone() });
    }
    let write = if replace { write_whole } else { write_new };
    files.iter().try_for_each(|(path, bytes)| write(path, bytes))
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

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}
