//! What a comparison can prove, in plain words; and how it was computed.
//!
//! Never a winner from noise, never a figure without its interval.

use super::Comparison;
use super::contest::ContestSaid;
use super::tested::{CellSaid, Clumping, Contrast, Rate, Split};

/// The words of a comparison, one text a thought.
pub fn proof(comparison: &Comparison, clumping: Option<Clumping>) -> Vec<String> {
    let mut words = Vec::new();
    let days = if comparison.days == 1 { "This day" } else { "These days" };
    match comparison.fish.first() {
        Some(whole) => words.extend(of_the_fish(whole, days)),
        None => words.push(format!("{days} can't tell the two apart.")),
    }
    let mut lot =
        "In these figures nothing was drawn by lot: the hour, the light and the place in which rods ran within one \
                   call or the other may explain any difference. The rates by light show some of that."
            .to_owned();
    if comparison.contest.is_none() {
        lot.push_str(" A fair contest (`leadsman plan --contest`) can settle it.");
    }
    words.push(lot);
    if let Some(clumping) = clumping.filter(|clumping| clumping.index > 1.0 && clumping.p < 0.05) {
        words.push(format!(
            "Strikes come in clumps: over half hours their variance is {} times their mean. The intervals are too short.",
            figure(clumping.index)
        ));
    }
    if comparison.fish.len() > 2 {
        words.push(format!(
            "{} comparisons stand here: of twenty intervals one leaves out 1 by chance alone.",
            capital(&number_word(comparison.fish.len() as u64))
        ));
    }
    let unplaced = comparison.strikes_unplaced;
    if unplaced > 0 {
        let strikes = if unplaced == 1 { "1 strike was".to_owned() } else { format!("{unplaced} strikes were") };
        words.push(format!("{strikes} on a rod that nobody saw, and count for neither."));
    }
    words.extend(comparison.contest.iter().flat_map(of_the_contest));
    words
}

fn of_the_fish(whole: &Split, days: &str) -> Vec<String> {
    let (Some(a), Some(b)) = (cell(whole, "only_a"), cell(whole, "only_b")) else { return Vec::new() };
    let mut words = Vec::new();
    if a.rod_hours == 0.0 || b.rod_hours == 0.0 {
        let missing = match (a.rod_hours == 0.0, b.rod_hours == 0.0) {
            (true, true) => "either call without being within the other's too",
            (true, false) => "A's call alone",
            _ => "B's call alone",
        };
        words.push(format!(
            "No rod ran within {missing}: {} can't say which of the two would have caught more.",
            days.to_lowercase()
        ));
        return words;
    }
    words.push(format!(
        "Within A's call alone: {}. Within B's alone: {}.",
        rate(&a.strikes, a.rod_hours),
        rate(&b.strikes, b.rod_hours)
    ));
    words.push(against(&whole.strikes, days, "strikes"));
    if let Some(more) = whole.strikes.more_rod_hours {
        words.push(format!(
            "Should these rates be the true ones, about {} more rod-hours, split as these were, would tell the two apart \
             four times in five.",
            figure(more)
        ));
    } else if whole.strikes.ratio == Some(1.0) {
        words.push("At these very rates there is nothing to tell apart, however long anybody fishes.".to_owned());
    }
    if let Some(pooled) = &whole.strikes.pooled {
        let mut text = format!(
            "Compared only within the same day and light ({}): {} times as many for A ({} to {}).",
            counted(pooled.strata, "stratum", "strata"),
            figure(pooled.ratio),
            figure(pooled.low),
            figure(pooled.high)
        );
        if let Some(test) = pooled.homogeneity.filter(|test| test.p < 0.05) {
            text.push_str(&format!(
                " That is not the same in all of them (p {}): one figure says little.",
                p_value(test.p)
            ));
        }
        words.push(text);
    }
    words.push(format!(
        "Fish landed: {} within A's call alone, {} within B's alone. {}",
        a.landed.count,
        b.landed.count,
        against(&whole.landed, days, "fish")
    ));
    words
}

/// A's rate against B's, in words.
pub fn against(contrast: &Contrast, days: &str, what: &str) -> String {
    let Some(p) = contrast.p else { return format!("{days} can't tell the two apart.") };
    let interval = match (contrast.low, contrast.high) {
        (Some(low), Some(high)) => format!("{} to {} times", figure(low), figure(high)),
        (Some(low), None) => format!("{} times or any more", figure(low)),
        _ => return format!("There were no {what} on either side: {} can't tell the two apart.", days.to_lowercase()),
    };
    let ratio = match contrast.ratio {
        Some(ratio) => format!("A had {} times the {what} an hour that B had", figure(ratio)),
        None => format!("B had no {what}, A did"),
    };
    if contrast.tells_apart {
        format!(
            "{ratio}; at 95 % the true figure lies at {interval} (p {}). Counting chance alone hardly makes so much.",
            p_value(p)
        )
    } else {
        format!(
            "{ratio}; at 95 % the true figure may be {interval} (p {}): {} can't tell the two apart.",
            p_value(p),
            days.to_lowercase()
        )
    }
}

