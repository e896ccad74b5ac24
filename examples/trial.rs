#[path = "../src/cli/trial.rs"]
mod trial;
use clap::Parser;
#[derive(Parser)]
struct Cli {
    #[command(flatten)]
    args: trial::TrialArgs,
}
fn main() -> anyhow::Result<()> {
    print!("{}", trial::trial(&Cli::parse().args)?);
    Ok(())
}
