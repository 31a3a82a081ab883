//! The planner on the true boxes of real clips.

use crate::{
    command::{lookroom_in, stderr},
    footage,
};
use lookroom::{
    delivery::Limits,
    geometry::{Raster, Region},
    pan::{Axis, Cause, FrameWish, Outcome, Pace, Request, Rules, Verdict, plan},
    tasks::pan_rules,
};
use serde_json::Value;
use std::{fs, path::Path};

/// A 9:16 request on an 854 x 480 capture with a mark on every frame, margins 0 and pan limits off.
pub(crate) fn vertical(boxes: &[Region], (width, height): (u32, u32)) -> Request {
    let raster = Raster::new(854, 480).unwrap();
    let delivered = Raster::new(width, height).unwrap();
    let frames = boxes.iter().copied().map(FrameWish::for_box).collect();
    let rules = Rules { pan_caution: None, pan_hard: None, ..pan_rules(&Limits::default()) };
    let request =
        Request::plain((raster, delivered.shape()), Pace::even(1.0 / 24.0), frames, rules);
    Request { least_width: delivered.width() / 2.0, ..request }
}

#[test]
fn vertical_fits_on_the_bike() {
    let Some(boxes) = footage::boxes("bmx-trees") else { return };
    let Outcome::Planned(planned) = plan(&vertical(&boxes, (270, 480))).unwrap() else {
        panic!("refused")
    };
    assert_eq!(planned.assessment.verdict, Verdict::Fits);
}

#[test]
fn vertical_is_tight_on_the_runner() {
    let Some(boxes) = footage::boxes("parkour") else { return };
    let Outcome::Planned(planned) = plan(&vertical(&boxes, (270, 480))).unwrap() else {
        panic!("refused")
    };
    assert_eq!(planned.assessment.verdict, Verdict::Tight);
}

#[test]
fn vertical_is_refused_on_the_car_with_the_missing_px() {
    let Some(boxes) = footage::boxes("car-roundabout") else { return };
    let Outcome::DoesNotFit(refusal) = plan(&vertical(&boxes, (270, 480))).unwrap() else {
        panic!("planned")
    };
    assert_eq!(refusal.first.index, 0);
    assert!((refusal.first.missing_px - (440.0 - 270.0)).abs() < 1e-6);
    let widest = boxes.iter().map(Region::width).fold(0.0, f64::max);
    assert!((refusal.worst.missing_px - (widest - 270.0)).abs() < 1e-6, "{refusal:?}");
    assert!(matches!(refusal.cause, Cause::TooLarge { axis: Axis::Across, .. }));
}

/// A shoot of one of the boxed clips: marks every so many frames and on the last, margins 0, pan limits off.
fn shoot_of(clip: &str, every: usize) -> Option<tempfile::TempDir> {
    let boxes = footage::boxes(clip)?;
    let frames = footage::folder()?.join("boxed").join(clip).join("%05d.jpg");
    let folder = tempfile::tempdir().unwrap();
    let mut marks = String::from("clip,frame,left,top,width,height,kind,name\n");
    for (frame, region) in boxes.iter().enumerate() {
        if frame % every == 0 || frame + 1 == boxes.len() {
            let (left, top, width, height) =
                (region.left(), region.top(), region.width(), region.height());
            marks += &format!("{clip},{frame},{left},{top},{width},{height},subject,subject\n");
        }
    }
    let shoot = format!(
        "version = 1\ntimeline_rate = \"24\"\nmarks = \"marks.csv\"\n\
         [limits]\nmargin_across = 0\nmargin_down = 0\npan_hard = \"off\"\npan_caution = \"off\"\n\
         [[deliverable]]\nname = \"vertical\"\nraster = \"270x480\"\n\
         [[deliverable]]\nname = \"square\"\nraster = \"480x480\"\n\
         [[clip]]\nname = \"{clip}\"\nframes = '{}'\nrate = \"24\"\n",
        frames.display()
    );
    fs::write(folder.path().join("marks.csv"), marks).unwrap();
    fs::write(folder.path().join("shoot.toml"), shoot).unwrap();
    Some(folder)
}

