//! What is known of a lake by itself, whatever the day: its size, its shape, its deep water, its fish.

/// A lake, as far as somebody has said. Lengths, temperatures and speeds in counts, directions in counts of a degree.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lake {
    /// The height of its surface over the sea.
    pub elevation: Option<i64>,
    /// Its greatest depth.
    pub deepest: Option<i64>,
    /// Its mean depth.
    pub mean_depth: Option<i64>,
    /// Its area, m².
    pub area: Option<f64>,
    /// The longest straight line over open water.
    pub longest_open_line: Option<i64>,
    /// How far the wind runs over open water to where the boat fishes, by the direction it comes from; directions grow.
    pub fetch: Vec<(i64, i64)>,
    /// The attenuation of light times the Secchi depth, where the lake has one of its own.
    pub attenuation: Option<f64>,
    /// The temperature of its deep water in late summer.
    pub deep_water: Option<i64>,
    /// Whether water is drawn from below, as from a reservoir.
    pub drawn_from_below: bool,
    /// The current at its surface.
    pub current: Option<Current>,
    /// What its fish can bear.
    pub habitat: Vec<Habitat>,
}

/// A current: where it goes, and how fast.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Current {
    /// The direction it goes to, counts of a degree.
    pub set: i64,
    /// Its speed, counts.
    pub drift: i64,
}

/// What a fish can bear, and who says so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Habitat {
    /// The fish.
    pub species: String,
    /// The warmest water, counts of temperature.
    pub warmest: i64,
    /// The least oxygen, counts.
    pub oxygen: i64,
    /// Who says so, and where.
    pub source: String,
}

/// A full circle, counts.
const CIRCLE: i64 = 360 * crate::vocabulary::quantity::PER_UNIT;

impl Lake {
    /// The fetch for a wind from a direction: between two directions of the rose in proportion, around the circle.
    pub fn fetch_from(&self, direction: i64) -> Option<i64> {
        let direction = direction.rem_euclid(CIRCLE);
        let after = self.fetch.partition_point(|(at, _)| *at <= direction);
        let (&first, &last) = (self.fetch.first()?, self.fetch.last()?);
        let (low, fetch_low) = if after == 0 { (last.0 - CIRCLE, last.1) } else { *self.fetch.get(after - 1)? };
        let (high, fetch_high) = self.fetch.get(after).copied().unwrap_or((first.0 + CIRCLE, first.1));
        super::cast::interpolate((low, fetch_low), (high, fetch_high), direction)
    }
}
