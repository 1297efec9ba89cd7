//! What the option parser found wrong, told as every other error: what, which option as written, what would be accepted.

use crate::document::Error;
use clap::error::{ContextKind, ContextValue, ErrorKind};

const COMMANDS: &str = "one of spot, fly, coupon, assess, size, demo; tileglow --help";

/// The crate's error for a refused command line; always bad input.
pub fn error_of(told: &clap::Error) -> Error {
    let context = |kind: ContextKind| told.get(kind).map(text_of).filter(|text| !text.is_empty());
    let usage = context(ContextKind::Usage).map(|usage| one_line(&usage).trim_start_matches("Usage: ").to_string());
    let accepted = match (context(ContextKind::ValidValue).or_else(|| context(ContextKind::ValidSubcommand)), usage) {
        (Some(values), _) => values,
        (None, Some(usage)) => usage,
        (None, None) => "tileglow --help tells the commands and options".to_string(),
    };
    let argument = context(ContextKind::InvalidArg).unwrap_or_default();
    // Clap names an option with its value, `--altitude <A>`; as written it is the first word.
    let option = |text: &str| text.split(' ').next().unwrap_or_default().to_string();
    match told.kind() {
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand | ErrorKind::MissingSubcommand => Error::bad("no command is given", COMMANDS),
        ErrorKind::InvalidSubcommand => {
            let name = context(ContextKind::InvalidSubcommand).unwrap_or_default();
            Error::bad(format!("unknown command {name:?}"), COMMANDS)
        }
        ErrorKind::UnknownArgument => Error::bad(format!("unknown option or argument {argument:?}"), accepted),
        ErrorKind::ArgumentConflict => {
            let other = context(ContextKind::PriorArg).unwrap_or_default();
            let what = if other == argument || other.is_empty() {
                format!("the option {:?} is given twice", option(&argument))
            } else {
                format!("the option {:?} cannot stand with {:?}", option(&argument), option(&other))
            };
            Error::bad(what, accepted)
        }
        ErrorKind::MissingRequiredArgument => Error::bad(format!("{argument} is missing"), accepted),
        _ => {
            // The first paragraph says what is wrong; the rest is usage.
            let text = told.to_string();
            let first = text.split("\n\n").next().unwrap_or_default();
            Error::bad(one_line(first.trim_start_matches("error: ")), accepted)
        }
    }
}

fn text_of(value: &ContextValue) -> String {
    match value {
        ContextValue::String(text) => text.clone(),
        ContextValue::Strings(list) => list.join(", "),
        ContextValue::StyledStr(text) => text.to_string(),
        ContextValue::StyledStrs(list) => list.iter().map(|text| text.to_string()).collect::<Vec<_>>().join(", "),
        other => other.to_string(),
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
