//! The day of a shoot, and what cameras run out of on it.

use super::{
    FaultKind,
    shutter::shutter,
    table::{TableReader, Written},
    value::{number, number_within, one_of, text, truth},
};
use crate::{
    capture::{Battery, CaptureError, Card, ColdShare, LampHertz, Light},
    lens::Shake,
};

/// What of a camera's card, battery and exposure is written; each may be left out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WrittenGear {
    /// Its card.
    pub card: Option<Card>,
    /// Its battery.
    pub battery: Option<Battery>,
    /// What is left of the battery in the cold, as the user knows it.
    pub battery_share: Option<ColdShare>,
    /// The f-number of its lens.
    pub f_number: Option<f64>,
    /// The lowest ISO it goes to.
    pub iso: Option<f64>,
    /// The neutral filters at hand, in stops.
    pub filters: Option<Vec<f64>>,
    /// How long it exposes each frame, in seconds, if that is set.
    pub shutter_secs: Option<f64>,
    /// How its mount shakes.
    pub shake: Option<Shake>,
    /// Whether its pictures will be stabilised afterwards.
    pub is_stabilised_later: Option<bool>,
    /// How many minutes it runs unattended.
    pub needed_minutes: Option<f64>,
}

/// The day, as it was written.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WrittenDay {
    /// Degrees Celsius.
    pub celsius: Option<f64>,
    /// The light, as an exposure value at ISO 100.
    pub exposure_value: Option<f64>,
    /// Minutes of light that are left for mounting.
    pub light_minutes: Option<f64>,
    /// When cameras are started, in minutes from midnight.
    pub starts_at_minutes: Option<f64>,
    /// Lamps on the mains that light the place.
    pub lamps: Option<LampHertz>,
    /// Whether cameras are mounted in gloves.
    pub is_in_gloves: bool,
    /// What every mount has that says nothing else.
    pub gear: WrittenGear,
}

const LAMPS: [(&str, LampHertz); 2] =
    [("50", LampHertz::Hundred), ("60", LampHertz::HundredTwenty)];

/// What is no slip of the pen.
const CELSIUS: (f64, f64) = (-60.0, 60.0);
const MINUTES: (f64, f64) = (0.5, 10_000.0);
const GREATEST_STOPS: f64 = 20.0;

impl WrittenGear {
    /// Reads what a table says of it.
    pub(super) fn read(table: &mut TableReader<'_>) -> Self {
        Self {
            card: table.take("card_gb", |value| Ok(Card::new(number(value)?)?)),
            battery: table.take("battery_minutes", |value| Ok(Battery::new(number(value)?)?)),
            battery_share: table.take("battery_share", |value| Ok(ColdShare::own(number(value)?)?)),
            f_number: table.take("f_number", |value| {
                let f_number = number(value)?;
                Light::new(Light::BRIGHT_DAY, f_number, 100.0)?;
                Ok(f_number)
            }),
            iso: table.take("iso", |value| {
                let iso = number(value)?;
                Light::new(Light::BRIGHT_DAY, 2.8, iso)?;
                Ok(iso)
            }),
            filters: filters(table),
            shutter_secs: shutter(table),
            shake: shake(table),
            is_stabilised_later: table.take("stabilised_later", truth),
            needed_minutes: table
                .take("needed_minutes", number_within(MINUTES.0, MINUTES.1, "minutes")),
        }
    }

    /// What is written here, and for what is not, what is written there.
    #[must_use]
    pub fn or(&self, other: &Self) -> Self {
        Self {
            card: self.card.or(other.card),
            battery: self.battery.or(other.battery),
            battery_share: self.battery_share.or(other.battery_share),
            f_number: self.f_number.or(other.f_number),
            iso: self.iso.or(other.iso),
            filters: self.filters.clone().or_else(|| other.filters.clone()),
            shutter_secs: self.shutter_secs.or(other.shutter_secs),
            shake: self.shake.or(other.shake),
            is_stabilised_later: self.is_stabilised_later.or(other.is_stabilised_later),
            needed_minutes: self.needed_minutes.or(other.needed_minutes),
        }
    }
}

/// Reads `[day]`.
pub(super) fn day(mut table: TableReader<'_>) -> WrittenDay {
    let day = WrittenDay {
        celsius: table.take("celsius", number_within(CELSIUS.0, CELSIUS.1, "°C")),
        exposure_value: table.take("exposure_value", |value| {
            let exposure_value = number(value)?;
            Light::new(exposure_value, 2.8, 100.0)?;
            Ok(exposure_value)
        }),
        light_minutes: table.take("light_minutes", number_within(MINUTES.0, MINUTES.1, "minutes")),
        starts_at_minutes: table.take("starts_at", |value| clock(text(value)?)),
        lamps: table.take("mains_hz", one_of(&LAMPS)),
        is_in_gloves: table.take("gloves", truth).unwrap_or(false),
        gear: WrittenGear::read(&mut table),
    };
    table.finish();
    day
}

/// Reads a time of the day such as `10:00`, as minutes from midnight.
fn clock(written: &str) -> Result<f64, FaultKind> {
    let fault = || FaultKind::NotAClockTime { value: written.to_owned() };
    let (hours, minutes) = written.trim().split_once(':').ok_or_else(fault)?;
    let part = |text: &str, below: u32| {
        let is_plain = (1..=2).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
        text.parse::<u32>().ok().filter(|value| is_plain && *value < below).ok_or_else(fault)
    };
    Ok(f64::from(part(hours, 24)? * 60 + part(minutes, 60)?))
}

fn filters(table: &mut TableReader<'_>) -> Option<Vec<f64>> {
    let list = table.list("filters", "a list of stops, such as [3, 4, 5, 6]")?;
    let page = table.page();
    let read = |written: &Written<'_>| {
        let fault = |kind| page.fault_at(&written.span(), Some("filters".to_owned()), kind);
        number_within(0.1, GREATEST_STOPS, "stops")(written.get_ref()).map_err(fault).ok()
    };
    Some(list.iter().filter_map(read).collect())
}

/// Reads `shake = { yaw = 1.5, pitch = 1.5, roll = 1.0 }`: degrees each way, none where one is left out.
pub(super) fn shake(table: &mut TableReader<'_>) -> Option<Shake> {
    let mut inner = table.inner("shake", "shake")?;
    let mut degrees = |key| {
        inner.take(key, number_within(0.0, Shake::GREATEST_DEGREES, "degrees")).unwrap_or(0.0)
    };
    let (yaw, pitch, roll) = (degrees("yaw"), degrees("pitch"), degrees("roll"));
    inner.finish();
    Shake::from_degrees(yaw, pitch, roll).ok()
}

impl From<CaptureError> for FaultKind {
    fn from(source: CaptureError) -> Self {
        Self::Capture { source }
    }
}
