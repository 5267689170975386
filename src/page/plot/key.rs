//! What stands beside a plot to say what its colours and forms mean: small drawings, which print where backgrounds don't.

use maud::{Markup, html};

use super::{Depth, Form, Ink, Pattern};

/// A sample of how something is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Swatch {
    /// A filled band.
    Filled(Ink),
    /// An outlined band.
    Outlined(Ink),
    /// A solid block.
    Block(Ink),
    /// A line in a pattern.
    Stroke(Ink, Pattern),
    /// A mark.
    Mark(Form, Ink),
    /// A shade.
    Shaded(Depth),
}

/// A sample by itself.
pub fn swatch(swatch: Swatch) -> Markup {
    let drawn = match swatch {
        Swatch::Filled(ink) => html! {
            rect x="1" y="2" width="24" height="12" fill=(ink.variable()) fill-opacity="0.35" stroke=(ink.variable()) stroke-width="2" {}
        },
        Swatch::Outlined(ink) => html! {
            rect x="1" y="2" width="24" height="12" fill="none" stroke=(ink.variable()) stroke-width="2" {}
        },
        Swatch::Block(ink) => html! { rect x="0" y="2" width="26" height="12" fill=(ink.variable()) {} },
        Swatch::Stroke(ink, pattern) => html! {
            line x1="0" y1="8" x2="26" y2="8" stroke=(ink.variable()) stroke-width="3" stroke-dasharray=[pattern.dashes()] {}
        },
        Swatch::Mark(form, ink) => match form {
            Form::Disc => html! { circle cx="13" cy="8" r="6" fill=(ink.variable()) {} },
            Form::Dot => html! { circle cx="13" cy="8" r="3.5" fill=(ink.variable()) {} },
            Form::Ring => {
                html! { circle cx="13" cy="8" r="5.5" fill="none" stroke=(ink.variable()) stroke-width="2.5" {} }
            }
            Form::Triangle => html! { polygon points="13,1 20,14 6,14" fill=(ink.variable()) {} },
            Form::Cross => html! { path d="M8 3L18 13M18 3L8 13" stroke=(ink.variable()) stroke-width="3" {} },
        },
        Swatch::Shaded(depth) => html! {
            rect x="1" y="2" width="24" height="12" fill=(Ink::Shade.variable()) fill-opacity=(depth.share()) stroke=(Ink::Rule.variable()) {}
        },
    };
    html! { svg.swatch viewBox="0 0 26 16" aria-hidden="true" { (drawn) } }
}

/// What samples mean, beside a plot.
pub fn keys(key: &[(Swatch, String)]) -> Markup {
    html! { @for (sample, name) in key { span.key { (swatch(*sample)) (name) } " " } }
}
