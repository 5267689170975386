//! Strategies, readings and days made from bytes, for the fuzz targets and for the property tests.
//!
//! The same bytes always make the same. Where they run out every choice is the first, so that fewer bytes make less.

use std::fmt::Write;

use leadsman::engine::{Mark, Readings};
use leadsman::program::expr::{Expr, InputId, LadderId};
use leadsman::program::{Bound, GivenTarget, InputSource, Program, Wish};
use leadsman::session::Event;
use leadsman::vocabulary::catalogue::Known;
use leadsman::vocabulary::kind::Kind;
use leadsman::vocabulary::quantity::{DAY, MINUTE, PER_UNIT, SECOND};
use leadsman::vocabulary::time::Instant;
use leadsman::water::cast::Cast;

/// Bytes read as choices.
pub struct Choices<'b> {
    bytes: &'b [u8],
}

impl<'b> Choices<'b> {
    /// Choices out of bytes.
    pub fn new(bytes: &'b [u8]) -> Self {
        Self { bytes }
    }

    fn byte(&mut self) -> u8 {
        let Some((first, rest)) = self.bytes.split_first() else { return 0 };
        self.bytes = rest;
        *first
    }

    /// A number below `count`, which is at most 256.
    pub fn below(&mut self, count: usize) -> usize {
        usize::from(self.byte()) % count.max(1)
    }

    /// One of a list.
    pub fn pick<'t, T>(&mut self, list: &'t [T]) -> &'t T {
        &list[self.below(list.len())]
    }

    /// Yes so many times in 256.
    pub fn chance(&mut self, of_256: u8) -> bool {
        256 - usize::from(self.byte()) <= usize::from(of_256)
    }

    /// Whether there are bytes left.
    pub fn is_left(&self) -> bool {
        !self.bytes.is_empty()
    }
}

/// What a made strategy may have in it.
#[derive(Clone, Copy)]
pub struct Wants {
    /// `known` and `unknown`.
    pub known: bool,
    /// Lets that take time.
    pub timed: bool,
    /// Ladders.
    pub ladders: bool,
    /// Trials.
    pub trials: bool,
}

/// Everything.
pub const ALL: Wants = Wants { known: true, timed: true, ladders: true, trials: true };

/// Readings and calls by kind, with values in rising order to compare them with.
struct Sort {
    readings: &'static [&'static str],
    values: &'static [&'static str],
    /// What may be added to or taken from one of them.
    steps: &'static [&'static str],
}

const TEMPERATURE: Sort = Sort {
    readings: &["surface", "air", "temp_at(20 ft)", "temp_at(40 ft)"],
    values: &["43 °F", "54 °F", "15 °C", "62 °F", "65 °F", "68 °F"],
    steps: &["4 °F", "2 °C", "change(surface, 1 h)"],
};
const LENGTH: Sort = Sort {
    readings: &["bottom", "mark_depth", "depth_of(62 °F)", "depth_of(54 °F)", "waves", "probe", "strike_depth"],
    values: &["0", "1 in", "4 in", "3 ft", "6 ft", "5 m", "20 ft", "10 fathom", "120 ft"],
    steps: &["6 ft", "1 m", "waves", "3 in"],
};
const SPEED: Sort = Sort {
    readings: &["wind", "water_speed", "ground_speed"],
    values: &["0", "2 mph", "2 kn", "8 mph", "5 m/s", "20 mph"],
    steps: &["1 mph", "0.5 kn"],
};
const SHARE: Sort =
    Sort { readings: &["cloud", "daylight"], values: &["0 %", "20 %", "50 %", "90 %", "100 %"], steps: &["10 %"] };
