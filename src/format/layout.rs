//! Pieces to lines: clauses under their statement, lines wrapped at the page's width, columns under each other.

use super::pieces::{Break, HANG, Piece, Sort};
use super::{Block, Note, Page};

/// Columns of the page.
const WIDTH: usize = 100;
/// Blanks by which a clause stands deeper than its statement.
const STEP: usize = 2;
/// Most blanks put in to bring neighbours under each other; where it takes more, they stay apart.
const MOST_PADDING: usize = 32;

/// A line of the result.
struct Line<'t> {
    blank_above: bool,
    indent: usize,
    text: String,
    /// Characters of the text.
    width: usize,
    /// The comment behind it.
    beside: Option<&'t str>,
}

impl<'t> Line<'t> {
    fn new(indent: usize) -> Self {
        Line { blank_above: false, indent, text: String::new(), width: 0, beside: None }
    }

    fn comment(indent: usize, text: &str) -> Self {
        Line { text: text.to_owned(), ..Line::new(indent) }
    }

    fn end(&self) -> usize {
        self.indent + self.width
    }

    fn put(&mut self, piece: &Piece<'t>) {
        let gap = if self.text.is_empty() { 0 } else { piece.gap };
        self.text.extend(std::iter::repeat_n(' ', gap));
        self.text.push_str(&piece.text);
        self.width += gap + piece.width;
        self.beside = piece.beside;
    }
}

/// The text of a file.
pub(super) fn lay_out(mut page: Page<'_>) -> String {
    for block in &mut page.blocks {
        block.one_line = stays_on_one_line(block);
        if block.sort == Sort::Ladder && !block.one_line {
            align_rungs(&mut block.pieces);
            align_moves(&mut block.pieces);
        }
    }
    part_statements(&mut page);
    for neighbours in page.blocks.chunk_by_mut(are_neighbours) {
        align_neighbours(neighbours);
    }
    write(&lines(&page))
}

/// A statement stays on one line where its author had it on one, and it fits.
fn stays_on_one_line(block: &Block<'_>) -> bool {
    block.pieces.iter().skip(1).all(|piece| !piece.on_new_line) && width(&block.pieces) <= WIDTH
}

