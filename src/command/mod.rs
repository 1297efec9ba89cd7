//! The native front: the commands of the reference.

pub mod coupon;

/// Runs one command line; returns the exit code.
pub fn run(_arguments: impl Iterator<Item = std::ffi::OsString>) -> i32 {
    eprintln!("error: no command is built yet");
    2
}
