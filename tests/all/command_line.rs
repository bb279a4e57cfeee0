//! The program as a user runs it, in temporary folders.
