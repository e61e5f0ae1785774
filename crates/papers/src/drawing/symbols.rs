//! Symbols, oriented where they have a bearing. They are described once, in `symbols.json`, for paper and for the app's plan. A
//! loudspeaker is a dark body with a pale flare towards its bearing; what is bass only is square, what radiates all round is
//! ringed. All are 3 mm or more, which is told apart at arm's length (common practice, no source).

use super::palette;
use super::spot::Spot;
use super::svg::{Paint, Svg};
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::document::{JointKind, Mount, ServiceKind};
use loamline_model::{Choice as _, ONE_STAKE_M, PlacedLoudspeaker, Units};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// Clear room a label keeps from a loudspeaker's centre, millimetres.
pub const LOUDSPEAKER_RADIUS: f64 = 1.9;
/// The same for joints, marks and stubs.
pub const SMALL_RADIUS: f64 = 1.7;
/// The same for racks.
pub const RACK_RADIUS: f64 = 2.3;
/// Two loudspeakers on one stake are back to back where their bearings are this near to half a turn apart, degrees.
const OPPOSITE_DEG: f64 = 30.0;

/// Every symbol, as `symbols.json` has it.
#[derive(Debug, Default, Deserialize)]
struct Set {
    paints: BTreeMap<String, PaintOf>,
    symbols: BTreeMap<String, Vec<Part>>,
    services: BTreeMap<String, ServiceLook>,
}

/// How parts of one sort are painted: with the colour of the thing, that of the sheet, or not.
#[derive(Debug, Deserialize)]
struct PaintOf {
    fill: Tint,
    stroke: Tint,
    width: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Tint {
    Colour,
    Sheet,
    None,
}

#[derive(Debug, Deserialize)]
struct Part {
    paint: String,
    d: String,
}

/// Letter of a buried service, and its colour where utilities are marked by the open uniform code.
#[derive(Debug, Deserialize)]
struct ServiceLook {
    letter: String,
    us: String,
}

static SET: LazyLock<Set> =
    LazyLock::new(|| serde_json::from_str(include_str!("symbols.json")).unwrap_or_default());

impl PaintOf {
    fn of(&self, colour: &str) -> Paint {
        let tint = |tint: Tint| match tint {
            Tint::Colour => Some(colour),
            Tint::Sheet => Some(palette::SHEET),
            Tint::None => None,
        };
        let paint = tint(self.fill).map_or_else(Paint::default, Paint::fill);
        match tint(self.stroke) {
            Some(stroke) => paint.and_stroke(stroke, self.width),
            None => paint,
        }
    }
}

/// Draws a symbol by its name, turned by a bearing.
fn symbol(svg: &mut Svg, name: &str, at: Spot, bearing_deg: f64, colour: &str) {
    let parts = SET.symbols.get(name).map(Vec::as_slice).unwrap_or_default();
    svg.open_placed(at, bearing_deg);
    for part in parts {
        let paint = SET.paints.get(&part.paint).map_or_else(Paint::default, |p| p.of(colour));
        svg.path(&part.d, &paint);
    }
    svg.close();
}

/// Names of the symbols of loudspeakers, in the order of the key.
pub const LOUDSPEAKERS: [&str; 9] =
    ["stake", "bracket", "standing", "in-ground", "satellite", "bollard", "rock", "subwoofer", "pair"];

/// The symbol of a loudspeaker: by what it is, a two-way by how it is fixed.
pub const fn loudspeaker_symbol(kind: LoudspeakerKind, mount: Mount) -> &'static str {
    match kind {
        LoudspeakerKind::Subwoofer => "subwoofer",
        LoudspeakerKind::Bollard => "bollard",
        LoudspeakerKind::Rock => "rock",
        LoudspeakerKind::Satellite => "satellite",
        LoudspeakerKind::TwoWay => match mount {
            Mount::Stake => "stake",
            Mount::Bracket | Mount::Eaves => "bracket",
            Mount::Surface | Mount::Base => "standing",
            Mount::InGround => "in-ground",
        },
    }
}

/// Whether a loudspeaker plays to one side, so that its symbol has a flare.
pub const fn has_flare(kind: LoudspeakerKind) -> bool {
    !matches!(kind, LoudspeakerKind::Subwoofer | LoudspeakerKind::Bollard)
}

