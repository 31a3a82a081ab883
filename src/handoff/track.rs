//! A clip's tracks as a table: a row for each followed frame of each thing.

use super::HandoffError;
use crate::{geometry::Region, subject::Sighting, timecode::FrameIndex};
use std::{
    collections::BTreeMap,
    io::{Read, Write},
};

/// The columns, in their order.
pub const TRACK_COLUMN_NAMES: [&str; 7] =
    ["frame", "name", "left_px", "top_px", "width_px", "height_px", "confidence"];

/// What is known of each thing, by its name: a box a frame, or that it is gone or lost there.
pub type Followings = BTreeMap<String, BTreeMap<FrameIndex, Option<Sighting>>>;

/// A row of a track that does not say what it should.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {what}")]
pub struct TrackRowError {
    /// The line, from 1.
    pub line: u64,
    /// What is wrong, and what is expected.
    pub what: String,
}

/// Writes the table: lengths with two decimals, confidences from 0 to 1 with three, boxes empty where a thing is gone or
/// lost.
///
/// # Errors
/// If it cannot be written.
pub fn write_track(followings: &Followings, out: impl Write) -> Result<(), HandoffError> {
    let mut table = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
    table.write_record(TRACK_COLUMN_NAMES)?;
    for (name, frames) in followings {
        for (frame, seen) in frames {
            let cells = seen.map_or_else(<[String; 5]>::default, |seen| {
                let r = seen.region;
                let px =
                    [r.left(), r.top(), r.width(), r.height()].map(|edge| format!("{edge:.2}"));
                let [left, top, width, height] = px;
                [left, top, width, height, format!("{:.3}", seen.confidence)]
            });
            let head = [frame.0.to_string(), name.clone()];
            table.write_record(head.iter().chain(&cells))?;
        }
    }
    table.flush()?;
    Ok(())
}

/// Reads the table back, its columns in any order.
///
/// # Errors
/// [`TrackRowError`] for the first row that does not say what it should.
pub fn read_track(mut text: impl Read) -> Result<Followings, TrackRowError> {
    let fault = |line: u64, what: String| TrackRowError { line, what };
    let mut all = String::new();
    text.read_to_string(&mut all).map_err(|error| fault(1, error.to_string()))?;
    // The reader counts a line only at its end, and after a CR takes the LF for the next row's.
    let all = all.replace("\r\n", "\n");
    let mut table = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(all.as_bytes());
    let heading = table.headers().map_err(|error| fault(1, error.to_string()))?.clone();
    let place = |column: &str| {
        let found = heading.iter().position(|name| name == column);
        found.ok_or_else(|| fault(1, format!("there is no column `{column}`")))
    };
    let mut places = [0; TRACK_COLUMN_NAMES.len()];
    for (slot, column) in places.iter_mut().zip(TRACK_COLUMN_NAMES) {
        *slot = place(column)?;
    }
    let mut followings = Followings::new();
    for row in table.records() {
        let row = row.map_err(|error| {
            fault(error.position().map_or(1, csv::Position::line), error.to_string())
        })?;
        let line = row.position().map_or(1, csv::Position::line);
        let cells = places.map(|at| row.get(at).unwrap_or(""));
        let frame = cells[0].parse().map_err(|_| {
            fault(line, format!("`{}` is no frame number, expected 0 and up", cells[0]))
        })?;
        let seen = sighting(&cells).map_err(|what| fault(line, what))?;
        let of_thing = followings.entry(cells[1].to_owned()).or_default();
        if of_thing.insert(FrameIndex(frame), seen).is_some() {
            return Err(fault(line, format!("frame {frame} of `{}` is there twice", cells[1])));
        }
    }
    Ok(followings)
}

/// The box of a row; `None` where it is empty.
fn sighting(cells: &[&str; TRACK_COLUMN_NAMES.len()]) -> Result<Option<Sighting>, String> {
    if cells[2..6].iter().all(|cell| cell.is_empty()) {
        return Ok(None);
    }
    let number = |at: usize| {
        let value: Option<f64> = cells[at].parse().ok().filter(|value: &f64| value.is_finite());
        value.ok_or_else(|| {
            format!("{} is `{}`, expected a number", TRACK_COLUMN_NAMES[at], cells[at])
        })
    };
    let region = Region::new(number(2)?, number(3)?, number(4)?, number(5)?)
        .ok_or("the box has no size; leave all four cells empty where the thing is gone")?;
    let confidence = if cells[6].is_empty() { 1.0 } else { number(6)? };
    if !(0.0..=1.0).contains(&confidence) {
        return Err(format!("confidence is {confidence}, expected 0 to 1"));
    }
    // What has a box counts, however little.
    Ok(Some(Sighting { region, confidence: confidence.max(0.001) }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_again() {
        let region = Region::new(10.0, -20.25, 30.5, 40.0).unwrap();
        let seen = Some(Sighting { region, confidence: 0.75 });
        let frames = BTreeMap::from([(FrameIndex(3), seen), (FrameIndex(4), None)]);
        let followings = Followings::from([("a, \"b\"".to_owned(), frames)]);
        let mut text = Vec::new();
        write_track(&followings, &mut text).unwrap();
        assert_eq!(read_track(&text[..]).unwrap(), followings);
    }

    #[test]
    fn a_row_that_says_nothing_sound_is_told_with_its_line() {
        let head = "frame,name,left_px,top_px,width_px,height_px,confidence\n";
        for (row, expected) in [
            ("x,a,1,1,1,1,1", "line 2: `x` is no frame number, expected 0 and up"),
            (
                "1,a,1,1,0,1,1",
                "line 2: the box has no size; leave all four cells empty where the thing is gone",
            ),
            ("1,a,1,nan,1,1,1", "line 2: top_px is `nan`, expected a number"),
            ("1,a,1,1,1,1,2", "line 2: confidence is 2, expected 0 to 1"),
            ("1,a,1,1,1,1,1\n1,a,1,1,1,1,1", "line 3: frame 1 of `a` is there twice"),
        ] {
            let error = read_track(format!("{head}{row}\n").as_bytes()).unwrap_err();
            assert_eq!(error.to_string(), expected);
        }
        let ends = format!("{head}1,a,1,1,1,1,1\n2,a,1,1,1,1,2\n").replace('\n', "\r\n");
        assert_eq!(read_track(ends.as_bytes()).unwrap_err().line, 3);
        assert!(read_track("frame,name\n".as_bytes()).unwrap_err().what.contains("left_px"));
    }
}
