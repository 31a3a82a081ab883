//! Lead room: a subject that goes somewhere is wanted with more of the window ahead of it than behind it.

use super::{decide::Case, requests::hull, stand::Stand};
use crate::{
    clip::UsedRange,
    delivery::{Limit, Limits},
    geometry::{Region, Window},
    pan::Request,
    plan::{HeadingFrom, LeadAt, LeadNote, TravelAt},
    subject::{Heading, HeadingRules, Headings, Track, Waypoint, Wish},
    timecode::FrameRange,
};

impl Case<'_> {
    /// The lead room of a path whose windows are in px of the picture as it stands.
    pub(super) fn lead_note(
        &self,
        request: &Request,
        range: UsedRange,
        windows: &[Window],
    ) -> Option<LeadNote> {
        // Without lead room there is nothing to stand for.
        self.limits.value(Limit::LeadRoom)?;
        // What it is asked with stood before.
        let stand = self.stand(range).ok()?;
        let lead = Lead::of(request, self.tracks, range.used, (&stand, self.limits))?;
        Some(lead.note(request, range.used, (windows, self.limits)))
    }
}

/// Where the subjects of a used range are in the levelled picture, and which way they go.
pub(super) struct Lead {
    /// The box round all of them, a used frame each.
    hulls: Vec<Option<Region>>,
    /// When each frame is shown, in timeline seconds from the first.
    secs: Vec<f64>,
    headings: Headings,
    is_against_background: bool,
    /// How much more room is wanted ahead than behind.
    ahead_over_behind: f64,
}

impl Lead {
    /// Of a used range; `None` where no lead room is wanted. Widths are the request's preferred one.
    pub(super) fn of(
        request: &Request,
        tracks: &[Track],
        used: FrameRange,
        (stand, limits): (&Stand, &Limits),
    ) -> Option<Self> {
        let ahead_over_behind = limits.value(Limit::LeadRoom)?;
        let boxes: Vec<Boxes> = (used.frames().enumerate())
            .map(|(index, frame)| {
                let level = stand.level_at(index);
                let subjects = tracks.iter().enumerate().filter(|(_, t)| t.wish() == Wish::Subject);
                subjects
                    .filter_map(|(place, t)| {
                        Some((place, level.levelled_hull(&t.at(frame)?.region)))
                    })
                    .collect()
            })
            .collect();
        let step_secs = request.pace.mean_step_secs();
        let secs: Vec<f64> =
            request.pace.starts(used_count(used)).iter().map(|start| start * step_secs).collect();
        let background = stand.background_across();
        let way = way(&boxes, &secs, (background.as_deref(), request.reference_width()));
        // A heading that does not outlast its own turn would never be leaned to.
        let least_secs = limits.value(Limit::Reversal).unwrap_or(0.0).max(Headings::TURN_SECS);
        let least_widths_per_sec = limits.number(Limit::HeadingSpeed);
        Some(Self {
            headings: Headings::of(&way, &HeadingRules { least_widths_per_sec, least_secs }),
            hulls: boxes.iter().map(|boxes| hull_of(boxes, |_| true)).collect(),
            secs,
            is_against_background: background.is_some(),
            ahead_over_behind,
        })
    }

    /// Moves the wanted points of a request across.
    ///
    /// With `s` of the box on its left and of the window's free part left of it too, the room left and right of the box is
    /// as `s` to `1 - s` whatever the widths of both: the point at a share of the box goes to that share of the window.
    pub(super) fn place(&self, request: &mut Request) {
        let free = 1.0 - request.blocked.left - request.blocked.right;
        let most = (self.ahead_over_behind - 1.0) / (self.ahead_over_behind + 1.0);
        for ((wish, hull), secs) in request.frames.iter_mut().zip(&self.hulls).zip(&self.secs) {
            let (Some(point), Some(hull)) = (&mut wish.point, hull) else { continue };
            let share = 0.5 - 0.5 * most * self.headings.lean(*secs);
            point.at.x = hull.left() + share * hull.width();
            point.place.across = request.blocked.left + share * free;
        }
    }

    /// What lead these windows leave, while no change of heading is in progress.
    pub(super) fn note(
        &self,
        request: &Request,
        used: FrameRange,
        (windows, limits): (&[Window], &Limits),
    ) -> LeadNote {
        let rooms: Vec<Room> = (0..windows.len())
            .filter_map(|index| self.room(request, &windows[index], index))
            .collect();
        let at = |room: &Room| LeadAt {
            frame: used.frame_at(room.index),
            ahead_px: room.ahead_px,
            behind_px: room.behind_px,
        };
        let least_room = rooms.iter().map(at).reduce(|least, next| {
            if next.ahead_over_behind() < least.ahead_over_behind() - 1e-9 { next } else { least }
        });
        let travels = rooms.iter().filter_map(|room| {
            let secs = self.travel_secs(&rooms, room)?;
            Some(TravelAt { frame: used.frame_at(room.index), secs })
        });
        let from = |frame, heading| HeadingFrom { frame, heading };
        let changes = self.headings.changes().iter().map(|(secs, heading)| {
            from(used.frame_at(self.secs.partition_point(|start| start < secs)), *heading)
        });
        LeadNote {
            wanted: self.ahead_over_behind,
            headings: std::iter::once(from(used.first(), self.headings.at(f64::NEG_INFINITY)))
                .chain(changes)
                .collect(),
            is_against_background: self.is_against_background,
            least_room,
            least_travel: travels
                .reduce(|least, next| if next.secs < least.secs - 1e-9 { next } else { least }),
            least_secs: limits.value(Limit::LeadSecs),
        }
    }

