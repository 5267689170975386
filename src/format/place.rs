//! Where in a statement a piece stands, and what follows from that: whether it begins a clause, whether it is a word of
//! the language there, whether it touches the piece before it, whether a line may end there.
//!
//! Goes along with the grammar, but only as far as spelling and blanks need it: a place that is judged wrongly makes a
//! line less pretty and never changes what it means.

use super::pieces::{Break, HANG, Kind, Piece, Sort};

/// The index of a reading's kind among its pieces.
pub(super) const KIND_AT: usize = 3;

/// What the pieces belong to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Clause {
    /// The statement's first line.
    Head,
    /// `units`
    Units,
    /// `also`
    Also,
    /// A clause that holds a text.
    Text,
    /// `if`
    If,
    /// `run`
    Run,
    /// `keep`
    Keep,
    /// `rung NAME`, a move up to its `if`, or an `only`
    Ladder,
    /// `given`
    Given,
    /// `expect`
    Expect,
    /// `after DURATION`
    After,
}

/// Where in a statement the speller is.
pub(super) struct Place {
    pub sort: Sort,
    pub clause: Clause,
    /// Pieces of the clause before this one, its first word included.
    length: usize,
    /// Pieces of the item before this one; an item ends at a comma outside brackets.
    pub item: usize,
    /// The built-in aspect that the item is about.
    pub aspect: Option<usize>,
    /// Whether an `after` has been.
    after: bool,
    /// Open round brackets.
    round: usize,
    /// Open square brackets, and whether the author began a line behind the last of them.
    square: usize,
    upright: bool,
    /// Whether the sign before this piece belongs to it alone.
    signed: bool,
}

impl Place {
    /// At the beginning of a statement.
    pub(super) fn new(sort: Sort) -> Self {
        let clause = if sort == Sort::Let { Clause::If } else { Clause::Head };
        Self {
            sort,
            clause,
            length: 0,
            item: 0,
            aspect: None,
            after: false,
            round: 0,
            square: 0,
            upright: false,
            signed: false,
        }
    }

