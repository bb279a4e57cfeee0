//! An analysis in, HTML, JSON and terminal text out. Computes no statistic.
