//! Least squares, mixed models, robust fits, tests and tail probabilities. Knows no lathe.
