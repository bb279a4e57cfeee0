//! The sample trials and the example reports made from them.
