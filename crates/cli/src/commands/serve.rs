//! `loamline serve [--data DIR | --database URL] [--port PORT] [--share [--address URL [--certificate FILE --certificate-key FILE]]
//! [--provider FILE]] [--no-work] [--metrics-listen ADDRESS:PORT] [--log LEVEL]`

use crate::args::{LogLevel, ServeArguments};
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Table};
use loamline_server::{PostgresStore, Ready, ServeOptions, Shared, SignInOptions, Store, serve, store_in};
use serde_json::json;
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

pub fn run(arguments: &ServeArguments, format: Format) -> Result<Verdict, Failure> {
    let data = data_folder(arguments.data.as_deref())?;
    let database = database(arguments.database.as_deref());
    if arguments.devices {
        return list_devices(&*store(&data, database.as_deref())?, format);
    }
    if let Some(id) = &arguments.forget {
        return forget(&*store(&data, database.as_deref())?, id, format);
    }
    log_to_standard_error(arguments.log);
    let options = ServeOptions {
        data,
        database,
        port: arguments.port,
        share: arguments.share,
        works: !arguments.no_work,
        operations: arguments.metrics_listen,
        sign_in: SignInOptions {
            address: arguments.address.clone(),
            certificate: arguments.certificate.clone().zip(arguments.certificate_key.clone()),
            provider: arguments.provider.clone(),
        },
    };
    serve(&options, |ready| {
        for told in &ready.put_right {
            output::log(told);
        }
        // The server runs whether or not somebody reads this.
        let _ = if format.json {
            let shared = ready.shared.as_ref().map(|s| {
                json!({ "addresses": s.addresses, "named": s.named, "start_at": s.start_at, "code": s.code,
                    "fingerprint": s.fingerprint })
            });
            output::json(&json!({ "address": ready.address, "data": options.data, "kept_in": ready.kept_in,
                "operations": ready.operations, "shared": shared }))
        } else {
            output::data(&text(ready))
        };
    })
    .map_err(Failure::input)?;
    Ok(Verdict::Fine)
}

/// The folder that was named, or the usual one.
///
/// # Errors
/// When this system has no usual one.
pub fn data_folder(named: Option<&Path>) -> Result<PathBuf, Failure> {
    named.map(Path::to_owned).or_else(usual_folder).ok_or_else(|| {
        Failure::input(
            "there is no usual place for application data here; say where to keep jobs with --data",
        )
    })
}

/// The database that was named, by an argument or by the environment.
pub fn database(named: Option<&str>) -> Option<String> {
    let set = || std::env::var("LOAMLINE_DATABASE").ok().filter(|address| !address.is_empty());
    named.map(str::to_owned).or_else(set)
}

/// The store that would be served.
fn store(data: &Path, database: Option<&str>) -> Result<Box<dyn Store>, Failure> {
    Ok(match database {
        Some(address) => Box::new(PostgresStore::open(address).map_err(Failure::input)?),
        None => Box::new(store_in(data).map_err(Failure::input)?),
    })
}

/// One line for each thing told, with its time, on standard error.
pub fn log_to_standard_error(level: LogLevel) {
    use tracing_subscriber::Layer as _;
    use tracing_subscriber::filter::{LevelFilter, Targets};
    use tracing_subscriber::layer::SubscriberExt as _;
    use tracing_subscriber::util::SubscriberInitExt as _;
    let most = match level {
        LogLevel::Error => LevelFilter::ERROR,
        LogLevel::Warn => LevelFilter::WARN,
        LogLevel::Info => LevelFilter::INFO,
        LogLevel::Debug => LevelFilter::DEBUG,
    };
    // The queue's library tells of each piece of work with its id, which is nobody's business.
    let told = Targets::new().with_default(most).with_target("graphile_worker", most.min(LevelFilter::WARN));
    let lines =
        tracing_subscriber::fmt::layer().with_writer(std::io::stderr).with_ansi(false).with_target(false);
    // Only the first of a process is taken; there is one.
    let _taken = tracing_subscriber::registry().with(lines.with_filter(told)).try_init();
}

