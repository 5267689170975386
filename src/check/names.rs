//! What every name is: readings, lets, ladders and aspects share one space of names.

use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use foldhash::{HashMap, HashMapExt};

use super::values;
use crate::findings::{Code, Finding};
use crate::program::expr::{Expr, InputId, LadderId, LetId};
use crate::program::{Input, InputSource, LadderDef, LetDef, OwnReading, RuleDef, Timing};
use crate::syntax::scan::is_reserved;
use crate::syntax::tree::{self, KindSpec, LiteralValue, Statement, Word};
use crate::text::{Sources, Span};
use crate::vocabulary::aspect::{self, Aspect, AspectId, BUILT_IN_NAMES, Form, SHIFTS};
use crate::vocabulary::catalogue::{CATALOGUE, Known, light_words};
use crate::vocabulary::kind::{KIND_WORDS, Kind, SetId, WordSet, lower_case, same_word};
use crate::vocabulary::nearest::{listed, nearest};
use crate::vocabulary::unit::Unit;

/// Most characters of a name.
const MOST_NAME: usize = 64;

/// What a declared name is.
#[derive(Clone, Copy, Debug)]
pub(super) enum Named {
    Own(usize),
    Let(LetId),
    Ladder(LadderId),
    Aspect,
    /// Its declaration is broken; what uses it is not judged.
    Broken,
}

/// The state of checking one strategy.
pub(super) struct Checker {
    pub sources: Arc<Sources>,
    pub findings: Vec<Finding>,
    /// Names that could come from a file that was not found are not called unknown.
    pub forgives_names: bool,
    /// Trade words that could come from a broken header are not called unknown.
    pub forgives_words: bool,
    pub names: BTreeMap<String, (Named, Span)>,
    pub sets: Vec<WordSet>,
    pub aspects: Vec<Aspect>,
    /// Words that the header adds, with their place, by aspect and number.
    also_words: Vec<(AspectId, usize, Span)>,
    pub used_words: BTreeSet<(AspectId, usize)>,
    pub inputs: Vec<Input>,
    input_ids: BTreeMap<InputKey, InputId>,
    pub own: Vec<OwnReading>,
    pub lets: Vec<LetDef>,
    /// The kind of each let, where its body is right.
    pub let_kinds: Vec<Option<Kind>>,
    /// How many lets may be used just now.
    pub lets_in_reach: usize,
    pub ladders: Vec<LadderDef>,
    pub rules: Vec<RuleDef>,
    /// How many `changes` were seen; inside a move they may stand.
    pub changes: u32,
    /// Whether the argument of any call is worked out while running.
    pub works_out_calls: bool,
    pub in_move: bool,
    used_own: BTreeSet<usize>,
    used_lets: BTreeSet<usize>,
    /// Words in statements that could not be read: what they name may be used there.
    broken_words: BTreeSet<String>,
    /// How many more names may be looked at for the nearest.
    looks: usize,
    /// The number of each word of an aspect, by the word in lower case.
    word_numbers: HashMap<(AspectId, String), usize>,
    /// Each aspect, by its name in lower case.
    aspect_ids: HashMap<String, AspectId>,
    /// Where the header first adds words to an aspect.
    also_places: HashMap<AspectId, Span>,
}

/// Most names that are looked at for the nearest ones.
const MOST_LOOKS: usize = 1_000_000;

type InputKey = (u8, u32, u32, i64);

impl Checker {
    pub fn new(sources: Arc<Sources>, forgives: bool) -> Self {
        let mut checker = Self {
            sources,
            findings: Vec::new(),
            forgives_names: forgives,
            forgives_words: forgives,
            names: BTreeMap::new(),
            sets: vec![light_words()],
            aspects: Vec::new(),
            aspect_ids: HashMap::new(),
            also_places: HashMap::new(),
            also_words: Vec::new(),
            used_words: BTreeSet::new(),
            inputs: Vec::new(),
            input_ids: BTreeMap::new(),
            own: Vec::new(),
            lets: Vec::new(),
            let_kinds: Vec::new(),
            lets_in_reach: usize::MAX,
            ladders: Vec::new(),
            rules: Vec::new(),
            changes: 0,
            works_out_calls: false,
            in_move: false,
            used_own: BTreeSet::new(),
            used_lets: BTreeSet::new(),
            broken_words: BTreeSet::new(),
            looks: MOST_LOOKS,
            word_numbers: HashMap::new(),
        };
        checker.take_aspects(aspect::built_in());
        checker
    }

