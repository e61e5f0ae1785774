//! A job as a whole: handed from one store to another, and summed up so that what arrived can be held against what was sent.

use super::log_row::written;
use super::{
    AttachmentRow, ClientLink, DeletedJob, Device, Doing, Entry, Identity, JobRow, Passkey, Person, Store,
    StoreError, StoredJob, Token,
};
use ring::digest::{Context, SHA256};

/// What a job is, but for its log and the contents of its files.
pub struct Head {
    /// Its texts.
    pub stored: StoredJob,
    /// The text it began with.
    pub made: Option<String>,
    /// Its files.
    pub files: Vec<AttachmentRow>,
    /// Its links for clients, each with the hash of its token.
    pub links: Vec<(ClientLink, String)>,
    /// That it was deleted; none where it was not.
    pub deleted: Option<DeletedJob>,
}

impl Head {
    /// The head of a job that is whole.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] where it is not, [`StoreError::Behind`] where it is not any more what the list said; when the
    /// store cannot be read.
    pub fn of(from: &dyn Store, listed: &JobRow) -> Result<Self, StoreError> {
        let id = &listed.id;
        let stored = from.kept(id)?.ok_or(StoreError::NoJob)?;
        if stored.revision != listed.revision {
            return Err(StoreError::Behind);
        }
        if !stored.as_written || !stored.altered.is_empty() || stored.revision < stored.logged {
            return Err(StoreError::Damaged("the job is not what was written".into()));
        }
        Ok(Self {
            stored,
            made: from.made(id)?,
            files: from.attachments(id)?,
            links: from.kept_links(id)?,
            deleted: from.deleted()?.into_iter().find(|d| d.id == *id),
        })
    }
}

/// The texts of a job's row, as they are written.
#[derive(Clone, Copy)]
pub struct JobTexts<'a> {
    /// Its text.
    pub text: &'a str,
    /// Its revision.
    pub revision: u64,
    /// The text it began with.
    pub made: Option<&'a str>,
}

impl<'a> JobTexts<'a> {
    /// Those of a new job.
    pub fn new(text: &'a str) -> Self {
        Self { text, revision: 0, made: Some(text) }
    }

    /// Those of a job of another store.
    pub fn of(head: &'a Head) -> Self {
        Self { text: &head.stored.text, revision: head.stored.revision, made: head.made.as_deref() }
    }
}

/// Hands over each entry of a job's log, oldest first, until one is not taken.
///
/// # Errors
/// That of whoever takes them; when the store cannot be read.
pub fn each_entry<E: From<StoreError>>(
    from: &dyn Store,
    id: &str,
    mut take: impl FnMut(&Entry) -> Result<(), E>,
) -> Result<(), E> {
    let mut taken = Ok(());
    from.since(id, 0, &mut |entry| {
        taken = take(&entry);
        taken.is_ok()
    })?;
    taken
}

/// The content of one of a job's files.
///
/// # Errors
/// When it is damaged or gone, or the store cannot be read.
pub fn content(from: &dyn Store, id: &str, file: &AttachmentRow) -> Result<Vec<u8>, StoreError> {
    let gone = || StoreError::Damaged(format!("the file {} is gone", file.name));
    Ok(from.attachment(id, &file.name)?.ok_or_else(gone)?.1)
}

/// SHA-256, hexadecimal, of all that is kept of a job: what the list shows of it, its texts, every entry of its log, every file,
/// every link for a client with what was accepted by it, and whether it was deleted. Two stores that keep the same job give the
/// same.
///
/// # Errors
/// When the job is damaged or changes meanwhile, or the store cannot be read.
pub fn sum_of(store: &dyn Store, listed: &JobRow) -> Result<String, StoreError> {
    let head = Head::of(store, listed)?;
    let mut sum = Sum::new();
    let shown =
        [&listed.id, &listed.name, &listed.summary, &listed.changed_at, &listed.status, &listed.client];
    for text in shown.into_iter().chain([&head.stored.text]) {
        sum.text(text);
    }
    sum.number(listed.revision);
    sum.number(u64::from(listed.template));
    sum.maybe(head.made.as_deref());
    sum.number(head.stored.catalogue.len() as u64);
    for (name, text) in &head.stored.catalogue {
        sum.text(name);
        sum.text(text);
    }
    each_entry(store, &listed.id, |entry| {
        let (patch, inverse) = written(entry)?;
        sum.number(entry.revision);
        sum.number(entry.kind.of().unwrap_or(u64::MAX));
        for text in [&*entry.edit_id, entry.kind.word(), &entry.who, &entry.at, &entry.note, &patch, &inverse]
        {
            sum.text(text);
        }
        sum.maybe(entry.made_at.as_deref());
        Ok::<(), StoreError>(())
    })?;
    for file in &head.files {
        // Read, so that it is held against its own sum: what cannot be read is not the same.
        content(store, &listed.id, file)?;
        for text in [&file.name, &file.media_type, &file.sha256] {
            sum.text(text);
        }
        sum.number(file.size);
    }
    head.links.iter().for_each(|(link, token_hash)| sum.link(link, token_hash));
    sum.maybe(head.deleted.as_ref().map(|d| d.at.as_str()));
    sum.maybe(head.deleted.as_ref().map(|d| d.who.as_str()));
    Ok(sum.hexadecimal())
}

