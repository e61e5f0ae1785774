//! Edits, and the words that come with them.

bounds! {
    /// Operations of an edit.
    EDIT_OPERATIONS = 4096 Count,
        "operations of one edit (a move counts as two)",
        "a proposal of 300 loudspeakers has about 900; each is carried out on the whole document",
        "the edit has {found} operations (a move counts as two), and at most {most} are taken: send it in parts";
    /// Bytes of an address in an edit.
    EDIT_PATH_BYTES = 1000 Bytes,
        "length of a path in an edit",
        "ids have at most 32 letters and a job has seven levels",
        "a path of the edit has {found}, and at most {most} are taken: no thing of a job has such a long one";
    /// Bytes of a document an edit may make.
    DOCUMENT_BYTES = 16_000_000 Bytes,
        "size of the document while an edit is carried out",
        "four times what a job file may have, so that an edit may pass through more than it leaves",
        "the edit would make a document of {found}, and at most {most} are held";
    /// Values of a document an edit may make.
    EDIT_DOCUMENT_VALUES = 200_000 Count,
        "values of the document while an edit is carried out",
        "as many as a job file may have",
        "the edit would make a document of {found} values, and at most {most} are held";
    /// Bytes an edit writes and keeps.
    EDIT_BYTES = 32_000_000 Bytes,
        "what one edit writes and keeps for undoing",
        "twice the document: an edit that puts a large thing in and takes it out again, over and over, ends here",
        "the edit would write and keep {found}, and at most {most} are taken: send it in parts";
    /// Values an edit writes and keeps.
    EDIT_VALUES = 400_000 Count,
        "values one edit writes and keeps for undoing",
        "twice the values of a document, as for its bytes",
        "the edit would write and keep {found} values, and at most {most} are taken: send it in parts";
    /// Characters of an edit's id.
    EDIT_ID_CHARACTERS = 64 Count, "characters of an edit's id", "a UUID has 36; every edit of a job keeps its own",
        "{found} characters are too many for the id of an edit; at most {most} fit: a UUID is best";
    /// Characters of an edit's note.
    NOTE_CHARACTERS = 200 Count, "characters of the note on an edit", "a sentence or two; it stands in every list of what was done to the job",
        "{found} characters are too many; at most {most} fit";
    /// Characters of the name of a person or device.
    PERSON_CHARACTERS = 80 Count, "characters of the name of a person or device", "it stands beside every edit and in the list of devices",
        "{found} characters are too many; at most {most} fit";
    /// Characters of a new job's name.
    JOB_NAME_CHARACTERS = 200 Count, "characters of a new job's name", "it stands in the list of jobs and at the head of every paper",
        "{found} characters are too many; at most {most} fit";
    /// Characters of an attachment's name.
    ATTACHMENT_NAME_CHARACTERS = 100 Count, "characters of the name of a plan or photo", "it is part of an address here, and the name of a file where the job folder is unpacked",
        "{found} characters are too many; at most {most} fit";
}
