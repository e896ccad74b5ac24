//! Turns keys into marks: a letter stands for a word such as "bed" or "corner", and after some of them more is typed. The result is a line
//! of text just as it could come on the second input.

use super::Key;

/// What is being typed after a key.
#[derive(Debug, Default)]
pub struct Typed {
    /// The word that the key stands for, and the time at which it was pressed.
    word: Option<(&'static str, String)>,
    pub text: String,
}

/// The keys, the word that each stands for, and what is asked after it, if anything is.
pub const KEYS: [(char, &str, Option<&str>); 9] = [
    ('b', "bed", Some("Diameter of the bed, and its name: ")),
    ('c', "corner", None),
    ('s', "start", None),
    ('x', "end", None),
    ('l', "lawn", None),
    ('e', "edge", None),
    ('n', "note", Some("Note: ")),
    ('u', "undo", None),
    ('q', "finish", None),
];

impl Typed {
    /// The question with what was typed so far; `None` while nothing is being typed.
    #[must_use]
    pub fn asked(&self) -> Option<String> {
        let (word, _) = self.word.as_ref()?;
        let (_, _, question) = KEYS.iter().find(|(_, known, _)| known == word)?;
        Some(format!(
            "{}{}_",
            question.as_deref().unwrap_or_default(),
            self.text
        ))
    }

    /// Takes a key that was pressed at this time of the day. Gives a line once one is complete; it has the time at which its first key was
    /// pressed.
    pub fn key(&mut self, key: Key, time: &str) -> Option<String> {
        let Some((word, pressed)) = &self.word else {
            let Key::Letter(letter) = key else {
                return None;
            };
            let (_, word, question) = KEYS.iter().find(|(known, ..)| *known == letter)?;
            if question.is_none() {
                return Some((*word).to_owned());
            }
            self.word = Some((word, time.to_owned()));
            return None;
        };
        match key {
            Key::Letter(letter) if self.text.len() < 200 => self.text.push(letter),
            Key::Letter(_) => {}
            Key::Back => drop(self.text.pop()),
            Key::Escape => *self = Typed::default(),
            Key::Enter => {
                let line = format!("{pressed} {word} {}", self.text);
                *self = Typed::default();
                return Some(line);
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bed_is_where_its_key_was_pressed() {
        let mut typed = Typed::default();
        let mut press = |keys: &str, time: &str| {
            let keys = keys.chars().map(|letter| match letter {
                '\n' => Key::Enter,
                '<' => Key::Back,
                '!' => Key::Escape,
                letter => Key::Letter(letter),
            });
            keys.filter_map(|key| typed.key(key, time))
                .collect::<Vec<_>>()
        };
        assert!(press("b", "10:00:00").is_empty());
        assert_eq!(press("0.8<7\n", "10:00:05"), ["10:00:00 bed 0.7"]);
        assert_eq!(press("cz", "10:00:06"), ["corner"]);
        assert_eq!(press("nqq!u", "10:00:07"), ["undo"]);
    }
}
