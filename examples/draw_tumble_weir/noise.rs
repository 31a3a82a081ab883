//! Repeatable pseudo-random numbers: the same scene on every machine, every run.

/// Mixes 32 bits so that neighbouring seeds give unrelated values.
fn mix(seed: u32) -> u32 {
    let a = (seed ^ (seed >> 16)).wrapping_mul(0x7feb_352d);
    let b = (a ^ (a >> 15)).wrapping_mul(0x846c_a68b);
    b ^ (b >> 16)
}

/// A value in `0.0..1.0` fixed by `seed`.
pub(crate) fn unit(seed: u32) -> f32 {
    let [a, b, _, _] = mix(seed).to_be_bytes();
    f32::from(u16::from_be_bytes([a, b])) / 65_536.0
}

/// A smooth curve through one hash value in `-1.0..1.0` every `step` frames.
pub(crate) fn smooth(seed: u32, frame: u16, step: u16) -> f32 {
    let knot = seed.wrapping_add(u32::from(frame / step));
    let part = f32::from(frame % step) / f32::from(step);
    let ease = part * part * (3.0 - 2.0 * part);
    let value = unit(knot) + (unit(knot.wrapping_add(1)) - unit(knot)) * ease;
    value * 2.0 - 1.0
}

/// A sequence of repeatable values.
pub(crate) struct Dice {
    state: u32,
}

impl Dice {
    /// Starts the sequence that belongs to `seed`.
    pub(crate) fn new(seed: u32) -> Self {
        Self { state: mix(seed) }
    }

    /// The next value in `low..high`.
    pub(crate) fn range(&mut self, low: f32, high: f32) -> f32 {
        self.state = self.state.wrapping_add(0x9e37_79b9);
        low + (high - low) * unit(self.state)
    }

    /// True with the given chance.
    pub(crate) fn chance(&mut self, share: f32) -> bool {
        self.range(0.0, 1.0) < share
    }

    /// One of `items`, each as likely as the next.
    pub(crate) fn pick<T: Copy, const N: usize>(&mut self, items: [T; N]) -> T {
        self.state = self.state.wrapping_add(0x9e37_79b9);
        let [a, b, ..] = mix(self.state).to_be_bytes();
        items[usize::from(u16::from_be_bytes([a, b])) % N]
    }
}
