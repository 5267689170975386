//! The frame of every page: one document, one stylesheet, nothing that is loaded from anywhere.
//!
//! Made to be read on a phone in the sun and to be printed: large type, one column, strong contrast. Colours are the
//! stylesheet's variables, which plots use too, so that dark, light and paper need no second drawing.

use maud::{DOCTYPE, Markup, PreEscaped, html};

/// A whole page.
pub fn page(title: &str, body: &Markup) -> String {
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                // Nothing is loaded, whatever a text that somebody wrote looks like.
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'";
                meta name="color-scheme" content="light dark";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body { main { (body) } }
        }
    };
    markup.into_string()
}

/// A part of a page under a heading.
pub fn section(heading: &str, body: &Markup) -> Markup {
    html! { section { h2 { (heading) } (body) } }
}

/// Sentences, a line each; nothing where there are none.
pub fn list(lines: &[String]) -> Markup {
    html! { @if !lines.is_empty() { ul { @for line in lines { li { (line) } } } } }
}

/// What must be seen first: a caution.
pub fn caution(body: &Markup) -> Markup {
    html! { p.caution { (body) } }
}

/// A table, with its first line as heads; wide ones scroll by themselves.
pub fn table(heads: &[&str], rows: &[Vec<String>]) -> Markup {
    html! {
        div.wide {
            table {
                thead { tr { @for head in heads { th scope="col" { (head) } } } }
                tbody { @for row in rows { tr { @for cell in row { td { (cell) } } } } }
            }
        }
    }
}

/// A table of long texts, whose rows become blocks where there is no room beside each other.
pub fn stacked_table(heads: &[&str], rows: &[Vec<String>]) -> Markup {
    html! {
        table.stacked {
            thead { tr { @for head in heads { th scope="col" { (head) } } } }
            tbody {
                @for row in rows {
                    tr { @for (head, cell) in heads.iter().zip(row) { td data-head=(head) { (cell) } } }
                }
            }
        }
    }
}

/// The stylesheet. No quotes stand in it that HTML would have to escape.
const STYLE: &str = "
:root { color-scheme: light dark;
  --paper: #ffffff; --panel: #f1f1ec; --text: #101010; --soft: #3d3d3d; --rule: #b9b9b2; --shade: #dcdcd4;
  --first: #0b57a4; --second: #a84300; --third: #1c6b3c; --mark: #b00020; --alert: #b00020; --alert-paper: #fdecee; }
@media (prefers-color-scheme: dark) { :root {
  --paper: #0c0d0e; --panel: #1b1d1f; --text: #f5f5f0; --soft: #cfcfc8; --rule: #55585c; --shade: #2a2d30;
  --first: #7ab8ff; --second: #ffae66; --third: #7fd6a0; --mark: #ff8a95; --alert: #ff8a95; --alert-paper: #351a1d; } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--text);
  font: 1.125rem/1.45 system-ui, sans-serif; -webkit-text-size-adjust: 100%; }
main { max-width: 46rem; margin: 0 auto; padding: 1rem; }
h1 { font-size: 1.6rem; line-height: 1.2; margin: 0 0 .25rem; }
h2 { font-size: 1.25rem; line-height: 1.25; margin: 2rem 0 .5rem; padding-top: .5rem; border-top: 2px solid var(--text); }
h3 { font-size: 1.125rem; margin: 1.25rem 0 .25rem; }
p { margin: .35rem 0; }
ul { margin: .35rem 0; padding-left: 1.2rem; }
li { margin: .2rem 0; }
.soft, figcaption, small { color: var(--soft); font-size: 1rem; }
.caution { border-left: .35rem solid var(--alert); background: var(--alert-paper); padding: .4rem .6rem; }
.call { background: var(--panel); padding: .6rem .8rem; margin: .75rem 0; border-radius: .3rem; }
.call h3 { margin-top: 0; }
.run { display: inline-block; min-width: 1.6em; text-align: center; border: 2px solid var(--text); font-size: 1.4rem; }
.up { color: var(--alert); font-size: 1.4rem; font-weight: 700; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .1rem .8rem; margin: .35rem 0; }
dt { color: var(--soft); }
dd { margin: 0; font-weight: 700; font-size: 1.25rem; }
dd small { font-weight: 400; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; font-size: 1rem; font-variant-numeric: tabular-nums; }
th, td { text-align: left; padding: .25rem .7rem .25rem 0; border-bottom: 1px solid var(--rule); vertical-align: top; }
@media (max-width: 30rem) { table { font-size: .9rem; } th, td { padding-right: .4rem; } }
figure { margin: 1rem 0; max-width: 34rem; }
figure svg { display: block; width: 100%; height: auto; }
.key { white-space: nowrap; margin-right: .9rem; }
svg.swatch, figure svg.swatch { display: inline-block; width: 1.6em; height: 1em; margin-right: .3em; vertical-align: -.15em; }
.first li { font-size: 1.35rem; line-height: 1.35; margin: .6rem 0; }
.pair { display: flex; flex-wrap: wrap; gap: 0 1.5rem; align-items: center; }
.pair > figure { flex: 1 1 20rem; margin: .5rem 0; } .pair > .wide { flex: 1 1 24rem; min-width: 0; }
.plots { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(20rem, 100%), 1fr)); gap: 0 1.5rem; }
@media (min-width: 30rem) { .pair td, .pair th { white-space: nowrap; } }
main:has(.pair) { max-width: 62rem; } main:has(.pair) :is(p, li) { max-width: 44rem; }
.stacked { width: 100%; } .stacked td { overflow-wrap: break-word; } .stacked td:first-child { white-space: nowrap; }
.stacked td:last-child { min-width: 12rem; }
@media (max-width: 44rem) {
  .stacked, .stacked tbody, .stacked tr, .stacked td { display: block; }
  .stacked thead { display: none; }
  .stacked tr { border-bottom: 1px solid var(--rule); padding: .4rem 0; }
  .stacked td { border: 0; padding: .1rem 0; }
  .stacked td:empty { display: none; }
  .stacked td:first-child { font-weight: 700; } .stacked td:first-child::before { display: none; }
  .stacked td::before { content: attr(data-head); font-weight: 700; margin-right: .5em; }
}
@media print {
  :root { --paper: #ffffff; --panel: #ffffff; --text: #000000; --soft: #222222; --rule: #888888; --shade: #dddddd;
    --first: #0b57a4; --second: #a84300; --third: #1c6b3c; --mark: #b00020; --alert: #000000; --alert-paper: #ffffff; }
  body { font-size: 10.5pt; } .first li { font-size: 13pt; } main { max-width: none; padding: 0; }
  .call { border: 1px solid var(--rule); } .call, figure, tr, .together { break-inside: avoid; } h2, h3 { break-after: avoid; }
}
";
