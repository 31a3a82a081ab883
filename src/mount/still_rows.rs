use super::{Horizon, MountError, WindowRoom, Wishes};
use crate::{
    delivery::BlockedZones,
    geometry::{Raster, Region, Shape},
    lens::{Between, Lens, PossibleLenses},
};

/// What a test still shows, row by row, and what one shape asks of it.
///
/// Rows are told on the middle column of a camera that stands level; columns are not looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct StillRows {
    /// The lens before the still as it is shown.
    pub lenses: PossibleLenses,
    /// The window's shape.
    pub shape: Shape,
    /// The least width of a window that is worth having, in px; of no account for the largest.
    pub least_width_px: f64,
    /// What will be covered of it.
    pub blocked: BlockedZones,
    /// The subject's top row, and the least share of the window's height above it; what is blocked there counts where it is more.
    pub subject_top: Option<(f64, f64)>,
    /// The subject's bottom row, and the least share of the window's height below it, likewise.
    pub subject_bottom: Option<(f64, f64)>,
    /// The row of the horizon, and the least share of the window's height above it, if it has to be inside.
    pub horizon: Option<(f64, f64)>,
    /// The row up to which a part of the rig reaches from the frame's lower edge: it has to be outside.
    pub rig_top: Option<f64>,
    /// How far away the subject is, in metres along the ground.
    pub distance_m: Option<f64>,
    /// How far below level the camera looks, in radians, if that is known otherwise than by the horizon.
    pub tilt_down: Option<f64>,
}

/// What a still says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StillAnswer {
    /// The room of the largest window of the shape, as tall or as wide as the frame.
    pub full: WindowRoom,
    /// The largest window that keeps everything as the camera stands and is worth having; what it lacks if none does.
    pub smaller: WindowRoom,
    /// By how much to tilt further down (up if below 0), in radians, so that the largest window keeps everything; `None` if no
    /// tilt does, or none is needed.
    pub tilt_down_by: Option<Between>,
    /// By how many metres to raise the camera (to lower it if below 0) for that; `None` if nothing does, none is needed, or
    /// the distance and the tilt are not known.
    pub raise_by_m: Option<Between>,
    /// How many px the subject, with the room that it asks, is taller than the largest window: no tilt and no height mends that.
    /// 0 if it is not, or its top or its bottom is not known.
    pub too_tall_px: f64,
}

/// The rows of one still, or of what it would be.
#[derive(Clone, Copy)]
struct Rows {
    subject_top: Option<f64>,
    subject_bottom: Option<f64>,
    horizon: Option<f64>,
}

impl StillRows {
    /// The answer.
    ///
    /// # Errors
    /// [`MountError::RowOutside`] for a row that is not in the frame, [`MountError::UpsideDown`] for a top that is not above the
    /// bottom, and [`MountError::TiltsDisagree`] for a horizon that is not where the tilt has it.
    pub fn answer(&self) -> Result<StillAnswer, MountError> {
        let frame = self.lenses.raster();
        self.check_rows(frame)?;
        self.check_tilt()?;
        let rows = Rows {
            subject_top: self.subject_top.map(|(row, _)| row),
            subject_bottom: self.subject_bottom.map(|(row, _)| row),
            horizon: self.horizon.map(|(row, _)| row),
        };
        let largest = frame.width().min(self.shape.width_for(frame.height()));
        let full = self.room(frame, &rows, largest);
        let is_needed = full.window().is_none();
        let every =
            |change: &dyn Fn(&Lens) -> Option<f64>| self.lenses.every(change).filter(|_| is_needed);
        let fits = |rows: Option<Rows>| {
            rows.is_some_and(|rows| self.room(frame, &rows, largest).window().is_some())
        };
        Ok(StillAnswer {
            too_tall_px: self.too_tall_px(self.shape.height_for(largest)),
            full,
            smaller: self.room(frame, &rows, self.least_width_px.min(largest)),
            tilt_down_by: every(&|lens| {
                let most = MOST_TILT_DEGREES.to_radians();
                least_change(most, |tilt| fits(rows.tilted_down_by(lens, tilt)))
            }),
            raise_by_m: every(&|lens| {
                let (distance_m, tilt) = (self.distance_m?, self.tilt(lens)?);
                least_change(MOST_RAISE_M, |metres| {
                    fits(rows.raised_by(lens, (distance_m, tilt), metres))
                })
            }),
        })
    }

