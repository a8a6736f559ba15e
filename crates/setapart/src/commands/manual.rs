//! `manual`: man pages, shell completions and the command reference, all made from the definitions of the commands.

use super::Outcome;
use crate::cli::{Cli, Manual};
use crate::failure::Failure;
use crate::files::Outputs;
use clap::{Command, CommandFactory};
use clap_complete::Shell;

/// Shells that completions are written for.
const SHELLS: [Shell; 4] = [Shell::Bash, Shell::Zsh, Shell::Fish, Shell::PowerShell];

/// Writes everything into a folder.
pub(super) fn run(args: &Manual) -> Result<Outcome, Failure> {
    let mut outputs = Outputs::default();
    let mut all = Cli::command();
    all.build();
    for shell in SHELLS {
        let mut script = Vec::new();
        clap_complete::generate(shell, &mut all.clone(), "setapart", &mut script);
        let name = match shell {
            Shell::Bash => "setapart.bash",
            Shell::Zsh => "_setapart",
            Shell::Fish => "setapart.fish",
            _ => "setapart.ps1",
        };
        outputs.add(args.out.join("completions").join(name), script);
    }
    for command in std::iter::once(&all).chain(shown(&all)) {
        let mut page = Vec::new();
        // Once built, `capture` is displayed as `setapart-capture`.
        let name = command.get_display_name().unwrap_or("setapart").to_owned();
        // Writing into memory cannot fail.
        let _ = clap_mangen::Man::new(command.clone()).render(&mut page);
        outputs.add(args.out.join("man").join(format!("{name}.1")), page);
    }
    outputs.add(args.out.join("commands.md"), reference(&all).into_bytes());
    outputs.write()?;
    Ok(Outcome::Fine)
}

/// The commands that users are told of.
fn shown(all: &Command) -> impl Iterator<Item = &Command> {
    all.get_subcommands()
        .filter(|c| !c.is_hide_set() && c.get_name() != "help")
}

/// The command reference in Markdown.
fn reference(all: &Command) -> String {
    let mut text = String::from(
        "# Commands\n\nMade from the program itself (`setapart manual --out DIR`); every command answers `--help` too.\n",
    );
    for command in shown(all) {
        describe(command, "setapart", "##", &mut text);
    }
    text
}

fn describe(command: &Command, before: &str, mark: &str, text: &mut String) {
    let name = format!("{before} {}", command.get_name());
    *text += &format!("\n{mark} {name}\n");
    if let Some(about) = command.get_long_about().or(command.get_about()) {
        *text += &format!("\n{about}.\n").replace("..\n", ".\n");
    }
    let usage = command.clone().render_usage().to_string();
    let usage = usage.trim_start_matches("Usage: ").trim();
    *text += &format!("\n    {}\n", usage.replace('\n', "\n    "));
    let arguments: Vec<String> = command
        .get_arguments()
        .filter(|a| !a.is_hide_set() && !["help", "version"].contains(&a.get_id().as_str()))
        .map(argument)
        .collect();
    if !arguments.is_empty() {
        *text += "\n";
        *text += &arguments.concat();
    }
    for inner in command
        .get_subcommands()
        .filter(|c| !c.is_hide_set() && c.get_name() != "help")
    {
        describe(inner, &name, "###", text);
    }
}

fn argument(a: &clap::Arg) -> String {
    let takes_value = a.get_action().takes_values();
    let values = a
        .get_value_names()
        .map(|names| {
            names
                .iter()
                .map(ToString::to_string)
                .collect::<Vec<_>>()
                .join(" ")
        })
        .filter(|_| takes_value);
    let flag = match (a.get_long(), values) {
        (Some(long), Some(v)) => format!("--{long} {v}"),
        (Some(long), None) => format!("--{long}"),
        (None, Some(v)) => v,
        (None, None) => a.get_id().to_string(),
    };
    let help = a.get_help().map(ToString::to_string).unwrap_or_default();
    let choices: Vec<String> = a
        .get_possible_values()
        .iter()
        .filter(|_| takes_value)
        .map(|v| v.get_name().to_owned())
        .collect();
    let choices = match choices.as_slice() {
        [] => String::new(),
        all => format!(" One of {}.", all.join(", ")),
    };
    let default: Vec<String> = a
        .get_default_values()
        .iter()
        .filter(|_| takes_value)
        .map(|v| v.to_string_lossy().into_owned())
        .collect();
    let default = match default.as_slice() {
        [] => String::new(),
        all => format!(" {} unless told otherwise.", all.join(", ")),
    };
    format!("- `{flag}`: {help}.{choices}{default}\n")
}
