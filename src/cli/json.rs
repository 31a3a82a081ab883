use serde::Serialize;
use std::io::{self, Write};

/// Prints a value as JSON that a person can read too, with a line end.
pub(super) fn print_json(value: &impl Serialize, out: &mut impl Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, value)?;
    writeln!(out)
}
