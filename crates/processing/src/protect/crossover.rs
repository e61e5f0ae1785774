//! Where full-range loudspeakers hand over to subwoofers.
//!
//! A Linkwitz-Riley pair (Linkwitz 1976), because the two add up flat where their sound arrives together. The
//! corner stands half an octave above the lowest frequency of the full-range loudspeakers, so that they give their level at the
//! corner, and half an octave below the highest of the subwoofers; where both cannot be had, at the geometric
//! mean of the two limits. Within that it is as low as it can be, so that ears do not find the subwoofer, but not
//! below 80 Hz, which spares the full-range loudspeakers (half an octave and 80 Hz: common practice, no source).

use super::{ProtectionError, positive};
use crate::filters::{Alignment, Pass, PassFilter};
use loamline_terms::Polarity;
use serde::{Deserialize, Serialize};
use std::f64::consts::SQRT_2;

/// The corner when both sides would allow any, Hz. Lower, and the full-range loudspeakers work hard in the bass; higher, and the
/// subwoofer begins to be heard as a place. Common practice, no source.
const USUAL_CORNER_HZ: f64 = 80.0;

/// A crossover between full-range loudspeakers and subwoofers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Crossover {
    /// For the full-range loudspeakers.
    pub high_pass: PassFilter,
    /// For the subwoofers.
    pub low_pass: PassFilter,
    /// Polarity of the subwoofers relative to the full-range loudspeakers: orders 2 and 6 cancel at the corner unless one is turned.
    pub subwoofer_polarity: Polarity,
    /// Whether half an octave is kept from both limits. When not, listen for a dip around the corner.
    pub roomy: bool,
}

/// A Linkwitz-Riley crossover of `order` (2, 4, 6 or 8) for full-range loudspeakers rated down to `full_range_lowest_hz` and
/// subwoofers rated up to `subwoofer_highest_hz`.
///
/// # Errors
/// A gap between the two, a value that is not a positive number, an order that does not exist.
pub fn choose_crossover(
    full_range_lowest_hz: f64,
    subwoofer_highest_hz: f64,
    order: u32,
) -> Result<Crossover, ProtectionError> {
    let full_range =
        positive("the lowest rated frequency", " Hz", "the full-range loudspeakers", full_range_lowest_hz)?;
    let subs = positive("the highest rated frequency", " Hz", "the subwoofers", subwoofer_highest_hz)?;
    if full_range > subs {
        return Err(ProtectionError::Gap { full_range_lowest_hz, subwoofer_highest_hz });
    }
    let (from, to) = (full_range * SQRT_2, subs / SQRT_2);
    let roomy = from <= to;
    let corner = if roomy { from.max(USUAL_CORNER_HZ).min(to) } else { (full_range * subs).sqrt() };
    let corner = corner.round();
    let filter = |pass| PassFilter::new(Alignment::LinkwitzRiley, pass, order, corner);
    Ok(Crossover {
        high_pass: filter(Pass::HighPass)?,
        low_pass: filter(Pass::LowPass)?,
        subwoofer_polarity: if order % 4 == 2 { Polarity::Reversed } else { Polarity::Normal },
        roomy,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corner_keeps_clear_of_both_limits() {
        let corner = |m, s| {
            let c = choose_crossover(m, s, 4).unwrap();
            (c.high_pass.corner_hz(), c.roomy)
        };
        assert_eq!(corner(50.0, 200.0), (80.0, true));
        assert_eq!(corner(75.0, 200.0), (106.0, true));
        assert_eq!(corner(100.0, 300.0), (141.0, true));
        assert_eq!(corner(90.0, 120.0), (104.0, false));
        assert_eq!(corner(30.0, 90.0), (64.0, true));
        let gap = choose_crossover(150.0, 120.0, 4).unwrap_err().to_string();
        assert!(
            gap.starts_with(
                "the full-range loudspeakers reach down to 150 Hz and the subwoofers up to 120 Hz"
            ),
            "{gap}"
        );
    }

    #[test]
    fn the_pair_adds_up_flat_with_the_stated_polarity() {
        for order in [2, 4, 6, 8] {
            let c = choose_crossover(60.0, 180.0, order).unwrap();
            for f in [30.0, 60.0, 85.0, 120.0, 400.0] {
                let sum =
                    c.high_pass.analogue_gain(f) + c.low_pass.analogue_gain(f) * c.subwoofer_polarity.sign();
                assert!((sum.norm() - 1.0).abs() < 1e-9, "order {order} at {f} Hz: {}", sum.norm());
            }
        }
    }
}
