//! The document as the routing engine wants it: ground with prices, obstacles, what is buried and what can be used.

use loamline_geometry::{Point2, Polygon};
use loamline_model::Job;
use loamline_model::catalogue::Prices;
use loamline_model::document::{Laying, Surface as DocumentSurface, SurfaceKind, WallKind};
use loamline_routing::{
    Building, Clip, GroundPlan, Lay, Method, NoGo, OuterWall, Passage, Service, Sleeve, Surface, Wall,
    conduit_fill,
};
use rust_decimal::prelude::ToPrimitive;

/// How much dearer ground is whose way of laying the brief does not allow: it is crossed only where nothing else
/// leads through, and a finding then says so.
const NOT_ALLOWED_FACTOR: f64 = 20.0;
/// Price of ground where the price book says nothing, per metre (an assumption, so that shorter is still better).
const UNPRICED_PER_M: f64 = 5.0;
/// Digging by hand beside a service takes about three times as long as the ground alone (common practice, no source).
const HAND_DIG_FACTOR: f64 = 3.0;
/// Width of cable clear of the site's things when no outline of the property is drawn, metres.
const MARGIN_M: f64 = 5.0;
/// Length of a passage through a wall, metres: short enough for the fill of a nipple ([`loamline_routing::fill_limit`]).
pub const NIPPLE_M: f64 = 0.3;
/// Depth within the outline of a building over which its outer wall is priced, metres: thin, so that what stands against
/// the wall is inside it.
const OUTER_WALL_M: f64 = 0.05;
/// Ring round a lawn, inside its edge, where stakes are out of the way, metres.
pub const LAWN_EDGE_M: f64 = 0.35;

/// The ground of a job, priced; `None` for a job without any place on it.
pub fn ground_plan(job: &Job) -> Option<GroundPlan> {
    let d = job.document();
    let boundary = match &d.site.outline {
        Some(outline) => outline.clone(),
        None => around_everything(job)?,
    };
    let prices = Pricing::of(job);
    let mut no_go: Vec<NoGo> =
        d.no_go.iter().map(|(id, n)| NoGo { id: id.clone(), outline: n.outline.clone() }).collect();
    let mut surfaces = Vec::new();
    for (id, s) in &d.surfaces {
        match s.laying_method() {
            Some(laying) => surfaces.push(Surface {
                id: id.clone(),
                outline: s.outline.clone(),
                lay: prices.lay(s.kind, laying, s.laying_price.and_then(|p| p.to_f64())),
            }),
            // A surface may share its name with a no-go area round it.
            None => no_go.push(NoGo { id: format!("{id} (water)"), outline: s.outline.clone() }),
        }
    }
    let clip = Clip { price_per_m: prices.per_m(Laying::Clipped), height_m: 0.3, transition_price: 0.0 };
    let ground = d.site.ground;
    Some(GroundPlan {
        boundary,
        default_lay: prices.lay(ground, ground.laying().unwrap_or(Laying::Trench), None),
        surfaces,
        no_go,
        buildings: d
            .buildings
            .iter()
            .map(|(id, b)| Building {
                id: id.clone(),
                outline: b.outline.clone(),
                indoor_price_per_m: prices.per_m(Laying::Indoors),
                outer_wall: has_a_rack_inside(job, &b.outline).then(|| OuterWall {
                    thickness_m: OUTER_WALL_M,
                    hole_price: b.holes.then(|| prices.wall_hole()),
                }),
                clip: b.clip.then_some(clip),
            })
            .collect(),
        walls: d
            .walls
            .iter()
            .map(|(id, w)| Wall {
                id: id.clone(),
                line: w.line.clone(),
                thickness_m: wall_thickness_m(w.kind),
                crossing_price: Some(prices.wall_crossing(w.kind)),
                clip: w.clip.then_some(clip),
            })
            .collect(),
        services: d
            .services
            .iter()
            .map(|(id, s)| Service {
                id: id.clone(),
                line: s.line.clone(),
                clearance_m: d.kept_from_m(s),
                crossing_price: match s.crossing_charge.and_then(|p| p.to_f64()) {
                    Some(charge) => charge,
                    None => prices.task("service-crossing"),
                },
                hand_dig_factor: HAND_DIG_FACTOR,
            })
            .collect(),
        sleeves: d
            .sleeves
            .iter()
            .map(|(id, s)| Sleeve {
                id: id.clone(),
                line: s.line.clone(),
                inside_diameter_mm: 1000.0 * s.inside_diameter_m,
                occupants_mm: s.holds_m.iter().map(|m| 1000.0 * m).collect(),
                price_per_m: prices.per_m(Laying::Conduit),
            })
            .collect(),
        passages: d
            .passages
            .iter()
            .filter(|(_, p)| has_room(job, p))
            .map(|(id, p)| Passage { id: id.clone(), at: p.position })
            .collect(),
    })
}

