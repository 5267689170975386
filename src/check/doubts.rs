//! What is legal and probably not meant: what is never or always so, rules that never decide, gaps, limits and ladders.
//!
//! *Never*, *always* and *dead* are said only where [`reason`](super::reason) proved them.

use super::reason::{Answer, Bounds, FormulaId, Model, NO, UNKNOWN, Var, YES, apart, may_imply};
use crate::findings::{Code, Finding, Findings};
use crate::program::expr::{Expr, InputId, LadderId, Op};
use crate::program::{Bound, InputSource, Item, LadderDef, Program, RuleDef, Wish, is_small};
use crate::syntax::tree::Direction;
use crate::text::Span;
use crate::vocabulary::aspect::AspectId;
use crate::vocabulary::catalogue::{Known, light_class};
use crate::vocabulary::kind::Kind;

/// An example that a finding speaks of, for the engine to confirm.
#[derive(Clone, Debug)]
pub struct Example {
    /// Where the finding stands.
    pub span: Span,
    /// The aspect that has no advice in it.
    pub aspect: AspectId,
    /// The value of each input of the program.
    pub values: Vec<Option<i64>>,
    /// The rung that each ladder stands on.
    pub rungs: Vec<Option<usize>>,
}

/// Looks at a program and says what is doubtful; gives the examples that running can confirm.
pub(super) fn look(program: &Program, findings: &mut Findings) -> Vec<Example> {
    let mut doubts = Doubts::new(program);
    doubts.conditions();
    doubts.dead_rules();
    doubts.gaps();
    doubts.limits();
    for at in 0..program.ladders.len() {
        doubts.ladder(at);
    }
    if doubts.unexamined {
        let span = program.span;
        doubts.findings.push(
            Finding::new(Code::NotExamined, span, "the strategy has more cases than are examined here")
                .help("what was found holds; there may be more rules that never decide, or gaps"),
        );
    }
    findings.extend(doubts.findings);
    doubts.examples
}

struct Doubts<'p> {
    program: &'p Program,
    model: Model<'p>,
    /// The formula of each rule's condition.
    rules: Vec<FormulaId>,
    /// What must hold for each rule to apply, for a first look.
    bounds: Vec<Bounds>,
    /// Rules that never apply.
    never: Vec<bool>,
    findings: Vec<Finding>,
    examples: Vec<Example>,
    unexamined: bool,
}

/// Most rules left open at once for which each is best tried as it is asked.
const FEW: usize = 8;

/// What stands above a rule and may decide an aspect before it.
enum Above {
    Rule(usize),
    Ladder(LadderId),
}

impl<'p> Doubts<'p> {
    fn new(program: &'p Program) -> Self {
        let mut model = Model::new(program);
        let rules: Vec<FormulaId> = program
            .rules
            .iter()
            .map(|rule| match &rule.condition {
                Some(condition) => model.formula(condition, None),
                None => model.yes(),
            })
            .collect();
        let bounds = rules.iter().map(|formula| model.bounds_of(*formula)).collect();
        let never = vec![false; program.rules.len()];
        Self { program, model, rules, bounds, never, findings: Vec::new(), examples: Vec::new(), unexamined: false }
    }

    /// Whether nothing satisfies a question; what was not examined counts as satisfied.
    fn nothing(&mut self, wanted: &[(FormulaId, u8)], all_known: bool) -> bool {
        match self.model.possible(wanted, all_known) {
            Answer::Nothing => true,
            Answer::Found(_) => false,
            Answer::Unexamined => {
                self.unexamined = true;
                false
            }
        }
    }

    fn text(&self, span: Span) -> String {
        let text = self.program.sources.slice(span).split_whitespace().collect::<Vec<_>>().join(" ");
        if text.chars().count() > 60 { format!("{}…", text.chars().take(59).collect::<String>()) } else { text }
    }

    // Never and always

    fn conditions(&mut self) {
        let program = self.program;
        for (at, definition) in program.lets.iter().enumerate() {
            if definition.value.kind == Kind::YesNo && definition.timing.is_none() {
                let formula = self.model.let_formula(at);
                self.never_or_always(&definition.value, formula, None);
            } else if definition.timing.is_some() {
                let formula = self.model.formula(&definition.value, None);
                self.never_or_always(&definition.value, formula, None);
            }
        }
        for (at, rule) in program.rules.iter().enumerate() {
            if let Some(condition) = &rule.condition {
                self.never[at] = self.never_or_always(condition, self.rules[at], None);
            }
        }
        for (at, ladder) in program.ladders.iter().enumerate() {
            let id = LadderId(u32::try_from(at).unwrap_or(u32::MAX));
            for rung in &ladder.rungs {
                if let Some(only_if) = &rung.only_if {
                    let formula = self.model.formula(only_if, None);
                    self.never_or_always(only_if, formula, None);
                }
            }
            for step in &ladder.moves {
                let formula = self.model.formula(&step.condition, Some(id));
                self.never_or_always(&step.condition, formula, Some(id));
            }
        }
    }

