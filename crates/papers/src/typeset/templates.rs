//! The templates of this crate by the path they have in the typesetting world.

macro_rules! templates {
    ($($name:literal),* $(,)?) => {
        /// Every template: name and text.
        pub const TEMPLATES: &[(&str, &str)] = &[$(($name, include_str!(concat!("../../templates/", $name)))),*];
    };
}

templates![
    "look.typ",
    "proposal.typ",
    "quotation.typ",
    "crew.typ",
    "as-built.typ",
    "before-work.typ",
    "work-plan.typ",
    "certificate.typ",
    "electrical.typ",
    "guide.typ",
    "labels.typ",
    "service.typ"
];