    fn too_tall_px(&self, height_px: f64) -> f64 {
        let (Some((top, above)), Some((bottom, below))) = (self.subject_top, self.subject_bottom)
        else {
            return 0.0;
        };
        let free = 1.0 - above.max(self.blocked.top) - below.max(self.blocked.bottom);
        (bottom - top - free * height_px).max(0.0)
    }

    fn check_rows(&self, frame: Raster) -> Result<(), MountError> {
        let named = [
            ("the subject's top", self.subject_top.map(|(row, _)| row)),
            ("the subject's bottom", self.subject_bottom.map(|(row, _)| row)),
            ("the horizon", self.horizon.map(|(row, _)| row)),
            ("the rig", self.rig_top),
        ];
        let height = frame.height();
        let outside = named.into_iter().find_map(|(what, row)| {
            let row = row.filter(|row| !(0.0..=height).contains(row))?;
            Some(MountError::RowOutside { what, row, height })
        });
        let upside_down = self.subject_top.zip(self.subject_bottom).and_then(|(top, bottom)| {
            (top.0 >= bottom.0).then_some(MountError::UpsideDown { top: top.0, bottom: bottom.0 })
        });
        outside.or(upside_down).map_or(Ok(()), Err)
    }

    /// A tilt that is said has to be that of the horizon, through one lens at least.
    fn check_tilt(&self) -> Result<(), MountError> {
        /// What a phone's level and a row that was read off a still may differ by, in degrees. Chosen.
        const AGREE_DEGREES: f64 = 1.0;
        let (Some((row, _)), Some(said)) = (self.horizon, self.tilt_down) else { return Ok(()) };
        let (said, tilt) = (said.to_degrees(), |lens: &Lens| Some(-lens.row_angle(row)?));
        let Some(by_horizon) = self.lenses.every(tilt) else { return Ok(()) };
        let by_horizon = by_horizon.to_degrees();
        let agrees =
            said >= by_horizon.from() - AGREE_DEGREES && said <= by_horizon.to() + AGREE_DEGREES;
        if agrees { Ok(()) } else { Err(MountError::TiltsDisagree { row, by_horizon, said }) }
    }

    /// How far below level the camera looks: what is said, or what the horizon shows.
    fn tilt(&self, lens: &Lens) -> Option<f64> {
        self.tilt_down.or_else(|| Some(-lens.row_angle(self.horizon?.0)?))
    }

    fn room(&self, frame: Raster, rows: &Rows, least_width_px: f64) -> WindowRoom {
        let middle = frame.width() / 2.0;
        // A sliver on the middle column: rows are what counts.
        let sliver = |from: f64, to: f64| {
            Region::new(middle, from, f64::EPSILON * middle, (to - from).max(1e-9))
        };
        let blocked = &self.blocked;
        let share = |asked: Option<(f64, f64)>| asked.map_or(0.0, |(_, share)| share);
        let (above, below) = (share(self.subject_top), share(self.subject_bottom));
        // Top and bottom ask for room of their own, and so each is a subject that the other's room does not reach.
        let top = rows.subject_top.and_then(|row| sliver(row, row));
        let bottom = rows.subject_bottom.and_then(|row| sliver(row, row));
        let rig: Vec<Region> = self
            .rig_top
            .and_then(|row| Region::new(0.0, row, frame.width(), (frame.height() - row).max(1e-9)))
            .into_iter()
            .collect();
        let subjects: Vec<Region> = top.into_iter().chain(bottom).collect();
        // As in a plan: headroom and what is blocked reach into each other.
        let blocked = BlockedZones {
            top: blocked.top.max(above),
            bottom: blocked.bottom.max(below),
            ..BlockedZones::default()
        };
        let horizon = rows.horizon.map(|row| [Horizon::level(row)]);
        WindowRoom::of(
            frame,
            &Wishes {
                shape: self.shape,
                least_width_px,
                margin_across: 0.0,
                margin_down: 0.0,
                headroom: 0.0,
                blocked: &blocked,
                subjects: &subjects,
                horizon: horizon
                    .as_ref()
                    .zip(self.horizon)
                    .map(|(h, (_, above))| (h.as_slice(), above)),
                rig: &rig,
            },
        )
    }
}

