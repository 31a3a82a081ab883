use std::io::{self, Write};

/// Writes a page whose `{{NAME}}`s are replaced. Every value is put in once; what is put in is not looked through again.
pub(super) fn fill(
    template: &str,
    value: impl Fn(&str) -> String,
    mut out: impl Write,
) -> io::Result<()> {
    let mut rest = template;
    while let Some((before, (name, after))) =
        rest.split_once("{{").and_then(|(before, after)| Some((before, after.split_once("}}")?)))
    {
        out.write_all(before.as_bytes())?;
        out.write_all(value(name).as_bytes())?;
        rest = after;
    }
    out.write_all(rest.as_bytes())
}

/// A text as it stands in a page.
pub(super) fn escaped(text: &str) -> String {
    text.chars().fold(String::new(), |mut escaped, letter| {
        match letter {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            other => escaped.push(other),
        }
        escaped
    })
}
