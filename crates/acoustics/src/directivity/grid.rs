//! Measured directivity on a spherical grid.
//!
//! The data of an AES69 (SOFA) FreeFieldDirectivityTF set as plain arrays: directions as azimuth (degrees,
//! counter-clockwise seen from above, 0 straight ahead) and elevation (degrees, up positive), frequencies, and a
//! complex pressure per direction and frequency. The directions must lie on rings of equal elevation (any number
//! of azimuths per ring, also one at a pole); a free scatter is refused rather than guessed at.
//! Between directions: linear in azimuth on each of the two rings around the wanted elevation, then linear in
//! elevation, size and unit phasor apart, so that a different delay per direction does not carve false notches.
//! Between frequencies: the same, linear in lg f, size in dB. Beyond the first and last ring or frequency the
//! nearest holds. Everything is relative to straight ahead at the same frequency.

use super::DirectivityError;

/// Elevations closer than this are one ring, azimuths closer than this one direction, degrees. Wider would merge
/// a 1-degree grid's neighbours; narrower would split rings stored with single-precision noise.
const SAME_ANGLE_DEG: f64 = 0.05;
/// Largest gap accepted between azimuths of a ring, between rings, and to a pole, degrees.
const LARGEST_GAP_DEG: f64 = 60.0;
/// Sizes below this, relative to the axis, count as silence.
const SMALLEST: f64 = 1e-8;

/// Checked measured data; made by [`Directivity::measured`](super::Directivity::measured).
#[derive(Debug, Clone, PartialEq)]
pub struct SphericalGrid {
    rings: Vec<Ring>,
    frequencies_hz: Vec<f64>,
    /// Per direction, per frequency: level re straight ahead (dB), unit phasor.
    cells: Vec<Cell>,
}

#[derive(Debug, Clone, PartialEq)]
struct Ring {
    elevation_deg: f64,
    /// Azimuth 0..360 ascending, and the direction's row.
    spokes: Vec<(f64, usize)>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Cell {
    size: f64,
    phasor: [f64; 2],
}

/// Measured data as plain arrays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredResponse<'a> {
    /// Azimuth (counter-clockwise from straight ahead) and elevation of each direction, degrees.
    pub directions_deg: &'a [[f64; 2]],
    /// Frequencies, Hz, ascending.
    pub frequencies_hz: &'a [f64],
    /// Real part of the pressure, one row of frequencies per direction.
    pub real: &'a [f64],
    /// Imaginary part, the same shape; empty for amplitude only.
    pub imaginary: &'a [f64],
}

impl SphericalGrid {
    pub(super) fn new(data: MeasuredResponse<'_>) -> Result<Self, DirectivityError> {
        let (directions, frequencies) = (data.directions_deg, data.frequencies_hz);
        let expected = directions.len() * frequencies.len();
        let imaginary_fits = data.imaginary.is_empty() || data.imaginary.len() == expected;
        if data.real.len() != expected || !imaginary_fits {
            return Err(DirectivityError::GridShape {
                directions: directions.len(),
                frequencies: frequencies.len(),
                real: data.real.len(),
                imaginary: data.imaginary.len(),
            });
        }
        super::check_frequencies(frequencies.iter().copied())?;
        if data.real.iter().chain(data.imaginary).any(|v| !v.is_finite()) {
            return Err(DirectivityError::GridNotFinite);
        }
        let rings = rings(directions)?;
        let cells = (0..expected)
            .map(|i| {
                let (re, im) = (data.real[i], data.imaginary.get(i).copied().unwrap_or(0.0));
                let size = re.hypot(im);
                Cell { size, phasor: if size > 0.0 { [re / size, im / size] } else { [1.0, 0.0] } }
            })
            .collect();
        let mut grid = Self { rings, frequencies_hz: frequencies.to_vec(), cells };
        grid.relate_to_axis()?;
        Ok(grid)
    }

    /// Divides every cell by the value straight ahead.
    fn relate_to_axis(&mut self) -> Result<(), DirectivityError> {
        let n = self.frequencies_hz.len();
        let loudest = self.cells.iter().map(|c| c.size).fold(0.0, f64::max);
        for k in 0..n {
            let axis = self.at(k, &self.weights(1.0, 0.0, 0.0));
            if axis.size <= SMALLEST * loudest || axis.size <= 0.0 {
                return Err(DirectivityError::GridSilentAhead { frequency_hz: self.frequencies_hz[k] });
            }
            for c in self.cells.iter_mut().skip(k).step_by(n) {
                let [a, b] = c.phasor;
                let [re, im] = axis.phasor;
                *c = Cell { size: c.size / axis.size, phasor: [a * re + b * im, b * re - a * im] };
            }
        }
        Ok(())
    }

    /// Amplitude (1 straight ahead) and phase (radians, 0 straight ahead) towards a unit vector.
    pub(super) fn response(&self, frequency_hz: f64, x: f64, y: f64, z: f64) -> (f64, f64) {
        let weights = self.weights(x, y, z);
        let upper = self.frequencies_hz.partition_point(|f| *f <= frequency_hz);
        let last = self.frequencies_hz.len() - 1;
        let (low, high) = (upper.saturating_sub(1), upper.min(last));
        let a = self.at(low, &weights);
        if low == high {
            return (a.size, a.phase_rad());
        }
        let b = self.at(high, &weights);
        let (fa, fb) = (self.frequencies_hz[low], self.frequencies_hz[high]);
        let t = (frequency_hz / fa).ln() / (fb / fa).ln();
        let size = ((1.0 - t) * a.size.max(SMALLEST).ln() + t * b.size.max(SMALLEST).ln()).exp();
        let mix = |i: usize| (1.0 - t) * a.phasor[i] + t * b.phasor[i];
        (size, Cell { size, phasor: [mix(0), mix(1)] }.phase_rad())
    }

