//! Completion scripts and manual pages, made from the command line's own definition.

use super::{Cli, Stop, write};
use boundwalk::fault::Fault;
use clap::CommandFactory;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct CompletionArgs {
    /// The shell to complete for
    shell: clap_complete::Shell,
}

#[derive(Debug, clap::Args)]
pub struct ManArgs {
    /// Write a page for each command into this folder instead of printing the main one
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

pub fn completions(args: &CompletionArgs) -> Result<ExitCode, Stop> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "boundwalk", &mut script);
    write::stdout(&script)?;
    Ok(ExitCode::SUCCESS)
}

pub fn man(args: &ManArgs) -> Result<ExitCode, Stop> {
    let mut command = Cli::command();
    command.build();
    match &args.out {
        None => write::stdout(&page(command)?)?,
        Some(folder) => {
            std::fs::create_dir_all(folder).map_err(|error| {
                Fault::unreadable(
                    "unwritable",
                    format!("it cannot be made ({error})."),
                    "Choose another folder.",
                )
                .in_file(folder.display().to_string())
            })?;
            for inner in command
                .get_subcommands()
                .filter(|c| !c.is_hide_set() && c.get_name() != "help")
            {
                let name = format!("boundwalk-{}", inner.get_name());
                write_page(folder, &name, inner.clone())?;
            }
            write_page(folder, "boundwalk", command)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn write_page(folder: &Path, name: &str, command: clap::Command) -> Result<(), Stop> {
    write::file(&folder.join(format!("{name}.1")), &page(command)?)
}

fn page(command: clap::Command) -> Result<Vec<u8>, Stop> {
    let mut page = Vec::new();
    clap_mangen::Man::new(command)
        .render(&mut page)
        .map_err(|error| {
            Fault::unreadable(
                "manual",
                format!("the manual page could not be made ({error})."),
                "",
            )
        })?;
    Ok(page)
}