    /// Says whether a condition is never or always true; gives whether it is never true.
    fn never_or_always(&mut self, condition: &Expr, formula: FormulaId, ladder: Option<LadderId>) -> bool {
        // A condition that only names a let was judged where the let stands.
        let said_at_let = matches!(condition.op, Op::Let(_));
        if self.model.is_plainly_open(formula) {
            return false;
        }
        if self.nothing(&[(formula, YES)], false) {
            if !said_at_let {
                let text = self.text(condition.span);
                let help = self.clash(condition, ladder);
                let finding = Finding::new(Code::Never, condition.span, format!("`{text}` is never true"));
                self.findings.push(finding.maybe_help(help));
            }
            return true;
        }
        if said_at_let {
            return false;
        }
        let asks_known = self.model.asks_known(formula);
        // Where it can fail with all known, it can fail.
        if !asks_known && !self.nothing(&[(formula, NO | UNKNOWN)], true) {
            return false;
        }
        let text = self.text(condition.span);
        if self.nothing(&[(formula, NO | UNKNOWN)], false) {
            let finding = Finding::new(Code::Always, condition.span, format!("`{text}` is always true"))
                .help("leave it out, or ask for what was meant");
            self.findings.push(finding);
        } else if !asks_known {
            let message = format!("`{text}` is true whenever what it asks is known");
            let finding = Finding::new(Code::Always, condition.span, message)
                .help("ask `... known` if that is meant, or for a part of the values");
            self.findings.push(finding);
        }
        false
    }

    /// Two parts of an `and` that never hold together.
    fn clash(&mut self, condition: &Expr, ladder: Option<LadderId>) -> Option<String> {
        let Op::All(parts) = &condition.op else { return None };
        let formulas: Vec<FormulaId> = parts.iter().map(|part| self.model.formula(part, ladder)).collect();
        for (b, later) in formulas.iter().enumerate().take(64) {
            for (a, earlier) in formulas.iter().enumerate().take(b) {
                if self.nothing(&[(*earlier, YES), (*later, YES)], false) {
                    let (a, b) = (self.text(parts[a].span), self.text(parts[b].span));
                    return Some(format!("`{a}` and `{b}` never hold together"));
                }
            }
        }
        None
    }

    // Rules that never decide

    fn dead_rules(&mut self) {
        let program = self.program;
        // What decides each aspect, as far as the file is gone through.
        let mut above: Vec<Vec<Above>> = program.aspects.iter().map(|_| Vec::new()).collect();
        for item in &program.order {
            if let Item::Rule(at) = *item {
                let rule = &program.rules[at];
                let only_decides = rule.run.shifts.is_empty()
                    && rule.limits.is_empty()
                    && rule.stops.is_empty()
                    && rule.cautions.is_empty()
                    && !rule.run.decides.is_empty();
                if only_decides && !self.never[at] {
                    self.dead_rule(at, rule, &above);
                }
            }
            for (aspect, above) in (0..).map(AspectId).zip(&mut above) {
                above.extend(self.decides(aspect, *item));
            }
        }
    }

    /// Says whether a rule can decide anything, below what decides each aspect above it.
    fn dead_rule(&mut self, at: usize, rule: &RuleDef, above: &[Vec<Above>]) {
        let mut lives_unknown = false;
        let mut covers: Vec<usize> = Vec::new();
        for decide in &rule.run.decides {
            let above = &above[decide.aspect.index()];
            match self.lives(at, above) {
                Life::Lives => return,
                Life::WhileUnknown => lives_unknown = true,
                Life::Never => covers.extend(self.covering(at, above)),
                Life::Unexamined => return,
            }
        }
        covers.sort_unstable();
        covers.dedup();
        let name = &rule.name;
        if lives_unknown {
            let message = format!("the rule \"{name}\" decides only while something is unknown");
            self.findings.push(Finding::new(Code::RarelyDecides, rule.span, message));
            return;
        }
        let by: Vec<String> = covers
            .iter()
            .map(|other| {
                let other = &self.program.rules[*other];
                format!("\"{}\" in line {}", other.name, self.program.sources.place(other.span).line)
            })
            .collect();
        let message = format!("the rule \"{name}\" can never decide anything");
        let help = if by.is_empty() {
            "a ladder above it decides all that it would".to_owned()
        } else {
            format!("whenever it applies, {} decided already; put it above, or narrow that", by.join(" and "))
        };
        self.findings.push(Finding::new(Code::DeadRule, rule.span, message).help(help));
    }

