//! The graph on which ways are searched: corners of the triangles, and points spread along their sides, joined
//! across every triangle.
//!
//! The points are the usual discretisation of the weighted-region problem (Mitchell and Papadimitriou 1991;
//! Aleksandrov, Maheshwari and Sack 2005): a best way through the graph gives the sides that are crossed; where
//! it crosses them is then settled continuously (see `path::straighten`), so that the spacing decides which
//! way round is found and not how exact its price is.

use super::mesh::{Barrier, Mesh, TOUCH_M};
use super::plan::{Clip, GroundPlan};
use super::spots;
use loamline_geometry::{Point2, Segment, polyline_length};
use loamline_limits::{GROUND_STEPS, go_on};
use std::collections::BTreeMap;

/// About how many points are spread along all sides. More finds narrow cheap ways that fewer miss, and costs
/// time in proportion: 2500 take about 3 ms per start.
const POINTS: f64 = 2500.0;

/// Closest spacing of points along a side, metres.
const MIN_SPACING_M: f64 = 0.15;

/// Most parts a side is cut into: a large triangle is joined point to point, so its steps grow with the square.
/// Bends slide to their exact places afterwards.
const MAX_PARTS: f64 = 32.0;

/// What a step of the graph goes over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Step {
    /// Ground.
    Ground,
    /// Through barrier ground: only for searches allowed to enter it.
    Barred(Barrier),
    /// Along a face.
    Face(u16),
    /// Between ground and a face.
    Transition(u16),
    /// Through a sleeve.
    Sleeve(u16),
    /// Through ground another run has opened.
    Shared,
    /// Through the hole another run makes in the outer wall of a building.
    Hole(u16),
}

/// One directed step of the graph.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Link {
    pub to: u32,
    pub step: Step,
    /// Price without the cable.
    pub laying: f64,
    /// Metres of cable, up and down included.
    pub cable_m: f64,
}

/// A point of the graph.
#[derive(Debug, Clone)]
pub(crate) struct Node {
    pub at: Point2,
    /// Lines along which a bend here may slide, as indices into the mesh's lines, or the side itself.
    pub slides: Vec<Segment>,
    /// Whether a branch box may be placed here.
    pub box_allowed: bool,
    /// Whether it lies on a line of the plan, where ground changes.
    pub on_line: bool,
}

pub(crate) struct Graph {
    pub nodes: Vec<Node>,
    first: Vec<u32>,
    links: Vec<Link>,
    /// Nodes on the rim of each triangle.
    pub rims: Vec<Vec<u32>>,
}

impl Graph {
    pub fn links(&self, node: u32) -> &[Link] {
        &self.links[self.first[node as usize] as usize..self.first[node as usize + 1] as usize]
    }

    /// Makes the graph; boundaries close to one of `spots` get points for it (see [`super::spots`]). Where a part is given, a
    /// mark for each triangle, only what lies in it is joined.
    pub fn build(
        plan: &GroundPlan,
        mesh: &Mesh,
        charge: impl Fn(Point2, Point2) -> f64,
        (spots, part): (&[Point2], Option<&[bool]>),
    ) -> Self {
        let mut b = Builder { plan, mesh, part, nodes: Vec::new(), links: Vec::new(), charge };
        // Ways get on and off faces at their corners, however close the next boundary is.
        let corners = mesh.faces.iter().flat_map(|f| &f.pieces).map(|p| p.a);
        let spots: Vec<Point2> = spots.iter().copied().chain(corners).collect();
        let mut on_side = b.place_nodes(&spots);
        if GROUND_STEPS.check(b.steps_across(&on_side)).is_err() {
            // Thousands of places beside one line: each would be joined to all of the others' points. The even points are
            // few enough whatever the plan.
            on_side = b.place_nodes(&[]);
        }
        b.along_sides(&on_side);
        let rims = b.across_triangles(&on_side);
        b.faces(&on_side);
        b.sleeves();
        b.links.sort_by_key(|&(from, l)| (from, l.to));
        let mut first = vec![0u32; b.nodes.len() + 1];
        for (from, _) in &b.links {
            first[*from as usize + 1] += 1;
        }
        for i in 1..first.len() {
            first[i] += first[i - 1];
        }
        Self { first, links: b.links.into_iter().map(|l| l.1).collect(), nodes: b.nodes, rims }
    }
}

