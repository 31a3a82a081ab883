use image::Rgb;

pub(super) const BLACK: Rgb<u8> = Rgb([0, 0, 0]);
pub(super) const WHITE: Rgb<u8> = Rgb([255, 255, 255]);

/// "Color Universal Design" (2008), without its black. Each has a contrast of at least 4 to 1 with black,
/// and they follow one another so that neighbours differ in lightness too.
const COLOURS: [Rgb<u8>; 7] = [
    Rgb([230, 159, 0]),   // orange
    Rgb([86, 180, 233]),  // sky blue
    Rgb([240, 228, 66]),  // yellow
    Rgb([0, 158, 115]),   // bluish green
    Rgb([204, 121, 167]), // reddish purple
    Rgb([213, 94, 0]),    // vermillion
    Rgb([0, 114, 178]),   // blue
];

/// Lengths of colour and gap by turns, in line widths. Chosen by looking: they stay apart on a phone.
const DASHES: [&[i32]; 6] = [
    &[1],                // solid
    &[6, 2],             // long dashes
    &[2, 2],             // short dashes
    &[7, 2, 1, 2],       // dash, dot
    &[1, 1],             // dots
    &[6, 2, 2, 2, 2, 2], // dash, two short dashes
];

/// How the outline of one deliverable is told from the others: a colour and a dash pattern of its own.
///
/// Seven colours and six patterns repeat at different intervals, so that the first 42 pairs all differ; the
/// first six differ in pattern alone, for monochrome prints.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Look {
    slot: usize,
}

impl Look {
    /// The look of the deliverable at this place in the list, from 0. The first line is solid.
    #[must_use]
    pub const fn of_slot(slot: usize) -> Self {
        Self { slot }
    }

    /// The colour, as 8-bit RGB.
    #[must_use]
    pub const fn colour(self) -> Rgb<u8> {
        COLOURS[self.slot % COLOURS.len()]
    }

    /// Lengths of colour and gap by turns along the line, in line widths.
    #[must_use]
    pub const fn dashes(self) -> &'static [i32] {
        DASHES[self.slot % DASHES.len()]
    }
}

/// What a line is drawn with along its way.
#[derive(Debug, Clone, Copy)]
pub(super) enum Ink {
    /// One colour.
    Solid(Rgb<u8>),
    /// Two colours by turns.
    Dashed { on: Rgb<u8>, off: Rgb<u8>, lengths: &'static [i32], unit_px: i32 },
}

impl Ink {
    /// The colour so many px along the line; dashes start with `on`.
    pub(super) fn at(self, along_px: i32) -> Rgb<u8> {
        match self {
            Self::Solid(colour) => colour,
            Self::Dashed { on, off, lengths, unit_px } => {
                if is_on(lengths, along_px, unit_px) {
                    on
                } else {
                    off
                }
            }
        }
    }
}

fn is_on(lengths: &[i32], along_px: i32, unit_px: i32) -> bool {
    if lengths.len() < 2 {
        return true;
    }
    let period_px = lengths.iter().sum::<i32>() * unit_px;
    let mut left_px = along_px.rem_euclid(period_px);
    for (turn, length) in lengths.iter().enumerate() {
        left_px -= length * unit_px;
        if left_px < 0 {
            return turn % 2 == 0;
        }
    }
    true
}

/// The contrast of two colours, 1 to 21, for tests: WCAG 2.1, "relative luminance" and "contrast ratio".
#[cfg(test)]
pub(super) fn contrast(one: Rgb<u8>, other: Rgb<u8>) -> f64 {
    let luminance = |Rgb(channels): Rgb<u8>| {
        let linear = channels.map(|code| {
            let share = f64::from(code) / 255.0;
            if share <= 0.04045 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
        });
        0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    };
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Contrast with black of the set, worked out by the WCAG formula: orange 9.324, blue 4.050.
    #[test]
    fn the_contrast_formula_gives_the_worked_values() {
        assert!((contrast(WHITE, BLACK) - 21.0).abs() < 1e-9);
        assert!((contrast(COLOURS[0], BLACK) - 9.324).abs() < 0.001);
        assert!((contrast(COLOURS[6], BLACK) - 4.050).abs() < 0.001);
    }

    #[test]
    fn every_colour_shows_beside_black() {
        for slot in 0..COLOURS.len() {
            assert!(contrast(Look::of_slot(slot).colour(), BLACK) >= 3.0, "slot {slot}");
        }
    }

    #[test]
    fn the_first_six_lines_differ_without_their_colour() {
        let pattern = |slot: usize| -> Vec<bool> {
            (0..200).map(|along| is_on(Look::of_slot(slot).dashes(), along, 3)).collect()
        };
        for one in 0..6 {
            for other in 0..one {
                assert_ne!(pattern(one), pattern(other), "slots {one} and {other}");
            }
        }
    }

    #[test]
    fn forty_two_looks_differ_in_colour_or_pattern() {
        let looks: std::collections::BTreeSet<_> =
            (0..42).map(|n| (Look::of_slot(n).colour().0, Look::of_slot(n).dashes())).collect();
        assert_eq!(looks.len(), 42);
    }

    #[test]
    fn a_pattern_goes_on_before_its_start() {
        let ink = Ink::Dashed { on: WHITE, off: BLACK, lengths: &[2, 2], unit_px: 1 };
        let along: Vec<bool> = (-4..4).map(|px| ink.at(px) == WHITE).collect();
        assert_eq!(along, [true, true, false, false, true, true, false, false]);
    }
}
