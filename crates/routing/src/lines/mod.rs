//! Lines: which cable goes from where to where, at least installed cost, within power and loss.

mod answer;
mod apart;
mod box_places;
mod boxes;
mod branching;
mod chain;
mod check;
mod districts;
mod loss;
mod net;
mod parting;
mod prices;
mod problem;
mod realise;
mod sited;
mod solve;
#[cfg(test)]
mod tests;
mod told;
mod wanted;

pub use answer::{BranchBox, LineFinding, RoutedLine, RoutedLines, RoutedRun, SleeveUse, Totals, Work};
pub use check::{LineProblemError, LinesError};
pub use loss::{ConstantVoltage, LineNode, LossModel};
pub use parting::{Bundle, BundledLine, Parting};
pub use problem::{Feed, FixedRun, LineCable, LineProblem, LossLimit, Mode, StubOut, Terminal};