/// Whether cable comes from inside an outline.
fn has_a_rack_inside(job: &Job, outline: &Polygon) -> bool {
    job.document().racks.values().any(|r| outline.contains_with_margin(r.position, OUTER_WALL_M))
}

/// Whether one more cable goes through a passage: the thinnest of the job's lines.
fn has_room(job: &Job, passage: &loamline_model::document::Passage) -> bool {
    let diameters = job.lines().map(|l| 1000.0 * l.cable.outside_diameter_m);
    let thinnest = diameters.min_by(f64::total_cmp);
    let mut drawn: Vec<f64> = passage.holds_m.iter().map(|m| 1000.0 * m).collect();
    drawn.extend(thinnest);
    drawn.is_empty()
        || conduit_fill(1000.0 * passage.inside_diameter_m, &drawn, Some(NIPPLE_M)).is_ok_and(|f| f.fits)
}

/// Thickness a wall takes in plan, metres: usual figures (common practice, no source).
pub fn wall_thickness_m(kind: WallKind) -> f64 {
    match kind {
        WallKind::Masonry => 0.25,
        WallKind::Fence => 0.05,
        WallKind::Hedge => 0.6,
    }
}

fn method(laying: Laying) -> Method {
    match laying {
        Laying::Staked => Method::Staked,
        Laying::Slit => Method::Slit,
        Laying::Trench | Laying::LiftedPaving => Method::Trench,
        Laying::Clipped => Method::Clipped,
        Laying::Conduit => Method::Conduit,
        Laying::Indoors => Method::Indoors,
    }
}

/// Depth of cable below the surface, metres (common practice, no source; local codes decide).
fn depth_m(laying: Laying) -> f64 {
    match laying {
        Laying::Staked | Laying::Clipped | Laying::Indoors => 0.0,
        Laying::Slit | Laying::LiftedPaving => 0.15,
        Laying::Trench | Laying::Conduit => 0.45,
    }
}

/// Prices out of the book.
pub struct Pricing<'j> {
    /// The job.
    pub job: &'j Job,
    /// Its price book, when it has one.
    pub book: Option<&'j Prices>,
    /// What material carries on top of its price, as a fraction.
    margin: f64,
}

impl<'j> Pricing<'j> {
    /// What things cost, as ways are searched by: without the margin on material.
    pub fn of(job: &'j Job) -> Self {
        Self { job, book: job.catalogue().prices.as_ref(), margin: 0.0 }
    }

    /// What things cost in a quotation: with the margin on material.
    pub fn of_a_quotation(job: &'j Job) -> Self {
        let book = job.catalogue().prices.as_ref();
        Self { job, book, margin: book.map_or(0.0, |b| b.material_margin) }
    }
}

