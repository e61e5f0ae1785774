//! A finished way in words a crew can use: what it goes over, metre by metre.

use super::answer::{NearService, Path, Stretch, Waypoint};
use super::corner::Corner;
use crate::ground::graph::{Step, clip_of};
use crate::ground::mesh::{bands, service_half_width};
use crate::ground::{GroundMap, Method};
use loamline_geometry::{Point2, Segment};

/// Takes down what a way goes over while it is walked from corner to corner.
struct PathRecorder<'a> {
    ground: &'a GroundMap,
    waypoints: Vec<Waypoint>,
    stretches: Vec<Stretch>,
    vertical_m: f64,
    level_m: f64,
    sleeves: Vec<String>,
    charges: f64,
}

impl PathRecorder<'_> {
    fn level(&mut self, level_m: f64) {
        self.vertical_m += (level_m - self.level_m).abs();
        self.level_m = level_m;
    }

    fn stretch(&mut self, s: Stretch) {
        match self.stretches.last_mut() {
            Some(last) if last.over == s.over && last.method == s.method => {
                last.length_m += s.length_m;
                last.hand_dig_m += s.hand_dig_m;
                last.laying_price += s.laying_price;
            }
            _ => self.stretches.push(s),
        }
    }

    fn point(&mut self, at: Point2, method: Method, along: Option<String>) {
        if self.waypoints.len() == 1 {
            // The first point leaves as the second arrives.
            self.waypoints[0].method = method;
            self.waypoints[0].along.clone_from(&along);
        }
        self.waypoints.push(Waypoint { at, method, along });
    }

    fn over_ground(&mut self, s: Segment, open: Option<u16>) {
        let g = self.ground;
        let pieces = g.pieces(s, open).unwrap_or_default();
        let length = s.length();
        let mut longest = (0.0, Method::Slit, None);
        for p in pieces {
            let t = &g.mesh.triangles[p.triangle as usize];
            let length_m = (p.to - p.from) * length;
            let (over, method, depth) = match t.barrier {
                Some(b) => (Some(g.barrier_name(b)), Method::Indoors, 0.0),
                None => {
                    let lay = g.lay_of(p.triangle);
                    let over = t.surface.map(|s| g.plan.surfaces[s as usize].id.clone());
                    (over, lay.method, lay.depth_m)
                }
            };
            self.level(-depth);
            let along = (method == Method::Indoors).then(|| over.clone()).flatten();
            if length_m > longest.0 {
                longest = (length_m, method, along);
            }
            let hand_dig_m = if t.service.is_some() && t.barrier.is_none() { length_m } else { 0.0 };
            self.stretch(Stretch { over, method, length_m, hand_dig_m, laying_price: length_m * t.price });
        }
        self.charges += g.charge(s);
        self.point(s.b, longest.1, longest.2);
    }

    fn along_face(&mut self, s: Segment, face: u16) {
        let g = self.ground;
        let f = &g.mesh.faces[face as usize];
        let name = if f.building {
            format!("building {}", g.plan.buildings[f.index as usize].id)
        } else {
            format!("wall {}", g.plan.walls[f.index as usize].id)
        };
        let Some(clip) = clip_of(&g.plan, &g.mesh, face) else { return };
        self.level(clip.height_m);
        let length_m = s.length();
        let laying_price = length_m * clip.price_per_m;
        let over = Some(name.clone());
        self.stretch(Stretch { over, method: Method::Clipped, length_m, hand_dig_m: 0.0, laying_price });
        self.point(s.b, Method::Clipped, Some(name));
    }

    /// Through ground that another run has opened and paid for.
    fn beside_another(&mut self, s: Segment) {
        let length_m = s.length();
        if let Some(lay) = self.ground.lay_at(s.a.lerp(s.b, 0.5)) {
            self.level(-lay.depth_m);
        }
        let method = Method::SharedTrench;
        self.stretch(Stretch { over: None, method, length_m, hand_dig_m: 0.0, laying_price: 0.0 });
        self.point(s.b, method, None);
    }

    /// Through a hole that another run makes and pays for.
    fn through_hole(&mut self, s: Segment, building: u16) {
        let building = &self.ground.plan.buildings[building as usize];
        self.level(0.0);
        let (over, length_m) = (Some(format!("building {}", building.id)), s.length());
        let (method, laying_price) = (Method::Indoors, length_m * building.indoor_price_per_m);
        self.stretch(Stretch { over: over.clone(), method, length_m, hand_dig_m: 0.0, laying_price });
        self.point(s.b, method, over);
    }

    fn through_sleeve(&mut self, from: Point2, sleeve: u16) {
        let sleeve = &self.ground.plan.sleeves[sleeve as usize];
        let name = format!("sleeve {}", sleeve.id);
        let forward = sleeve.line.first().is_some_and(|p| p.distance(from) < 1e-3);
        let mut line = sleeve.line.clone();
        if !forward {
            line.reverse();
        }
        let length_m = loamline_geometry::polyline_length(&line);
        let over = Some(name.clone());
        let laying_price = length_m * sleeve.price_per_m;
        self.stretch(Stretch { over, method: Method::Sleeve, length_m, hand_dig_m: 0.0, laying_price });
        for p in line.into_iter().skip(1) {
            self.point(p, Method::Sleeve, Some(name.clone()));
        }
        self.sleeves.push(sleeve.id.clone());
    }
}

