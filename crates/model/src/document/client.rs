//! Whom the job is for, how far it is, and the languages it is told in.

use crate::reading::Choice as _;
use indexmap::IndexMap;

choice! {
    /// How far a job is.
    JobStatus {
        /// The client has an offer.
        Offered = "offered",
        /// The client has ordered it.
        Sold = "sold",
        /// The crew is at it.
        BeingBuilt = "being built",
        /// It is the client's.
        HandedOver = "handed over",
        /// It is looked after.
        Serviced = "serviced",
    }
}

choice! {
    /// A language that comes with the program.
    Language {
        /// English as it is read everywhere.
        English = "en",
        /// English with the words of the trade in the United States; asked for by name, whatever the units.
        AmericanEnglish = "en-us",
        /// Spanish, with words that are understood all over Latin America.
        Spanish = "es",
    }
}

impl Language {
    /// The language of a name, such as `es`.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().find(|(_, word, _)| word.eq_ignore_ascii_case(name.trim())).map(|choice| choice.0)
    }

    /// Every name there is, as they are told: `en, en-us, es`.
    pub fn names() -> String {
        Self::ALL.iter().map(|choice| choice.1).collect::<Vec<_>>().join(", ")
    }
}

record! {
    /// Whom the job is for.
    Client {
        /// Name of the client.
        name: String = "name" => text().or(""),
        /// Address, as it should be printed.
        address: String = "address" => text().or(""),
        /// People to speak to, by id.
        contacts: IndexMap<String, Contact> = "contacts" => map_of::<Contact>(),
    }
}

record! {
    /// Somebody to speak to on the client's side.
    Contact {
        /// Name.
        name: String = "name" => text().required(),
        /// What they are there: owner, gardener, caretaker.
        role: String = "role" => text().or(""),
        /// Telephone.
        telephone: String = "telephone" => text().or(""),
        /// Mail.
        mail: String = "mail" => text().or(""),
    }
}

impl Client {
    /// Whether nothing is said of the client.
    pub fn is_unknown(&self) -> bool {
        self.name.is_empty() && self.address.is_empty() && self.contacts.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use crate::job::read_job;
    use crate::source::SourceFile;

    fn read(text: &str) -> Result<crate::JobDocument, String> {
        let file = SourceFile::new("job.toml", format!("format = 1\n{text}"));
        read_job(&file, &[]).map(|job| job.document().clone()).map_err(|r| r.to_string())
    }

    #[test]
    fn a_client_is_read_with_the_people_to_speak_to_and_may_be_left_out() {
        let none = read("[job]\nname = \"x\"\n").unwrap();
        assert!(none.client.is_unknown() && none.about.status.is_none());
        let text = "[job]\nname = \"x\"\nstatus = \"being built\"\n[client]\nname = \"The owners\"\naddress = \"1 Lane\"\n\
                    [client.contacts.c1]\nname = \"The gardener\"\nrole = \"garden\"\ntelephone = \"01 23\"\n";
        let document = read(text).unwrap();
        assert_eq!(document.about.status, Some(super::JobStatus::BeingBuilt));
        assert_eq!(
            (document.client.name.as_str(), document.client.address.as_str()),
            ("The owners", "1 Lane")
        );
        assert_eq!(document.client.contacts["c1"].telephone, "01 23");
        assert!(!document.client.is_unknown());
    }

    #[test]
    fn what_is_wrong_with_a_client_is_told_with_its_place() {
        let text = "[job]\nname = \"x\"\nstatus = \"dreamt of\"\n[client.contacts.c1]\nrole = \"garden\"\n";
        let told = read(text).unwrap_err();
        for part in ["job.status", "handed over", "client.contacts.c1"] {
            assert!(told.contains(part), "{part} in {told}");
        }
    }
}
