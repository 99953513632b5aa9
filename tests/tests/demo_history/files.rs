//! The files are what their generator writes.

use std::{path::Path, process::Command};

#[test]
fn the_generator_writes_the_files_as_they_are() {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-data");
    let folder = tempfile::tempdir().expect("a folder");
    let ran = Command::new("python3").arg(data.join("generate")).arg(folder.path()).output().expect("python3 runs");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let mut bytes = 0;
    for month in 1..=12 {
        let name = format!("month-{month:02}.ndjson");
        let (written, kept) = (folder.path().join(&name), data.join("history").join(&name));
        let read = |path: &Path| std::fs::read(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        let (written, kept) = (read(&written), read(&kept));
        assert!(written == kept, "{name} is not what demo-data/generate writes: run it");
        bytes += kept.len();
    }
    assert_eq!(std::fs::read_dir(data.join("history")).expect("the folder").count(), 12);
    assert!(bytes < 3_000_000, "{bytes} bytes are more than anybody wants to load");
}
