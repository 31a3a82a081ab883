//! What a camera that nobody attends runs out of, and what its pictures are exposed with.

use crate::{
    capture::{
        Card, ColdShare, Exposure, FilterChoice, Light, flicker_free_secs, shutter_angle_degrees,
        shutter_secs,
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
    /// What stops it first: `card` or `battery`.
    pub stops_first: Option<&'static str>,
    /// After how many minutes, at the latest to be reckoned with.
    pub stops_after_minutes: Option<f64>,
    /// What it has to run, minutes.
    pub needed_minutes: Option<f64>,
    /// How many minutes it falls short of that; none if it does not.
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
    let share = match (gear.battery_share, day.celsius) {
        (Some(own), _) => Some(own),
        (None, Some(celsius)) => ColdShare::at(celsius).ok(),
        (None, None) => ColdShare::own(1.0).ok(),
    };
    let battery = gear.battery.zip(share).map(|(battery, share)| battery.minutes(&share));
    let card_planned = card.map(|(card, rate)| card.planned_minutes(rate));
    let ends = [("card", card_planned), ("battery", battery.map(|(least, _)| least))];
    let first = ends
        .into_iter()
        .filter_map(|(what, minutes)| Some((what, minutes?)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let runs = first.map(|(_, minutes)| minutes);
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
        split_files: card.zip(runs).map(|((_, rate), minutes)| Card::split_files(rate, minutes)),
        write_speed: megabits_a_second.filter(|_| gear.card.is_some()).map(Card::least_write_speed),
        battery_minutes: battery.map(|(least, most)| [least, most]),
        battery_from: told,
        stops_first: first.map(|(what, _)| what),
        stops_after_minutes: runs,
        needed_minutes: gear.needed_minutes,
        short_minutes: gear.needed_minutes.zip(runs).map(|(n, runs)| n - runs).filter(|s| *s > 0.0),
        change_by: day.starts_at_minutes.zip(runs).map(|(start, runs)| clock(start + runs)),
    }
}

/// Minutes from midnight as a time of the day: the minute that has begun.
fn clock(minutes: f64) -> String {
    let whole = minutes.floor().rem_euclid(24.0 * 60.0);
    format!("{:02.0}:{:02.0}", (whole / 60.0).floor(), whole % 60.0)
}

/// What pictures are exposed with.
#[derive(Debug, Clone, PartialEq, Serialize)]
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
    /// What the next stronger one would do.
    pub next_stronger: Option<FilterAnswer>,
    /// The shutter that is set, seconds, and its angle in degrees.
    pub set: Option<[f64; 2]>,
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

impl ExposureAnswer {
    /// The exposure that is set, or else the one through the filter to take.
    pub(super) fn taken_secs(&self) -> Option<f64> {
        self.set.map(|[secs, _]| secs).or_else(|| self.take.map(|take| take.secs))
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
    let choice = light.map(|light| FilterChoice::of(&light, rate, wanted_degrees, &filters));
    let answer = |exposure: Exposure| FilterAnswer {
        stops: exposure.stops,
        secs: exposure.secs,
        angle_degrees: exposure.angle_degrees,
    };
    let take = choice.as_ref().and_then(|choice| choice.take).map(answer);
    let set = gear.shutter_secs.map(|secs| [secs, shutter_angle_degrees(secs, rate)]);
    let taken = set.or_else(|| take.map(|take| [take.secs, take.angle_degrees]));
    let free = day.lamps.map(|lamps| flicker_free_secs(lamps, rate));
    let is_free = free.as_ref().zip(taken).map(|(free, [secs, _])| {
        /// Marked shutters are rounded: 1/100 of 1/98.6.
        const AS_MARKED: f64 = 0.02;
        free.iter().any(|free| (secs / free - 1.0).abs() < AS_MARKED)
    });
    Some(ExposureAnswer {
        wanted_degrees,
        wanted_secs: shutter_secs(wanted_degrees, rate),
        bare_secs: light.map(|light| light.bare_secs()),
        wanted_stops: choice.as_ref().map(|choice| choice.wanted_stops),
        take,
        next_stronger: choice.and_then(|choice| choice.next_stronger).map(answer),
        set,
        flicker_free_secs: free,
        is_flicker_free: is_free,
        is_choppy: taken.is_some_and(|[_, degrees]| degrees < FilterChoice::CHOPPY_DEGREES),
    })
}
