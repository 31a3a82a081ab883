//! The integration tests: the library against outside values, and the whole command.
#![allow(clippy::float_cmp, reason = "tests compare with values worked out by hand")]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]
#![allow(clippy::print_stderr, reason = "a skipped test says why")]

mod aiming;
mod background;
mod before_mounting;
mod boxed_paths;
mod card;
mod card_plans;
mod clauses;
mod command;
mod cut_finding;
mod cuts;
mod day;
mod decoder_child;
mod demo;
mod eased_keys;
mod explain;
mod find_command;
mod footage;
mod held;
mod held_suggestion;
mod hidden;
mod inside_crop;
mod layers;
mod lead_room;
mod leave;
mod lens;
mod marking_sheet;
mod measured_motion;
mod mount_sheet;
mod mounts;
mod no_path;
mod objective;
mod one_look;
mod optimum;
mod pace;
mod predicted_frame;
mod properties;
mod published;
mod python;
mod readme;
mod real_clips;
mod recomputed;
mod recomputed_clauses;
mod refusals;
mod rerun;
mod retimes;
mod ride;
mod session;
mod sharpness;
mod smear;
mod still_blur;
mod stills;
mod sync;
mod takes;
mod track_command;
mod tracking;
mod trade;
mod turns;
mod two_subjects;
mod widths;

#[path = "../oracle/general.rs"]
mod general;
