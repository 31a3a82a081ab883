use super::px;
use crate::pan::{Beyond, Travel};

/// How far a path travels against how far it must, and what was done so that it travels no further than it may.
#[must_use]
pub fn travel_words(travel: &Travel) -> String {
    let held_against = match travel.times_least() {
        None => "though nothing has to move".to_owned(),
        // It keeps less than could be kept.
        Some(times) if times < 0.995 => {
            format!("where all that can be kept asks for {}", px(travel.least_px))
        }
        Some(times) => format!("{times:.2} times as far as it must"),
    };
    let far = format!("travels {} px in all, {held_against}", px(travel.px));
    let greatest = travel.greatest;
    let Some(beyond) = travel.beyond else {
        let less = if travel.factor < 1.0 {
            let factor = two_digits(travel.factor);
            format!(
                "; place, width and soft starts and stops count for {factor} of their weights for that"
            )
        } else {
            String::new()
        };
        return format!("{far} (at most {greatest} allowed, greatest_travel){less}");
    };
    let since = match beyond {
        Beyond::NotReached => "and no path within that was found that keeps as much",
        Beyond::KeepsMore => "since what travels less keeps less of the subject",
        Beyond::OneLook => {
            "since it moves as the clip's other shapes do: one look does not go by it"
        }
    };
    format!("{far}, more than the {greatest} allowed (greatest_travel), {since}")
}

/// A factor of at most 1 with its first two digits.
fn two_digits(factor: f64) -> String {
    let decimals = (2..8).find(|decimals| factor >= 10_f64.powi(1 - decimals)).unwrap_or(8);
    format!("{factor:.*}", usize::try_from(decimals).unwrap_or(2))
}

#[cfg(test)]
mod tests {
    use super::*;

    const WITHIN: Travel =
        Travel { px: 412.4, least_px: 378.35, greatest: 1.1, factor: 1.0, beyond: None };

    #[test]
    fn how_far_it_travels_is_told_with_what_is_given_up_for_it() {
        let far = "travels 412.4 px in all, 1.09 times as far as it must";
        let allowed = format!("{far} (at most 1.1 allowed, greatest_travel)");
        assert_eq!(travel_words(&WITHIN), allowed);
        for (factor, digits) in
            [(0.2134, "0.21"), (0.0461, "0.046"), (0.1, "0.10"), (3e-5, "0.000030")]
        {
            let words = travel_words(&Travel { factor, ..WITHIN });
            let less = "place, width and soft starts and stops count for";
            assert_eq!(words, format!("{allowed}; {less} {digits} of their weights for that"));
        }
    }

    #[test]
    fn a_path_beyond_the_limit_says_why() {
        let words = |beyond| travel_words(&Travel { px: 800.0, beyond: Some(beyond), ..WITHIN });
        let far = "travels 800 px in all, 2.11 times as far as it must, more than the 1.1 allowed (greatest_travel), ";
        let told = words(Beyond::KeepsMore);
        assert_eq!(told, format!("{far}since what travels less keeps less of the subject"));
        assert!(words(Beyond::OneLook).starts_with(far));
        assert!(
            words(Beyond::NotReached).ends_with("no path within that was found that keeps as much")
        );
    }

    #[test]
    fn a_path_that_keeps_less_is_not_said_to_travel_less_than_it_must() {
        let told = travel_words(&Travel { px: 40.0, ..WITHIN });
        assert!(
            told.starts_with("travels 40 px in all, where all that can be kept asks for 378.4")
        );
    }

    #[test]
    fn where_nothing_has_to_move_nothing_is_divided_by_it() {
        let told = travel_words(&Travel { px: 0.03, least_px: 0.0, ..WITHIN });
        assert!(told.starts_with("travels 0 px in all, though nothing has to move (at most 1.1"));
    }
}
