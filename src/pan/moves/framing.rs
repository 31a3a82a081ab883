use super::Ease;
use crate::geometry::{GeometryError, Raster, Window};

/// A window in the numbers that an eased move runs in: how far the picture is moved, as a share of the
/// delivered size, and the scale, for each axis. They are a hand-off's offset and scale columns but for the
/// delivered raster, which is a factor of each and which this room does not know.
///
/// Two windows of one shape have one scale across and down but for that factor; a window that is rounded to
/// whole px has two. Between two framings each number runs by the same share of its way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::pan) struct Framing {
    pub(super) across: AxisFraming,
    pub(super) down: AxisFraming,
}

/// One axis of a framing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::pan) struct AxisFraming {
    /// From the window's centre to the frame's, in window sizes: positive moves the picture right or down.
    pub(super) offset: f64,
    /// Windows in a px of the source.
    pub(super) scale: f64,
}

impl AxisFraming {
    fn of(centre: f64, size: f64, frame_size: f64) -> Self {
        Self { offset: (frame_size / 2.0 - centre) / size, scale: 1.0 / size }
    }

    fn towards(self, to: Self, share: f64) -> Self {
        Self {
            offset: self.offset + (to.offset - self.offset) * share,
            scale: self.scale + (to.scale - self.scale) * share,
        }
    }

    /// Where the window starts and its size, in px.
    fn span(self, frame_size: f64) -> (f64, f64) {
        let size = 1.0 / self.scale;
        (frame_size / 2.0 - self.offset * size - size / 2.0, size)
    }

    /// `|o₀s₁ − o₁s₀|`, which divided by the scale is the window's speed while both run by one share:
    /// the centre is `c = W/2 − o/s`, so that `ċ = (oṡ − ȯs) / s²` and its numerator is the same all the way.
    fn turn(self, to: Self) -> f64 {
        (self.offset * to.scale - to.offset * self.scale).abs()
    }
}

impl Framing {
    pub(in crate::pan) fn of(window: &Window, raster: Raster) -> Self {
        Self {
            across: AxisFraming::of(window.centre_x(), window.width(), raster.width()),
            down: AxisFraming::of(window.centre_y(), window.height(), raster.height()),
        }
    }

    /// The framing after a share of the way to another.
    pub(in crate::pan) fn towards(&self, to: &Self, share: f64) -> Self {
        Self {
            across: self.across.towards(to.across, share),
            down: self.down.towards(to.down, share),
        }
    }

    /// Left, top, width and height of its window, px.
    pub(super) fn edges(&self, raster: Raster) -> [f64; 4] {
        let (left, width) = self.across.span(raster.width());
        let (top, height) = self.down.span(raster.height());
        [left, top, width, height]
    }

    /// Its window.
    ///
    /// # Errors
    /// If it does not lie inside the frame.
    pub(super) fn window(&self, raster: Raster) -> Result<Window, GeometryError> {
        let [left, top, width, height] = self.edges(raster);
        Window::inside(raster, (left, top), (width, height))
    }

    /// Whether both have one width and one height.
    pub(super) fn is_as_large_as(&self, other: &Self) -> bool {
        // The same bits, since equal sizes were divided alike.
        self.across.scale.to_bits() == other.across.scale.to_bits()
            && self.down.scale.to_bits() == other.down.scale.to_bits()
    }

    /// The speed of the window at the fastest moment of an eased move to another framing, in its own widths and
    /// across or down, whichever is more, times the length of the move: over its seconds, widths a second.
    pub(in crate::pan) fn peak_widths(&self, to: &Self, ease: Ease) -> f64 {
        let (across, down) = (self.across.turn(to.across), self.down.turn(to.down));
        let speed = |time: f64| {
            let now = self.towards(to, ease.share(time));
            let (across_scale, down_scale) = (now.across.scale, now.down.scale);
            let in_widths = across_scale / (down_scale * down_scale);
            ease.speed(time) * (across / across_scale).max(down * in_widths)
        };
        if self.is_as_large_as(to) { speed(0.5) } else { greatest_on_unit(speed) }
    }
}