    /// Takes in aspects with their words.
    pub fn take_aspects(&mut self, aspects: Vec<Aspect>) {
        self.aspects.clear();
        for aspect in aspects {
            self.add_aspect(aspect);
        }
    }

    fn add_aspect(&mut self, aspect: Aspect) -> Option<AspectId> {
        let id = AspectId(u32::try_from(self.aspects.len()).ok()?);
        self.aspect_ids.insert(aspect.name.to_lowercase(), id);
        let words = aspect.words().iter().enumerate();
        self.word_numbers.extend(words.map(|(at, word)| ((id, word.to_lowercase()), at)));
        self.aspects.push(aspect);
        Some(id)
    }

    pub fn error(&mut self, code: Code, span: Span, message: impl Into<String>) {
        self.findings.push(Finding::new(code, span, message));
    }

    pub fn error_with_help(&mut self, code: Code, span: Span, message: impl Into<String>, help: impl Into<String>) {
        self.findings.push(Finding::new(code, span, message).help(help));
    }

    pub fn line(&self, span: Span) -> u32 {
        self.sources.place(span).line
    }

    /// Says that a name stands twice, naming the earlier place.
    pub fn twice(&mut self, code: Code, what: &str, name: &str, span: Span, earlier: Span) {
        let place = if earlier.file == span.file {
            format!("line {}", self.line(earlier))
        } else {
            self.sources.file_and_line(earlier)
        };
        self.error(code, span, format!("{what} `{name}` is there already, in {place}"));
    }

    /// The number of an input, which is new or known already.
    pub fn input(&mut self, source: InputSource, kind: Kind) -> InputId {
        let key = input_key(source);
        if let Some(&id) = self.input_ids.get(&key) {
            return id;
        }
        let id = InputId(u32::try_from(self.inputs.len()).unwrap_or(u32::MAX));
        self.inputs.push(Input { source, kind });
        self.input_ids.insert(key, id);
        id
    }

    /// Takes in what the header's `also` adds to an aspect, or a new aspect.
    pub fn also(&mut self, keyword: &Word, aspect: &Word, names: &[Word]) {
        let id = match self.aspect_named(&aspect.text) {
            Some(id) => id,
            None => match self.new_aspect(aspect) {
                Some(id) => id,
                None => {
                    self.forgives_words = true;
                    return;
                }
            },
        };
        let given_before = self.also_places.get(&id).copied();
        if let Some(earlier) = given_before {
            let what = self.aspects[id.index()].name.clone();
            self.twice(Code::ClauseTwice, "`also` for", &what, keyword.span, earlier);
        }
        for name in names {
            self.check_length(name);
            let Form::Words(words) = &self.aspects[id.index()].form else {
                let message = format!("`{}` is decided by a range, not by words", aspect.text);
                self.error(Code::UnknownAspect, aspect.span, message);
                return;
            };
            let key = (id, name.text.to_lowercase());
            if self.word_numbers.contains_key(&key) {
                let message = format!("`{}` is one of the words of `{}` already", name.text, aspect.text);
                self.error(Code::NameTwice, name.span, message);
                continue;
            }
            let at = words.len();
            if let Form::Words(words) = &mut self.aspects[id.index()].form {
                words.push(name.text.to_string());
            }
            self.word_numbers.insert(key, at);
            self.also_places.entry(id).or_insert(name.span);
            self.also_words.push((id, at, name.span));
        }
    }

