//! Bytes in, a trial and findings out: the only place that reads logs, settings and criteria files.
