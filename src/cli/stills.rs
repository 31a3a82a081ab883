use super::{Ending, failure::Failure, json::print_json, progress::Progress};
use clap::Args;
use lookroom::{
    geometry::{Raster, Shape},
    plan::px,
    sharpness::Print,
    tasks::{
        BlurOf, BoxesFrom, CancelToken, ClipStills, Still, StillsDone, StillsFor, StillsOptions,
        stills,
    },
};
use std::{
    io::{self, Write},
    path::PathBuf,
};

/// Find and cut the frames that are worth a thumbnail or a print
#[derive(Args)]
#[command(long_about = "\
Find and cut the frames that are worth a thumbnail or a print: the sharpest in which the subject is large, whole and clear of edges and \
of blocked zones, spread over the clip.

Every used frame is looked at, and the best of each stretch are measured at full size: motion blur and focus in px, in the \
subject's box. For a thumbnail the window comes as near to the subject as its px allow; for a print it is the largest there is. \
The outputs folder then holds, for each clip:
  CLIP_PURPOSE_frame-NNNNNN_still.png   each still, at full size
  CLIP_PURPOSE_stills.png               all of them side by side, with what is to be known of each

A fresh track is used (`lookroom track`), else the marks with straight lines between them; a clip without a subject is measured as a \
whole. A file that you changed is never overwritten.")]
pub(super) struct StillsArguments {
    /// The shoot file
    #[arg(value_name = "SHOOT.toml")]
    shoot: PathBuf,

    /// Only this clip
    #[arg(long, value_name = "NAME")]
    clip: Option<String>,

    /// How many stills of each clip, at most
    #[arg(long, value_name = "COUNT", default_value_t = 6, value_parser = clap::value_parser!(u32).range(1..=100))]
    count: u32,

    #[command(flatten)]
    purpose: Purpose,

    /// Px of a still for each inch of paper: 300 by habit, or twice the screen ruling (266 for 133 lines)
    #[arg(long, value_name = "PX", allow_negative_numbers = true, default_value_t = Print::USUAL_PX_PER_IN, value_parser = read_px_per_in)]
    px_per_in: f64,

    /// Share of the window's height that the subject should have, in per cent; the marked box is what is measured
    #[arg(long, value_name = "PERCENT", default_value_t = 100.0 * StillsOptions::LEAST_SHARE, value_parser = read_percent)]
    subject: f64,

    /// Seconds of capture that two stills are apart at least; without it half of an even share of the clip
    #[arg(long, value_name = "SECONDS", value_parser = read_secs)]
    apart: Option<f64>,

    /// Folder to write to, instead of the shoot file's own
    #[arg(long, value_name = "FOLDER")]
    out: Option<PathBuf>,

    /// Print what was found as JSON
    #[arg(long)]
    json: bool,
}

/// What the stills are for; a thumbnail if nothing is said.
#[derive(Args)]
#[group(multiple = false)]
struct Purpose {
    /// A thumbnail of this raster [default: 1280x720]
    #[arg(long, value_name = "WxH")]
    to: Option<Raster>,

    /// A picture for this deliverable of the shoot file, clear of its blocked zones
    #[arg(long, value_name = "NAME")]
    deliverable: Option<String>,

    /// A print of this shape, such as 3:2: the largest window
    #[arg(long, value_name = "W:H")]
    shape: Option<Shape>,

    /// A print of the whole frame
    #[arg(long)]
    whole: bool,
}

impl Purpose {
    /// The usual raster of a thumbnail; common practice, no source.
    const THUMBNAIL: (u32, u32) = (1280, 720);

    fn wanted(&self) -> Option<StillsFor> {
        if self.whole {
            return Some(StillsFor::WholeFrame);
        }
        let deliverable = self.deliverable.clone().map(StillsFor::Deliverable);
        let shape = self.shape.map(StillsFor::Shape);
        let thumbnail = || Raster::new(Self::THUMBNAIL.0, Self::THUMBNAIL.1).ok();
        deliverable.or(shape).or_else(|| self.to.or_else(thumbnail).map(StillsFor::Raster))
    }
}

