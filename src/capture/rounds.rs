/// One camera of a round of mounting.
#[derive(Debug, Clone, PartialEq)]
pub struct Stop {
    /// Its name.
    pub name: String,
    /// How many minutes it takes to walk there, mount, aim and check it.
    pub minutes: f64,
    /// How hard it is to reach, the larger the harder; as the user ranks them.
    pub reach: f64,
}

impl Stop {
    /// The minutes of one camera (common practice, no source): mount 5, aim 2, check 2.
    pub const USUAL_MINUTES: f64 = 9.0;

    /// How many times as long it takes in gloves (common practice, no source).
    pub const WITH_GLOVES: f64 = 1.5;
}

/// When one camera is done.
#[derive(Debug, Clone, PartialEq)]
pub struct Round {
    /// The camera.
    pub stop: Stop,
    /// Minutes from the start until it is begun.
    pub begins: f64,
    /// Minutes from the start until it is done.
    pub done: f64,
    /// Whether it is done while there is light, with time left to aim one camera again.
    pub fits: bool,
}

/// The order in which cameras are mounted, against the light that is left.
#[derive(Debug, Clone, PartialEq)]
pub struct Rounds {
    /// The minutes of light that there are for mounting: all less one that is aimed again.
    pub available_minutes: f64,
    /// Every camera, in the order in which they are to be mounted.
    pub rounds: Vec<Round>,
}

impl Rounds {
    /// The minutes that one camera's second aiming takes (common practice, no source): aim 2, check 2, and the walk.
    pub const REAIM_MINUTES: f64 = 5.0;

    /// Hardest to reach first (common practice, no source), since what is left over at the end is what can be mounted in a hurry;
    /// equals in the order they are given in. A camera that does not fit is passed over and those after it are
    /// still tried; it stands at the end.
    #[must_use]
    pub fn plan(stops: &[Stop], light_minutes: f64) -> Self {
        let available_minutes = (light_minutes - Self::REAIM_MINUTES).max(0.0);
        let mut order: Vec<&Stop> = stops.iter().collect();
        order.sort_by(|a, b| b.reach.total_cmp(&a.reach));
        let (mut rounds, mut late, mut clock) = (Vec::new(), Vec::new(), 0.0);
        for stop in order {
            let done = clock + stop.minutes;
            if done <= available_minutes {
                rounds.push(Round { stop: stop.clone(), begins: clock, done, fits: true });
                clock = done;
            } else {
                late.push(stop);
            }
        }
        for stop in late {
            let done = clock + stop.minutes;
            rounds.push(Round { stop: stop.clone(), begins: clock, done, fits: false });
            clock = done;
        }
        Self { available_minutes, rounds }
    }

    /// The minutes that all of them take.
    #[must_use]
    pub fn total_minutes(&self) -> f64 {
        self.rounds.last().map_or(0.0, |round| round.done)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stop(name: &str, minutes: f64, reach: f64) -> Stop {
        Stop { name: name.to_owned(), minutes, reach }
    }

    #[test]
    fn the_hardest_to_reach_comes_first_and_what_does_not_fit_is_named() {
        let stops = [stop("bow", 9.0, 1.0), stop("bridge", 20.0, 3.0), stop("helmet", 15.0, 2.0)];
        let plan = Rounds::plan(&stops, 40.0);
        let told: Vec<(&str, f64, bool)> =
            plan.rounds.iter().map(|r| (r.stop.name.as_str(), r.done, r.fits)).collect();
        assert_eq!(told, [("bridge", 20.0, true), ("helmet", 35.0, true), ("bow", 44.0, false)]);
        assert_eq!((plan.available_minutes, plan.total_minutes()), (35.0, 44.0));
    }

    #[test]
    fn a_long_one_that_does_not_fit_does_not_keep_out_a_short_one() {
        let stops = [stop("far bank", 60.0, 3.0), stop("bow", 9.0, 1.0)];
        let plan = Rounds::plan(&stops, 30.0);
        assert_eq!(plan.rounds[0].stop.name, "bow");
        assert!(plan.rounds[0].fits && !plan.rounds[1].fits);
    }

    #[test]
    fn without_light_nothing_fits() {
        let plan = Rounds::plan(&[stop("bow", 9.0, 1.0)], 0.0);
        assert!(!plan.rounds[0].fits);
        assert_eq!(Rounds::plan(&[], 60.0).total_minutes(), 0.0);
    }
}
