//! A shoot of clips that are read from small copies: 500 frames of 2720 x 2040, 100 a second, on a timeline of 25.

use crate::command::{lookroom_in, stderr, stdout};
use std::{collections::BTreeMap, fs, path::PathBuf};

/// The shoot, in a folder of its own.
pub(crate) struct Ride(tempfile::TempDir);

/// What is written before the clips.
pub(crate) const HEAD: &str = "version = 1\ntimeline_rate = 25\nmarks = \"marks.csv\"\nrounding = \"exact\"\n\
    [[deliverable]]\nname = \"vertical\"\nraster = \"1080x1920\"\n";

/// A clip of these frames, with further keys.
pub(crate) fn clip(name: &str, keys: &str) -> String {
    clip_of(name, ("2720x2040", 100), keys)
}

/// A clip of these frames in another raster and at another rate.
pub(crate) fn clip_of(name: &str, (raster, rate): (&str, u32), keys: &str) -> String {
    format!(
        "[[clip]]\nname = \"{name}\"\nframes = \"frames/%04d.png\"\nrate = {rate}\n\
         proxy = {{ of = \"{raster}\", marks_in = \"full\" }}\n{keys}\n"
    )
}

impl Ride {
    /// A shoot file, and the rows of its marks.
    pub(crate) fn new(shoot: &str, marks: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("frames")).unwrap();
        let first = folder.path().join("frames/0000.png");
        image::RgbImage::from_pixel(68, 51, image::Rgb([90, 120, 150])).save(&first).unwrap();
        for frame in 1..500 {
            fs::hard_link(&first, folder.path().join(format!("frames/{frame:04}.png"))).unwrap();
        }
        // Marks of further columns bring their own heading.
        let heading =
            if marks.starts_with("clip,") { "" } else { "clip,frame,left,top,width,height\n" };
        let marks = format!("{heading}{marks}");
        fs::write(folder.path().join("marks.csv"), marks).unwrap();
        fs::write(folder.path().join("shoot.toml"), shoot).unwrap();
        Self(folder)
    }

    /// The same with pinned windows.
    pub(crate) fn pinned(self, rows: &str) -> Self {
        let shoot = fs::read_to_string(self.0.path().join("shoot.toml")).unwrap();
        let shoot = shoot.replacen("marks = ", "pins = \"pins.csv\"\nmarks = ", 1);
        fs::write(self.0.path().join("shoot.toml"), shoot).unwrap();
        let pins = format!("clip,deliverable,frame,left,top,width\n{rows}");
        fs::write(self.0.path().join("pins.csv"), pins).unwrap();
        self
    }

    /// The same with a motion file of these rows.
    pub(crate) fn with_motion(self, rows: &str) -> Self {
        let shoot = fs::read_to_string(self.0.path().join("shoot.toml")).unwrap();
        let shoot = shoot.replacen("marks = ", "motion = \"motion.csv\"\nmarks = ", 1);
        fs::write(self.0.path().join("shoot.toml"), shoot).unwrap();
        let motion = format!("clip,frame,dx,dy\n{rows}");
        fs::write(self.0.path().join("motion.csv"), motion).unwrap();
        self
    }

    /// One clip, with a subject nearly as wide as a 9:16 window that walks 612 px in the last 200 frames.
    pub(crate) fn walking(clip_keys: &str) -> Self {
        let marks =
            "ride,0,300,800,1030,600\nride,300,300,800,1030,600\nride,499,912,800,1030,600\n";
        Self::new(&format!("{HEAD}{}", clip("ride", clip_keys)), marks)
    }

    /// The same with another marks file, heading and all.
    pub(crate) fn marked(self, marks: &str) -> Self {
        fs::write(self.0.path().join("marks.csv"), marks).unwrap();
        self
    }

    /// The pins file.
    pub(crate) fn pins(&self) -> String {
        fs::read_to_string(self.0.path().join("pins.csv")).unwrap()
    }

    /// Puts something else in the place of a part of the shoot file.
    pub(crate) fn change_shoot(&self, from: &str, to: &str) {
        let path = self.0.path().join("shoot.toml");
        let shoot = fs::read_to_string(&path).unwrap();
        assert!(shoot.contains(from), "{shoot}");
        fs::write(path, shoot.replacen(from, to, 1)).unwrap();
    }

    /// What the command prints, and its exit status.
    pub(crate) fn plan(&self) -> (String, Option<i32>) {
        self.plan_with(&[])
    }

    /// The same with further options.
    pub(crate) fn plan_with(&self, options: &[&str]) -> (String, Option<i32>) {
        let arguments: Vec<&str> = ["plan", "shoot.toml"].iter().chain(options).copied().collect();
        let output = lookroom_in(self.0.path(), &arguments);
        (format!("{}{}", stdout(&output), stderr(&output)), output.status.code())
    }

    /// The outputs folder.
    pub(crate) fn out(&self) -> PathBuf {
        self.0.path().join("out")
    }

    /// A file of the outputs.
    pub(crate) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.out().join(name)).unwrap()
    }

    /// Whether there is such a file.
    pub(crate) fn has(&self, name: &str) -> bool {
        self.out().join(name).exists()
    }

    pub(crate) fn report(&self) -> serde_json::Value {
        serde_json::from_str(&self.read("report.json")).unwrap()
    }

    /// The rows of a table by column.
    pub(crate) fn rows(&self, table: &str) -> Vec<BTreeMap<String, String>> {
        let mut table = csv::Reader::from_path(self.out().join(table)).unwrap();
        table.deserialize().map(|row| row.unwrap()).collect()
    }
}

pub(crate) fn number(row: &BTreeMap<String, String>, column: &str) -> f64 {
    row[column].parse().unwrap()
}
