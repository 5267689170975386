//! The draw of a fair contest: which of two strategies runs when, or on which rod, decided by chance and by nothing else.
//!
//! Units are blocks of time for the whole boat, or in each block the single rods. Units of one light, and where rods are
//! drawn of one side of the boat, make a stratum; in each stratum exactly half of the units go to either strategy, the odd
//! one by a coin. So neither hour nor side can favour a strategy by more than one unit. A seed gives the same sheet on
//! every machine and forever: the generator is `ChaCha8` (D. J. Bernstein, *ChaCha, a variant of Salsa20*, 2008), the key is
//! the seed in its first eight bytes, and the shuffle is our own.

use std::collections::BTreeMap;
use std::sync::Arc;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde::Serialize;

use super::ahead::{Ahead, Hours, Span};
use super::{Judged, StandingPlan, assumptions, joined, standing};
use crate::advice::text::{Layout, Page};
use crate::advice::{AspectAdvice, LakeAdvice, Said, Shown, advise};
use crate::day::sheet::{Arm, Sheet, Unit};
use crate::program::Program;
use crate::session::Session;
use crate::source::{Fault, Faults};
use crate::tackle::gear::{Rod, Side};
use crate::vocabulary::aspect::AspectId;
use crate::vocabulary::catalogue::{light_class, light_words};
use crate::vocabulary::quantity::{MINUTE, from_si};
use crate::vocabulary::time::Instant;
use crate::water::sun;

/// What is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum By<'a> {
    /// Blocks of time, each for every rod.
    Blocks,
    /// The rods of a boat, anew in each block.
    Rods(&'a [Rod]),
}

/// What a draw is made with.
#[derive(Clone, Copy, Debug)]
pub struct Draw<'a> {
    /// What is drawn.
    pub by: By<'a>,
    /// How long a block is, counts.
    pub block: i64,
    /// The seed.
    pub seed: u64,
}

/// One of the two strategies, and the file it stands in.
#[derive(Clone, Copy, Debug)]
pub struct Entrant<'a> {
    /// The file.
    pub file: &'a str,
    /// The strategy.
    pub program: &'a Arc<Program>,
}

/// A contest that was drawn.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Contest {
    /// The first strategy.
    pub a: EntrantTold,
    /// The second.
    pub b: EntrantTold,
    /// What the draw was made with.
    pub seed: u64,
    /// `blocks` or `rods`.
    pub by: &'static str,
    /// The day.
    pub date: String,
    /// From when to when.
    pub hours_planned: Hours,
    /// Within what the draw is balanced, and how.
    pub strata: Vec<Stratum>,
    /// The standing cautions, each as in its worst block.
    pub standing_cautions: Vec<StandingPlan>,
    /// Each block: what was drawn, and what either strategy is expected to call.
    pub blocks: Vec<Block>,
    /// What the draw can't tell apart, and the like.
    pub cautions: Vec<String>,
    /// How to follow the sheet.
    pub rules: Vec<String>,
    /// What was assumed for the calls.
    pub assumptions: Vec<String>,
    /// What the lake allows.
    pub lake: Option<LakeAdvice>,
}

/// A strategy of a contest.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct EntrantTold {
    /// The file.
    pub file: String,
    /// The strategy's name.
    pub strategy: String,
}

/// Units among which the draw is balanced.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Stratum {
    /// The light, where it is known.
    pub light: Option<String>,
    /// The side of the boat, where rods are drawn.
    pub side: Option<&'static str>,
    /// How many units went to the first strategy.
    pub a: usize,
    /// How many to the second.
    pub b: usize,
}

/// A block of the day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Block {
    /// The block.
    #[serde(flatten)]
    pub hours: Hours,
    /// The light at its middle.
    pub light: Option<String>,
    /// Who runs: one unit for every rod, or one a rod.
    pub units: Vec<UnitTold>,
    /// What the first strategy would call then.
    pub a: CallTold,
    /// What the second would.
    pub b: CallTold,
    /// Whether both call speeds, and no speed is in both ranges.
    pub speeds_apart: bool,
}

/// A unit of a block.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct UnitTold {
    /// The rod; none is every rod.
    pub rod: Option<String>,
    /// Its side of the boat.
    pub side: Option<&'static str>,
    /// `A` or `B`.
    pub run: &'static str,
}

