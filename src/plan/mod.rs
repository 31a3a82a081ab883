//! The plan: what was decided for each clip and deliverable, why, and with which inputs and limits.
//!
//! One versioned value that everything downstream reads: the JSON report is this value, the text report and
//! the hand-off files are made from it. Frames are numbers in the clip, from 0; ranges are half-open; lengths
//! are px of the displayed source frame unless a name says delivered.

mod asked;
mod clause;
mod conflict;
mod copied;
mod cut;
mod explain;
mod held;
mod lead;
mod look;
mod motion;
mod rank;
mod recording;
mod retime;
mod smear;
mod text;
mod travel;
mod turns;
mod value;
mod visit;
mod weak;
mod words;

pub use asked::{Asked, AskedFrame, ClauseBox, CostWeights};
pub use clause::{ClauseAsked, ClauseNote, clause_refusal_words, clause_remedy_words};
pub use conflict::{
    ConflictLimit, ConflictNote, ConflictValue, pin_refusal_words, pin_remedy_words,
};
pub use copied::{CopiedFrom, CopiedPath, Hurdle, MovedBack, NotCopied};
pub use cut::{CutReason, KeptAlone, PlannedCut};
pub use explain::explain_text;
pub use held::{SteadyNote, level_words};
pub use lead::{HeadingFrom, LeadAt, LeadNote, TravelAt};
pub use look::{
    Against, ApartBecause, ApartOutcome, Compared, OneLook, PlacedBy, PlannedApart, Shown,
    SizeBecause, Softer,
};
pub use rank::{Standing, rank, steps_between};
pub use recording::{inside_crop_words, recording_of};
pub use retime::PlanRetime;
pub use smear::SmearNote;
pub use text::report_text;
pub use travel::travel_words;
pub use turns::{TurnAt, turns_words};
pub use value::{
    ClipPlan, DeliverableFacts, Entry, InputFile, LimitUsed, OutputNote, PLAN_VERSION, PeakAt,
    Plan, PlanPart, PlannedSegment, Ranked, RefusedSegment, RemedyNote, Segment, SegmentOutcome,
    ShortAt, Step, TellingFrames, VariableRate,
};
pub use visit::VisitAt;
pub use weak::{WeakTrack, frames_words};
pub use words::{
    CAUTION, EnlargementLimit, deliverable_phrase, inside_words, px, refusal_words, remedy_words,
    starts_words, sum_across, sum_down, visit_words, why_words,
};
