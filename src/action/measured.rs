use super::{BackgroundMotion, MeasuredBy, MeasuredStep};
use std::io::Write;

/// The measured way of a clip's background: a step for each frame, from the frame before. The first frame has none, nor
/// has one after a cut, nor one that nothing could be told of.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MeasuredMotion {
    steps: Vec<Option<MeasuredStep>>,
}

impl MeasuredMotion {
    /// Steps of less confidence are better left out. Chosen: a fifth is where ten corners agree out of fifteen in half of
    /// the frame.
    pub const LEAST_CONFIDENCE: f64 = 0.2;

    /// Takes what a meter said of the next frame.
    pub fn push(&mut self, step: Option<MeasuredStep>) {
        self.steps.push(step);
    }

    /// The steps so far, the first frame's first.
    #[must_use]
    pub fn steps(&self) -> &[Option<MeasuredStep>] {
        &self.steps
    }

    /// The steps of at least this confidence, as the planner takes them; others are gaps.
    #[must_use]
    pub fn trusted(&self, least_confidence: f64) -> BackgroundMotion {
        let trusted = |step: &Option<MeasuredStep>| {
            step.filter(|step| step.confidence >= least_confidence).map(|step| step.step)
        };
        BackgroundMotion::new(self.steps.iter().map(trusted).collect())
    }

    /// Writes the steps of at least this confidence of some clips as a motion file: `clip,frame,dx,dy,roll_degrees`, in
    /// px of the whole clip. A frame without a trusted step has no row, and one that was correlated no roll.
    ///
    /// # Errors
    /// Whatever the writer says.
    pub fn write(
        clips: &[(&str, &Self)],
        least_confidence: f64,
        to: &mut dyn Write,
    ) -> Result<(), csv::Error> {
        let mut rows = csv::Writer::from_writer(to);
        rows.write_record(["clip", "frame", "dx", "dy", "roll_degrees"])?;
        for (clip, motion) in clips {
            for (frame, measured) in motion.steps.iter().enumerate() {
                let Some(measured) = measured.filter(|step| step.confidence >= least_confidence)
                else {
                    continue;
                };
                let step = &measured.step;
                let roll = match measured.by {
                    MeasuredBy::Corners => written(step.roll_radians.to_degrees(), 5),
                    MeasuredBy::Correlation => String::new(),
                };
                let (across, down) = (written(step.across_px, 4), written(step.down_px, 4));
                rows.write_record([clip, frame.to_string().as_str(), &across, &down, &roll])?;
            }
        }
        rows.flush()?;
        Ok(())
    }
}

/// So many decimals: px to what a tracker tells, degrees to what moves the corner of an 8K frame by a tenth of a px or
/// less.
fn written(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    // A minus before nothing but zeros says nothing.
    if text.trim_start_matches('-').bytes().all(|byte| matches!(byte, b'0' | b'.')) {
        return text.trim_start_matches('-').to_owned();
    }
    text
}

#[cfg(test)]
mod tests {
    use super::super::BackgroundStep;
    use super::*;

    fn measured(across_px: f64, confidence: f64, by: MeasuredBy) -> Option<MeasuredStep> {
        let step = BackgroundStep { across_px, down_px: -0.000_01, roll_radians: 0.01 };
        Some(MeasuredStep { step, zoom: 1.0, confidence, by })
    }

    #[test]
    fn trusted_steps_are_written_and_others_are_gaps() {
        let mut motion = MeasuredMotion::default();
        motion.push(None);
        motion.push(measured(2.5, 0.9, MeasuredBy::Corners));
        motion.push(measured(-4.0, 0.1, MeasuredBy::Corners));
        motion.push(measured(-1.25, 0.4, MeasuredBy::Correlation));
        let mut text = Vec::new();
        MeasuredMotion::write(&[("bridge, left", &motion)], 0.2, &mut text).unwrap();
        assert_eq!(
            String::from_utf8(text).unwrap(),
            "clip,frame,dx,dy,roll_degrees\n\
             \"bridge, left\",1,2.5000,0.0000,0.57296\n\
             \"bridge, left\",3,-1.2500,0.0000,\n"
        );
        assert_eq!(motion.trusted(0.2).is_known_in(0..4), [false, true, false, true]);
    }
}
