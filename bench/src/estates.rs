//! Estates of any size: invented hotel grounds of villas in gardens of their own, drawn anew from a seed.
//!
//! Every ten loudspeakers are a plot of 60 m by 60 m: a villa, its terrace with a row of loudspeakers in a bed before it,
//! a garden wall, a hedge, on every third plot a lawn with loudspeakers and a subwoofer, on the others a pool. Each plot is
//! turned by up to 20 degrees, so that little lies along the plan's axes. Lanes with buried services run between the rows,
//! a duct leads under the lane into every plot. Seven plots share a rack of two amplifiers: a line for each plot, one for
//! the subwoofers; they are a zone, and the zones are built in two phases. Where a run is longer than a spool a joint lies
//! on the way. Neighbours lie along all four sides. Lines have numbers, so that tags made of a line
//! and a number need something between: V1 and 11, V11 and 1.

use loamline_geometry::Point2;
use std::fmt::Write;

/// Side of a plot, m.
const PLOT_M: f64 = 60.0;
/// Loudspeakers of a plot.
const PER_PLOT: usize = 10;
/// Plots of a rack: with the line of subwoofers they take both its amplifiers' outputs.
const PER_RACK: usize = 7;
/// Longest run along the lanes that is laid in one piece, m: a spool holds 250 m, and what leads into the plots comes on top.
const IN_ONE_PIECE_M: f64 = 170.0;
/// From the lanes to the neighbours around the site, m.
const NEIGHBOUR_M: f64 = 40.0;

/// Even numbers from a seed, the same everywhere: splitmix64 (Steele, Lea and Flood 2014).
struct Draw(u64);

