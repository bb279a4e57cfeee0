use std::io::{self, IsTerminal, Write};
use std::time::{Duration, Instant};

/// Signs of the bar.
const BAR: usize = 24;

/// Standard output for results, standard error for all else.
#[derive(Debug)]
pub struct Console {
    quiet: bool,
    colour: bool,
    progress: bool,
    begun: Instant,
    progress_shown: usize,
    closed: bool,
    failed: bool,
}

impl Console {
    /// A console that prints errors only when `quiet`, and colours messages when `colour`.
    #[must_use]
    pub fn new(quiet: bool, colour: bool) -> Self {
        let progress = !quiet && io::stderr().is_terminal();
        Self { quiet, colour, progress, begun: Instant::now(), progress_shown: 0, closed: false, failed: false }
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
            self.not_written(&error);
        }
    }

    /// Why standard output could not be written: an error, but not where its reader has gone away.
    pub fn not_written(&mut self, error: &io::Error) {
        if error.kind() == io::ErrorKind::BrokenPipe {
            self.closed = true;
        } else {
            self.failed = true;
            self.error(&format!("standard output cannot be written: {error}"));
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

    /// How far a batch has come, how fast, and how long it will take still; only on a terminal, never in colour.
    pub fn progress(&mut self, done: usize, of: usize) {
        if self.progress && of > 1 {
            let line = progress_line(done, of, self.begun.elapsed());
            let rest = self.progress_shown.saturating_sub(line.len());
            self.progress_shown = line.len();
            let _ = write!(io::stderr().lock(), "\r{line}{:rest$}", "");
        }
    }

    /// Takes the progress line away.
    pub fn clear_progress(&mut self) {
        if self.progress_shown > 0 {
            let _ = write!(io::stderr().lock(), "\r{:1$}\r", "", self.progress_shown);
            self.progress_shown = 0;
        }
    }
}

impl Drop for Console {
    /// Leaves no progress line behind.
    fn drop(&mut self) {
        self.clear_progress();
    }
}

/// `[######------] 500 of 2000 trials, 25 a second, 1 min 00 s left`: at most 79 signs up to a million trials.
fn progress_line(done: usize, of: usize, elapsed: Duration) -> String {
    let full = (BAR * done.min(of)).checked_div(of).unwrap_or(BAR);
    let mut line = format!("[{}{}] {done} of {of} trials", "#".repeat(full), "-".repeat(BAR - full));
    let seconds = elapsed.as_secs_f64();
    if done > 0 && seconds > 0.0 {
        let rate = done as f64 / seconds;
        line.push_str(&if rate < 10.0 { format!(", {rate:.1} a second") } else { format!(", {rate:.0} a second") });
        if done < of {
            line.push_str(&format!(", {} left", spoken((of - done) as f64 / rate)));
        }
    }
    line
}

/// `45 s`, `3 min 20 s`, `2 h 05 min`.
fn spoken(seconds: f64) -> String {
    let whole = seconds.ceil().clamp(1.0, 3.6e6) as u64;
    match whole {
        0..60 => format!("{whole} s"),
        60..3600 => format!("{} min {:02} s", whole / 60, whole % 60),
        _ => format!("{} h {:02} min", whole / 3600, whole % 3600 / 60),
    }
}

#[cfg(test)]
mod tests {
    use super::progress_line;
    use std::time::Duration;

    #[test]
    fn progress_tells_rate_and_what_is_left() {
        let at = |done, seconds| progress_line(done, 2000, Duration::from_secs_f64(seconds));
        assert_eq!(at(500, 20.0), "[######------------------] 500 of 2000 trials, 25 a second, 1 min 00 s left");
        assert_eq!(at(1, 0.5), "[------------------------] 1 of 2000 trials, 2.0 a second, 16 min 40 s left");
        assert_eq!(at(1999, 199.9), "[#######################-] 1999 of 2000 trials, 10 a second, 1 s left");
        assert_eq!(at(2000, 200.0), "[########################] 2000 of 2000 trials, 10 a second");
        assert_eq!(at(0, 0.0), "[------------------------] 0 of 2000 trials");
        assert!(at(1, 400.0).ends_with("222 h 06 min left"));
    }
}