    /// Weighted mean of directions at one frequency; the phasor is a unit phasor again.
    fn at(&self, frequency: usize, weights: &[(usize, f64); 4]) -> Cell {
        let n = self.frequencies_hz.len();
        let mut sum = Cell { size: 0.0, phasor: [0.0, 0.0] };
        for &(direction, w) in weights {
            let c = self.cells[direction * n + frequency];
            sum.size += w * c.size;
            sum.phasor[0] += w * c.phasor[0];
            sum.phasor[1] += w * c.phasor[1];
        }
        let norm = sum.phasor[0].hypot(sum.phasor[1]);
        sum.phasor = if norm > 0.0 { [sum.phasor[0] / norm, sum.phasor[1] / norm] } else { [1.0, 0.0] };
        sum
    }

    /// Up to four directions with weights that add to one.
    fn weights(&self, x: f64, y: f64, z: f64) -> [(usize, f64); 4] {
        let elevation = z.atan2(x.hypot(y)).to_degrees();
        let azimuth = loamline_geometry::wrap_degrees(y.atan2(x).to_degrees());
        let above = self.rings.partition_point(|r| r.elevation_deg <= elevation);
        let last = self.rings.len() - 1;
        let (low, high) = (above.saturating_sub(1), above.min(last));
        let [a, b] = self.rings[low].spoke_weights(azimuth);
        let t = if low == high {
            0.0
        } else {
            let (e0, e1) = (self.rings[low].elevation_deg, self.rings[high].elevation_deg);
            ((elevation - e0) / (e1 - e0)).clamp(0.0, 1.0)
        };
        let [c, d] = self.rings[high].spoke_weights(azimuth);
        [(a.0, a.1 * (1.0 - t)), (b.0, b.1 * (1.0 - t)), (c.0, c.1 * t), (d.0, d.1 * t)]
    }
}

impl Cell {
    fn phase_rad(&self) -> f64 {
        self.phasor[1].atan2(self.phasor[0])
    }
}

impl Ring {
    fn spoke_weights(&self, azimuth_deg: f64) -> [(usize, f64); 2] {
        let n = self.spokes.len();
        let next = self.spokes.partition_point(|s| s.0 <= azimuth_deg);
        let (before, after) = (self.spokes[(next + n - 1) % n], self.spokes[next % n]);
        let gap = (after.0 - before.0).rem_euclid(360.0);
        let t = if gap > 0.0 { ((azimuth_deg - before.0).rem_euclid(360.0) / gap).min(1.0) } else { 0.0 };
        [(before.1, 1.0 - t), (after.1, t)]
    }
}

/// Sorts directions into rings of equal elevation and checks that they leave no large hole.
fn rings(directions: &[[f64; 2]]) -> Result<Vec<Ring>, DirectivityError> {
    for (row, d) in directions.iter().enumerate() {
        if !d[0].is_finite() || !(-90.01..=90.01).contains(&d[1]) {
            return Err(DirectivityError::GridDirection {
                row: row + 1,
                azimuth_deg: d[0],
                elevation_deg: d[1],
            });
        }
    }
    let mut order: Vec<usize> = (0..directions.len()).collect();
    order.sort_by(|&a, &b| directions[a][1].total_cmp(&directions[b][1]));
    let mut rings: Vec<Ring> = Vec::new();
    for row in order {
        let [azimuth, elevation] = directions[row];
        let spoke = (loamline_geometry::wrap_degrees(azimuth), row);
        match rings.last_mut() {
            Some(r) if (elevation - r.elevation_deg).abs() <= SAME_ANGLE_DEG => r.spokes.push(spoke),
            _ => rings.push(Ring { elevation_deg: elevation, spokes: vec![spoke] }),
        }
    }
    let (Some(lowest), Some(highest)) = (rings.first(), rings.last()) else {
        return Err(DirectivityError::GridHole { gap_deg: 360.0, elevation_deg: 0.0 });
    };
    for (gap_deg, elevation_deg) in [
        (lowest.elevation_deg + 90.0, lowest.elevation_deg),
        (90.0 - highest.elevation_deg, highest.elevation_deg),
    ] {
        if gap_deg > LARGEST_GAP_DEG {
            return Err(DirectivityError::GridHole { gap_deg, elevation_deg });
        }
    }
    for w in rings.windows(2) {
        let gap_deg = w[1].elevation_deg - w[0].elevation_deg;
        if gap_deg > LARGEST_GAP_DEG {
            return Err(DirectivityError::GridHole { gap_deg, elevation_deg: w[0].elevation_deg });
        }
    }
    for r in &mut rings {
        r.spokes.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        // A set that stores both 0 and 360 degrees repeats one direction; the first stays.
        r.spokes.dedup_by(|b, a| b.0 - a.0 <= SAME_ANGLE_DEG);
        let n = r.spokes.len();
        if n > 1 && r.spokes[0].0 + 360.0 - r.spokes[n - 1].0 <= SAME_ANGLE_DEG {
            r.spokes.pop();
        }
        let n = r.spokes.len();
        let at_pole = 90.0 - r.elevation_deg.abs() <= SAME_ANGLE_DEG;
        let gap_deg = (0..n)
            .map(|i| if i + 1 < n { r.spokes[i + 1].0 } else { r.spokes[0].0 + 360.0 } - r.spokes[i].0)
            .fold(0.0, f64::max);
        if gap_deg > LARGEST_GAP_DEG && !at_pole {
            return Err(DirectivityError::GridHole { gap_deg, elevation_deg: r.elevation_deg });
        }
    }
    Ok(rings)
}
