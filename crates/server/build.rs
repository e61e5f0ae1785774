//! Takes the built web app (web/dist) into the program, each file also packed with gzip, and what its page says the app is
//! called. Without it a page that says how to build it stands in its place.

use std::error::Error;
use std::fmt::Write as _;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

const PLACEHOLDER: &str = "<!doctype html>
<html lang=\"en\"><head><meta charset=\"utf-8\"><title>loamline</title></head><body>
<h1>The web app is not in this program yet</h1>
<p>Build it with Node.js 20 or newer, then build the program again:</p>
<pre>cd web &amp;&amp; npm ci &amp;&amp; npm run build</pre>
<p>or start with <code>./run serve</code>, which does both. The interface under <code>/api</code> works without it.</p>
</body></html>
";

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed=build.rs");
    let root = PathBuf::from(std::env::var("CARGO_MANIFEST_DIR")?).join("../..");
    let out = PathBuf::from(std::env::var("OUT_DIR")?);
    let dist = root.join("web/dist");
    let built = dist.join("index.html").is_file();
    let mut files = Vec::new();
    if built {
        println!("cargo::rerun-if-changed={}", dist.display());
        gather(&dist, &mut files)?;
    } else {
        // Watch what is there: a path that is not there would run this again on every build.
        if root.join("web").is_dir() {
            println!("cargo::rerun-if-changed={}", root.join("web").display());
        }
        let page = out.join("index.html");
        fs::write(&page, PLACEHOLDER)?;
        files.push(("index.html".to_owned(), page));
    }
    files.sort();
    let called = if built { version(&fs::read_to_string(dist.join("index.html"))?) } else { None };
    let mut table = format!("/// Whether the app itself is inside.\npub const BUILT: bool = {built};\n");
    writeln!(table, "/// What the app calls itself.\npub const VERSION: Option<&str> = {called:?};")?;
    table.push_str("/// Every file of the app.\npub static FILES: &[File] = &[\n");
    for (i, (name, path)) in files.iter().enumerate() {
        let bytes = fs::read(path)?;
        let packed = gzip(&bytes)?;
        let mut gzipped = "None".to_owned();
        // Pictures and fonts are packed already.
        if packed.len() < bytes.len() * 9 / 10 {
            let to = out.join(format!("{i}.gz"));
            fs::write(&to, packed)?;
            gzipped = format!("Some(include_bytes!({:?}))", to.display().to_string());
        }
        let path = path.canonicalize()?.display().to_string();
        writeln!(
            table,
            "    File {{ path: {:?}, media_type: {:?}, plain: include_bytes!({path:?}), gzip: {gzipped} }},",
            format!("/{name}"),
            media_type(name),
        )?;
    }
    table.push_str("];\n");
    fs::write(out.join("files.rs"), table)?;
    Ok(())
}

/// What the app calls itself, from its page (web/offline.ts puts it there).
fn version(page: &str) -> Option<String> {
    let (_, rest) = page.split_once("<meta name=\"loamline-app\" content=\"")?;
    let (version, _) = rest.split_once('"')?;
    // It becomes a header.
    let plain = !version.is_empty() && version.bytes().all(|b| b.is_ascii_alphanumeric());
    plain.then(|| version.to_owned())
}

fn gather(folder: &Path, files: &mut Vec<(String, PathBuf)>) -> Result<(), Box<dyn Error>> {
    let mut folders = vec![(String::new(), folder.to_owned())];
    while let Some((prefix, folder)) = folders.pop() {
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
            if entry.file_type()?.is_dir() {
                folders.push((format!("{name}/"), entry.path()));
            } else {
                files.push((name, entry.path()));
            }
        }
    }
    Ok(())
}

fn gzip(bytes: &[u8]) -> Result<Vec<u8>, Box<dyn Error>> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    packer.write_all(bytes)?;
    Ok(packer.finish()?)
}

fn media_type(name: &str) -> &'static str {
    match name.rsplit('.').next().unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "js" | "mjs" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "json" | "map" => "application/json",
        "webmanifest" => "application/manifest+json",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "ico" => "image/x-icon",
        "woff2" => "font/woff2",
        "wasm" => "application/wasm",
        "txt" => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}
