use crate::{
    capture::{CaptureMode, WayUp},
    delivery::{Deliverable, Limits},
    geometry::{Raster, SpareRoom, Window},
    sharpness::{Recording, Softness},
};

/// What one shape gets from a mode: its largest window in the middle of the frame, not rounded.
#[derive(Debug, Clone, PartialEq)]
pub struct ShapeFigures {
    /// The deliverable's name.
    pub deliverable: String,
    /// The frame as it is shown.
    pub shown: Raster,
    /// The window.
    pub window: Window,
    /// What is left beside it.
    pub spare: SpareRoom,
    /// How soft it is, an inside crop and thin bits reckoned in.
    pub softness: Softness,
}

impl ShapeFigures {
    /// The figures of a deliverable in a mode, one way up.
    #[must_use]
    pub fn of(
        mode: &CaptureMode,
        way_up: WayUp,
        deliverable: &Deliverable,
        limits: &Limits,
    ) -> Self {
        let shown = way_up.orientation().shown_raster(mode.raster);
        let window = Window::largest_in_the_middle(shown, deliverable.shape());
        let softness = Softness::of(&window, shown, deliverable.raster, &recording(mode), limits);
        let spare = window.spare_room(shown);
        Self { deliverable: deliverable.name.clone(), shown, window, spare, softness }
    }

    /// The room left and right together, as a share of the capture's width.
    #[must_use]
    pub fn spare_across(&self) -> f64 {
        self.spare.across_px() / self.shown.width()
    }

    /// The room above and below together, as a share of the capture's height.
    #[must_use]
    pub fn spare_down(&self) -> f64 {
        self.spare.down_px() / self.shown.height()
    }

    /// The direction in which there is room, and how much as a share: down for wide shapes, across for tall ones.
    #[must_use]
    pub fn spare(&self) -> f64 {
        self.spare_across().max(self.spare_down())
    }
}

/// What a mode hides in its files.
#[must_use]
pub fn recording(mode: &CaptureMode) -> Recording {
    Recording {
        inside_factor: mode.inside_crop.linear_factor(),
        bits_per_px: mode.bits_per_px(),
        sharpness: None,
    }
}