    /// The clause that a word begins, and its level: 0 where it goes on in the line.
    pub(super) fn clause_begun(&self, pieces: &[Piece<'_>], at: usize) -> Option<(Clause, usize)> {
        let piece = pieces.get(at).filter(|piece| piece.kind == Kind::Name && at > 0)?;
        let word = piece.text.to_ascii_lowercase();
        match (self.sort, word.as_str()) {
            (Sort::Strategy, "species" | "about" | "units" | "also") => {
                let whole = if self.clause == Clause::Also { 3 } else { 2 };
                let ended = self.length >= whole && !pieces.get(at - 1)?.is_sign(",");
                let clause = match word.as_str() {
                    "units" => Clause::Units,
                    "also" => Clause::Also,
                    _ => Clause::Text,
                };
                ended.then_some((clause, 1))
            }
            (Sort::Rule, "if") => Some((Clause::If, 1)),
            (Sort::Rule, "run") => Some((Clause::Run, 1)),
            (Sort::Rule, "keep") => Some((Clause::Keep, 1)),
            (Sort::Rule, "stop" | "caution" | "because") => Some((Clause::Text, 1)),
            (Sort::Ladder, "rung" | "step" | "start") => Some((Clause::Ladder, 1)),
            (Sort::Ladder, "run") => Some((Clause::Run, 2)),
            (Sort::Ladder, "only") => Some((Clause::Ladder, 2)),
            (Sort::Ladder, "because") => Some((Clause::Text, 2)),
            (Sort::Ladder, "if") => Some((Clause::If, 0)),
            (Sort::Trial, "given") => Some((Clause::Given, usize::from(!self.after))),
            (Sort::Trial, "expect") => Some((Clause::Expect, usize::from(!self.after))),
            (Sort::Trial, "after") => Some((Clause::After, 1)),
            _ => None,
        }
    }

    /// Begins a clause.
    pub(super) fn begin(&mut self, clause: Clause) {
        self.clause = clause;
        self.length = 0;
        self.after |= clause == Clause::After;
        self.new_item();
    }

    fn new_item(&mut self) {
        self.item = 0;
        self.aspect = None;
    }

    /// Whether a word that is not reserved counts as a word of the language here.
    pub(super) fn counts_here(&self, pieces: &[Piece<'_>], at: usize, word: &str) -> bool {
        let before = |back: usize, word: &str| {
            at.checked_sub(back).and_then(|at| pieces.get(at)).is_some_and(|p| p.is_keyword(word))
        };
        let next = |word: &str| pieces.get(at + 1).is_some_and(|next| next.text.eq_ignore_ascii_case(word));
        match word {
            "least" | "most" => before(1, "at"),
            "one" => (before(1, "is") || (before(1, "not") && before(2, "is"))) && next("of"),
            "of" => before(1, "one"),
            "good" => self.sort == Sort::Reading && next("for"),
            "down" | "up" => before(1, "step"),
            "over" => before(1, "start"),
            "cast" => self.clause == Clause::Given && self.item == 0 && next("["),
            "strike" => self.clause == Clause::Given && self.item == 0 && (next("yes") || next("no")),
            _ => false,
        }
    }

    /// Whether an aspect's name stands here.
    pub(super) fn aspect_stands_here(&self, pieces: &[Piece<'_>], at: usize) -> bool {
        let after_unknown =
            || at.checked_sub(1).and_then(|at| pieces.get(at)).is_some_and(|piece| piece.is_keyword("unknown"));
        match self.clause {
            Clause::Run | Clause::Keep => self.item == 0,
            Clause::Also => self.length == 1,
            Clause::Expect => self.item == 0 || (self.item == 1 && after_unknown()),
            _ => false,
        }
    }

    /// Whether a word here can be a value, as a month or a compass point is.
    pub(super) fn value_stands_here(&self, pieces: &[Piece<'_>], at: usize) -> bool {
        let Some(previous) = at.checked_sub(1).and_then(|at| pieces.get(at)) else { return false };
        match self.clause {
            Clause::Given => self.item > 0,
            Clause::If | Clause::Head => {
                previous.is_keyword("is")
                    || previous.is_keyword("to")
                    || previous.is_keyword("of")
                    || previous.is_sign(",")
                    || (previous.is_keyword("not") && at.checked_sub(2).is_some_and(|at| pieces[at].is_keyword("is")))
            }
            _ => false,
        }
    }

    /// Whether no blank stands before a piece.
    pub(super) fn touches_previous(&self, pieces: &[Piece<'_>], at: usize) -> bool {
        let Some(previous) = at.checked_sub(1).and_then(|at| pieces.get(at)) else { return true };
        let piece = &pieces[at];
        let opens = |piece: &Piece<'_>| piece.is_sign("(") || piece.is_sign("[");
        if piece.kind == Kind::Unit {
            return piece.text == "°";
        }
        // Two signs in a row stay apart: `+-` is no sign of the language.
        let belongs = self.signed && (piece.kind != Kind::Sign || piece.is_sign("("));
        let call = piece.is_sign("(") && previous.kind == Kind::Name && !self.leads_a_value(at);
        belongs || call || opens(previous) || piece.is_sign(",") || piece.is_sign(")") || piece.is_sign("]")
    }

    /// Whether the piece before is a name that a value follows: an aspect, a reading's kind.
    fn leads_a_value(&self, at: usize) -> bool {
        (self.clause == Clause::Run && self.item == 1) || (self.sort == Sort::Reading && at == KIND_AT + 1)
    }

    /// Whether a line may end before a piece.
    pub(super) fn line_break(&self, pieces: &[Piece<'_>], at: usize) -> Break {
        let Some(previous) = at.checked_sub(1).and_then(|at| pieces.get(at)) else { return Break::Never };
        let piece = &pieces[at];
        let upright = self.square > 0 && self.upright && self.round == 0;
        if upright && piece.is_sign("]") {
            return Break::Always(HANG / 2);
        }
        let point = upright && (previous.is_sign("[") || previous.is_sign(","));
        if point || !piece.above.is_empty() || previous.beside.is_some() {
            return Break::Always(HANG);
        }
        let joins = piece.is_keyword("and") || (piece.is_keyword("or") && self.sort != Sort::Reading);
        let part = self.after && (piece.is_keyword("given") || piece.is_keyword("expect"));
        let sum =
            piece.kind == Kind::Sign && matches!(&*piece.text, "+" | "-" | "*" | "/") && self.ends_operand(pieces, at);
        // A condition breaks before its `and` and `or`, everything else after the commas of its list.
        let comma = previous.is_sign(",");
        let good = if self.clause == Clause::If { joins || piece.is_keyword("settling") } else { comma || part };
        if good && self.round + self.square == 0 {
            Break::Between
        } else if joins || comma {
            Break::Inside
        } else if sum {
            Break::Sum
        } else {
            Break::Never
        }
    }

    /// Whether an operand ends before this piece, so that a sign here stands between two.
    fn ends_operand(&self, pieces: &[Piece<'_>], at: usize) -> bool {
        let Some(previous) = at.checked_sub(1).and_then(|at| pieces.get(at)) else { return false };
        let only_signs_of_numbers = matches!(self.clause, Clause::Given | Clause::Expect) && self.round == 0;
        match previous.kind {
            _ if only_signs_of_numbers || self.leads_a_value(at) => false,
            Kind::Number | Kind::Unit | Kind::Name => true,
            Kind::Keyword => matches!(&*previous.text, "yes" | "no"),
            Kind::Sign => matches!(&*previous.text, ")" | "]"),
            Kind::Text => false,
        }
    }

    /// Goes on to the next piece.
    pub(super) fn pass(&mut self, pieces: &[Piece<'_>], at: usize) {
        let piece = &pieces[at];
        self.signed = (piece.is_sign("-") || piece.is_sign("+")) && !self.ends_operand(pieces, at);
        self.length += 1;
        // A clause's own word is no part of its first item.
        if !(piece.kind == Kind::Keyword && self.length == 1) {
            self.item += 1;
        }
        match &*piece.text {
            _ if piece.kind != Kind::Sign => {}
            "(" => self.round += 1,
            ")" => self.round = self.round.saturating_sub(1),
            "[" => {
                self.square += 1;
                self.upright = pieces.get(at + 1).is_some_and(|next| next.on_new_line);
            }
            "]" => self.square = self.square.saturating_sub(1),
            "," if self.round + self.square == 0 => self.new_item(),
            _ => {}
        }
    }
}