/// The greatest value of a function with one hill on 0 to 1: the best of a few samples, then golden section
/// beside it.
fn greatest_on_unit(value: impl Fn(f64) -> f64) -> f64 {
    const SAMPLES: u32 = 16;
    const STEPS: usize = 32;
    /// One less than the golden ratio.
    const SECTION: f64 = 0.618_033_988_749_894_9;
    let at = |sample: u32| f64::from(sample) / f64::from(SAMPLES);
    let best =
        (1..SAMPLES).max_by(|a, b| value(at(*a)).total_cmp(&value(at(*b)))).unwrap_or(SAMPLES / 2);
    let (mut low, mut high) = (at(best - 1), at(best + 1));
    for _ in 0..STEPS {
        let (left, right) = (high - SECTION * (high - low), low + SECTION * (high - low));
        if value(left) < value(right) { low = left } else { high = right }
    }
    value(f64::midpoint(low, high)).max(value(at(best)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn raster() -> Raster {
        Raster::new(3840, 2160).unwrap()
    }

    fn framing(left: f64, top: f64, width: f64) -> Framing {
        let window = Window::inside(raster(), (left, top), (width, width * 0.75)).unwrap();
        Framing::of(&window, raster())
    }

    #[test]
    fn a_window_is_what_its_framing_says() {
        let window = Window::inside(raster(), (300.0, 41.0), (1000.0, 748.0)).unwrap();
        let edges = Framing::of(&window, raster()).edges(raster());
        for (edge, expected) in edges.into_iter().zip([300.0, 41.0, 1000.0, 748.0]) {
            assert!((edge - expected).abs() < 1e-9, "{edges:?}");
        }
    }

    #[test]
    fn the_peak_of_a_pan_is_one_and_a_half_times_its_mean() {
        // 500 px in windows of 1000 px: half a width.
        let (from, to) = (framing(100.0, 0.0, 1000.0), framing(600.0, 0.0, 1000.0));
        assert!((from.peak_widths(&to, Ease::SMOOTH) - 0.75).abs() < 1e-12);
        let steep = Ease::with_peak(2.0).unwrap();
        assert!((from.peak_widths(&to, steep) - 1.0).abs() < 1e-12);
        // A tilt counts in widths as well: 300 px is 0.3 of them.
        let down = framing(100.0, 300.0, 1000.0);
        assert!((from.peak_widths(&down, Ease::SMOOTH) - 0.45).abs() < 1e-12);
    }

    #[test]
    fn the_peak_of_a_push_is_the_fastest_of_many_small_steps() {
        let (from, to) = (framing(100.0, 300.0, 1600.0), framing(1700.0, 1100.0, 900.0));
        for ease in [Ease::SMOOTH, Ease::with_peak(2.0).unwrap()] {
            const STEPS: u32 = 20_000;
            let at = |step: u32| {
                let share = ease.share(f64::from(step) / f64::from(STEPS));
                from.towards(&to, share).window(raster()).unwrap()
            };
            let fastest = (0..STEPS)
                .map(|step| {
                    let (a, b) = (at(step), at(step + 1));
                    let across = (b.centre_x() - a.centre_x()).abs();
                    let down = (b.centre_y() - a.centre_y()).abs();
                    f64::from(STEPS) * across.max(down) / f64::midpoint(a.width(), b.width())
                })
                .fold(0.0, f64::max);
            let peak = from.peak_widths(&to, ease);
            assert!((peak - fastest).abs() < 1e-5 * fastest, "{peak} and {fastest}");
        }
    }

    #[test]
    fn the_centre_goes_one_way_all_through_a_push() {
        let (from, to) = (framing(100.0, 300.0, 1600.0), framing(700.0, 100.0, 900.0));
        let centres: Vec<f64> = (0..=50)
            .map(|k| from.towards(&to, f64::from(k) / 50.0).window(raster()).unwrap().centre_x())
            .collect();
        assert!(centres.windows(2).all(|pair| pair[0] <= pair[1]), "{centres:?}");
    }
}
