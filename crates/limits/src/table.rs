//! The table. One row per bound; a constant names each, [`TABLE`] holds them all in the order of the page.

use crate::bound::{Bound, Unit};

macro_rules! bounds {
    ($($(#[doc = $doc:literal])+ $name:ident = $most:literal $unit:ident, $of:literal, $reason:literal, $sentence:literal;)+) => {
        $(
            $(#[doc = $doc])+
            pub static $name: Bound =
                Bound { of: $of, most: $most, unit: Unit::$unit, reason: $reason, sentence: $sentence };
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
    /// Bytes of a price book or another file the papers read.
    PAPERS_FILE_BYTES = 4_000_000 Bytes,
        "size of a price book, a firm's profile, a language file or a calculator's input",
        "a price book of 20 000 rows has about 1 MB",
        "the file has {found}, and at most {most} are read";
    /// Samples of a recording, all channels together.
    RECORDING_SAMPLES = 8_000_000 Count,
        "samples of a recording, all channels together",
        "each takes some 70 bytes while the sweep is looked for; a sweep of 8 s in two channels at 48 kHz has a tenth of it",
        "the recording has {found} samples, and at most {most} are looked at: cut it to the sweep and a few seconds around it, or record at 48 kHz";
    /// Bytes of a page of history.
    HISTORY_BYTES = 8_000_000 Bytes,
        "size of one page of a job's history",
        "edits of a whole site may be large, and a page of them is held in memory; the next page begins where this one ends",
        "the page has {found}, and at most {most} are sent at once";

    /// Listening areas of a job.
    AREAS = 200 Count, "listening areas of a job", "each is sampled at some 400 places",
        "there are {found} listening areas, and at most {most} are worked with: join neighbouring ones";
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
    /// Pairs of all areas kept at once for the settings.
    TUNE_PAIRS = 2_000_000 Count, "places times loudspeakers kept while settings are worked out", "128 bytes each, all areas at once; beyond, they are sampled more coarsely",
        "the settings would need {found} pairs of a place and a loudspeaker, and at most {most} are kept";
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
    /// Straight pieces the ground map is made of.
    GROUND_LINES = 10_000 Count, "straight sides of everything drawn on the ground that cables are led over", "every corner of the map is held against each of them; a garden with a hundred outlines has some thousand",
        "the ground has {found} straight sides in all, and cables are led over at most {most}: draw outlines with fewer corners, or make it two jobs";
    /// Corners of the ground map.
    GROUND_CORNERS = 20_000 Count, "corners of the ground map, those included where lines cross", "the map has twice as many triangles as corners, and a way is looked for over all of them",
        "the ground map would have {found} corners or more, and cables are led over at most {most}: draw what crosses so often as one";
    /// Steps of the ground map's graph.
    GROUND_STEPS = 8_000_000 Count, "steps across the triangles of the ground map", "40 bytes each; beyond, places beside a wall get no points of their own on it, and the way from such a place to the wall is priced to some per cent",
        "the ground map would have {found} steps, and at most {most} are made";
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
    /// Seconds for a job folder.
    FOLDERS_S = 120 Seconds, "time for unpacking or packing a job folder over the network", "the largest takes some seconds on a slow machine",
        "the job folder was not done within {most}: with fewer or smaller photos it takes less";
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
    /// Connections of one address.
    CONNECTIONS_PER_ADDRESS = 64 Count, "connections from one address of the network", "a browser opens six and the live channel; handles of the system are few, and whoever sits at the computer needs some",
        "{found} connections from one address, and at most {most} are answered: the others are closed";
    /// Seconds a request's head may take.
    HEADER_S = 30 Seconds, "time for the head of a request, between two requests on one connection, and before what follows has to come in at 2 kB a second or more", "a slow network needs a second or two; who says nothing holds a handle of the system",
        "after {found} without a whole request the connection is closed; {most} are allowed";
    /// Seconds nothing of an answer is taken.
    STALLED_S = 30 Seconds, "time in which nothing of an answer or a picture is taken", "what is not taken is kept in memory for whoever does not read it",
        "after {found} in which nothing was taken the connection is closed; {most} are allowed";
    /// Wrong codes of one address in a minute.
    WRONG_CODES = 5 Count, "wrong codes for pairing from one address within a minute", "a code has 40 bits: five tries a minute find it in some hundred thousand years, and others pair meanwhile",
        "{found} wrong codes within a minute, and at most {most} are looked at: wait a minute, then type the code shown on the computer";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_whole_and_fits() {
        for b in TABLE {
            assert!(b.most > 0 && usize::try_from(b.most).is_ok(), "{}", b.of);
            assert!(b.reason.len() > 20 && !b.reason.ends_with('.'), "{}", b.of);
            assert!(b.sentence.contains("{most}"), "{}", b.of);
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
        assert!(DOCUMENT_BYTES.most >= 4 * JOB_FILE_BYTES.most);
        assert!(EDIT_BYTES.most >= DOCUMENT_BYTES.most && EDIT_VALUES.most >= EDIT_DOCUMENT_VALUES.most);
        assert!(PROBLEMS_TOLD.most < PROBLEMS_COUNTED.most);
        // Fifty places and more for every area, whatever else there is.
        assert!(JOB_PAIRS.most / AREAS.most / LOUDSPEAKERS.most >= 50);
        assert!(160 * AREA_PAIRS.most < CALCULATION_BYTES.most);
    }
}