    fn new_aspect(&mut self, word: &Word) -> Option<AspectId> {
        if let Some(near) = nearest(&word.text, BUILT_IN_NAMES) {
            self.error_with_help(
                Code::UnknownAspect,
                word.span,
                format!("`{}` is no aspect of a tactic, and too like one to be a new one", word.text),
                format!("did you mean `{near}`?"),
            );
            return None;
        }
        if !self.may_be_named(word) {
            return None;
        }
        let id = self.add_aspect(Aspect { name: word.text.to_string(), form: Form::Words(Vec::new()) })?;
        self.put(word, Named::Aspect);
        Some(id)
    }

    /// What a name stands for that the strategy declares, in any case, and where it is declared.
    pub fn named(&self, name: &Word) -> Option<(Named, Span)> {
        self.names.get(&*lower_case(&name.text)).copied()
    }

    /// The aspect of that name, in any case and spelling.
    pub fn aspect_named(&self, name: &str) -> Option<AspectId> {
        let name = if same_word(name, "color") { "colour" } else { name };
        self.aspect_ids.get(&*lower_case(name)).copied()
    }

    fn check_length(&mut self, name: &Word) {
        if name.text.chars().count() > MOST_NAME {
            self.error(Code::LongName, name.span, format!("a name has at most {MOST_NAME} characters"));
        }
    }

    /// Whether a name is free to be declared; says so where it is not.
    fn may_be_named(&mut self, name: &Word) -> bool {
        self.check_length(name);
        let text = name.text.as_str();
        let taken = if is_reserved(text) {
            Some("is a reserved word")
        } else if Unit::is_unit(text) {
            Some("is a unit")
        } else if BUILT_IN_NAMES.iter().any(|aspect| same_word(aspect, text)) {
            Some("is an aspect of the tactic")
        } else if SHIFTS.iter().any(|shift| same_word(shift.word, text)) {
            Some("is a shift")
        } else if KIND_WORDS.iter().any(|(word, _)| same_word(word, text)) {
            Some("is a kind")
        } else if Known::call(text).is_some() {
            Some("is a call of the catalogue")
        } else {
            None
        };
        if let Some(taken) = taken {
            let help = format!("choose another name, such as `my_{}`", text.to_lowercase());
            self.error_with_help(Code::ReservedName, name.span, format!("`{text}` {taken} and can't be a name"), help);
            return false;
        }
        true
    }

    fn put(&mut self, name: &Word, named: Named) {
        let key = name.text.to_lowercase();
        if let Some((_, earlier)) = self.names.get(&key).copied() {
            self.twice(Code::NameTwice, "the name", &name.text, name.span, earlier);
            return;
        }
        self.names.insert(key, (named, name.span));
    }

    /// Names what a finished program declares, in place of its statements.
    pub fn name_all(&mut self) {
        let number = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
        let own = self.own.iter().enumerate().map(|(at, own)| (&own.name, Named::Own(at), own.span));
        let lets = self.lets.iter().enumerate();
        let lets = lets.map(|(at, definition)| (&definition.name, Named::Let(LetId(number(at))), definition.span));
        let ladders = self.ladders.iter().enumerate();
        let ladders = ladders.map(|(at, ladder)| (&ladder.name, Named::Ladder(LadderId(number(at))), ladder.span));
        let aspects = self.aspects.iter().filter(|aspect| !BUILT_IN_NAMES.contains(&aspect.name.as_str()));
        let aspects = aspects.map(|aspect| (&aspect.name, Named::Aspect, Span::default()));
        let named = own.chain(lets).chain(ladders).chain(aspects);
        self.names = named.map(|(name, named, span)| (name.to_lowercase(), (named, span))).collect();
    }

    /// Registers every declared name, so that most statements may use what stands below them.
    pub fn declare(&mut self, statements: &[Statement]) {
        for statement in statements {
            match statement {
                Statement::Reading(reading) => self.declare_reading(reading),
                Statement::Let(definition) => {
                    let free = self.may_be_named(&definition.name);
                    let id = LetId(u32::try_from(self.lets.len()).unwrap_or(u32::MAX));
                    self.put(&definition.name, if free { Named::Let(id) } else { Named::Broken });
                    self.hides(&definition.name);
                    self.lets.push(LetDef {
                        name: definition.name.text.to_string(),
                        value: Expr::zero(definition.name.span),
                        timing: None,
                        span: definition.name.span,
                    });
                    self.let_kinds.push(None);
                }
                Statement::Ladder(ladder) => self.declare_ladder(ladder),
                Statement::Broken(broken) => self.declare_broken(broken),
                _ => {}
            }
        }
    }

