use super::*;

fn folder_with(names: &[&str]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in names {
        fs::write(folder.path().join(name), "x").unwrap();
    }
    folder
}

fn names_of(files: &[PathBuf]) -> Vec<String> {
    files.iter().map(|path| file_name(path)).collect()
}

#[test]
fn a_folder_is_ordered_by_numbers_and_not_by_letters() {
    let folder = folder_with(&["a9.PNG", "a10.jpeg", "a8.jpg", "notes.txt", "._a9.png"]);
    let files = files_of(folder.path()).unwrap();
    assert_eq!(names_of(&files), ["a8.jpg", "a9.PNG", "a10.jpeg"]);
}

#[test]
fn a_pattern_takes_its_own_files_only() {
    let folder = folder_with(&["a_002.png", "a_001.png", "b_001.png", "a_1.png"]);
    let files = files_of(&folder.path().join("a_%03d.png")).unwrap();
    assert_eq!(names_of(&files), ["a_001.png", "a_002.png"]);
}

#[test]
fn a_gap_names_the_frame_and_the_file() {
    let folder = folder_with(&["é98.png", "é99.png", "é101.png"]);
    let refusal = files_of(folder.path()).unwrap_err();
    let MediaError::Gap { frame, expected, number, .. } = &refusal else { panic!("{refusal}") };
    assert_eq!((*frame, *number), (FrameIndex(2), 100));
    assert_eq!(file_name(expected), "é100.png");
    assert!(refusal.to_string().ends_with("and é101.png; it is the only one that is missing"));
}

#[test]
fn two_files_of_one_number_are_refused() {
    let folder = folder_with(&["left_0.jpg", "right_0.jpg", "left_1.jpg"]);
    let refusal = files_of(folder.path()).unwrap_err();
    assert!(matches!(refusal, MediaError::SameNumber { number: 0, .. }), "{refusal}");
}

#[test]
fn a_folder_without_frames_names_what_is_there() {
    let folder = folder_with(&["ride.mp4", "notes.txt"]);
    let refusal = files_of(folder.path()).unwrap_err().to_string();
    assert!(
        refusal.ends_with("holds no PNG or JPEG frames, only notes.txt, ride.mp4"),
        "{refusal}"
    );
}

#[test]
fn a_picture_without_a_place_is_refused() {
    for name in ["cover.png", "99999999999999999999999.png"] {
        let folder = folder_with(&["1.png", name]);
        let refusal = files_of(folder.path()).unwrap_err();
        assert!(matches!(refusal, MediaError::NoNumber { .. }), "{refusal}");
    }
}

#[test]
fn paths_that_are_no_sequence_say_why() {
    let folder = folder_with(&["one.png"]);
    let refused = |name: &str| files_of(&folder.path().join(name)).unwrap_err();
    assert!(matches!(refused("one.png"), MediaError::NotASequence { .. }));
    assert!(matches!(refused("absent"), MediaError::NoSuchSequence { .. }));
    fs::create_dir(folder.path().join("frames")).unwrap();
    fs::create_dir(folder.path().join("sound")).unwrap();
    for written in ["frame/%05d.jpg", "Frame", "farmes/*.png"] {
        let refusal = refused(written).to_string();
        assert!(refusal.contains("there is no folder "), "{refusal}");
        assert!(refusal.ends_with("; did you mean `frames`, which is beside it?"), "{refusal}");
    }
    let refusal = refused("pictures/%05d.jpg").to_string();
    assert!(refusal.ends_with("pictures; correct its name, or copy the frames there"), "{refusal}");
    assert!(matches!(refused("take%02d/%05d.png"), MediaError::NumberInFolder { .. }));
    assert!(matches!(refused("f%05d.png"), MediaError::NoMatch { .. }));
    assert!(matches!(refused("absent/f%05d.png"), MediaError::NoSuchFolder { .. }));
}

#[test]
fn several_gaps_are_counted_together() {
    let folder = folder_with(&["f1.png", "f3.png", "f4.png", "f8.png"]);
    let refusal = files_of(folder.path()).unwrap_err().to_string();
    assert!(refusal.starts_with("frame 1 is missing: the file "), "{refusal}");
    assert!(
        refusal.ends_with(
            "f2.png (number 2) should be between f1.png and f3.png; 4 are missing in all"
        ),
        "{refusal}"
    );
}

#[test]
fn numbers_at_the_end_of_counting_are_no_trouble() {
    let folder = folder_with(&["0.png", "18446744073709551615.png"]);
    let refusal = files_of(folder.path()).unwrap_err();
    let MediaError::Gap { missing_count, .. } = refusal else { panic!("{refusal}") };
    assert_eq!(missing_count, u64::MAX - 1);
}