impl GroundMap {
    /// Describes a way given by its corners.
    pub(crate) fn describe(&self, corners: &[Corner], open: Option<u16>) -> Path {
        let mut t = PathRecorder {
            ground: self,
            waypoints: Vec::new(),
            stretches: Vec::new(),
            vertical_m: 0.0,
            level_m: 0.0,
            sleeves: Vec::new(),
            charges: 0.0,
        };
        let mut on_ground: Vec<Segment> = Vec::new();
        let start = corners.first().map_or(Point2::default(), |c| c.at);
        t.waypoints.push(Waypoint { at: start, method: Method::Slit, along: None });
        for w in corners.windows(2) {
            let s = Segment::new(w[0].at, w[1].at);
            match w[1].step {
                Step::Ground | Step::Barred(_) => {
                    on_ground.push(s);
                    t.over_ground(s, open);
                }
                Step::Face(f) => t.along_face(s, f),
                Step::Transition(f) => {
                    if let Some(clip) = clip_of(&self.plan, &self.mesh, f) {
                        t.charges += clip.transition_price;
                    }
                }
                Step::Sleeve(i) => t.through_sleeve(w[0].at, i),
                Step::Shared => t.beside_another(s),
                Step::Hole(b) => t.through_hole(s, b),
            }
        }
        t.level(0.0);
        let laying: f64 = t.stretches.iter().map(|s| s.laying_price).sum();
        Path {
            length_m: t.stretches.iter().map(|s| s.length_m).sum(),
            vertical_m: t.vertical_m,
            services: self.near_services(&on_ground),
            sleeves: t.sleeves,
            laying_price: laying + t.charges,
            bends: t.waypoints.len().saturating_sub(2),
            waypoints: t.waypoints,
            stretches: t.stretches,
        }
    }

    /// Services that a way on the ground crosses or approaches within their clearance.
    pub(crate) fn near_services(&self, way: &[Segment]) -> Vec<NearService> {
        let mut found = Vec::new();
        for (i, service) in self.plan.services.iter().enumerate() {
            let mut near = NearService {
                service: service.id.clone(),
                crossings: Vec::new(),
                distance_m: f64::INFINITY,
                clearance_m: service.clearance_m,
                hand_dig_m: 0.0,
            };
            let line = &self.service_lines[i];
            let outlines = bands(line, service_half_width(service.clearance_m));
            for &s in way {
                for w in line.windows(2) {
                    near.distance_m = near.distance_m.min(s.distance_to_segment(Segment::new(w[0], w[1])));
                }
                let mut spans: Vec<(f64, f64)> =
                    outlines.iter().flat_map(|o| o.inside_intervals(s)).collect();
                spans.sort_by(|a, b| a.0.total_cmp(&b.0));
                let mut covered = 0.0f64;
                for (from, to) in spans {
                    near.hand_dig_m += (to - from.max(covered)).max(0.0) * s.length();
                    covered = covered.max(to);
                }
                for (_, t) in self.crossings(s).filter(|c| c.0 == i) {
                    let at = s.a.lerp(s.b, t);
                    near.crossings.push((at, crossing_angle_deg(s, line, at)));
                }
            }
            if near.crossings.is_empty() && near.hand_dig_m < 1e-6 {
                continue;
            }
            found.push(near);
        }
        found
    }

    /// The same way walked from its end.
    pub(crate) fn reversed(&self, mut path: Path) -> Path {
        let mut ways: Vec<(Method, Option<String>)> =
            path.waypoints.iter().skip(1).map(|w| (w.method, w.along.clone())).collect();
        ways.reverse();
        path.waypoints.reverse();
        if let Some(first) = ways.first().cloned() {
            ways.insert(0, first);
        }
        for (w, (method, along)) in path.waypoints.iter_mut().zip(ways) {
            (w.method, w.along) = (method, along);
        }
        path.stretches.reverse();
        path.sleeves.reverse();
        for s in &mut path.services {
            s.crossings.reverse();
        }
        path
    }
}

/// Angle between a straight piece and the service where they cross, 0 to 90 degrees.
fn crossing_angle_deg(s: Segment, line: &[Point2], at: Point2) -> f64 {
    let piece = line
        .windows(2)
        .map(|w| Segment::new(w[0], w[1]))
        .min_by(|a, b| a.distance_to(at).total_cmp(&b.distance_to(at)));
    let Some(piece) = piece else { return 90.0 };
    let (u, v) = (s.b - s.a, piece.b - piece.a);
    u.cross(v).abs().atan2(u.dot(v).abs()).to_degrees()
}
