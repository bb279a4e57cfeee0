//! The command line program: everything it does lives in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    taperwright::cli::run(std::env::args_os())
}
