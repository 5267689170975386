//! The registry of finding codes. A released code is never given another meaning.

/// How bad a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The strategy can't be used.
    Error,
    /// The strategy can be used, and probably does not do what was meant.
    Warning,
    /// Worth knowing; shown when asked for.
    Note,
}

impl Severity {
    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Severity::Error => "error",
            Severity::Warning => "warning",
            Severity::Note => "note",
        }
    }
}

macro_rules! codes {
    ($($severity:ident { $($code:ident = $name:literal, $meaning:literal;)* })*) => {
        /// What sort of finding it is.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code { $($(#[doc = $meaning] $code),*),* }

        impl Code {
            /// Every code.
            pub const ALL: &'static [Code] = &[$($(Code::$code),*),*];

            /// The name it is printed under.
            pub fn name(self) -> &'static str {
                match self { $($(Code::$code => $name),*),* }
            }

            /// What it means, in one sentence.
            pub fn meaning(self) -> &'static str {
                match self { $($(Code::$code => $meaning),*),* }
            }

            /// How bad it is.
            pub fn severity(self) -> Severity {
                match self { $($(Code::$code => Severity::$severity),*),* }
            }
        }
    };
}

codes! {
    Error {
        NotText = "not-text", "The file is not UTF-8 text.";
        TooLarge = "too-large", "The source is past a limit of size: bytes, rules or levels of nesting.";
        StrayCharacter = "stray-character", "A character stands where the language has none.";
        UnclosedText = "unclosed-text", "A text has no closing quote on its line.";
        UnclosedBracket = "unclosed-bracket", "A bracket is opened and not closed.";
        Syntax = "syntax", "The words don't make a statement.";
        Misspelt = "misspelt", "A word of the language seems misspelt.";
        MissingComma = "missing-comma", "A comma is missing between two items.";
        MissingQuotes = "missing-quotes", "A name or text stands without quotes.";
        BadNumber = "bad-number", "A number is written in a way the language does not know, or does not fit.";
        ReservedName = "reserved-name", "A reserved word, unit, aspect or the like can't be a name.";
        LongName = "long-name", "A name has more than 64 characters.";
        NameTwice = "name-twice", "A name is given twice.";
        UnknownName = "unknown-name", "Nothing has this name.";
        UnknownUnit = "unknown-unit", "There is no such unit.";
        UnknownWord = "unknown-word", "The word is not one of those that may stand here.";
        UnknownAspect = "unknown-aspect", "There is no such aspect of a tactic.";
        Kinds = "kinds", "Values of different kinds are compared, added or put in each other's place.";
        NeedsUnit = "needs-unit", "A number stands without the unit it needs.";
        ReversedRange = "reversed-range", "A range runs from the greater to the lesser value.";
        Arguments = "arguments", "A call does not get what it takes.";
        NoStrategy = "no-strategy", "The file does not begin with a strategy statement.";
        IncludedOnly = "included-only", "The file is made to be included by another.";
        Include = "include", "An included file is missing, loops, or lies outside the strategy's folder.";
        ClauseTwice = "clause-twice", "A clause stands twice where it may stand once.";
        AspectTwice = "aspect-twice", "A rule decides an aspect twice.";
        Incomplete = "incomplete", "A statement lacks something it must have.";
        Misplaced = "misplaced", "A clause stands where it can't: `if` at the end, `changes`, `for` or `settling`.";
        TwiceInTrial = "twice-in-trial", "A trial gives or expects something twice in one moment.";
        TrialTime = "trial-time", "A trial's times can't be: it passes midnight, or nothing passes.";
    }
    Warning {
        Hides = "hides", "An own name hides a name of the catalogue.";
        Implausible = "implausible", "A value lies outside what is physically plausible for its reading.";
        Never = "never", "A condition is never true.";
        Always = "always", "A condition is always true.";
        DeadRule = "dead-rule", "A rule can never decide anything.";
        Gap = "gap", "An aspect has no advice under some conditions.";
        Limits = "limits", "Two limits leave nothing between them.";
        Unreachable = "unreachable", "Neither a move nor a closing above it reaches a rung.";
        MovesTogether = "moves-together", "A ladder's moves down and up can hold together.";
        NoClock = "no-clock", "A move has no clock of its own, so that it moves at every step.";
        Unused = "unused", "A name is declared and never used.";
        Untried = "untried", "No trial exercises a rule, a rung or a move.";
        NoTrials = "no-trials", "The strategy has no trial.";
    }
    Note {
        RarelyDecides = "rarely-decides", "A rule decides only while something is unknown.";
        GapUnknown = "gap-unknown", "An aspect has no advice while something is unknown.";
        NotExamined = "not-examined", "Reasoning stopped at its budget here.";
    }
}

#[cfg(test)]
mod tests {
    use super::Code;

    #[test]
    fn names_are_unique_and_meanings_are_sentences() {
        let mut names: Vec<_> = Code::ALL.iter().map(|code| code.name()).collect();
        assert!(Code::ALL.iter().all(|code| code.meaning().ends_with('.')));
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), Code::ALL.len());
    }
}
