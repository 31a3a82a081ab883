//! What a camera that nobody attends runs out of, and what its pictures are exposed with.

use crate::{
    capture::{
        CaptureError, Card, ColdShare, Exposure, FilterChoice, FilterForSet, Light,
        flicker_free_secs, shutter_angle_degrees, shutter_secs,
    },
    shoot::{WrittenDay, WrittenGear},
    timecode::FrameRate,
};
use serde::Serialize;

/// How long card and battery last; none of what is not told.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Endurance {
    /// The card's minutes, all of it.
    pub card_minutes: Option<f64>,
    /// Its minutes until it is as full as it should get.
    pub card_planned_minutes: Option<f64>,
    /// After how many seconds a file is split on a card that is formatted as FAT32.
    pub split_secs: Option<f64>,
    /// How many files what it runs makes on such a card.
    pub split_files: Option<f64>,
    /// The speed in MB/s that the card should hold.
    pub write_speed: Option<f64>,
    /// From how many minutes to how many the battery lasts, in the cold that is told.
    pub battery_minutes: Option<[f64; 2]>,
    /// Where that is known from.
    pub battery_from: Option<String>,
    /// Why nobody can say how long the battery lasts, where there is one.
    pub battery_unknown: Option<String>,
    /// What stops it first: `card` or `battery`; none where one of the two cannot be told.
    pub stops_first: Option<&'static str>,
    /// After how many minutes, at the latest to be reckoned with.
    pub stops_after_minutes: Option<f64>,
    /// What it has to run, minutes.
    pub needed_minutes: Option<f64>,
    /// How many minutes it falls short of that, at least; none if it does not.
    pub short_minutes: Option<f64>,
    /// By what time of the day it has to be changed, as hours and minutes.
    pub change_by: Option<String>,
}

/// How long a camera runs.
pub(super) fn endurance(
    gear: &WrittenGear,
    day: &WrittenDay,
    megabits_a_second: Option<f64>,
) -> Endurance {
    let card = gear.card.zip(megabits_a_second);
    let share = cold_share(gear, day);
    let battery_unknown = share.as_ref().err().filter(|_| gear.battery.is_some());
    let battery_unknown = battery_unknown.map(ToString::to_string);
    let share = share.ok();
    let battery = gear.battery.zip(share).map(|(battery, share)| battery.minutes(&share));
    let card_planned = card.map(|(card, rate)| card.planned_minutes(rate));
    let ends = [("card", card_planned), ("battery", battery.map(|(least, _)| least))];
    let first = ends
        .into_iter()
        .filter_map(|(what, minutes)| Some((what, minutes?)))
        .filter(|_| battery_unknown.is_none())
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let runs = first.map(|(_, minutes)| minutes);
    // Where nobody can say how long the battery lasts, it is not longer than the card.
    let at_most = runs.or(card_planned);
    let told = share.filter(|_| gear.battery.is_some()).map(|share| {
        let is_rated = gear.battery_share.is_none() && day.celsius.is_none();
        if is_rated {
            "as rated; the cold is not told".to_owned()
        } else {
            share.source.to_string()
        }
    });
    Endurance {
        card_minutes: card.map(|(card, rate)| card.minutes(rate)),
        card_planned_minutes: card_planned,
        split_secs: megabits_a_second.filter(|_| gear.card.is_some()).map(Card::split_secs),
        split_files: card.zip(at_most).map(|((_, rate), minutes)| Card::split_files(rate, minutes)),
        write_speed: megabits_a_second.filter(|_| gear.card.is_some()).map(Card::least_write_speed),
        battery_minutes: battery.map(|(least, most)| [least, most]),
        battery_from: told,
        battery_unknown,
        stops_first: first.map(|(what, _)| what),
        stops_after_minutes: runs,
        needed_minutes: gear.needed_minutes,
        short_minutes: gear
            .needed_minutes
            .zip(at_most)
            .map(|(n, runs)| n - runs)
            .filter(|s| *s > 0.0),
        change_by: day.starts_at_minutes.zip(runs).map(|(start, runs)| clock(start + runs)),
    }
}

