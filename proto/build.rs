//! Compiles the gRPC API with protox, so that no `protoc` is needed, and keeps its descriptors for reflection.

use std::path::{Path, PathBuf};

use prost::Message;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let root = Path::new("proto");
    let mut files: Vec<PathBuf> = Vec::new();
    for entry in std::fs::read_dir(root.join("leadsman/v1"))? {
        files.push(entry?.path());
    }
    files.retain(|path| path.extension().is_some_and(|ending| ending == "proto"));
    files.sort();
    // The generator prints no such lines itself; the folder stands here so that a new file is seen too.
    println!("cargo:rerun-if-changed=proto/build.rs");
    println!("cargo:rerun-if-changed=proto/leadsman/v1");
    for file in &files {
        println!("cargo:rerun-if-changed={}", file.display());
    }
    let descriptors = protox::compile(&files, [root])?;
    let out = PathBuf::from(std::env::var("OUT_DIR")?);
    std::fs::write(out.join("leadsman_v1.bin"), descriptors.encode_to_vec())?;
    tonic_prost_build::configure().compile_fds(descriptors)?;
    Ok(())
}