const DURATION: Sort = Sort {
    readings: &["strikeless", "until_sunset", "since_sunrise"],
    values: &["0", "10 min", "35 min", "1 h", "2 h"],
    steps: &["5 min", "1 h"],
};
const NUMBER: Sort = Sort {
    readings: &["follows", "strikes(30 min)", "strikes(10 min)", "bottom / mark_depth"],
    values: &["0", "1", "2.5", "3", "10"],
    steps: &["1", "2"],
};
const CHANGE: Sort = Sort {
    readings: &["change(surface, 1 h)", "change(surface, 20 min)", "surface - air", "surface - temp_at(20 ft)"],
    values: &["-4 °F", "-1 °C", "0 °F", "2 °C", "6 °F"],
    steps: &["1 °F"],
};
const ANGLE: Sort = Sort { readings: &["sun_height"], values: &["-6°", "0", "10°", "40°"], steps: &["5°"] };
const SORTS: [&Sort; 8] = [&TEMPERATURE, &LENGTH, &SPEED, &SHARE, &DURATION, &NUMBER, &CHANGE, &ANGLE];

const YES_NO: [&str; 6] = ["marks", "releasing", "bait_allowed", "bite", "layered", "lines_in"];
const OTHER: [&str; 14] = [
    "light is twilight",
    "light at most low_sun",
    "light is one of dark, high_sun",
    "light is not dark",
    "mood at least following",
    "mood is chasing",
    "mood is not one of sulking, chasing",
    "month is november to march",
    "month is may",
    "clock is 22:00 to 04:00",
    "clock < 09:30",
    "wind_from is W to N",
    "wind_from is 315° to 45°",
    "position known",
];
const TRICKY: [&str; 12] = [
    "surface known",
    "mood unknown",
    "depth_of(62 °F) known",
    "marks unknown",
    "not (bottom known)",
    "cloud known and cloud at most 50 %",
    "bottom * 2 < mark_depth",
    "bottom / (waves - waves) > 1",
    "temp_at(mark_depth) at most 62 °F",
    "depth_of(surface - 4 °F) < 20 ft",
    "mark_depth is strike_depth to bottom",
    "(surface - air) * 2 known",
];
const HEAD: &str = r#"strategy "Made"
  units us
  also water inlet, open_water
reading mood is one of sulking < following < chasing, good for 45 min
reading probe is length 0 to 60 ft, good for 20 min
reading follows is number, good for 20 min
reading bite is yes or no
"#;
const LURES: [&str; 4] = ["spoon", "plug", "fly", "natural_bait"];
const PLACES: [&str; 2] = ["inlet", "open_water"];
/// Ranges of the aspects that have them, in rising order.
const RANGES: [(&str, &[&str]); 4] = [
    ("depth", &["0 ft", "3 ft", "10 ft", "5 m", "28 ft", "60 ft"]),
    ("speed", &["0.8 mph", "1.9 mph", "2 kn", "3.6 mph"]),
    ("size", &["1 in", "2 in", "8 cm", "4.5 in"]),
    ("setback", &["20 ft", "60 ft", "40 m", "200 ft"]),
];
const SHIFTS: [(&str, &[&str]); 8] = [
    ("deeper", &["4 ft", "waves", "mark_depth"]),
    ("shallower", &["4 ft", "30 ft", "waves * 3"]),
    ("faster", &["0.3 mph", "wind / 10"]),
    ("slower", &["0.4 mph", "3 mph"]),
    ("larger", &["0.5 in", "waves"]),
    ("smaller", &["0.5 in", "4 in"]),
    ("longer", &["20 ft", "probe"]),
    ("shorter", &["20 ft", "90 ft"]),
];

/// Makes the text of a strategy that checks.
pub fn strategy(choices: &mut Choices<'_>, wants: Wants) -> String {
    let mut maker = Maker { choices, wants, text: HEAD.to_owned(), conditions: Vec::new(), lengths: 0, ladders: 0 };
    // Ladders may be named above where they stand, so how many there are is settled first.
    maker.ladders = if wants.ladders { maker.choices.below(3) } else { 0 };
    for number in 0..maker.choices.below(5) {
        maker.definition(number);
    }
    for number in 0..1 + maker.choices.below(8) {
        maker.rule(number);
    }
    for number in 0..maker.ladders {
        maker.ladder(number);
        for rule in 0..maker.choices.below(3) {
            maker.rule(100 * (number + 1) + rule);
        }
    }
    if wants.trials {
        for number in 0..maker.choices.below(3) {
            maker.trial(number);
        }
    }
    maker.text
}

