//! The migrations are embedded: a new folder must rebuild this crate.

fn main() {
    println!("cargo::rerun-if-changed=sqlite");
    println!("cargo::rerun-if-changed=postgres");
}
