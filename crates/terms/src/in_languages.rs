//! What is said in other languages, beside the English: a browser or a program shows the one its reader wants, and no answer has to
//! be made again for it.

use crate::phrase::Phrases;
use crate::told::{PlacedMeasure, Sentence};
use serde::Serialize;
use std::collections::BTreeMap;

/// What is said, in one language.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct InLanguage {
    /// What is the matter.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// The measures in it; none where it has none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<PlacedMeasure>,
    /// What would mend it, where that is said.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = String, nullable = false))]
    pub mend: Option<Sentence>,
}

/// A sentence, and what would mend it, in every language that says either otherwise, by its name (`en-us`, `es`).
#[must_use]
pub fn in_languages(sentence: &Sentence, mend: Option<&Sentence>) -> BTreeMap<String, InLanguage> {
    let one = |(name, phrases): (&str, &Phrases)| {
        let (said, mended) = (sentence.spoken(phrases), mend.map(|mend| mend.spoken(phrases)));
        let same = said.as_str() == sentence.as_str() && mended.as_deref() == mend.map(Sentence::as_str);
        let own = InLanguage { measures: said.placed(), sentence: said, mend: mended };
        (!same).then(|| (name.to_owned(), own))
    };
    Phrases::others().filter_map(one).collect()
}

/// A sentence with its measures beside it, for an app that shows them in other units.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Told {
    /// What is said.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// The measures in the sentence; none where it has none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<PlacedMeasure>,
    /// The same in the languages that say it otherwise, by their names; none where none does.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
}

impl<S: Into<Sentence>> From<S> for Told {
    fn from(sentence: S) -> Self {
        let sentence = sentence.into();
        Self { measures: sentence.placed(), spoken: in_languages(&sentence, None), sentence }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::say;
    use crate::told::Measure;

    /// The Spanish of "run" and "joint" is in docs/glossary.md.
    #[test]
    fn what_is_said_otherwise_stands_beside_the_english() {
        let run = say!(
            "run {run} ({from} to {to}, {length} of cable as laid)",
            run = "A1",
            from = "R1",
            to = "L1",
            length = Measure::Length(3.0)
        );
        let all = in_languages(&run, Some(&say!("joint {joint}", joint = "J1")));
        assert_eq!(all.keys().collect::<Vec<_>>(), ["es"]);
        let own = &all["es"];
        assert_eq!(
            (own.sentence.as_str(), own.mend.as_deref()),
            ("tramo A1 (R1 a L1, 3.0 m de cable tendido)", Some("el empalme J1"))
        );
        assert_eq!(own.measures, own.sentence.placed());
        assert_eq!(own.measures.len(), 1);
        // What is made from no template is said in English everywhere, and is not repeated.
        assert!(in_languages(&"Plain words.".into(), None).is_empty());
    }

    /// What a browser is sent says where the measures are, as a finding does; a sentence without any says nothing of them.
    #[test]
    fn what_is_told_carries_its_measures() {
        let told = Told::from(Sentence::from("2 of them, ") + Measure::Length(17.0) + " apart.");
        let sent = serde_json::json!({
            "sentence": "2 of them, 17.0 m apart.",
            "measures": [{ "from": 11, "to": 17, "kind": "length", "value": 17.0 }],
        });
        assert_eq!(serde_json::to_value(&told).unwrap(), sent);
        let plain = serde_json::json!({ "sentence": "The reading agrees." });
        assert_eq!(serde_json::to_value(Told::from("The reading agrees.")).unwrap(), plain);
    }
}