/// Makes two conditions for one strategy, which has them in the rules `A` and `B`, and others that hang on them.
pub fn conditions(choices: &mut Choices<'_>, wants: Wants, rules: &[&str]) -> String {
    let mut maker = Maker { choices, wants, text: HEAD.to_owned(), conditions: Vec::new(), lengths: 0, ladders: 0 };
    for number in 0..maker.choices.below(3) {
        maker.definition(number);
    }
    let (a, b) = (maker.condition(3), maker.condition(3));
    for (number, rule) in rules.iter().enumerate() {
        let condition = rule.replace('A', &format!("({a})")).replace('B', &format!("({b})"));
        let _ = writeln!(maker.text, "rule \"R{number}\" if {condition} caution \"{number}\"");
    }
    maker.text
}

struct Maker<'c, 'b> {
    choices: &'c mut Choices<'b>,
    wants: Wants,
    text: String,
    /// Names of lets that are conditions.
    conditions: Vec<String>,
    /// How many lets are lengths.
    lengths: usize,
    ladders: usize,
}

impl Maker<'_, '_> {
    fn definition(&mut self, number: usize) {
        let form = self.choices.below(4);
        if form == 3 {
            let value = self.length();
            let _ = writeln!(self.text, "let v{} = {value}", self.lengths);
            self.lengths += 1;
            return;
        }
        let condition = self.condition(2);
        let time = ["0 s", "1 min", "10 min", "90 s", "1 h"][self.choices.below(5)];
        let timing = match form {
            1 if self.wants.timed => format!(", settling {time}"),
            2 if self.wants.timed => format!(" for {time}"),
            _ => String::new(),
        };
        let timing = if time == "0 s" { String::new() } else { timing };
        let _ = writeln!(self.text, "let c{number} = {condition}{timing}");
        self.conditions.push(format!("c{number}"));
    }

    fn length(&mut self) -> String {
        let reading = *self.choices.pick(LENGTH.readings);
        match self.choices.below(4) {
            0 => reading.to_owned(),
            1 => format!("{reading} + {}", self.choices.pick(LENGTH.steps)),
            2 => format!("{reading} - {}", self.choices.pick(LENGTH.steps)),
            _ if self.lengths > 0 => format!("v{} * 1.5", self.choices.below(self.lengths)),
            _ => format!("{reading} / 2"),
        }
    }

    fn condition(&mut self, depth: usize) -> String {
        if depth == 0 {
            return self.comparison();
        }
        match self.choices.below(8) {
            0..=2 => self.comparison(),
            3 => format!("not ({})", self.condition(depth - 1)),
            4 => format!("({}) and ({})", self.condition(depth - 1), self.condition(depth - 1)),
            5 => format!("({}) or ({})", self.condition(depth - 1), self.condition(depth - 1)),
            6 if !self.conditions.is_empty() => self.choices.pick(&self.conditions).clone(),
            6 => self.comparison(),
            _ => format!(
                "{} and {} or {}",
                self.condition(depth - 1),
                self.condition(depth - 1),
                self.condition(depth - 1)
            ),
        }
    }

    fn comparison(&mut self) -> String {
        match self.choices.below(8) {
            0 => (*self.choices.pick(&YES_NO)).to_owned(),
            1 => format!("{} is no", self.choices.pick(&YES_NO)),
            2 => (*self.choices.pick(&OTHER[..if self.wants.known { 14 } else { 13 }])).to_owned(),
            3 if self.wants.known => (*self.choices.pick(&TRICKY)).to_owned(),
            3 => (*self.choices.pick(&TRICKY[6..11])).to_owned(),
            4 if self.ladders > 0 => {
                let ladder = self.choices.below(self.ladders);
                let form = ["is low", "is not top", "is one of top, mid"][self.choices.below(3)];
                format!("ladder{ladder} {form}")
            }
            _ => self.quantities(),
        }
    }

