//! Stubs: where their cable comes from, which pair of it a line takes, and what is refused.
#![expect(clippy::panic, reason = "a fixture that does not read must show its report")]

use loamline_model::{Job, Report, SourceFile, read_job};

/// Two lines at a stub of two pairs, before anything is said about pairs.
const TWO: &str = r#"
format = 1
[job]
name = "Two lines at a stub"
[racks.R1]
position = [0, 0]
[stubs.T1]
position = [9, 0]
cable = "burial-4x16awg"
length = "30 m"
[lines.A]
start = "T1"
cable = "burial-2x14awg"
[lines.B]
start = "T1"
cable = "burial-2x14awg"
"#;

fn read(text: &str) -> Result<Job, Report> {
    read_job(&SourceFile::new("job.toml".to_owned(), text.to_owned()), &[])
}

fn messages(text: &str) -> Vec<String> {
    read(text).map_or_else(
        |r| r.problems.iter().map(|p| format!("{}: {}", p.key, p.message)).collect(),
        |_| Vec::new(),
    )
}

fn pairs(text: &str) -> [Vec<u32>; 2] {
    let job = read(text).unwrap_or_else(|r| panic!("{r}"));
    ["A", "B"].map(|line| job.existing_cable(line).map(|c| c.pairs).unwrap_or_default())
}

#[test]
fn lines_take_pairs_in_their_order_unless_they_name_them() {
    assert_eq!(pairs(TWO), [vec![1], vec![2]]);
    let named = TWO.replacen("[lines.B]", "stub_pairs = [2]\n[lines.B]", 1);
    assert_eq!(pairs(&named), [vec![2], vec![1]]);
    // The pair of its own cable where that one is free.
    let own = TWO.replace("burial-2x14awg", "burial-4x14awg").replacen("[lines.B]", "pair = 2\n[lines.B]", 1);
    assert_eq!(pairs(&own), [vec![2], vec![1]]);
    let both = TWO.replacen("[lines.B]", "stub_pairs = [1, 2]\n[lines.B]", 1);
    assert_eq!(pairs(&both), [vec![1, 2], vec![]]);
    let one_free = TWO.replacen("length =", "free_pairs = [2]\nlength =", 1);
    assert_eq!(pairs(&one_free), [vec![2], vec![]]);
    let two_conductors = TWO.replacen("length =", "free_conductors = 2\nlength =", 1);
    assert_eq!(pairs(&two_conductors), [vec![1], vec![]]);
}

#[test]
fn the_cable_comes_from_the_only_rack_and_its_length_may_be_unknown() {
    let job = read(&TWO.replacen("length = \"30 m\"\n", "", 1)).unwrap_or_else(|r| panic!("{r}"));
    let cable = job.existing_cable("A").unwrap_or_else(|| panic!("line A starts at a stub-out"));
    assert_eq!((cable.rack_id, cable.stub.length_m, cable.run_id.as_str()), ("R1", None, "T1"));
    assert_eq!(job.line("A").and_then(|l| l.rack).map(|(id, _)| id), Some("R1"));
    let two_racks = TWO.replacen("[stubs.T1]", "[racks.R2]\nposition = [1, 1]\n[stubs.T1]", 1);
    assert_eq!(
        messages(&two_racks),
        ["stubs.T1: nothing says from which rack the cable of stub-out T1 comes"]
    );
    assert_eq!(messages(&two_racks.replacen("[stubs.T1]", "[stubs.T1]\nrack = \"R2\"", 1)), [""; 0]);
}

#[test]
fn a_pair_carries_one_line_and_is_in_the_cable() {
    let named = |a: &str, b: &str| {
        TWO.replacen("[lines.B]", &format!("stub_pairs = {a}\n[lines.B]"), 1) + &format!("stub_pairs = {b}\n")
    };
    assert_eq!(
        messages(&named("[2]", "[2]")),
        ["lines.B.stub_pairs item 1: lines A and B both take pair 2 of stub-out T1; a pair carries one line"]
    );
    assert_eq!(
        messages(&named("[1]", "[3]")),
        [
            "lines.B.stub_pairs item 1: line B takes pair 3 of stub-out T1, and its cable \"burial-4x16awg\" has 4 conductors, so 2 pairs in all"
        ]
    );
    let taken = named("[1]", "[2]").replacen("length =", "free_pairs = [1]\nlength =", 1);
    assert_eq!(
        messages(&taken),
        ["lines.B.stub_pairs item 1: line B takes pair 2 of stub-out T1, which is in use for something else"]
    );
    let at_rack = named("[1]", "[2]").replacen("start = \"T1\"", "start = \"R1\"", 1);
    assert_eq!(
        messages(&at_rack),
        [
            "lines.A.stub_pairs: line A starts at no stub-out, so there is no existing cable whose pairs it could take"
        ]
    );
}