    fn declare_broken(&mut self, broken: &tree::Broken) {
        let declares = ["reading", "let", "ladder"].iter().any(|word| broken.keyword.is(word));
        if let (true, Some(name)) = (declares, &broken.name) {
            let key = name.text.to_lowercase();
            self.names.entry(key).or_insert((Named::Broken, name.span));
        }
        self.broken_words.extend(broken.words.iter().map(|word| word.text.to_lowercase()));
    }

    fn declare_reading(&mut self, reading: &tree::Reading) {
        let free = self.may_be_named(&reading.name);
        let Some(kind) = self.kind_of_spec(&reading.kind) else {
            self.put(&reading.name, Named::Broken);
            return;
        };
        let plausible = reading.plausible.as_ref().and_then(|range| self.plausible(kind, range));
        let good_for = reading.good_for.as_ref().and_then(|literal| self.positive_duration(literal));
        let at = self.own.len();
        self.put(&reading.name, if free { Named::Own(at) } else { Named::Broken });
        self.hides(&reading.name);
        self.own.push(OwnReading {
            name: reading.name.text.to_string(),
            kind,
            plausible,
            good_for,
            span: reading.name.span,
        });
    }

    fn kind_of_spec(&mut self, spec: &KindSpec) -> Option<Kind> {
        match spec {
            KindSpec::YesNo => Some(Kind::YesNo),
            KindSpec::OneOf { words, ordered } => {
                for word in words {
                    self.check_length(word);
                    if is_reserved(&word.text) {
                        let message = format!("`{}` is a reserved word and can't be one of the set", word.text);
                        self.error(Code::ReservedName, word.span, message);
                    }
                }
                let set = self.new_set(words, *ordered);
                Some(Kind::OneOf(set))
            }
            KindSpec::Named(word) => {
                let kind = KIND_WORDS.iter().find(|(name, _)| word.is(name)).map(|(_, kind)| *kind);
                if kind.is_none() {
                    let names = KIND_WORDS.iter().map(|(name, _)| *name);
                    let help = nearest(&word.text, names.clone()).map_or_else(
                        || {
                            format!(
                                "write `yes or no`, `one of ...`, or one of {}",
                                names.collect::<Vec<_>>().join(", ")
                            )
                        },
                        |near| format!("did you mean `{near}`?"),
                    );
                    self.error_with_help(Code::UnknownWord, word.span, format!("`{}` is no kind", word.text), help);
                }
                kind
            }
        }
    }

    fn new_set(&mut self, words: &[Word], ordered: bool) -> SetId {
        let mut kept: Vec<&Word> = Vec::new();
        let mut places: HashMap<String, Span> = HashMap::new();
        for word in words {
            match places.entry(word.text.to_lowercase()) {
                Entry::Occupied(earlier) => {
                    self.twice(Code::NameTwice, "the word", &word.text, word.span, *earlier.get());
                }
                Entry::Vacant(free) => {
                    free.insert(word.span);
                    kept.push(word);
                }
            }
        }
        let id = SetId(u32::try_from(self.sets.len()).unwrap_or(u32::MAX));
        self.sets.push(WordSet::new(kept.iter().map(|word| word.text.to_string()).collect(), ordered));
        id
    }

    /// A duration of more than zero.
    pub fn positive_duration(&mut self, literal: &tree::Literal) -> Option<i64> {
        let value = tree::GivenValue::Literal(literal.clone());
        match values::given(Kind::Duration, None, "", &value) {
            Ok(Some(counts)) if counts > 0 => Some(counts),
            Ok(_) => {
                self.error_with_help(
                    Code::TrialTime,
                    literal.span,
                    "this must be more than no time",
                    "write for instance `30 min`",
                );
                None
            }
            Err(finding) => {
                self.findings.push(finding);
                None
            }
        }
    }