fn width(pieces: &[Piece<'_>]) -> usize {
    let gaps: usize = pieces.iter().skip(1).map(|piece| piece.gap).sum();
    gaps + pieces.iter().map(|piece| piece.width).sum::<usize>()
}

// Blank lines

/// Puts a blank line between statements, save between those of a list, where the author chooses.
fn part_statements(page: &mut Page<'_>) {
    for at in 0..page.blocks.len() {
        let (before, rest) = page.blocks.split_at_mut(at);
        let Some(block) = rest.first_mut() else { continue };
        match before.last() {
            None => *first_gap(block) = false,
            Some(previous) => {
                let parted = block.blank_above || block.above.iter().any(|note| note.blank_above);
                if !parted && !make_a_list(previous, block) {
                    *first_gap(block) = true;
                }
            }
        }
    }
    if let (true, Some(first)) = (page.blocks.is_empty(), page.end.first_mut()) {
        first.blank_above = false;
    }
}

fn first_gap<'b>(block: &'b mut Block<'_>) -> &'b mut bool {
    match block.above.first_mut() {
        Some(note) => &mut note.blank_above,
        None => &mut block.blank_above,
    }
}

fn make_a_list(a: &Block<'_>, b: &Block<'_>) -> bool {
    let short = matches!(a.sort, Sort::Include | Sort::Reading | Sort::Let);
    a.sort == b.sort && (short || (a.one_line && b.one_line))
}

// Columns

/// Whether two statements of a list stand directly under each other.
fn are_neighbours(a: &Block<'_>, b: &Block<'_>) -> bool {
    make_a_list(a, b) && a.below.is_empty() && b.above.is_empty() && !b.blank_above
}

fn align_neighbours(blocks: &mut [Block<'_>]) {
    let Some(sort) = blocks.first().map(|block| block.sort).filter(|_| blocks.len() > 1) else { return };
    let mut rows: Vec<Row<'_, '_>> = blocks.iter_mut().filter_map(|block| row_of(sort, &mut block.pieces)).collect();
    let mut rest = rows.as_mut_slice();
    while !rest.is_empty() {
        let (run, others) = rest.split_at_mut(length_of_run(rest));
        if run.len() > 1 {
            align(run);
        } else if let [Row { pieces, starts }] = run {
            starts.iter().for_each(|&start| pieces[start].gap = 1);
        }
        rest = others;
    }
}

/// What is aligned of a statement in a list: what follows the name in a `reading` or `let`, however long that is, and
/// every clause in a rule or trial on one line.
fn row_of<'p, 't>(sort: Sort, pieces: &'p mut [Piece<'t>]) -> Option<Row<'p, 't>> {
    match sort {
        Sort::Reading | Sort::Let => Row::new(pieces.get_mut(..=BEHIND_NAME)?, vec![BEHIND_NAME]),
        Sort::Rule | Sort::Trial => {
            let starts: Vec<usize> = (1..pieces.len()).filter(|&at| pieces[at].level > 0).collect();
            starts.iter().for_each(|&start| pieces[start].gap = 2);
            Row::new(pieces, starts)
        }
        Sort::Strategy | Sort::Include | Sort::Ladder => None,
    }
}

/// The index of the piece behind a statement's name, and of the `if` of a move.
const BEHIND_NAME: usize = 2;

/// How many of the first rows go under each other: as many as fit the page and need no more padding than is good.
fn length_of_run(rows: &[Row<'_, '_>]) -> usize {
    let mut columns = Columns::default();
    let fits = |row: &&Row<'_, '_>| {
        columns.take(row);
        columns.width() <= WIDTH && columns.padding() <= MOST_PADDING
    };
    rows.iter().take_while(fits).count().max(1)
}

/// Puts every rung on one line, its items under those of the others if there is room, where all of them fit. Otherwise
/// each part of each rung keeps a line of its own: a ladder's rungs read better when they look alike.
fn align_rungs(pieces: &mut [Piece<'_>]) {
    for piece in pieces.iter_mut().filter(|piece| piece.level == 2) {
        piece.gap = if piece.is_keyword("run") { 2 } else { 3 };
    }
    let forced = |piece: &Piece<'_>| matches!(piece.line_break, Break::Always(_));
    if clauses_of(pieces, &["rung"]).any(|rung| rung.iter().skip(1).any(forced)) {
        return;
    }
    let _ = (same_aspects(pieces) && rungs_fit(pieces, usize::MAX)) || rungs_fit(pieces, 1);
}

/// Puts every rung on one line and aligns its first columns, if all of them fit then.
fn rungs_fit(pieces: &mut [Piece<'_>], columns: usize) -> bool {
    let mut rungs: Vec<Row<'_, '_>> = clauses_of(pieces, &["rung"])
        .filter_map(|rung| {
            let starts = run_items(rung).into_iter().take(columns).collect();
            Row::new(rung, starts)
        })
        .collect();
    let fit = Columns::of(&rungs).width() + STEP <= WIDTH;
    if fit {
        align(&mut rungs);
        rungs.iter_mut().flat_map(|rung| rung.pieces.iter_mut().skip(1)).for_each(|piece| piece.level = 0);
    }
    fit
}

/// Where a rung's `run` begins, and its items after the first.
fn run_items(rung: &[Piece<'_>]) -> Vec<usize> {
    let mut parts = (0..rung.len()).filter(|&at| rung[at].level == 2);
    let Some(run) = parts.next() else { return Vec::new() };
    let end = parts.next().unwrap_or(rung.len());
    let items = (run + 1..end).filter(|&at| rung[at].line_break == Break::Between && rung[at - 1].is_sign(","));
    std::iter::once(run).chain(items).collect()
}

/// Whether the items of a ladder's rungs name the same aspects in the same order, as far as each goes.
fn same_aspects(pieces: &mut [Piece<'_>]) -> bool {
    let mut aspects: Vec<String> = Vec::new();
    for rung in clauses_of(pieces, &["rung"]) {
        for (column, at) in run_items(rung).into_iter().enumerate() {
            let first = if rung[at].is_keyword("run") { at + 1 } else { at };
            let Some(aspect) = rung.get(first) else { return false };
            match aspects.get(column) {
                Some(other) if **other != *aspect.text => return false,
                Some(_) => {}
                None => aspects.push(aspect.text.to_string()),
            }
        }
    }
    true
}

fn align_moves(pieces: &mut [Piece<'_>]) {
    let mut moves: Vec<Row<'_, '_>> =
        clauses_of(pieces, &["step", "start"]).filter_map(|pieces| Row::new(pieces, vec![BEHIND_NAME])).collect();
    align(&mut moves);
}

fn clauses_of<'p, 't>(
    pieces: &'p mut [Piece<'t>],
    words: &'static [&str],
) -> impl Iterator<Item = &'p mut [Piece<'t>]> {
    let clauses = pieces.chunk_by_mut(|_, next| next.level != 1);
    clauses.filter(|clause| clause.first().is_some_and(|first| words.iter().any(|word| first.is_keyword(word))))
}

/// Pieces on one line whose cells go under those of other rows.
struct Row<'p, 't> {
    pieces: &'p mut [Piece<'t>],
    /// Where each cell after the first begins.
    starts: Vec<usize>,
}

impl<'p, 't> Row<'p, 't> {
    fn new(pieces: &'p mut [Piece<'t>], starts: Vec<usize>) -> Option<Self> {
        starts.iter().all(|&start| start < pieces.len()).then_some(Row { pieces, starts })
    }

    /// How wide each cell is, with the blanks before it.
    fn cells(&self) -> Vec<usize> {
        let ends = self.starts.iter().copied().chain([self.pieces.len()]);
        let starts = std::iter::once(0).chain(self.starts.iter().copied());
        let gap = |start: usize| if start == 0 { 0 } else { self.pieces[start].gap };
        starts.zip(ends).map(|(start, end)| gap(start) + width(&self.pieces[start..end])).collect()
    }
}

/// How wide the columns of some rows are. A row's last cell ends it and so belongs to no column.
#[derive(Default)]
struct Columns {
    widest: Vec<usize>,
    narrowest: Vec<usize>,
    /// The widest last cell behind so many columns.
    last: Vec<usize>,
}

impl Columns {
    fn of(rows: &[Row<'_, '_>]) -> Self {
        let mut columns = Columns::default();
        rows.iter().for_each(|row| columns.take(row));
        columns
    }

    fn take(&mut self, row: &Row<'_, '_>) {
        let cells = row.cells();
        let Some((last, others)) = cells.split_last() else { return };
        for (column, &cell) in others.iter().enumerate() {
            if column == self.widest.len() {
                self.widest.push(cell);
                self.narrowest.push(cell);
            }
            self.widest[column] = self.widest[column].max(cell);
            self.narrowest[column] = self.narrowest[column].min(cell);
        }
        self.last.resize(self.last.len().max(others.len() + 1), 0);
        self.last[others.len()] = self.last[others.len()].max(*last);
    }

    /// How wide the widest row is when all are aligned.
    fn width(&self) -> usize {
        let before = self.widest.iter().scan(0, |sum, column| {
            *sum += column;
            Some(*sum)
        });
        let rows = std::iter::once(0).chain(before).zip(&self.last).filter(|(_, last)| **last > 0);
        rows.map(|(before, last)| before + last).max().unwrap_or(0)
    }

    /// The most blanks put in before a cell when all are aligned.
    fn padding(&self) -> usize {
        self.widest.iter().zip(&self.narrowest).map(|(widest, narrowest)| widest - narrowest).max().unwrap_or(0)
    }
}

/// Puts the cells of rows under each other.
fn align(rows: &mut [Row<'_, '_>]) {
    let columns = Columns::of(rows);
    for row in rows {
        let cells = row.cells();
        for ((&start, cell), column) in row.starts.iter().zip(&cells).zip(&columns.widest) {
            row.pieces[start].gap += column - cell;
        }
    }
}

// Lines

fn lines<'t>(page: &Page<'t>) -> Vec<Line<'t>> {
    let mut lines = Vec::new();
    let note = |note: &Note<'t>| Line { blank_above: note.blank_above, ..Line::comment(0, note.text) };
    for block in &page.blocks {
        lines.extend(block.above.iter().map(note));
        let first = lines.len();
        for clause in block.pieces.chunk_by(|_, next| next.level == 0 || block.one_line) {
            let level = clause.first().map_or(0, |piece| piece.level);
            lay(clause, level * STEP, &mut lines);
        }
        if let Some(line) = lines.get_mut(first) {
            line.blank_above = block.blank_above;
        }
        lines.extend(block.below.iter().map(|comment| Line::comment(STEP, comment)));
    }
    lines.extend(page.end.iter().map(note));
    lines
}

