//! The Fourier transform of small square planes.

use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use rustfft::{Fft, FftPlanner, num_complex::Complex};
use std::sync::Arc;

/// Half of the spectrum of a real plane; the other half is its mirror. Column by column.
pub(super) type Spectrum = Vec<Complex<f32>>;

/// Transforms of `side` by `side` real planes, forth without and back with the division by their area.
pub(super) struct Fourier {
    side: usize,
    rows: Arc<dyn RealToComplex<f32>>,
    rows_back: Arc<dyn ComplexToReal<f32>>,
    columns: Arc<dyn Fft<f32>>,
    columns_back: Arc<dyn Fft<f32>>,
    row: Vec<f32>,
    half_row: Vec<Complex<f32>>,
    columns_held: Spectrum,
    scratch: Vec<Complex<f32>>,
}

impl Fourier {
    pub(super) fn new(side: usize) -> Self {
        let mut real = RealFftPlanner::new();
        let mut complex = FftPlanner::new();
        let (rows, rows_back) = (real.plan_fft_forward(side), real.plan_fft_inverse(side));
        let (columns, columns_back) =
            (complex.plan_fft_forward(side), complex.plan_fft_inverse(side));
        let scratch_len = columns
            .get_inplace_scratch_len()
            .max(columns_back.get_inplace_scratch_len())
            .max(rows.get_scratch_len())
            .max(rows_back.get_scratch_len());
        let zero = Complex::new(0.0, 0.0);
        Self {
            side,
            rows,
            rows_back,
            columns,
            columns_back,
            row: vec![0.0; side],
            half_row: vec![zero; side / 2 + 1],
            columns_held: vec![zero; (side / 2 + 1) * side],
            scratch: vec![zero; scratch_len],
        }
    }

    pub(super) fn forth(&mut self, plane: &[f32]) -> Spectrum {
        let mut spectrum = vec![Complex::new(0.0, 0.0); (self.side / 2 + 1) * self.side];
        for (y, row) in plane.chunks_exact(self.side).enumerate() {
            self.row.copy_from_slice(row);
            self.rows
                .process_with_scratch(&mut self.row, &mut self.half_row, &mut self.scratch)
                .expect("the buffers have the planned lengths");
            for (x, value) in self.half_row.iter().enumerate() {
                spectrum[x * self.side + y] = *value;
            }
        }
        self.columns.process_with_scratch(&mut spectrum, &mut self.scratch);
        spectrum
    }

    pub(super) fn back(&mut self, spectrum: &[Complex<f32>]) -> Vec<f32> {
        let side = self.side;
        self.columns_held.copy_from_slice(spectrum);
        self.columns_back.process_with_scratch(&mut self.columns_held, &mut self.scratch);
        let scale = 1.0 / (side * side) as f32;
        let mut plane = vec![0.0; side * side];
        for (y, row) in plane.chunks_exact_mut(side).enumerate() {
            for (x, value) in self.half_row.iter_mut().enumerate() {
                *value = self.columns_held[x * side + y] * scale;
            }
            // What a real plane cannot have; rounding leaves a trace of it, and the library refuses that.
            self.half_row[0].im = 0.0;
            if side.is_multiple_of(2) {
                self.half_row[side / 2].im = 0.0;
            }
            self.rows_back
                .process_with_scratch(&mut self.half_row, row, &mut self.scratch)
                .expect("the buffers have the planned lengths");
        }
        plane
    }
}
