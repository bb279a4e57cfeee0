//! Arguments, batch, progress, exit status.
