//! Words with a spelling in documents.

/// Declares a set of words: the enum, and in `WORDS` each with its spelling in documents and a line of description.
macro_rules! words {
    (
        $(#[doc = $doc:literal])+
        $name:ident { $( $(#[doc = $vdoc:literal])+ $variant:ident = $word:literal ),* $(,)? }
    ) => {
        $(#[doc = $doc])+
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
        pub enum $name { $( $(#[doc = $vdoc])+ #[serde(rename = $word)] $variant, )* }

        impl $name {
            /// Every one with its spelling in documents and a line of description, in their order.
            pub const WORDS: &'static [(Self, &'static str, &'static str)] =
                &[$( (Self::$variant, $word, concat!($($vdoc),+)) ),*];
        }
    };
}
