//! Ways for cables, cut lists and what readings mean.

bounds! {
    /// Straight pieces the ground map is made of.
    GROUND_LINES = 10_000 Count, "straight sides of everything drawn on the ground that cables are led over", "every corner of the map is held against each of them; a garden with a hundred outlines has some thousand",
        "the ground has {found} straight sides in all, and cables are led over at most {most}: draw outlines with fewer corners, or make it two jobs";
    /// Corners of the ground map.
    GROUND_CORNERS = 20_000 Count, "corners of the ground map, those included where lines cross", "the map has twice as many triangles as corners, and a way is looked for over all of them",
        "the ground map would have {found} corners or more, and cables are led over at most {most}: draw what crosses so often as one";
    /// Steps of the ground map's graph.
    GROUND_STEPS = 8_000_000 Count, "steps across the triangles of the ground map", "40 bytes each; beyond, places beside a wall get no points of their own on it, and the way from such a place to the wall is priced to some per cent",
        "the ground map would have {found} steps, and at most {most} are made";
    /// Corners of a ground map over the whole of which every way is looked for.
    WHOLE_GROUND_CORNERS = 700 Count, "corners of the ground map for every way to be looked for over the whole of it", "a garden or a hotel has a few hundred; beyond, a way is looked for in the ground around its ends, and over the whole only where it is not found there",
        "the ground map has {found} corners, and over up to {most} every way is looked for over the whole";
    /// Loudspeakers and starts that are routed together.
    ROUTED_TOGETHER = 150 Count, "loudspeakers and starts of lines that are routed together", "runs between all of them are priced, so that time and memory grow with the square; beyond, lines are routed rack by rack, and each takes what the others open",
        "{found} loudspeakers and starts are to be joined, and up to {most} are routed together: the lines of one rack after the other";
    /// Lines whose trunks are judged on the whole job.
    TRUNKS_JUDGED_TOGETHER = 40 Count, "lines of a job whose trunks are judged on all of it", "each trunk that is tried is drawn and priced with all lines; beyond, with the lines of its own start, and the whole once at the end",
        "the job has {found} lines, and trunks are judged on all of them up to {most}";
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
}
