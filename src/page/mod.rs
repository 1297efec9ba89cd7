//! The browser front.