/// How far changes are looked for: further, and it is another mount.
const MOST_TILT_DEGREES: f64 = 60.0;
const MOST_RAISE_M: f64 = 10.0;

impl Rows {
    /// What the rows would be with the camera tilted further down; `None` where the lens does not draw one.
    fn tilted_down_by(self, lens: &Lens, radians: f64) -> Option<Self> {
        self.map(|row| lens.row_at(lens.row_angle(row)? - radians))
    }

    /// What they would be with the camera so many metres higher: the horizon stays, and the subject goes down as its
    /// distance has it.
    fn raised_by(self, lens: &Lens, (distance_m, tilt): (f64, f64), metres: f64) -> Option<Self> {
        let moved = self.map(|row| {
            let below_level = lens.row_angle(row)? + tilt;
            let drop = distance_m * below_level.tan() + metres;
            lens.row_at((drop / distance_m).atan() - tilt)
        })?;
        Some(Self { horizon: self.horizon, ..moved })
    }

    fn map(self, change: impl Fn(f64) -> Option<f64>) -> Option<Self> {
        let each = |row: Option<f64>| match row {
            Some(row) => change(row).map(Some),
            None => Some(None),
        };
        Some(Self {
            subject_top: each(self.subject_top)?,
            subject_bottom: each(self.subject_bottom)?,
            horizon: each(self.horizon)?,
        })
    }
}

