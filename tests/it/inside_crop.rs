//! A camera's inside crop, through the whole command.

use crate::command::{SHOOT, SmallShoot, lookroom_in, stderr, stdout};

#[test]
fn an_inside_crop_is_in_every_enlargement_and_in_no_column() {
    let plain = SmallShoot::new(SHOOT);
    let cropped = SmallShoot::new(&format!("{SHOOT}inside_crop = {{ of_width = 0.2 }}\n"));
    for shoot in [&plain, &cropped] {
        let output = shoot.run(&["plan", "shoot.toml"]);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    }
    let report = |shoot: &SmallShoot| -> serde_json::Value {
        serde_json::from_str(&shoot.read("out/report.json")).unwrap()
    };
    let (without, with) = (report(&plain), report(&cropped));
    assert_eq!(without["clips"][0]["inside_crop"], serde_json::Value::Null);
    let written = serde_json::json!({ "reading": "of-width", "share": 0.2, "linear_factor": 0.8 });
    assert_eq!(with["clips"][0]["inside_crop"], written);
    for entry in 0..2 {
        let softest = |plan: &serde_json::Value| {
            let softest = &plan["clips"][0]["entries"][entry]["softest"];
            let enlargement = softest["enlargement"].as_f64().unwrap();
            (enlargement, softest["stricter"].as_array().unwrap().len())
        };
        let (plain, cropped) = (softest(&without), softest(&with));
        assert!((cropped.0 - plain.0 / 0.8).abs() < 1e-12, "{plain:?} {cropped:?}");
        assert_eq!((plain.1, cropped.1), (0, 1));
    }
    for table in ["every-frame.csv", "keys.csv"] {
        let name = format!("out/walk_film_{table}");
        assert_eq!(plain.read(&name), cropped.read(&name));
    }
}

#[test]
fn the_texts_say_that_an_inside_crop_is_in_the_figures() {
    let told = "inside crop 20 % of width: each px of the file carries 0.800 of a sensor px across and down; E is \
                stated with it; the file says 400 px across, you have about 320";
    let shoot = SmallShoot::new(&format!("{SHOOT}inside_crop = {{ of_width = 0.2 }}\n"));
    assert_eq!(shoot.run(&["plan", "shoot.toml"]).status.code(), Some(0));
    let report = shoot.read("out/report.txt");
    assert_eq!(report.matches(told).count(), 1, "{report}");
    assert!(report.contains("one band stricter: the inside crop leaves 0.800"), "{report}");
    // 384 px of a 384 px wide window: 384 / (384 x 0.8) = 1.25, or of a 400 px wide one 1.2.
    assert!(report.contains("with an inside crop: "), "{report}");
    let conventions = shoot.read("out/walk_film_conventions.txt");
    assert!(conventions.contains("inside crop of 20 % of width"), "{conventions}");
    assert!(stdout(&shoot.run(&["check", "shoot.toml"])).contains(told));
    let plain = SmallShoot::new(SHOOT);
    assert_eq!(plain.run(&["plan", "shoot.toml"]).status.code(), Some(0));
    assert!(!plain.read("out/report.txt").contains("inside crop "));
}

#[test]
fn a_remedy_that_reckons_with_an_inside_crop_is_let_through() {
    // 400 px carry 320; within E 1.2 they are delivered at 384 px, and without the crop at 480.
    let shoot = |film: &str, greatest: &str| {
        let limits = format!("[limits]\ngreatest_enlargement = {greatest}\n");
        let text = SHOOT.replace("[limits]\n", &limits).replace("384x216", film);
        let shoot = SmallShoot::new(&format!("{text}inside_crop = {{ per_side = 0.1 }}\n"));
        stdout(&shoot.run(&["plan", "shoot.toml"]))
    };
    let told = shoot("480x270", "1.2");
    assert!(told.contains(
        "400 px wide is the largest 16:9 window, and 480x270 within enlargement 1.20 needs 500 px (480 / (1.20 x \
         0.800), since the inside crop leaves 0.800): 100 px missing"
    ), "{told}");
    for (film, greatest) in [("384x216", "1.2"), ("480x270", "1.5")] {
        let told = shoot(film, greatest);
        assert!(!told.contains("400 px wide is the largest"), "{film} in {greatest}:\n{told}");
    }
}

#[test]
fn a_number_alone_is_no_inside_crop_on_the_command_line() {
    let folder = tempfile::tempdir().unwrap();
    let crop = |inside: &str| {
        let question = ["crop", "--from", "4000x3000", "--to", "3840x2160"];
        lookroom_in(folder.path(), &[&question[..], &["--inside-crop", inside]].concat())
    };
    let asked = crop("0.1");
    assert_eq!(asked.status.code(), Some(2));
    let told = stderr(&asked);
    let factors = "per side leaves 0.800 of the width, of width 0.900, of area 0.949";
    assert!(told.contains(factors), "{told}");
    let answer = stdout(&crop("of-width:0.1"));
    let softness = "in 3840x2160: E 1.0667, short or fast shots only; carries 3600 x 2025 px";
    assert!(answer.contains(softness), "{answer}");
    assert_eq!(answer.matches("inside crop 10 % of width: ").count(), 1, "{answer}");
}