/// Lays a clause on as many lines as it takes.
fn lay<'t>(clause: &[Piece<'t>], indent: usize, lines: &mut Vec<Line<'t>>) {
    let ahead = widths_ahead(clause, WIDTH - indent - HANG);
    let mut line = Line::new(indent);
    for (at, (piece, ahead)) in clause.iter().zip(ahead).enumerate() {
        let deeper = match piece.line_break {
            _ if at == 0 => 0,
            Break::Always(deeper) => deeper,
            _ => HANG,
        };
        let full = || ahead.is_some_and(|width| line.end() + piece.gap + width > WIDTH);
        if at > 0 && (matches!(piece.line_break, Break::Always(_)) || full()) {
            lines.push(std::mem::replace(&mut line, Line::new(indent + deeper)));
        }
        lines.extend(piece.above.iter().map(|comment| Line::comment(indent + deeper, comment)));
        line.put(piece);
    }
    lines.push(line);
}

/// For each piece before which the line may end: how wide it is with all that must stand on its line behind it.
fn widths_ahead(clause: &[Piece<'_>], room: usize) -> Vec<Option<usize>> {
    let mut may_end: Vec<bool> =
        clause.iter().map(|piece| matches!(piece.line_break, Break::Between | Break::Always(_))).collect();
    for last_resort in [Break::Inside, Break::Sum] {
        let mut start = 0;
        while start < clause.len() {
            let end = (start + 1..clause.len()).find(|&at| may_end[at]).unwrap_or(clause.len());
            if width(&clause[start..end]) > room {
                (start + 1..end).for_each(|at| may_end[at] = clause[at].line_break == last_resort);
            }
            start = end;
        }
    }
    let mut ahead = vec![None; clause.len()];
    let mut width = 0;
    for at in (0..clause.len()).rev() {
        width += clause[at].width;
        if may_end[at] {
            ahead[at] = Some(std::mem::take(&mut width));
        } else {
            width += clause[at].gap;
        }
    }
    ahead
}

fn write(lines: &[Line<'_>]) -> String {
    let mut text = String::new();
    for run in lines.chunk_by(|a, b| a.beside.is_some() && b.beside.is_some() && !b.blank_above) {
        let (shortest, longest) =
            run.iter().fold((usize::MAX, 0), |(least, most), line| (least.min(line.end()), most.max(line.end())));
        let column = if longest - shortest <= MOST_PADDING { longest } else { 0 };
        for line in run {
            write_line(&mut text, line, column);
        }
    }
    text
}

/// Writes a line, its comment two blanks behind the column or its own end.
fn write_line(text: &mut String, line: &Line<'_>, column: usize) {
    let blanks = |text: &mut String, count: usize| text.extend(std::iter::repeat_n(' ', count));
    if line.blank_above {
        text.push('\n');
    }
    blanks(text, line.indent);
    text.push_str(&line.text);
    if let Some(comment) = line.beside {
        blanks(text, column.saturating_sub(line.end()) + 2);
        text.push_str(comment);
    }
    text.push('\n');
}

#[cfg(test)]
mod tests {
    use super::WIDTH;
    use crate::format::format;

    #[track_caller]
    fn becomes(source: &str, wanted: &str) {
        assert_eq!(format(source).map_err(|findings| findings[0].message.clone()).as_deref(), Ok(wanted));
    }

    #[test]
    fn a_file_without_statements_keeps_its_comments() {
        becomes("", "");
        becomes(" \r\n\u{feff}", "");
        becomes("\n\n# a \n\n\n# b", "# a\n\n# b\n");
    }

    #[test]
    fn statements_are_parted_by_one_blank_line_and_lists_as_their_author_had_them() {
        becomes("let a = 1\nlet b = 2\n\n\n\nlet c = 3", "let a = 1\nlet b = 2\n\nlet c = 3\n");
        becomes("let a = 1\ninclude \"b\"", "let a = 1\n\ninclude \"b\"\n");
        becomes("let a = 1\n# on b\nlet b = 2", "let a = 1\n# on b\nlet b = 2\n");
        becomes("let a = 1\n# on b\ninclude \"b\"", "let a = 1\n\n# on b\ninclude \"b\"\n");
        becomes("let a = 1\n# on both\n\ninclude \"b\"", "let a = 1\n# on both\n\ninclude \"b\"\n");
    }

    #[test]
    fn an_indented_comment_below_a_statement_stays_with_it() {
        let source =
            "rule \"a\"\n  stop \"x\"\n  # not yet: caution\n\n# on b\nrule \"b\"\n  stop \"y\"\n  # the end\n";
        becomes(source, source);
    }

    #[test]
    fn a_statement_on_one_line_stays_there_up_to_the_width_of_the_page() {
        let rule = |length: usize| format!("rule \"{}\" if a stop \"b\"", "x".repeat(length));
        let fits = rule(WIDTH - rule(0).len());
        assert_eq!(format(&fits), Ok(format!("{fits}\n")));
        let wide = rule(WIDTH - rule(0).len() + 1);
        assert_eq!(format(&wide).map(|text| text.lines().count()), Ok(3));
    }

    #[test]
    fn lines_break_where_it_hurts_least() {
        let word = "w".repeat(30);
        becomes(
            &format!("let a = {word} and f({word}, {word}) and b"),
            &format!("let a = {word}\n    and f({word}, {word}) and b\n"),
        );
        becomes(
            &format!("let a = ({word} or {word} - {word} or {word})"),
            &format!("let a = ({word}\n    or {word} - {word}\n    or {word})\n"),
        );
        becomes(
            &format!("let a = {word} + {word} - {word} * {word}"),
            &format!("let a = {word} + {word}\n    - {word} * {word}\n"),
        );
    }

    #[test]
    fn a_ladders_rungs_are_all_on_one_line_or_none() {
        let rung = |name: &str, text: &str| format!("rung {name} run depth 1 ft because \"{text}\"");
        let long = "x".repeat(80);
        becomes(
            &format!("ladder a\n{} {}", rung("b", "y"), rung("long", "z")),
            "ladder a\n  rung b     run depth 1 ft   because \"y\"\n  rung long  run depth 1 ft   because \"z\"\n",
        );
        becomes(
            &format!("ladder a\n{} {}", rung("b", &long), rung("c", "z")),
            &format!(
                "ladder a\n  rung b\n    run depth 1 ft\n    because \"{long}\"\n  rung c\n    run depth 1 ft\n    \
                 because \"z\"\n"
            ),
        );
    }
}