/// What a strategy would call in a block.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CallTold {
    /// Why lines come up; empty where they stay in.
    pub lines_up: Vec<Said>,
    /// Each aspect that the strategy decides anywhere.
    pub tactic: Vec<AspectAdvice>,
}

/// A contest as it was drawn: the document, and the sheet that a log carries.
#[derive(Clone, Debug)]
pub struct Drawn {
    /// The document.
    pub contest: Contest,
    /// The sheet.
    pub sheet: Sheet,
}

/// Draws up a contest.
///
/// # Errors
/// The day is too short to share, or what was read is nothing that a strategy takes.
pub fn contest(
    a: Entrant<'_>,
    b: Entrant<'_>,
    ahead: &Ahead<'_>,
    span: Span,
    draw: Draw<'_>,
    shown: &Shown,
) -> Result<Drawn, Faults> {
    let blocks = ahead.hours(span, draw.block);
    let mut units = units(&blocks, ahead, draw.by);
    assign(&mut units, draw.seed);
    if [Arm::A, Arm::B].iter().any(|arm| !units.iter().any(|unit| unit.run == *arm)) {
        return Err(Fault::new("so few blocks can't be shared between two strategies: one would get none")
            .help("plan a longer day with `--from` and `--to`, or shorter blocks with `--block '15 min'`")
            .into());
    }
    let (of_a, of_b) = (ahead.expect(a.program, &blocks)?, ahead.expect(b.program, &blocks)?);
    let judged_a = judge(&blocks, &of_a.sessions, shown);
    let judged_b = judge(&blocks, &of_b.sessions, shown);
    let told: Vec<Block> = blocks
        .iter()
        .zip(judged_a.iter().zip(&judged_b))
        .map(|(block, (a, b))| told_block(*block, &units, a, b, ahead))
        .collect();
    let told_entrant =
        |entrant: Entrant<'_>| EntrantTold { file: entrant.file.to_owned(), strategy: entrant.program.name.clone() };
    let contest = Contest {
        a: told_entrant(a),
        b: told_entrant(b),
        seed: draw.seed,
        by: match draw.by {
            By::Blocks => "blocks",
            By::Rods(_) => "rods",
        },
        date: ahead.date.to_string(),
        hours_planned: span.told(&ahead.zone),
        strata: strata(&units),
        standing_cautions: standing(&judged_a, ahead),
        cautions: cautions(&told, &blocks, draw.by, ahead),
        blocks: told,
        rules: RULES.map(str::to_owned).to_vec(),
        assumptions: assumptions(CALLS, &[&of_a, &of_b], ahead),
        lake: shown.lake.clone(),
    };
    let sheet = Sheet { a: a.file.to_owned(), b: b.file.to_owned(), seed: draw.seed, units };
    Ok(Drawn { contest, sheet })
}

const CALLS: &str = "Calls are those of each block's middle, as one request without a history; on the water follow each strategy as it calls then.";

/// How a sheet is followed, so that chance alone decides; common practice of randomised trials, no source.
const RULES: [&str; 4] = [
    "Run what the sheet says, whatever the fish do: a block that is swapped by choice is no longer chance.",
    "Begin each block anew: lines out and in again, the strategy's opening tactic.",
    "Fish the same water in blocks that follow each other, as far as it can be done.",
    "What was run otherwise, or not at all, goes into the log as it was.",
];

fn judge<'s>(blocks: &[Span], sessions: &'s [Session], shown: &Shown) -> Vec<Judged<'s>> {
    let judged = blocks.iter().zip(sessions);
    judged
        .map(|(span, session)| Judged { span: *span, session, advice: advise(session, span.middle(), shown) })
        .collect()
}

/// The units in the order of time and of the rods, all of them with the first strategy so far.
fn units(blocks: &[Span], ahead: &Ahead<'_>, by: By<'_>) -> Vec<Unit> {
    let unit = |block: &Span, rod: Option<&Rod>| Unit {
        from: block.from,
        to: block.to,
        light: light(block.middle(), ahead),
        rod: rod.map(|rod| rod.name.clone()),
        side: rod.map(|rod| side(rod.side).to_owned()),
        run: Arm::A,
    };
    match by {
        By::Blocks => blocks.iter().map(|block| unit(block, None)).collect(),
        By::Rods(rods) => blocks.iter().flat_map(|block| rods.iter().map(move |rod| unit(block, Some(rod)))).collect(),
    }
}

