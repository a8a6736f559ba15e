//! Reads a piece from standard input and prints its build plan: `cargo run -p mount --example plan < piece.json`.

use std::io::Read;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut bytes = Vec::new();
    std::io::stdin().read_to_end(&mut bytes)?;
    let piece = piece::Piece::from_json(&bytes)?;
    let plan = mount::plan(&piece, &mount::Catalogue::built_in()?, &shape::Silent)?;
    serde_json::to_writer_pretty(std::io::stdout(), &plan)?;
    Ok(())
}
