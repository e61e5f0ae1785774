//! A small picture of a job's plan, for the list of jobs: outlines, what stands, and who hears it. A few kilobytes where the job
//! itself may have megabytes.

use super::extract::In;
use crate::app::App;
use crate::error::{ApiError, ErrorBody};
use axum::extract::State;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use loamline_geometry::Point2;
use loamline_model::JobDocument;
use std::fmt::Write as _;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(small_plan))
}

/// Least width of what is shown, metres: a single dot is no plan.
const LEAST_M: f64 = 4.0;
/// Room around it, as a share of its larger side.
const MARGIN: f64 = 0.05;
/// Corners nearer to the one before than this share of the larger side are left out: nobody sees them in a picture of some
/// hundred points, and a traced bed has thousands.
const FINE: f64 = 1.0 / 300.0;
/// Radius of a dot, as a share of the larger side.
const DOT: f64 = 1.0 / 60.0;

/// A small picture of the plan: SVG, north up. What is drawn has a class each, for whoever shows it in colours of his own:
/// `property`, `surface`, `building`, `area`, `wall`, `rack`, `loudspeaker`. Of a job in which nothing is drawn it is empty.
#[utoipa::path(get, path = "/api/jobs/{id}/small-plan", tag = "Jobs",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, description = "A drawing", content_type = "image/svg+xml", body = String),
        (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn small_plan(State(app): State<App>, In(id): In<String>) -> Result<impl IntoResponse, ApiError> {
    let svg = app.job(id, |job| Ok(drawn(job.now().file.job().document()))).await?;
    Ok(([(CONTENT_TYPE, "image/svg+xml")], svg))
}

/// What is drawn, from the ground up; places where something stands have one corner.
fn shapes(d: &JobDocument) -> Vec<(&'static str, &[Point2])> {
    let mut all: Vec<(&str, &[Point2])> = Vec::new();
    all.extend(d.site.outline.iter().map(|o| ("property", o.corners())));
    all.extend(d.surfaces.values().map(|s| ("surface", s.outline.corners())));
    all.extend(d.buildings.values().map(|b| ("building", b.outline.corners())));
    all.extend(d.areas.values().map(|a| ("area", a.outline.corners())));
    all.extend(d.walls.values().map(|w| ("wall", w.line.as_slice())));
    all.extend(d.racks.values().map(|r| ("rack", std::slice::from_ref(&r.position))));
    all.extend(d.loudspeakers.values().map(|l| ("loudspeaker", std::slice::from_ref(&l.position))));
    all
}

fn drawn(document: &JobDocument) -> String {
    let shapes = shapes(document);
    let mut svg = String::from("<svg xmlns=\"http://www.w3.org/2000/svg\"");
    let mut points = shapes.iter().flat_map(|s| s.1);
    let Some(first) = points.next() else { return svg + "/>" };
    let (mut low, mut high) = (*first, *first);
    for p in points {
        (low.x, low.y) = (low.x.min(p.x), low.y.min(p.y));
        (high.x, high.y) = (high.x.max(p.x), high.y.max(p.y));
    }
    let sides = ((high.x - low.x).max(LEAST_M), (high.y - low.y).max(LEAST_M));
    let size = sides.0.max(sides.1);
    let (width, height) = (sides.0 + 2.0 * MARGIN * size, sides.1 + 2.0 * MARGIN * size);
    let (left, top) = ((low.x + high.x - width) / 2.0, -(low.y + high.y + height) / 2.0);
    // Writing into a text cannot fail.
    let _written = write!(
        svg,
        " viewBox=\"{left:.3} {top:.3} {width:.3} {height:.3}\" fill=\"none\" stroke=\"#5c5044\">"
    );
    for (class, corners) in shapes {
        let way = match corners {
            [dot] => dot_at(*dot, DOT * size),
            _ => way(corners, class != "wall", FINE * size),
        };
        let _written = write!(svg, "<path class=\"{class}\" d=\"{way}\"/>");
    }
    svg + "</svg>"
}

/// Two half circles: a dot as a path.
fn dot_at(p: Point2, r: f64) -> String {
    format!(
        "M{:.3} {:.3}a{r:.3} {r:.3} 0 1 0 {d:.3} 0a{r:.3} {r:.3} 0 1 0 -{d:.3} 0Z",
        p.x - r,
        -p.y,
        d = 2.0 * r
    )
}

/// A way without what is too fine to be seen; its ends stay.
fn way(corners: &[Point2], closed: bool, fine_m: f64) -> String {
    let mut way = String::new();
    let mut before: Option<Point2> = None;
    for (i, p) in corners.iter().enumerate() {
        let near = before.is_some_and(|b| (b.x - p.x).hypot(b.y - p.y) < fine_m);
        if near && i + 1 < corners.len() {
            continue;
        }
        let _written = write!(way, "{}{:.3} {:.3}", if before.is_none() { 'M' } else { 'L' }, p.x, -p.y);
        before = Some(*p);
    }
    if closed {
        way.push('Z');
    }
    way
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    fn svg(text: &str) -> String {
        let file = SourceFile::new("job.toml", format!("format = 1\n[job]\nname = \"x\"\n{text}"));
        drawn(read_job(&file, &[]).unwrap_or_else(|r| panic!("{r}")).document())
    }

    fn view(svg: &str) -> Vec<f64> {
        let part = svg.split("viewBox=\"").nth(1).unwrap().split('"').next().unwrap();
        part.split(' ').map(|n| n.parse().unwrap()).collect()
    }

    #[test]
    fn nothing_is_drawn_of_a_job_with_nothing_in_it() {
        assert_eq!(svg(""), "<svg xmlns=\"http://www.w3.org/2000/svg\"/>");
    }

    #[test]
    fn all_of_the_plan_is_shown_with_north_up_and_room_around() {
        let text = "[site]\noutline = [[2, 2], [26, 2], [26, 18], [2, 18]]\n[racks.R1]\nposition = [3, 9]\n";
        let svg = svg(text);
        // 24 m by 16 m, and a twentieth of the larger side all around; north, at 18 m, is the upper edge.
        for (found, wanted) in view(&svg).iter().zip([2.0 - 1.2, -18.0 - 1.2, 24.0 + 2.4, 16.0 + 2.4]) {
            assert!((found - wanted).abs() < 1e-3, "{svg}");
        }
        assert!(svg.contains(
            "<path class=\"property\" d=\"M2.000 -2.000L26.000 -2.000L26.000 -18.000L2.000 -18.000Z\"/>"
        ));
        assert_eq!(svg.matches("class=\"rack\"").count(), 1);
    }

    #[test]
    fn a_lone_rack_has_room_around_and_lies_in_the_middle() {
        let svg = svg("[racks.R1]\nposition = [10, 20]\n");
        let at = view(&svg);
        assert!(at[2] >= LEAST_M && (at[0] + at[2] / 2.0 - 10.0).abs() < 1e-3, "{svg}");
        assert!((at[1] + at[3] / 2.0 + 20.0).abs() < 1e-3, "{svg}");
    }

    #[test]
    fn what_nobody_sees_is_left_out() {
        let edge: Vec<String> = (0..1500)
            .map(|i| f64::from(i) / 1500.0 * std::f64::consts::TAU)
            .map(|a| format!("[{:.4}, {:.4}]", 50.0 * a.cos(), 50.0 * a.sin()))
            .collect();
        let svg = svg(&format!("[surfaces.s]\nkind = \"bed\"\noutline = [{}]\n", edge.join(", ")));
        // 100 m across: corners lie 0.21 m apart, and those nearer than a three-hundredth, 0.33 m, go.
        let corners = svg.matches('L').count();
        assert!((500..1000).contains(&corners), "{corners}");
    }
}
