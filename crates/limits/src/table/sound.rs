//! Places, loudspeakers and pictures of the sound.

bounds! {
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
}
