//! The `setapart` command: it parses, calls the crates and prints.

mod captured_part;
mod cli;
mod commands;
mod device;
mod document;
mod failure;
mod files;
mod progress;
mod say;
mod serve;
mod tidy;

use std::process::ExitCode;

fn main() -> ExitCode {
    let cli = cli::Cli::read();
    match commands::run(cli.command) {
        Ok(outcome) => outcome.exit_code(),
        Err(failure) => {
            say::complain(&failure);
            ExitCode::from(2)
        }
    }
}