    fn quantities(&mut self) -> String {
        let sort = *self.choices.pick(&SORTS);
        let reading = *self.choices.pick(sort.readings);
        let at = self.choices.below(sort.values.len());
        let value = sort.values[at];
        let compare = ["<", "<=", ">", ">=", "at least", "at most"][self.choices.below(6)];
        match self.choices.below(6) {
            0 => {
                let to = at + self.choices.below(sort.values.len() - at);
                let from = if value == "0" { zero_of(sort) } else { value };
                let to = if sort.values[to] == "0" { zero_of(sort) } else { sort.values[to] };
                let not = if self.choices.chance(60) { "not " } else { "" };
                format!("{reading} is {not}{from} to {to}")
            }
            1 => format!("{reading} {compare} {}", self.choices.pick(sort.readings)),
            2 => {
                let sign = if self.choices.chance(128) { "+" } else { "-" };
                format!(
                    "{reading} {sign} {} {compare} {}",
                    self.choices.pick(sort.steps),
                    self.choices.pick(sort.readings)
                )
            }
            _ => format!("{reading} {compare} {value}"),
        }
    }

    fn wish(&mut self, aspect: usize) -> String {
        match aspect {
            4 => {
                let (a, b) = (self.choices.below(4), self.choices.below(4));
                let or = if a == b { String::new() } else { format!(" or {}", LURES[b]) };
                format!("lure {}{or}", LURES[a])
            }
            5 => format!("water {}", self.choices.pick(&PLACES)),
            0 if self.choices.chance(80) => {
                let (from, to) = (self.length(), self.length());
                if self.choices.chance(128) { format!("depth {from} to {to}") } else { format!("depth {from}") }
            }
            _ => {
                let (name, values) = RANGES[aspect];
                let from = self.choices.below(values.len());
                let to = from + self.choices.below(values.len() - from);
                if from == to {
                    format!("{name} {}", values[from])
                } else {
                    format!("{name} {} to {}", values[from], values[to])
                }
            }
        }
    }

    /// Some aspects decided and some shifted, each at most once.
    fn run(&mut self, must: bool) -> String {
        let which = self.choices.byte();
        let mut items: Vec<String> = (0..6).filter(|at| which & (1 << at) != 0).map(|at| self.wish(at)).collect();
        if which & 64 != 0 || must && items.is_empty() {
            let (word, amounts) = *self.choices.pick(&SHIFTS);
            items.push(format!("{word} by {}", self.choices.pick(amounts)));
        }
        items.join(", ")
    }

    fn keep(&mut self) -> String {
        let at = self.choices.below(6);
        if at == 4 {
            return format!("keep lure not {}", self.choices.pick(&LURES));
        }
        if at == 5 {
            return format!("keep water not {}", self.choices.pick(&PLACES));
        }
        let (name, values) = RANGES[at];
        let bound = if self.choices.chance(128) { "at least" } else { "at most" };
        let value = match at {
            0 if self.choices.chance(128) => self.length(),
            _ => (*self.choices.pick(values)).to_owned(),
        };
        format!("keep {name} {bound} {value}")
    }

    fn rule(&mut self, number: usize) {
        let mut rule = format!("rule \"R{number}\"\n");
        if self.choices.chance(220) {
            let _ = writeln!(rule, "  if {}", self.condition(3));
        }
        let form = self.choices.below(8);
        let run = self.run(form < 4);
        if !run.is_empty() {
            let _ = writeln!(rule, "  run {run}");
        }
        if form == 3 || form == 4 || run.is_empty() {
            let _ = writeln!(rule, "  {}", self.keep());
        }
        match form {
            5 => rule.push_str("  caution \"Mind.\"\n"),
            6 if self.choices.chance(64) => rule.push_str("  stop \"Enough.\"\n"),
            _ => {}
        }
        self.text.push_str(&rule);
    }

