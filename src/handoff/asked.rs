use super::{HandoffEntry, HandoffError};
use crate::{geometry::Region, plan::AskedFrame};
use std::io::Write;

/// The columns of the table of what was asked, in order.
pub const ASKED_COLUMN_NAMES: [&str; 17] = [
    "segment",
    "frame",
    "asks",
    "number",
    "step_secs",
    "ride_x_px",
    "ride_y_px",
    "left_px",
    "top_px",
    "width_px",
    "height_px",
    "weight",
    "place_x",
    "place_y",
    "let_go",
    "required",
    "greatest_width_px",
];

/// Writes what was asked of each used frame of every planned segment, a row for each thing: `frame` first, then
/// `inside`, `place`, `pin`, `keep-out` and `clause` as far as there are such. What does not belong to a kind is empty.
///
/// Numbers have as many decimals as it takes to read back exactly what was planned with.
///
/// # Errors
/// If the writer fails.
pub fn write_asked(handoff: &HandoffEntry<'_>, out: impl Write) -> Result<(), HandoffError> {
    let mut table = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
    table.write_record(ASKED_COLUMN_NAMES)?;
    for segment in &handoff.entry.segments {
        let Some(planned) = segment.planned() else { continue };
        for (frame, asked) in segment.used.frames().zip(&planned.asked.frames) {
            for row in rows(asked) {
                let place = [segment.number.to_string(), frame.to_string()];
                table.write_record(place.into_iter().chain(row.cells()))?;
            }
        }
    }
    table.flush()?;
    Ok(())
}

/// One thing that a frame asks, in the order of the columns after the frame.
#[derive(Default)]
struct Row {
    asks: &'static str,
    /// From 1 on among those of its kind.
    number: Option<usize>,
    step_secs: Option<f64>,
    ride_px: Option<(f64, f64)>,
    /// Left, top, width, height.
    edges: Option<[f64; 4]>,
    weight: Option<f64>,
    place: Option<(f64, f64)>,
    is_let_go: Option<bool>,
    is_required: Option<bool>,
    greatest_width_px: Option<f64>,
}

impl Row {
    fn cells(self) -> Vec<String> {
        let whether =
            |is_so: Option<bool>| is_so.map_or("", |is_so| if is_so { "yes" } else { "no" });
        let exact = |value: Option<f64>| value.map_or(String::new(), |v| (v + 0.0).to_string());
        let edge = |index: usize| exact(self.edges.map(|edges| edges[index]));
        vec![
            self.asks.to_owned(),
            self.number.map_or(String::new(), |number| number.to_string()),
            exact(self.step_secs),
            exact(self.ride_px.map(|ride| ride.0)),
            exact(self.ride_px.map(|ride| ride.1)),
            edge(0),
            edge(1),
            edge(2),
            edge(3),
            exact(self.weight),
            exact(self.place.map(|place| place.0)),
            exact(self.place.map(|place| place.1)),
            whether(self.is_let_go).to_owned(),
            whether(self.is_required).to_owned(),
            exact(self.greatest_width_px),
        ]
    }
}

fn rows(asked: &AskedFrame) -> Vec<Row> {
    let is_let_go = Some(asked.is_let_go);
    let frame = Row {
        asks: "frame",
        step_secs: Some(asked.step_secs),
        ride_px: Some(asked.ride_px),
        weight: Some(asked.width_share),
        ..Row::default()
    };
    let boxes = asked.boxes.iter().enumerate().map(|(place, wished)| Row {
        asks: "inside",
        number: Some(place + 1),
        edges: Some(edges(&wished.region)),
        weight: Some(wished.weight),
        is_let_go,
        ..Row::default()
    });
    let point = asked.point.map(|point| Row {
        asks: "place",
        edges: Some([point.at.x, point.at.y, 0.0, 0.0]),
        weight: Some(asked.weight),
        place: Some((point.place.across, point.place.down)),
        is_let_go,
        ..Row::default()
    });
    let pin = asked.pin.map(|pin| Row {
        asks: "pin",
        edges: Some(edges(pin.region())),
        ..Row::default()
    });
    let keep_outs = asked.keep_outs.iter().enumerate().filter_map(|(place, region)| {
        Some(Row {
            asks: "keep-out",
            number: Some(place + 1),
            edges: Some(edges(region.as_ref()?)),
            ..Row::default()
        })
    });
    let clauses = asked.clauses.iter().map(|seen| Row {
        asks: "clause",
        number: Some(seen.asked.clause + 1),
        edges: Some(edges(&seen.asked.region)),
        is_required: Some(seen.is_required),
        greatest_width_px: seen.asked.greatest_width,
        ..Row::default()
    });
    let wished = std::iter::once(frame).chain(boxes).chain(point);
    wished.chain(pin).chain(keep_outs).chain(clauses).collect()
}

fn edges(region: &Region) -> [f64; 4] {
    [region.left(), region.top(), region.width(), region.height()]
}