/// The least change, either way, up to the most that is looked for, after which something holds: found in steps, and then
/// by halving.
fn least_change(most: f64, holds: impl Fn(f64) -> bool) -> Option<f64> {
    const STEPS: i32 = 400;
    const HALVINGS: usize = 50;
    let at = |step: i32| most * f64::from(step) / f64::from(STEPS);
    let step = (1..=STEPS).flat_map(|step| [-step, step]).find(|step| holds(at(*step)))?;
    let (mut short, mut enough) = (at(step - step.signum()), at(step));
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(short, enough);
        if holds(middle) { enough = middle } else { short = middle }
    }
    Some(enough)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lens::{FieldOfView, Mapping, SaidMapping, Span};

    fn still(mapping: SaidMapping) -> StillRows {
        let frame = Raster::new(4000, 3000).unwrap();
        let field = FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap();
        StillRows {
            lenses: PossibleLenses::new(frame, mapping, &[field]).unwrap(),
            shape: Shape::new(9, 16).unwrap(),
            least_width_px: 720.0,
            blocked: BlockedZones { top: 0.12, bottom: 0.20, ..BlockedZones::default() },
            subject_top: Some((300.0, 0.0)),
            subject_bottom: None,
            horizon: None,
            rig_top: None,
            distance_m: None,
            tilt_down: None,
        }
    }

    fn near(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
    }

    #[test]
    fn sixty_px_too_high_are_told_as_degrees_at_that_row() {
        // T6 and story 9 by hand: atan(0.600) - atan(0.570) = 1.28 degrees up; the largest window as it stands is 2500 high.
        let answer = still(SaidMapping::Known(Mapping::Rectilinear)).answer().unwrap();
        let tilt = answer.tilt_down_by.unwrap().to_degrees();
        near(tilt.from(), -1.2806, 5e-5);
        let WindowRoom::Lacks(lack) = answer.full else { panic!("the full height does not fit") };
        near(lack.down_px, 60.0, 1e-6);
        near(answer.smaller.window().unwrap().height(), 2500.0, 1e-5);
        assert_eq!(answer.raise_by_m, None, "neither distance nor tilt is known");
    }

    #[test]
    fn with_a_distance_it_is_told_in_metres_too() {
        let known = StillRows {
            distance_m: Some(2.0),
            tilt_down: Some(0.0),
            ..still(SaidMapping::Known(Mapping::Rectilinear))
        };
        // By hand: the helmet is 2 · 0.6 = 1.2 m above the camera and has to be 2 · 0.57 = 1.14 m above it.
        near(known.answer().unwrap().raise_by_m.unwrap().from(), 0.06, 1e-9);
        // The horizon says the tilt as well: on the middle row the camera is level.
        let by_horizon = StillRows { tilt_down: None, horizon: Some((1500.0, 0.0)), ..known };
        near(by_horizon.answer().unwrap().raise_by_m.unwrap().from(), 0.06, 1e-9);
    }

    #[test]
    fn a_lens_that_is_not_known_gives_a_range() {
        let answer = still(SaidMapping::Unknown).answer().unwrap();
        let tilt = answer.tilt_down_by.unwrap().to_degrees();
        assert!(tilt.contains(-1.2806) || (tilt.to() + 1.2806).abs() < 1e-3, "{tilt:?}");
        // The equal-angle one by hand: 60 px · 90 degrees / 4000 px = 1.35 degrees.
        near(tilt.from(), -1.35, 1e-6);
    }

    #[test]
    fn the_rig_stays_where_it_is_when_the_camera_tilts() {
        // The deck from row 2400 down cannot be tilted out of the full height.
        let with_deck =
            StillRows { rig_top: Some(2400.0), ..still(SaidMapping::Known(Mapping::Rectilinear)) };
        let answer = with_deck.answer().unwrap();
        assert_eq!(answer.tilt_down_by, None);
        near(answer.smaller.window().unwrap().height(), 2400.0, 1e-5);
    }

    #[test]
    fn a_row_that_is_not_in_the_still_is_refused() {
        let above = StillRows {
            subject_top: Some((-20.0, 0.1)),
            ..still(SaidMapping::Known(Mapping::Rectilinear))
        };
        let told = above.answer().unwrap_err().to_string();
        assert_eq!(
            told,
            "row -20 of the subject's top is not in the picture, which has rows 0 to 3000; count them from the top of the still as it is shown"
        );
    }

    #[test]
    fn headroom_and_what_is_blocked_reach_into_each_other() {
        // By hand: 20 % of headroom over 12 % blocked are 20 %, 600 px of 3000: 300 are missing, and not 660.
        let with_headroom = StillRows {
            subject_top: Some((300.0, 0.20)),
            ..still(SaidMapping::Known(Mapping::Rectilinear))
        };
        let WindowRoom::Lacks(lack) = with_headroom.answer().unwrap().full else {
            panic!("it does not fit")
        };
        near(lack.down_px, 300.0, 1e-6);
    }

    #[test]
    fn a_smaller_window_is_worth_having_or_is_not_told() {
        // By hand: 12 % above row 20 are a window 166.7 px high.
        let high = StillRows {
            subject_top: Some((20.0, 0.0)),
            ..still(SaidMapping::Known(Mapping::Rectilinear))
        };
        assert_eq!(high.answer().unwrap().smaller.window(), None);
        let any = StillRows { least_width_px: 1.0, ..high };
        near(any.answer().unwrap().smaller.window().unwrap().height(), 20.0 / 0.12, 1e-5);
    }

    #[test]
    fn what_contradicts_itself_is_refused() {
        let known = || still(SaidMapping::Known(Mapping::Rectilinear));
        let upside_down = StillRows { subject_bottom: Some((250.0, 0.0)), ..known() };
        assert_eq!(
            upside_down.answer().unwrap_err().to_string(),
            "the subject's top at row 300 is not above its bottom at row 250; rows count from the top down"
        );
        // By hand: the horizon on the middle row is that of a level camera.
        let tilted = |degrees: f64| StillRows {
            horizon: Some((1500.0, 0.0)),
            tilt_down: Some(degrees.to_radians()),
            ..known()
        };
        assert_eq!(
            tilted(10.0).answer().unwrap_err().to_string(),
            "the horizon at row 1500 is that of a camera tilted 0.0 degrees down, and 10.0 degrees are said; read both again, or leave one out"
        );
        assert!(tilted(0.8).answer().is_ok(), "a level is read to a degree");
    }
}
