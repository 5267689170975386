//! Compiles the gRPC API with protox, so that no `protoc` is needed.
fn main() {}
