//! Completion scripts and manual pages, made from the command line's own definition.

use super::{Cli, Stop, write};
use boundwalk::fault::Fault;
use boundwalk::write::files::put_files;
use boundwalk::write::inputs::Inputs;
use boundwalk::write::place::free;
use clap::CommandFactory;
use std::path::PathBuf;
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
        None => write::stdout(&page(&command)?)?,
        Some(folder) => {
            let mut pages = Vec::new();
            every_page(&command, "boundwalk", &mut pages)?;
            let files: Vec<(&str, &[u8])> = pages
                .iter()
                .map(|(name, bytes)| (name.as_str(), bytes.as_slice()))
                .collect();
            let instead = write::call_with("--out", &free(folder));
            put_files(folder, &files, &Inputs::default(), &instead)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

/// The page of a command and those of all commands in it, each with the name of its file.
fn every_page(
    command: &clap::Command,
    name: &str,
    pages: &mut Vec<(String, Vec<u8>)>,
) -> Result<(), Stop> {
    pages.push((format!("{name}.1"), page(command)?));
    for inner in command.get_subcommands() {
        if !inner.is_hide_set() && inner.get_name() != "help" {
            every_page(inner, &format!("{name}-{}", inner.get_name()), pages)?;
        }
    }
    Ok(())
}

fn page(command: &clap::Command) -> Result<Vec<u8>, Stop> {
    let mut page = Vec::new();
    clap_mangen::Man::new(command.clone())
        .source(concat!("boundwalk ", env!("CARGO_PKG_VERSION")))
        .manual("Lawns and turf")
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