    /// What decides an aspect for certain when it applies.
    fn decides(&self, aspect: AspectId, item: Item) -> Option<Above> {
        let program = self.program;
        match item {
            Item::Rule(at) => {
                let decision = program.rules[at].run.decision(aspect)?;
                self.is_sure(aspect, &decision.wish).then_some(Above::Rule(at))
            }
            Item::Ladder(at) => {
                let mut rungs = program.ladders[at].rungs.iter();
                let id = LadderId(u32::try_from(at).unwrap_or(u32::MAX));
                rungs.any(|rung| rung.run.decision(aspect).is_some()).then_some(Above::Ladder(id))
            }
        }
    }

    /// Whether limits can't take everything out of a wish, so that the next one would decide.
    fn is_sure(&self, aspect: AspectId, wish: &Wish) -> bool {
        let Wish::Words(words) = wish else { return true };
        let limits = self.program.rules.iter().flat_map(|rule| &rule.limits);
        let taken: Vec<usize> = limits
            .filter(|limit| limit.aspect == aspect)
            .filter_map(|limit| match limit.bound {
                Bound::Not(word) => Some(word),
                _ => None,
            })
            .collect();
        words.iter().any(|word| !taken.contains(word))
    }

    /// What must hold for something above to leave an aspect open.
    fn open(&mut self, aspect: AspectId, above: &Above) -> (FormulaId, u8) {
        match above {
            Above::Rule(at) => (self.rules[*at], NO | UNKNOWN),
            Above::Ladder(id) => {
                let deciding = self.deciding_rungs(aspect, *id);
                (self.model.stands_on(*id, &deciding), NO | UNKNOWN)
            }
        }
    }

    fn deciding_rungs(&self, aspect: AspectId, id: LadderId) -> Vec<usize> {
        let Some(ladder) = self.program.ladders.get(id.index()) else { return Vec::new() };
        let decides = |at: &usize| {
            let decision = ladder.rungs[*at].run.decision(aspect);
            decision.is_some_and(|decide| self.is_sure(aspect, &decide.wish))
        };
        (0..ladder.rungs.len()).filter(decides).collect()
    }

    fn lives(&mut self, at: usize, above: &[Above]) -> Life {
        let always_covered = above.iter().any(|above| match above {
            Above::Rule(rule) => self.program.rules[*rule].condition.is_none(),
            Above::Ladder(_) => false,
        });
        if always_covered {
            return Life::Never;
        }
        if !self.model.afford(above.len()) {
            return self.out_of_budget();
        }
        let mut wanted = vec![(self.rules[at], YES)];
        for above in above {
            if matches!(above, Above::Rule(rule) if apart(&self.bounds[at], &self.bounds[*rule])) {
                continue;
            }
            let aspect = self.aspect_of(at, above);
            let open = self.open(aspect, above);
            // What one of them covers alone needs no look at all of them together. Where its comparisons ask for more, it
            // hardly does, and the look at all of them would tell.
            let may_cover = match above {
                Above::Rule(rule) => may_imply(&self.bounds[at], &self.bounds[*rule]),
                Above::Ladder(_) => true,
            };
            if may_cover && self.nothing(&[(self.rules[at], YES), open], false) {
                return Life::Never;
            }
            wanted.push(open);
        }
        // With many rules left open, a value that one asks for settles most of the others.
        let ask = if wanted.len() <= FEW { Model::possible } else { Model::solve };
        match ask(&mut self.model, &wanted, true) {
            Answer::Found(_) => Life::Lives,
            Answer::Unexamined => self.out_of_budget(),
            Answer::Nothing => match ask(&mut self.model, &wanted, false) {
                Answer::Found(_) => Life::WhileUnknown,
                Answer::Unexamined => self.out_of_budget(),
                Answer::Nothing => Life::Never,
            },
        }
    }

    fn out_of_budget(&mut self) -> Life {
        self.unexamined = true;
        Life::Unexamined
    }

