//! Small oriented symbols. A loudspeaker is a dark body with a pale flare towards its bearing; what is bass only
//! is square, what radiates all round is ringed. All are 3 mm or more, which is told apart at arm's length (common practice,
//! no source).

use super::palette;
use super::spot::{Frame, Spot};
use super::svg::{Paint, Svg, number};
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::document::{JointKind, Mount};

/// Clear room a label keeps from a loudspeaker's centre, millimetres.
pub const LOUDSPEAKER_RADIUS: f64 = 1.9;
/// The same for joints, marks and stubs.
pub const SMALL_RADIUS: f64 = 1.7;
/// The same for racks.
pub const RACK_RADIUS: f64 = 2.3;

const OUTLINE: f64 = 0.22;

/// Draws a loudspeaker; `None` for a kind where the model is unknown.
pub fn loudspeaker(
    svg: &mut Svg,
    at: Spot,
    bearing_deg: f64,
    kind: Option<LoudspeakerKind>,
    mount: Option<Mount>,
    colour: &str,
) {
    let body = Paint::fill(colour).and_stroke(palette::SHEET, OUTLINE);
    let pale = Paint::fill(palette::SHEET).and_stroke(colour, OUTLINE);
    let forward = Spot::towards(bearing_deg);
    let side = forward.right();
    match kind {
        Some(LoudspeakerKind::Subwoofer) => {
            svg.rectangle(Frame::centred(at, 3.2, 3.2), 0.4, &body);
            svg.circle(at, 1.0, &pale);
        }
        Some(LoudspeakerKind::Bollard) => {
            svg.circle(at, 1.8, &pale);
            svg.circle(at, 1.05, &body);
        }
        kind => {
            let reach = if kind == Some(LoudspeakerKind::Satellite) { 0.8 } else { 1.0 };
            let flare = [
                at + side * (-0.55 * reach),
                at + forward * (2.7 * reach) + side * (-1.75 * reach),
                at + forward * (2.7 * reach) + side * (1.75 * reach),
                at + side * (0.55 * reach),
            ];
            svg.outline(&flare, &pale);
            if kind == Some(LoudspeakerKind::Rock) {
                let corner = |k: usize| {
                    let angle = 60.0 * k as f64 + 15.0;
                    at + Spot::towards(angle) * if k.is_multiple_of(2) { 1.45 } else { 1.2 }
                };
                let rock: Vec<Spot> = (0..6).map(corner).collect();
                svg.outline(&rock, &body);
            } else {
                svg.circle(at, 1.15 * reach, &body);
            }
            if matches!(mount, Some(Mount::Bracket | Mount::Eaves)) {
                let back = at - forward * 1.5;
                svg.segment(back + side * 1.3, back - side * 1.3, &Paint::stroke(colour, 0.45));
            }
        }
    }
}

/// Draws a joint: a filled diamond in the ground, an open square with a cross in a box that can be opened.
pub fn joint(svg: &mut Svg, at: Spot, kind: JointKind, colour: &str) {
    match kind {
        JointKind::Buried => {
            let d = 1.5;
            let corners = [
                at + Spot::new(0.0, -d),
                at + Spot::new(d, 0.0),
                at + Spot::new(0.0, d),
                at + Spot::new(-d, 0.0),
            ];
            svg.outline(&corners, &Paint::fill(colour).and_stroke(palette::SHEET, OUTLINE));
        }
        JointKind::Box => {
            let f = Frame::centred(at, 3.0, 3.0);
            svg.rectangle(f, 0.0, &Paint::fill(palette::SHEET).and_stroke(colour, 0.3));
            let cross = Paint::stroke(colour, 0.25);
            svg.segment(Spot::new(f.left, f.top), Spot::new(f.right, f.bottom), &cross);
            svg.segment(Spot::new(f.left, f.bottom), Spot::new(f.right, f.top), &cross);
        }
    }
}

/// Draws a rack: a cabinet with shelves.
pub fn rack(svg: &mut Svg, at: Spot) {
    let f = Frame::centred(at, 3.4, 4.2);
    svg.rectangle(f, 0.3, &Paint::fill(palette::SHEET).and_stroke(palette::INK, 0.35));
    for k in 1..4 {
        let y = f.top + f.height() * f64::from(k) / 4.0;
        let shelf = Paint::stroke(palette::INK, 0.3);
        svg.segment(Spot::new(f.left + 0.5, y), Spot::new(f.right - 0.5, y), &shelf);
    }
}

/// Draws a stub: the end of a cable that comes out of the ground.
pub fn stub(svg: &mut Svg, at: Spot) {
    svg.circle(at, 1.5, &Paint::fill(palette::SHEET).and_stroke(palette::INK, 0.35));
    svg.circle(at, 0.35, &Paint::fill(palette::INK));
}

/// Draws a fixed mark: a surveyor's quartered circle.
pub fn mark(svg: &mut Svg, at: Spot) {
    let (x, y, r) = (at.x, at.y, 1.5);
    svg.circle(at, r, &Paint::fill(palette::SHEET).and_stroke(palette::INK, 0.25));
    let quarter = |dx: f64, dy: f64, sweep: u8| {
        format!(
            "M{x} {y}L{} {}A{r} {r} 0 0 {sweep} {} {}Z",
            number(at.x + dx * r),
            number(at.y),
            number(at.x),
            number(at.y + dy * r),
            x = number(x),
            y = number(y),
            r = number(r),
        )
    };
    svg.path(&quarter(1.0, -1.0, 0), &Paint::fill(palette::INK));
    svg.path(&quarter(-1.0, 1.0, 0), &Paint::fill(palette::INK));
}

/// Draws a point where quiet is wanted: a house gable.
pub fn neighbour(svg: &mut Svg, at: Spot) {
    let o = |x: f64, y: f64| at + Spot::new(x, y);
    let house = [o(-1.5, 1.4), o(-1.5, -0.2), o(0.0, -1.6), o(1.5, -0.2), o(1.5, 1.4)];
    svg.outline(&house, &Paint::fill(palette::SHEET).and_stroke(palette::AREA, 0.35));
    svg.rectangle(Frame::centred(o(0.0, 0.4), 0.7, 0.7), 0.0, &Paint::fill(palette::AREA));
}
