//! How sharp one still is: the response of a slanted edge in it, or the finest detail that it carries.

use super::{TaskError, outputs::write_whole};
use crate::{
    media::luma_plane,
    picture::LumaPlane,
    sharpness::{
        EdgeRegion, EdgeResponse, FineDetail, ResponsePoint, ToneCurve, edge_response, fine_detail,
    },
};
use serde::Serialize;
use std::{
    fmt::Write as _,
    fs,
    path::{Path, PathBuf},
};

/// Where the tone curve comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum CurveSource {
    /// It is known.
    Known(ToneCurve),
    /// It is in a file, as [`ToneTable`](crate::sharpness::ToneTable) reads it.
    File(PathBuf),
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct SharpnessQuestion {
    /// The still: PNG, JPEG or TIFF.
    pub path: PathBuf,
    /// The part with a slanted edge; none asks for the finest detail of the whole.
    pub region: Option<EdgeRegion>,
    /// What is taken out of the code values before an edge is measured.
    pub curve: CurveSource,
    /// Where to write the response as a table.
    pub table: Option<PathBuf>,
}

/// How sharp it is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SharpnessAnswer {
    /// The still.
    pub path: PathBuf,
    /// Its size as shown, px.
    pub raster_px: [usize; 2],
    /// The edge, if one was asked for.
    pub edge: Option<EdgeAnswer>,
    /// The finest detail, if no edge was asked for and it can be told.
    pub detail: Option<FineDetail>,
    /// Why it cannot be told.
    pub cannot_tell: Option<String>,
}

/// A measured edge.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EdgeAnswer {
    /// Left, top, width and height of where it was looked for.
    pub region_px: [u32; 4],
    /// How far the region's middle is from the still's centre, as a share of the way to a corner.
    pub off_centre: f64,
    /// What was taken out of the code values.
    pub tone_curve: String,
    /// The response.
    #[serde(flatten)]
    pub response: EdgeResponse,
}

/// Measures one still.
///
/// # Errors
/// [`TaskError::Still`] if it cannot be read, [`TaskError::CurveUnread`] and [`TaskError::Curve`] for the tone curve,
/// [`TaskError::Edge`] if there is no edge that can be measured, [`TaskError::IsThere`] if the table's file is there
/// already, and [`TaskError::Output`].
pub fn sharpness_answer(question: &SharpnessQuestion) -> Result<SharpnessAnswer, TaskError> {
    let path = question.path.clone();
    if let Some(path) = question.table.as_ref().filter(|path| path.exists()) {
        return Err(TaskError::IsThere { path: path.clone() });
    }
    let curve = tone_curve(&question.curve)?;
    let plane =
        luma_plane(&path).map_err(|source| TaskError::Still { path: path.clone(), source })?;
    let edge = question.region.map(|region| edge(&plane, region, &curve, &path)).transpose()?;
    if let (Some(path), Some(edge)) = (&question.table, &edge) {
        write_whole(path, table(&edge.response.curve).as_bytes())?;
    }
    let detail = edge.is_none().then(|| fine_detail(&plane));
    Ok(SharpnessAnswer {
        path,
        raster_px: [plane.width_px(), plane.height_px()],
        edge,
        detail: detail.and_then(Result::ok),
        cannot_tell: detail.and_then(Result::err).map(|why| why.to_string()),
    })
}

fn tone_curve(source: &CurveSource) -> Result<ToneCurve, TaskError> {
    let path = match source {
        CurveSource::Known(curve) => return Ok(curve.clone()),
        CurveSource::File(path) => path,
    };
    let text = fs::read_to_string(path)
        .map_err(|source| TaskError::CurveUnread { path: path.clone(), source })?;
    let table = text.parse().map_err(|source| TaskError::Curve { path: path.clone(), source })?;
    Ok(ToneCurve::Table(table))
}

fn edge(
    plane: &LumaPlane,
    region: EdgeRegion,
    curve: &ToneCurve,
    path: &Path,
) -> Result<EdgeAnswer, TaskError> {
    let response = edge_response(plane, region, curve)
        .map_err(|source| TaskError::Edge { path: path.to_owned(), source })?;
    Ok(EdgeAnswer {
        region_px: [region.left_px, region.top_px, region.width_px, region.height_px],
        off_centre: region.off_centre((plane.width_px(), plane.height_px())),
        tone_curve: curve.words(),
        response,
    })
}

/// One row a frequency, with a heading row (RFC 4180).
fn table(curve: &[ResponsePoint]) -> String {
    let mut text = "cycles_per_px,modulus\r\n".to_owned();
    for point in curve {
        let _ = write!(text, "{:.6},{:.6}\r\n", point.cycles_per_px, point.modulus);
    }
    text
}
