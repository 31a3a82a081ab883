use super::template::{escaped, fill};
use crate::{
    geometry::Raster,
    subject::{Mark, MarkKind},
    timecode::FrameIndex,
};
use base64::{Engine as _, engine::general_purpose::STANDARD};
use serde_json::{Value, json};
use std::io::{self, Write};

const TEMPLATE: &str = include_str!("marking.html");

/// The columns of a marks file, in the order in which the page writes them.
pub const MARK_COLUMNS: [&str; 9] =
    ["clip", "frame", "left", "top", "width", "height", "kind", "name", "weight"];

/// A page on which one clip is marked by drawing boxes, and that saves a marks file.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkingSheet {
    /// The clip.
    pub clip: String,
    /// What is said of it below the heading.
    pub facts: String,
    /// What the marks file is called.
    pub marks_name: String,
    /// The raster that boxes are measured in.
    pub raster: Raster,
    /// How many frames the clip has.
    pub frame_count: u64,
    /// The frames that are shown, in order; at least one.
    pub frames: Vec<MarkingFrame>,
    /// What is marked already, in the order of the marks file.
    pub things: Vec<MarkedThing>,
    /// The rows of the marks file that are of other clips, as they are: a cell a column.
    pub other_rows: Vec<[String; MARK_COLUMNS.len()]>,
}

/// A frame of the sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MarkingFrame {
    /// Which.
    pub frame: FrameIndex,
    /// Its timecode, if the clip has any.
    pub timecode: Option<String>,
    /// Why this frame, if not only for being one of many: "the subject was lost here".
    pub why: Option<String>,
    /// A small copy of it, as a JPEG file. Of one size in all frames.
    pub jpeg: Vec<u8>,
}

/// Marks of one name.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkedThing {
    /// Its name.
    pub name: String,
    /// What its boxes are.
    pub kind: MarkKind,
    /// How much it counts, if that was said.
    pub weight: Option<f64>,
    /// Its marks, gone ones too.
    pub marks: Vec<Mark>,
}

impl MarkedThing {
    /// Marks by their names, in the order in which those first come.
    #[must_use]
    pub fn all_of(marks: &[Mark]) -> Vec<Self> {
        let mut things: Vec<Self> = Vec::new();
        for mark in marks {
            let place = things.iter().position(|thing| thing.name == mark.name);
            let place = place.unwrap_or_else(|| {
                let (name, kind) = (mark.name.clone(), MarkKind::Subject);
                things.push(Self { name, kind, weight: None, marks: Vec::new() });
                things.len() - 1
            });
            let thing = &mut things[place];
            if mark.kind != MarkKind::Gone {
                thing.kind = mark.kind;
            }
            thing.weight = thing.weight.or(mark.weight);
            thing.marks.push(mark.clone());
        }
        things
    }

    fn as_json(&self) -> Value {
        let mark = |mark: &Mark| {
            let edges = |r: crate::geometry::Region| [r.left(), r.top(), r.width(), r.height()];
            json!({ "frame": mark.frame.0, "box": mark.region.map(edges) })
        };
        json!({
            "name": self.name,
            "kind": self.kind.name(),
            "weight": self.weight.map_or(String::new(), |weight| weight.to_string()),
            "marks": self.marks.iter().map(mark).collect::<Vec<_>>(),
        })
    }
}

impl MarkingSheet {
    /// Writes the page, its pictures being of so many px across and down.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn write(&self, (wide, high): (u32, u32), out: impl Write) -> io::Result<()> {
        let data = self.data((wide, high)).to_string().replace('<', "\\u003c");
        let value = |name: &str| match name {
            "CLIP" => escaped(&self.clip),
            "FACTS" => escaped(&self.facts),
            "MARKS_NAME" => escaped(&self.marks_name),
            _ => data.clone(),
        };
        fill(TEMPLATE, value, out)
    }

    fn data(&self, (wide, high): (u32, u32)) -> Value {
        let frame = |frame: &MarkingFrame| {
            let picture = format!("data:image/jpeg;base64,{}", STANDARD.encode(&frame.jpeg));
            json!({
                "frame": frame.frame.0,
                "timecode": frame.timecode,
                "why": frame.why,
                "picture": picture,
            })
        };
        let first = self.frames.iter().position(|frame| frame.why.is_some()).unwrap_or(0);
        json!({
            "clip": self.clip,
            "marks_name": self.marks_name,
            "width": self.raster.width_px(),
            "height": self.raster.height_px(),
            "shown_width": wide,
            "shown_height": high,
            "frame_count": self.frame_count,
            "first_place": first,
            "columns": MARK_COLUMNS,
            "frames": self.frames.iter().map(frame).collect::<Vec<_>>(),
            "things": self.things.iter().map(MarkedThing::as_json).collect::<Vec<_>>(),
            "other_rows": self.other_rows,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Region;

    fn sheet(name: &str) -> MarkingSheet {
        let region = Region::new(10.0, 20.0, 30.5, 40.0);
        let mark = |frame, kind, region| Mark {
            frame: FrameIndex(frame),
            name: name.to_owned(),
            kind,
            region,
            weight: None,
        };
        let marks = [mark(0, MarkKind::KeepIn, region), mark(9, MarkKind::Gone, None)];
        MarkingSheet {
            clip: "a</script>&\"b\"".to_owned(),
            facts: "2 frames".to_owned(),
            marks_name: "marks.csv".to_owned(),
            raster: Raster::new(64, 48).unwrap(),
            frame_count: 10,
            frames: vec![MarkingFrame {
                frame: FrameIndex(0),
                timecode: None,
                why: None,
                jpeg: vec![1, 2, 3],
            }],
            things: MarkedThing::all_of(&marks),
            other_rows: Vec::new(),
        }
    }

    #[test]
    fn what_a_clip_is_called_does_not_end_the_script_or_the_heading() {
        let mut out = Vec::new();
        sheet("<b>{{DATA}}").write((64, 48), &mut out).unwrap();
        let page = String::from_utf8(out).unwrap();
        assert_eq!(page.matches("</script>").count(), 2);
        assert!(page.contains("<h1>Marks of a&lt;/script&gt;&amp;&quot;b&quot;</h1>"));
        let data = page.split("id=\"data\">").nth(1).unwrap().split("</script>").next().unwrap();
        let data: Value = serde_json::from_str(data).unwrap();
        assert_eq!(data["clip"], "a</script>&\"b\"");
        assert_eq!(data["things"][0]["name"], "<b>{{DATA}}");
        assert_eq!(data["things"][0]["kind"], "keep-in");
        assert_eq!(data["things"][0]["marks"][0]["box"], json!([10.0, 20.0, 30.5, 40.0]));
        assert_eq!(data["things"][0]["marks"][1]["box"], Value::Null);
        assert_eq!(data["frames"][0]["picture"], "data:image/jpeg;base64,AQID");
    }
}
