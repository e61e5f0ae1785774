//! Job folders as one zip file. The first byte says whether the rest is one, or what to make one of: a check sum keeps
//! random bytes from ever being unpacked.

use arbitrary::Unstructured;
use loamline_model::{SourceFile, read_job};
use loamline_server::{export_folder, import_folder, zip_files};

/// Names with a meaning, and some that try for one.
const NAMES: [&str; 20] = [
    "job.toml",
    "a/job.toml",
    "a/b/job.toml",
    "catalogue/own.toml",
    "a/catalogue/own.toml",
    "catalogue\\own.toml",
    "catalogue/a/b.toml",
    "attachments/plan.png",
    "a/attachments/plan.png",
    "attachments/plan.pdf",
    "attachments/../evil.png",
    "attachments/a/plan.png",
    "attachments\\plan.png",
    "../job.toml",
    "/job.toml",
    "attachments/",
    "attachments/PLAN.png",
    "notes.txt",
    "job.toml/",
    "xjob.toml",
];
const CONTENTS: [&[u8]; 8] = [
    b"format = 1\n[job]\nname = \"x\"\n",
    b"\x89PNG\r\n\x1a\nrest",
    b"\xff\xd8\xff\xe0",
    b"%PDF-1.7",
    b"",
    b"\xff\xfe",
    b"[cables.own]\n",
    crate::examples::SMALL.as_bytes(),
];

pub fn folder(bytes: &[u8]) {
    let [how, rest @ ..] = bytes else { return };
    if how % 2 == 0 {
        return taken_in(rest);
    }
    let Ok((files, turned)) = packed(&mut Unstructured::new(rest)) else { return };
    let mut zip = match zip_files(files.iter().map(|(name, content)| (name.as_str(), content.as_slice()))) {
        Ok(zip) => zip,
        // Two files of one name.
        Err(_) => return,
    };
    for (at, to) in turned {
        let length = zip.len();
        zip[at as usize % length] = to;
    }
    taken_in(&zip);
}

type Files = Vec<(String, Vec<u8>)>;

/// Some files, and bytes of the zip file to turn after it was made.
fn packed(u: &mut Unstructured<'_>) -> arbitrary::Result<(Files, Vec<(u32, u8)>)> {
    let mut files = Vec::new();
    for _ in 0..=u.arbitrary::<u8>()? % 6 {
        let name = match u.arbitrary::<u8>()? {
            n if n < 230 => NAMES[usize::from(n) % NAMES.len()].to_owned(),
            _ => u.arbitrary::<&str>()?.to_owned(),
        };
        let content = match u.arbitrary::<u8>()? {
            n if n < 200 => CONTENTS[usize::from(n) % CONTENTS.len()].to_vec(),
            // A little that becomes much.
            n if n < 210 => vec![b'#'; usize::from(u.arbitrary::<u16>()?)],
            _ => u.arbitrary::<&[u8]>()?.to_vec(),
        };
        files.push((name, content));
    }
    let mut turned = Vec::new();
    for _ in 0..u.arbitrary::<u8>()? % 4 {
        turned.push((u.arbitrary::<u32>()?, u.arbitrary::<u8>()?));
    }
    Ok((files, turned))
}

fn taken_in(bytes: &[u8]) {
    let folder = match import_folder(bytes) {
        Ok(folder) => folder,
        Err(error) => {
            assert!(error.status.is_client_error(), "{:?}", error.problem);
            return;
        }
    };
    let own: Vec<SourceFile> =
        folder.catalogue.iter().map(|(name, text)| SourceFile::new(name.clone(), text.clone())).collect();
    if let Err(report) = read_job(&SourceFile::new("job.toml", folder.text.clone()), &own) {
        drop(report.to_string());
    }
    // What was taken in goes out and comes in again as the same.
    let out = export_folder(&folder);
    let out = out.unwrap_or_else(|error| {
        assert!(
            error.status.is_success(),
            "a folder that was taken in cannot be given out: {:?}",
            error.problem
        );
        Vec::new()
    });
    let mut again = import_folder(&out).expect("what was given out is taken in");
    again.left_out = folder.left_out.clone();
    assert!(again == folder, "a folder went out and came in as another");
}
