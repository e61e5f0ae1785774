//! The words programs go by when something is refused.

use serde::Serialize;
use utoipa::ToSchema;

/// Why something was refused, as a word for programs. The page of the interface lists what stands here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ErrorCode {
    /// What was sent cannot be read at all.
    BadRequest,
    /// The job has changed since it was looked at.
    Behind,
    /// Too many wait for the same kind of work, or what keeps the jobs does not answer now; the answer says when to ask again.
    Busy,
    /// Two edits of the same thing: the answer says what met what.
    Conflict,
    /// An edit with this id has been made, and was another one.
    EditIdTaken,
    /// Something inside the program gave up.
    Failed,
    /// This is only for the computer the program runs on, or only for pages it served itself.
    Forbidden,
    /// What was sent can be read and makes no sense: the answer says where.
    Invalid,
    /// The job would keep more plans and photos than one job may.
    JobFull,
    /// A visit keeps what the undo would take away.
    KeptByVisit,
    /// Something that was done later needs what would be taken back.
    NeededLater,
    /// Nobody signs in this way here: at the computer itself, where the server is known by a number, or without accounts of the
    /// firm's.
    NoSignIn,
    /// The role of the device, or of whoever asks, does not allow it.
    NotAllowed,
    /// This program was built without the part asked for.
    NotBuilt,
    /// There is no such thing.
    NotFound,
    /// The device has not been paired with this computer, or not any more.
    NotPaired,
    /// Nothing is shared with phones at the moment.
    NotShared,
    /// Who wants to sign in is not let in: what was shown is not known, not believed, or was used before.
    NotSignedIn,
    /// The job has too little in it for this to be worked out; nothing is wrong with the request.
    NotYet,
    /// There is nothing to undo or redo.
    NothingToDo,
    /// The file the jobs are kept in does not take or give what was asked.
    Store,
    /// Another program writes these jobs now.
    TakenOver,
    /// More than is taken.
    TooLarge,
    /// Too often in too short a time.
    TooMany,
    /// The code for pairing is another.
    WrongCode,
    /// The address knows another method.
    WrongMethod,
    /// What was sent, or what is wanted, is of a type this address does not have.
    WrongType,
}
