//! Runs in pieces: where joints are made, and where none can be.

use super::{InPieces, in_pieces};
use crate::cable_orders::cable_orders;
use loamline_adapt::{LaidCable, laid_cables, laid_runs};
use loamline_geometry::Point2;
use loamline_model::document::JointKind;
use loamline_model::{Job, JobFile, SourceFile, shipped_catalogue};

/// A rack and a loudspeaker so far east of it on bare soil; burial cable of the catalogue comes on 100 m and 250 m.
fn text(far_m: f64, run: &str, more: &str) -> String {
    format!(
        "format = 1\n[job]\nname = \"Long run\"\n[site]\nground = \"soil\"\n\
         outline = [[-20, -20], [2000, -20], [2000, 20], [-20, 20]]\n[racks.R1]\nposition = [0, 0]\n\
         [loudspeakers.L1]\nmodel = \"stake-110-wide\"\nposition = [{far_m}, 0]\ntap = \"10 W\"\nline = \"A\"\n\
         [lines.A]\nstart = \"R1\"\ncable = \"burial-2x4.0mm2\"\n\
         runs = {{ A1 = {{ from = \"R1\", to = \"L1\"{run} }} }}\n{more}"
    )
}

fn file(text: String) -> JobFile {
    JobFile::from_text(&SourceFile::new("job.toml", text), shipped_catalogue().unwrap()).unwrap()
}

/// What is found, and the cables of the job with its edit made.
fn divided(text: String) -> (InPieces, Job, Vec<LaidCable>) {
    let file = file(text);
    let found = in_pieces(file.job(), &laid_runs(file.job()));
    let job = file.preview(&found.edit).unwrap();
    let cables = laid_cables(&job, &laid_runs(&job));
    (found, job, cables)
}

fn paving(from: f64, to: f64) -> String {
    format!(
        "[surfaces.drive]\nkind = \"paving\"\noutline = [[{from}, -10], [{to}, -10], [{to}, 10], [{from}, 10]]\n"
    )
}

#[test]
fn a_run_that_no_spool_holds_is_cut_in_the_middle() {
    let (found, job, cables) = divided(text(400.0, "", ""));
    assert!(found.whole.is_empty());
    let tags: Vec<_> = cables.iter().map(|c| (c.tag.as_str(), c.from.as_str(), c.to.as_str())).collect();
    assert_eq!(tags, [("A1", "R1", "J1"), ("A2", "J1", "L1")]);
    let joint = &job.document().joints["J1"];
    assert_eq!(joint.kind, JointKind::Buried);
    assert!(joint.position.distance(Point2::new(200.0, 0.0)) < 1.0, "{:?}", joint.position);
    assert!((cables.iter().map(|c| c.path_m).sum::<f64>() - 400.0).abs() < 0.02);
    // Second way: spools are found for all of it, and once that is so nothing is left to do.
    assert!(cable_orders(&job, &cables).is_ok());
    assert_eq!(in_pieces(&job, &laid_runs(&job)), InPieces::default());
}

#[test]
fn as_few_joints_are_made_as_spools_allow() {
    for (far_m, joints) in [(200.0, 0), (400.0, 1), (600.0, 2), (860.0, 3)] {
        let (_, job, cables) = divided(text(far_m, "", ""));
        assert_eq!(job.document().joints.len(), joints, "{far_m}");
        assert!(cable_orders(&job, &cables).is_ok(), "{far_m}");
    }
}

#[test]
fn no_joint_is_made_under_paving_or_beside_a_service() {
    let drain = "[services.drain]\nkind = \"drain\"\nline = [[232, -10], [232, 10]]\n";
    let (_, job, cables) = divided(text(400.0, "", &format!("{}{drain}", paving(150.0, 230.0))));
    let at = job.document().joints["J1"].position;
    // By hand: 250 m less the allowances reach a little less than 240 m, and 400 m less that lie behind the joint.
    assert!((at.x > 230.29 || at.x < 149.71) && (at.x - 232.0).abs() > 0.59, "{at:?}");
    assert!(cable_orders(&job, &cables).is_ok());
    let (found, job, _) = divided(text(400.0, "", &paving(10.0, 390.0)));
    assert_eq!(found.whole.into_iter().collect::<Vec<_>>(), ["A"]);
    assert!(found.edit.operations.is_empty() && job.document().joints.is_empty());
}

#[test]
fn a_joint_goes_where_there_is_no_lawn_if_it_can() {
    let lawn = "[surfaces.lawn]\nkind = \"lawn\"\noutline = [[170, -10], [215, -10], [215, 10], [170, 10]]\n";
    let (_, job, _) = divided(text(400.0, "", lawn));
    let x = job.document().joints["J1"].position.x;
    assert!(!(169.71..=215.29).contains(&x), "{x}");
    let all = "[surfaces.lawn]\nkind = \"lawn\"\noutline = [[-10, -10], [410, -10], [410, 10], [-10, 10]]\n";
    assert_eq!(divided(text(400.0, "", all)).1.document().joints.len(), 1);
}

#[test]
fn what_a_person_fixed_or_measured_stays_whole_and_is_told_with_its_ends() {
    for run in [", fixed = true", ", length = 420"] {
        let (found, job, cables) = divided(text(400.0, run, ""));
        assert!(found.edit.operations.is_empty() && found.whole.contains("A"), "{run}");
        let why = cable_orders(&job, &cables).unwrap_err().to_string();
        assert!(why.contains("run A1 from R1 to L1 takes ") && why.contains("put a joint in it"), "{why}");
    }
}

/// The last of two runs goes on through a sleeve near its end: the piece in it is the one that names it.
#[test]
fn a_sleeve_is_of_the_piece_that_goes_through_it() {
    let sleeve = "[sleeves.S1]\nline = [[300, 0], [306, 0]]\ninside_diameter = 0.1\n";
    let (_, job, _) = divided(text(400.0, ", sleeves = [\"S1\"]", sleeve));
    let runs = &job.document().lines["A"].runs;
    assert_eq!((runs["A1"].sleeves.len(), runs["A2"].sleeves.len()), (0, 1));
}

#[test]
fn two_lines_in_one_cable_are_joined_at_one_place() {
    let more = "[joints.J1]\nposition = [500, 0]\n\
                [loudspeakers.L2]\nmodel = \"stake-110-wide\"\nposition = [500, 5]\ntap = \"10 W\"\nline = \"B\"\n\
                [lines.B]\nstart = \"R1\"\ncable = \"burial-4x14awg\"\npair = 2\n\
                runs = { B1 = { from = \"R1\", to = \"J1\" }, B2 = { from = \"J1\", to = \"L2\" } }\n";
    let one = text(505.0, "", more).replace("burial-2x4.0mm2", "burial-4x14awg").replace(
        "A1 = { from = \"R1\", to = \"L1\" }",
        "A1 = { from = \"R1\", to = \"J1\" }, A2 = { from = \"J1\", to = \"L1\" }",
    );
    let (_, job, cables) = divided(one);
    let tags: Vec<&str> = cables.iter().map(|c| c.tag.as_str()).collect();
    assert_eq!(tags, ["A1+B1", "A2+B2", "A3", "B3"]);
    assert_eq!(job.document().joints.len(), 2);
}
