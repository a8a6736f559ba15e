//! setapart
fn main() {}
