//! Ground attenuation, ISO 9613-2:1996 clause 7.3.1 and Table 3.

use super::site::Site;
use loamline_geometry::{Point2, Polygon, Segment, polyline_length};

/// Ground attenuation along a way in plan (straight, or bent where a face reflects) between places this high above their
/// ground, m: octaves 31.5 Hz (terms of 63 Hz) to 8 kHz, dB; positive is quieter.
pub(super) fn ground_attenuation_db(site: &Site, way: &[Point2], (hs, hr): (f64, f64)) -> [f64; 9] {
    let dp = polyline_length(way);
    // Source and receiver regions reach 30 heights, at most the whole way; the middle is what is left.
    let (source_end, receiver_end) = ((30.0 * hs).min(dp), (30.0 * hr).min(dp));
    let g_source = site.mean_ground_factor(way, 0.0, source_end);
    let g_receiver = site.mean_ground_factor(way, dp - receiver_end, dp);
    let (q, g_middle) = if dp > 30.0 * (hs + hr) {
        (1.0 - 30.0 * (hs + hr) / dp, site.mean_ground_factor(way, 30.0 * hs, dp - 30.0 * hr))
    } else {
        (0.0, 0.0)
    };
    let source = near_region_db(g_source, hs, dp);
    let receiver = near_region_db(g_receiver, hr, dp);
    std::array::from_fn(|i| {
        let band = i.saturating_sub(1);
        let middle = if band == 0 { -3.0 * q } else { -3.0 * q * (1.0 - g_middle) };
        source[band] + receiver[band] + middle
    })
}

/// Table 3, source or receiver region, octaves 63 Hz to 8 kHz.
fn near_region_db(g: f64, h: f64, dp: f64) -> [f64; 8] {
    let far = 1.0 - (-dp / 50.0).exp();
    let very_far = 1.0 - (-2.8e-6 * dp * dp).exp();
    let a = 1.5 + 3.0 * (-0.12 * (h - 5.0).powi(2)).exp() * far + 5.7 * (-0.09 * h * h).exp() * very_far;
    let b = 1.5 + 8.6 * (-0.09 * h * h).exp() * far;
    let c = 1.5 + 14.0 * (-0.46 * h * h).exp() * far;
    let d = 1.5 + 5.0 * (-0.9 * h * h).exp() * far;
    let high = -1.5 * (1.0 - g);
    [-1.5, -1.5 + g * a, -1.5 + g * b, -1.5 + g * c, -1.5 + g * d, high, high, high]
}

impl Site {
    /// Length-weighted mean ground factor along a part of a way, between two distances from its start, m. A
    /// part without length takes the ground at its place.
    fn mean_ground_factor(&self, way: &[Point2], from_m: f64, to_m: f64) -> f64 {
        if self.regions.is_empty() {
            return self.default_g;
        }
        let (mut sum, mut before) = (0.0, 0.0);
        let mut place = way[0];
        for leg in way.windows(2).map(|w| Segment::new(w[0], w[1])) {
            let length = leg.length();
            let (start, end) = ((from_m - before).max(0.0), (to_m - before).min(length));
            let at = |d: f64| if length > 0.0 { leg.a.lerp(leg.b, d / length) } else { leg.a };
            if from_m >= before {
                place = at(start.min(length));
            }
            if end > start {
                sum += (end - start) * self.factor_along(Segment::new(at(start), at(end)));
            }
            before += length;
        }
        if to_m - from_m > 1e-9 { sum / (to_m - from_m) } else { self.ground_factor_at(place) }
    }

    fn factor_along(&self, part: Segment) -> f64 {
        // Later regions count before earlier ones.
        let met: Vec<&(Polygon, f64)> =
            self.region_boxes.along(part).into_iter().rev().map(|i| &self.regions[i]).collect();
        let mut cuts = vec![0.0, 1.0];
        cuts.extend(
            met.iter().flat_map(|(outline, _)| outline.inside_intervals(part)).flat_map(|(a, b)| [a, b]),
        );
        cuts.sort_by(f64::total_cmp);
        let factor = |p: Point2| met.iter().find(|r| r.0.contains(p)).map_or(self.default_g, |r| r.1);
        cuts.windows(2)
            .map(|w| (w[1] - w[0], 0.5 * (w[0] + w[1])))
            .filter(|&(share, _)| share > 0.0)
            .map(|(share, middle)| share * factor(part.a.lerp(part.b, middle)))
            .sum()
    }

    fn ground_factor_at(&self, p: Point2) -> f64 {
        let mut over = self.region_boxes.at(p).into_iter().rev().map(|i| &self.regions[i]);
        over.find(|r| r.0.contains(p)).map_or(self.default_g, |r| r.1)
    }
}
