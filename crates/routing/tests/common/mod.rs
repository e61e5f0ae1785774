//! Small grounds shared by the tests.
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::allow_attributes,
    reason = "test helpers; each file uses its own part"
)]

use loamline_geometry::{Point2, Polygon};
use loamline_routing::{
    CableToLay, Feed, GroundMap, GroundPlan, Lay, LengthRules, LineCable, LineProblem, Method, Mode, NoGo,
    Opened, Path, RunEnd, Surface, Terminal,
};

pub fn p(x: f64, y: f64) -> Point2 {
    Point2::new(x, y)
}

pub fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Polygon {
    Polygon::rectangle(p(x0, y0), p(x1, y1)).unwrap()
}

pub fn lay(method: Method, price_per_m: f64) -> Lay {
    Lay { method, price_per_m, depth_m: 0.0, joints: true, accessible: true }
}

pub fn plan(x0: f64, y0: f64, x1: f64, y1: f64, price_per_m: f64) -> GroundPlan {
    GroundPlan {
        boundary: rect(x0, y0, x1, y1),
        default_lay: lay(Method::Slit, price_per_m),
        surfaces: vec![],
        no_go: vec![],
        buildings: vec![],
        walls: vec![],
        services: vec![],
        sleeves: vec![],
        passages: vec![],
    }
}

pub fn surface(id: &str, outline: Polygon, method: Method, price_per_m: f64) -> Surface {
    Surface { id: id.into(), outline, lay: lay(method, price_per_m) }
}

pub fn no_go(id: &str, outline: Polygon) -> NoGo {
    NoGo { id: id.into(), outline }
}

pub fn place(name: &str, x: f64, y: f64) -> RunEnd {
    RunEnd { name: name.into(), at: p(x, y) }
}

pub const FREE_CABLE: CableToLay = CableToLay { price_per_m: 0.0, outside_diameter_mm: 8.0 };

pub fn way(ground: &GroundMap, a: (f64, f64), b: (f64, f64)) -> Path {
    ground.path(&place("a", a.0, a.1), &place("b", b.0, b.1), &FREE_CABLE).unwrap()
}

pub fn terminal_at(id: &str, at: Point2, watts: f64) -> Terminal {
    Terminal { id: id.into(), at, rise_m: 0.0, watts, line: None }
}

pub fn feed_at(id: &str, at: Point2, max_w: f64) -> Feed {
    Feed { id: id.into(), at, rise_m: 0.0, max_w, opening_price: 0.0, before_ohm: 0.0, stub_out: None }
}

/// Lines of cable at 1 a metre, 8 mm thick; joints, boxes and lengths beyond the way cost nothing.
pub fn lines_of(mode: Mode, feeds: Vec<Feed>, terminals: Vec<Terminal>) -> LineProblem {
    LineProblem {
        mode,
        terminals,
        feeds,
        cable: LineCable { price_per_m: 1.0, outside_diameter_mm: 8.0 },
        lengths: LengthRules { service_loop_m: 0.0, waste_fraction: 0.0 },
        joint_price: 0.0,
        box_price: 0.0,
        home_runs: 1,
        fixed: vec![],
        open: Opened::default(),
        effort: 10,
    }
}
