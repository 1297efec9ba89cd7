//! The native command; all of it stands in the `command` room.

fn main() {
    #[cfg(not(target_arch = "wasm32"))]
    std::process::exit(tileglow::command::run(std::env::args_os()));
}
