use super::MediaError;

/// A file name with one number left open, as C's `printf` would fill it: `shot_%05d.jpg`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Pattern {
    before: String,
    width: usize,
    fill: char,
    after: String,
}

/// More digits than any number of a file has.
const GREATEST_WIDTH: usize = 20;

impl Pattern {
    /// Reads `%d`, `%5d` (padded with spaces) or `%05d` (padded with zeros), once, and `%%` for a percent.
    ///
    /// # Errors
    /// [`MediaError::BadPattern`] for none, several, or anything else behind a percent.
    pub(super) fn parse(name: &str) -> Result<Self, MediaError> {
        let mut pattern = Self { before: String::new(), width: 0, fill: ' ', after: String::new() };
        let (mut number_count, mut stray) = (0, None);
        let mut rest = name;
        while let Some(at) = rest.find('%') {
            let (literal, spec) = rest.split_at(at);
            let spec = spec.get(1..).unwrap_or_default();
            pattern.push(literal, number_count);
            if let Some(behind) = spec.strip_prefix('%') {
                pattern.push("%", number_count);
                rest = behind;
            } else if let Some((digits, behind)) = number_spec(spec) {
                number_count += 1;
                pattern.fill = if digits.starts_with('0') { '0' } else { ' ' };
                pattern.width = digits.parse().unwrap_or(0);
                rest = behind;
            } else {
                stray = stray.or_else(|| spec.chars().next()).or(Some(' '));
                rest = spec;
            }
        }
        pattern.push(rest, number_count);
        if number_count == 1 && stray.is_none() && pattern.width <= GREATEST_WIDTH {
            Ok(pattern)
        } else {
            Err(MediaError::BadPattern { name: name.to_owned(), number_count, stray })
        }
    }

    fn push(&mut self, literal: &str, numbers_before: usize) {
        let side = if numbers_before == 0 { &mut self.before } else { &mut self.after };
        side.push_str(literal);
    }

    /// The file name with this number.
    pub(super) fn name_of(&self, number: u64) -> String {
        let (before, after, width) = (&self.before, &self.after, self.width);
        if self.fill == '0' {
            format!("{before}{number:0width$}{after}")
        } else {
            format!("{before}{number:width$}{after}")
        }
    }

    /// The number in a file name, if it is of this pattern. `7` is not of `%03d`, and `007` not of `%d`.
    pub(super) fn number_in(&self, name: &str) -> Option<u64> {
        let middle = name.strip_prefix(&self.before)?.strip_suffix(&self.after)?;
        let number = middle.trim_start_matches(' ').parse().ok()?;
        (self.name_of(number) == name).then_some(number)
    }
}

/// Whether a text leaves a number open anywhere.
pub(super) fn leaves_a_number_open(text: &str) -> bool {
    text.match_indices('%')
        .filter_map(|(at, _)| text.get(at + 1..))
        .any(|spec| number_spec(spec).is_some())
}

/// The digits of `05d…`, and what follows the `d`.
fn number_spec(spec: &str) -> Option<(&str, &str)> {
    let digits = spec.bytes().take_while(u8::is_ascii_digit).count();
    let (digits, behind) = spec.split_at(digits);
    behind.strip_prefix('d').map(|behind| (digits, behind))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pattern_names_files_and_finds_their_numbers() {
        for (pattern, number, name) in [
            ("%d.png", 7, "7.png"),
            ("f%05d.jpg", 7, "f00007.jpg"),
            ("f%02d.jpg", 123, "f123.jpg"),
            ("f%3d.jpg", 7, "f  7.jpg"),
            ("50%%_%03d_%%.png", 42, "50%_042_%.png"),
        ] {
            let parsed = Pattern::parse(pattern).unwrap();
            assert_eq!(parsed.name_of(number), name);
            assert_eq!(parsed.number_in(name), Some(number), "{pattern}");
        }
    }

    #[test]
    fn names_that_the_pattern_would_not_write_are_not_its_own() {
        let zeros = Pattern::parse("f%03d.png").unwrap();
        for name in ["f7.png", "f0007.png", "f 07.png", "f+07.png", "f007.jpg", "f.png", "f00x.png"]
        {
            assert_eq!(zeros.number_in(name), None, "{name}");
        }
        assert_eq!(Pattern::parse("%d.png").unwrap().number_in("007.png"), None);
    }

    #[test]
    fn a_pattern_without_exactly_one_number_is_refused() {
        for name in
            ["a.png", "%d_%d.png", "%s.png", "%%d.png", "%", "%05", "a%05d%.png", "%99d.png"]
        {
            let refusal = Pattern::parse(name);
            assert!(matches!(refusal, Err(MediaError::BadPattern { .. })), "{name}: {refusal:?}");
        }
    }
}