    /// The room ahead of the subject and behind it in what is free of the window; `None` where it is not tracked or
    /// has no settled heading.
    fn room(&self, request: &Request, window: &Window, index: usize) -> Option<Room> {
        let (hull, secs) = ((*self.hulls.get(index)?)?, *self.secs.get(index)?);
        let heading = self.headings.at(secs);
        let free_left = window.left() + request.blocked.left * window.width();
        let free_right = window.right() - request.blocked.right * window.width();
        let (left, right) = (hull.left() - free_left, free_right - hull.right());
        let (ahead_px, behind_px) = match heading {
            Heading::Right => (right, left),
            Heading::Left => (left, right),
            Heading::Nowhere => return None,
        };
        self.headings.is_settled(secs).then_some(Room { index, heading, ahead_px, behind_px })
    }

    /// How long the subject needs to the edge ahead of it, at the speed at which it comes nearer to it over a second
    /// about a frame; `None` where it does not.
    fn travel_secs(&self, rooms: &[Room], room: &Room) -> Option<f64> {
        /// Speeds are taken over so long, so that what marks are off by a px or two is no speed. Chosen.
        const OVER_SECS: f64 = 1.0;
        /// Px a second below which it comes no nearer: what rounding and a solver leave. Chosen.
        const STILL_PX_PER_SEC: f64 = 1.0;
        let secs = |room: &Room| self.secs[room.index];
        let from = rooms.partition_point(|other| secs(other) < secs(room) - 0.5 * OVER_SECS);
        let to = rooms.partition_point(|other| secs(other) <= secs(room) + 0.5 * OVER_SECS);
        let mut about = rooms.get(from..to)?.iter().filter(|other| other.heading == room.heading);
        let (first, last) = (about.clone().next()?, about.next_back()?);
        let nearer_px_per_sec = (first.ahead_px - last.ahead_px) / (secs(last) - secs(first));
        (nearer_px_per_sec > STILL_PX_PER_SEC).then(|| room.ahead_px.max(0.0) / nearer_px_per_sec)
    }
}

/// The room on both sides of a subject on its way.
struct Room {
    index: usize,
    heading: Heading,
    ahead_px: f64,
    behind_px: f64,
}

/// The boxes of a frame's subjects, each with the place of its track.
type Boxes = Vec<(usize, Region)>;

fn used_count(used: FrameRange) -> usize {
    used.frames().count()
}

/// The box round those of a frame's subjects that count.
fn hull_of(boxes: &Boxes, counts: impl Fn(usize) -> bool) -> Option<Region> {
    let regions: Vec<Region> =
        boxes.iter().filter(|(place, _)| counts(*place)).map(|(_, region)| *region).collect();
    hull(&regions)
}

/// The way of the subjects' middle across, less that of the background, from tracked frame to tracked frame. One that
/// comes or goes does not move the middle of the others; where none is left, or the background's way between is not
/// known, another leg begins.
fn way(
    boxes: &[Boxes],
    secs: &[f64],
    (background, width_px): (Option<&[(f64, bool)]>, f64),
) -> Vec<Waypoint> {
    let mut way: Vec<Waypoint> = Vec::new();
    let mut before: Option<usize> = None;
    for (index, now) in boxes.iter().enumerate().filter(|(_, boxes)| !boxes.is_empty()) {
        let point = before.zip(way.last()).map(|(before, point)| {
            let step_px = subject_step_px((&boxes[before], now))
                .zip(background_step_px(background, (before, index)))
                .map(|(subject_px, background_px)| subject_px - background_px);
            Waypoint {
                secs: secs[index],
                widths: point.widths + step_px.unwrap_or(0.0) / width_px,
                leg: point.leg + usize::from(step_px.is_none()),
            }
        });
        way.push(point.unwrap_or(Waypoint { secs: secs[index], widths: 0.0, leg: 0 }));
        before = Some(index);
    }
    way
}

/// How far the middle of those subjects moved that are tracked at both frames.
fn subject_step_px((before, now): (&Boxes, &Boxes)) -> Option<f64> {
    let is_in = |boxes: &Boxes, place: usize| boxes.iter().any(|(other, _)| *other == place);
    let from = hull_of(before, |place| is_in(now, place))?;
    let to = hull_of(now, |place| is_in(before, place))?;
    Some(to.centre_x() - from.centre_x())
}

/// How far the background moved from one frame to another: not at all where nothing is known of its motion, and `None`
/// where only a part of it is.
fn background_step_px(
    background: Option<&[(f64, bool)]>,
    (before, now): (usize, usize),
) -> Option<f64> {
    let Some(background) = background else { return Some(0.0) };
    let is_known = background.get(before + 1..=now)?.iter().all(|(_, is_known)| *is_known);
    is_known.then(|| background[now].0 - background[before].0)
}
