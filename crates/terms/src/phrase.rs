//! Sentences made from templates, so that they can be said in another language.
//!
//! The English template is the key: [`crate::say!`] takes it with what its names in braces stand for, and the sentence keeps
//! both. `language/es.json` has the same template in Spanish, with the same names in whatever order that language wants them,
//! `language/en-us.json` what is worded otherwise in the United States. A template that a language lacks is said in English; a
//! check reads every template in the sources and holds the files against them.

use crate::told::{Said, Sentence};
use std::collections::BTreeMap;
use std::sync::LazyLock;

const AMERICAN_ENGLISH: &str = include_str!("../language/en-us.json");
const SPANISH: &str = include_str!("../language/es.json");

static IN_AMERICAN_ENGLISH: LazyLock<Phrases> =
    LazyLock::new(|| Phrases::read(AMERICAN_ENGLISH).unwrap_or_default());
static IN_SPANISH: LazyLock<Phrases> = LazyLock::new(|| Phrases::read(SPANISH).unwrap_or_default());
static IN_ENGLISH: LazyLock<Phrases> = LazyLock::new(Phrases::default);

/// The languages that have phrases of their own, by name.
const OTHER_LANGUAGES: [&str; 2] = ["en-us", "es"];

/// Makes a [`Sentence`] from a template: `say!("Run {run} is open.", run = name)`.
#[macro_export]
macro_rules! say {
    ($template:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $crate::Sentence::of($template, vec![$((stringify!($name), $crate::Sentence::from($value))),*])
    };
}

/// A template by itself, for code that puts its values in later.
#[macro_export]
macro_rules! template {
    ($template:literal) => {
        $template
    };
}

/// Templates in another language, by the English ones.
#[derive(Debug, Clone, Default)]
pub struct Phrases {
    by_english: BTreeMap<String, String>,
}

impl Phrases {
    /// Those of a language by its name (`es`, `en-us`); none, and so English, for a name without a file.
    pub fn of(language: &str) -> &'static Self {
        match language {
            "es" => &IN_SPANISH,
            "en-us" => &IN_AMERICAN_ENGLISH,
            _ => &IN_ENGLISH,
        }
    }

    /// Those of every language that says anything otherwise than English does, by their names.
    pub fn others() -> impl Iterator<Item = (&'static str, &'static Self)> {
        OTHER_LANGUAGES.into_iter().map(|name| (name, Self::of(name)))
    }

    fn read(text: &str) -> Result<Self, serde_json::Error> {
        serde_json::from_str(text).map(|by_english| Self { by_english })
    }

    /// A template in this language; as it is in English where there is none.
    pub fn say<'t>(&'t self, english: &'t str) -> &'t str {
        self.by_english.get(english).map_or(english, String::as_str)
    }
}

impl Sentence {
    /// A sentence from a template and what its names in braces stand for. [`crate::say!`] writes the call.
    pub fn of(template: &'static str, values: Vec<(&'static str, Self)>) -> Self {
        let mut made = filled(template, &values);
        let place = 0..made.as_str().len();
        made.said = vec![Said { place, template, values, capital: false }];
        made
    }

    /// The sentence in a language: what was made from templates as that language has them, anything else as it is.
    #[must_use]
    pub fn spoken(&self, phrases: &Phrases) -> Self {
        let (mut all, mut from) = (Self::default(), 0);
        for said in &self.said {
            let values = said.values.iter().map(|(name, value)| (*name, value.spoken(phrases)));
            let one = filled(phrases.say(said.template), &values.collect::<Vec<_>>());
            let one = if said.capital { one.capitalised() } else { one };
            all = all + self.piece(from..said.place.start) + one;
            from = said.place.end;
        }
        all + self.piece(from..self.as_str().len())
    }
}

/// `A`, `A and B`, `A, B and C`, to be said in any language.
#[must_use]
pub fn all_of<S: AsRef<str>>(names: &[S]) -> Sentence {
    joined(names, |first, last| say!("{first} and {last}", first = first, last = last))
}

/// `A`, `A or B`, `A, B or C`, to be said in any language.
#[must_use]
pub fn any_of<S: AsRef<str>>(names: &[S]) -> Sentence {
    joined(names, |first, last| say!("{first} or {last}", first = first, last = last))
}

/// As [`all_of`], of parts that are themselves said in any language.
#[must_use]
pub fn each_of(parts: impl IntoIterator<Item = Sentence>) -> Sentence {
    let mut parts: Vec<Sentence> = parts.into_iter().collect();
    let Some(last) = parts.pop() else { return Sentence::default() };
    if parts.is_empty() {
        return last;
    }
    say!("{first} and {last}", first = one_after_another(parts), last = last)
}