/// What of a battery's time is left: the user's own figure, or what is known of the cold that is told.
fn cold_share(gear: &WrittenGear, day: &WrittenDay) -> Result<ColdShare, CaptureError> {
    match (gear.battery_share, day.celsius) {
        (Some(own), _) => Ok(own),
        (None, Some(celsius)) => ColdShare::at(celsius),
        (None, None) => ColdShare::own(1.0),
    }
}

/// Whole minutes that something lasts: one that has only begun is not counted on.
#[must_use]
pub fn whole_minutes(minutes: f64) -> f64 {
    /// What a product leaves below a whole minute.
    const ROUNDING: f64 = 1e-6;
    (minutes + ROUNDING).floor()
}

/// Minutes from midnight as a time of the day: the minute that has begun, with the days that have passed.
fn clock(minutes: f64) -> String {
    const DAY_MINUTES: f64 = 24.0 * 60.0;
    let minutes = whole_minutes(minutes);
    let (days, whole) = ((minutes / DAY_MINUTES).floor(), minutes.rem_euclid(DAY_MINUTES));
    let time = format!("{:02.0}:{:02.0}", (whole / 60.0).floor(), whole % 60.0);
    match days {
        days if days < 1.0 => time,
        days if days < 2.0 => format!("{time} the next day"),
        days => format!("{time}, {days:.0} days later"),
    }
}

/// A frame is not exposed for longer than it lasts; a division leaves a little more.
const MOST_DEGREES: f64 = 360.0 + 1e-6;

/// What pictures are exposed with.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct ExposureAnswer {
    /// The shutter angle that is aimed at, degrees.
    pub wanted_degrees: f64,
    /// The exposure of that angle, seconds.
    pub wanted_secs: f64,
    /// What the camera takes without a filter, seconds; none if light or lens are not told.
    pub bare_secs: Option<f64>,
    /// How many stops of a filter would give just the wanted exposure.
    pub wanted_stops: Option<f64>,
    /// The filter to take; 0 stops is none. None if nothing is told, or even that is too dark.
    pub take: Option<FilterAnswer>,
    /// What the next stronger one would do, where a frame has the time for it.
    pub next_stronger: Option<FilterAnswer>,
    /// The shutter that is set, seconds, and its angle in degrees. The filter is then chosen for it.
    pub set: Option<[f64; 2]>,
    /// The longest exposure that a frame has the time for, seconds, where what is set is longer; nothing else is told then.
    pub longest_secs: Option<f64>,
    /// With the shutter set and the filter taken: by how many stops the sensitivity has to rise above the lowest; below 0, by how
    /// many the picture is too bright.
    pub rise_stops: Option<f64>,
    /// With the shutter not set: by how many stops even the strongest of the filters that are told is too weak, where that is a
    /// stop or more.
    pub short_stops: Option<f64>,
    /// The exposures that are free of flicker under the lamps that are told, seconds, longest first; none if no lamps are told.
    pub flicker_free_secs: Option<Vec<f64>>,
    /// Whether what is taken or set is one of them; none if no lamps are told or no exposure is known.
    pub is_flicker_free: Option<bool>,
    /// Whether movement will look chopped, with what is taken or set.
    pub is_choppy: bool,
}

/// One filter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FilterAnswer {
    /// Stops.
    pub stops: f64,
    /// The exposure through it, seconds.
    pub secs: f64,
    /// The same as a shutter angle, degrees; above 360 it cannot be.
    pub angle_degrees: f64,
}

/// By how many stops even the strongest filter is too weak, where that is a stop or more.
fn short_stops(choice: &FilterChoice, filters: &[f64]) -> Option<f64> {
    /// Less is as near as filters come, which are sold by the stop.
    const SHORT_STOPS: f64 = 1.0;
    let strongest = filters.iter().copied().reduce(f64::max)?;
    let short = choice.wanted_stops - strongest;
    (short >= SHORT_STOPS).then_some(short)
}

