//! A directivity at many frequencies at once: what belongs to a frequency alone is worked out once, what belongs to a
//! direction alone once for all of them.

use super::{Coverage, Directivity};
use loamline_geometry::Point3;

/// A directivity made ready for some frequencies.
pub(super) enum AtLines<'d> {
    /// A beam, or a ring, with its 1/h^2 at each frequency.
    Coverage { coverage: &'d Coverage, ring: bool, curvatures: Vec<(f64, f64)> },
    /// Any other.
    Plain { directivity: &'d Directivity, lines_hz: &'d [f64], sound_speed_m_per_s: f64 },
    /// Two back to back, with the energy of both straight ahead at each frequency.
    BackToBack { one: Box<Self>, ahead: Vec<f64> },
}

impl<'d> AtLines<'d> {
    pub fn new(directivity: &'d Directivity, lines_hz: &'d [f64], sound_speed_m_per_s: f64) -> Self {
        match directivity {
            Directivity::Coverage(coverage) | Directivity::Ring(coverage) => {
                let ring = matches!(directivity, Directivity::Ring(_));
                let curvatures = lines_hz.iter().map(|f| coverage.curvature(*f)).collect();
                Self::Coverage { coverage, ring, curvatures }
            }
            Directivity::BackToBack(one) => {
                let one = Box::new(Self::new(one, lines_hz, sound_speed_m_per_s));
                let ahead = one.both(Point3::new(1.0, 0.0, 0.0), lines_hz.len());
                Self::BackToBack { one, ahead }
            }
            _ => Self::Plain { directivity, lines_hz, sound_speed_m_per_s },
        }
    }

    /// Amplitudes towards a direction (unit vector, loudspeaker frame) at all frequencies, as [`Directivity::amplitude`].
    pub fn amplitudes(&self, u: Point3, out: &mut [f64]) {
        match self {
            Self::Coverage { coverage, ring, curvatures } => {
                let at = if *ring { Coverage::in_ring } else { Coverage::in_beam }(u.x, u.y, u.z);
                for (o, c) in out.iter_mut().zip(curvatures) {
                    *o = coverage.off_axis(*c, at);
                }
            }
            Self::Plain { directivity, lines_hz, sound_speed_m_per_s } => {
                for (o, f) in out.iter_mut().zip(*lines_hz) {
                    *o = directivity.amplitude(*f, *sound_speed_m_per_s, u);
                }
            }
            Self::BackToBack { one, ahead } => {
                for ((o, e), a) in out.iter_mut().zip(one.both(u, ahead.len())).zip(ahead) {
                    *o = (e / a).sqrt();
                }
            }
        }
    }

    /// Energies of this and of another one turned half round its upright axis.
    fn both(&self, u: Point3, lines: usize) -> Vec<f64> {
        let (mut front, mut rear) = (vec![0.0; lines], vec![0.0; lines]);
        self.amplitudes(u, &mut front);
        self.amplitudes(Point3::new(-u.x, -u.y, u.z), &mut rear);
        front.iter().zip(rear).map(|(f, r)| f * f + r * r).collect()
    }
}