    /// The aspect for which something stands above a rule: the first that both decide.
    fn aspect_of(&self, at: usize, above: &Above) -> AspectId {
        let decides = &self.program.rules[at].run.decides;
        let both = decides.iter().find(|decide| match above {
            Above::Rule(rule) => self.program.rules[*rule].run.decision(decide.aspect).is_some(),
            Above::Ladder(id) => !self.deciding_rungs(decide.aspect, *id).is_empty(),
        });
        both.map_or(AspectId::DEPTH, |decide| decide.aspect)
    }

    /// The rules that cover a dead one: one that does it alone, else all of them.
    fn covering(&mut self, at: usize, above: &[Above]) -> Vec<usize> {
        let rules: Vec<usize> = above
            .iter()
            .filter_map(|above| match above {
                Above::Rule(rule) => Some(*rule),
                Above::Ladder(_) => None,
            })
            .collect();
        for rule in &rules {
            let alone = [(self.rules[at], YES), (self.rules[*rule], NO | UNKNOWN)];
            if self.nothing(&alone, false) {
                return vec![*rule];
            }
        }
        rules.into_iter().take(3).collect()
    }

    // Gaps

    fn gaps(&mut self) {
        let count = self.program.aspects.len();
        for aspect in (0..count).filter_map(|at| u32::try_from(at).ok()).map(AspectId) {
            self.gap(aspect);
        }
    }

    fn gap(&mut self, aspect: AspectId) {
        let Some(first_run) = self.first_run(aspect) else { return };
        let deciding: Vec<Above> = self.program.order.iter().filter_map(|item| self.decides(aspect, *item)).collect();
        let always = deciding.iter().any(|above| match above {
            Above::Rule(rule) => self.program.rules[*rule].condition.is_none(),
            Above::Ladder(_) => false,
        });
        if always {
            return;
        }
        let mut wanted = Vec::new();
        for above in &deciding {
            let open = self.open(aspect, above);
            wanted.push(open);
        }
        for (at, rule) in self.program.rules.iter().enumerate() {
            if !rule.stops.is_empty() {
                wanted.push((self.rules[at], NO | UNKNOWN));
            }
        }
        let name = self.program.aspect_name(aspect).to_owned();
        match self.model.solve(&wanted, true) {
            Answer::Found(values) => {
                let roots: Vec<FormulaId> = wanted.iter().map(|(id, _)| *id).collect();
                if self.model.is_exact(&roots) {
                    let example = self.example_of(first_run, aspect, &values);
                    self.examples.push(example);
                }
                let message = format!("`{name}` may have no advice under some conditions");
                let example = self.example_text(&values);
                let help = if example.is_empty() {
                    format!("add a rule without `if` below the others that decides `{name}`")
                } else {
                    format!("for example with {example}; a rule without `if` below the others would decide then")
                };
                self.findings.push(Finding::new(Code::Gap, first_run, message).help(help));
            }
            Answer::Unexamined => self.unexamined = true,
            Answer::Nothing => match self.model.solve(&wanted, false) {
                Answer::Found(values) => {
                    let unknown = self.unknown_names(&values);
                    let while_unknown = if unknown.is_empty() { "something".to_owned() } else { unknown.join(" and ") };
                    let message = format!("`{name}` may have no advice while {while_unknown} is unknown");
                    self.findings.push(Finding::new(Code::GapUnknown, first_run, message));
                }
                Answer::Unexamined => self.unexamined = true,
                Answer::Nothing => {}
            },
        }
    }

    /// Where an aspect is first decided in the file.
    fn first_run(&self, aspect: AspectId) -> Option<Span> {
        self.program.order.iter().find_map(|item| match *item {
            Item::Rule(at) => self.program.rules[at].run.decision(aspect).map(|decide| decide.span),
            Item::Ladder(at) => {
                let rungs = &self.program.ladders[at].rungs;
                rungs.iter().find_map(|rung| rung.run.decision(aspect)).map(|decide| decide.span)
            }
        })
    }

