//! What the decoder writes to standard error: reports of frames, complaints, and much that nobody needs.

use crate::process::{LineFate, LineTap};
use std::sync::{Arc, Mutex, PoisonError, mpsc};

/// What the decoder reports of a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::media) struct Shown {
    /// Its time stamp in ticks of the stream, if it has one.
    pub(in crate::media) stamp: Option<i64>,
    /// Its width and height before anything is done to it.
    pub(in crate::media) size: (u32, u32),
}

/// What the decoder complained of while it went on.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(in crate::media) struct Complaints {
    pub(in crate::media) count: u64,
    /// The first, and how many frames had come before it.
    pub(in crate::media) first: Option<(u64, String)>,
}

/// Since when complaints count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Heard {
    /// From the beginning.
    FromStart,
    /// From the first frame on that was asked for.
    FromFirstFrame,
}

/// Hears reports of frames and complaints, and forgets the rest.
pub(super) fn tap(
    sender: mpsc::Sender<Shown>,
    complaints: Arc<Mutex<Complaints>>,
    heard: Heard,
) -> LineTap {
    let mut reported = 0;
    Box::new(move |line| {
        if let Some(shown) = report(line) {
            reported += 1;
            // Nobody may be listening any more.
            let _ = sender.send(shown);
            return LineFate::Forget;
        }
        if !is_complaint(line) {
            return LineFate::Forget;
        }
        if reported == 0 && heard == Heard::FromFirstFrame {
            return LineFate::Keep;
        }
        let mut complaints = complaints.lock().unwrap_or_else(PoisonError::into_inner);
        complaints.count += 1;
        complaints.first.get_or_insert_with(|| (reported, plain(line)));
        LineFate::Keep
    })
}

/// Reads `[Parsed_showinfo_1 @ 0x5581] [info] n:   1 pts:    640 pts_time:0.0333 … s:568x320 …`.
fn report(line: &str) -> Option<Shown> {
    let told = line.strip_prefix("[Parsed_showinfo_")?;
    let (_, told) = told.split_once("] n:")?;
    let value = |name: &str| told.split_once(name)?.1.split_whitespace().next();
    let (width, height) = value(" s:")?.split_once('x')?;
    Some(Shown {
        stamp: value(" pts:")?.parse().ok(),
        size: (width.parse().ok()?, height.parse().ok()?),
    })
}

/// Whether a line tells of something that went wrong with the pictures. One without a level is not the decoder's own. What
/// hands the bytes on complains of stamps that it has no use for.
fn is_complaint(line: &str) -> bool {
    const QUIET_LEVELS: [&str; 5] = ["[warning]", "[info]", "[verbose]", "[debug]", "[trace]"];
    const HANDED_ON: [&str; 2] = ["[rawvideo @", "[null @"];
    !QUIET_LEVELS.iter().chain(&HANDED_ON).any(|quiet| line.contains(quiet))
}

/// A line without the level and the addresses that mean nothing to a reader.
pub(in crate::media) fn plain(line: &str) -> String {
    let mut words = Vec::new();
    for word in line.split_whitespace() {
        let is_level = ["[error]", "[fatal]", "[panic]"].contains(&word);
        let is_address = word == "@" || word.starts_with("0x");
        if is_address && word.ends_with(']') {
            if let Some(named) = words.last_mut() {
                *named = format!("{named}]");
            }
        } else if !is_level && !is_address {
            words.push(word.to_owned());
        }
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lines that versions 5.1 and 7.1 print; the latter from memory.
    #[test]
    fn only_what_is_wrong_with_the_pictures_is_complained_of() {
        for (line, expected) in [
            ("[h264 @ 0x55c2cd] [error] error while decoding MB 4 0", true),
            ("[matroska,webm @ 0x55c2cd] [error] File ended prematurely", true),
            ("[h264 @ 0x55c2cd] [warning] mmco: unref short failure", false),
            // As printed for a real 3GP file of variable rate.
            (
                "[rawvideo @ 0x55c2cd] [error] Application provided invalid, non monotonically increasing dts to muxer",
                false,
            ),
        ] {
            assert_eq!(is_complaint(line), expected, "{line}");
        }
    }

    #[test]
    fn reports_are_told_from_everything_else() {
        for (line, shown) in [
            (
                "[Parsed_showinfo_1 @ 0x5581] [info] n:   1 pts:    640 pts_time:0.0333333 pos:    12771 fmt:yuv420p sar:0/1 s:568x320 i:P iskey:0 type:P ",
                Some(Shown { stamp: Some(640), size: (568, 320) }),
            ),
            (
                "[Parsed_showinfo_0 @ 0x5581] [info] n:   0 pts:  NOPTS pts_time:NOPTS   duration:  40 duration_time:0.04    fmt:gray cl:left sar:1/1 s:16x12 i:P iskey:1 type:I ",
                Some(Shown { stamp: None, size: (16, 12) }),
            ),
            (
                "[Parsed_showinfo_0 @ 0x5581] [info] n:   2 pts:     -3 pts_time:-0.12 s:16x12",
                Some(Shown { stamp: Some(-3), size: (16, 12) }),
            ),
            ("[Parsed_showinfo_0 @ 0x5581] [info] config in time_base: 1/1000", None),
            ("[info]   title           : showinfo] n: 1 pts: 2 s:1x1", None),
        ] {
            assert_eq!(report(line), shown, "{line}");
        }
    }

    #[test]
    fn last_words_are_quoted_without_addresses() {
        assert_eq!(
            plain("[h264 @ 0x55c2cd] [error] error while decoding MB 4 0"),
            "[h264] error while decoding MB 4 0"
        );
        assert_eq!(plain("[error] moov atom not found"), "moov atom not found");
    }
}
