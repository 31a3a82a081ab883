use super::*;

fn stretch(first: u64, end: u64, speed: Speed) -> RetimeStretch {
    let frames = FrameRange::new(FrameIndex(first), FrameIndex(end)).unwrap();
    RetimeStretch { frames, speed }
}

/// Real time, a ramp to a quarter over 100 frames, a quarter.
fn slowing(law: RampLaw) -> Retime {
    Retime::new(vec![
        stretch(0, 200, Speed::Constant(1.0)),
        stretch(200, 300, Speed::Ramp { from: 1.0, to: 0.25, law }),
        stretch(300, 500, Speed::Constant(0.25)),
    ])
    .unwrap()
}

fn played(retime: &Retime, from: u64, to: u64) -> f64 {
    retime.played(FrameIndex(from), FrameIndex(to))
}

fn close(actual: f64, expected: f64, tolerance: f64) {
    assert!((actual - expected).abs() <= tolerance, "{actual} is not {expected}");
}

/// By hand: 100 / 0.625 = 160; (100 / 0.75) ln 4 = 184.839.
#[test]
fn the_two_laws_give_ramps_of_different_lengths() {
    let (source, timeline) = (slowing(RampLaw::LinearInSource), slowing(RampLaw::LinearInTimeline));
    close(played(&timeline, 200, 300), 160.0, 1e-12);
    close(played(&source, 200, 300), 400.0 / 3.0 * 4.0_f64.ln(), 1e-12);
    for retime in [&source, &timeline] {
        assert_eq!(played(retime, 0, 200), 200.0);
        assert_eq!(played(retime, 300, 500), 800.0);
        assert_eq!(played(retime, 40, 40), 0.0);
        assert_eq!(played(retime, 300, 100), -played(retime, 100, 300));
    }
}

/// The integral of 1/speed by the midpoint rule, and for the other law the speed stepped through time.
#[test]
fn the_closed_forms_are_the_integrals() {
    let (from, to, frames) = (1.0, 0.25, 100.0);
    let cells = 100_000;
    let cell = frames / f64::from(cells);
    let sum: f64 = (0..cells)
        .map(|at| cell / (from + (to - from) * (f64::from(at) + 0.5) * cell / frames))
        .sum();
    close(sum, played(&slowing(RampLaw::LinearInSource), 200, 300), 1e-6);
    // A ramp of 160 frames' time whose speed falls evenly from 1 to 0.25: what has been played after half.
    let half: f64 = (0..cells)
        .map(|at| {
            let time = (f64::from(at) + 0.5) / f64::from(cells) * 80.0;
            (from + (to - from) * time / 160.0) * 80.0 / f64::from(cells)
        })
        .sum();
    close(half, 65.0, 1e-6);
    close(played(&slowing(RampLaw::LinearInTimeline), 200, 265), 80.0, 1e-9);
}

#[test]
fn a_way_is_as_long_as_its_parts() {
    for law in RampLaw::ALL {
        let retime = slowing(law);
        let steps: f64 = (0..600).map(|frame| played(&retime, frame, frame + 1)).sum();
        close(steps, played(&retime, 0, 600), 1e-9);
        assert!((0..600).all(|frame| played(&retime, frame, frame + 1) > 0.0));
    }
}

#[test]
fn beside_the_table_the_speed_of_its_end_goes_on() {
    let ramp = Speed::Ramp { from: 0.5, to: 2.0, law: RampLaw::LinearInSource };
    let retime = Retime::new(vec![stretch(10, 20, ramp)]).unwrap();
    assert_eq!(played(&retime, 0, 10), 20.0);
    assert_eq!(played(&retime, 20, 30), 5.0);
    assert_eq!(played(&retime, 25, 5), -(10.0 + played(&retime, 10, 20) + 2.5));
    assert_eq!(retime.constant(), None);
}

#[test]
fn a_ramp_that_is_none_is_constant_under_both_laws() {
    for law in RampLaw::ALL {
        let flat = Speed::Ramp { from: 0.4, to: 0.4, law };
        let retime = Retime::new(vec![stretch(0, 100, flat)]).unwrap();
        close(played(&retime, 3, 50), 47.0 / 0.4, 1e-12);
        assert_eq!(retime.constant(), Some(0.4));
        // And nearly none: the logarithm of nearly 1 is not lost.
        let nearly = Speed::Ramp { from: 0.4, to: 0.4 + 1e-15, law };
        let retime = Retime::new(vec![stretch(0, 100, nearly)]).unwrap();
        close(played(&retime, 0, 100), 250.0, 1e-9);
    }
}

#[test]
fn stretches_follow_on_each_other_in_any_order() {
    let half = Speed::Constant(0.5);
    let parts = |parts: &[(u64, u64)]| {
        Retime::new(parts.iter().map(|(first, end)| stretch(*first, *end, half)).collect())
    };
    assert_eq!(parts(&[(5, 9), (0, 5)]).unwrap().frames(), stretch(0, 9, half).frames);
    assert_eq!(parts(&[]).unwrap_err(), TimecodeError::NoRetimes);
    assert_eq!(
        parts(&[(5, 9), (0, 6)]).unwrap_err().to_string(),
        "the retime of frames 5 to 8 begins before that of frames 0 to 5 ends; end the one where the other begins"
    );
    assert_eq!(
        parts(&[(0, 5), (7, 9)]).unwrap_err().to_string(),
        "frames 5 to 6 lie between the retimes of frames 0 to 4 and 7 to 8 and have no speed; write them down too"
    );
    for speed in [0.0, -1.0, 0.009, 25.0, f64::NAN, f64::INFINITY] {
        let ramp = Speed::Ramp { from: 1.0, to: speed, law: RampLaw::LinearInSource };
        for speed in [Speed::Constant(speed), ramp] {
            let error = Retime::new(vec![stretch(0, 1, speed)]).unwrap_err();
            assert!(matches!(error, TimecodeError::SpeedOutOfRange { .. }), "{error}");
        }
    }
}
