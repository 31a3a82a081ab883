use super::json::print_json;
use lookroom::{
    media::MediaError,
    shoot::FaultKind,
    tasks::{Problem, TaskError, with_causes},
};
use std::{fmt::Write as _, io, io::Write as _};

/// Why the command ends without an answer.
pub(super) enum Failure {
    /// The task could not be done.
    Task(Box<TaskError>),
    /// The answer could not be printed.
    Print(io::Error),
}

impl From<TaskError> for Failure {
    fn from(error: TaskError) -> Self {
        Self::Task(Box::new(error))
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        Self::Print(error)
    }
}

impl Failure {
    /// Prints the fault, what it is about and what to do, readable without colour.
    pub(super) fn print(&self) {
        // Nothing more can be said if even this cannot be printed.
        let _ = anstream::stderr().write_all(self.text().as_bytes());
    }

    /// The fault in one line.
    pub(super) fn words(&self) -> String {
        match self {
            Self::Print(error) => with_causes(error),
            Self::Task(error) => with_causes(error.as_ref()),
        }
    }

    fn text(&self) -> String {
        let mut text = String::new();
        match self {
            Self::Print(error) => {
                let _ = writeln!(text, "error: the answer could not be printed: {error}");
            }
            Self::Task(error) => {
                let _ = writeln!(text, "error: {}", with_causes(error.as_ref()));
                if let TaskError::Problems { problems } = error.as_ref() {
                    for problem in problems {
                        let _ = writeln!(text, "  {problem}");
                    }
                }
                if let Some(hint) = hint(error) {
                    let _ = writeln!(text, "hint: {hint}");
                }
            }
        }
        text
    }
}

/// The faults of a shoot as JSON on standard output, for a program that asked for JSON; they are told on
/// standard error as well.
pub(super) fn print_faults_as_json(error: &TaskError) -> io::Result<()> {
    let TaskError::Problems { problems } = error else { return Ok(()) };
    let faults: Vec<_> = problems
        .iter()
        .map(|problem| {
            let (file, line) = problem.place();
            serde_json::json!({ "file": file, "line": line, "fault": problem.to_string() })
        })
        .collect();
    let mut out = anstream::stdout().lock();
    print_json(&serde_json::json!({ "faults": faults }), &mut out)
}

/// What to do, where that takes more than the fault's own words.
fn hint(error: &TaskError) -> Option<String> {
    let decoder_missing = |problem: &Problem| matches!(problem, Problem::Footage { error, .. } if matches!(**error, MediaError::DecoderMissing { .. }));
    let motion_missing = |problem: &Problem| {
        matches!(problem, Problem::Written(fault)
            if matches!(fault.kind, FaultKind::NoMotion { .. } | FaultKind::StaleMotion { .. }))
    };
    let clips_missing = |problem: &Problem| {
        matches!(problem, Problem::Written(fault)
            if matches!(fault.kind, FaultKind::Missing { key: "marks" | "clip", .. }))
    };
    match error {
        TaskError::Problems { problems } if problems.iter().all(clips_missing) => Some(
            "before anything is shot, `lookroom modes` and `lookroom mount` read this file without marks and clips".to_owned(),
        ),
        TaskError::Problems { problems } if problems.iter().any(motion_missing) => Some(
            "run `lookroom track` on the shoot file, which measures it, or name a file that tells it, for example \
             motion = \"motion.csv\""
                .to_owned(),
        ),
        TaskError::Problems { problems } if problems.iter().any(decoder_missing) => Some(
            "install ffmpeg (it brings ffprobe), or export the clip as numbered JPEG or PNG files and name \
             them with `frames` in the shoot file"
                .to_owned(),
        ),
        TaskError::ShapesDiffer { shape, .. } => {
            Some(format!("give --deliver rasters of the shape {shape}, or ask for each shape on its own"))
        }
        TaskError::NoSuchFrame { .. } => Some("frames of --overlays count from 0".to_owned()),
        TaskError::NoKit { brief } => Some(format!(
            "name it with --kit, or write kit = \"kit.csv\" in {}",
            brief.display()
        )),
        TaskError::Output { .. } => Some("choose another place with --out".to_owned()),
        _ => None,
    }
}