fn text(ready: &Ready) -> String {
    let app = if ready.app_built {
        ""
    } else {
        "The web app is not in this program; ./run serve builds it. The interface works.\n"
    };
    let shared = ready.shared.as_ref().map(phones).unwrap_or_default();
    let operations = match &ready.operations {
        Some(at) => format!("How it is doing: {at}health and {at}metrics\n"),
        None => String::new(),
    };
    format!(
        "loamline is at {}\nJobs are kept in {}. Stop with Ctrl-C.\n{operations}{app}{shared}",
        ready.address, ready.kept_in
    )
}

fn phones(s: &Shared) -> String {
    // Its own loopback address comes last: then there is no other.
    if s.addresses.first().is_none_or(|a| a.starts_with("https://127.")) {
        return "\nThis computer is on no private network: no phone can reach it. Join one, then start again.\n"
            .into();
    }
    let named = match &s.named {
        Some(address) => format!("\nSign in, or pair by a code, at {address}\n"),
        None => String::new(),
    };
    let square = if std::io::stdout().is_terminal() { square(&s.square) } else { String::new() };
    format!(
        "{named}\nPhones on the same network: scan the QR code, or open\n  {}\n{square}\n\
         Code to pair with: {} (one phone, within ten minutes; the app's first page shows the next, and codes for a crew)\n\
         Fingerprint of the certificate (SHA-256), to compare on the phone:\n  {}\n  {}\n\
         Paired devices: loamline serve --devices\n",
        s.start_at,
        s.code,
        s.fingerprint.get(..48).unwrap_or_default(),
        s.fingerprint.get(48..).unwrap_or_default(),
    )
}

/// A square to scan, two rows of modules in one line of text, black on white whatever the terminal's colours.
fn square(rows: &[Vec<bool>]) -> String {
    let width = rows.first().map_or(0, Vec::len);
    let quiet = vec![false; width];
    // Scanners want four modules of white around.
    let margin = || std::iter::repeat_n(quiet.as_slice(), 4);
    let framed: Vec<&[bool]> = margin().chain(rows.iter().map(Vec::as_slice)).chain(margin()).collect();
    let mut text = String::new();
    for pair in framed.chunks(2) {
        text.push_str("\x1b[30;107m    ");
        for x in 0..width {
            let dark = |row: Option<&&[bool]>| row.is_some_and(|r| r.get(x) == Some(&true));
            text.push(match (dark(pair.first()), dark(pair.get(1))) {
                (true, true) => '\u{2588}',
                (true, false) => '\u{2580}',
                (false, true) => '\u{2584}',
                (false, false) => ' ',
            });
        }
        text.push_str("    \x1b[0m\n");
    }
    text
}

fn list_devices(store: &dyn Store, format: Format) -> Result<Verdict, Failure> {
    let devices = store.devices().map_err(Failure::input)?;
    if format.json {
        output::json(&devices)?;
    } else if devices.is_empty() {
        output::data("No device has been let in yet.\n")?;
    } else {
        let mut table = Table::new([
            Column::left("id"),
            Column::wrapped("name"),
            Column::left("role"),
            Column::left("paired"),
            Column::left("last seen"),
        ]);
        for d in &devices {
            table.row([d.id.as_str(), &d.name, d.role.word(), &d.paired_at, &d.seen_at]);
        }
        output::data(&format!("{table}\nTurn one away with loamline serve --forget ID.\n"))?;
    }
    Ok(Verdict::Fine)
}

fn forget(store: &dyn Store, id: &str, format: Format) -> Result<Verdict, Failure> {
    if !store.forget(id).map_err(Failure::input)? {
        return Err(Failure::input(format!(
            "there is no device \"{id}\"; loamline serve --devices lists them"
        )));
    }
    // Servers on a database are told at once; one that is not asks before long.
    let _told = store.others().map(|others| others.tell(Duration::ZERO));
    if format.json {
        output::json(&json!({ "forgotten": id }))?;
    } else {
        output::data(&format!("Device {id} has to pair again.\n"))?;
    }
    Ok(Verdict::Fine)
}

/// Where applications keep their data on this system.
fn usual_folder() -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let base = if cfg!(windows) {
        set("APPDATA")?
    } else if cfg!(target_os = "macos") {
        set("HOME")?.join("Library/Application Support")
    } else {
        match set("XDG_DATA_HOME") {
            Some(data) => data,
            None => set("HOME")?.join(".local/share"),
        }
    };
    Some(base.join("loamline"))
}
