//! Findings as people read them at a terminal. The only file that names the drawing library.

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};

use super::{Finding, Severity};
use crate::text::Sources;

/// Draws findings with the source line under each. `colours` only where a person looks at a terminal.
pub fn draw(findings: &[Finding], sources: &Sources, colours: bool) -> String {
    let renderer = if colours { Renderer::styled() } else { Renderer::plain() };
    let drawn: Vec<String> = findings.iter().map(|finding| draw_one(finding, sources, &renderer)).collect();
    drawn.join("\n\n")
}

fn draw_one(finding: &Finding, sources: &Sources, renderer: &Renderer) -> String {
    let file = sources.file(finding.span.file);
    let (lines, first_line, range) = lines_around(file.text(), finding.span.range(), file.line_of(finding.span.start));
    let level = match finding.severity() {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Note => Level::NOTE,
    };
    let snippet = Snippet::source(lines)
        .line_start(first_line as usize)
        .path(file.name())
        .annotation(AnnotationKind::Primary.span(range));
    let title = level.primary_title(finding.message.as_str()).id(finding.code.name()).element(snippet);
    let title = match &finding.help {
        Some(help) => title.element(Level::HELP.message(help.as_str())),
        None => title,
    };
    renderer.render(&[title])
}

/// The line that a span begins in, up to a bound, and the span within it.
fn lines_around(text: &str, span: std::ops::Range<usize>, line: u32) -> (&str, u32, std::ops::Range<usize>) {
    let is_break = |c: char| c == '\n' || c == '\r';
    let floor = |mut at: usize| {
        at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let from = floor(span.start);
    let start = text[..from].rfind(is_break).map_or(0, |at| at + 1);
    let end = text[from..].find(is_break).map_or(text.len(), |at| from + at);
    let to = floor(span.end).clamp(from, end);
    let shown = text[start..end].trim_start_matches('\u{feff}');
    let skipped = end - start - shown.len();
    (
        shown,
        line,
        from.saturating_sub(start + skipped)
            ..to.saturating_sub(start + skipped).max(from.saturating_sub(start + skipped)),
    )
}
