use super::similarity::{Pair, Similarity};

/// What most pairs agree on.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Consensus {
    pub(super) similarity: Similarity,
    /// Which pairs agree, by their places in the list, rising.
    pub(super) agreeing: Vec<usize>,
    /// The middle of their errors in px.
    pub(super) median_error_px: f64,
}

/// How far a pair may be off and still agree: what the published feature paths use, 1.5 px. (From memory.)
const AGREE_PX: f64 = 1.5;
/// Draws at most. Two right pairs in one draw come, with 30 % of right ones, in 11 draws on average, and in 400 draws
/// but once in 10^16.
const MOST_DRAWS: u32 = 400;
/// A draw that is certain to this is the last: common practice.
const SURE: f64 = 0.999;
/// No camera turns or zooms more than this from one frame to the next; a draw that says so is from wrong pairs.
/// Chosen: 0.2 rad are 570 degrees a second at 50 frames/s.
const GREATEST_ROLL: f64 = 0.2;
const GREATEST_ZOOM: f64 = 1.25;

/// The similarity that most pairs agree on, by drawing two at a time ("Random sample consensus", Communications of the
/// ACM, 1981; scored by the errors of those that agree as in "MLESAC", Computer Vision and Image Understanding, 2000;
/// both from memory), then fitted to all that agree, the worse the less ("robust regression using iteratively
/// reweighted least squares", Communications in Statistics, 1977, from memory, with the biweight).
///
/// The draws are the same for the same pairs. `None` with fewer than four pairs, or where no draw is a motion that a
/// camera makes.
pub(super) fn consensus(pairs: &[Pair], seed: u64) -> Option<Consensus> {
    if pairs.len() < 4 {
        return None;
    }
    let mut best: Option<(f64, Similarity)> = None;
    let (mut draws, mut needed) = (0, MOST_DRAWS);
    let mut random = Draws { state: seed };
    while draws < needed {
        draws += 1;
        let (one, other) = (random.below(pairs.len()), random.below(pairs.len()));
        let drawn = [(pairs[one], 1.0), (pairs[other], 1.0)];
        let Some(similarity) = Similarity::fitted(&drawn).filter(is_likely) else { continue };
        let (cost, agreeing) = cost(pairs, &similarity);
        if best.as_ref().is_none_or(|(least, _)| cost < *least) {
            best = Some((cost, similarity));
            needed = needed.min(draws_for(agreeing as f64 / pairs.len() as f64));
        }
    }
    refined(pairs, best?.1)
}

fn is_likely(similarity: &Similarity) -> bool {
    let zoom = similarity.zoom();
    similarity.roll_radians().abs() <= GREATEST_ROLL
        && (1.0 / GREATEST_ZOOM..=GREATEST_ZOOM).contains(&zoom)
}

/// The sum of squares with each capped at the square of what agrees, and how many agree.
fn cost(pairs: &[Pair], similarity: &Similarity) -> (f64, usize) {
    let (mut sum, mut agreeing) = (0.0, 0);
    for pair in pairs {
        let error = similarity.error_of(pair);
        sum += error.min(AGREE_PX).powi(2);
        agreeing += usize::from(error < AGREE_PX);
    }
    (sum, agreeing)
}

/// How many draws are enough if this share of the pairs is right.
fn draws_for(share: f64) -> u32 {
    let wrong = (1.0 - share * share).clamp(1e-9, 1.0 - 1e-9);
    let draws = ((1.0 - SURE).ln() / wrong.ln()).ceil().max(8.0);
    (1..MOST_DRAWS).find(|count| f64::from(*count) >= draws).unwrap_or(MOST_DRAWS)
}