/// The clipping terms of a face.
pub(crate) fn clip_of<'a>(plan: &'a GroundPlan, mesh: &Mesh, face: u16) -> Option<&'a Clip> {
    let f = &mesh.faces[face as usize];
    if f.building {
        plan.buildings[f.index as usize].clip.as_ref()
    } else {
        plan.walls[f.index as usize].clip.as_ref()
    }
}

/// South-west and north-east corner of what touches some pieces.
fn box_around(pieces: &[Segment]) -> Option<(Point2, Point2)> {
    let first = pieces.first()?.a;
    let (mut low, mut high) = (first, first);
    for p in pieces.iter().flat_map(|s| [s.a, s.b]) {
        (low.x, low.y) = (low.x.min(p.x), low.y.min(p.y));
        (high.x, high.y) = (high.x.max(p.x), high.y.max(p.y));
    }
    let margin = Point2::new(TOUCH_M, TOUCH_M);
    Some((low - margin, high + margin))
}

/// Step and price per metre over a triangle.
fn over(mesh: &Mesh, triangle: u32) -> (Step, f64) {
    let t = &mesh.triangles[triangle as usize];
    (t.barrier.map_or(Step::Ground, Step::Barred), t.price)
}

struct Builder<'a, C> {
    plan: &'a GroundPlan,
    mesh: &'a Mesh,
    part: Option<&'a [bool]>,
    nodes: Vec<Node>,
    links: Vec<(u32, Link)>,
    charge: C,
}

