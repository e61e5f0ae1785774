//! Colours of paper and earth, chosen for this project. Every pair that has to be told apart also differs by
//! lightness, pattern, dash or letter, so that a grey print carries the same meaning.

use loamline_model::document::SurfaceKind;

/// Ink of text and outlines.
pub const INK: &str = "#3a332c";
/// Quieter ink: notes, dimensions, grid labels.
pub const QUIET: &str = "#7b7064";
/// Hair lines and the grid.
pub const HAIR: &str = "#cfc6b8";
/// White of the sheet, also the halo of letters.
pub const SHEET: &str = "#ffffff";
/// Ground outside every surface drawn.
pub const GROUND: &str = "#eceee2";
/// Ground beyond the property.
pub const BEYOND: &str = "#f7f5f0";
/// Walls of buildings.
pub const BUILDING: &str = "#d6cdbf";
/// Masonry.
pub const MASONRY: &str = "#5c5044";
/// Hedge.
pub const HEDGE: &str = "#93a17c";
/// Things to keep away from.
pub const WARNING: &str = "#9a3b26";
/// Outlines of listening areas.
pub const AREA: &str = "#5a6f86";

/// Fill of a kind of ground and, where it has one, the pattern laid over it.
pub const fn ground(kind: SurfaceKind) -> (&'static str, Option<&'static str>) {
    match kind {
        SurfaceKind::Lawn => ("#dfe5cf", Some("p-lawn")),
        SurfaceKind::Bed => ("#d8d2b6", Some("p-bed")),
        SurfaceKind::Gravel => ("#efe8d8", Some("p-gravel")),
        SurfaceKind::Paving => ("#eae3da", Some("p-paving")),
        SurfaceKind::Deck => ("#e2d0b8", Some("p-deck")),
        SurfaceKind::Soil => ("#dccdb9", Some("p-soil")),
        SurfaceKind::Woodland => ("#c9d2ba", Some("p-woodland")),
        SurfaceKind::Water => ("#d5e1e3", Some("p-water")),
    }
}

/// Definitions of the patterns over the ground, sizes in millimetres on paper.
pub const PATTERNS: &[&str] = &[
    "<pattern id=\"p-lawn\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\"><path d=\"M0.8 1.4l0.25-0.7M1.1 1.4l0-0.8M2.8 3.4l0.25-0.7M3.1 3.4l0-0.8\" stroke=\"#b9c5a0\" stroke-width=\"0.13\" fill=\"none\"/></pattern>",
    "<pattern id=\"p-bed\" width=\"3\" height=\"3\" patternUnits=\"userSpaceOnUse\"><path d=\"M0.4 0.9q0.4-0.6 0.8 0M1.9 2.4q0.4-0.6 0.8 0\" stroke=\"#a89f78\" stroke-width=\"0.15\" fill=\"none\"/></pattern>",
    "<pattern id=\"p-gravel\" width=\"2.4\" height=\"2.4\" patternUnits=\"userSpaceOnUse\"><g fill=\"#c3b89f\"><circle cx=\"0.5\" cy=\"0.6\" r=\"0.13\"/><circle cx=\"1.7\" cy=\"0.4\" r=\"0.1\"/><circle cx=\"1.2\" cy=\"1.5\" r=\"0.14\"/><circle cx=\"2.1\" cy=\"1.9\" r=\"0.1\"/><circle cx=\"0.3\" cy=\"1.9\" r=\"0.1\"/></g></pattern>",
    "<pattern id=\"p-paving\" width=\"4\" height=\"3\" patternUnits=\"userSpaceOnUse\"><path d=\"M0 0H4M0 1.5H4M1 0V1.5M3 1.5V3\" stroke=\"#d2c7b8\" stroke-width=\"0.13\" fill=\"none\"/></pattern>",
    "<pattern id=\"p-deck\" width=\"8\" height=\"0.9\" patternUnits=\"userSpaceOnUse\"><path d=\"M0 0.45H8\" stroke=\"#c3a883\" stroke-width=\"0.13\" fill=\"none\"/></pattern>",
    "<pattern id=\"p-soil\" width=\"3\" height=\"3\" patternUnits=\"userSpaceOnUse\"><path d=\"M0.5 0.8h0.6M1.9 2.2h0.6\" stroke=\"#a9977f\" stroke-width=\"0.18\" fill=\"none\"/></pattern>",
    "<pattern id=\"p-woodland\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\"><path d=\"M1 1.8a0.8 0.8 0 1 1 1 0M3.4 4.3a0.8 0.8 0 1 1 1 0\" stroke=\"#8f9d78\" stroke-width=\"0.16\" fill=\"none\"/></pattern>",
    "<pattern id=\"p-water\" width=\"5\" height=\"3\" patternUnits=\"userSpaceOnUse\"><path d=\"M0 0.8q0.6-0.5 1.25 0t1.25 0M2.5 2.3q0.6-0.5 1.25 0t1.25 0\" stroke=\"#9db6ba\" stroke-width=\"0.15\" fill=\"none\"/></pattern>",
    "<pattern id=\"p-nogo\" width=\"1.8\" height=\"1.8\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><path d=\"M0 0.9H1.8\" stroke=\"#9a3b26\" stroke-width=\"0.2\" fill=\"none\"/></pattern>",
    "<pattern id=\"p-building\" width=\"1.6\" height=\"1.6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><path d=\"M0 0.8H1.6\" stroke=\"#b5a997\" stroke-width=\"0.16\" fill=\"none\"/></pattern>",
];

/// How the cable of a line is drawn. The letter is the line's own id.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineStyle {
    /// Colour.
    pub colour: &'static str,
    /// Dashes and gaps, millimetres; empty for solid.
    pub dash_mm: &'static [f64],
}

const STYLES: [LineStyle; 10] = [
    LineStyle { colour: "#1f4e6b", dash_mm: &[] },
    LineStyle { colour: "#a3431f", dash_mm: &[2.6, 0.9] },
    LineStyle { colour: "#486a1e", dash_mm: &[3.2, 0.8, 0.5, 0.8] },
    LineStyle { colour: "#6d2f57", dash_mm: &[1.1, 0.7] },
    LineStyle { colour: "#8a6410", dash_mm: &[3.2, 0.7, 0.5, 0.7, 0.5, 0.7] },
    LineStyle { colour: "#1f6f68", dash_mm: &[0.5, 0.6] },
    LineStyle { colour: "#4b3a8c", dash_mm: &[5.0, 1.0] },
    LineStyle { colour: "#7a2b2b", dash_mm: &[2.2, 0.6, 0.9, 0.6] },
    LineStyle { colour: "#2f5d3a", dash_mm: &[1.6, 1.6] },
    LineStyle { colour: "#54493b", dash_mm: &[4.0, 0.6, 1.4, 0.6] },
];

/// Style of the line with this place in the job; after ten lines the styles come round again, and the letters
/// still differ.
pub const fn line_style(index: usize) -> LineStyle {
    STYLES[index % STYLES.len()]
}
