use std::io::{self, IsTerminal, Write};

/// Standard output for results, standard error for all else.
#[derive(Debug)]
pub struct Console {
    quiet: bool,
    colour: bool,
    progress: bool,
    progress_shown: bool,
    closed: bool,
    failed: bool,
}

impl Console {
    /// A console that prints errors only when `quiet`, and colours messages when `colour`.
    #[must_use]
    pub fn new(quiet: bool, colour: bool) -> Self {
        let progress = !quiet && io::stderr().is_terminal();
        Self { quiet, colour, progress, progress_shown: false, closed: false, failed: false }
    }

    /// Whether messages are coloured.
    #[must_use]
    pub fn colour(&self) -> bool {
        self.colour
    }

    /// Whether only errors are printed.
    #[must_use]
    pub fn quiet(&self) -> bool {
        self.quiet
    }

    /// Whether standard output could not be written for another reason than a reader that went away.
    #[must_use]
    pub fn failed(&self) -> bool {
        self.failed
    }

    /// A result, on standard output. A reader that has gone away is no fault: what follows is dropped.
    pub fn result(&mut self, text: &str) {
        self.clear_progress();
        if self.closed || self.failed {
            return;
        }
        let mut out = io::stdout().lock();
        if let Err(error) = out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            if error.kind() == io::ErrorKind::BrokenPipe {
                self.closed = true;
            } else {
                self.failed = true;
                self.error(&format!("standard output cannot be written: {error}"));
            }
        }
    }

    /// A remark, on standard error; dropped when quiet.
    pub fn remark(&mut self, text: &str) {
        if !self.quiet {
            self.message(text);
        }
    }

    /// An error, on standard error.
    pub fn error(&mut self, text: &str) {
        self.message(&format!("error: {text}"));
    }

    /// A text that is an error already, on standard error.
    pub fn message(&mut self, text: &str) {
        self.clear_progress();
        let end = if text.ends_with('\n') { "" } else { "\n" };
        let _ = write!(io::stderr().lock(), "{text}{end}");
    }

    /// How far a batch has come; only on a terminal.
    pub fn progress(&mut self, done: usize, of: usize) {
        if self.progress && of > 1 {
            self.progress_shown = true;
            let _ = write!(io::stderr().lock(), "\r{done} of {of} trials");
        }
    }

    /// Takes the progress line away.
    pub fn clear_progress(&mut self) {
        if self.progress_shown {
            self.progress_shown = false;
            let _ = write!(io::stderr().lock(), "\r{:30}\r", "");
        }
    }
}
