//! Margins, condition, disposition: turns a shield and a scenario into results.
