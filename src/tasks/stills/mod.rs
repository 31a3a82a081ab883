//! Stills: frames that are worth a thumbnail or a print, the sharpest in which the subject is large and clear, spread over the
//! clip, each cut out and all side by side.

mod answer;
mod choose;
mod measure;
mod place;
mod write;

pub use answer::{
    BlurAnswer, BlurOf, BoxesFrom, ClipStills, PrintAnswer, ScoreParts, Still, StillsDone,
    StillsFor, StillsOptions,
};
pub(super) use write::is_still;

use super::{
    CancelToken, Event, Observer, Outputs, TaskError,
    prepare::{PreparedClip, Wanted, prepare_wanted},
    tracks::{self, Kept},
};
use crate::{
    plan::recording_of,
    shoot::Shoot,
    subject::{Track, Wish},
};
use choose::{Candidate, Cut};
use measure::{Seen, Watched};
use place::{Placed, Placer, Target};

/// Finds the best stills of every clip, and writes them.
///
/// A clip without a subject is measured and cut as a whole. Frames on which the subject has no box, and on which no window holds it,
/// give no still; both are counted.
///
/// # Errors
/// As [`super::plan_shoot`], but that marks need not be there; [`TaskError::NoSuchClip`];
/// [`TaskError::NoSuchDeliverable`].
pub fn stills(
    options: &StillsOptions,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<StillsDone, TaskError> {
    let wanted = Wanted::Shown(options.clip.as_deref());
    let mut prepared = prepare_wanted(&options.shoot, wanted, (&mut *observer, cancel))?;
    let folder = options.out.clone().unwrap_or_else(|| prepared.shoot.outputs.clone());
    prepared.check_outputs(&folder)?;
    let targets = (prepared.clips.iter())
        .map(|clip| {
            let written = &prepared.shoot.clips[clip.place];
            Target::of(&options.wanted, (&prepared.shoot, written), &clip.resolved.usable)
        })
        .collect::<Result<Vec<_>, _>>()?;
    let mut outputs = Outputs::open(&folder)?;
    let mut clips = Vec::new();
    for (clip, target) in prepared.clips.iter_mut().zip(&targets) {
        let boxes_from = use_boxes(&prepared.shoot, clip, options)?;
        let job = Job { options, target, boxes_from };
        clips.push(job.done(clip, &mut outputs, (&mut *observer, cancel))?);
    }
    outputs.sweep(|name| clips.iter().any(|of| write::is_of(name, &of.clip, &of.purpose)))?;
    let notes = outputs.notes().iter();
    let kept = notes.map(|note| (note.kept.clone(), note.new.clone())).collect();
    let files = outputs.written().map(str::to_owned).collect();
    outputs.finish()?;
    Ok(StillsDone { folder, clips, files, kept })
}

/// Takes a clip's followed boxes where they are fresh, and a client's conditions off it where nothing is delivered to one.
fn use_boxes(
    shoot: &Shoot,
    clip: &mut PreparedClip,
    options: &StillsOptions,
) -> Result<Option<(BoxesFrom, Option<String>)>, TaskError> {
    if !options.wanted.is_deliverable() {
        clip.resolved.clauses.clear();
    }
    if !clip.resolved.tracks.iter().any(|track| track.wish() == Wish::Subject) {
        return Ok(None);
    }
    Ok(Some(match tracks::kept(shoot, &clip.resolved)? {
        Kept::None => (BoxesFrom::Marks, None),
        Kept::Stale => {
            let words =
                "its track was made from other marks or footage and is not used; follow it again";
            (BoxesFrom::Marks, Some(words.to_owned()))
        }
        Kept::Fresh(_, followings, table) => {
            tracks::use_followings(&mut clip.resolved, followings);
            (BoxesFrom::Track, table.said)
        }
    }))
}

/// The stills of one clip.
struct Job<'a> {
    options: &'a StillsOptions,
    target: &'a Target,
    /// And what is to be said of that; `None` without a subject.
    boxes_from: Option<(BoxesFrom, Option<String>)>,
}

