//! Key presses: a short line typed with cold hands, to what happened.
//!
//! One letter says what, the rest says which: `s port` is a strike on the rod `port`, `s` one that nobody saw the rod of.
//! The readings that a strategy declares have numbers. Any other reading is given by its name: `surface 54 °F`.

use super::log::{Run, rod_name};
use super::record::Told;
use crate::program::Program;
use crate::source::Fault;
use crate::vocabulary::kind::{Kind, same_word};
use crate::vocabulary::nearest::nearest;
use crate::vocabulary::print::{System, with_unit};

/// What a typed line asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Press {
    /// The call, now.
    Call,
    /// The whole advice, with its reasons.
    Why,
    /// What can be typed.
    Help,
    /// The end of the watch.
    Quit,
    /// Something happened.
    Happened(Told),
}

/// A reading that has a number.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Numbered {
    name: String,
    /// Its words; none where it is yes or no.
    words: Vec<String>,
}

/// What can be typed on a day of one strategy.
#[derive(Clone, Debug)]
pub struct Keys {
    numbered: Vec<Numbered>,
    system: System,
}

const LETTERS: [(&str, &str); 12] = [
    ("i", "lines in"),
    ("o", "lines out"),
    ("s [ROD]", "a strike"),
    ("f [ROD]", "the fish is landed"),
    (
        "r ROD depth 20 ft speed 2.5 mph lure spoon",
        "what a rod runs: depth, speed, size, setback, out, lure, colour, line, path",
    ),
    ("u ROD", "a rod comes up"),
    ("m, m n", "the sonar shows fish, or none"),
    ("n TEXT", "a note"),
    ("NAME VALUE", "any reading, such as surface 54 °F"),
    ("c, or nothing", "the call now"),
    ("w", "why: the whole advice"),
    ("q", "the end of the watch; lines come out first, with o"),
];

impl Keys {
    /// The keys of a program: its own yes-or-no and one-of readings have numbers, in the order they are declared.
    pub fn of(program: &Program) -> Self {
        let numbered = program.own.iter().filter_map(|own| {
            let words = match own.kind {
                Kind::YesNo => Vec::new(),
                Kind::OneOf(set) => program.sets.get(set.0 as usize)?.words.clone(),
                _ => return None,
            };
            Some(Numbered { name: own.name.clone(), words })
        });
        Self { numbered: numbered.collect(), system: program.system }
    }

    /// What can be typed, line by line.
    pub fn help(&self) -> String {
        let mut help = String::new();
        let mut line = |keys: &str, what: &str| help.push_str(&format!("  {keys}\n      {what}\n"));
        for (at, reading) in self.numbered.iter().enumerate() {
            let number = at + 1;
            if reading.words.is_empty() {
                line(&format!("{number} y, {number} n, {number} ?"), &format!("{}: yes, no, unknown", reading.name));
            } else {
                let what = format!("{}: {}; a word's first letters do", reading.name, reading.words.join(", "));
                line(&format!("{number} WORD"), &what);
            }
        }
        for (keys, what) in LETTERS {
            line(keys, what);
        }
        help
    }

    /// Reads a typed line.
    ///
    /// Errors: nothing that can be typed begins so; a rod, value or word is missing or not known.
    pub fn read(&self, line: &str) -> Result<Press, Fault> {
        let line = line.trim();
        // `3y` is `3 y`.
        let digits = line.bytes().take_while(u8::is_ascii_digit).count();
        let at = if digits > 0 { digits } else { line.find([' ', '=', '(']).unwrap_or(line.len()) };
        let (word, rest) = line.split_at(at);
        let argument = rest.trim();
        if digits > 0 {
            return self.numbered(word, argument).map(Press::Happened);
        }
        let rod = |argument: &str| match argument {
            "" => Ok(None),
            name => rod_name(name).map(Some),
        };
        let alone = |press: Press| match argument {
            "" => Ok(press),
            more => Err(Fault::new(format!("nothing follows `{word}`, but here is `{more}`"))),
        };
        let told = match word.to_lowercase().as_str() {
            "" | "c" => return alone(Press::Call),
            "w" => return alone(Press::Why),
            "h" | "?" | "help" => return alone(Press::Help),
            "q" => return alone(Press::Quit),
            "i" => return alone(Press::Happened(Told::Lines(true))),
            "o" => return alone(Press::Happened(Told::Lines(false))),
            "s" => Told::Strike(rod(argument)?),
            "f" => Told::Landed(rod(argument)?),
            "u" => Told::Up(rod_name(argument)?),
            "r" => self.run(argument)?,
            "m" => Told::Given(vec![("marks".to_owned(), yes_or_no("marks", argument, "yes")?)]),
            "n" if argument.is_empty() => return Err(Fault::new("a note has words: `n fog until seven`")),
            "n" => Told::Note(argument.to_owned()),
            letter if letter.chars().count() == 1 => {
                return Err(Fault::new(format!("`{word}` is no key here")).help("type ? for what is"));
            }
            _ => named(line)?,
        };
        Ok(Press::Happened(told))
    }

