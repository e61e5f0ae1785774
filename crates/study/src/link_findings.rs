//! Findings about the cable of links between racks: what no bill has of it, and how it gets out of a house. A link is drawn by its two
//! racks alone; no way is looked for.

use crate::finding::{Finding, Severity, Subject};
use crate::names::{called, named};
use loamline_geometry::Point2;
use loamline_model::Job;
use loamline_model::document::{Building, Link};
use loamline_terms::{Measure, say, template};

/// Deeper inside an outline than this is inside a house, metres: what stands at its face is not.
const INSIDE_M: f64 = 0.02;
/// A passage this near to an outline goes through that wall, metres.
const PASSAGE_M: f64 = 0.25;

/// Findings about links; none for a job without any.
pub(crate) fn link_findings(job: &Job) -> Vec<Finding> {
    let mut found = Vec::new();
    for (id, link) in &job.document().links {
        found.extend(unpriced(id, link));
        found.extend(shut_in(job, id, link));
    }
    found
}

fn unpriced(id: &str, link: &Link) -> Option<Finding> {
    if link.price.is_some() {
        return None;
    }
    let name = named(&link.name, template!("Link {id}"), id);
    let what = match link.length_m {
        Some(length_m) => say!(
            "{link}, {length} of cable from rack {from} to rack {to}, has no price: it is in no bill, and no plan shows its way.",
            link = name,
            length = Measure::Length(length_m),
            from = &link.from,
            to = &link.to
        ),
        None => say!(
            "{link} from rack {from} to rack {to} has no price: it is in no bill, and no plan shows its way.",
            link = name,
            from = &link.from,
            to = &link.to
        ),
    };
    let mend = say!("State what it costs as laid, and lay it in a trench that is opened anyway.");
    Some(Finding::new(Severity::Note, Subject::new("links", id), what).mend(mend))
}

/// Houses that a link leaves or enters, where no hole may be made and nothing drawn leads through the wall.
fn shut_in(job: &Job, id: &str, link: &Link) -> Vec<Finding> {
    let d = job.document();
    let places: Vec<Point2> =
        [&link.from, &link.to].into_iter().filter_map(|rack| Some(d.racks.get(rack)?.position)).collect();
    let inside = |b: &Building, at: Point2| b.outline.contains_with_margin(at, INSIDE_M);
    let leads_through = |b: &Building| {
        d.passages.values().any(|p| b.outline.distance_to_outline(p.position) <= PASSAGE_M)
            || d.sleeves.values().any(|s| {
                s.line.iter().any(|at| inside(b, *at)) && s.line.iter().any(|at| !b.outline.contains(*at))
            })
    };
    // Between two racks of one house there is no outer wall.
    let ends_in = |b: &Building| places.iter().filter(|at| inside(b, **at)).count() == 1;
    let shut = d.buildings.iter().filter(|(_, b)| !b.holes && ends_in(b) && !leads_through(b));
    let told = shut.map(|(house, b)| {
        let what = say!(
            "{link} goes through the outer wall of {house}, where no hole may be made and nothing drawn leads through.",
            link = named(&link.name, template!("Link {id}"), id),
            house = called(&b.name, house)
        );
        let mend = say!("Draw the passage or the sleeve it takes, or ask for a hole.");
        Finding::new(Severity::Warning, Subject::new("links", id), what).mend(mend)
    });
    told.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    /// A rack in the middle of a house without holes, another out in the garden, 58 m of cable between them.
    fn told(link: &str, more: &str) -> Vec<(Severity, String)> {
        let text = format!(
            "format = 1\n[job]\nname = \"Links\"\n[racks.R1]\nposition = [5, 5]\n[racks.R2]\nposition = [40, 5]\n\
             [buildings.house]\nname = \"Farmhouse\"\noutline = [[0, 0], [10, 0], [10, 10], [0, 10]]\nheight = \"5 m\"\nholes = false\n\
             [links.N1]\nfrom = \"R1\"\nto = \"R2\"\n{link}\n{more}"
        );
        let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap();
        link_findings(&job).into_iter().map(|f| (f.severity, f.sentence.to_string())).collect()
    }

    const WALL: &str = "Link N1 goes through the outer wall of Farmhouse, where no hole may be made and nothing drawn leads through.";

    #[test]
    fn a_link_without_a_price_is_in_no_bill() {
        let passage = "[passages.P1]\nposition = [10, 5]\ninside_diameter = \"40 mm\"\n";
        let unpriced = told("length = \"58 m\"", passage);
        let what = "Link N1, 58.0 m of cable from rack R1 to rack R2, has no price: it is in no bill, and no plan shows its way.";
        assert_eq!(unpriced, [(Severity::Note, what.to_owned())]);
        assert_eq!(told("price = 740", passage), []);
    }

    #[test]
    fn a_link_asks_how_it_gets_out_of_a_house_without_holes() {
        assert_eq!(told("price = 740", ""), [(Severity::Warning, WALL.to_owned())]);
        let sleeve = "[sleeves.S1]\nline = [[8, 5], [14, 5]]\ninside_diameter = \"40 mm\"\n";
        assert_eq!(told("price = 740", sleeve), []);
        let elsewhere = "[sleeves.S1]\nline = [[12, 5], [14, 5]]\ninside_diameter = \"40 mm\"\n";
        assert_eq!(told("price = 740", elsewhere).len(), 1);
    }
}
