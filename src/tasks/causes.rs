use std::error::Error;

/// An error and its causes in one line, outermost first, each once. Some libraries end their messages with line
/// ends, and many repeat their cause.
///
/// ```
/// let cause = "x".parse::<u32>().unwrap_err();
/// assert_eq!(lookroom::tasks::with_causes(&cause), "invalid digit found in string");
/// ```
#[must_use]
pub fn with_causes(error: &dyn Error) -> String {
    let mut text = one_line(&error.to_string());
    let mut cause = error.source();
    while let Some(deeper) = cause {
        let words = one_line(&deeper.to_string());
        if !text.contains(&words) {
            text = format!("{text}: {words}");
        }
        cause = deeper.source();
    }
    text
}

/// A text without line ends and runs of spaces.
fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