    fn plausible(&mut self, kind: Kind, range: &tree::RangeExpr) -> Option<(i64, i64)> {
        if !kind.is_quantity() {
            self.error(Code::Kinds, range.span(), format!("{} has no range of plausible values", kind.name()));
            return None;
        }
        let (from, to) = self.range_of_kind(range, kind)?;
        match (from.constant(), to.as_ref().map_or(from.constant(), Expr::constant)) {
            (Some(from), Some(to)) => Some((from, to)),
            _ => {
                self.error(Code::Kinds, range.span(), "a plausible range is written with plain numbers");
                None
            }
        }
    }

    fn declare_ladder(&mut self, ladder: &tree::Ladder) {
        let free = self.may_be_named(&ladder.name);
        let id = LadderId(u32::try_from(self.ladders.len()).unwrap_or(u32::MAX));
        self.put(&ladder.name, if free { Named::Ladder(id) } else { Named::Broken });
        self.hides(&ladder.name);
        for rung in &ladder.rungs {
            self.check_length(&rung.name);
            if is_reserved(&rung.name.text) {
                let message = format!("`{}` is a reserved word and can't name a rung", rung.name.text);
                self.error(Code::ReservedName, rung.name.span, message);
            }
        }
        if ladder.rungs.is_empty() {
            self.error_with_help(
                Code::Incomplete,
                ladder.name.span,
                format!("the ladder `{}` has no rungs", ladder.name.text),
                "write at least one, as in `rung brisk run speed 2.6 to 3.6 mph`",
            );
        }
        let words: Vec<Word> = ladder.rungs.iter().map(|rung| rung.name.clone()).collect();
        let set = self.new_set(&words, false);
        self.ladders.push(LadderDef {
            name: ladder.name.text.to_string(),
            title: ladder.title.as_ref().map(|title| title.text.clone()),
            set,
            rungs: Vec::new(),
            moves: Vec::new(),
            span: ladder.name.span,
        });
    }

    fn hides(&mut self, name: &Word) {
        if let Some(known) = Known::reading(&name.text) {
            self.error_with_help(
                Code::Hides,
                name.span,
                format!("`{}` hides the catalogue's reading of that name: {}", name.text, known.entry().help),
                "give it another name if the catalogue's reading was meant anywhere",
            );
        }
    }

    /// Lowers the bodies of lets, each seeing only those above it.
    pub fn lower_lets(&mut self, statements: &[Statement]) {
        let mut at = 0;
        for statement in statements {
            let Statement::Let(definition) = statement else { continue };
            self.lets_in_reach = at;
            let body = self.let_body(definition);
            let timing = match &definition.timing {
                Some(tree::Timing::Settling(literal)) => self.positive_duration(literal).map(Timing::Settling),
                Some(tree::Timing::For(literal)) => self.positive_duration(literal).map(Timing::For),
                None => None,
            };
            if let Some(body) = body {
                self.let_kinds[at] = Some(body.kind);
                self.lets[at].value = body;
            }
            self.lets[at].timing = timing;
            at += 1;
        }
        self.lets_in_reach = usize::MAX;
    }

    fn let_body(&mut self, definition: &tree::Let) -> Option<Expr> {
        if let Some(to) = &definition.to {
            self.error_with_help(
                Code::Misplaced,
                definition.value.span.to(to.span),
                "a let is one value or one condition, never a range",
                "what names a band is a rule or a rung; or give each end a let of its own",
            );
            return None;
        }
        if definition.timing.is_some() {
            return self.condition(&definition.value);
        }
        self.any_value(&definition.value)
    }

    /// Notes that a let is used.
    pub fn use_let(&mut self, id: LetId) {
        self.used_lets.insert(id.index());
    }

    /// Notes that a declared reading is used.
    pub fn use_own(&mut self, at: usize) {
        self.used_own.insert(at);
    }