    fn numbered(&self, number: &str, value: &str) -> Result<Told, Fault> {
        let at = number.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
        let Some(reading) = at.and_then(|at| self.numbered.get(at)) else {
            let fault = Fault::new(format!("no reading has the number {number}"));
            return Err(fault.help("type ? for those that have one"));
        };
        let value = match (value, reading.words.is_empty()) {
            ("?", _) => "unknown".to_owned(),
            (value, true) => yes_or_no(&reading.name, value, "")?,
            (value, false) => word(reading, value)?,
        };
        Ok(Told::Given(vec![(reading.name.clone(), value)]))
    }

    /// A rod and what it runs: `port depth 20 ft speed 2.5 mph lure spoon`. A bare number is in the unit that advice is
    /// printed in.
    fn run(&self, argument: &str) -> Result<Told, Fault> {
        let words: Vec<&str> = argument.split_whitespace().collect();
        let key_of =
            |word: &str| Run::keys().find(|key| same_word(key, if same_word(word, "color") { "colour" } else { word }));
        let first = words.iter().position(|word| key_of(word).is_some()).unwrap_or(words.len());
        let (name, mut rest) = words.split_at(first);
        if name.is_empty() {
            return Err(
                Fault::new("`r` needs the rod first").help("write for instance `r port depth 20 ft lure spoon`")
            );
        }
        let name = rod_name(&name.join(" "))?;
        if rest.is_empty() && words.len() > 1 && nearest(words[words.len() - 1], Run::keys()).is_some() {
            return Err(Fault::new(format!("`{}` is nothing that a rod runs", words[words.len() - 1])));
        }
        let mut runs = Vec::new();
        let mut run = Run::default();
        while let Some((key, after)) = rest.split_first().and_then(|(word, after)| Some((key_of(word)?, after))) {
            let until = after.iter().position(|word| key_of(word).is_some()).unwrap_or(after.len());
            let (value, others) = after.split_at(until);
            let value = self.with_unit(key, &value.join(" "));
            if runs.iter().any(|(before, _)| *before == key) {
                return Err(Fault::new(format!("`{key}` stands here twice")));
            }
            run.set(key, &value).map_err(|fault| Fault { column: None, ..fault })?;
            runs.push((key, value));
            rest = others;
        }
        Ok(Told::Rod(name, runs))
    }

    fn with_unit(&self, key: &str, value: &str) -> String {
        let bare = !value.is_empty() && value.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
        let unit = Run::kind(key).filter(|_| bare).and_then(|kind| self.system.unit(kind, key == "size"));
        unit.map_or_else(|| value.to_owned(), |unit| with_unit(value, unit.symbol))
    }
}

fn yes_or_no(name: &str, value: &str, alone: &str) -> Result<String, Fault> {
    let value = if value.is_empty() { alone } else { value };
    match value.to_lowercase().as_str() {
        "y" | "yes" => Ok("yes".to_owned()),
        "n" | "no" => Ok("no".to_owned()),
        "?" | "unknown" => Ok("unknown".to_owned()),
        _ => Err(Fault::new(format!("`{name}` is `y`, `n` or `?`"))),
    }
}

/// The word that a text begins; a whole word wins over one that only begins so.
fn word(reading: &Numbered, value: &str) -> Result<String, Fault> {
    let lower = value.to_lowercase();
    let whole = reading.words.iter().find(|word| same_word(word, value));
    let begun: Vec<&String> = reading.words.iter().filter(|word| word.to_lowercase().starts_with(&lower)).collect();
    match (whole, begun.as_slice(), value) {
        (Some(word), ..) => Ok(word.clone()),
        (None, [one], _) => Ok((*one).clone()),
        (None, _, "") => Err(Fault::new(format!("`{}` is one of {}", reading.name, reading.words.join(", ")))),
        (None, [], _) => {
            Err(Fault::new(format!("`{value}` is no word of `{}`: {}", reading.name, reading.words.join(", "))))
        }
        (None, several, _) => {
            let several: Vec<&str> = several.iter().map(|word| word.as_str()).collect();
            Err(Fault::new(format!("`{value}` begins {}: type more of it", several.join(" and "))))
        }
    }
}

