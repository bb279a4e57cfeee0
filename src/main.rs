//! The command line program: everything it does lives in the library.

fn main() {}
