//! Where a straight piece crosses buried services.

use loamline_geometry::Segment;

/// The services a straight piece crosses: index and fraction along the piece. A point on the service counts
/// to its left, so that a way bent there crosses once or not at all.
pub(super) fn crossings(
    services: &[(usize, Segment)],
    s: Segment,
) -> impl Iterator<Item = (usize, f64)> + '_ {
    services.iter().filter_map(move |(service, piece)| {
        let along = piece.b - piece.a;
        let (u, v) = (along.cross(s.a - piece.a), along.cross(s.b - piece.a));
        if (u >= 0.0) == (v >= 0.0) {
            return None;
        }
        let t = u / (u - v);
        let at = s.a.lerp(s.b, t);
        let where_along = (at - piece.a).dot(along);
        (where_along >= 0.0 && where_along < along.dot(along)).then_some((*service, t))
    })
}
