//! What is printed of exposure, card, battery and the order of mounting.

use lookroom::tasks::{Endurance, ExposureAnswer, RoundsAnswer, whole_minutes};
use std::io::{self, Write};

/// Prints what pictures are exposed with.
pub(super) fn print_exposure(exposure: &ExposureAnswer, out: &mut impl Write) -> io::Result<()> {
    if let Some([secs, degrees]) = exposure.set {
        write!(out, "  shutter {} is {degrees:.1} degrees", part_of_a_second(secs))?;
        match exposure.longest_secs {
            Some(longest) => writeln!(
                out,
                ": no frame has the time for it, set {} at most",
                part_of_a_second(longest)
            )?,
            None => writeln!(out)?,
        }
    }
    if let (Some(bare), Some(stops)) = (exposure.bare_secs, exposure.wanted_stops) {
        let wanted = if stops < 0.0 {
            format!("{:.2} stops too dark", -stops)
        } else {
            format!("{stops:.2} stops")
        };
        writeln!(
            out,
            "  without a filter {}; {:.0} degrees are {}, {wanted}: {}{}",
            part_of_a_second(bare),
            exposure.wanted_degrees,
            part_of_a_second(exposure.wanted_secs),
            filter_words(exposure),
            stronger_words(exposure)
        )?;
    }
    if exposure.is_choppy {
        writeln!(out, "  so short an exposure looks chopped")?;
    }
    if let Some(free) = &exposure.flicker_free_secs {
        let shutters: Vec<String> = free.iter().map(|secs| part_of_a_second(*secs)).collect();
        let told =
            if shutters.is_empty() { "none at this rate".to_owned() } else { shutters.join(", ") };
        let warning =
            if exposure.is_flicker_free == Some(false) { "; this one may flicker" } else { "" };
        writeln!(out, "  free of flicker under the lamps: {told}{warning}")?;
    }
    Ok(())
}

fn part_of_a_second(secs: f64) -> String {
    if secs < 0.5 { format!("1/{:.0} s", 1.0 / secs) } else { format!("{secs:.1} s") }
}

/// Which filter to take, and what comes of it.
fn filter_words(exposure: &ExposureAnswer) -> String {
    let Some(take) = &exposure.take else { return "open the lens or raise the ISO".to_owned() };
    let filter = if take.stops > 0.0 {
        format!("take the filter of {} stops", take.stops)
    } else {
        "take no filter".to_owned()
    };
    match exposure.rise_stops {
        Some(stops) => format!("{filter}{}", rise_words(stops)),
        None => format!(
            "{filter}, {} and {:.1} degrees{}",
            part_of_a_second(take.secs),
            take.angle_degrees,
            exposure.short_stops.map_or_else(String::new, |stops| format!(
                ": {stops:.1} stops short, and no stronger one is at hand"
            ))
        ),
    }
}

/// What the next stronger filter would do.
fn stronger_words(exposure: &ExposureAnswer) -> String {
    exposure.next_stronger.map_or_else(String::new, |next| {
        format!(
            " (one of {} stops {} and {:.1} degrees)",
            next.stops,
            part_of_a_second(next.secs),
            next.angle_degrees
        )
    })
}

/// What a filter leaves to the sensitivity.
fn rise_words(stops: f64) -> String {
    /// A tenth of a stop is not seen.
    const SEEN: f64 = 0.05;
    if stops > SEEN {
        format!(", and let the ISO rise by {stops:.1} stops")
    } else if stops < -SEEN {
        format!(
            ", and it is {:.1} stops too bright: expose for less time, or close the lens",
            -stops
        )
    } else {
        String::new()
    }
}

/// Prints how long card and battery last.
pub(super) fn print_endurance(endurance: &Endurance, out: &mut impl Write) -> io::Result<()> {
    if let (Some(minutes), Some(planned)) = (endurance.card_minutes, endurance.card_planned_minutes)
    {
        write!(out, "  card {minutes:.1} min, {planned:.1} to be planned with")?;
        if let Some(speed) = endurance.write_speed {
            write!(out, "; it should write {speed:.1} MB/s")?;
        }
        if let (Some(secs), Some(files)) = (endurance.split_secs, endurance.split_files) {
            write!(out, "; if it is FAT32, a new file every {secs:.1} s, {files:.0} files")?;
        }
        writeln!(out)?;
    }
    if let (Some([least, most]), Some(from)) = (endurance.battery_minutes, &endurance.battery_from)
    {
        let minutes = if (most - least).abs() < 0.5 {
            format!("{:.0}", whole_minutes(least))
        } else {
            format!("{:.0} to {most:.0}", whole_minutes(least))
        };
        writeln!(out, "  battery {minutes} min ({from})")?;
    }
    if let Some(why) = &endurance.battery_unknown {
        writeln!(out, "  battery: {why}")?;
        if let (Some(short), Some(needed)) = (endurance.short_minutes, endurance.needed_minutes) {
            writeln!(
                out,
                "  the card alone is {short:.0} min short of the {needed:.0} it has to run"
            )?;
        }
    }
    if let (Some(what), Some(minutes)) = (endurance.stops_first, endurance.stops_after_minutes) {
        write!(out, "  the {what} stops first, after {:.0} min", whole_minutes(minutes))?;
        if let Some(by) = &endurance.change_by {
            write!(out, ": change it by {by}")?;
        }
        if let (Some(short), Some(needed)) = (endurance.short_minutes, endurance.needed_minutes) {
            write!(out, "; {short:.0} min short of the {needed:.0} it has to run")?;
        }
        writeln!(out)?;
    }
    Ok(())
}

/// Prints in which order cameras are put up.
pub(super) fn print_rounds(rounds: &RoundsAnswer, out: &mut impl Write) -> io::Result<()> {
    writeln!(
        out,
        "order of mounting, hardest to reach first: {:.0} min of {:.0} min of light, less one camera that is aimed again",
        rounds.total_minutes, rounds.light_minutes
    )?;
    for (name, begins, done, fits) in &rounds.order {
        let late = if *fits { "" } else { "  does not fit" };
        writeln!(out, "  {name}: minute {begins:.0} to {done:.0}{late}")?;
    }
    writeln!(out)
}
