use super::{
    FaultKind, WrittenRange,
    page::Page,
    table::{TableReader, Written},
    value::{moment, number, one_of, wrong_type},
};
use crate::{
    clip::Play,
    timecode::{RampLaw, Speed},
};
use toml::de::DeValue;

/// One retime of a clip, as it was written.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenRetime {
    /// The frames.
    pub frames: WrittenRange,
    /// How fast they are played.
    pub speed: WrittenSpeed,
}

/// A speed as it was written; every share of real time in it is in range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WrittenSpeed {
    /// All of it is known.
    Known(Speed),
    /// A ramp that does not say what changes evenly in it, so that its length is not known.
    WithoutLaw {
        /// The speed at the first frame.
        from: f64,
        /// The speed at the first frame after the last.
        to: f64,
    },
}

const LAWS: [(&str, RampLaw); 2] = [
    (RampLaw::LinearInSource.name(), RampLaw::LinearInSource),
    (RampLaw::LinearInTimeline.name(), RampLaw::LinearInTimeline),
];

/// Reads the retimes of a clip. Whether they follow on each other is seen when timecodes have become frames.
pub(super) fn retimes(table: &mut TableReader<'_>, play: Play) -> Vec<WrittenRetime> {
    const EXPECTED: &str = "a list such as [ { from = 0, to = 200, speed = 0.5 } ]; leave it out for a clip that is not retimed";
    let page = table.page();
    let written = table.list("retimes", EXPECTED).unwrap_or_default();
    if table.has("retimes") && play == Play::EveryFrame {
        table.fault("retimes", FaultKind::RetimedEveryFrame);
    }
    written.iter().filter_map(|entry| retime(page, entry)).collect()
}

fn retime(page: &Page<'_>, entry: &Written<'_>) -> Option<WrittenRetime> {
    let label = "a retime such as { from = 0, to = 200, speed = 0.5 }";
    let mut table = TableReader::open(page, entry, label)?;
    let from = table.need("from", "the first frame", moment);
    let to = table.need("to", "the first frame after the retime", moment);
    let speed = table.need("speed", "a share of real time, such as 0.25", speed);
    let law = table.take("law", one_of(&LAWS));
    if matches!(speed, Some(WrittenSpeed::Known(_))) && table.has("law") {
        table.fault("law", FaultKind::LawWithoutRamp);
    }
    let line = table.line();
    table.finish();
    let frames = WrittenRange { from: from?, to: to?, line };
    if let Some(Err(kind)) = frames.in_frames() {
        page.fault(Some(line), Some("retimes".to_owned()), kind);
    }
    let speed = match (speed?, law) {
        (WrittenSpeed::WithoutLaw { from, to }, Some(law)) => {
            WrittenSpeed::Known(Speed::Ramp { from, to, law })
        }
        (speed, _) => speed,
    };
    Some(WrittenRetime { frames, speed })
}

/// One share of real time, or the two ends of a ramp, whose law is written beside it.
fn speed(value: &DeValue<'_>) -> Result<WrittenSpeed, FaultKind> {
    let share = |value: &DeValue<'_>| {
        let share = number(value)?;
        Speed::Constant(share).checked()?;
        Ok::<f64, FaultKind>(share)
    };
    match value {
        DeValue::Array(ends) => {
            let [from, to] = &ends[..] else {
                return Err(FaultKind::NotTwoSpeeds { found: ends.len() });
            };
            let (from, to) = (share(from.get_ref())?, share(to.get_ref())?);
            Ok(WrittenSpeed::WithoutLaw { from, to })
        }
        DeValue::Integer(_) | DeValue::Float(_) => {
            Ok(WrittenSpeed::Known(Speed::Constant(share(value)?)))
        }
        _ => Err(wrong_type("a share of real time such as 0.25, or [1.0, 0.25] for a ramp", value)),
    }
}
