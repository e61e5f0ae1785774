//! Proposals and papers, and results kept of a job.

bounds! {
    /// Listening areas that are designed together.
    DESIGNED_TOGETHER = 12 Count, "listening areas of a proposal that are designed together", "what each place for a loudspeaker gives at each point of every area is looked at, so that work grows with the square of the site; beyond, areas that hardly hear one another are designed apart and settled together",
        "the job has {found} listening areas, and up to {most} are designed together";
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
    DETAIL_SHEETS = 60 Count, "detail sheets of a plan", "each is drawn with all that is on it, and an estate of 1000 loudspeakers takes some 40; a coarser scale is taken beyond",
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
}
