//! The path planner: wanted places and limits in, a window per frame and an outcome out.
//!
//! One run of frames without a cut, one shape. Three ways are tried, simplest first: *hold*, one still window;
//! *moves*, a few still windows joined by eased moves ([`moves`]); and *follow*, the path that minimises
//! `∫|ṗ|dt + β∫|p̈|²dt + λ∫hinge dt` for p = x, y and width under every hard limit. Speed in the first power makes the window stand still where it can; squared acceleration makes
//! it start and stop gently. ("Auto-Directed Video Stabilization with Robust L1 Optimal Camera Paths", CVPR
//! 2011, is where first-power terms for camera paths come from; a third derivative is left out on purpose,
//! since it does not help here and a patent, US 8,531,535 B2, claims the three together.)
//!
//! This room knows neither marks nor pictures: callers turn tracks and rules into a [`Request`]. An outcome,
//! a refusal included, is a value and not an error.

mod assess;
mod choose;
mod clause;
mod conflict;
mod cut;
mod follow;
mod frame_rows;
mod hold;
mod leave;
mod look;
mod moves;
mod objective;
mod pace;
mod program;
mod refuse;
mod request;
mod sides;
mod speed;
mod starts;
mod still;
#[cfg(test)]
mod testing;
mod travel;
mod turns;

pub use assess::{Assessment, Axis, ShortFrame, Verdict, missing_px};
pub use choose::{Outcome, Planned, Reason, Way, plan};
pub use clause::{Clash, Clause, ClauseFailing, ClauseKept};
pub use conflict::{ConflictFacts, HardLimit, Missing, conflict_facts};
pub use cut::{between_two_holds, cut_bounds, first_without_room};
pub use follow::{Session, follow};
pub use leave::{Visit, crossing_secs, visits};
pub use look::{Alone, Apart, Shared, share_look};
pub use moves::{Ease, Hold, Move, MoveRules, Moves, moves, moves_objective};
pub use objective::Objective;
pub use pace::Pace;
pub use refuse::{Cause, Refusal, Remedy};
pub use request::{
    FrameWish, Insets, KeepOut, Pin, Place, PlacedPoint, Request, RequiredBox, Roll, Rules, Smear,
    Weights, WishedBox,
};
pub use sides::{MOST_KEEP_OUTS, Side};
pub use speed::{Peak, peak_speed};
pub use starts::{StillStarts, still_starts};
pub use travel::{Beyond, Travel, Within, follow_within, travel_of_look};
pub use turns::{QuickTurn, quick_turns};

/// Why no outcome could be computed at all.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PanError {
    /// A request without frames.
    #[error("there is no frame to plan")]
    NoFrames,
    /// A pin beyond the run's frames.
    #[error("a pin at frame {index} of the run is beyond its {frame_count} frames")]
    PinBeyondRun {
        /// Frames after the run's first.
        index: usize,
        /// How many frames the run has.
        frame_count: usize,
    },
    /// A step that no timeline can take.
    #[error(
        "the step after frame {index} of the run is {step_secs} s; expected above 0 s and finite"
    )]
    Step {
        /// Frames after the run's first.
        index: usize,
        /// How long it is said to be.
        step_secs: f64,
    },
    /// An uneven pace that is not the run's.
    #[error(
        "{steps} steps are given for a run of {frame_count} frames; expected one for each frame"
    )]
    StepCount {
        /// How many steps there are.
        steps: usize,
        /// How many frames the run has.
        frame_count: usize,
    },
    /// More things to keep out than there are sides to try.
    #[error(
        "{count} things are to be kept out, and at most {limit} can be; mark those side by side as one"
    )]
    TooManyKeepOuts {
        /// How many there are.
        count: usize,
        /// How many there may be.
        limit: usize,
    },
    /// The solver found no path that keeps the hard limits, and no proof that there is none: a fault of ours.
    #[error("no path was found that keeps the hard limits, and no proof that there is none")]
    Undecided,
    /// The solver's answer breaks a limit by more than rounding, which is a fault of ours.
    #[error("the solved path breaks a limit by {excess_px:.4} px at frame {index} of the run")]
    Unsound {
        /// Frames after the run's first.
        index: usize,
        /// By how much.
        excess_px: f64,
    },
}
