//! The windows of several shapes that share a look: as high as each other where that can be had, and with the
//! subject equally far down.

use super::{
    super::{PlacedPoint, Request, hold, sides::Area},
    candidates::{Kept, Wanted, centre, clusters, kept, needed_width, rounded, starts},
    member::{Part, Scene},
};
use crate::geometry::Window;

/// The candidates of shapes together: what the frames want of all of them, thinned, and still windows.
pub(super) fn together(scenes: &[Scene<'_>]) -> Vec<Vec<Window>> {
    let frame_count = scenes.first().map_or(0, |scene| scene.request.frame_count());
    let widths: Vec<f64> = scenes.iter().map(|scene| scene.request.reference_width()).collect();
    let round = |wanted: &Vec<Wanted>| -> Option<Vec<Window>> {
        let one = |(scene, wanted): (&Scene<'_>, &Wanted)| {
            rounded(scene.request, &Area::usable(scene.request, 0), wanted)
        };
        scenes.iter().zip(wanted).map(one).collect()
    };
    let own =
        |scene: &Scene<'_>| hold::best(scene.request, &Area::still(scene.request, scene.sides));
    let own: Option<Vec<Window>> = scenes.iter().map(own).collect();
    let alike = own.as_ref().and_then(|own| still_alike(scenes, own));
    let mut wanted: Vec<Vec<Wanted>> =
        (0..frame_count).filter_map(|index| wanted_at(scenes, index)).collect();
    let one_stands = scenes.iter().any(|scene| scene.part == Part::Standing);
    if one_stands {
        let Some(still) = &alike else { return Vec::new() };
        wanted.iter_mut().for_each(|wanted| level(scenes, wanted, still));
    }
    let alike = alike.as_ref().and_then(round);
    let mut windows: Vec<Vec<Window>> = Vec::new();
    let rounded = clusters(&wanted, &widths).iter().filter_map(round).collect::<Vec<_>>();
    for next in alike.into_iter().chain(own.filter(|_| !one_stands)).chain(rounded) {
        if !windows.contains(&next) {
            windows.push(next);
        }
    }
    windows
}

/// Windows as they are wanted, but as far down and as large as still ones; those that stand are these.
fn level(scenes: &[Scene<'_>], wanted: &mut [Wanted], still: &[Wanted]) {
    for ((scene, wanted), still) in scenes.iter().zip(wanted).zip(still) {
        if scene.part == Part::Standing {
            *wanted = *still;
            continue;
        }
        let usable = Area::usable(scene.request, 0);
        let half = still.width / 2.0;
        let x = wanted.x.min(usable.right - half).max(usable.left + half);
        *wanted = Wanted { x, ..*still };
    }
}

/// The requests of shapes that are to look alike: each with the width preferred at which all are equally high, and
/// with the subject wanted equally far down, as far as both can be had.
pub(super) fn alike(scenes: &[Scene<'_>]) -> Vec<Request> {
    let high = |request: &Request, width: f64| request.shape.height_for(width);
    let heights = |Scene { request, part, .. }: &Scene<'_>| Heights {
        part: *part,
        least: high(request, request.least_width),
        preferred: high(request, request.preferred_width.min(request.greatest_width())),
        needed: 0.0,
        greatest: high(request, request.greatest_width()),
    };
    let heights: Vec<Heights> = scenes.iter().map(heights).collect();
    let common = common_heights(&heights.iter().collect::<Vec<_>>());
    let mut alike: Vec<Request> = scenes.iter().map(|scene| scene.request.clone()).collect();
    for (request, height) in alike.iter_mut().zip(common) {
        request.preferred_width = request.shape.width_for(height);
    }
    let frame_count = alike.first().map_or(0, Request::frame_count);
    let scenes: Vec<Scene<'_>> =
        alike.iter().zip(scenes).map(|(request, scene)| Scene { request, ..*scene }).collect();
    let shares: Vec<_> = (0..frame_count).map(|index| Together::at(&scenes, index)).collect();
    let shares: Vec<Option<(f64, f64)>> =
        shares.into_iter().map(|frame| frame.map(|frame| (frame.row, frame.share))).collect();
    for request in &mut alike {
        for (wish, share) in request.frames.iter_mut().zip(&shares) {
            if let (Some(point), Some((row, share))) = (&mut wish.point, share) {
                (point.at.y, point.place.down) = (*row, *share);
            }
        }
    }
    alike
}

/// One shape at a frame.
struct Shape<'a> {
    request: &'a Request,
    area: Area,
    across: Vec<Kept>,
    down: Vec<Kept>,
    point: PlacedPoint,
    heights: Heights,
}

/// What a shape asks of the height of its window.
struct Heights {
    part: Part,
    least: f64,
    /// Wanted if nothing speaks against it.
    preferred: f64,
    /// What its boxes need.
    needed: f64,
    greatest: f64,
}

impl<'a> Shape<'a> {
    fn at(scene: &Scene<'a>, index: usize) -> Option<Self> {
        let request = scene.request;
        let area = Area::at(request, scene.sides, index);
        let [across, down] = kept(request, index);
        let required = request.frames[index].required.iter();
        let greatest = required
            .filter_map(|required| required.greatest_width)
            .fold(area.greatest_width(request), f64::min);
        let high = |width: f64| request.shape.height_for(width);
        let heights = Heights {
            part: scene.part,
            least: high(request.least_width),
            preferred: high(request.preferred_width.min(greatest)),
            needed: high(needed_width(request, &across, &down)),
            greatest: high(greatest),
        };
        let point = request.frames[index].point?;
        Some(Self { request, area, across, down, point, heights })
    }

    fn room_down(&self) -> (f64, f64) {
        (self.area.top, self.area.bottom)
    }

    /// The shares of a window of this height, from its top, at which a row may be; in the wrong order if there are
    /// none.
    fn shares(&self, row: f64, height: f64) -> (f64, f64) {
        let (low, high) = starts(height, &self.down);
        let room = self.room_down();
        let (low, high) = (low.max(room.0), high.min(room.1 - height));
        ((row - high) / height, (row - low) / height)
    }

    /// The window of a height that has a row at a share of it.
    fn wanted(&self, height: f64, (row, share): (f64, f64)) -> Wanted {
        let width = self.request.shape.width_for(height);
        let across_at = (self.point.at.x, self.point.place.across);
        Wanted {
            x: centre(across_at, width, &self.across, (self.area.left, self.area.right)),
            y: centre((row, share), height, &self.down, self.room_down()),
            width,
        }
    }
}

/// All shapes at a frame.
struct Together<'a> {
    shapes: Vec<Shape<'a>>,
    heights: Vec<f64>,
    /// The row of the picture by which the subject is placed, and at which share of every window.
    row: f64,
    share: f64,
}