impl Pricing<'_> {
    /// Material with its margin.
    pub fn with_margin(&self, material: f64) -> f64 {
        material * (1.0 + self.margin)
    }

    /// Laying a metre of cable on a surface: at the price that is stated of it where it is laid in as it is, else as usual.
    pub fn stated_or_usual(&self, surface: Option<&DocumentSurface>, laying: Laying) -> f64 {
        let stated = surface.filter(|s| s.laying_method() == Some(laying)).and_then(|s| s.laying_price);
        stated.and_then(|p| p.to_f64()).unwrap_or_else(|| self.per_m(laying))
    }

    fn labour(&self, seconds: f64) -> f64 {
        self.book.and_then(|b| b.labour_per_hour.to_f64()).map_or(0.0, |rate| rate * seconds / 3600.0)
    }

    /// Laying a metre of cable one way, material and labour.
    pub fn per_m(&self, laying: Laying) -> f64 {
        use loamline_model::Choice as _;
        match self.book.and_then(|b| b.laying.get(laying.word())) {
            Some(p) => {
                self.with_margin(p.material_per_m.to_f64().unwrap_or(0.0)) + self.labour(p.labour_s_per_m)
            }
            // A book that says nothing of the inside of buildings: as along their walls.
            None if laying == Laying::Indoors => self.per_m(Laying::Clipped),
            None => UNPRICED_PER_M,
        }
    }

    /// One of a task, material and labour; 0 when the book has no such task.
    pub fn task(&self, name: &str) -> f64 {
        match self.book.and_then(|b| b.tasks.get(name)) {
            Some(t) => self.with_margin(t.material.to_f64().unwrap_or(0.0)) + self.labour(t.labour_s),
            None => 0.0,
        }
    }

    fn lay(&self, kind: SurfaceKind, laying: Laying, stated: Option<f64>) -> Lay {
        let allowed = &self.job.document().brief.laying;
        let factor = if allowed.is_empty() || allowed.contains(&laying) { 1.0 } else { NOT_ALLOWED_FACTOR };
        // A box wants soft ground that can be lifted again without harm.
        let soft = matches!(
            kind,
            SurfaceKind::Bed | SurfaceKind::Gravel | SurfaceKind::Soil | SurfaceKind::Woodland
        );
        Lay {
            method: method(laying),
            price_per_m: factor * stated.unwrap_or_else(|| self.per_m(laying)),
            depth_m: depth_m(laying),
            joints: soft,
            accessible: soft,
        }
    }

    /// A new hole through the outer wall of a building; as through masonry where the book has no task `wall-hole`.
    fn wall_hole(&self) -> f64 {
        match self.task("wall-hole") {
            price if price > 0.0 => price,
            _ => self.wall_crossing(WallKind::Masonry),
        }
    }

    /// Passing through or under a wall: half a day's work through masonry, an hour under a fence, half an hour through a
    /// hedge (common practice, no source).
    fn wall_crossing(&self, kind: WallKind) -> f64 {
        self.labour(match kind {
            WallKind::Masonry => 4.0 * 3600.0,
            WallKind::Fence => 3600.0,
            WallKind::Hedge => 1800.0,
        })
    }
}

fn around_everything(job: &Job) -> Option<Polygon> {
    let d = job.document();
    let mut points: Vec<Point2> = Vec::new();
    points.extend(d.surfaces.values().flat_map(|s| s.outline.corners().to_vec()));
    points.extend(d.areas.values().flat_map(|s| s.outline.corners().to_vec()));
    points.extend(d.buildings.values().flat_map(|s| s.outline.corners().to_vec()));
    points.extend(d.loudspeakers.values().map(|l| l.position));
    points.extend(d.racks.values().map(|r| r.position));
    let first = *points.first()?;
    let (lo, hi) = points.iter().fold((first, first), |(lo, hi), p| {
        (Point2::new(lo.x.min(p.x), lo.y.min(p.y)), Point2::new(hi.x.max(p.x), hi.y.max(p.y)))
    });
    let margin = Point2::new(MARGIN_M, MARGIN_M);
    Polygon::rectangle(lo - margin, hi + margin).ok()
}

/// Whether a place is on the edge of a drawn lawn, where a stake is out of the mower's way.
pub fn on_lawn_edge(job: &Job, at: Point2) -> bool {
    let here = job.ground(at);
    here.kind == SurfaceKind::Lawn
        && here.surface.is_some_and(|(_, s)| {
            s.loudspeakers != Some(false) && s.outline.distance_to_outline(at) <= LAWN_EDGE_M
        })
}