    /// The values of a solution in words.
    fn example_text(&self, values: &[(Var, crate::check::reason::Domain)]) -> String {
        let mut parts = Vec::new();
        for (var, domain) in values {
            match var {
                Var::Input(id) => {
                    let Some(input) = self.program.inputs.get(id.index()) else { continue };
                    let Some(value) = telling(self.program, *id, domain) else { continue };
                    let name = self.program.input_name(input.source);
                    let value = self.program.print(value, input.kind, is_small(input.source));
                    parts.push(format!("{name} {value}"));
                }
                Var::Rung(id) => {
                    let Some(ladder) = self.program.ladders.get(id.index()) else { continue };
                    let rung = domain.least().and_then(|at| ladder.rungs.get(usize::try_from(at).ok()?));
                    parts.extend(rung.map(|rung| format!("{} {}", ladder.name, rung.name)));
                }
                Var::Timed(id) => {
                    let Some(definition) = self.program.lets.get(id.index()) else { continue };
                    let yes = domain.least() == Some(1);
                    parts.push(format!("{} {}", definition.name, if yes { "yes" } else { "no" }));
                }
                Var::InMove(..) | Var::Free(_) => {}
            }
            if parts.len() == 6 {
                break;
            }
        }
        parts.join(", ")
    }

    fn unknown_names(&self, values: &[(Var, crate::check::reason::Domain)]) -> Vec<String> {
        let mut names = Vec::new();
        for (var, domain) in values {
            if domain.least().is_some() {
                continue;
            }
            match var {
                Var::Input(id) | Var::InMove(id, _) => {
                    names
                        .extend(self.program.inputs.get(id.index()).map(|input| self.program.input_name(input.source)));
                }
                Var::Timed(id) => names.extend(self.program.lets.get(id.index()).map(|let_| let_.name.clone())),
                Var::Rung(id) => names.extend(self.program.ladders.get(id.index()).map(|ladder| ladder.name.clone())),
                Var::Free(_) => {}
            }
        }
        names.truncate(3);
        names
    }

    /// The values of a solution, for the engine.
    fn example_of(&self, span: Span, aspect: AspectId, values: &[(Var, crate::check::reason::Domain)]) -> Example {
        let program = self.program;
        let mut example = Example {
            span,
            aspect,
            values: vec![None; program.inputs.len()],
            rungs: vec![None; program.ladders.len()],
        };
        for (var, domain) in values {
            match var {
                Var::Input(id) => example.values[id.index()] = telling(program, *id, domain),
                Var::Rung(id) => {
                    example.rungs[id.index()] = domain.least().and_then(|rung| usize::try_from(rung).ok());
                }
                _ => {}
            }
        }
        let at = |known| program.inputs.iter().position(|input| input.source == InputSource::Known(known));
        if let (Some(light), Some(height)) = (at(Known::Light), at(Known::SunHeight)) {
            example.values[light] = example.values[height].map(light_class);
        }
        example
    }

    // Limits

    fn limits(&mut self) {
        let program = self.program;
        let mut seen: Vec<(AspectId, bool, i64, usize, Span)> = Vec::new();
        for (at, rule) in program.rules.iter().enumerate() {
            for limit in &rule.limits {
                let (low, amount) = match &limit.bound {
                    Bound::AtLeast(expr) => (true, expr.constant()),
                    Bound::AtMost(expr) => (false, expr.constant()),
                    Bound::Not(_) => continue,
                };
                let Some(amount) = amount else { continue };
                for (aspect, other_low, other, other_rule, span) in seen.clone().into_iter().take(256) {
                    let (floor, ceiling) = if low { (amount, other) } else { (other, amount) };
                    if aspect != limit.aspect || other_low == low || floor <= ceiling {
                        continue;
                    }
                    let together = [(self.rules[at], YES), (self.rules[other_rule], YES)];
                    if let Answer::Found(_) = self.model.possible(&together, false) {
                        let line = program.sources.place(span).line;
                        let text = self.text(limit.span);
                        let message = format!("`keep {text}` and the limit in line {line} leave nothing between them");
                        let finding = Finding::new(Code::Limits, limit.span, message)
                            .help("where both apply, the aspect has no value");
                        self.findings.push(finding);
                    }
                }
                seen.push((limit.aspect, low, amount, at, limit.span));
            }
        }
    }

    // Ladders

    fn ladder(&mut self, at: usize) {
        let ladder = &self.program.ladders[at];
        let id = LadderId(u32::try_from(at).unwrap_or(u32::MAX));
        for rung in unreachable_rungs(ladder) {
            let rung = &ladder.rungs[rung];
            let message = format!("nothing reaches the rung `{}`", rung.name);
            let finding = Finding::new(Code::Unreachable, rung.span, message)
                .help("neither a move nor the closing of a rung above leads to it");
            self.findings.push(finding);
        }
        for step in &ladder.moves {
            if !has_clock(self.program, &step.condition) {
                let message = format!("this `{}` has no clock of its own", step.direction.text());
                let help = if step.direction == Direction::Over {
                    "while it is true it holds the ladder on its first rung; add `and ... changes`, or ask `strikeless` \
                     or `strikes` in it"
                } else {
                    "while it is true the ladder moves every minute; ask `strikeless`, `strikes` or `changes` in it"
                };
                self.findings.push(Finding::new(Code::NoClock, step.span, message).help(help));
            }
        }
        self.moves_together(ladder, id);
    }

