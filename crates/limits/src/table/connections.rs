//! Connections, the end of the server, and letting devices in.

bounds! {
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
    /// Seconds between two words to other servers of who looks at a job here.
    PRESENT_TOLD_S = 10 Seconds, "time between two words to other servers of who looks at a job here, where nobody came or went", "a word is a notice of a hundred bytes; more rarely, who comes by way of a server that starts anew is missed longer",
        "other servers were told {found} ago who looks at the job: they are told every {most}";
    /// Seconds after which people of a server that says nothing are gone.
    PRESENT_GONE_S = 30 Seconds, "silence of a server after which those who looked at a job by way of it are gone", "three words that were lost; people of a server that was killed are shown for as long",
        "the server said nothing for {found}: after {most} its people are gone";
    /// Bytes of one word to other servers.
    PRESENT_BYTES = 7000 Bytes, "bytes of one word to other servers of who looks at a job", "a notice of the database has less than 8000; a hundred names fit",
        "the names of who looks at the job are {found}, and at most {most} go to other servers: the rest are shown here alone";
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
    /// Seconds a sign-in that was begun waits for its answer.
    SIGN_IN_S = 600 Seconds, "time between asking a passkey or an identity provider and its answer", "whoever looks for a key, or types a second factor, needs minutes; an answer that was kept back is of no use later",
        "the sign-in was begun {found} ago: after {most} it is begun anew";
    /// Sign-ins begun from one address that wait for an answer.
    SIGN_INS_OF_ONE = 32 Count, "sign-ins begun from one address that wait for their answers", "a firm's people may share one address, and each begins one; whoever begins more loses their own oldest",
        "{found} sign-ins were begun from one address, and at most {most} are waited for: the oldest is forgotten";
    /// Sign-ins that wait for an answer.
    SIGN_INS_WAITING = 4096 Count, "sign-ins that wait for their answers", "each takes some hundred bytes, and a network of strangers may begin any number",
        "{found} sign-ins were begun, and at most {most} are waited for: the oldest is forgotten";
    /// Passkeys of one person.
    PASSKEYS_OF_ONE = 20 Count, "passkeys of one person", "one for each device that does not share them, and a spare; browsers are told all of them when another is made",
        "there would be {found} passkeys, and at most {most} are kept: take one away that is not used any more";
    /// Seconds an identity provider has to answer.
    PROVIDER_S = 10 Seconds, "time an identity provider has to answer", "it takes tenths of a second; somebody looks at the screen meanwhile",
        "the provider did not answer within {found}; {most} are waited";
    /// Bytes of an identity provider's answer.
    PROVIDER_BYTES = 262_144 Bytes, "bytes of an identity provider's answer", "what it can do and its keys take some kilobytes; a token with hundreds of groups in it takes tens",
        "the provider's answer has {found}, and at most {most} are read";
    /// Seconds for which what an identity provider can do is known.
    PROVIDER_KNOWN_S = 600 Seconds, "time for which what an identity provider says it can do is known without asking again", "it changes a few times a year; its keys are asked for at every sign-in",
        "the provider was asked {found} ago: after {most} it is asked again";
    /// Addresses whose wrong codes are remembered.
    ADDRESSES_REMEMBERED = 4096 Count, "addresses whose wrong codes are remembered", "each takes some hundred bytes, and a network of strangers may have any number",
        "wrong codes came from {found} addresses, and those of {most} are remembered: the one longest quiet is forgotten";
}