/// The light of an instant, by the sun at the water.
fn light(at: Instant, ahead: &Ahead<'_>) -> Option<String> {
    let height = from_si(sun::height(ahead.setting.place?, at)?)?;
    light_words().words.get(usize::try_from(light_class(height)).ok()?).cloned()
}

fn side(side: Side) -> &'static str {
    match side {
        Side::Port => "port",
        Side::Centre => "centre",
        Side::Starboard => "starboard",
    }
}

/// The place of a stratum in the order in which strata are drawn: light from dark to high, unknown last, then the sides.
fn place(unit: &Unit) -> (usize, Option<String>) {
    let words = light_words().words;
    let light = unit.light.as_ref().and_then(|light| words.iter().position(|word| word == light));
    (light.unwrap_or(words.len()), unit.side.clone())
}

/// Assigns units to the strategies: in each stratum half to either, the odd one by a coin, then shuffled.
fn assign(units: &mut [Unit], seed: u64) {
    let mut chance = chance(seed);
    let mut strata: BTreeMap<(usize, Option<String>), Vec<usize>> = BTreeMap::new();
    for (at, unit) in units.iter().enumerate() {
        strata.entry(place(unit)).or_default().push(at);
    }
    for members in strata.values() {
        let half = members.len() / 2;
        let mut arms: Vec<Arm> = [Arm::A, Arm::B].into_iter().flat_map(|arm| std::iter::repeat_n(arm, half)).collect();
        if members.len() % 2 == 1 {
            arms.push(if below(&mut chance, 2) == 0 { Arm::A } else { Arm::B });
        }
        shuffle(&mut arms, &mut chance);
        for (at, arm) in members.iter().zip(arms) {
            if let Some(unit) = units.get_mut(*at) {
                unit.run = arm;
            }
        }
    }
}

/// The generator of a seed. Its key is written out here, so that no library's way of stretching a seed matters.
fn chance(seed: u64) -> ChaCha8Rng {
    let mut key = [0; 32];
    for (byte, of_seed) in key.iter_mut().zip(seed.to_le_bytes()) {
        *byte = of_seed;
    }
    ChaCha8Rng::from_seed(key)
}

/// A number from 0 to below a limit, each as likely: draws that would favour some are made again.
fn below(chance: &mut ChaCha8Rng, limit: u32) -> u32 {
    let limit = limit.max(1);
    // The whole multiples of the limit that fit; what lies above them is drawn again.
    let fair = u32::MAX - (u32::MAX % limit + 1) % limit;
    loop {
        let drawn = chance.next_u32();
        if drawn <= fair {
            return drawn % limit;
        }
    }
}

/// Puts things into an order that is as likely as every other (R. A. Fisher and F. Yates; D. Knuth, *The Art of Computer
/// Programming*, volume 2, algorithm P; from memory).
fn shuffle(arms: &mut [Arm], chance: &mut ChaCha8Rng) {
    for last in (1..arms.len()).rev() {
        let upto = u32::try_from(last + 1).unwrap_or(u32::MAX);
        arms.swap(last, below(chance, upto) as usize);
    }
}

fn strata(units: &[Unit]) -> Vec<Stratum> {
    let mut strata: BTreeMap<(usize, Option<String>), Stratum> = BTreeMap::new();
    for unit in units {
        let stratum = strata.entry(place(unit)).or_insert_with(|| Stratum {
            light: unit.light.clone(),
            side: unit
                .side
                .as_deref()
                .and_then(|own| ["port", "centre", "starboard"].into_iter().find(|side| *side == own)),
            a: 0,
            b: 0,
        });
        match unit.run {
            Arm::A => stratum.a += 1,
            Arm::B => stratum.b += 1,
        }
    }
    strata.into_values().collect()
}