    fn ladder(&mut self, number: usize) {
        let _ = writeln!(self.text, "ladder ladder{number}");
        for rung in ["top", "mid", "low"] {
            let run = self.run(true);
            let _ = write!(self.text, "  rung {rung} run {run}");
            if self.choices.chance(70) {
                let only_if = self.condition(1);
                let _ = write!(self.text, " only if {only_if}");
            }
            self.text.push('\n');
        }
        let down = ["strikeless at least 10 min", "marks and strikeless at least 35 min", "strikeless > 1 min"];
        let _ = writeln!(self.text, "  step down if {}", self.choices.pick(&down));
        if self.choices.chance(128) {
            let _ = writeln!(self.text, "  step up if strikes(30 min) at least {}", 1 + self.choices.below(3));
        }
        if self.choices.chance(128) {
            let watched = match self.conditions.first() {
                Some(name) if self.choices.chance(128) => name.clone(),
                _ => (*self.choices.pick(&["light", "surface", "mood", "marks", "cloud"])).to_owned(),
            };
            let _ = writeln!(self.text, "  start over if {watched} changes");
        }
        if self.choices.chance(60) {
            let condition = self.condition(2);
            let _ = writeln!(self.text, "  step up if {condition}");
        }
    }

    fn trial(&mut self, number: usize) {
        let (given, expect) = (self.given(), self.expect());
        let _ = writeln!(self.text, "trial \"T{number}\"\n  given {given}\n  expect {expect}");
        for _ in 0..self.choices.below(3) {
            let after = ["30 s", "5 min", "35 min", "2 h"][self.choices.below(4)];
            let given = if self.choices.chance(128) { format!("given {} ", self.given()) } else { String::new() };
            let expect = self.expect();
            let _ = writeln!(self.text, "  after {after} {given}expect {expect}");
        }
    }

    fn given(&mut self) -> String {
        const GIVEN: [&str; 12] = [
            "surface 54 °F",
            "waves 8 in",
            "cloud 20 %",
            "marks yes",
            "bottom 90 ft",
            "mark_depth unknown",
            "mood following",
            "sun_height -3°",
            "clock 14:00",
            "strikeless 40 min",
            "depth_of(62 °F) 31 ft",
            "cast [0 ft 70 °F, 25 ft 66 °F 8 mg/L, 40 ft 52 °F]",
        ];
        let first = self.choices.below(12);
        let list: Vec<&str> = (0..1 + self.choices.below(5)).map(|at| GIVEN[(first + at) % 12]).collect();
        list.join(", ")
    }

    fn expect(&mut self) -> String {
        const EXPECT: [&str; 6] =
            ["depth 3 to 10 ft", "unknown depth", "no stop", "caution \"Mind.\"", "lure spoon", "speed 1.9 to 3.6 mph"];
        match self.choices.below(8) {
            7 if self.ladders > 0 => "ladder0 mid".to_owned(),
            at => EXPECT[at % 6].to_owned(),
        }
    }
}

fn zero_of(sort: &Sort) -> &'static str {
    // A bare zero beside a unit takes it; two bare zeros would have none.
    match sort.readings[0] {
        "bottom" => "0 ft",
        "wind" => "0 mph",
        "strikeless" => "0 min",
        "sun_height" => "0°",
        _ => "0",
    }
}

/// Every expression of a program.
pub fn visit<'p>(program: &'p Program, see: &mut dyn FnMut(&'p Expr)) {
    program.lets.iter().for_each(|definition| definition.value.visit(see));
    for rule in &program.rules {
        rule.condition.iter().for_each(|condition| condition.visit(see));
        run(&rule.run, see);
        for limit in &rule.limits {
            if let Bound::AtLeast(amount) | Bound::AtMost(amount) = &limit.bound {
                amount.visit(see);
            }
        }
    }
    for ladder in &program.ladders {
        ladder.moves.iter().for_each(|step| step.condition.visit(see));
        for rung in &ladder.rungs {
            rung.only_if.iter().for_each(|only_if| only_if.visit(see));
            run(&rung.run, see);
        }
    }
}