fn read_within(text: &str, unit: &str, (least, most): (f64, f64)) -> Result<f64, String> {
    let number = text.trim().parse::<f64>().ok().filter(|n| (least..=most).contains(n));
    number.ok_or_else(|| format!("`{text}` is no number of {unit} from {least} to {most}"))
}

fn read_px_per_in(text: &str) -> Result<f64, String> {
    read_within(text, "px per inch", (1.0, 10_000.0))
}

fn read_percent(text: &str) -> Result<f64, String> {
    read_within(text, "per cent", (1.0, 100.0))
}

fn read_secs(text: &str) -> Result<f64, String> {
    read_within(text, "seconds", (0.0, 86_400.0))
}

pub(super) fn run(arguments: &StillsArguments, cancel: &CancelToken) -> Result<Ending, Failure> {
    let Some(wanted) = arguments.purpose.wanted() else { return Ok(Ending::NothingPasses) };
    let options = StillsOptions {
        shoot: arguments.shoot.clone(),
        out: arguments.out.clone(),
        clip: arguments.clip.clone(),
        count: usize::try_from(arguments.count).unwrap_or(usize::MAX),
        wanted,
        px_per_in: arguments.px_per_in,
        least_share: arguments.subject / 100.0,
        apart_secs: arguments.apart,
    };
    let mut progress = Progress::new();
    let done = stills(&options, &mut progress, cancel);
    drop(progress);
    let done = done?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        print_json(&done, &mut out)?;
    } else {
        print(&done, &mut out)?;
    }
    let is_found = done.clips.iter().any(|clip| !clip.stills.is_empty());
    Ok(if is_found { Ending::Done } else { Ending::NothingPasses })
}

fn print(done: &StillsDone, out: &mut impl Write) -> io::Result<()> {
    for clip in &done.clips {
        print_clip(clip, out)?;
    }
    writeln!(
        out,
        "blur: the longer of what is measured at edges and of the track's speed in one exposure, where a shutter is told. A poster is \
         seen from as far as its diagonal, a feed 70 mm wide from 300 mm; blur shows above a 1500th of that distance."
    )?;
    writeln!(out, "\nWRITTEN to {}", done.folder.display())?;
    for file in &done.files {
        writeln!(out, "  {file}")?;
    }
    for (kept, new) in &done.kept {
        match new {
            Some(new) => {
                writeln!(out, "{kept} was changed by hand and is left alone; the new one is {new}")?
            }
            None => writeln!(out, "{kept} was changed by hand and is set aside")?,
        }
    }
    Ok(())
}

fn print_clip(clip: &ClipStills, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "CLIP {} for {}: {}", clip.clip, clip.purpose, measured_words(clip))?;
    for notice in &clip.notices {
        writeln!(out, "  note: {notice}")?;
    }
    writeln!(
        out,
        "  looked at {} used frames, {} of them at full size; stills at least {:.2} s apart",
        clip.used_frames, clip.measured_frames, clip.apart_secs
    )?;
    for (count, why) in [
        (clip.without_subject, "used frames left out: the subject has no box there"),
        (
            clip.without_window as u64,
            "of these left out: no window of enough px holds the subject with its margins, clear of what is blocked or kept out",
        ),
    ] {
        if count > 0 {
            writeln!(out, "  {count} {why}")?;
        }
    }
    if clip.stills.is_empty() {
        return writeln!(out, "  no still: nothing passes");
    }
    print_table(clip, out)?;
    for (words, places) in doubts_of_all(clip) {
        writeln!(out, "  {}: {words}", places.join(", "))?;
    }
    Ok(())
}

fn print_table(clip: &ClipStills, out: &mut impl Write) -> io::Result<()> {
    let mut heading = COLUMNS.map(str::to_owned);
    if let Some(still) = clip.stills.first() {
        heading[PRINT] = format!("print at {} px/in", px(still.print.px_per_in));
    }
    let rows = clip.stills.iter().enumerate().map(|(place, still)| row(place, still));
    let rows: Vec<[String; COLUMNS.len()]> = std::iter::once(heading).chain(rows).collect();
    let width = |at: usize| rows.iter().map(|row| row[at].len()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..COLUMNS.len()).map(width).collect();
    for row in &rows {
        let cells: Vec<String> =
            row.iter().zip(&widths).map(|(cell, width)| format!("{cell:width$}")).collect();
        writeln!(out, "  {}", cells.join("  ").trim_end())?;
    }
    Ok(())
}

