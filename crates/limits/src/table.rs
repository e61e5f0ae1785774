//! The table. One row per bound; a constant names each, [`TABLE`] holds them all in the order of the page.

use crate::bound::{Bound, Side, Unit};

macro_rules! bounds {
    (@side) => { Side::Most };
    (@side Least) => { Side::Least };
    ($($(#[doc = $doc:literal])+ $name:ident = $($side:ident)? $number:literal $unit:ident, $of:literal, $reason:literal, $sentence:literal;)+) => {
        $(
            $(#[doc = $doc])+
            pub static $name: Bound = Bound {
                of: $of,
                side: bounds!(@side $($side)?),
                number: $number,
                unit: Unit::$unit,
                reason: $reason,
                sentence: $sentence,
            };
        )+

        /// Every bound, in the order of the page.
        pub static TABLE: &[&Bound] = &[$(&$name),+];
    };
}

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

    /// Listening areas of a job.
    AREAS = 200 Count, "listening areas of a job", "each is sampled at some 400 places",
        "there are {found} listening areas, and at most {most} are worked with: join neighbouring ones";
    /// Size of a listening area, cm2.
    AREA_CM2 = Least 100 SquareCentimetres, "size of a listening area", "nobody's ears fit into less, and what is worked out for an area goes by its size",
        "listening area {which} has no room for anybody: its outline holds less than {least}; draw it anew";
    /// Neighbours of a job.
    NEIGHBOURS = 200 Count, "neighbours of a job", "each is predicted by itself",
        "there are {found} neighbours, and at most {most} are worked with: one neighbour may have many points";
    /// Programmes of a job.
    PROGRAMMES = 16 Count, "programmes of a job", "a level map keeps waves of each at every place",
        "there are {found} programmes, and at most {most} are worked with";
    /// Loudspeakers of a job.
    LOUDSPEAKERS = 2000 Count, "loudspeakers of a job", "every place hears every loudspeaker; the field is checked with 1000",
        "there are {found} loudspeakers, and at most {most} are worked with: make it two jobs";
    /// Lines of a job.
    LINES = 500 Count, "lines of a job", "each is solved as a network of its own",
        "there are {found} lines, and at most {most} are worked with: make it two jobs";
    /// Runs of a line.
    RUNS = 2000 Count, "runs of one line", "a line is solved as one network at every band",
        "the line has {found} runs, and at most {most} are worked with: make it two lines";
    /// Joints, stubs and other small things of one kind.
    SMALL_THINGS = 4000 Count, "joints, stubs, marks, sleeves, passages, services, channels, sources or leads of a job", "each is looked up by every run of cable",
        "there are {found} of them, and at most {most} are worked with: make it two jobs";
    /// Surfaces, walls and buildings of one kind.
    GROUND_THINGS = 1000 Count, "surfaces, walls, buildings or no-go areas of a job", "every path of sound and every way of a cable is held against each",
        "there are {found} of them, and at most {most} are worked with: join neighbouring ones of the same kind";
    /// Visits of a job.
    VISITS = 2000 Count, "visits of a job", "all are read with the job",
        "there are {found} visits, and at most {most} are kept in one job: begin a new job and keep this one";
    /// Corners of an outline.
    CORNERS = 2000 Count, "corners of an outline or points of a line", "each side is held against every other",
        "there are {found} points, and at most {most} are worked with: fewer say the same, a point every half metre is plenty";

    /// Places of one area.
    AREA_PLACES = 50_000 Count, "places one listening area is sampled at", "percentiles settle within a tenth of a decibel at 400; a larger area is sampled more coarsely, with a note",
        "the area would be sampled at {found} places, and at most {most} are worked out";
    /// Places times loudspeakers of one area.
    AREA_PAIRS = 1_500_000 Count, "places times loudspeakers of one listening area", "160 bytes and about two microseconds each; beyond, the area is sampled more coarsely, with a note",
        "the area would need {found} pairs of a place and a loudspeaker, and at most {most} are worked out";
    /// Places times loudspeakers of all areas at once.
    JOB_PAIRS = 50_000_000 Count, "places times loudspeakers of all listening areas", "about a minute and a half on two cores; beyond, every area is sampled more coarsely, with a note",
        "the areas would need {found} pairs of a place and a loudspeaker, and at most {most} are worked out";
    /// Cells of the grid over an area.
    AREA_CELLS = 950_000 Count, "cells of the grid over one listening area", "each is held against the outline, and a narrow strip has many cells and few places; beyond, the area is sampled more coarsely, with a note",
        "the grid over the area would have {found} cells, and at most {most} are looked at";
    /// Cells of that grid times corners of the outline.
    AREA_CELL_CORNERS = 100_000_000 Count, "cells of the grid over one listening area times corners of its outline", "a second or so; beyond, the area is sampled more coarsely, with a note",
        "the grid over the area would have {found} pairs of a cell and a corner, and at most {most} are looked at";
    /// Points of a grid of the field.
    GRID_POINTS = 1_000_000 Count, "points of a grid of the sound field", "a field of them takes some 300 MB",
        "the grid would have {found} points, and at most {most} are worked out";
    /// Places an outline is sampled at.
    OUTLINE_PLACES = 4_000_000 Count, "places an outline is sampled at", "more do not fit in memory beside their results",
        "the outline would be sampled at {found} places, and at most {most} are held";
    /// Pairs of all areas kept at once for the settings.
    TUNE_PAIRS = 2_000_000 Count, "places times loudspeakers kept while settings are worked out", "128 bytes each, all areas at once; beyond, they are sampled more coarsely",
        "the settings would need {found} pairs of a place and a loudspeaker, and at most {most} are kept";
    /// Subwoofers whose settings are searched together.
    SUBWOOFERS_SEARCHED = 4 Count, "subwoofers whose settings are searched together", "settings multiply with each; the answer says how many of how many were tried",
        "{found} subwoofers play in the area, and settings of up to {most} at a time are searched";
    /// Places the bass of an area is looked at.
    BASS_PAIRS = 30_000 Count, "places times subwoofers of one area in the bass view", "each has up to 150 frequencies of 48 bytes; beyond, the area is sampled more coarsely, with a note",
        "the bass would need {found} pairs of a place and a subwoofer, and at most {most} are worked out";
    /// Places times settings of subwoofers that are tried.
    BASS_TRIALS = 16_000_000 Count, "places times settings of subwoofers tried", "some ten seconds on two cores; beyond, fewer settings are tried, and the answer says how many of how many",
        "{found} pairs of a place and a setting are more than are tried; {most} are the most";
    /// Receivers times loudspeakers at the neighbours.
    NEIGHBOUR_PAIRS = 100_000 Count, "places times loudspeakers at all neighbours", "each keeps 0.9 kB of octave figures for the answer; beyond, boundary lines are sampled more coarsely, with a note",
        "the neighbours have {found} pairs of a place and a loudspeaker, and at most {most} are worked out: give fewer points";
    /// Bytes of one calculation.
    CALCULATION_BYTES = 512_000_000 Bytes, "memory of one calculation of the sound", "estimated before it starts, as places times loudspeakers times bands: asking for more than there is ends the program for everybody",
        "this would need about {found} of memory, and one calculation may take {most}: take fewer or smaller areas, or fewer loudspeakers";
    /// Bytes of a level map kept for one browser.
    MAP_BYTES = 256_000_000 Bytes, "memory of a level map on the live channel", "every browser that looks on keeps one, and so does the job",
        "this map would need about {found} of memory, and one may take {most}";
    /// Places of a level map.
    MAP_PLACES = 60_000 Count, "places of a level map", "more take longer than a frame may and show nothing a screen can",
        "{found} places are more than a map shows; {most} are the most";
    /// Bytes of all maps being dragged, with the figures beside them.
    DRAGGED_BYTES = 512_000_000 Bytes, "memory of all maps somebody drags something on and of the figures beside them, together", "each is kept from one picture to the next while the drag lasts; beyond, pictures and figures are made from the start each time and come more slowly",
        "the maps being dragged would take {found}, and {most} are kept";
    /// Seconds a hand may rest on what it drags.
    DRAG_RESTS_S = 5 Seconds, "time for which what the pictures of a drag are made from is kept while nothing moves", "the first picture after a rest takes some ten milliseconds more; what is kept for hands that rest adds up to hundreds of megabytes",
        "nothing was moved for {found}: after {most} what the drag is made from is let go, and the next picture starts from the stored job";
    /// Seconds a picture waits for whoever does not read.
    PICTURE_WAITS_S = 1 Seconds, "time a picture waits for a browser that has not taken the one before, until what it is made from is let go", "who does not read keeps some twenty megabytes for nothing; a slow network takes a picture within it",
        "a picture has waited for {found}: after {most} what the drag is made from is let go, and the next picture starts from the stored job";
    /// Straight pieces the ground map is made of.
    GROUND_LINES = 10_000 Count, "straight sides of everything drawn on the ground that cables are led over", "every corner of the map is held against each of them; a garden with a hundred outlines has some thousand",
        "the ground has {found} straight sides in all, and cables are led over at most {most}: draw outlines with fewer corners, or make it two jobs";
    /// Corners of the ground map.
    GROUND_CORNERS = 20_000 Count, "corners of the ground map, those included where lines cross", "the map has twice as many triangles as corners, and a way is looked for over all of them",
        "the ground map would have {found} corners or more, and cables are led over at most {most}: draw what crosses so often as one";
    /// Steps of the ground map's graph.
    GROUND_STEPS = 8_000_000 Count, "steps across the triangles of the ground map", "40 bytes each; beyond, places beside a wall get no points of their own on it, and the way from such a place to the wall is priced to some per cent",
        "the ground map would have {found} steps, and at most {most} are made";
    /// Points along ways that may be shared.
    SHARED_POINTS = 4000 Count, "points along ways that cables may share", "each search takes longer in proportion; they stand half a metre apart, and farther where the ways come to more than two kilometres",
        "the ways would have {found} points, and about {most} are made";
    /// Points of a triangle that are all joined.
    JOINED_POINTS = 600 Count, "points of one triangle of the ground map that are joined each to each", "steps grow with the square; beyond, each is joined to its 64 nearest and to as many more spread over the rest",
        "the triangle has {found} points, and up to {most} are joined each to each";
    /// Choices of cable of a line.
    CABLE_CHOICES = 20_000 Count, "choices of cable compared for one line", "enough for twelve runs in three types of cable where the limit leaves a few of them thick; beyond, the best found so far is taken",
        "{found} choices of cable are possible, and about {most} are compared";
    /// Cuts from spools of one length that are shared out exactly.
    EXACT_CUTS = 18 Count, "cuts of cable shared out exactly among spools of one length", "time and memory double with each more, and these take some 10 ms and 6 MB; beyond, the best found is given with how far from the least it can be",
        "{found} lengths are to be cut, and the least cable is proven for up to {most}";
    /// Cuts from spools of several lengths that are shared out exactly.
    EXACT_CUTS_MIXED = 13 Count, "cuts of cable shared out exactly among spools of several lengths", "time triples with each more; beyond, the best found is given with how far from the least it can be",
        "{found} lengths are to be cut, and the least cable is proven for up to {most} where spools have several lengths";
    /// Lengths tried for the least cable.
    COVERING_LENGTHS = 4_000_000 Count, "lengths tried for the least cable that whole spools hold", "a byte each; beyond, what is cut is all that is proven to be needed",
        "whole spools come to {found} lengths, and at most {most} are tried";
    /// Pairs of faults worked out in full.
    FAULT_PAIRS = 1200 Count, "pairs of faults of a line worked out in full", "pairs grow with the square of a line's parts; the likeliest come first, and what is left out is told",
        "{found} pairs of faults are likely enough, and the {most} likeliest are worked out in full";
    /// Points of pairs of faults that steer the next test.
    STEERING_POINTS = 1000 Count, "points of pairs of faults that steer the next test", "every test is weighed at each of them, and each is unlikely by itself",
        "{found} points are possible, and the {most} likeliest steer the next test";
    /// Answers to readings that are listed.
    ANSWERS_LISTED = 6 Count, "answers to a line's readings listed by the command line", "each that is left out is less likely than all of them; JSON has every one",
        "{found} answers are possible, and the {most} likeliest are listed";
    /// Members of an answer that are listed.
    MEMBERS_LISTED = 8 Count, "faults of one answer listed by the command line", "readings cannot tell them apart; the others are counted, and JSON has every one",
        "{found} faults are told alike by the readings, and {most} are listed";
    /// Explanations that are worked through.
    EXPLANATIONS_WORKED = 4 Count, "faults of one answer whose likelihood is worked through", "nobody follows more, and those told alike differ in little; the others are counted with what they have together",
        "{found} faults are told alike by the readings, and {most} are worked through";
    /// Places for rows times points of the areas.
    GUIDE_PAIRS = 250_000 Count, "places for rows of loudspeakers times points of the areas, in a proposal", "what a loudspeaker at each place gives at each point is held in memory; beyond, fewer places are looked at",
        "{found} pairs of a place and a point are possible, and at most {most} are looked at";
    /// Changes to a brief that are told.
    CHANGES_TOLD = 3 Count, "changes to a brief told where no design meets it", "each is worked out as a design of its own; the nearest come first",
        "{found} changes could be tried, and trying ends once {most} are found that do";
    /// Designs side by side.
    OPTIONS_SHOWN = 5 Count, "designs side by side in a proposal's papers", "more do not fit beside each other on a sheet",
        "there are {found} options; a proposal shows 2 to {most} side by side";
    /// Detail sheets of a plan.
    DETAIL_SHEETS = 8 Count, "detail sheets of a plan", "with more of them the crew turns pages instead of working; a coarser scale is taken",
        "at this scale there would be {found} detail sheets, and a plan has at most {most}: a coarser one is taken";
    /// Pieces of walls, houses and steps in a picture of a site.
    PERSPECTIVE_PIECES = 3000 Count, "pieces of walls, houses and steps in a picture of a site", "cutting the plan along them takes at worst their square; quayside-hotel has about a hundred",
        "{found} pieces of walls, houses and steps stand here, and a picture shows at most {most}: fewer corners in the outlines say the same";
    /// Letters in a QR code.
    SQUARE_CODE_LETTERS = 700 Count, "letters in the QR code of an as-built sheet", "a telephone still reads so many from a worn sheet",
        "the readings have {found} letters, and at most {most} fit into the QR code: the other lines stand in the tables alone";
    /// Revisions whose results are kept.
    REVISIONS_KEPT = 3 Count, "revisions of a job whose results are kept", "what an undo asks for again; a scene of quayside-hotel takes some megabytes",
        "results of {found} revisions were worked out, and those of {most} are kept: older ones are worked out again when somebody asks";
    /// Maps kept of a job.
    MAPS_KEPT = 3 Count, "level maps kept of a job", "a map of guesthouse-garden at 0.5 m takes some ten megabytes",
        "{found} maps were worked out, and {most} are kept: older ones are worked out again when somebody asks";
    /// Solutions kept of a line.
    LINE_SOLUTIONS_KEPT = 4 Count, "solutions kept of one line", "what stands, what it was before, and a preview or two of it",
        "the line was solved {found} times, and {most} solutions are kept: older ones are worked out again when somebody asks";
    /// Seconds for figures.
    RESULTS_S = 60 Seconds, "time for findings, levels or readings over the network", "a large site takes a second or two on two cores; what takes longer holds a turn that others wait for",
        "this was not worked out within {most}: a smaller site, fewer loudspeakers or fewer visits take less; the command line has no such bound";
    /// Seconds for a level map.
    MAP_S = 60 Seconds, "time for one level map on the live channel", "a map for a screen takes less than a second; what takes longer holds a turn that other browsers wait for",
        "this map was not worked out within {most}: a smaller part of the plan, or places farther apart, take less";
    /// Seconds for settings and routes.
    SETTINGS_S = 120 Seconds, "time for processing, bass or routes over the network", "the largest example takes some twenty seconds on a slow machine",
        "this was not worked out within {most}: fewer loudspeakers or smaller areas take less; the command line has no such bound";
    /// Seconds for papers.
    PAPERS_S = 120 Seconds, "time for papers over the network", "a set of a large job takes some ten seconds",
        "the papers were not made within {most}: the command line makes them without such a bound";
    /// Seconds for a proposal, at most.
    PROPOSALS_S = 3600 Seconds, "time for one proposal over the network", "one is made at a time; six times the most work that can be asked for one design, since a large site takes a few times as long",
        "no proposal was made within {most}: ask for less work for each design, or for one design";
    /// Seconds of work of a proposal, at most.
    PROPOSAL_WORK_S = 600 Seconds, "work that may be asked for one proposal, as the seconds two usual cores take for it", "five times the most that is taken where nobody names it; one is made at a time, and others wait",
        "{found} of work are asked for, and a proposal takes from 0.5 s to {most}";
    /// Seconds by the clock of a proposal, whatever its work.
    PROPOSAL_CLOCK_S = 300 Seconds, "time by the clock for a proposal, whatever its work", "far beyond what any site took on a slow machine, so that the answer does not hang on the clock",
        "after {found} by the clock the proposal is left; it may take {most} and more for each second of work";
    /// Seconds by the clock for each second of work.
    PROPOSAL_CLOCK_PER_WORK_S = 60 Seconds, "time by the clock for each second of a proposal's work", "work is counted in steps, and on a site that nobody thought of steps may take long",
        "a second of work took {found} by the clock, and it may take {most}";
    /// Seconds a proposal is made that nobody looks at.
    UNWATCHED_S = 15 Seconds, "time a proposal is made without anybody looking at the job or asking for it", "a phone that changes from one network to another is back within it; what nobody wants holds the only turn",
        "nobody has looked at the job or asked for the proposal for {found}: after {most} it is stopped";
    /// Seconds for a job folder.
    FOLDERS_S = 120 Seconds, "time for unpacking or packing a job folder over the network", "the largest takes some seconds on a slow machine",
        "the job folder was not done within {most}: with fewer or smaller photos it takes less";
    /// Settings worked out at once.
    SETTINGS_AT_ONCE = 2 Count, "requests for processing, bass or routes worked on at once", "each works on every core; more at once make each slower and take more memory",
        "{found} requests want settings, and {most} are worked on at once: the others wait";
    /// Papers made at once.
    PAPERS_AT_ONCE = 2 Count, "sets of papers made at once", "a set takes seconds and some hundred megabytes while it is made",
        "{found} sets of papers are wanted, and {most} are made at once: the others wait";
    /// Proposals made at once.
    PROPOSALS_AT_ONCE = 1 Count, "proposals made at once", "each works on every core and may take ten minutes",
        "{found} proposals are wanted, and {most} is made at a time: the others wait";
    /// Job folders done at once.
    FOLDERS_AT_ONCE = 1 Count, "job folders unpacked or packed at once", "unpacked, a small one may take all that a folder may",
        "{found} job folders are to be unpacked or packed, and {most} is done at a time: the others wait";
    /// Requests waiting for figures.
    WAITING_FOR_RESULTS = 512 Count, "requests waiting for findings, levels or readings", "each holds a connection; a firm's browsers ask for some ten at once",
        "{found} requests wait for figures, and at most {most} may";
    /// Requests waiting for settings.
    WAITING_FOR_SETTINGS = 64 Count, "requests waiting for processing or bass", "each takes seconds to half a minute of a core",
        "{found} requests wait for settings, and at most {most} may";
    /// Requests waiting for papers.
    WAITING_FOR_PAPERS = 64 Count, "requests waiting for papers", "a set takes seconds and some hundred megabytes while it is made",
        "{found} requests wait for papers, and at most {most} may";
    /// Proposals waiting for their turn.
    WAITING_FOR_PROPOSALS = 16 Count, "proposals waiting for their turn", "one is made at a time, on every core, and may take ten minutes",
        "{found} proposals wait to be made, and at most {most} may";
    /// Job folders waiting for their turn.
    WAITING_FOR_FOLDERS = 8 Count, "job folders waiting to be unpacked or packed", "what was sent is held in memory while it waits; unpacked, a small one may take all that a folder may, so they are done one at a time",
        "{found} job folders wait to be unpacked or packed, and at most {most} may";
    /// Proposals kept.
    PROPOSALS_KEPT = 32 Count, "proposals kept, under way and made", "more than may be under way and wait together, so that one that is over is always there to be forgotten first",
        "there would be {found} proposals, and of more than {most} the oldest that is over is forgotten";
    /// Jobs whose papers are kept made.
    PAPERS_KEPT = 8 Count, "jobs whose papers are kept made", "a set is some megabytes and takes seconds to make",
        "papers of {found} jobs are wanted, and beyond {most} those nobody is waiting for are made anew when somebody asks";
    /// Papers typeset before unused parts are forgotten.
    COMPILATIONS_KEPT = 12 Count, "papers set after which a part that none of them used is forgotten", "more keep more memory in a server; fewer set unchanged pages anew",
        "a part of a paper was not used for {found} papers, and after {most} it is forgotten and set anew when it is needed";
    /// Jobs held in memory.
    OPEN_JOBS = 32 Count, "jobs held in memory before those nobody uses are let go", "each takes some megabytes once it has been studied",
        "there would be {found} jobs in memory, and beyond {most} those nobody uses are read again when somebody asks";
    /// Questions that are remembered.
    QUESTIONS_REMEMBERED = 256 Count, "questions about jobs remembered before those nobody asks now are forgotten", "each takes some hundred bytes; who asks the same at once is told one answer",
        "there would be {found} questions, and beyond {most} those nobody asks now are forgotten";
    /// Bytes of the stack of a thread that works for somebody.
    STACK_BYTES = 8_000_000 Bytes, "stack of a thread for findings, papers and whatever else is worked out", "about what the main thread of a program has: a page is set by layouts within layouts, and a thread that waits for its helpers takes up another part on top of them",
        "the layouts within layouts would take {found}, and a thread has {most}";
    /// Characters of a ticket.
    TICKET_CHARACTERS = 64 Count, "characters of a ticket a request waits under", "a UUID has 36; who waits is looked up by it",
        "{found} characters are no ticket: at most {most} are one, and a UUID is best";
    /// Characters of what somebody makes up to be known by.
    MADE_UP_CHARACTERS = Least 8 Count, "characters of a ticket, or of an edit's id", "of shorter ones two people make up the same sooner or later",
        "fewer than {least} letters, digits or '-' are no name that nobody else makes up: a UUID is best";
    /// Events a browser may be behind.
    EVENTS_KEPT = 256 Count, "edits and messages a browser may be behind on the live channel", "fewer cut off phones on a poor network, more keep old edits in memory",
        "the browser is {found} messages behind, and at most {most} are kept: it reads the job again";
    /// Pings left unanswered.
    PINGS_UNANSWERED = 3 Count, "pings left unanswered on the live channel", "one goes out every 20 s; who is gone without a word holds a handle of the system",
        "{found} pings were not answered, and after more than {most} the channel is closed";
    /// Handles of the system.
    HANDLES = 8192 Count, "handles asked of the system", "a connection takes one; more than any number of browsers needs",
        "the system would give {found} handles, and {most} are asked for";
    /// Handles for what is no connection.
    OWN_HANDLES = 128 Count, "handles set aside for what is no connection", "the store, the papers' fonts and files being read need some; where there are few, half of all are set aside at most",
        "{found} handles are in use by what is no connection, and {most} are set aside";
    /// Connections from the network.
    NETWORK_CONNECTIONS = 1024 Count, "connections from the network together", "each takes some kilobytes, however many handles the system gives; where it gives few, half of them stay for this computer",
        "{found} connections from the network, and at most {most} are answered: the others are closed";
    /// Connections of one address.
    CONNECTIONS_PER_ADDRESS = 64 Count, "connections from one address of the network", "a browser opens six and the live channel; handles of the system are few, and whoever sits at the computer needs some",
        "{found} connections from one address, and at most {most} are answered: the others are closed";
    /// Seconds a request's head may take.
    HEADER_S = 30 Seconds, "time for the head of a request, between two requests on one connection, and before what follows has to come in at 2 kB a second or more", "a slow network needs a second or two; who says nothing holds a handle of the system",
        "after {found} without a whole request the connection is closed; {most} are allowed";
    /// Bytes a second that what is sent comes in at.
    SENDING_SPEED = Least 2000 BytesPerSecond, "speed at which what follows the head of a request comes in, after the time for the head", "slower than any telephone network; who sends ever more slowly holds a connection",
        "what comes in at less than {least} is not waited for any longer: the request is refused as one that did not arrive whole";
    /// Bytes a second that an answer is taken at.
    TAKING_SPEED = Least 2000 BytesPerSecond, "speed at which an answer is taken on the whole, beyond the time in which nothing of it is", "slower than any telephone network; with less, one device holds a large folder in memory for a day by taking a little of it now and then; with more, a phone at the edge of its network is cut off",
        "an answer that is taken at less than {least} on the whole is not told to its end: the connection is closed";
    /// Seconds after which what nobody asks for is let go.
    UNUSED_S = 30 Seconds, "time for which a job nobody looks at, its results and its papers are kept in memory for whoever asks next", "reading a garden again takes milliseconds; what is kept for nobody adds up to hundreds of megabytes",
        "nobody has asked for it for {found}: after {most} it is let go, and made again when somebody does";
    /// Seconds nothing of an answer is taken.
    STALLED_S = 30 Seconds, "time in which nothing of an answer or a picture is taken", "what is not taken is kept in memory for whoever does not read it",
        "after {found} in which nothing was taken the connection is closed; {most} are allowed";
    /// Seconds connections have when the server is stopped.
    STOPPING_S = 2 Seconds, "time connections have to end when the server is stopped", "long enough for an answer under way; the live channel does not hold up the end",
        "{found} after the server was stopped what is still connected is closed; {most} are allowed";
    /// Seconds work behind an answer has when the server is stopped.
    STOPPING_WORK_S = 3 Seconds, "time work behind an answer, an edit being written above all, has to end when the server is stopped", "less would break off a write, which the store takes back at the next start; more keeps whoever stops the server waiting",
        "{found} after the last connection work under way is broken off; {most} are allowed";
    /// Seconds a server says that it is being stopped.
    DRAINED_S = 3 Seconds, "time a server that is being stopped says so at /health before it takes no more connections", "whoever shares requests out among servers asks every second or two; without /health nobody asks and nothing is waited",
        "{found} after the server was asked to stop it takes no more connections; {most} are allowed";
    /// Connections to the port of operations.
    OPERATIONS_CONNECTIONS = 16 Count, "connections to /health and /metrics", "whoever watches a server opens one or two, and none of them may take what browsers need",
        "{found} connections ask for /health and /metrics, and at most {most} are answered: the others are closed";
    /// Seconds to wait for the store.
    STORE_BUSY_S = 5 Seconds, "time to wait for a store another program is writing to", "a write takes milliseconds; who holds it longer is a second server or a backup gone wrong",
        "after {found} of waiting for the store the request is refused; {most} are allowed";
    /// Seconds to reach a database.
    DATABASE_S = 5 Seconds, "time to reach a database, and for it to say that a connection still stands", "on one network it takes milliseconds; less would give up on a database that is being started anew",
        "the database was not reached within {found}; {most} are waited";
    /// Connections to a database.
    DATABASE_CONNECTIONS = 8 Count, "connections of one server to its database, but for the one that hears of others' edits", "a statement takes a millisecond, so that eight carry some thousand a second; a database has a hundred for all its servers",
        "{found} statements want a connection to the database, and there are {most}: the others wait";
    /// Tries at an edit that other servers are ahead of.
    EDIT_TRIES = 32 Count, "tries at one edit while other servers change the same job", "each takes in what the others did; somebody's edit succeeds with every round, so that many tries are lost only where dozens of servers edit one job at once",
        "the edit was tried {found} times while others changed the job, and at most {most} tries are made";
    /// Calls to other servers in a second.
    CALLS_A_SECOND = 20 Count, "calls of one server to the others in a second, each for all jobs that changed", "a database hands calls out one after the other; more would hold up edits, fewer are seen as a delay",
        "{found} calls would be made in a second, and {most} are: jobs that change meanwhile go with the next";
    /// Seconds between two looks for what other servers did.
    LOOKED_AFTER_S = 2 Seconds, "time between two looks at the database for edits whose call was lost", "one question for all jobs that somebody has open; a lost call is seen as a delay of as much",
        "after {found} without a call the database is asked; that is done every {most}";
    /// Seconds a pairing code is shown.
    CODE_SHOWN_S = 300 Seconds, "time one pairing code is shown before the next", "whoever reads it has at least the rest of its time to type it in",
        "the code has been shown for {found}: after {most} another is shown";
    /// Seconds a pairing code lets a device in.
    CODE_GOOD_S = 600 Seconds, "time a pairing code lets a device in after it was first shown", "a code left on a screen or a photo of one lets nobody in next day",
        "the code is {found} old: after {most} it lets nobody in";
    /// Seconds a device's token lets it in.
    TOKEN_GOOD_S = 5_184_000 Seconds, "time a device is let in without being seen", "sixty days: a phone that lay in a drawer for longer, or was lost, pairs again; one in use is given a new token long before",
        "the device was not seen for {found}: after {most} it pairs again";
    /// Seconds after which a device in use is given another token.
    TOKEN_RENEWED_S = 86_400 Seconds, "age of a device's token at which it is given another", "a token that was copied off a phone is of no use a day later; more often would only be more writing",
        "the token is {found} old: after {most} the next answer brings another";
    /// Seconds an older token is good once the newer one was used.
    TOKEN_OVERLAP_S = 60 Seconds, "time a device's older token is good once the newer one was used", "requests under way still carry the older one",
        "the newer token was used {found} ago: after {most} the older one lets nobody in";
    /// Seconds a deleted job is kept.
    DELETED_KEPT_S = 2_592_000 Seconds, "time a deleted job is kept", "thirty days: whoever misses it has time to look; after that its room is wanted",
        "the job was deleted {found} ago: after {most} it is gone for good";
    /// Days a link for a client is good.
    CLIENT_LINK_DAYS = 180 Count, "days a link for a client is good", "half a year is longer than an offer stands; what was forgotten shows nothing some day",
        "the link would be good for {found} days, and at most {most} are given: make another when it has ended";
    /// Links for clients of one job.
    CLIENT_LINKS = 100 Count, "links for clients of one job", "each keeps what was accepted by it; a job has a handful of clients",
        "the job has {found} links for clients, and at most {most} are kept";
    /// Wrong codes of one address in a minute.
    WRONG_CODES = 5 Count, "wrong codes for pairing from one address within a minute", "a code has 40 bits: five tries a minute find it in some hundred thousand years, and others pair meanwhile",
        "{found} wrong codes within a minute, and at most {most} are looked at: wait a minute, then type the code shown on the computer";
    /// Addresses whose wrong codes are remembered.
    ADDRESSES_REMEMBERED = 4096 Count, "addresses whose wrong codes are remembered", "each takes some hundred bytes, and a network of strangers may have any number",
        "wrong codes came from {found} addresses, and those of {most} are remembered: the one longest quiet is forgotten";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_whole_and_fits() {
        for b in TABLE {
            assert!(b.number > 0 && usize::try_from(b.number).is_ok(), "{}", b.of);
            assert!(b.reason.len() > 20 && !b.reason.ends_with('.'), "{}", b.of);
            assert!(b.told("A1").contains(&b.shown()), "{}", b.of);
            // A number just below a bound would be shown like it.
            assert!(b.side == Side::Most || !b.sentence.contains("{found}"), "{}", b.of);
            assert!(!b.told("A1").replace("{found}", "").contains('{'), "{}", b.of);
            assert!(!b.of.contains('|') && !b.reason.contains('|'), "{}", b.of);
        }
        let mut names: Vec<&str> = TABLE.iter().map(|b| b.of).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), TABLE.len());
    }

    /// What leans on something else keeps its distance to it.
    #[test]
    fn bounds_that_belong_together_fit_together() {
        assert!(DOCUMENT_BYTES.number >= 4 * JOB_FILE_BYTES.number);
        assert!(
            EDIT_BYTES.number >= DOCUMENT_BYTES.number && EDIT_VALUES.number >= EDIT_DOCUMENT_VALUES.number
        );
        assert!(PROBLEMS_TOLD.number < PROBLEMS_COUNTED.number);
        // Fifty places and more for every area, whatever else there is.
        assert!(JOB_PAIRS.number / AREAS.number / LOUDSPEAKERS.number >= 50);
        assert!(160 * AREA_PAIRS.number < CALCULATION_BYTES.number);
        assert!(AREA_CELLS.number < GRID_POINTS.number && GRID_POINTS.number < OUTLINE_PLACES.number);
        assert!(FOLDER_LIST_BYTES.number >= 1000 * FOLDER_FILES.number);
        let files_of_a_job = 1 + CATALOGUE_FILES.number + ATTACHMENTS.number;
        assert!(files_of_a_job <= FOLDER_FILES.number, "what goes out as a folder comes in as one");
        assert!(
            JOB_FILE_BYTES.number < READ_AT_ONCE_BYTES.number
                && READ_AT_ONCE_BYTES.number < 2 * JOB_FILE_BYTES.number
        );
        assert!(MADE_UP_CHARACTERS.number < TICKET_CHARACTERS.number.min(EDIT_ID_CHARACTERS.number));
        assert!(CODE_SHOWN_S.number < CODE_GOOD_S.number, "whoever reads a code has time to type it in");
        assert!(
            TOKEN_OVERLAP_S.number < TOKEN_RENEWED_S.number
                && 10 * TOKEN_RENEWED_S.number < TOKEN_GOOD_S.number
        );
        assert_eq!(SIGNAL_SAMPLES.number, RECORDING_SAMPLES.number);
        assert!(
            FOLDER_BYTES.number <= JOB_ROOM_BYTES.number,
            "a folder taken in fits into the job it becomes"
        );
        assert!(PROPOSALS_KEPT.number > WAITING_FOR_PROPOSALS.number + PROPOSALS_AT_ONCE.number);
        assert_eq!(PROPOSALS_S.number, 6 * PROPOSAL_WORK_S.number);
        assert!(2 * OWN_HANDLES.number < HANDLES.number && NETWORK_CONNECTIONS.number < HANDLES.number / 2);
    }
}
