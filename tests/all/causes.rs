//! The joint estimate of causes, by simulation and against brute force.