/// A reading by its name: `surface 54 °F`, `depth_of(62 °F) 31 ft`, `surface=54 °F`.
fn named(line: &str) -> Result<Told, Fault> {
    let closes = match (line.find('('), line.find([' ', '='])) {
        (Some(open), until) if until.is_none_or(|until| open < until) => line.find(')').map(|at| at + 1),
        (_, until) => until,
    };
    let (name, value) = line.split_at(closes.unwrap_or(line.len()));
    let value = value.trim_start_matches([' ', '=']).trim();
    if value.is_empty() {
        let fault = Fault::new(format!("`{line}` says no value"));
        return Err(fault.help("write a reading and its value, such as `surface 54 °F`; type ? for the keys"));
    }
    Ok(Told::Given(vec![(name.trim().to_owned(), value.to_owned())]))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn keys() -> Keys {
        let numbered = |name: &str, words: &[&str]| Numbered {
            name: name.to_owned(),
            words: words.iter().map(|word| (*word).to_owned()).collect(),
        };
        let numbered = vec![numbered("bait_fish", &[]), numbered("mood", &["sulking", "following", "chasing"])];
        Keys { numbered, system: System::Us }
    }

    fn given(name: &str, value: &str) -> Result<Press, Fault> {
        Ok(Press::Happened(Told::Given(vec![(name.to_owned(), value.to_owned())])))
    }

    fn refused(line: &str) -> String {
        keys().read(line).err().map(|fault| fault.message).unwrap_or_default()
    }

    #[test]
    fn a_few_presses_say_what_happened() {
        let keys = keys();
        let happened = |told| Ok(Press::Happened(told));
        assert_eq!(keys.read(""), Ok(Press::Call));
        assert_eq!(keys.read(" I "), happened(Told::Lines(true)));
        assert_eq!(keys.read("s"), happened(Told::Strike(None)));
        assert_eq!(keys.read("s port"), happened(Told::Strike(Some("port".to_owned()))));
        assert_eq!(keys.read("1y"), given("bait_fish", "yes"));
        assert_eq!(keys.read("1 ?"), given("bait_fish", "unknown"));
        assert_eq!(keys.read("2 fo"), given("mood", "following"));
        assert_eq!(keys.read("m n"), given("marks", "no"));
        assert_eq!(keys.read("surface 54 °F"), given("surface", "54 °F"));
        assert_eq!(keys.read("depth_of(62 °F) 31 ft"), given("depth_of(62 °F)", "31 ft"));
        assert_eq!(keys.read("surface=54 °F"), given("surface", "54 °F"));
    }

    #[test]
    fn a_rod_runs_what_is_typed_in_the_units_of_the_advice() {
        let runs = vec![("depth", "20 ft".to_owned()), ("size", "3.5 in".to_owned()), ("lure", "spoon".to_owned())];
        let told = Told::Rod("port side".to_owned(), runs);
        assert_eq!(keys().read("r port side depth 20 size 3.5 lure spoon"), Ok(Press::Happened(told)));
        assert_eq!(refused("r port depth -3 ft"), "`-3 ft` is outside what is physically plausible for `depth`");
        assert_eq!(refused("r port depth 20 ft depth 30 ft"), "`depth` stands here twice");
        assert_eq!(refused("r depth 20 ft"), "`r` needs the rod first");
    }

    #[test]
    fn what_is_no_key_is_told() {
        assert_eq!(refused("z"), "`z` is no key here");
        assert_eq!(refused("9 y"), "no reading has the number 9");
        assert_eq!(refused("1 x"), "`bait_fish` is `y`, `n` or `?`");
        assert_eq!(refused("2 x"), "`x` is no word of `mood`: sulking, following, chasing");
        assert_eq!(refused("i now"), "nothing follows `i`, but here is `now`");
        assert_eq!(refused("surface"), "`surface` says no value");
    }
}
