//! One answer without any file: the window of a shape in a capture raster, its spare room, and how soft it is.

use super::TaskError;
use crate::{
    delivery::{Limits, SafeAreas},
    geometry::{InsideCrop, Raster, Rounding, Shape, Window, largest_window, snap_size},
    sharpness::{Band, Recording, Softness, invented_share},
};
use serde::Serialize;

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct CropQuestion {
    /// The capture raster.
    pub capture: Raster,
    /// The shape of the window.
    pub shape: Shape,
    /// The rasters it is delivered in; each of the window's shape.
    pub delivered: Vec<Raster>,
    /// Where the window's corner is; `None` along an axis is in the middle.
    pub place: (Option<f64>, Option<f64>),
    /// How the window is rounded.
    pub rounding: Rounding,
    /// What the camera cropped before it wrote the file.
    pub inside_crop: InsideCrop,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CropAnswer {
    /// The capture raster.
    pub from: String,
    /// The shape, in lowest terms.
    pub to: String,
    /// How the window is rounded.
    pub rounding: Rounding,
    /// What the camera cropped before it wrote the file; none if nothing.
    pub inside_crop: Option<InsideCrop>,
    /// Width and height of the largest window before rounding, px.
    pub largest_px: [f64; 2],
    /// Left, top, width and height of the window, px.
    pub window_px: [f64; 4],
    /// Width over height against the exact shape, less one.
    pub shape_error: f64,
    /// The window's share of the capture's area, 0 to 1.
    pub area_share: f64,
    /// Spare room on each side.
    pub spare: Spare,
    /// How soft it is, a delivered raster each.
    pub delivered: Vec<DeliveredAnswer>,
}

/// Spare room: left, top, right, bottom.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spare {
    /// In capture px.
    pub px: [f64; 4],
    /// In % of the capture's width or height.
    pub percent_of_capture: [f64; 4],
    /// In % of the window's width or height.
    pub percent_of_window: [f64; 4],
}

/// One delivered raster.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DeliveredAnswer {
    /// The raster.
    pub raster: String,
    /// How soft it is.
    #[serde(flatten)]
    pub softness: Softness,
    /// The greatest enlargement of its band; none for the last.
    pub band_up_to: Option<f64>,
    /// The share of the delivered pixels that are invented, 0 to 1.
    pub invented_share: f64,
    /// The inverse of the enlargement: px that the capture carries, an inside crop taken off, for each
    /// delivered px.
    pub capture_px_per_delivered_px: f64,
    /// Width and height of the box that essential action stays in, delivered px.
    pub action_safe_px: [u32; 2],
    /// Width and height of the box that graphics stay in, delivered px.
    pub graphics_safe_px: [u32; 2],
}

/// Answers a question about one crop, under the user's limits.
///
/// # Errors
/// [`TaskError::ShapesDiffer`] if a delivered raster is of another shape, [`TaskError::Geometry`] if the
/// window has no size after rounding or a given corner pushes it out of the frame.
pub fn crop_answer(question: &CropQuestion, limits: &Limits) -> Result<CropAnswer, TaskError> {
    let CropQuestion { capture, shape, rounding, .. } = *question;
    if let Some(delivered) = question.delivered.iter().find(|raster| raster.shape() != shape) {
        return Err(TaskError::ShapesDiffer { delivered: *delivered, shape });
    }
    let largest = largest_window(capture, shape);
    let size = snap_size(rounding, shape, largest.0, (capture.width(), capture.height()))?;
    let middle = |room: f64| match rounding {
        Rounding::Exact => room / 2.0,
        Rounding::Even | Rounding::EvenExactShape => 2.0 * (room / 4.0).floor(),
    };
    let left = question.place.0.unwrap_or_else(|| middle(capture.width() - size.width_px));
    let top = question.place.1.unwrap_or_else(|| middle(capture.height() - size.height_px));
    let window = Window::inside(capture, (left, top), (size.width_px, size.height_px))?;
    let sides = |room: crate::geometry::SpareRoom| {
        [room.left_px, room.top_px, room.right_px, room.bottom_px]
    };
    let spare = window.spare_room(capture);
    Ok(CropAnswer {
        from: capture.to_string(),
        to: shape.to_string(),
        rounding,
        inside_crop: Some(question.inside_crop).filter(|crop| !crop.is_none()),
        largest_px: [largest.0, largest.1],
        window_px: [window.left(), window.top(), window.width(), window.height()],
        shape_error: size.shape_error,
        area_share: window.width() * window.height() / (capture.width() * capture.height()),
        spare: Spare {
            px: sides(spare),
            percent_of_capture: sides(spare.percent_of_capture(capture)),
            percent_of_window: sides(spare.percent_of_window(&window)),
        },
        delivered: question
            .delivered
            .iter()
            .map(|raster| delivered_answer(question, &window, *raster, limits))
            .collect(),
    })
}

fn delivered_answer(
    question: &CropQuestion,
    window: &Window,
    delivered: Raster,
    limits: &Limits,
) -> DeliveredAnswer {
    let inside_factor = question.inside_crop.linear_factor();
    let recording = Recording { inside_factor, ..Recording::default() };
    let softness = Softness::of(window, question.capture, delivered, recording, limits);
    let safe = SafeAreas::of(delivered);
    DeliveredAnswer {
        raster: delivered.to_string(),
        band_up_to: Band::up_to(softness.band, limits),
        invented_share: invented_share(softness.enlargement),
        capture_px_per_delivered_px: 1.0 / softness.enlargement,
        action_safe_px: [safe.action.width_px, safe.action.height_px],
        graphics_safe_px: [safe.graphics.width_px, safe.graphics.height_px],
        softness,
    }
}