/// Stills that were chosen, and what is told of the choice.
struct Chosen {
    stills: Vec<(Still, Placed)>,
    measured_frames: usize,
    without_window: usize,
    without_edges: usize,
    apart_secs: f64,
}

impl Job<'_> {
    fn done(
        &self,
        prepared: &mut PreparedClip,
        outputs: &mut Outputs,
        (observer, cancel): (&mut dyn Observer, &CancelToken),
    ) -> Result<ClipStills, TaskError> {
        let resolved = prepared.resolved.clone();
        let subject = main_subject(&resolved.tracks);
        let blur_of = if subject.is_some() { BlurOf::Subject } else { BlurOf::Picture };
        let mut watched = Watched { resolved: &resolved, subject, blur_of };
        let mut all = watched.look(&mut prepared.opened, (&mut *observer, cancel))?;
        while all.iter().all(|seen| seen.blur.is_none()) && watched.blur_of != BlurOf::Nothing {
            watched.blur_of = match watched.blur_of {
                BlurOf::Subject => BlurOf::Picture,
                BlurOf::Picture | BlurOf::Nothing => BlurOf::Nothing,
            };
            if watched.blur_of == BlurOf::Picture {
                all = watched.look(&mut prepared.opened, (&mut *observer, cancel))?;
            }
        }
        let chosen = self.chosen(prepared, &watched, all.clone(), (&mut *observer, cancel))?;
        let used_frames = resolved.clip.ranges.iter().map(|range| range.used.frame_count()).sum();
        let (stills, placed): (Vec<Still>, Vec<Placed>) = chosen.stills.into_iter().unzip();
        let mut answer = ClipStills {
            clip: resolved.clip.name.clone(),
            purpose: self.target.purpose.clone(),
            raster: resolved.clip.facts.raster,
            proxy: resolved.clip.proxy.map(|read| read.to_string()),
            subject: subject.map(|track| track.name().to_owned()),
            boxes_from: self.boxes_from.as_ref().map_or(BoxesFrom::NoSubject, |(from, _)| *from),
            blur_of: watched.blur_of,
            used_frames,
            without_subject: used_frames - all.len() as u64,
            measured_frames: chosen.measured_frames,
            without_window: chosen.without_window,
            without_edges: chosen.without_edges,
            apart_secs: chosen.apart_secs,
            least_share: self.options.least_share,
            stills,
            contact: None,
            notices: self.notices(prepared),
        };
        let blocked = &self.target.deliverable.blocked;
        let listened = (&mut *observer, cancel);
        write::write(&mut prepared.opened, (&mut answer, &placed), (blocked, outputs), listened)?;
        answer.notices.extend(prepared.opened.frames.take_remarks());
        Ok(answer)
    }

    fn chosen(
        &self,
        prepared: &mut PreparedClip,
        watched: &Watched<'_>,
        all: Vec<Seen>,
        (observer, cancel): (&mut dyn Observer, &CancelToken),
    ) -> Result<Chosen, TaskError> {
        let even_secs = used_secs(watched) / count_of(self.options.count);
        let apart_secs = self.options.apart_secs.unwrap_or(even_secs / 2.0);
        let first_sight = measure::at_first_sight(&all, watched.raster());
        // Four stretches to each still, however close those may be.
        let places = choose::worth_a_look(&first_sight, even_secs / 4.0);
        let mut seen: Vec<Seen> = places.iter().map(|place| all[*place]).collect();
        watched.measure(&mut prepared.opened, &mut seen, (&mut *observer, cancel))?;
        let without_edges = seen.iter().filter(|one| one.blur.is_none()).count();
        let sharpest = measure::sharpest(&seen);
        let placer = Placer::of(
            prepared,
            self.target,
            (&watched.resolved.tracks, self.options.least_share),
        )?;
        observer.hear(Event::Begins { stage: "placing windows", steps: seen.len() as u64 });
        let mut found = Vec::new();
        for one in &seen {
            observer.hear(Event::Step);
            cancel.check()?;
            if let Some(placed) = placer.place(one)? {
                found.push((self.still(watched, one, sharpest, &placed), placed));
            }
        }
        let candidates: Vec<Candidate> = found
            .iter()
            .map(|(still, _)| Candidate { secs: still.secs, score: still.score })
            .collect();
        let taken = choose::spread(&candidates, self.options.count, apart_secs);
        let (measured_frames, without_window) = (seen.len(), seen.len() - found.len());
        let mut found: Vec<Option<(Still, Placed)>> = found.into_iter().map(Some).collect();
        let stills = taken.into_iter().filter_map(|place| found[place].take()).collect();
        Ok(Chosen { stills, measured_frames, without_window, without_edges, apart_secs })
    }

    fn still(
        &self,
        watched: &Watched<'_>,
        seen: &Seen,
        sharpest: Option<f64>,
        placed: &Placed,
    ) -> Still {
        let clip = &watched.resolved.clip;
        let sharpness = measure::sharpness(seen, sharpest);
        let lie = placed.subject.map(|(_, lie)| lie);
        let is_cut = measure::is_cut_by_frame(seen, watched.raster());
        let cut = if is_cut { Cut::ByFrame } else { Cut::No };
        let parts = lie
            .map_or(ScoreParts { sharpness, size: 1.0, clear: 1.0, whole: 1.0 }, |lie| {
                lie.parts(sharpness, self.options.least_share, cut)
            });
        let (window, region) = (&placed.window, placed.subject.map(|(region, _)| region));
        let speed_px = watched.speed_px(seen);
        let smear_px = seen.blur.map(|blur| blur.extent_px());
        let blur_px = smear_px.into_iter().chain(speed_px).reduce(f64::max);
        Still {
            frame: seen.frame.0,
            timecode: clip.timecode_at(seen.frame).map(|code| code.to_string()),
            secs: seen.secs,
            score: parts.score(),
            parts,
            window_px: [window.left(), window.top(), window.width(), window.height()],
            roll_degrees: placed.roll_degrees,
            subject_px: region.map(|of| [of.left(), of.top(), of.width(), of.height()]),
            height_share: lie.map(|lie| lie.height_share),
            room_share: lie.map(|lie| lie.room_share),
            blur: seen.blur.as_ref().map(BlurAnswer::of),
            speed_px,
            enlargement: self
                .target
                .delivered()
                .map(|raster| recording_of(clip).enlargement(raster.width(), window.width())),
            print: PrintAnswer::of(
                (window.width(), window.height()),
                self.options.px_per_in,
                blur_px,
            ),
            file: write::file_name(&clip.name, &self.target.purpose, seen.frame.0),
        }
    }

    /// What should be known of a clip before its stills are used.
    fn notices(&self, prepared: &PreparedClip) -> Vec<String> {
        let clip = &prepared.resolved.clip;
        let mut notices: Vec<String> =
            prepared.opened.notices.iter().map(ToString::to_string).collect();
        notices.extend(self.boxes_from.iter().filter_map(|(_, words)| words.clone()));
        notices.extend(clip.proxy.map(|read| {
            format!(
                "the pictures were read from a proxy of {read}, and the files are in its px; every px told here is one of the \
                 full {}: take the frames from the full clip for print",
                clip.facts.raster
            )
        }));
        notices
    }
}

/// The subject that counts most.
fn main_subject(tracks: &[Track]) -> Option<&Track> {
    let subjects = tracks.iter().filter(|track| track.wish() == Wish::Subject);
    subjects.reduce(|one, other| one.more_important(other))
}

/// Seconds of capture in all used ranges.
fn used_secs(watched: &Watched<'_>) -> f64 {
    let timing = &watched.resolved.clip.facts.timing;
    let secs = |range: &crate::clip::UsedRange| {
        timing.seconds_at(range.used.end()) - timing.seconds_at(range.used.first())
    };
    watched.resolved.clip.ranges.iter().map(secs).sum()
}

fn count_of(count: usize) -> f64 {
    u32::try_from(count.max(1)).map_or(f64::from(u32::MAX), f64::from)
}