/// The same of a device with its tokens.
pub fn sum_of_device(device: &Device, tokens: &[Token]) -> String {
    let mut sum = Sum::new();
    for text in [&*device.id, &device.name, device.role.word(), &device.paired_at, &device.seen_at] {
        sum.text(text);
    }
    sum.maybe(device.person.as_deref());
    for token in tokens {
        [&token.hash, &token.made_at, &token.good_until].into_iter().for_each(|text| sum.text(text));
    }
    sum.hexadecimal()
}

/// The same of a person with what they sign in by.
pub fn sum_of_person(person: &Person, passkeys: &[Passkey], identities: &[Identity]) -> String {
    let mut sum = Sum::new();
    for text in [&*person.id, &person.name, person.role.word(), &person.made_at] {
        sum.text(text);
    }
    sum.number(passkeys.len() as u64);
    for p in passkeys {
        for text in [&p.id, &p.person, &p.public_key, &p.name, &p.made_at, &p.used_at] {
            sum.text(text);
        }
        sum.number(u64::from(p.counter));
    }
    for i in identities {
        [&i.issuer, &i.subject, &i.person].into_iter().for_each(|text| sum.text(text));
    }
    sum.hexadecimal()
}

/// The same of a log of what is in no job's history.
pub fn sum_of_doings<'a>(doings: impl IntoIterator<Item = &'a Doing>) -> String {
    let mut sum = Sum::new();
    for d in doings {
        [&d.at, &d.who, &d.what, &d.about].into_iter().for_each(|text| sum.text(text));
    }
    sum.hexadecimal()
}

/// A sum of texts and numbers, each with its length in front, so that no two lists of them give the same.
struct Sum(Context);

impl Sum {
    fn new() -> Self {
        Self(Context::new(&SHA256))
    }

    fn number(&mut self, number: u64) {
        self.0.update(&number.to_le_bytes());
    }

    fn text(&mut self, text: &str) {
        self.number(text.len() as u64);
        self.0.update(text.as_bytes());
    }

    fn maybe(&mut self, text: Option<&str>) {
        self.number(u64::from(text.is_some()));
        self.text(text.unwrap_or_default());
    }

    fn link(&mut self, link: &ClientLink, token_hash: &str) {
        let ClientLink { id, job, client, prices, made_at, made_by, good_until, accepted } = link;
        for text in [id, job, client, made_at, made_by, good_until] {
            self.text(text);
        }
        self.text(token_hash);
        self.number(u64::from(*prices));
        self.number(u64::from(accepted.is_some()));
        if let Some(a) = accepted {
            self.number(a.revision);
            [&a.name, &a.at, &a.content, &a.sha256].into_iter().for_each(|text| self.text(text));
        }
    }

    fn hexadecimal(self) -> String {
        self.0.finish().as_ref().iter().map(|b| format!("{b:02x}")).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_one_text_ends_and_the_next_begins_counts() {
        let of = |texts: &[&str]| {
            let mut sum = Sum::new();
            texts.iter().for_each(|t| sum.text(t));
            sum.hexadecimal()
        };
        assert_ne!(of(&["ab", "c"]), of(&["a", "bc"]));
        assert_ne!(of(&["a"]), of(&["a", ""]));
        let maybe = |text: Option<&str>| {
            let mut sum = Sum::new();
            sum.maybe(text);
            sum.hexadecimal()
        };
        assert_ne!(maybe(None), maybe(Some("")));
    }
}
