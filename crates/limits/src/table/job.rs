//! How many things a job has.

bounds! {
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
    /// Zones or phases of a job.
    ZONES = 200 Count, "zones or phases of a job", "each has papers and a bill of its own",
        "there are {found} of them, and at most {most} are worked with: join those that are built together";
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
}
