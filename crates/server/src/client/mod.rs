//! What a client is shown by a link: one job, read only, without the app. The page is written here, whole, and needs no script
//! but for accepting.

mod changed;
mod page;
mod shown;

pub use changed::since_accepted;
pub use page::{gone, page};
pub use shown::Shown;