impl<'a> Together<'a> {
    /// `None` where no point is wished.
    fn at(scenes: &[Scene<'a>], index: usize) -> Option<Self> {
        let shapes: Vec<Shape<'a>> =
            scenes.iter().map(|scene| Shape::at(scene, index)).collect::<Option<_>>()?;
        let row = shapes.first()?.point.at.y;
        let all: Vec<&Heights> = shapes.iter().map(|shape| &shape.heights).collect();
        let heights = common_heights(&all);
        let sized = shapes.iter().zip(&heights);
        let (low, high) = sized
            .map(|(shape, height)| shape.shares(row, *height))
            .fold((f64::NEG_INFINITY, f64::INFINITY), |all, next| {
                (all.0.max(next.0), all.1.min(next.1))
            });
        let share = wanted_share(&shapes, row);
        // Where no share suits all, those above and those below what is wanted come as near to each other as they can.
        let share = share.clamp(low.min(high), low.max(high));
        Some(Self { shapes, heights, row, share })
    }
}

/// The windows that a frame wants of all shapes; `None` where no point is wished.
fn wanted_at(scenes: &[Scene<'_>], index: usize) -> Option<Vec<Wanted>> {
    let Together { shapes, heights, row, share } = Together::at(scenes, index)?;
    let ride = scenes[0].request.ride_at(index);
    let back = |wanted: Wanted| Wanted { x: wanted.x - ride.0, y: wanted.y - ride.1, ..wanted };
    let sized = shapes.iter().zip(&heights);
    Some(sized.map(|(shape, height)| back(shape.wanted(*height, (row, share)))).collect())
}

/// Where the shapes want a row on average: those that place the same row, since with headroom a subject is placed
/// by its top and else by its middle.
#[expect(clippy::cast_precision_loss, reason = "a handful of shapes")]
fn wanted_share(shapes: &[Shape<'_>], row: f64) -> f64 {
    let same = shapes.iter().filter(|shape| (shape.point.at.y - row).abs() < 1e-6);
    let shares: Vec<f64> = same.map(|shape| shape.point.place.down).collect();
    shares.iter().sum::<f64>() / shares.len() as f64
}

/// A height for each shape: one for all of them where they can have one, else as near to it as each can. It is the
/// least that one of them wants, or more where a subject needs it.
fn common_heights(shapes: &[&Heights]) -> Vec<f64> {
    let all = |height: fn(&Heights) -> f64| {
        let alike = shapes.iter().filter(|heights| heights.part != Part::OwnSize);
        alike.map(move |heights| height(heights))
    };
    let least = all(|heights| heights.least).fold(0.0, f64::max);
    let greatest = all(|heights| heights.greatest).fold(f64::INFINITY, f64::min);
    let wanted = all(|heights| heights.preferred).fold(f64::INFINITY, f64::min);
    let needed = all(|heights| heights.needed).filter(|needed| *needed <= greatest);
    let common = needed.fold(wanted, f64::max).max(least).min(greatest);
    let own = |heights: &&Heights| {
        let wanted = if heights.part == Part::OwnSize { heights.preferred } else { common };
        wanted.max(heights.needed).min(heights.greatest).max(heights.least)
    };
    shapes.iter().map(own).collect()
}

/// Still windows as the shapes' own, but as high as each other and with the subject as far down as in the one that
/// has the least choice.
fn still_alike(scenes: &[Scene<'_>], own: &[Window]) -> Option<Vec<Wanted>> {
    let areas: Vec<Area> =
        scenes.iter().map(|scene| Area::still(scene.request, scene.sides)).collect();
    let high = |scene: &Scene<'_>, width: f64| scene.request.shape.height_for(width);
    let greatest =
        |(scene, area): (&Scene<'_>, &Area)| high(scene, area.greatest_width(scene.request));
    let all = || scenes.iter().zip(&areas);
    let room = all().map(greatest).fold(f64::INFINITY, f64::min);
    let heights = |((scene, area), own): ((&Scene<'_>, &Area), &Window)| Heights {
        part: scene.part,
        least: high(scene, scene.request.least_width),
        preferred: high(scene, scene.request.preferred_width),
        // What one of them can only have alone is not what they share.
        needed: Some(own.height()).filter(|height| *height <= room).unwrap_or(0.0),
        greatest: greatest((scene, area)),
    };
    let heights: Vec<Heights> = all().zip(own).map(heights).collect();
    let heights = common_heights(&heights.iter().collect::<Vec<_>>());
    let rows = scenes[0].request.frames.iter().filter_map(|wish| wish.point.map(|p| p.at.y));
    let row = mean(&rows.collect::<Vec<f64>>())?;
    let placed: Vec<Wanted> = (0..scenes.len())
        .map(|place| {
            let (request, area) = (scenes[place].request, &areas[place]);
            let width = request.shape.width_for(heights[place]);
            let (left, top) = hold::place(request, area, width);
            Wanted { x: left + width / 2.0, y: top + heights[place] / 2.0, width }
        })
        .collect();
    let choice = |place: &usize| areas[*place].bottom - areas[*place].top - heights[*place];
    let least = (0..scenes.len()).min_by(|a, b| choice(a).total_cmp(&choice(b)))?;
    let share = (row - placed[least].y) / heights[least] + 0.5;
    let alike = |place: usize| {
        let (area, height) = (&areas[place], heights[place]);
        let top = (row - share * height).min(area.bottom - height).max(area.top);
        Wanted { y: top + height / 2.0, ..placed[place] }
    };
    Some((0..scenes.len()).map(alike).collect())
}

#[expect(clippy::cast_precision_loss, reason = "a run has far fewer frames than 2^53")]
fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}
