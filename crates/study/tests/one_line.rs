//! One line worked out alone is that line worked out with all others.

use loamline_faults::Tolerances;
use loamline_model::load_job;
use loamline_study::{METER_FREQUENCIES_HZ, Study, expect, expect_line};
use std::path::Path;

#[test]
fn a_line_alone_reads_as_among_all() {
    for name in ["guesthouse-garden", "walled-courtyard", "quayside-hotel"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
        let study = Study::new(load_job(&folder).unwrap());
        let (job, tolerances) = (study.job(), Tolerances::default());
        let all = expect(job, &study.runs(), &METER_FREQUENCIES_HZ, &tolerances).unwrap();
        assert!(!all.is_empty());
        for (id, line) in &all {
            let alone = expect_line(job, id, &METER_FREQUENCIES_HZ, &tolerances).unwrap();
            assert_eq!(alone.len(), 1);
            assert_eq!(format!("{:?}", alone[id]), format!("{line:?}"), "{name} {id}");
        }
        let told = expect_line(job, "nowhere", &METER_FREQUENCIES_HZ, &tolerances).unwrap_err().to_string();
        assert!(told.contains("nowhere"), "{told}");
    }
}
