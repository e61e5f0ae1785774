//! Jobs made from others: templates, and jobs that start from one. What belongs to one client, or was measured, stays
//! behind; what is drawn and chosen comes along.

use super::Jobs;
use crate::error::ApiError;
use crate::store::AttachmentRow;
use loamline_model::{Edit, JobFile, Operation};
use loamline_terms::pointer;
use serde_json::Value;

/// What belongs to one client or one day, and to no template.
const LEFT_BEHIND: [&str; 5] = ["/client", "/visits", "/job/status", "/job/reference", "/job/date"];

impl Jobs {
    /// Makes a job, or a template, of another: with its drawing, its equipment and the plan underneath; its id.
    ///
    /// # Errors
    /// When there is no such job, or the store cannot be read or written.
    pub fn made_from(&self, id: &str, name: &str, template: bool) -> Result<String, ApiError> {
        let job = self.open(id)?;
        let mut file = JobFile::clone(&job.now().file);
        let edit = without_client(file.raw(), name);
        file.apply(&edit)?;
        let underlay = file.job().document().site.underlay.as_ref().map(|u| u.image.clone());
        let attachments: Vec<(AttachmentRow, Vec<u8>)> = match underlay {
            Some(image) => self.store.attachment(id, &image)?.into_iter().collect(),
            None => Vec::new(),
        };
        self.keep_as(&file, file.text(), &job.own_catalogue()?, &attachments, template)
    }
}

/// The edit that names a document anew and takes out what it leaves behind.
fn without_client(document: &Value, name: &str) -> Edit {
    let is_there = |path: &str| document.pointer(path).is_some();
    let mut gone: Vec<String> = LEFT_BEHIND.iter().filter(|p| is_there(p)).map(|p| (*p).to_owned()).collect();
    let each = |table: &str, key: &str| -> Vec<String> {
        let ids = document.get(table).and_then(Value::as_object).into_iter().flat_map(|t| t.keys());
        ids.map(|id| pointer::child(&pointer::child(&format!("/{table}"), id), key)).collect()
    };
    for (table, key) in [("amplifiers", "commissioned"), ("amplifiers", "serial"), ("loudspeakers", "serial")]
    {
        gone.extend(each(table, key).into_iter().filter(|path| is_there(path)));
    }
    let named = Operation::Replace { path: "/job/name".into(), value: name.into() };
    Edit::new(gone.into_iter().map(|path| Operation::Remove { path }).chain([named]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::SqliteStore;
    use std::sync::Arc;

    const TEXT: &str = "format = 1\n\n[job]\nname = \"The mill\" # as on the gate\nstatus = \"sold\"\nreference = \"7\"\n\n\
        [client]\nname = \"The owners\"\n\n[site.underlay]\nimage = \"plan.png\"\nmetres_per_pixel = 0.1\n\n\
        [racks.R1]\nposition = [1, 2]\n\n\
        [amplifiers.A1]\nmodel = \"MODEL\"\nrack = \"R1\"\nserial = \"123\"\n\n[visits.V1]\ndate = \"2026-05-04\"\n\
        [visits.V1.photos.p1]\nfile = \"gate.png\"\n";

    fn kept(name: &str) -> (AttachmentRow, Vec<u8>) {
        let bytes = b"\x89PNG\r\n\x1a\n".to_vec();
        let row = AttachmentRow {
            name: name.into(),
            sha256: crate::random::sha256(&bytes),
            media_type: "image/png".into(),
            size: 8,
        };
        (row, bytes)
    }

    #[test]
    fn a_template_keeps_the_drawing_and_nothing_of_the_client_and_jobs_start_from_it() {
        let model = loamline_model::shipped_catalogue().unwrap().amplifiers.keys().next().unwrap().clone();
        let jobs = Jobs::new(Arc::new(SqliteStore::in_memory().unwrap()));
        let text = TEXT.replace("MODEL", &model);
        let id = jobs.create(&text, &[], &[kept("plan.png"), kept("gate.png")]).unwrap();
        let template = jobs.made_from(&id, "Courtyards", true).unwrap();
        let started = jobs.made_from(&template, "A courtyard", false).unwrap();
        let listed = jobs.list().unwrap();
        let row = |id: &str| listed.iter().find(|r| r.id == id).unwrap();
        assert_eq!((row(&id).status.as_str(), row(&id).client.as_str()), ("sold", "The owners"));
        assert!(row(&template).template && !row(&started).template && !row(&id).template);
        for (id, name) in [(&template, "Courtyards"), (&started, "A courtyard")] {
            let now = jobs.open(id).unwrap().now();
            let document = now.file.job().document();
            assert_eq!(document.about.name, name);
            assert!(document.client.is_unknown() && document.visits.is_empty());
            assert!(document.about.status.is_none() && document.about.reference.is_empty());
            assert_eq!((document.racks.len(), document.amplifiers["A1"].serial.as_str()), (1, ""));
            assert!(now.file.text().contains("# as on the gate"));
            let files = jobs.store().attachments(id).unwrap();
            assert_eq!(files.iter().map(|f| f.name.as_str()).collect::<Vec<_>>(), ["plan.png"]);
        }
        // The job itself is as it was.
        assert_eq!(jobs.open(&id).unwrap().now().file.text(), text);
    }
}
