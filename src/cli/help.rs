//! `benchborne help [TOPIC]`: a command's help, or a page on what the commands read and say.

use clap::CommandFactory;

use super::{Exit, show};

/// Explain a command or a topic: season, logbook, flying, words, look-json.
#[derive(Debug, clap::Args)]
#[command(after_help = concat!(
    "Example: benchborne help season | less\n\n",
    super::exit_codes!("0 fine, 2 no such topic")
))]
pub struct Arguments {
    /// A command, or one of: season (every key of season.toml, every channel), logbook (logbook.csv and
    /// passes.csv), flying (how to fly and measure for an answer), words (what the report's words
    /// mean), look-json (the fields of look --json).
    #[arg(value_name = "TOPIC")]
    pub topic: Option<String>,
}

/// Pages beside the commands' own help, in the order to read them.
pub const TOPICS: [(&str, &str); 5] = [
    ("season", include_str!("help/season.txt")),
    ("logbook", include_str!("help/logbook.txt")),
    ("flying", include_str!("help/flying.txt")),
    ("words", include_str!("help/words.txt")),
    ("look-json", include_str!("help/look-json.txt")),
];

pub fn main(arguments: &Arguments) -> Exit {
    let mut command = super::Arguments::command();
    let Some(topic) = arguments.topic.as_deref() else {
        show::raw(&command.render_long_help().to_string());
        return Exit::Fine;
    };
    if let Some((_, page)) = TOPICS.iter().find(|(name, _)| *name == topic) {
        show::raw(page);
        return Exit::Fine;
    }
    if command.find_subcommand(topic).is_some() {
        // What the command's own --help says, whatever that is.
        let asked = command.try_get_matches_from(["benchborne", topic, "--help"]);
        show::raw(&asked.err().map(|help| help.to_string()).unwrap_or_default());
        return Exit::Fine;
    }
    let topics = TOPICS.iter().map(|(name, _)| (*name).to_owned());
    let commands = command.get_subcommands().map(|c| c.get_name().to_owned());
    let all: Vec<String> = topics.chain(commands).collect();
    show::wrong(&format!(
        "there is no help on '{topic}'; expected one of {}. `benchborne help` says what there is.",
        all.join(", ")
    ))
}
