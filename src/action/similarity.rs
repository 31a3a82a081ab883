/// A turn, an enlargement and a shift of the plane: `x' = a x − b y + right`, `y' = b x + a y + down`, with places
/// counted from the frame's centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Similarity {
    /// Enlargement times the cosine of the turn.
    pub(super) a: f64,
    /// Enlargement times its sine; clockwise is positive where y points down.
    pub(super) b: f64,
    pub(super) right: f64,
    pub(super) down: f64,
}

/// A place in the earlier frame and the same in the later one, from the frame's centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pair {
    pub(super) from: (f64, f64),
    pub(super) to: (f64, f64),
}

impl Similarity {
    pub(super) const NONE: Self = Self { a: 1.0, b: 0.0, right: 0.0, down: 0.0 };

    /// Radians clockwise.
    pub(super) fn roll_radians(&self) -> f64 {
        self.b.atan2(self.a)
    }

    /// How many times larger the later picture is.
    pub(super) fn zoom(&self) -> f64 {
        self.a.hypot(self.b)
    }

    pub(super) fn moved(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (self.a * x - self.b * y + self.right, self.b * x + self.a * y + self.down)
    }

    /// Where a place of the later frame was in the earlier one.
    pub(super) fn moved_back(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let (x, y) = (x - self.right, y - self.down);
        let square = (self.a * self.a + self.b * self.b).max(f64::MIN_POSITIVE);
        ((self.a * x + self.b * y) / square, (self.a * y - self.b * x) / square)
    }

    /// How far a pair is off, in px.
    pub(super) fn error_of(&self, pair: &Pair) -> f64 {
        let (x, y) = self.moved(pair.from);
        (x - pair.to.0).hypot(y - pair.to.1)
    }

    /// The similarity that is off least by the sum of weighted squares; `None` if the pairs are not apart.
    pub(super) fn fitted(weighted: &[(Pair, f64)]) -> Option<Self> {
        let weight: f64 = weighted.iter().map(|(_, weight)| weight).sum();
        if weight <= 0.0 {
            return None;
        }
        let mean = |of: fn(&Pair) -> f64| {
            weighted.iter().map(|(pair, weight)| weight * of(pair)).sum::<f64>() / weight
        };
        let from = (mean(|pair| pair.from.0), mean(|pair| pair.from.1));
        let to = (mean(|pair| pair.to.0), mean(|pair| pair.to.1));
        let (mut along, mut aside, mut square) = (0.0, 0.0, 0.0);
        for (pair, weight) in weighted {
            let (x, y) = (pair.from.0 - from.0, pair.from.1 - from.1);
            let (u, v) = (pair.to.0 - to.0, pair.to.1 - to.1);
            along += weight * (x * u + y * v);
            aside += weight * (x * v - y * u);
            square += weight * (x * x + y * y);
        }
        // Places that are all within a px of their middle tell nothing of a turn.
        if square <= weight {
            return None;
        }
        let (a, b) = (along / square, aside / square);
        let right = to.0 - a * from.0 + b * from.1;
        let down = to.1 - b * from.0 - a * from.1;
        Some(Self { a, b, right, down })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_pairs_give_their_similarity_back() {
        let turn = 3.0_f64.to_radians();
        let known =
            Similarity { a: 1.02 * turn.cos(), b: 1.02 * turn.sin(), right: 4.5, down: -2.0 };
        let pair = |from| (Pair { from, to: known.moved(from) }, 1.0);
        let found = Similarity::fitted(&[pair((-100.0, 30.0)), pair((80.0, -60.0))]).unwrap();
        assert!((found.roll_radians() - turn).abs() < 1e-12 && (found.zoom() - 1.02).abs() < 1e-12);
        assert!((found.right - 4.5).abs() < 1e-9 && (found.down + 2.0).abs() < 1e-9);
        let (x, y) = found.moved_back(found.moved((12.0, 7.0)));
        assert!((x - 12.0).abs() < 1e-9 && (y - 7.0).abs() < 1e-9);
    }

    #[test]
    fn places_on_one_spot_tell_nothing() {
        let pair = (Pair { from: (5.0, 5.0), to: (6.0, 5.0) }, 1.0);
        assert_eq!(Similarity::fitted(&[pair, pair]), None);
        assert_eq!(Similarity::fitted(&[]), None);
    }

    #[test]
    fn a_clockwise_turn_is_positive_where_y_points_down() {
        // A place right of the centre goes down.
        let quarter = Similarity { a: 0.0, b: 1.0, right: 0.0, down: 0.0 };
        assert_eq!(quarter.moved((10.0, 0.0)), (0.0, 10.0));
    }
}