fn told_block(block: Span, units: &[Unit], a: &Judged<'_>, b: &Judged<'_>, ahead: &Ahead<'_>) -> Block {
    let of_block = units.iter().filter(|unit| unit.from == block.from);
    let told = of_block.map(|unit| UnitTold {
        rod: unit.rod.clone(),
        side: unit
            .side
            .as_deref()
            .and_then(|own| ["port", "centre", "starboard"].into_iter().find(|side| *side == own)),
        run: unit.run.name(),
    });
    let call_of = |judged: &Judged<'_>| CallTold {
        lines_up: judged.advice.lines_up.clone(),
        tactic: judged.advice.tactic.clone(),
    };
    Block {
        hours: block.told(&ahead.zone),
        light: light(block.middle(), ahead),
        units: told.collect(),
        a: call_of(a),
        b: call_of(b),
        speeds_apart: speeds_apart(a, b),
    }
}

/// Whether both call a speed, and none that both could run.
fn speeds_apart(a: &Judged<'_>, b: &Judged<'_>) -> bool {
    use crate::engine::Verdict;
    let speed = |judged: &Judged<'_>| match judged.session.outcome(judged.span.middle()).verdict(AspectId::SPEED) {
        Verdict::Range(from, to) => Some((*from, *to)),
        _ => None,
    };
    speed(a).zip(speed(b)).is_some_and(|((from_a, to_a), (from_b, to_b))| to_a < from_b || to_b < from_a)
}

fn cautions(blocks: &[Block], spans: &[Span], by: By<'_>, ahead: &Ahead<'_>) -> Vec<String> {
    let when = |is: &dyn Fn(&Block) -> bool| {
        let those = blocks.iter().zip(spans).filter(|(block, _)| is(block)).map(|(_, span)| *span);
        let hours: Vec<String> = joined(those, ahead).iter().map(super::text::hours).collect();
        (!hours.is_empty()).then(|| hours.join(", "))
    };
    let mut cautions = Vec::new();
    if let By::Rods(_) = by {
        cautions.push(
            "All rods share the boat's speed and its water: what differs in speed or place can't be told apart by rods."
                .to_owned(),
        );
        cautions.extend(when(&|block| block.speeds_apart).map(|when| {
            format!("A and B call speeds that no boat can run at once: {when}. Draw by blocks, or compare depth and lures alone.")
        }));
    }
    let stopped = when(&|block| !block.a.lines_up.is_empty() || !block.b.lines_up.is_empty());
    cautions.extend(stopped.map(|when| {
        format!("A strategy is expected to call lines up: {when}. Nobody fishes on for the sheet's sake.")
    }));
    cautions
}

/// Says a contest's sheet in words.
pub fn tell(contest: &Contest, layout: Layout) -> String {
    let mut page = Page::new(layout);
    page.paragraph("", "", "A FAIR CONTEST");
    page.paragraph("A  ", "   ", &format!("{} ({})", contest.a.strategy, contest.a.file));
    page.paragraph("B  ", "   ", &format!("{} ({})", contest.b.strategy, contest.b.file));
    page.paragraph("", "", &headline(contest));
    page.paragraph(
        "",
        "",
        &format!(
            "Drawn by {} with the seed {}: `--seed {}` draws the same again.",
            contest.by, contest.seed, contest.seed
        ),
    );
    let reached: Vec<_> = contest.standing_cautions.iter().filter(|standing| standing.caution.reached).collect();
    if !reached.is_empty() || !contest.cautions.is_empty() {
        page.title("CAUTION");
    }
    for standing in reached {
        let when: Vec<String> = standing.reached_in.iter().map(super::text::hours).collect();
        page.paragraph("! ", "  ", &format!("{}: {}", when.join(", "), standing.caution.text));
    }
    for caution in &contest.cautions {
        page.paragraph("! ", "  ", caution);
    }
    page.title("THE SHEET");
    for block in &contest.blocks {
        page.blank();
        let light = block.light.as_deref().unwrap_or("light not known").replace('_', " ");
        let whole = block.units.iter().find(|unit| unit.rod.is_none()).map(|unit| unit.run);
        let head = format!("{}  {light}", super::text::hours(&block.hours));
        let head = page.strong(&whole.map_or(head.clone(), |run| format!("{head}  {run}")));
        page.line(&head);
        for line in block_lines(block) {
            page.paragraph("  ", "    ", &line);
        }
    }
    page.title("HOW IT IS BALANCED");
    for stratum in &contest.strata {
        page.paragraph("  ", "    ", &balance(stratum));
    }
    page.title("HOW TO FOLLOW IT");
    for rule in &contest.rules {
        page.paragraph("  ", "    ", rule);
    }
    page.title("ASSUMED");
    for assumption in &contest.assumptions {
        page.paragraph("  ", "    ", assumption);
    }
    page.lake(contest.lake.as_ref());
    page.standing(contest.standing_cautions.iter().map(|standing| &standing.caution));
    page.text
}

