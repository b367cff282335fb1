//! `benchborne completions SHELL`.

use clap::CommandFactory;
use clap_complete::Shell;

use super::{Exit, show};

/// Print what a shell needs to complete commands, options and file names.
#[derive(Debug, clap::Args)]
#[command(after_help = concat!(
    "Examples:\n  \
     bash        benchborne completions bash > ~/.local/share/bash-completion/completions/benchborne\n  \
     zsh         benchborne completions zsh > \"${fpath[1]}/_benchborne\"\n  \
     fish        benchborne completions fish > ~/.config/fish/completions/benchborne.fish\n  \
     powershell  benchborne completions powershell >> $PROFILE\n  \
     elvish      benchborne completions elvish >> ~/.config/elvish/rc.elv\n\n",
    super::exit_codes!("0 fine, 2 no such shell")
))]
pub struct Arguments {
    /// The shell.
    pub shell: Shell,
}

pub fn main(arguments: &Arguments) -> Exit {
    let mut command = super::Arguments::command();
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut command, "benchborne", &mut script);
    show::bytes(&script);
    Exit::Fine
}