/// Fits again to the pairs that agree, each with less weight the further it is off.
fn refined(pairs: &[Pair], mut similarity: Similarity) -> Option<Consensus> {
    for _ in 0..8 {
        let errors: Vec<f64> = pairs.iter().map(|pair| similarity.error_of(pair)).collect();
        let near: Vec<f64> = errors.iter().copied().filter(|error| *error < AGREE_PX).collect();
        // Where all is exact the reach would vanish and leave nothing to fit; a tenth of a px is what tracks have.
        let reach = (6.0 * median(near)).clamp(0.1, 2.0 * AGREE_PX);
        let weighted: Vec<(Pair, f64)> = pairs
            .iter()
            .zip(&errors)
            .filter(|(_, error)| **error < reach)
            .map(|(pair, error)| (*pair, (1.0 - (error / reach).powi(2)).powi(2)))
            .collect();
        similarity = Similarity::fitted(&weighted)?;
    }
    let agreeing: Vec<usize> =
        (0..pairs.len()).filter(|at| similarity.error_of(&pairs[*at]) < AGREE_PX).collect();
    let median_error_px =
        median(agreeing.iter().map(|at| similarity.error_of(&pairs[*at])).collect());
    is_likely(&similarity).then_some(Consensus { similarity, agreeing, median_error_px })
}

/// The middle value; 0 of none.
pub(super) fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

/// Numbers that look drawn and are the same for the same seed ("Fast splittable pseudorandom number generators",
/// OOPSLA, 2014; constants from memory).
struct Draws {
    state: u64,
}

impl Draws {
    fn below(&mut self, count: usize) -> usize {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.state;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        let high = (mixed ^ (mixed >> 31)) >> 32;
        // Scaled rather than divided: the high bits are the good ones.
        usize::try_from((high * count as u64) >> 32).unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pairs on a grid, moved by a known similarity with a little known unrest; the last so many are elsewhere.
    fn pairs(known: &Similarity, wrong: usize) -> Vec<Pair> {
        let mut pairs: Vec<Pair> = (0..100_u32)
            .map(|at| {
                let from = (f64::from(at % 10) * 60.0 - 270.0, f64::from(at / 10) * 32.0 - 144.0);
                let (x, y) = known.moved(from);
                let unrest = f64::from(at * 7 % 5) * 0.05 - 0.1;
                Pair { from, to: (x + unrest, y - unrest) }
            })
            .collect();
        for (step, pair) in pairs.iter_mut().rev().take(wrong).enumerate() {
            pair.to = (pair.from.0 + 9.0 + (step % 3) as f64, pair.from.1 - 6.0);
        }
        pairs
    }

    #[test]
    fn what_most_agree_on_is_found_among_others_that_move_together() {
        let known = Similarity { a: 1.01, b: 0.02, right: -3.0, down: 5.0 };
        let found = consensus(&pairs(&known, 45), 7).unwrap();
        assert_eq!(found.agreeing, (0..55).collect::<Vec<_>>());
        // The places that are left are all in the upper half, so that the centre is at their edge.
        assert!((found.similarity.right + 3.0).abs() < 0.06, "{found:?}");
        assert!((found.similarity.b - 0.02).abs() < 4e-4 && found.median_error_px < 0.2);
        assert_eq!(consensus(&pairs(&known, 45), 7), Some(found), "the same again");
    }

    #[test]
    fn too_few_pairs_and_impossible_motions_are_nothing() {
        let known = Similarity { a: 1.0, b: 0.0, right: 1.0, down: 0.0 };
        assert_eq!(consensus(&pairs(&known, 0)[..3], 1), None);
        let turned = Similarity { a: 0.0, b: 1.0, right: 0.0, down: 0.0 };
        assert_eq!(consensus(&pairs(&turned, 0), 1), None);
    }

    #[test]
    fn even_pairs_do_not_run_out_of_weight() {
        let known = Similarity { a: 1.0, b: 0.0, right: 2.0, down: 0.0 };
        let exact: Vec<Pair> = pairs(&known, 0)
            .into_iter()
            .map(|pair| Pair { to: known.moved(pair.from), ..pair })
            .collect();
        let found = consensus(&exact, 3).unwrap();
        assert_eq!(found.agreeing.len(), 100);
        assert!((found.similarity.right - 2.0).abs() < 1e-9);
    }
}