impl ExposureAnswer {
    /// The exposure that is set, or else the one through the filter to take.
    pub(super) fn taken_secs(&self) -> Option<f64> {
        let set = self.set.filter(|_| self.longest_secs.is_none());
        set.map(|[secs, _]| secs).or_else(|| self.take.map(|take| take.secs))
    }
}

/// What pictures at a rate are exposed with; `None` where nothing of it is told.
pub(super) fn exposure(
    gear: &WrittenGear,
    day: &WrittenDay,
    rate: FrameRate,
) -> Option<ExposureAnswer> {
    let wanted_degrees = if gear.is_stabilised_later == Some(true) {
        FilterChoice::TO_BE_STABILISED_DEGREES
    } else {
        FilterChoice::USUAL_DEGREES
    };
    let light = day.exposure_value.zip(gear.f_number).and_then(|(exposure_value, f_number)| {
        Light::new(exposure_value, f_number, gear.iso.unwrap_or(100.0)).ok()
    });
    if light.is_none() && gear.shutter_secs.is_none() && day.lamps.is_none() {
        return None;
    }
    let filters = gear.filters.clone().unwrap_or_default();
    let set = gear.shutter_secs.map(|secs| [secs, shutter_angle_degrees(secs, rate)]);
    if set.is_some_and(|[_, degrees]| degrees > MOST_DEGREES) {
        let (longest_secs, set) = (Some(rate.frame_secs()), set);
        return Some(ExposureAnswer { set, longest_secs, ..ExposureAnswer::default() });
    }
    let for_set = light.zip(set).map(|(light, [secs, _])| FilterForSet::of(&light, secs, &filters));
    let choice = light
        .filter(|_| set.is_none())
        .map(|light| FilterChoice::of(&light, rate, wanted_degrees, &filters));
    let answer = |exposure: Exposure| FilterAnswer {
        stops: exposure.stops,
        secs: exposure.secs,
        angle_degrees: exposure.angle_degrees,
    };
    let through_set = for_set.zip(set).map(|(choice, [secs, angle_degrees])| FilterAnswer {
        stops: choice.take_stops,
        secs,
        angle_degrees,
    });
    let take = through_set.or_else(|| choice.as_ref()?.take.map(answer));
    let wanted_degrees = set.map_or(wanted_degrees, |[_, degrees]| degrees);
    let taken = set.or_else(|| take.map(|take| [take.secs, take.angle_degrees]));
    let free = day.lamps.map(|lamps| flicker_free_secs(lamps, rate));
    let is_free = free.as_ref().zip(taken).map(|(free, [secs, _])| {
        /// Marked shutters are rounded: 1/60 stands for 1/59.94, and 1/100 for anything from 1/98 to 1/102. Chosen.
        const AS_MARKED: f64 = 0.02;
        free.iter().any(|free| (secs / free - 1.0).abs() < AS_MARKED)
    });
    Some(ExposureAnswer {
        wanted_degrees,
        wanted_secs: shutter_secs(wanted_degrees, rate),
        bare_secs: light.map(|light| light.bare_secs()),
        wanted_stops: for_set
            .map(|choice| choice.wanted_stops)
            .or_else(|| choice.as_ref().map(|choice| choice.wanted_stops)),
        take,
        next_stronger: choice.as_ref().and_then(|choice| choice.next_stronger).map(answer),
        set,
        longest_secs: None,
        rise_stops: for_set.map(|choice| choice.rise_stops()),
        short_stops: choice.as_ref().and_then(|choice| short_stops(choice, &filters)),
        flicker_free_secs: free,
        is_flicker_free: is_free,
        is_choppy: taken.is_some_and(|[_, degrees]| degrees < FilterChoice::CHOPPY_DEGREES),
    })
}
