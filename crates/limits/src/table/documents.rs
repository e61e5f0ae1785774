//! What is read of job and catalogue files, and told of what is wrong with them.

bounds! {
    /// Bytes of a job file.
    JOB_FILE_BYTES = 4_000_000 Bytes,
        "size of a job file",
        "the largest shipped example has 28 kB; reading takes some hundred times the size of the file in memory",
        "the job file has {found}, and at most {most} are read: take out what does not belong to the job";
    /// Bytes of all catalogue files of a job together.
    CATALOGUE_BYTES = 4_000_000 Bytes,
        "size of a job's own catalogue files together",
        "as for the job file; a thousand models with measured curves have about 1 MB",
        "the job's own catalogue files have {found} together, and at most {most} are read: keep only the models this job uses";
    /// Files in a job's catalogue folder.
    CATALOGUE_FILES = 64 Count,
        "catalogue files of a job",
        "each is opened and read before anything else",
        "there are {found} catalogue files, and at most {most} are read: put them together into fewer";
    /// Values in a document.
    DOCUMENT_VALUES = 200_000 Count,
        "values in a job or catalogue file",
        "a value takes some hundred bytes while it is checked; an outline of 2000 corners has 6000",
        "there are about {found} values in it, and at most {most} are read: fewer corners in the outlines say the same";
    /// Words and marks in a text of TOML.
    DOCUMENT_WORDS = 1_000_000 Count,
        "words and marks in a job or catalogue file",
        "a point of an outline has about ten; each may be a problem of its own in a file that is none",
        "there are {found} words and marks in it, and at most {most} are read: this is no job file";
    /// Places that cannot be read.
    UNREADABLE_PLACES = 20_000 Count,
        "places of a job or catalogue file that cannot be read as TOML",
        "each is kept with what was expected there",
        "{found} places in it cannot be read as TOML, and at most {most} are looked at: this is no job file";
    /// Characters of an id.
    ID_CHARACTERS = 32 Count, "characters of an id", "it is printed on tags and drawings, and every path of an edit repeats it",
        "an id has {found} characters, and at most {most} fit on a tag";
    /// Parts of a quantity.
    QUANTITY_PARTS = 16 Count, "parts of one quantity, such as 12 ft 6 in", "each part looks at all that follows it, and no unit has as many smaller ones",
        "the quantity has {found} parts, and at most {most} are read: each must be smaller than the one before";
    /// Levels of nesting.
    DOCUMENT_DEPTH = 32 Count,
        "values inside values",
        "a job has seven levels; what is read level by level runs out of room some thousand levels down",
        "{found} values stand one inside the other, and at most {most} are read: a job has seven levels";
    /// Entries of a table or items of a list.
    ENTRIES = 10_000 Count,
        "entries of one table or list",
        "putting one in front of others moves them all",
        "one table or list would have {found} entries, and at most {most} are taken";
    /// Problems told in one go.
    PROBLEMS_TOLD = 100 Count,
        "problems told in one go",
        "nobody reads more, and each holds a piece of the file; the others are counted",
        "{found} problems were found, and the first {most} are told";
    /// Problems looked for.
    PROBLEMS_COUNTED = 50_000 Count,
        "problems counted",
        "a file with more is none that was written for this",
        "more than {most} problems were found, and reading stopped there";
    /// Characters of a word that a problem repeats.
    WORD_REPEATED = 80 Count, "characters of somebody's word that a problem repeats", "thousands of problems may be about one long text, and each would hold it",
        "the text has {found} characters, and the first {most} are repeated";
    /// Characters of a value that a refusal repeats.
    VALUE_REPEATED = 120 Count, "characters of a value that a refusal repeats", "enough to know it again; a whole site read aloud helps nobody",
        "the value has {found} characters, and the first {most} are repeated";
    /// Rings and loose parts of a line that are told.
    LINE_FAULTS = 20 Count, "rings, or loose parts, told of one line", "more hang on the same mistakes, and each is looked for along the whole line",
        "the line has {found} rings or loose parts, and the first {most} of each are told";
    /// Bytes of a word that may be a misspelling.
    SUGGESTED_BYTES = 200 Bytes, "length of a word that may be a misspelling", "comparing takes the lengths of both words multiplied, for every word that is known",
        "the word has {found}; what it may have meant is asked of words up to {most}";
}