fn run<'p>(run: &'p leadsman::program::Run, see: &mut dyn FnMut(&'p Expr)) {
    for decide in &run.decides {
        if let Wish::Range(from, to) = &decide.wish {
            from.visit(see);
            to.iter().for_each(|to| to.visit(see));
        }
    }
    run.shifts.iter().for_each(|shift| shift.by.visit(see));
}

/// Values that are telling for a program: those it names, their neighbours, and some that go with any kind.
pub struct Values {
    named: Vec<(Kind, i64)>,
    program_sets: Vec<usize>,
}

impl Values {
    /// The values that a program names.
    pub fn of(program: &Program) -> Self {
        let mut named = Vec::new();
        visit(program, &mut |expr| {
            if let Some(value) = expr.constant() {
                named.push((expr.kind, value));
            }
        });
        Self { named, program_sets: program.sets.iter().map(|set| set.words.len()).collect() }
    }

    /// A value of a kind.
    pub fn value(&self, choices: &mut Choices<'_>, kind: Kind) -> i64 {
        let count = |count: usize| i64::try_from(count).unwrap_or(0);
        match kind {
            Kind::YesNo | Kind::Place => return count(choices.below(2)),
            Kind::OneOf(set) => {
                let words = self.program_sets.get(set.0 as usize).copied().unwrap_or(1);
                return count(choices.below(words));
            }
            Kind::Month => return 1 + count(choices.below(12)),
            Kind::Clock => return count(choices.below(24 * 4)) * DAY / 96,
            Kind::Direction => return count(choices.below(36)) * 10 * PER_UNIT,
            _ => {}
        }
        let fitting: Vec<i64> =
            self.named.iter().filter(|(other, _)| *other == kind).map(|(_, value)| *value).collect();
        if !fitting.is_empty() && choices.chance(180) {
            let near = [0, 1, -1, 1000, -1000][choices.below(5)];
            return choices.pick(&fitting).saturating_add(near);
        }
        let step = count(choices.below(256));
        match kind {
            Kind::Temperature => 2_298_350_000 + (30 + step % 50) * 5_000_000,
            Kind::Change => (step - 128) * 500_000,
            Kind::Share => step * PER_UNIT / 255,
            Kind::Pressure => (90_000 + 50 * step) * PER_UNIT,
            Kind::Oxygen => step * PER_UNIT / 20_000,
            Kind::Angle => (step - 128) * PER_UNIT * 90 / 128,
            Kind::Duration => step * MINUTE / 2,
            Kind::Speed => step * PER_UNIT / 20,
            _ => step * PER_UNIT / 5,
        }
    }
}

/// What can be given to a program: what it asks for, and more that derivations use.
pub fn targets(program: &Program) -> Vec<(GivenTarget, Kind)> {
    let of = |source: InputSource| match source {
        InputSource::Known(known) => Some(GivenTarget::Known(known)),
        InputSource::Own(at) => Some(GivenTarget::Own(at)),
        InputSource::Call(known, kind, argument) => Some(GivenTarget::Call(known, kind, argument)),
        InputSource::Strikes(window) => Some(GivenTarget::Call(Known::Strikes, Kind::Duration, window)),
        InputSource::Change(input, window) => match program.inputs.get(input.index())?.source {
            InputSource::Known(known) => Some(GivenTarget::ChangeOfKnown(known, window)),
            InputSource::Own(at) => Some(GivenTarget::ChangeOfOwn(at, window)),
            _ => None,
        },
    };
    let asked = program.inputs.iter().filter_map(|input| Some((of(input.source)?, input.kind)));
    let mut targets: Vec<(GivenTarget, Kind)> = asked.filter(|(_, kind)| *kind != Kind::Place).collect();
    for known in [Known::Surface, Known::SunHeight, Known::Strikeless, Known::LinesIn, Known::Clarity] {
        targets.push((GivenTarget::Known(known), known.entry().kind));
    }
    targets
}

