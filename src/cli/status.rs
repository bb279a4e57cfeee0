use std::process::ExitCode;

/// What went wrong during a run; several things can. It becomes one exit status at the end.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Status {
    /// The command line makes no sense.
    pub wrong_usage: bool,
    /// The program failed or could not write.
    pub failed: bool,
    /// An input was rejected, missing or unreadable, or a folder held no trial.
    pub rejected: bool,
    /// The answer is no.
    pub answer_is_no: bool,
}

impl Status {
    /// The status of wrong usage.
    #[must_use]
    pub fn usage() -> Self {
        Self { wrong_usage: true, ..Self::default() }
    }

    /// The number that the program exits with: the first of 2, 4, 3, 1 that applies, else 0.
    ///
    /// ```
    /// # use taperwright::cli::Status;
    /// assert_eq!(Status { rejected: true, answer_is_no: true, ..Status::default() }.code(), 3);
    /// assert_eq!(Status { rejected: true, failed: true, ..Status::default() }.code(), 4);
    /// ```
    #[must_use]
    pub fn code(self) -> u8 {
        match self {
            Self { wrong_usage: true, .. } => 2,
            Self { failed: true, .. } => 4,
            Self { rejected: true, .. } => 3,
            Self { answer_is_no: true, .. } => 1,
            _ => 0,
        }
    }
}

impl From<Status> for ExitCode {
    fn from(status: Status) -> Self {
        Self::from(status.code())
    }
}