fn of_the_contest(contest: &ContestSaid) -> Vec<String> {
    let mut words = Vec::new();
    if contest.days > 0 {
        let arm = |name: &str, arm: &super::contest::ArmSaid| {
            let followed = arm
                .followed
                .map_or_else(String::new, |share| format!(", {} % of it within its call", libm::round(share * 100.0)));
            format!("{name}'s units: {}{followed}.", rate(&arm.strikes, arm.rod_hours))
        };
        words.push(format!("The contest, by lot. {} {}", arm("A", &contest.a), arm("B", &contest.b)));
        match &contest.lot {
            Some(lot) if lot.smallest >= 0.05 => words.push(format!(
                "With so few units and strikes the lot could not have proved anything: its smallest p was {}. Draw up more days.",
                p_value(lot.smallest)
            )),
            Some(lot) if lot.p < 0.05 => words.push(format!(
                "Had it not mattered whose unit it was, the lot alone would have made so much of a difference with p {}.",
                p_value(lot.p)
            )),
            Some(lot) => words.push(format!(
                "Had it not mattered whose unit it was, the lot alone would have made as much of a difference with p {}: \
                 the contest can't tell the two apart yet.",
                p_value(lot.p)
            )),
            None => words.push("There are no units of both: the lot says nothing.".to_owned()),
        }
        words.push(format!(
            "For whoever looks every evening: p {} holds however often it was looked at; under 0.05 is proof.",
            p_value(contest.evidence.p)
        ));
    }
    for day in &contest.left_out {
        words.push(format!("{} is no part of the contest: {}.", day.log, day.why));
    }
    words
}

/// A rate in words: `4 strikes in 6.2 rod-hours, 0.65 an hour (0.18 to 1.65)`.
fn rate(rate: &Rate, rod_hours: f64) -> String {
    let strikes = counted(rate.count, "strike", "strikes");
    match (rate.per_hour, rate.low, rate.high) {
        (Some(per_hour), Some(low), Some(high)) => format!(
            "{strikes} in {} rod-hours, {} an hour ({} to {})",
            figure(rod_hours),
            figure(per_hour),
            figure(low),
            figure(high)
        ),
        _ => format!("{strikes}, no rod-hours"),
    }
}

fn cell<'s>(split: &'s Split, within: &str) -> Option<&'s CellSaid> {
    split.cells.iter().find(|cell| cell.within == within)
}

/// `1 stratum`, `3 strata`.
fn counted(count: u64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

fn number_word(number: u64) -> String {
    let small =
        ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
    usize::try_from(number)
        .ok()
        .and_then(|at| small.get(at))
        .map_or_else(|| number.to_string(), |word| (*word).to_owned())
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A figure with as many digits as anybody can use: two or three that count.
pub fn figure(value: f64) -> String {
    let size = value.abs();
    if size >= 100.0 {
        format!("{value:.0}")
    } else if size >= 10.0 {
        format!("{value:.1}")
    } else if size >= 0.1 || size == 0.0 {
        format!("{value:.2}")
    } else {
        format!("{value:.3}")
    }
}

/// A p with three digits after the point; what is smaller says so.
pub fn p_value(p: f64) -> String {
    if p < 0.001 { "under 0.001".to_owned() } else { format!("{p:.3}") }
}

/// How a comparison is computed.
pub fn method() -> Vec<String> {
    [
        "Each strategy is replayed over each log: a session with its own minute steps from the first lines in, seeing what \
         the log held by then. Only time with lines in counts.",
        "A rod ran within a call where what the log says that it ran lies in the called range or among the called words, \
         ends included; under \"lines up\" no rod does. The whole tactic is every aspect that the call decides, as far as \
         the log says what the rod ran. A strike counts to the calls that stood just before it.",
        "Effort is rod-hours: rods in the water, times hours. Rates have exact Poisson intervals at 95 % (Garwood 1936).",
        "A against B: the exact conditional test (Przyborowski and Wilenski 1940), two-sided as twice the smaller tail; \
         the interval of the ratio by Clopper and Pearson, which agrees with that test.",
        "Pooled: Mantel and Haenszel over strata of a day and a class of light, with the variance of Greenland and Robins \
         (1985).",
        "A contest: the exact distribution of A's strikes over all ways in which the lot could have fallen within each \
         stratum; and an e-value by the lot's own odds, unit by unit, which may be looked at at any time (Ville 1939).",
        "Rods on one boat fish the same school: they are not independent, and intervals are then too short.",
    ]
    .map(str::to_owned)
    .to_vec()
}