/// The plan that the command prints for a shoot, as JSON.
fn plan_of(folder: &Path) -> Value {
    let output = lookroom_in(folder, &["plan", "shoot.toml", "--json", "--overlays", "0,30"]);
    // 3 where no shape passes, which is an answer too.
    assert!(matches!(output.status.code(), Some(0 | 3)), "{}", stderr(&output));
    assert!(folder.join("out/report.txt").is_file());
    serde_json::from_slice(&output.stdout).unwrap()
}

fn outcome<'p>(plan: &'p Value, deliverable: &str) -> &'p Value {
    let entries = plan["clips"][0]["entries"].as_array().unwrap();
    let entry = entries.iter().find(|entry| entry["deliverable"] == deliverable).unwrap();
    &entry["segments"][0]["outcome"]
}

#[test]
fn real_clips_marked_once_a_second_are_planned_by_the_command() {
    for (clip, vertical) in
        [("bmx-trees", "fits"), ("parkour", "fits"), ("car-roundabout", "refused")]
    {
        let Some(folder) = shoot_of(clip, 24) else { return };
        let plan = plan_of(folder.path());
        match vertical {
            "refused" => {
                let refused = &outcome(&plan, "vertical")["does-not-fit"];
                assert_eq!(refused["first"]["frame"], 0);
                assert!((refused["first"]["missing_px"].as_f64().unwrap() - 170.0).abs() < 1e-6);
            }
            verdict => {
                assert_eq!(outcome(&plan, "vertical")["planned"]["verdict"], verdict, "{clip}")
            }
        }
        assert!(folder.path().join(format!("out/{clip}_proof-sheet.png")).is_file());
        assert!(folder.path().join(format!("out/{clip}_frame-000030_overlay.png")).is_file());
    }
}

#[test]
fn real_clips_marked_on_every_frame_get_the_truthful_verdicts() {
    for (clip, verdict) in [("bmx-trees", "fits"), ("parkour", "tight")] {
        let Some(folder) = shoot_of(clip, 1) else { return };
        assert_eq!(
            outcome(&plan_of(folder.path()), "vertical")["planned"]["verdict"],
            verdict,
            "{clip}"
        );
    }
    let Some(folder) = shoot_of("car-roundabout", 1) else { return };
    let plan = plan_of(folder.path());
    let refused = &outcome(&plan, "vertical")["does-not-fit"];
    // The true boxes are 440 px wide at frame 0 and 485 px at their widest; the largest 9:16 window is 270 px.
    assert!((refused["first"]["missing_px"].as_f64().unwrap() - 170.0).abs() < 1e-6);
    assert!((refused["worst"]["missing_px"].as_f64().unwrap() - 215.0).abs() < 1e-6);
}

/// A red car ahead of a fixed camera, marked by hand once in forty frames, 221 frames of H.264.
#[test]
fn a_video_file_is_planned_by_the_command() {
    let Some(footage) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let file = footage.join("video/h264-960x540-25fps-audio-first-vehicle.mp4");
    let shoot = format!(
        "version = 1\ntimeline_rate = \"25\"\nmarks = \"marks.csv\"\n\
         [[deliverable]]\nname = \"vertical\"\nraster = \"270x480\"\n\
         [[clip]]\nname = \"motorway\"\nfile = '{}'\nranges = [{{ from = 40, to = 221 }}]\n",
        file.display()
    );
    let marks = "clip,frame,left,top,width,height,kind,name\n\
                 motorway,0,-60,293,98,72,subject,red-car\nmotorway,40,24,286,113,64,subject,red-car\n\
                 motorway,80,113,291,85,50,subject,red-car\nmotorway,120,188,294,66,44,subject,red-car\n\
                 motorway,160,238,296,52,35,subject,red-car\nmotorway,220,286,296,39,31,subject,red-car\n";
    fs::write(folder.path().join("shoot.toml"), shoot).unwrap();
    fs::write(folder.path().join("marks.csv"), marks).unwrap();
    let output =
        lookroom_in(folder.path(), &["plan", "shoot.toml", "--json", "--overlays", "40,220"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let plan: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(plan["clips"][0]["frame_count"], 221);
    assert_eq!(outcome(&plan, "vertical")["planned"]["verdict"], "fits");
    assert!(folder.path().join("out/motorway_frame-000220_overlay.png").is_file());
}