#[test]
fn several_doubles_and_names_without_a_number_are_counted() {
    let folder = folder_with(&["a0.png", "a1.png", "b1.png", "c1.png", "a2.png", "b2.png"]);
    let refusal = files_of(folder.path()).unwrap_err().to_string();
    assert!(refusal.starts_with("frame 1 is there twice: "), "{refusal}");
    assert!(
        refusal.contains("a1.png and b1.png both have the number 1 (and 2 more such pairs); "),
        "{refusal}"
    );
    let folder = folder_with(&["1.png", "back.png", "cover.png", "title.png"]);
    let refusal = files_of(folder.path()).unwrap_err().to_string();
    assert!(refusal.contains("back.png (and 2 more) has no number"), "{refusal}");
}

#[test]
fn a_glob_takes_its_own_files_in_the_order_of_numbers() {
    let names = ["s_9.png", "s_10.png", "s_11.jpg", "t_12.png", "._s_9.png", "notes.txt"];
    let folder = folder_with(&names);
    fs::create_dir(folder.path().join("s_12.png")).unwrap();
    for (glob, expected) in [
        ("s_*.png", &["s_9.png", "s_10.png"][..]),
        ("s_??.*", &["s_10.png", "s_11.jpg"]),
        ("[st]_1[0-2]*", &["s_10.png", "s_11.jpg", "t_12.png"]),
        ("*.png", &["s_9.png", "s_10.png"]),
    ] {
        match files_of(&folder.path().join(glob)) {
            Ok(files) => assert_eq!(names_of(&files), expected, "{glob}"),
            // 11 is a JPEG, which this glob leaves out.
            Err(MediaError::Gap { number: 11, .. }) => assert_eq!(glob, "*.png"),
            Err(refusal) => panic!("{glob}: {refusal}"),
        }
    }
}

#[test]
fn a_folder_or_file_of_that_very_name_is_no_glob() {
    let folder = folder_with(&["a[1].png", "a1.png"]);
    let named = folder.path().join("take [2]*");
    fs::create_dir(&named).unwrap();
    fs::write(named.join("f7.png"), "x").unwrap();
    assert_eq!(names_of(&files_of(&named).unwrap()), ["f7.png"]);
    assert_eq!(names_of(&files_of(&named.join("f*.png")).unwrap()), ["f7.png"]);
    assert_eq!(names_of(&files_of(&named.join("f%d.png")).unwrap()), ["f7.png"]);
    let refusal = files_of(&folder.path().join("a[1].png")).unwrap_err();
    assert!(matches!(refusal, MediaError::NotASequence { .. }), "{refusal}");
}

#[test]
fn globs_that_stand_for_nothing_say_why() {
    let names = ["g1.png", "g2.png", "g3.png", "g4.png", "g5.png", "g6.png", "g7.png"];
    let folder = folder_with(&names);
    let refused = |name: &str| files_of(&folder.path().join(name)).unwrap_err();
    let refusal = refused("shot_*.png").to_string();
    let end = "has a name like shot_*.png, only g1.png, g2.png, g3.png, g4.png, g5.png and 2 more";
    assert!(refusal.ends_with(end), "{refusal}");
    let refusal = refused("shot_%d.png").to_string();
    assert!(refusal.ends_with("g5.png and 2 more"), "{refusal}");
    assert!(matches!(refused("take_*/f*.png"), MediaError::GlobInFolder { .. }));
    assert!(matches!(refused("take_*/f.png"), MediaError::GlobInFolder { .. }));
    assert!(matches!(refused("f[0-9.png"), MediaError::BadGlob { .. }));
    assert!(matches!(refused("absent/f*.png"), MediaError::NoSuchFolder { .. }));
    let empty = folder_with(&[]);
    let refusal = files_of(&empty.path().join("*.png")).unwrap_err().to_string();
    assert!(refusal.ends_with("has a name like *.png, only nothing at all"), "{refusal}");
}

#[test]
fn a_folder_of_pictures_in_another_format_is_refused_by_the_format() {
    let folder = folder_with(&["notes.txt"]);
    for number in 1..=4 {
        fs::write(folder.path().join(format!("frame_000{number}.tif")), b"II*\0\x08\0\0\0")
            .unwrap();
    }
    fs::write(folder.path().join("preview.gif"), b"GIF89a").unwrap();
    let refusal = files_of(folder.path()).unwrap_err().to_string();
    assert!(
        refusal.ends_with(
            "holds TIFF pictures: frame_0001.tif (and 3 more); only PNG and JPEG frames are read: save them as one of these"
        ),
        "{refusal}"
    );
}
