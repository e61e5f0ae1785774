//! A level map as the live channel sends it: a short head and one byte per place.

use loamline_study::Grid;

/// A frame's first four bytes, "PAML" read as text, 0x4c4d4150 as a little-endian number.
const MAGIC: u32 = 0x4c4d_4150;
/// Step between two bytes, dB: finer than anybody hears, coarse enough that 254 steps span all that matters.
const STEP_DB: f64 = 0.25;
/// The loudest byte stands for a whole multiple of this, so that colours do not shift from frame to frame, dB.
const TOP_DB: f64 = 5.0;

/// Puts levels into a frame. Places without a level (indoors, silent) hold `None`.
pub fn frame(request: u32, revision: u64, grid: &Grid, levels_db: &[Option<f64>]) -> Vec<u8> {
    let loudest = levels_db.iter().flatten().copied().fold(f64::NEG_INFINITY, f64::max);
    let top_db = if loudest.is_finite() { (loudest / TOP_DB).ceil() * TOP_DB } else { 100.0 };
    let first_db = top_db - STEP_DB * 254.0;
    let mut bytes = Vec::with_capacity(40 + levels_db.len());
    // Revisions beyond 32 bits would take centuries of editing.
    let revision = u32::try_from(revision).unwrap_or(u32::MAX);
    for word in [MAGIC, request, revision, grid.columns, grid.rows] {
        bytes.extend_from_slice(&word.to_le_bytes());
    }
    for number in [grid.x0_m, grid.y0_m, grid.spacing_m, first_db, STEP_DB] {
        bytes.extend_from_slice(&(number as f32).to_le_bytes());
    }
    // A float turned into a byte saturates: what is quieter than the first step counts as it.
    bytes.extend(levels_db.iter().map(|l| match l {
        Some(l) => (((l - first_db) / STEP_DB).round() + 1.0).clamp(1.0, 255.0) as u8,
        None => 0,
    }));
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_come_back_within_half_a_step() {
        let grid = Grid { columns: 2, rows: 2, x0_m: -1.5, y0_m: 2.0, spacing_m: 0.5 };
        let levels = [Some(71.3), None, Some(58.06), Some(-40.0)];
        let bytes = frame(7, 42, &grid, &levels);
        let word = |i: usize| u32::from_le_bytes(bytes[4 * i..4 * i + 4].try_into().unwrap());
        let number = |i: usize| f32::from_le_bytes(bytes[4 * i..4 * i + 4].try_into().unwrap());
        assert_eq!((word(0), word(1), word(2), word(3), word(4)), (0x4c4d_4150, 7, 42, 2, 2));
        assert_eq!((number(5), number(6), number(7)), (-1.5, 2.0, 0.5));
        let level = |i: usize| f64::from(number(8)) + f64::from(number(9)) * (f64::from(bytes[40 + i]) - 1.0);
        assert!((level(0) - 71.3).abs() <= 0.125 && (level(2) - 58.06).abs() <= 0.125);
        assert_eq!((bytes[41], bytes[43], bytes.len()), (0, 1, 44));
    }
}