/// Parts that are said in any language, with commas between them.
#[must_use]
pub fn one_after_another(parts: impl IntoIterator<Item = Sentence>) -> Sentence {
    let joined = |all: Sentence, part: Sentence| if all.is_empty() { part } else { all + ", " + part };
    parts.into_iter().fold(Sentence::default(), joined)
}

/// A list with its last name joined on by `join`.
fn joined<S: AsRef<str>>(names: &[S], join: impl Fn(String, &str) -> Sentence) -> Sentence {
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
    match names.as_slice() {
        [] => Sentence::default(),
        [only] => (*only).into(),
        [first @ .., last] => join(first.join(", "), last),
    }
}

/// A template with its names in braces replaced; one that nothing is given for stays as it is.
fn filled(template: &str, values: &[(&'static str, Sentence)]) -> Sentence {
    let (mut all, mut rest) = (Sentence::default(), template);
    while let Some((before, name, after)) = placeholder(rest) {
        let value = values.iter().find(|(known, _)| *known == name);
        debug_assert!(value.is_some(), "nothing stands for {{{name}}} in {template:?}");
        all = all + before;
        all = match value {
            Some((_, value)) => all + value.clone(),
            None => all + format!("{{{name}}}"),
        };
        rest = after;
    }
    all + rest
}

/// The text before the first name in braces, the name, the text behind it.
fn placeholder(text: &str) -> Option<(&str, &str, &str)> {
    let (before, opened) = text.split_once('{')?;
    let (name, after) = opened.split_once('}')?;
    Some((before, name, after))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::told::Measure;

    fn phrases(pairs: &[(&str, &str)]) -> Phrases {
        let own = |(english, other): &(&str, &str)| ((*english).to_owned(), (*other).to_owned());
        Phrases { by_english: pairs.iter().map(own).collect() }
    }

    #[test]
    fn the_files_are_read_and_keep_every_name() {
        let files = [SPANISH, AMERICAN_ENGLISH].map(|file| Phrases::read(file).unwrap().by_english);
        assert!(files[0].len() > 20 && !files[1].is_empty());
        let names = |mut text: &str| {
            let mut all = Vec::new();
            while let Some((_, name, after)) = placeholder(text) {
                all.push(name.to_owned());
                text = after;
            }
            all.sort();
            all.dedup();
            all
        };
        for (english, own) in files.iter().flatten() {
            assert_eq!(names(english), names(own), "{english}");
        }
    }

    #[test]
    fn a_sentence_is_said_in_another_language_with_its_measures() {
        let run = say!("run {name}, {length}", name = "A1", length = Measure::Length(6.096));
        let open = say!("{run} is open.{more}", run = run.capitalised(), more = Sentence::default());
        let whole = Sentence::from("Line A: ") + open + " Really.";
        assert_eq!(whole, "Line A: Run A1, 6.1 m is open. Really.");
        let other = phrases(&[
            ("run {name}, {length}", "tramo {name} de {length}"),
            ("{run} is open.{more}", "Abierto: {run}.{more}"),
        ]);
        let said = whole.spoken(&other);
        assert_eq!(said, "Line A: Abierto: Tramo A1 de 6.1 m. Really.");
        assert_eq!(said.written(|_| "20 ft".to_owned()), "Line A: Abierto: Tramo A1 de 20 ft. Really.");
        // A language without phrases leaves everything as it was.
        assert_eq!(whole.spoken(Phrases::of("en")).as_str(), whole.as_str());
        assert_eq!(whole.spoken(Phrases::of("en")).placed(), whole.placed());
    }

    #[test]
    fn a_list_ends_with_the_word_of_its_language() {
        assert_eq!(all_of(&["A", "B", "C"]), "A, B and C");
        assert_eq!((any_of(&["A"]), any_of::<&str>(&[])), ("A".into(), "".into()));
        let own = phrases(&[("{first} or {last}", "{first} o {last}")]);
        assert_eq!(any_of(&["A", "B"]).spoken(&own), "A o B");
    }

    #[test]
    fn parts_of_a_list_are_said_in_its_language() {
        let runs = |names: &[&'static str]| -> Vec<Sentence> {
            names.iter().map(|name| say!("run {name}", name = *name)).collect()
        };
        let own = phrases(&[("{first} and {last}", "{first} y {last}"), ("run {name}", "tramo {name}")]);
        let said = |names: &[&'static str]| each_of(runs(names)).spoken(&own).to_string();
        assert_eq!(each_of(runs(&["A", "B", "C"])), "run A, run B and run C");
        assert_eq!(said(&["A", "B", "C"]), "tramo A, tramo B y tramo C");
        assert_eq!((said(&["A"]), said(&[])), ("tramo A".to_owned(), String::new()));
    }
}
