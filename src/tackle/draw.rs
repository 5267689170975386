//! A spread drawn: seen from the side and from above, as text and as SVG.

use maud::{Markup, html};

use super::gear::Rod;
use super::spread::{Set, sideways};

/// How lengths are written: a length in m to its text.
pub type Print<'p> = &'p dyn Fn(f64) -> String;

/// A line's lure: its rod, and where it is: behind, deep, to the right; m.
type Place = (String, f64, f64, f64);

/// The lures of a spread, and how far they reach, at least a metre each way.
struct Scene {
    places: Vec<Place>,
    farthest: f64,
    deepest: f64,
    widest: f64,
}

impl Scene {
    fn of(rods: &[Rod], sets: &[Set]) -> Self {
        let place = |set: &Set| {
            let rod = rods.get(set.rod)?;
            Some((rod.name.clone(), set.run.behind, set.run.depth, sideways(rod)))
        };
        let places: Vec<Place> = sets.iter().filter_map(place).collect();
        let most = |of: fn(&Place) -> f64| places.iter().map(of).fold(1.0, f64::max);
        let (farthest, deepest, widest) = (most(|place| place.1), most(|place| place.2), most(|place| place.3.abs()));
        Self { places, farthest, deepest, widest }
    }
}

const COLUMNS: usize = 56;
const ROWS: usize = 12;

/// Both views as text, each line at most sixty-odd columns: the boat on the left, its lures numbered in the order of the
/// spread.
pub fn text(rods: &[Rod], sets: &[Set], print: Print<'_>) -> String {
    let Scene { places, farthest, deepest, widest } = Scene::of(rods, sets);
    if places.is_empty() {
        return String::new();
    }
    let column = |behind: f64| ((behind / farthest) * (COLUMNS - 4) as f64) as usize + 3;
    let mut text = format!("From the side ({} behind, {} deep at most):\n", print(farthest), print(deepest));
    let side = |place: &Place| (((place.2 / deepest) * (ROWS - 1) as f64) as usize, column(place.1));
    text.push_str(&grid(ROWS, "~", &places.iter().map(side).collect::<Vec<_>>(), 0));
    text.push_str("From above, port up:\n");
    let middle = ROWS / 2;
    let above = |place: &Place| {
        let row = middle as f64 + place.3 / widest * (middle - 1) as f64;
        (row as usize, column(place.1))
    };
    text.push_str(&grid(ROWS, " ", &places.iter().map(above).collect::<Vec<_>>(), middle));
    for (at, (name, ..)) in places.iter().enumerate() {
        text.push_str(&format!("  {} {name}\n", at + 1));
    }
    text
}

/// A grid with the boat at the left end of a row, and numbers at their places.
fn grid(rows: usize, top: &str, places: &[(usize, usize)], boat: usize) -> String {
    let mut cells = vec![vec![' '; COLUMNS]; rows];
    if let Some(row) = cells.first_mut() {
        row.fill(top.chars().next().unwrap_or(' '));
    }
    if let Some(row) = cells.get_mut(boat) {
        row.splice(0..3, "<==".chars());
    }
    for (at, (row, column)) in places.iter().enumerate() {
        let number = char::from_digit(u32::try_from(at + 1).unwrap_or(0), 36).unwrap_or('*');
        // Where one stands already the next goes beside it.
        if let Some(line) = cells.get_mut((*row).min(rows - 1)) {
            let free = (*column..COLUMNS).find(|at| !line.get(*at).is_some_and(char::is_ascii_alphanumeric));
            if let Some(cell) = free.and_then(|at| line.get_mut(at)) {
                *cell = number;
            }
        }
    }
    cells.iter().map(|row| format!("  {}\n", row.iter().collect::<String>().trim_end())).collect()
}

/// Both views as one SVG.
pub fn svg(rods: &[Rod], sets: &[Set], print: Print<'_>) -> String {
    const WIDE: f64 = 640.0;
    const HIGH: f64 = 240.0;
    const EDGE: f64 = 40.0;
    let Scene { places, farthest, deepest, widest } = Scene::of(rods, sets);
    let x = |behind: f64| EDGE + behind / farthest * (WIDE - 4.0 * EDGE);
    let lure = |x: f64, y: f64, from: (f64, f64), name: &str, says: String| -> Markup {
        html! {
            line x1=(round(from.0)) y1=(round(from.1)) x2=(round(x)) y2=(round(y)) stroke="currentColor" stroke-width="1" {}
            circle cx=(round(x)) cy=(round(y)) r="4" fill="currentColor" {}
            text x=(round(x + 7.0)) y=(round(y + 4.0)) font-size="12" fill="currentColor" { (name) " " (says) }
        }
    };
    let side = |deep: f64| EDGE + deep / deepest * (HIGH - 2.0 * EDGE);
    let middle = HIGH + HIGH / 2.0;
    let above = |right: f64| middle + right / widest * (HIGH / 2.0 - EDGE);
    let markup = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {WIDE} {}", 2.0 * HIGH)) role="img"
            font-family="sans-serif" {
            title { "The spread, from the side and from above" }
            line x1="0" y1=(EDGE) x2=(WIDE) y2=(EDGE) stroke="currentColor" stroke-dasharray="4 4" {}
            text x="4" y=(EDGE - 8.0) font-size="12" fill="currentColor" { "from the side; the surface" }
            @for (name, behind, deep, _) in &places {
                (lure(x(*behind), side(*deep), (EDGE, EDGE), name, print(*deep)))
            }
            text x="4" y=(HIGH + 16.0) font-size="12" fill="currentColor" { "from above, port up" }
            @for (name, behind, _, right) in &places {
                (lure(x(*behind), above(*right), (EDGE, above(*right)), name, format!("{} behind", print(*behind))))
            }
        }
    };
    markup.into_string()
}

/// A place in a drawing, to a tenth.
fn round(value: f64) -> f64 {
    libm::round(value * 10.0) / 10.0
}