    /// Says what is declared and never used.
    pub fn report_unused(&mut self) {
        let mut found = Vec::new();
        let named_in_broken = |name: &str| self.broken_words.contains(&name.to_lowercase());
        for (at, own) in self.own.iter().enumerate() {
            if !self.used_own.contains(&at) && !named_in_broken(&own.name) {
                found.push(Finding::new(Code::Unused, own.span, format!("the reading `{}` is never used", own.name)));
            }
        }
        for (at, definition) in self.lets.iter().enumerate() {
            if !self.used_lets.contains(&at) && !named_in_broken(&definition.name) {
                let message = format!("the let `{}` is never used", definition.name);
                found.push(Finding::new(Code::Unused, definition.span, message));
            }
        }
        for (aspect, word, span) in &self.also_words {
            if !self.used_words.contains(&(*aspect, *word)) {
                let name = self.aspects[aspect.index()].words().get(*word).cloned().unwrap_or_default();
                found.push(Finding::new(Code::Unused, *span, format!("the word `{name}` is never used")));
            }
        }
        self.findings.extend(found);
    }

    /// The name nearest to one that is not known, of whatever a condition can ask.
    ///
    /// Among very many names only the first slips are looked for, so that checking stays quick.
    pub fn nearest_value_name(&mut self, name: &str) -> Option<String> {
        self.looks = self.looks.checked_sub(self.names.len() + CATALOGUE.len())?;
        let declared = self.names.iter().filter(|(_, (named, _))| !matches!(named, Named::Aspect));
        let declared = declared.map(|(name, _)| name.as_str());
        let known = CATALOGUE.iter().map(|entry| entry.name);
        nearest(name, known.chain(declared)).map(str::to_owned)
    }

    /// Says that a word is no aspect, with the nearest aspect or shift.
    pub fn unknown_aspect(&mut self, word: &Word) {
        if self.forgives_words {
            return;
        }
        let names: Vec<String> = self.aspects.iter().map(|aspect| aspect.name.clone()).collect();
        let shifts = SHIFTS.iter().map(|shift| shift.word);
        let near = nearest(&word.text, names.iter().map(String::as_str).chain(shifts)).map(str::to_owned);
        let help = match near {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("the aspects of a tactic are {}", listed(names.iter().map(String::as_str))),
        };
        self.error_with_help(Code::UnknownAspect, word.span, format!("`{}` is no aspect of a tactic", word.text), help);
    }

    /// The number of a word of an aspect, or a finding with the nearest.
    pub fn aspect_word(&mut self, aspect: AspectId, word: &Word) -> Option<usize> {
        let definition = &self.aspects[aspect.index()];
        if let Some(at) = self.word_numbers.get(&(aspect, word.text.to_lowercase())).copied() {
            self.used_words.insert((aspect, at));
            return Some(at);
        }
        if self.forgives_words {
            return None;
        }
        let near = nearest(&word.text, definition.words().iter().map(String::as_str)).map(str::to_owned);
        let name = definition.name.clone();
        let message = format!("`{}` is no word for `{name}` that the language knows", word.text);
        let help = match near {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("add it in the header: `also {name} {}`", word.text),
        };
        self.error_with_help(Code::UnknownWord, word.span, message, help);
        None
    }
}

fn input_key(source: InputSource) -> InputKey {
    match source {
        InputSource::Known(known) => (0, known as u32, 0, 0),
        InputSource::Own(at) => (1, u32::try_from(at).unwrap_or(u32::MAX), 0, 0),
        InputSource::Call(known, kind, value) => {
            let kind = match kind {
                Kind::Temperature => 1,
                Kind::Oxygen => 2,
                Kind::Share => 3,
                _ => 0,
            };
            (2, known as u32, kind, value)
        }
        InputSource::Change(of, window) => (3, of.0, 0, window),
        InputSource::Strikes(window) => (4, 0, 0, window),
    }
}

/// Whether a literal is a bare number.
pub(super) fn bare_number(value: &LiteralValue) -> Option<crate::vocabulary::quantity::Decimal> {
    match value {
        LiteralValue::Number(number, None) => Some(*number),
        _ => None,
    }
}
