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

        // The derive does not see a spelling that a macro hands on.
        #[cfg(feature = "schema")]
        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                utoipa::openapi::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::schema::Type::String)
                    .description(Some(concat!($($doc),+).trim()))
                    .enum_values(Some(Self::WORDS.iter().map(|(_, word, _)| *word)))
                    .into()
            }
        }

        #[cfg(feature = "schema")]
        impl utoipa::ToSchema for $name {}
    };
}