/// The water, the day and its hours.
pub fn headline(contest: &Contest) -> String {
    super::text::day(contest.lake.as_ref(), &contest.date, &contest.hours_planned)
}

/// What is run in a block, a line each: the rods of either strategy, and what it would call.
pub fn block_lines(block: &Block) -> Vec<String> {
    let of = |run: &str| -> Vec<&str> {
        block.units.iter().filter(|unit| unit.run == run).filter_map(|unit| unit.rod.as_deref()).collect()
    };
    let mut lines = Vec::new();
    for (run, call) in [("A", &block.a), ("B", &block.b)] {
        if !block.units.iter().any(|unit| unit.run == run) {
            continue;
        }
        let rods = of(run);
        let who = if rods.is_empty() { String::new() } else { format!("{run} on {}: ", rods.join(", ")) };
        lines.push(format!("{who}{}", call_line(call)));
    }
    lines
}

/// A call in one line.
fn call_line(call: &CallTold) -> String {
    if let Some(said) = call.lines_up.first() {
        return format!("lines up: {}", said.text);
    }
    let aspects = call.tactic.iter().map(|aspect| match &aspect.printed {
        Some(printed) if aspect.estimated.is_empty() => format!("{} {printed}", aspect.name),
        Some(printed) => format!("{} {printed} (estimated)", aspect.name),
        None => format!("{} -", aspect.name),
    });
    aspects.collect::<Vec<_>>().join(", ")
}

/// A stratum in one line: `low sun, port: 4 to A, 4 to B`.
pub fn balance(stratum: &Stratum) -> String {
    let light = stratum.light.as_deref().unwrap_or("light not known").replace('_', " ");
    let side = stratum.side.map(|side| format!(", {side}")).unwrap_or_default();
    format!("{light}{side}: {} to A, {} to B", stratum.a, stratum.b)
}

/// The shortest and the longest block, counts: shorter ones are all letting out and taking in (common practice, no source).
pub const BLOCKS: ((i64, i64), &str) = ((10 * MINUTE, 240 * MINUTE), "10 min to 240 min");

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(seed: u64, count: usize) -> String {
        let unit = Unit { from: Instant(0), to: Instant(1), light: None, rod: None, side: None, run: Arm::A };
        let mut units = vec![unit; count];
        assign(&mut units, seed);
        units.iter().map(|unit| unit.run.name()).collect()
    }

    #[test]
    fn the_generator_is_the_published_one() {
        // ChaCha8's stream for the all-zero key and nonce: test vectors of draft-strombergson-chacha-test-vectors-01, TC1
        // (from memory).
        let mut chance = chance(0);
        let first: [u8; 4] = chance.next_u32().to_le_bytes();
        assert_eq!(first, [0x3e, 0x00, 0xef, 0x2f]);
    }

    #[test]
    fn draws_below_a_limit_stay_below_it_and_reach_all() {
        let mut chance = chance(1);
        for limit in 1..20 {
            let seen: std::collections::BTreeSet<u32> = (0..1000).map(|_| below(&mut chance, limit)).collect();
            assert_eq!(seen.into_iter().collect::<Vec<_>>(), (0..limit).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_seed_gives_this_sheet_forever() {
        // Worked out apart from this, by a few lines of Python from the published algorithm.
        assert_eq!(drawn(20260515, 12), "BBABAABBABAA");
        assert_eq!(drawn(1, 7), "BAAABBB");
    }

    #[test]
    fn each_order_is_as_likely_as_any_other() {
        // Of four units six sheets can come; in 6000 draws each about 1000 times: 5 standard deviations are 145.
        let mut counts: BTreeMap<String, u32> = BTreeMap::new();
        (0..6000).for_each(|seed| *counts.entry(drawn(seed, 4)).or_default() += 1);
        assert_eq!(counts.len(), 6);
        assert!(counts.values().all(|count| count.abs_diff(1000) < 145), "{counts:?}");
    }
}
