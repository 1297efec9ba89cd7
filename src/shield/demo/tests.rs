//! What the demonstration promises, checked.

use super::*;

#[test]
#[ignore]
fn dump() {
    let start = std::time::Instant::now();
    let files = files();
    eprintln!("generated in {:?}", start.elapsed());
    let dir = std::env::var("DEMO_DIR").unwrap();
    std::fs::create_dir_all(&dir).unwrap();
    for file in files {
        std::fs::write(format!("{dir}/{}", file.name), file.bytes).unwrap();
    }
}
