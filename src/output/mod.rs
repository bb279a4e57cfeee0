//! The only place that writes files: whole or not at all.
