//! Words that others share (`loamline_terms`), as a document spells them.

use super::{Choice, SchemaDefault};
use crate::units::Units;
use loamline_terms::{FlowClass, Laying, Polarity, Strands, Supply};

macro_rules! shared_words {
    ($($name:ident),+) => { $(
        impl Choice for $name {
            const ALL: &'static [(Self, &'static str, &'static str)] = Self::WORDS;
        }

        impl SchemaDefault for $name {
            fn schema_default(&self) -> Option<serde_json::Value> {
                Some(Choice::word(*self).into())
            }
        }
    )+ };
}

shared_words!(FlowClass, Laying, Polarity, Strands, Supply, Units);
