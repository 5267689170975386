//! The catalogue to the wire.

use super::super::v1;
use crate::vocabulary::aspect::{self, Aspect, Form};
use crate::vocabulary::catalogue::{CATALOGUE, Entry, GoodFor, LIGHT, Origin, Takes, light_words};
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print::unrounded;
use crate::vocabulary::unit::{MINUTES, UNITS};

/// The whole catalogue.
pub fn describe() -> v1::DescribeCatalogueResponse {
    v1::DescribeCatalogueResponse {
        readings: CATALOGUE.iter().map(entry).collect(),
        units: UNITS
            .iter()
            .map(|unit| v1::UnitEntry { symbol: unit.symbol.to_owned(), kind: unit.kind.word().to_owned() })
            .collect(),
        aspects: aspect::built_in().into_iter().map(aspect).collect(),
    }
}

fn entry(entry: &Entry) -> v1::CatalogueEntry {
    let Entry { name, takes, kind, unit, plausible: _, plausible_text, good_for, origin, from, help } = entry;
    let takes = match takes {
        None => "",
        Some(Takes::Depth) => "a depth",
        Some(Takes::Level) => "a temperature, an oxygen content or a share of light",
        Some(Takes::Window) => "a stretch of time",
        Some(Takes::ReadingAndWindow) => "a reading and a stretch of time",
    };
    let source = match origin {
        Origin::Given => v1::ReadingSource::Given,
        Origin::Derived => v1::ReadingSource::Derived,
        Origin::Session => v1::ReadingSource::Session,
    };
    let good_for = match good_for {
        GoodFor::Span(counts) => {
            Some(v1::Quantity { value: unrounded(*counts, &MINUTES, Kind::Duration), unit: MINUTES.symbol.to_owned() })
        }
        GoodFor::Day => None,
    };
    v1::CatalogueEntry {
        name: (*name).to_owned(),
        takes: takes.to_owned(),
        kind: kind.word().to_owned(),
        unit: (*unit).to_owned(),
        plausible: (*plausible_text).to_owned(),
        good_for,
        source: source.into(),
        from: from.iter().map(|from| (*from).to_owned()).collect(),
        words: if *kind == Kind::OneOf(LIGHT) { light_words().words } else { Vec::new() },
        help: (*help).to_owned(),
    }
}

fn aspect(aspect: Aspect) -> v1::AspectEntry {
    let Aspect { name, form } = aspect;
    match form {
        Form::Range(kind) => v1::AspectEntry { name, kind: kind.word().to_owned(), words: Vec::new() },
        Form::Words(words) => v1::AspectEntry { name, kind: String::new(), words },
    }
}