impl Draw {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        low + (high - low) * (z >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// One plot: where it lies and how what stands on it is turned.
struct Plot {
    number: usize,
    corner: Point2,
    /// Anticlockwise, degrees.
    turned_deg: f64,
    villa: Point2,
    villa_height_m: f64,
    loudspeakers: usize,
}

impl Plot {
    /// A place from the plot's own axes, about its middle, onto the plan, in whole centimetres.
    fn at(&self, x: f64, y: f64) -> Point2 {
        let (sin, cos) = self.turned_deg.to_radians().sin_cos();
        let (dx, dy) = (x - 0.5 * PLOT_M, y - 0.5 * PLOT_M);
        let whole = |m: f64| (100.0 * m).round() / 100.0;
        Point2::new(
            whole(self.corner.x + 0.5 * PLOT_M + dx * cos - dy * sin),
            whole(self.corner.y + 0.5 * PLOT_M + dx * sin + dy * cos),
        )
    }

    fn outline(&self, corners: &[(f64, f64)]) -> String {
        listed(&corners.iter().map(|&(x, y)| self.at(x, y)).collect::<Vec<_>>())
    }

    /// The zone of its rack, as it is written.
    fn zone(&self) -> String {
        text(format_args!("Z{}", (self.number - 1) / PER_RACK + 1))
    }

    fn has_lawn(&self) -> bool {
        self.number % 3 == 1
    }

    /// Tags, places and bearings from the plot's own north, and what they are, in the order of the line.
    fn loudspeakers(&self) -> Vec<Stake> {
        let lawn = if self.has_lawn() { self.loudspeakers.min(4) } else { 0 };
        let (sub, lawn) = (usize::from(lawn == 4), lawn.saturating_sub(usize::from(lawn == 4)));
        let terrace = self.loudspeakers - lawn - sub;
        let along =
            |from: f64, to: f64, i: usize, n: usize| from + (to - from) * (i as f64 + 0.5) / n.max(1) as f64;
        let mut all = Vec::new();
        for i in 0..terrace {
            all.push(Stake { at: self.at(along(16.0, 41.0, i, terrace), 22.2), tap_w: 20, is_sub: false });
        }
        for i in 0..lawn {
            all.push(Stake { at: self.at(along(42.0, 16.0, i, lawn), 6.8), tap_w: 10, is_sub: false });
        }
        if sub == 1 {
            all.push(Stake { at: self.at(45.0, 14.0), tap_w: 50, is_sub: true });
        }
        all
    }
}

struct Stake {
    at: Point2,
    tap_w: u32,
    is_sub: bool,
}

/// A job of so many loudspeakers, as the text of its `job.toml`. The same seed gives the same text on any machine.
///
/// ```
/// let text = loamline_bench::estates::estate(30, 1);
/// assert_eq!(text, loamline_bench::estates::estate(30, 1));
/// assert_eq!(text.matches("\n[loudspeakers.").count(), 30);
/// ```
pub fn estate(loudspeakers: usize, seed: u64) -> String {
    let mut draw = Draw(seed);
    let count = loudspeakers.div_ceil(PER_PLOT).max(1);
    let columns = ((count as f64).sqrt().ceil() as usize).max(1);
    let rows = count.div_ceil(columns);
    let plots: Vec<Plot> = (0..count)
        .map(|number| {
            let (row, along) = (number / columns, number % columns);
            // There and back, so that the plots of a rack lie together.
            let column = if row.is_multiple_of(2) { along } else { columns - 1 - along };
            Plot {
                number: number + 1,
                corner: Point2::new(PLOT_M * column as f64, PLOT_M * row as f64),
                turned_deg: draw.between(-20.0, 20.0),
                villa: Point2::new(draw.between(14.0, 20.0), draw.between(9.0, 12.0)),
                villa_height_m: draw.between(4.0, 8.0),
                loudspeakers: PER_PLOT.min(loudspeakers - PER_PLOT * number),
            }
        })
        .collect();
    let mut out = String::new();
    head(&mut out, loudspeakers, seed);
    let (width, depth) = (PLOT_M * columns as f64, PLOT_M * rows as f64);
    ground(&mut out, width, depth, rows, columns);
    neighbours(&mut out, width, depth);
    zones(&mut out, count.div_ceil(PER_RACK));
    for plot in &plots {
        garden(&mut out, plot);
    }
    for (n, of_rack) in plots.chunks(PER_RACK).enumerate() {
        rack(&mut out, n + 1, of_rack);
    }
    out
}

/// `[[x, y], ...]`.
fn listed(points: &[Point2]) -> String {
    let each: Vec<String> = points.iter().map(|p| format!("[{:.2}, {:.2}]", p.x, p.y)).collect();
    format!("[{}]", each.join(", "))
}

fn boxed(west: f64, south: f64, east: f64, north: f64) -> String {
    listed(&[(west, south), (east, south), (east, north), (west, north)].map(|(x, y)| Point2::new(x, y)))
}

/// A table of the file: its header and its keys with their values as they are written.
fn table(out: &mut String, header: &str, keys: &[(&str, String)]) {
    let _ = writeln!(out, "[{header}]");
    for (key, value) in keys {
        let _ = writeln!(out, "{key} = {value}");
    }
    out.push('\n');
}

fn text(words: impl std::fmt::Display) -> String {
    format!("\"{words}\"")
}

fn head(out: &mut String, loudspeakers: usize, seed: u64) {
    let _ =
        writeln!(out, "# An invented estate, written by `estates write {loudspeakers}` with seed {seed}.\n");
    let _ = writeln!(out, "format = 1\n");
    table(out, "job", &[("name", text(format_args!("Estate of {loudspeakers}"))), ("currency", text("EUR"))]);
    let brief = [
        ("supply", text("100 V")),
        ("laying", "[\"staked\", \"slit\", \"trench\", \"conduit\"]".to_owned()),
        ("night_hours", text("22:00 to 07:00")),
        ("night_turn_down", text("12 dB")),
    ];
    table(out, "brief", &brief);
    for (id, name) in [("terraces", "Terraces, quiet"), ("lawns", "Lawns, afternoon")] {
        table(out, &format!("programmes.{id}"), &[("name", text(name)), ("crest_factor", text("12 dB"))]);
    }
}

fn ground(out: &mut String, width: f64, depth: f64, rows: usize, columns: usize) {
    let site = [
        ("datum", text("south-west corner of the southern lane")),
        ("outline", boxed(-4.0, -4.0, width + 4.0, depth + 4.0)),
        ("ground", text("lawn")),
    ];
    table(out, "site", &site);
    table(out, "site.air", &[("temperature", text("20 C")), ("humidity", text("60 %"))]);
    for row in 0..rows {
        let y = PLOT_M * row as f64;
        let lane = [
            ("name", text(format_args!("Lane {}", row + 1))),
            ("outline", boxed(-3.0, y - 1.5, width + 3.0, y + 1.5)),
            ("kind", text("gravel")),
        ];
        table(out, &format!("surfaces.lane-{}", row + 1), &lane);
        let line = listed(&[Point2::new(-3.0, y + 1.0), Point2::new(width + 3.0, y + 1.0)]);
        let mains = [("kind", text("electric")), ("line", line), ("depth", text("0.6 m"))];
        table(out, &format!("services.mains-{}", row + 1), &mains);
    }
    for column in 0..columns {
        let x = PLOT_M * column as f64 + 0.4;
        let line = listed(&[Point2::new(x, -3.0), Point2::new(x, depth + 3.0)]);
        let water = [("kind", text("water")), ("line", line), ("depth", text("0.9 m"))];
        table(out, &format!("services.water-{}", column + 1), &water);
    }
}

fn neighbours(out: &mut String, width: f64, depth: f64) {
    let (w, s, e, n) = (-NEIGHBOUR_M, -NEIGHBOUR_M, width + NEIGHBOUR_M, depth + NEIGHBOUR_M);
    let sides = [
        ("south", [(0.0, s), (width, s)]),
        ("east", [(e, 0.0), (e, depth)]),
        ("north", [(width, n), (0.0, n)]),
        ("west", [(w, depth), (w, 0.0)]),
    ];
    for (side, line) in sides {
        let keys = [
            ("name", text(format_args!("Houses to the {side}"))),
            ("line", listed(&line.map(|(x, y)| Point2::new(x, y)))),
            ("height", text("4 m")),
            ("day", text("55 dBA")),
            ("night", text("45 dBA")),
            ("day_63hz", text("65 dB")),
        ];
        table(out, &format!("neighbours.{side}"), &keys);
    }
}

/// A zone for each rack, the first half of them in the first phase.
fn zones(out: &mut String, racks: usize) {
    for (id, name) in [("first", "First phase"), ("second", "Second phase")] {
        table(out, &format!("phases.{id}"), &[("name", text(name))]);
    }
    for number in 1..=racks {
        let phase = if 2 * (number - 1) < racks { "first" } else { "second" };
        let zone = [("name", text(format_args!("District {number}"))), ("phase", text(phase))];
        table(out, &format!("zones.Z{number}"), &zone);
    }
}

/// What stands and lies on a plot, and where is listened.
fn garden(out: &mut String, plot: &Plot) {
    let n = plot.number;
    let terrace =
        plot.outline(&[(16.0, 24.0), (41.0, 24.0), (41.0, 31.0), (27.0, 31.0), (27.0, 33.0), (16.0, 33.0)]);
    let area = [
        ("name", text(format_args!("Terrace of villa {n}"))),
        ("outline", terrace.clone()),
        ("listeners", text("seated")),
        ("target", text("70 dBA")),
        ("programme", text("terraces")),
        ("zone", plot.zone()),
    ];
    table(out, &format!("areas.terrace-{n}"), &area);
    let paving = [("outline", terrace), ("kind", text("paving"))];
    table(out, &format!("surfaces.terrace-{n}"), &paving);
    let bed = [
        ("outline", plot.outline(&[(14.0, 21.0), (43.0, 21.0), (43.0, 23.5), (14.0, 23.5)])),
        ("kind", text("bed")),
    ];
    table(out, &format!("surfaces.bed-{n}"), &bed);
    let (east, north) = (20.0 + plot.villa.x, 34.0 + plot.villa.y);
    let villa = [
        ("name", text(format_args!("Villa {n}"))),
        ("outline", plot.outline(&[(20.0, 34.0), (east, 34.0), (east, north), (20.0, north)])),
        ("height", text(format_args!("{:.1} m", plot.villa_height_m))),
    ];
    table(out, &format!("buildings.villa-{n}"), &villa);
    for (id, ends, height, kind) in [
        ("wall", [(10.0, 12.0), (10.0, 46.0)], "2 m", "masonry"),
        ("hedge", [(14.0, 49.0), (46.0, 49.0)], "1.8 m", "hedge"),
    ] {
        let wall = [("line", plot.outline(&ends)), ("height", text(height)), ("kind", text(kind))];
        table(out, &format!("walls.{id}-{n}"), &wall);
    }
    let below = [(16.0, 8.5), (42.0, 8.5), (42.0, 18.5), (16.0, 18.5)];
    if plot.has_lawn() {
        let lawn = [
            ("name", text(format_args!("Lawn of villa {n}"))),
            ("outline", plot.outline(&below)),
            ("target", text("66 dBA")),
            ("bass", text("3 dB")),
            ("programme", text("lawns")),
            ("zone", plot.zone()),
        ];
        table(out, &format!("areas.lawn-{n}"), &lawn);
    } else {
        let pool = plot.outline(&[(20.0, 9.0), (36.0, 9.0), (36.0, 15.0), (20.0, 15.0)]);
        table(out, &format!("surfaces.pool-{n}"), &[("outline", pool.clone()), ("kind", text("water"))]);
        table(out, &format!("no_go.pool-{n}"), &[("reason", text("Pool")), ("outline", pool)]);
    }
    let x = plot.corner.x + 0.5 * PLOT_M;
    let duct = listed(&[Point2::new(x, plot.corner.y - 2.0), Point2::new(x, plot.corner.y + 2.0)]);
    let sleeve = [("line", duct), ("inside_diameter", text("50 mm"))];
    table(out, &format!("sleeves.duct-{n}"), &sleeve);
}

/// A rack beside the lane of its first plot, its amplifiers, and the lines to its plots.
fn rack(out: &mut String, number: usize, plots: &[Plot]) {
    let Some(first) = plots.first() else { return };
    let at = Point2::new(first.corner.x + 4.0, first.corner.y + 4.0);
    let keys = [
        ("name", text(format_args!("Cabinet {number}"))),
        ("position", format!("[{:.2}, {:.2}]", at.x, at.y)),
        ("mains", text("230 V")),
        ("circuit", text("16 A")),
        ("zone", text(format_args!("Z{number}"))),
    ];
    table(out, &format!("racks.R{number}"), &keys);
    for half in 0..(plots.len() + 1).div_ceil(4) {
        let amplifier = [("model", text("line-4x280")), ("rack", text(format_args!("R{number}")))];
        table(out, &format!("amplifiers.A{number}-{}", half + 1), &amplifier);
    }
    let mut subs: Vec<(String, Point2)> = Vec::new();
    for (place, plot) in plots.iter().enumerate() {
        let line = format!("V{}", plot.number);
        channel(out, (number, place), &line, "terraces", false);
        let mut row = Vec::new();
        for (i, stake) in plot.loudspeakers().into_iter().enumerate() {
            let tag = format!("L{}-{}", plot.number, i + 1);
            let on = if stake.is_sub { format!("S{number}") } else { line.clone() };
            loudspeaker(out, plot, &tag, &stake, &on);
            if stake.is_sub {
                subs.push((tag, plot.corner))
            } else {
                row.push((tag, plot.corner))
            };
        }
        runs(out, &format!("R{number}"), at, &line, &row);
    }
    if !subs.is_empty() {
        let line = format!("S{number}");
        channel(out, (number, plots.len()), &line, "lawns", true);
        runs(out, &format!("R{number}"), at, &line, &subs);
    }
}

fn loudspeaker(out: &mut String, plot: &Plot, tag: &str, stake: &Stake, line: &str) {
    let model = if stake.is_sub { "ground-sub-270" } else { "stake-165-wide" };
    let keys = [
        ("model", text(model)),
        ("position", format!("[{:.2}, {:.2}]", stake.at.x, stake.at.y)),
        // A bearing turns clockwise, the plot anticlockwise.
        ("bearing", format!("{:.1}", (360.0 - plot.turned_deg) % 360.0)),
        ("tap", text(format_args!("{} W", stake.tap_w))),
        ("line", text(line)),
    ];
    table(out, &format!("loudspeakers.{tag}"), &keys);
}

fn channel(out: &mut String, (rack, place): (usize, usize), line: &str, programme: &str, is_sub: bool) {
    let corner = if is_sub { 32 } else { 80 };
    let mut keys = vec![
        ("amplifier", text(format_args!("A{rack}-{}", place / 4 + 1))),
        ("output", format!("{}", place % 4 + 1)),
        ("programme", text(programme)),
        ("gain", text("-7 dB")),
        ("high_pass", format!("{{ kind = \"butterworth\", order = 4, corner = \"{corner} Hz\" }}")),
        ("limiter", "{ rms = \"100 V\", peak = \"141 V\" }".to_owned()),
    ];
    if is_sub {
        let low_pass = "{ kind = \"linkwitz-riley\", order = 4, corner = \"90 Hz\" }";
        keys.push(("low_pass", low_pass.to_owned()));
    }
    table(out, &format!("channels.{line}"), &keys);
    table(out, &format!("lines.{line}"), &[("channel", text(line)), ("cable", text("burial-2x4.0mm2"))]);
}

/// A chain from the rack along the lanes, under the lane into each plot, and from loudspeaker to loudspeaker.
fn runs(out: &mut String, rack: &str, at: Point2, line: &str, row: &[(String, Point2)]) {
    let _ = writeln!(out, "[lines.{line}.runs]");
    let mut joints: Vec<(String, Point2)> = Vec::new();
    let mut from = (rack.to_owned(), Point2::new(at.x, at.y - 4.0), None);
    for (i, (tag, corner)) in row.iter().enumerate() {
        let along = if from.2 == Some((corner.x, corner.y)) {
            String::new()
        } else {
            // Out on the south side of the lane, along its own lane, up or down at the plot's west side, in by the duct.
            let duct = corner.x + 0.5 * PLOT_M;
            let mut via = Vec::new();
            if from.1.y == corner.y {
                via.push(Point2::new(from.1.x, corner.y - 2.0));
            } else {
                via.push(Point2::new(from.1.x, from.1.y - 2.0));
                via.push(Point2::new(corner.x, from.1.y - 2.0));
                via.push(Point2::new(corner.x, corner.y - 2.0));
            }
            via.push(Point2::new(duct, corner.y - 2.0));
            via.push(Point2::new(duct, corner.y + 2.0));
            let number = tag.trim_start_matches('L').split('-').next().unwrap_or_default();
            if let Some((place, middle)) = halfway(from.1, &via) {
                let joint = format!("J{line}-{}", i + 1);
                let before = listed(&via[..place]);
                let _ = writeln!(
                    out,
                    "{line}-{}a = {{ from = \"{}\", to = \"{joint}\", via = {before} }}",
                    i + 1,
                    from.0
                );
                joints.push((joint.clone(), middle));
                from.0 = joint;
                via.drain(..place);
            }
            format!(", via = {}, sleeves = [\"duct-{number}\"]", listed(&via))
        };
        let _ = writeln!(out, "{line}-{} = {{ from = \"{}\", to = \"{tag}\"{along} }}", i + 1, from.0);
        from = (tag.clone(), Point2::new(corner.x + 0.5 * PLOT_M, corner.y), Some((corner.x, corner.y)));
    }
    out.push('\n');
    for (joint, at) in joints {
        table(out, &format!("joints.{joint}"), &[("position", format!("[{:.2}, {:.2}]", at.x, at.y))]);
    }
}

/// The middle of a way along the lanes that is too long for one piece, and how many of its corners come before.
fn halfway(from: Point2, via: &[Point2]) -> Option<(usize, Point2)> {
    let ways: Vec<(Point2, Point2)> =
        std::iter::once(from).chain(via.iter().copied()).zip(via.iter().copied()).collect();
    let length_m: f64 = ways.iter().map(|(a, b)| a.distance(*b)).sum();
    if length_m <= IN_ONE_PIECE_M {
        return None;
    }
    let mut left_m = 0.5 * length_m;
    for (place, (a, b)) in ways.into_iter().enumerate() {
        let here_m = a.distance(b);
        if left_m <= here_m {
            return Some((place, a.lerp(b, left_m / here_m)));
        }
        left_m -= here_m;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    #[test]
    fn estates_are_jobs_that_can_be_read_and_heard() {
        for (loudspeakers, seed) in [(7, 5), (30, 1), (100, 2)] {
            let text = estate(loudspeakers, seed);
            let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap();
            let document = job.document();
            assert_eq!(document.loudspeakers.len(), loudspeakers);
            assert_eq!(document.neighbours.len(), 4);
            assert_eq!(document.buildings.len(), loudspeakers.div_ceil(10));
            assert_eq!(document.zones.len(), document.racks.len());
            assert!(document.areas.keys().all(|id| document.owner_of_area(id).phase.is_some()));
            assert!(document.lines.keys().all(|id| document.owner_of_line(id).zone.is_some()));
            // Every run fits a spool.
            assert!(loamline_adapt::laid_runs(&job).iter().all(|run| run.length.order_m < 250.0));
            let study = loamline_study::Study::new(job);
            let heard = study.sound();
            let sound = (*heard).as_ref().unwrap();
            assert_eq!((sound.sources.len(), sound.silent.len()), (loudspeakers, 0));
        }
    }

    #[test]
    fn another_seed_is_another_estate() {
        assert_ne!(estate(30, 1), estate(30, 2));
    }
}
