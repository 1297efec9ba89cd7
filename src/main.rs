//! The two fronts' door: the native command, or in a browser the page.

fn main() {
    #[cfg(not(target_arch = "wasm32"))]
    std::process::exit(tileglow::command::run(std::env::args_os()));
    #[cfg(target_arch = "wasm32")]
    tileglow::page::open();
}