/// What speaks against stills, in words, each with the places of those that it is said of.
fn doubts_of_all(clip: &ClipStills) -> Vec<(String, Vec<String>)> {
    let mut all: Vec<(String, Vec<String>)> = Vec::new();
    for (place, still) in clip.stills.iter().enumerate() {
        for words in doubts(clip, still) {
            let place = (place + 1).to_string();
            match all.iter_mut().find(|(known, _)| *known == words) {
                Some((_, places)) => places.push(place),
                None => all.push((words, vec![place])),
            }
        }
    }
    all
}

fn measured_words(clip: &ClipStills) -> String {
    let boxes = match (clip.boxes_from, &clip.subject) {
        (BoxesFrom::NoSubject, _) | (_, None) => "no subject is marked".to_owned(),
        (BoxesFrom::Track, Some(name)) => format!("{name}, by its track"),
        (BoxesFrom::Marks, Some(name)) => format!("{name}, by marks with straight lines between"),
    };
    let blur = match clip.blur_of {
        BlurOf::Subject => "blur measured in its box",
        BlurOf::Picture if clip.boxes_from == BoxesFrom::NoSubject => {
            "blur measured over the whole picture, which the window stands in the middle of"
        }
        BlurOf::Picture => "blur measured over the whole picture, since its box has too few edges",
        BlurOf::Nothing => "no edges to measure blur at: chosen by size and place alone",
    };
    format!("{boxes}; {blur}")
}

const COLUMNS: [&str; 11] = [
    "",
    "frame",
    "at",
    "subject",
    "sharpness",
    "blur",
    "window",
    "MP",
    "print",
    "good for",
    "score",
];

/// The column whose heading has the px for each inch.
const PRINT: usize = 8;

fn row(place: usize, still: &Still) -> [String; COLUMNS.len()] {
    let [left, top, width, height] = still.window_px.map(px);
    let print = &still.print;
    let none = || "-".to_owned();
    [
        (place + 1).to_string(),
        still.frame.to_string(),
        still.timecode.clone().unwrap_or_else(|| format!("{:.3} s", still.secs)),
        still.height_share.map_or_else(none, |share| format!("{:.0} %", 100.0 * share)),
        still.blur.map_or_else(none, |_| format!("{:.0} %", 100.0 * still.parts.sharpness)),
        print
            .blur_px
            .zip(print.blur_mm)
            .map_or_else(none, |(blur_px, blur_mm)| blur_words(blur_px, blur_mm)),
        format!("{width} x {height} at {left},{top}"),
        format!("{:.2}", print.megapixels),
        format!("{:.1} x {:.1} cm", print.size_cm[0], print.size_cm[1]),
        print.good_for().to_owned(),
        format!("{:.2}", still.score),
    ]
}

/// A blur, with no decimals of a px that are not measured.
fn blur_words(blur_px: f64, blur_mm: f64) -> String {
    if blur_px < 1.0 {
        "under 1 px".to_owned()
    } else {
        format!("{blur_px:.1} px = {blur_mm:.2} mm")
    }
}

/// What speaks against a still, in words.
fn doubts(clip: &ClipStills, still: &Still) -> Vec<String> {
    let mut doubts = Vec::new();
    let print = &still.print;
    for (name, said) in [("poster", &print.poster), ("feed", &print.feed)] {
        if said != "good" {
            doubts.push(format!("for a {name} {said}"));
        }
    }
    let is_small = still.height_share.is_some_and(|share| share < clip.least_share - 5e-4);
    if let Some(enlargement) = still.enlargement.filter(|_| is_small) {
        doubts.push(format!(
            "the subject has less than {:.0} % of the height: a window nearer than this one of E {enlargement:.2} has fewer px than are \
             delivered, or no room for all that is to be inside",
            100.0 * clip.least_share
        ));
    }
    if still.parts.whole < 1.0 - 1e-9 {
        doubts.push(format!("{:.0} % of the subject's box is inside", 100.0 * still.parts.whole));
    } else if still.parts.clear < 1.0 - 1e-9 {
        doubts.push("the subject comes nearer to an edge than its margin".to_owned());
    }
    doubts
}
