//! Seeded changes to kept inputs: the same seed makes the same bytes on any machine.

use loamline_chance::Draws;

/// Pieces that text in these formats turns on.
const PIECES: [&[u8]; 24] = [
    b"\"",
    b"=",
    b"[",
    b"]",
    b"{",
    b"}",
    b",",
    b";",
    b".",
    b"\n",
    b"-",
    b"0",
    b"1e308",
    b"1e-308",
    b"99999999999999999999",
    b"NaN",
    b"null",
    b"/",
    b"~1",
    b" m",
    b"\xc3\xa9",
    b"\xff",
    b"\0",
    b"open",
];

/// A changed copy of one of `inputs`, at most `most` bytes long.
pub fn changed(inputs: &[Vec<u8>], draw: &mut Draws, most: usize) -> Vec<u8> {
    let mut bytes = inputs[draw.below(inputs.len())].clone();
    for _ in 0..=draw.below(6) {
        let at = draw.below(bytes.len() + 1);
        let end = (at + 1 + draw.below(12)).min(bytes.len());
        match draw.below(8) {
            0 if at < bytes.len() => bytes[at] ^= 1 << draw.below(8),
            1 if at < bytes.len() => bytes[at] = draw.bits() as u8,
            2 => drop(bytes.drain(at..end)),
            3 => drop(bytes.splice(at..at, PIECES[draw.below(PIECES.len())].iter().copied())),
            4 => drop(bytes.splice(at..end, PIECES[draw.below(PIECES.len())].iter().copied())),
            // A part of itself or of another, as people copy.
            5 | 6 => {
                let other = &inputs[draw.below(inputs.len())];
                let from = draw.below(other.len());
                let part = other[from..(from + draw.below(80)).min(other.len())].to_vec();
                drop(bytes.splice(at..at, part));
            }
            _ => {
                let part = bytes[at..end].to_vec();
                let times = draw.below(20);
                drop(bytes.splice(at..at, part.repeat(times)));
            }
        }
    }
    bytes.truncate(most);
    bytes
}
