//! What is sent, taken in, kept and read back as files.

bounds! {
    /// Bytes of a JSON body.
    BODY_BYTES = 2_000_000 Bytes,
        "size of a JSON body",
        "an edit that draws a whole site is some ten kilobytes",
        "what was sent is larger than the {most} this place takes";
    /// Values in a JSON body or message.
    BODY_VALUES = 200_000 Count,
        "values in a JSON body or message",
        "a value takes some hundred bytes, and one is written in two letters",
        "what was sent holds about {found} values, and at most {most} are read";
    /// Bytes of a message on the live channel.
    LIVE_BYTES = 1_000_000 Bytes,
        "size of a message on the live channel",
        "a preview of a whole drawn site is some ten kilobytes",
        "the message has {found}, and at most {most} are read";
    /// Bytes of a zipped job folder.
    ZIP_BYTES = 128_000_000 Bytes,
        "size of a zipped job folder",
        "some 25 photos of a phone",
        "the folder has {found} zipped, and at most {most} are taken";
    /// Files in a zipped job folder.
    FOLDER_FILES = 2000 Count,
        "files in a zipped job folder",
        "more are no job folder; fewer would turn away a job with many photos",
        "{found} files are too many; a job folder has at most {most}";
    /// Bytes of the list of files in a zipped job folder.
    FOLDER_LIST_BYTES = 2_000_000 Bytes, "size of the list of files in a zipped job folder", "1 kB for each of the most files, where some two hundred bytes are usual; read, the list takes several times its size in memory",
        "its list of files has {found} or more, and at most {most} are read: that is no job folder";
    /// Bytes of a job folder unpacked.
    FOLDER_BYTES = 256_000_000 Bytes,
        "size of a job folder unpacked",
        "a small zip file can hold endless zeros",
        "unpacked it is more than {most}; that is no job folder";
    /// Bytes of an attachment.
    ATTACHMENT_BYTES = 32_000_000 Bytes,
        "size of a plan or photo",
        "a photo of a phone is some five million bytes, a scanned plan some ten",
        "a plan or photo has {found}, and at most {most} are kept: send a smaller picture";
    /// Bytes of all files a job keeps.
    JOB_ROOM_BYTES = 1_000_000_000 Bytes, "size of all plans and photos of a job", "some three thousand photos as the app sends them; less would stop a large job's record over the years, more lets one job fill a laptop's disk",
        "the job would keep {found} of plans and photos, and one job may keep {most}: take away what is no longer needed, or send a smaller picture";
    /// Plans and photos of a job.
    ATTACHMENTS = 1900 Count, "plans and photos of a job", "with the job's other files they fit into one job folder; all are listed wherever one is shown",
        "the job would keep {found} plans and photos, and one job may keep {most}: take away what is no longer needed";
    /// Bytes of a price book or another file the papers read.
    PAPERS_FILE_BYTES = 4_000_000 Bytes,
        "size of a price book, a firm's profile, a language file or a calculator's input",
        "a price book of 20 000 rows has about 1 MB",
        "the file has {found}, and at most {most} are read";
    /// Bytes of a firm's logo.
    LOGO_BYTES = 2_000_000 Bytes, "size of a firm's logo", "a larger one is a photograph, and every paper carries it",
        "the logo has {found}, and at most {most} are taken: an SVG drawing or a smaller picture does";
    /// Points of a firm's logo.
    LOGO_POINTS = 25_000_000 Count, "points of a firm's logo, width times height", "a picture is unpacked in memory, four bytes for each point",
        "the logo has {found} points, and at most {most} are taken: a smaller picture does";
    /// Points of a photo on a paper.
    PHOTO_POINTS = 60_000_000 Count, "points of a photo on a paper, width times height", "a picture is unpacked in memory, four bytes for each point; phones take up to fifty million",
        "the photo has {found} points, and at most {most} are taken: a smaller picture does";
    /// Photos in a proposal.
    PROPOSAL_PHOTOS = 6 Count, "photos in a proposal", "one page of them, each as large as a hand; more is an album, and makes a file nobody can send",
        "there are {found} photos, and a proposal shows {most}: those of places first, the newest first";
    /// Items of a list in a calculator's input.
    LIST_ITEMS = 10_000 Count, "items of a list in a calculator's input", "a repeat such as 30x4 W is written out; more than any line has loudspeakers is a slip of the finger",
        "the list would have {found} items, and at most {most} are written out: a longer repeat is read as a unit that is not known";
    /// Samples of a recording, all channels together.
    RECORDING_SAMPLES = 8_000_000 Count,
        "samples of a recording, all channels together",
        "each takes some 70 bytes while the sweep is looked for; a sweep of 8 s in two channels at 48 kHz has a tenth of it",
        "the recording has {found} samples, and at most {most} are looked at: cut it to the sweep and a few seconds around it, or record at 48 kHz";
    /// Samples of a test signal.
    SIGNAL_SAMPLES = 8_000_000 Count, "samples of a test signal", "as many as are looked at of a recording of it; each takes up to 60 bytes while noise is made",
        "the signal would have {found} samples, and at most {most} are made: make it shorter and play it over and over, or take a lower sample rate";
    /// Bytes of a page of history.
    HISTORY_BYTES = 8_000_000 Bytes,
        "size of one page of a job's history",
        "edits of a whole site may be large, and a page of them is held in memory; the next page begins where this one ends",
        "the page has {found}, and at most {most} are sent at once";
    /// Entries of a page of history.
    HISTORY_ENTRIES = 500 Count, "entries of one page of a job's history", "whoever edits waits for the store while a page is read; the next page begins where this one ends",
        "{found} entries are asked for, and at most {most} are sent at once";
    /// Entries of the log read in one go.
    LOG_PAGE_ENTRIES = 256 Count, "entries of a job's log read in one go", "the store serves nobody else meanwhile; fewer ask it more often",
        "there are {found} entries to read, and at most {most} are read in one go: others have their turn in between";
    /// Bytes of the log read in one go.
    LOG_PAGE_BYTES = 1_000_000 Bytes, "size of what is read of a job's log in one go, but for its last entry", "an edit of a whole site may be large, and what is read in one go is held in memory",
        "{found} of the log were read, and after {most} others have their turn";
    /// Bytes of the texts read into jobs at once.
    READ_AT_ONCE_BYTES = 5_000_000 Bytes, "size of all job files read into memory at once", "reading takes some hundred times the size of a file; with less a large job would keep all others out, with more there would be two large ones at once, half a gigabyte each",
        "job files of {found} are to be read, and those of {most} are read at once: the others wait";
    /// Damaged places of a log that are told.
    LOG_DAMAGE_TOLD = 10 Count, "damaged places of a job's log told one by one", "they stand in one sentence with the job",
        "the log is damaged at {found} places, and the first {most} are told";
}