    fn moves_together(&mut self, ladder: &LadderDef, id: LadderId) {
        for (b, later) in ladder.moves.iter().enumerate() {
            for earlier in &ladder.moves[..b] {
                let opposite = matches!(
                    (earlier.direction, later.direction),
                    (Direction::Down, Direction::Up) | (Direction::Up, Direction::Down)
                );
                if !opposite {
                    continue;
                }
                let a = self.model.formula(&earlier.condition, Some(id));
                let b = self.model.formula(&later.condition, Some(id));
                let Answer::Found(_) = self.model.possible(&[(a, YES), (b, YES)], false) else { continue };
                let may = if self.model.is_exact(&[a, b]) { "can" } else { "may" };
                let line = self.program.sources.place(earlier.span).line;
                let message = format!(
                    "`{}` {may} hold together with the `{}` in line {line}",
                    later.direction.text(),
                    earlier.direction.text()
                );
                let finding = Finding::new(Code::MovesTogether, later.span, message).help(
                    "then the one written first is made, and the other may follow at once; part them, for \
                           instance by a window of strikes no longer than the time without one",
                );
                self.findings.push(finding);
                return;
            }
        }
    }
}

enum Life {
    Lives,
    WhileUnknown,
    Never,
    Unexamined,
}

/// A value of an input's domain that reads well in the strategy's units.
fn telling(program: &Program, id: InputId, domain: &crate::check::reason::Domain) -> Option<i64> {
    let input = program.inputs.get(id.index())?;
    let unit = program.system.unit(input.kind, is_small(input.source));
    let places = unit.map_or(0, |unit| unit.places);
    let grid = unit.map(|unit| (unit.counts / 10i64.pow(places), unit.zero_for(&input.kind)));
    domain.telling_value(plausible(program, input.source), grid)
}

fn plausible(program: &Program, source: InputSource) -> Option<(i64, i64)> {
    match source {
        InputSource::Known(known) | InputSource::Call(known, ..) => known.entry().plausible,
        InputSource::Own(at) => program.own.get(at).and_then(|own| own.plausible),
        InputSource::Change(..) => None,
        InputSource::Strikes(_) => Known::Strikes.entry().plausible,
    }
}

/// Rungs that neither a move nor a closing leads to.
fn unreachable_rungs(ladder: &LadderDef) -> Vec<usize> {
    let count = ladder.rungs.len();
    let closes = |at: usize| ladder.rungs[at].only_if.is_some();
    let has = |direction| ladder.moves.iter().any(|step| step.direction == direction);
    let mut reached = vec![false; count];
    let mut pending: Vec<usize> = Vec::new();
    // The first open rung: the first, and those below as far as all above can be closed.
    for at in 0..count {
        pending.push(at);
        if !closes(at) {
            break;
        }
    }
    while let Some(at) = pending.pop() {
        if std::mem::replace(&mut reached[at], true) {
            continue;
        }
        let mut above = Vec::new();
        for other in (0..at).rev() {
            above.push(other);
            if !closes(other) {
                break;
            }
        }
        let mut below = Vec::new();
        for other in at + 1..count {
            below.push(other);
            if !closes(other) {
                break;
            }
        }
        let above_may_all_be_closed = (0..at).all(closes);
        if has(Direction::Up) || closes(at) {
            pending.extend(above);
        }
        if has(Direction::Down) || (closes(at) && above_may_all_be_closed) {
            pending.extend(below);
        }
    }
    (0..count).filter(|at| !reached[*at]).collect()
}

/// Whether `strikeless`, `strikes` or `changes` itself stands in a move.
fn has_clock(program: &Program, condition: &Expr) -> bool {
    let mut found = false;
    condition.visit(&mut |expr| match &expr.op {
        Op::Changes(..) => found = true,
        Op::Input(id) => {
            let source = program.inputs.get(id.index()).map(|input| input.source);
            found |= matches!(source, Some(InputSource::Known(Known::Strikeless) | InputSource::Strikes(_)));
        }
        _ => {}
    });
    found
}