impl<C: Fn(Point2, Point2) -> f64> Builder<'_, C> {
    fn join(&mut self, a: u32, b: u32, step: Step, price_per_m: f64) {
        let (p, q) = (self.nodes[a as usize].at, self.nodes[b as usize].at);
        let cable_m = p.distance(q);
        let laying = cable_m * price_per_m + (self.charge)(p, q);
        self.links.push((a, Link { to: b, step, laying, cable_m }));
        self.links.push((b, Link { to: a, step, laying, cable_m }));
    }

    /// Makes the nodes; returns those on each side, from end to end.
    fn place_nodes(&mut self, spots: &[Point2]) -> Vec<Vec<u32>> {
        let (mesh, part) = (self.mesh, self.part);
        let is_in = |t: u32| part.is_none_or(|part| part[t as usize]);
        let on = |p: Point2| {
            go_on();
            let beside = move |a: f64, b: f64, at: f64| at > a.min(b) - 1.0 && at < a.max(b) + 1.0;
            mesh.lines
                .iter()
                .filter(move |l| beside(l.a.x, l.b.x, p.x) && beside(l.a.y, l.b.y, p.y))
                .filter(move |l| l.distance_to(p) < TOUCH_M && l.length() > TOUCH_M)
                .copied()
                .collect::<Vec<_>>()
        };
        let mut box_allowed = vec![false; mesh.vertices.len()];
        let allows = |t: &u32| {
            let t = &mesh.triangles[*t as usize];
            let lay = t.surface.map_or(&self.plan.default_lay, |s| &self.plan.surfaces[s as usize].lay);
            t.barrier.is_none() && t.service.is_none() && lay.joints && lay.accessible
        };
        let mut used = vec![part.is_none(); mesh.vertices.len()];
        for (t, triangle) in (0u32..).zip(&mesh.triangles).filter(|(t, _)| is_in(*t)) {
            for v in triangle.corners {
                box_allowed[v as usize] |= allows(&t);
                used[v as usize] = true;
            }
        }
        // Corners keep their numbers, those beyond the part too: nothing leads there.
        let slides = |at: Point2, used: bool| if used { on(at) } else { Vec::new() };
        self.nodes = mesh
            .vertices
            .iter()
            .zip(box_allowed.iter().zip(&used))
            .map(|(&at, (&box_allowed, &on_line))| Node {
                at,
                slides: slides(at, on_line),
                box_allowed,
                on_line,
            })
            .collect();
        let beyond = |side: &super::mesh::Side| !side.triangles.iter().flatten().any(|&t| is_in(t));
        let side_of = |s: &super::mesh::Side| {
            Segment::new(mesh.vertices[s.ends[0] as usize], mesh.vertices[s.ends[1] as usize])
        };
        let total: f64 = mesh.sides.iter().filter(|s| !beyond(s)).map(|s| side_of(s).length()).sum();
        let spacing = (total / POINTS).max(MIN_SPACING_M);
        let mut on_side = Vec::with_capacity(mesh.sides.len());
        for side in &mesh.sides {
            if beyond(side) {
                on_side.push(Vec::new());
                continue;
            }
            let piece = side_of(side);
            let parts = (piece.length() / spacing).ceil().clamp(1.0, MAX_PARTS) as u32;
            let slides = if side.constraint {
                // The whole line the side is part of: the bend may leave this side along it.
                on(piece.a.lerp(piece.b, 0.5))
            } else {
                vec![piece]
            };
            let box_allowed = side.triangles.iter().flatten().any(allows);
            go_on();
            let mut along: Vec<f64> = (1..parts).map(|i| f64::from(i) / f64::from(parts)).collect();
            if side.constraint {
                spots::points_near(spots, piece, parts, &mut along);
            }
            let clear = spots::FINEST_M / piece.length().max(spots::FINEST_M);
            along.retain(|t| *t > clear && *t < 1.0 - clear);
            along.sort_by(f64::total_cmp);
            along.dedup_by(|b, a| *b - *a < clear);
            let mut row = vec![side.ends[0]];
            for t in along {
                row.push(self.nodes.len() as u32);
                let (at, on_line) = (piece.a.lerp(piece.b, t), side.constraint);
                self.nodes.push(Node { at, slides: slides.clone(), box_allowed, on_line });
            }
            row.push(side.ends[1]);
            on_side.push(row);
        }
        on_side
    }

    /// About how many steps there will be across all triangles.
    fn steps_across(&self, on_side: &[Vec<u32>]) -> usize {
        let mut rims = vec![0usize; self.mesh.triangles.len()];
        for (side, row) in self.mesh.sides.iter().zip(on_side) {
            self.triangles_of(side).for_each(|t| rims[t as usize] += row.len());
        }
        rims.iter().map(|n| n.saturating_mul(*n)).fold(0, usize::saturating_add)
    }

    /// The triangles of a side that are joined.
    fn triangles_of(&self, side: &super::mesh::Side) -> impl Iterator<Item = u32> + '_ {
        let part = self.part;
        side.triangles.into_iter().flatten().filter(move |&t| part.is_none_or(|part| part[t as usize]))
    }

    /// Along a side the cheaper of its two triangles counts.
    fn along_sides(&mut self, on_side: &[Vec<u32>]) {
        for (side, row) in self.mesh.sides.iter().zip(on_side) {
            let best = side.triangles.iter().flatten().map(|&t| over(self.mesh, t)).min_by(|a, b| {
                let barred = |s: &Step| *s != Step::Ground;
                barred(&a.0).cmp(&barred(&b.0)).then(a.1.total_cmp(&b.1))
            });
            let Some((step, price)) = best else { continue };
            for w in row.windows(2) {
                self.join(w[0], w[1], step, price);
            }
        }
    }

    /// Joins all nodes on a triangle's rim that do not share a side; returns the rims.
    fn across_triangles(&mut self, on_side: &[Vec<u32>]) -> Vec<Vec<u32>> {
        let mut marked: Vec<BTreeMap<u32, u8>> = vec![BTreeMap::new(); self.mesh.triangles.len()];
        let mut turn = vec![0u8; self.mesh.triangles.len()];
        for (side, row) in self.mesh.sides.iter().zip(on_side) {
            for t in self.triangles_of(side) {
                let bit = 1 << turn[t as usize];
                turn[t as usize] += 1;
                for &n in row {
                    *marked[t as usize].entry(n).or_default() |= bit;
                }
            }
        }
        let mut rims = Vec::with_capacity(marked.len());
        for (t, marks) in marked.into_iter().enumerate() {
            let (step, price) = over(self.mesh, t as u32);
            let rim: Vec<(u32, u8)> = marks.into_iter().collect();
            for (i, &(a, sides_a)) in rim.iter().enumerate() {
                go_on();
                for &(b, sides_b) in &rim[i + 1..] {
                    if sides_a & sides_b == 0 {
                        self.join(a, b, step, price);
                    }
                }
            }
            rims.push(rim.into_iter().map(|r| r.0).collect());
        }
        rims
    }

    /// Adds the faces: their own nodes above those of the sides they run along.
    fn faces(&mut self, on_side: &[Vec<u32>]) {
        for f in 0..self.mesh.faces.len() {
            let Some(clip) = clip_of(self.plan, self.mesh, f as u16).copied() else { continue };
            let mut above: BTreeMap<u32, u32> = BTreeMap::new();
            go_on();
            let mesh = self.mesh;
            let pieces = &mesh.faces[f].pieces;
            let Some((low, high)) = box_around(pieces) else { continue };
            let beside = |p: Point2| p.x > low.x && p.y > low.y && p.x < high.x && p.y < high.y;
            for (side, row) in self.mesh.sides.iter().zip(on_side) {
                let ends = side.ends.map(|v| self.mesh.vertices[v as usize]);
                let along = side.constraint
                    && !row.is_empty()
                    && ends.into_iter().all(beside)
                    && pieces
                        .iter()
                        .any(|p| p.distance_to(ends[0]) < TOUCH_M && p.distance_to(ends[1]) < TOUCH_M);
                let open = side.triangles.iter().flatten().any(|&t| over(self.mesh, t).0 == Step::Ground);
                if !(along && open) {
                    continue;
                }
                let up: Vec<u32> = row
                    .iter()
                    .map(|&n| {
                        *above.entry(n).or_insert_with(|| {
                            let ground = &self.nodes[n as usize];
                            let node = Node {
                                at: ground.at,
                                slides: Vec::new(),
                                box_allowed: false,
                                on_line: false,
                            };
                            self.nodes.push(node);
                            self.nodes.len() as u32 - 1
                        })
                    })
                    .collect();
                for w in up.windows(2) {
                    let cable_m = self.nodes[w[0] as usize].at.distance(self.nodes[w[1] as usize].at);
                    let laying = cable_m * clip.price_per_m;
                    let link = |to| Link { to, step: Step::Face(f as u16), laying, cable_m };
                    self.links.push((w[0], link(w[1])));
                    self.links.push((w[1], link(w[0])));
                }
            }
            for (ground, up) in above {
                let link = |to| Link {
                    to,
                    step: Step::Transition(f as u16),
                    laying: clip.transition_price,
                    cable_m: clip.height_m,
                };
                self.links.push((ground, link(up)));
                self.links.push((up, link(ground)));
            }
        }
    }

    fn sleeves(&mut self) {
        for (i, sleeve) in self.plan.sleeves.iter().enumerate() {
            let node_at = |p: Option<&Point2>| {
                let p = p?;
                let here = |at: Point2| (at.x - p.x).abs() < 1e-4 && at.distance(*p) < 1e-4;
                (0..self.mesh.vertices.len()).find(|&v| here(self.nodes[v].at)).map(|v| v as u32)
            };
            let (Some(a), Some(b)) = (node_at(sleeve.line.first()), node_at(sleeve.line.last())) else {
                continue;
            };
            let cable_m = polyline_length(&sleeve.line);
            let link =
                |to| Link { to, step: Step::Sleeve(i as u16), laying: cable_m * sleeve.price_per_m, cable_m };
            self.links.push((a, link(b)));
            self.links.push((b, link(a)));
        }
    }
}
