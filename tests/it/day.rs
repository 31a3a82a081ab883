//! What a day does to cameras that nobody attends, through the command: filter, flicker, cold, clock, order.

use crate::{
    before_mounting::folder,
    command::{lookroom_in, stderr, stdout},
};
use std::process::Output;

const KIT: &str = "\
camera,mode,raster,rate,mbit_s,mapping,fov_degrees,fov_along
weir,tall-50,4000x3000,50,120,rectilinear,90,horizontal
";

const BRIEF: &str = "\
version = 1
timeline_rate = \"25\"
kit = \"kit.csv\"
[[deliverable]]
name = \"film\"
raster = \"3840x2160\"
[[mount]]
name = \"bridge\"
mode = \"tall-50\"
height = 6
tilt_down = 30
[[mount]]
name = \"gate\"
mode = \"tall-50\"
height = 1
tilt_down = 0
minutes = 10
";

fn mount(day: &str, arguments: &[&str]) -> Output {
    let folder = folder(KIT, &format!("{BRIEF}[day]\n{day}"));
    lookroom_in(folder.path(), &[&["mount", "brief.toml"], arguments].concat())
}

#[track_caller]
fn told(day: &str, line: &str) -> String {
    let output = mount(day, &[]);
    let text = stdout(&output) + &stderr(&output);
    assert!(text.contains(line), "{line}\n{text}");
    text
}

const SUN: &str = "exposure_value = 15\nf_number = 2.8\n";

#[test]
fn a_set_shutter_gets_the_filter_that_lets_nothing_be_too_bright() {
    // By hand: 2.8² / 2^15 = 1/4180 s; 1/200 s is log2(4180 / 200) = 4.39 stops longer: a filter of 5, 0.6 too strong. With 4 at
    // most, 0.4 too bright.
    let with = |filters: &str| format!("{SUN}shutter = \"1/200\"\nfilters = {filters}\n");
    told(
        &with("[3, 4, 5, 6]"),
        "90 degrees are 1/200 s, 4.39 stops: take the filter of 5 stops, and let the ISO rise by 0.6 stops",
    );
    told(&with("[3, 4]"), "take the filter of 4 stops, and it is 0.4 stops too bright");
    // EV 5 is ten stops less light: 1/4.1 s without a filter, 5.61 stops too dark for 1/200 s.
    let dark = with("[3]").replace("= 15", "= 5");
    told(&dark, "5.61 stops too dark: take no filter, and let the ISO rise by 5.6 stops");
}

#[test]
fn a_filter_that_no_frame_has_the_time_for_is_not_offered() {
    // EV 5: 1/4.1 s at 50 frames/s would be 4410 degrees.
    let dark = format!("{SUN}filters = [3, 4]\n").replace("= 15", "= 5");
    let text = told(&dark, "4.61 stops too dark: open the lens or raise the ISO");
    assert!(!text.contains("4410"), "{text}");
}

/// By hand: 1/100 s is log2(4180 / 100) = 5.39 stops longer than without a filter; 3 of them are 2.4 short of it, and 5 are not
/// short by a whole one.
#[test]
fn filters_that_are_all_too_weak_are_said_to_be() {
    let text = told(
        &format!("{SUN}filters = [2, 3]\n"),
        "take the filter of 3 stops, 1/522 s and 34.5 degrees: 2.4 stops short, and no stronger one is at hand",
    );
    assert!(text.contains("so short an exposure looks chopped"), "{text}");
    let near = told(&format!("{SUN}filters = [5]\n"), "take the filter of 5 stops");
    assert!(!near.contains("stops short"), "{near}");
    // One of 8 is there, though no frame has the time for it; and of filters that nobody told nothing is said.
    for filters in ["filters = [2, 8]\n", ""] {
        let text = told(&format!("{SUN}{filters}"), "180 degrees are 1/100 s, 5.39 stops: take");
        assert!(!text.contains("stops short"), "{text}");
    }
}

#[test]
fn lamps_name_the_shutters_that_do_not_flicker() {
    // Lamps on 60 Hz flicker 120 times a second: a frame of 1/50 s has time for one flicker or two.
    let lamps = format!("{SUN}shutter = \"1/100\"\nmains_hz = \"60\"\n");
    told(&lamps, "free of flicker under the lamps: 1/60 s, 1/120 s; this one may flicker");
    let text =
        told(&lamps.replace("1/100", "1/120"), "free of flicker under the lamps: 1/60 s, 1/120 s");
    assert!(!text.contains("may flicker"), "{text}");
}

#[test]
fn a_battery_in_unmeasured_cold_is_not_passed_over() {
    let day = "celsius = -35\nbattery_minutes = 90\ncard_gb = 128\nstarts_at = \"10:00\"\n";
    let text = told(
        day,
        "battery: nothing is published here on cells at -35 degrees Celsius, only down to -30",
    );
    assert!(text.contains("say what share of its time is left"), "{text}");
    assert!(text.contains("card 142.2 min") && !text.contains("stops first"), "{text}");
    let own = told(&format!("{day}battery_share = 0.3\n"), "battery 27 min (your own figure)");
    assert!(own.contains("the battery stops first, after 27 min: change it by 10:27"), "{own}");
}

#[test]
fn a_card_that_is_short_by_itself_is_told_though_nobody_knows_the_battery() {
    // 32 GB at 120 Mb/s are 35.6 minutes, 32.0 to be planned with: 43 short of 75.
    let day = "celsius = -35\nbattery_minutes = 90\ncard_gb = 32\nneeded_minutes = 75\n";
    told(day, "the card alone is 43 min short of the 75 it has to run");
}

#[test]
fn a_shutter_that_no_frame_has_the_time_for_gets_no_filter() {
    let day = format!("{SUN}shutter = \"1/10\"\nfilters = [3, 4, 5]\n");
    let line = "shutter 1/10 s is 1800.0 degrees: no frame has the time for it, set 1/50 s at most";
    let text = told(&day, line);
    assert!(!text.contains("filter"), "{text}");
    // All of a frame's time is possible.
    let whole = told(&day.replace("1/10", "1/50"), "shutter 1/50 s is 360.0 degrees\n");
    assert!(
        whole.contains("take the filter of 5 stops, and it is 1.4 stops too bright"),
        "{whole}"
    );
}

#[test]
fn a_mode_that_crops_inside_is_noted_once() {
    let kit = KIT.replace("fov_along\n", "fov_along,inside_crop,inside_crop_of\n");
    let kit = kit.replace("90,horizontal\n", "90,horizontal,0.1,width\n");
    let folder = folder(&kit, BRIEF);
    let text = stdout(&lookroom_in(folder.path(), &["modes", "brief.toml"]));
    let note =
        "note: weir tall-50 crops 10 % of width inside the camera, and E is stated with that";
    assert_eq!(text.matches(note).count(), 1, "{text}");
}

#[test]
fn a_clock_that_passes_midnight_says_so() {
    told(
        "starts_at = \"23:30\"\nbattery_minutes = 90\n",
        "the battery stops first, after 90 min: change it by 01:00 the next day",
    );
}

#[test]
fn gloves_make_the_usual_minutes_half_as_long_again() {
    // The usual nine minutes become 13.5; who writes minutes knows what they wear: 23.5 of 40 - 5.
    let text = told("light_minutes = 40\ngloves = true\n", "bridge: minute 0 to 14");
    assert!(text.contains("gate: minute 14 to 24"), "{text}");
    let bare = told("light_minutes = 40\n", "bridge: minute 0 to 9");
    assert!(bare.contains("gate: minute 9 to 19"), "{bare}");
}
