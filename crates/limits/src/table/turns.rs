//! Time and turns for work over the network, and what is kept for whoever asks next.

bounds! {
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
    /// Seconds between two signs of life of a worker.
    WORKER_HEARD_S = 2 Seconds, "time between two signs of life of a worker, and between two looks for workers that gave none", "a statement of a millisecond each; more rarely, a worker that was killed is missed later",
        "the worker was silent for {found}, and it gives a sign every {most}";
    /// Seconds of silence after which what a worker was at goes to another.
    WORKER_LOST_S = 8 Seconds, "silence of a worker after which another takes over what it was at", "a machine that is merely busy is silent for a second or two; with the looks between, whoever waits has another worker within fifteen",
        "the worker was silent for {found}: after {most} another takes over what it was at";
    /// Times one task is begun.
    TASK_TURNS = 3 Count, "times a task is begun whose workers ended in the middle of it", "a machine is lost now and then; what ends three of them would end them all",
        "this was begun {found} times and its worker ended each time before it was done; it is not begun more than {most} times";
    /// Seconds the outcome of a task is kept.
    TASK_KEPT_S = 86_400 Seconds, "time the outcome of a task is kept in the database", "a day: whoever asked looks at it within minutes; each takes some hundred kilobytes",
        "it was done {found} ago: after {most} it is let go, and made again when somebody asks";
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
}