/// Whether two loudspeakers of one line hang on one stake back to back: one symbol stands for both.
pub fn back_to_back(a: &PlacedLoudspeaker<'_>, b: &PlacedLoudspeaker<'_>) -> bool {
    let apart = (a.placed.bearing_deg - b.placed.bearing_deg).rem_euclid(360.0);
    a.id != b.id
        && has_flare(a.model.kind)
        && has_flare(b.model.kind)
        && a.placed.line == b.placed.line
        && (a.mount, b.mount) == (Mount::Stake, Mount::Stake)
        && a.placed.position.distance(b.placed.position) <= ONE_STAKE_M
        && (apart - 180.0).abs() <= OPPOSITE_DEG
}

/// Draws a loudspeaker by the name of its symbol.
pub fn loudspeaker(svg: &mut Svg, at: Spot, bearing_deg: f64, name: &str, colour: &str) {
    // What plays all round, or lies in its hole, has no bearing to show.
    let turned = !matches!(name, "subwoofer" | "bollard");
    symbol(svg, name, at, if turned { bearing_deg } else { 0.0 }, colour);
}

/// Draws a joint: a filled diamond in the ground, an open square with a cross in a box that can be opened.
pub fn joint(svg: &mut Svg, at: Spot, kind: JointKind, colour: &str) {
    let name = match kind {
        JointKind::Buried => "joint-buried",
        JointKind::Box => "joint-box",
    };
    symbol(svg, name, at, 0.0, colour);
}

/// Draws a rack: a cabinet with shelves.
pub fn rack(svg: &mut Svg, at: Spot) {
    symbol(svg, "rack", at, 0.0, palette::INK);
}

/// Draws a stub: the end of a cable that comes out of the ground.
pub fn stub(svg: &mut Svg, at: Spot) {
    symbol(svg, "stub", at, 0.0, palette::INK);
}

/// Draws a passage: an opening between two faces of a wall.
pub fn passage(svg: &mut Svg, at: Spot) {
    symbol(svg, "passage", at, 0.0, palette::INK);
}

/// Draws a fixed mark: a surveyor's quartered circle.
pub fn mark(svg: &mut Svg, at: Spot) {
    symbol(svg, "mark", at, 0.0, palette::INK);
}

/// Draws a point where quiet is wanted: a house gable.
pub fn neighbour(svg: &mut Svg, at: Spot) {
    symbol(svg, "neighbour", at, 0.0, palette::AREA);
}

/// Letter of a buried service: E G T W D I, and a question mark for one that is not known.
pub fn service_letter(kind: ServiceKind) -> &'static str {
    SET.services.get(kind.word()).map_or("?", |look| look.letter.as_str())
}

/// Colour of a buried service: one for all or, in US units, that of the open uniform colour code.
pub fn service_colour(kind: ServiceKind, units: Units) -> &'static str {
    match (units, SET.services.get(kind.word())) {
        (Units::Us, Some(look)) => look.us.as_str(),
        _ => palette::WARNING,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_name_has_a_symbol_and_no_two_look_alike() {
        let others = ["joint-buried", "joint-box", "rack", "stub", "passage", "mark", "neighbour"];
        let wanted: BTreeSet<&str> = LOUDSPEAKERS.into_iter().chain(others).collect();
        assert_eq!(SET.symbols.keys().map(String::as_str).collect::<BTreeSet<_>>(), wanted);
        let drawn: BTreeSet<String> = SET.symbols.values().map(|parts| format!("{parts:?}")).collect();
        assert_eq!(drawn.len(), wanted.len());
        for (name, parts) in &SET.symbols {
            assert!(parts.iter().all(|p| SET.paints.contains_key(&p.paint)), "{name}");
        }
    }

    #[test]
    fn every_loudspeaker_finds_its_symbol() {
        for (kind, ..) in LoudspeakerKind::ALL {
            for (mount, ..) in Mount::ALL {
                assert!(LOUDSPEAKERS.contains(&loudspeaker_symbol(*kind, *mount)), "{kind:?} {mount:?}");
            }
        }
    }

    /// Letters as they are sprayed on the ground; no two services share one.
    #[test]
    fn every_service_has_a_letter_and_in_us_units_a_colour_of_its_own() {
        let all: Vec<ServiceKind> = ServiceKind::ALL.iter().map(|c| c.0).collect();
        let letters: String = all.iter().map(|k| service_letter(*k)).collect();
        assert_eq!(letters, "EGWDIT?");
        let colours = |units| all.iter().map(|k| service_colour(*k, units)).collect::<BTreeSet<_>>();
        assert_eq!((colours(Units::Metric).len(), colours(Units::Us).len()), (1, all.len()));
    }
}
