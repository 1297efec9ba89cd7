//! (filled next)
