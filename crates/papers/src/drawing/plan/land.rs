//! The ground of a plan: what it is covered with, or how loud it is there.

use super::pen::Pen;
use crate::drawing::key;
use crate::drawing::level_colours;
use crate::drawing::palette;
use crate::drawing::spot::Spot;
use crate::drawing::svg::Paint;

impl Pen<'_, '_> {
    /// Ground, surfaces, levels.
    pub(super) fn land(&mut self) {
        let document = self.request.job.document();
        let f = self.view.frame;
        let whole = [
            Spot::new(f.left, f.top),
            Spot::new(f.right, f.top),
            Spot::new(f.right, f.bottom),
            Spot::new(f.left, f.bottom),
        ];
        self.svg.open("ground");
        let beyond = if document.site.outline.is_some() { palette::BEYOND } else { palette::GROUND };
        self.svg.outline(&whole, &Paint::fill(beyond));
        let levels = self.request.field;
        if let Some(site) = &document.site.outline {
            let site = self.outline(site);
            key::surface(&mut self.svg, &site, document.site.ground, levels.is_none());
            self.svg.define_clip_outline("site", &site);
        }
        if let Some(levels) = levels {
            self.bare_ground();
            let clip = if document.site.outline.is_some() { "site" } else { "map-frame" };
            self.svg.open_clipped("sound", clip);
            level_colours::draw(&mut self.svg, &self.view, levels);
            self.svg.close();
        }
        for surface in document.surfaces.values() {
            let outline = self.outline(&surface.outline);
            key::surface(&mut self.svg, &outline, surface.kind, levels.is_none());
        }
        if let Some(site) = &document.site.outline {
            let site = self.outline(site);
            self.svg.outline(&site, &Paint::stroke(palette::QUIET, 0.3).dashed(&[4.0, 0.8, 0.6, 0.8]));
        }
        self.svg.close();
    }

    /// What is seen where it is quieter than the quietest colour.
    fn bare_ground(&mut self) {
        let document = self.request.job.document();
        let site = document.site.outline.iter().map(|outline| (outline, document.site.ground));
        for (outline, kind) in site.chain(document.surfaces.values().map(|s| (&s.outline, s.kind))) {
            let outline = self.outline(outline);
            self.svg.outline(&outline, &Paint::fill(palette::ground(kind).0));
        }
    }
}