/// One event that can happen in a session of a program.
pub fn event(choices: &mut Choices<'_>, program: &Program, targets: &[(GivenTarget, Kind)], values: &Values) -> Event {
    match choices.below(12) {
        0 | 1 => Event::Strike,
        2 => cast(choices),
        3 if !program.ladders.is_empty() => {
            let ladder = choices.below(program.ladders.len());
            let rung = choices.below(program.ladders[ladder].rungs.len() + 1);
            let rung = (rung < program.ladders[ladder].rungs.len()).then_some(rung);
            Event::Rung(LadderId(u32::try_from(ladder).unwrap_or(0)), rung)
        }
        _ => {
            let (target, kind) = *choices.pick(targets);
            let value = (!choices.chance(30)).then(|| values.value(choices, kind));
            Event::Give(target, value)
        }
    }
}

fn cast(choices: &mut Choices<'_>) -> Event {
    if choices.chance(20) {
        return Event::Cast(None);
    }
    let count = 1 + choices.below(6);
    let mut depth = i64::try_from(choices.below(3)).unwrap_or(0) * 2_743_200;
    let mut points = Vec::new();
    for _ in 0..count {
        let temperature = 2_298_350_000 + (40 + i64::try_from(choices.below(36)).unwrap_or(0)) * 5_000_000;
        let oxygen = choices.chance(128).then(|| i64::try_from(choices.below(12)).unwrap_or(0) * PER_UNIT / 1000);
        points.push((depth, Some(temperature), oxygen));
        depth += (1 + i64::try_from(choices.below(30)).unwrap_or(0)) * 2_743_200;
    }
    Event::Cast(Some(std::sync::Arc::new(Cast::new(points))))
}

/// What happens on a day, in time order. Lines go in first.
pub fn day(choices: &mut Choices<'_>, program: &Program, most: usize) -> Vec<(Instant, Vec<Event>)> {
    let (targets, values) = (targets(program), Values::of(program));
    let mut at = Instant(0);
    let mut day = vec![(at, vec![Event::Give(GivenTarget::Known(Known::LinesIn), Some(1))])];
    while choices.is_left() && day.len() < most {
        let gap = [0, SECOND, 30 * SECOND, MINUTE, 5 * MINUTE, 11 * MINUTE, 45 * MINUTE][choices.below(7)];
        let events: Vec<Event> =
            (0..1 + choices.below(4)).map(|_| event(choices, program, &targets, &values)).collect();
        at = at.after(gap);
        match day.last_mut() {
            Some((last, same)) if *last == at => same.extend(events),
            _ => day.push((at, events)),
        }
    }
    day
}

/// Readings that are whatever a table says, each input for itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// The value of each input.
    pub values: Vec<Option<i64>>,
}

impl Table {
    /// Some value, or none, for every input of a program; `unknown` times in 256 none.
    pub fn make(choices: &mut Choices<'_>, program: &Program, unknown: u8) -> Self {
        let values = Values::of(program);
        let one =
            |input: &leadsman::program::Input| (!choices.chance(unknown)).then(|| values.value(choices, input.kind));
        Self { values: program.inputs.iter().map(one).collect() }
    }
}

impl Readings for Table {
    fn now(&self) -> Instant {
        Instant(0)
    }

    fn input(&self, id: InputId) -> Option<i64> {
        self.values.get(id.index()).copied().flatten()
    }

    fn call(&self, _: Known, _: Kind, argument: i64) -> Option<i64> {
        // Any function of the argument will do, as long as it is one.
        Some(argument.wrapping_mul(7) % (100 * PER_UNIT))
    }

    fn fished(&self) -> i64 {
        0
    }

    fn strikeless_since(&self, _: Mark) -> Option<i64> {
        Some(0)
    }

    fn strikes_since(&self, _: i64, _: Mark) -> Option<i64> {
        Some(0)
    }
}
