//! The document as ink on pages: what stands where. Points, `y` downwards. Knows nothing of the
//! file format.

use super::lines::{Words, lines};
use crate::Grid;
use crate::drawing::{Drawing, Weight, text_width};
use crate::sheet::{Block, Document, SheetStep, Ticks};

/// Points to a millimetre.
pub(super) const MM: f64 = 72.0 / 25.4;

pub(super) const SIDE: f64 = 16.0 * MM;
pub(super) const TOP: f64 = 19.0 * MM;
pub(super) const BOTTOM: f64 = 18.0 * MM;

const BODY: f64 = 10.5;
const TABLE: f64 = 9.5;
/// Line to line, as a share of the size.
const LEADING: f64 = 1.35;
/// From a line's top to its baseline, as a share of the size.
const RISE: f64 = 1.02;
const CELL_GAP: f64 = 9.0;

/// What a piece of ink says of the document's structure.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Role {
    Heading(u8, String),
    Paragraph,
    /// Whether its items bear numbers.
    List(bool),
    Item,
    Label,
    Body,
    Table,
    Caption,
    Row,
    ColumnHead,
    RowHead,
    Cell,
    Figure(String),
}

#[derive(Clone, Debug, PartialEq)]
pub(super) struct Element {
    pub role: Role,
    pub parent: Option<usize>,
}

#[derive(Clone, Debug)]
pub(super) enum Shape<'a> {
    Text {
        size: f64,
        weight: Weight,
        text: String,
    },
    /// An open square.
    Tick {
        side: f64,
    },
    Rule {
        length: f64,
    },
    /// A tinted ground with a bar at its left.
    Panel {
        width: f64,
        height: f64,
    },
    Picture {
        drawing: &'a Drawing,
        scale: f64,
    },
}

/// A shape at its place: baseline for text, top left corner for the rest. Without an element it is
/// decoration.
#[derive(Clone, Debug)]
pub(super) struct Ink<'a> {
    pub x: f64,
    pub y: f64,
    pub shape: Shape<'a>,
    pub element: Option<usize>,
}

/// What is not split over pages, unless it is taller than one.
#[derive(Clone, Debug, Default)]
struct Atom<'a> {
    before: f64,
    height: f64,
    ink: Vec<Ink<'a>>,
    /// Stands on the page of what follows.
    keep: bool,
    starts_page: bool,
    /// The table head to repeat when this comes to the top of a page.
    head: Option<usize>,
    mark: Option<(u8, String)>,
}

/// A heading to jump to.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Bookmark {
    pub level: u8,
    pub text: String,
    pub page: usize,
    pub y: f64,
}

pub(super) struct Pages<'a> {
    pub pages: Vec<Vec<Ink<'a>>>,
    pub elements: Vec<Element>,
    pub bookmarks: Vec<Bookmark>,
}

pub(super) fn flow(document: &Document) -> Pages<'_> {
    let (width, height) = document.paper.mm();
    let mut setter = Setter {
        width: width * MM - 2.0 * SIDE,
        height: height * MM - TOP - BOTTOM,
        blocks: Vec::new(),
        heads: Vec::new(),
        elements: Vec::new(),
    };
    setter.heading(1, &document.title);
    let mut fresh = false;
    for block in &document.blocks {
        let first = setter.blocks.len();
        setter.block(block);
        if let Some(block) = setter.blocks.get_mut(first) {
            block.starts_page |= fresh;
            fresh = false;
        }
        fresh |= matches!(block, Block::PageBreak);
    }
    setter.paginate()
}

struct Setter<'a> {
    width: f64,
    height: f64,
    blocks: Vec<Atom<'a>>,
    heads: Vec<(f64, Vec<Ink<'a>>)>,
    elements: Vec<Element>,
}

impl<'a> Setter<'a> {
    fn element(&mut self, role: Role, parent: Option<usize>) -> usize {
        self.elements.push(Element { role, parent });
        self.elements.len() - 1
    }

    fn block(&mut self, block: &'a Block) {
        match block {
            Block::Heading { level, text } => self.heading(*level, text),
            Block::Paragraph(text) => {
                let element = self.element(Role::Paragraph, None);
                let (height, ink) =
                    set(&[(text, Weight::Regular)], BODY, self.width, 0.0, 0.0, element);
                self.blocks.push(Atom { before: 4.0, height, ink, ..Atom::default() });
            }
            Block::Bullets(items) => {
                let list = self.element(Role::List(false), None);
                for item in items {
                    self.bullet(item, list, 0.0);
                }
            }
            Block::Cautions(items) => self.cautions(items),
            Block::Steps(steps) => self.steps(steps),
            Block::Table(grid) => self.table(grid),
            Block::Picture(drawing) => self.picture(drawing),
            Block::PageBreak => {}
        }
    }

    fn heading(&mut self, level: u8, text: &str) {
        let (size, before) = match level {
            1 => (20.0, 0.0),
            2 => (14.0, 16.0),
            _ => (12.0, 12.0),
        };
        let element = self.element(Role::Heading(level, text.to_owned()), None);
        let (height, mut ink) = set(&[(text, Weight::Bold)], size, self.width, 0.0, 0.0, element);
        let mut height = height;
        if level <= 2 {
            height += 2.0;
            let shape = Shape::Rule { length: self.width };
            ink.push(Ink { x: 0.0, y: height, shape, element: None });
            height += 3.0;
        }
        let mark = Some((level, text.to_owned()));
        self.blocks.push(Atom { before, height, ink, keep: true, mark, ..Atom::default() });
    }

    /// One item of a list of `list`.
    fn bullet(&mut self, text: &str, list: usize, inset: f64) {
        let item = self.element(Role::Item, Some(list));
        let label = self.element(Role::Label, Some(item));
        let body = self.element(Role::Body, Some(item));
        let (_, mut ink) = set(&[("•", Weight::Regular)], BODY, 12.0, inset, 0.0, label);
        let width = self.width - 12.0 - 2.0 * inset;
        let (height, text) = set(&[(text, Weight::Regular)], BODY, width, 12.0 + inset, 0.0, body);
        ink.extend(text);
        self.blocks.push(Atom { before: 2.5, height, ink, ..Atom::default() });
    }

    fn cautions(&mut self, items: &[String]) {
        let list = self.element(Role::List(false), None);
        for (i, item) in items.iter().enumerate() {
            self.bullet(item, list, 8.0);
            let Some(block) = self.blocks.last_mut() else { continue };
            // The grounds of neighbours meet.
            block.before = if i == 0 { 4.0 } else { 0.0 };
            for ink in &mut block.ink {
                ink.y += 3.0;
            }
            block.height += 6.0;
            let shape = Shape::Panel { width: self.width, height: block.height };
            block.ink.insert(0, Ink { x: 0.0, y: 0.0, shape, element: None });
        }
    }

    fn steps(&mut self, steps: &[SheetStep]) {
        const TICK: f64 = 10.0;
        const DEEPER: f64 = 20.0;
        let start = self.blocks.len();
        let top = self.element(Role::List(true), None);
        // The list of each depth, and its last item's body.
        let mut lists: Vec<(usize, Option<usize>)> = vec![(top, None)];
        for (i, step) in steps.iter().enumerate() {
            lists.truncate(step.depth + 1);
            while lists.len() <= step.depth {
                let parent = lists.last().and_then(|(list, body)| body.or(Some(*list)));
                let list = self.element(Role::List(true), parent);
                lists.push((list, None));
            }
            let (list, _) = lists[step.depth];
            let item = self.element(Role::Item, Some(list));
            let label = self.element(Role::Label, Some(item));
            let body = self.element(Role::Body, Some(item));
            lists[step.depth].1 = Some(body);

            let left = step.depth as f64 * DEEPER;
            let text_at = left + TICK + 5.0 + 21.0;
            let width = self.width - text_at;
            let mut ink = Vec::new();
            if step.once {
                let shape = Shape::Tick { side: TICK };
                ink.push(Ink { x: left, y: 2.2, shape, element: None });
            }
            let (_, number) = set(
                &[(&step.label, Weight::Regular)],
                BODY,
                f64::INFINITY,
                left + TICK + 5.0,
                0.0,
                label,
            );
            ink.extend(number);
            let texts = [(step.lead.as_str(), Weight::Bold), (step.text.as_str(), Weight::Regular)];
            let (mut height, text) = set(&texts, BODY, width, text_at, 0.0, body);
            ink.extend(text);
            for remark in &step.remarks {
                let (more, text) = set(
                    &[(remark, Weight::Regular)],
                    BODY,
                    width - 8.0,
                    text_at + 8.0,
                    height,
                    body,
                );
                height += more;
                ink.extend(text);
            }
            let rows: Vec<_> = step.ticks.iter().map(|row| ticks(row, text_at, width)).collect();
            for (more, row) in rows {
                ink.extend(row.into_iter().map(|ink| Ink { y: ink.y + height, ..ink }));
                height += more;
            }
            // A repeat stands with its first step; a remark with what it remarks on.
            let keep = !step.ticks.is_empty()
                || steps
                    .get(i + 1)
                    .is_some_and(|next| next.label.is_empty() || (next.depth > step.depth));
            self.blocks.push(Atom { before: 4.5, height, ink, keep, ..Atom::default() });
        }
        // A page is not turned within a short round.
        let most = self.height * 0.45;
        let mut at = 0;
        while at < steps.len() {
            let inner = steps[at + 1..].iter().take_while(|step| step.depth > 0).count();
            let round = &mut self.blocks[start + at..=start + at + inner];
            if round.iter().map(|atom| atom.before + atom.height).sum::<f64>() <= most {
                round[..inner].iter_mut().for_each(|atom| atom.keep = true);
            }
            at += inner + 1;
        }
    }

    fn table(&mut self, grid: &Grid) {
        let columns = grid.headings.len();
        let widest = self.width * 0.45;
        let wide = |folded: bool| -> Vec<f64> {
            let column = |column: usize| {
                let title = &grid.headings[column];
                let words = title.split_whitespace();
                let word = words.map(|w| text_width(w, TABLE, Weight::Bold)).fold(0.0, f64::max);
                let title = text_width(title, TABLE, Weight::Bold);
                let heading = if folded { word.max(title / 3.0) } else { title };
                let weight = if column == 0 { Weight::Bold } else { Weight::Regular };
                let cells = grid.rows.iter().filter_map(|row| row.get(column));
                let cell = cells.map(|c| text_width(c, TABLE, weight)).fold(0.0, f64::max);
                (heading.max(cell) + 1.0).min(widest)
            };
            (0..columns).map(column).collect()
        };
        // Headings are folded only where the columns would not fit otherwise.
        let open = wide(false);
        let fits = open.iter().sum::<f64>() + CELL_GAP * open.len() as f64 <= self.width;
        let widths = if fits { open } else { wide(true) };
        // Columns that don't fit beside the first go below, the first repeated.
        let mut parts: Vec<Vec<usize>> = vec![Vec::new()];
        let mut used = widths.first().copied().unwrap_or_default();
        for (column, wide) in widths.iter().enumerate().skip(1) {
            if used + CELL_GAP + wide > self.width
                && parts.last().is_some_and(|part| !part.is_empty())
            {
                parts.push(Vec::new());
                used = widths[0];
            }
            used += CELL_GAP + wide;
            if let Some(part) = parts.last_mut() {
                part.push(column);
            }
        }
        for (i, part) in parts.iter().enumerate() {
            let title =
                if i == 0 { grid.title.clone() } else { format!("{} (continued)", grid.title) };
            self.table_part(grid, &title, part, &widths);
        }
    }

    fn table_part(&mut self, grid: &Grid, title: &str, part: &[usize], widths: &[f64]) {
        let table = self.element(Role::Table, None);
        let caption = self.element(Role::Caption, Some(table));
        let (height, ink) = set(&[(title, Weight::Bold)], BODY, self.width, 0.0, 0.0, caption);
        self.blocks.push(Atom { before: 9.0, height, ink, keep: true, ..Atom::default() });

        let mut columns: Vec<(usize, f64, f64)> = Vec::new();
        let mut x = 0.0;
        for column in std::iter::once(&0).chain(part) {
            columns.push((*column, x, widths[*column]));
            x += widths[*column] + CELL_GAP;
        }
        let length = x - CELL_GAP;
        let row = self.element(Role::Row, Some(table));
        let heads: Vec<(&str, usize)> = columns
            .iter()
            .map(|(column, ..)| {
                let cell = self.element(Role::ColumnHead, Some(row));
                (grid.headings[*column].as_str(), cell)
            })
            .collect();
        let (mut height, mut ink) = table_row(&columns, &heads, true);
        height += 1.5;
        ink.push(Ink { x: 0.0, y: height, shape: Shape::Rule { length }, element: None });
        height += 1.5;
        let repeat = ink.iter().cloned().map(|ink| Ink { element: None, ..ink }).collect();
        self.heads.push((height, repeat));
        let head = Some(self.heads.len() - 1);
        self.blocks.push(Atom { before: 2.0, height, ink, keep: true, ..Atom::default() });
        for (nth, cells) in grid.rows.iter().enumerate() {
            let row = self.element(Role::Row, Some(table));
            let cells: Vec<(&str, usize)> = columns
                .iter()
                .enumerate()
                .map(|(i, (column, ..))| {
                    let role = if i == 0 { Role::RowHead } else { Role::Cell };
                    let cell = self.element(role, Some(row));
                    (cells.get(*column).map_or("", String::as_str), cell)
                })
                .collect();
            let (height, ink) = table_row(&columns, &cells, false);
            // No row is left alone on either side of a page's end.
            let keep = grid.rows.len() > 1 && (nth == 0 || nth + 2 == grid.rows.len());
            self.blocks.push(Atom { before: 1.0, height, ink, keep, head, ..Atom::default() });
        }
    }

    fn picture(&mut self, drawing: &'a Drawing) {
        let element = self.element(Role::Figure(alternative(drawing)), None);
        let (wide, tall) = (drawing.width_mm.max(0.1) * MM, drawing.height_mm.max(0.1) * MM);
        // Room for its heading above it.
        let room = self.height - 40.0;
        let scale = (self.width / wide).min(room / tall).min(1.0);
        let shape = Shape::Picture { drawing, scale };
        let ink = vec![Ink { x: 0.0, y: 0.0, shape, element: Some(element) }];
        let height = tall * scale;
        self.blocks.push(Atom { before: 6.0, height, ink, ..Atom::default() });
    }

    fn paginate(self) -> Pages<'a> {
        let mut pages: Vec<Vec<Ink<'a>>> = vec![Vec::new()];
        let mut bookmarks = Vec::new();
        let mut y = 0.0;
        for (i, block) in self.blocks.iter().enumerate() {
            // What has to stand together with it.
            let mut needed = block.height;
            for pair in self.blocks[i..].windows(2) {
                if !pair[0].keep || needed > self.height {
                    break;
                }
                needed += pair[1].before + pair[1].height;
            }
            let alone = block.height;
            let room = self.height - y - block.before;
            let together = needed.min(self.height);
            let too_tall = if needed <= self.height { together } else { alone };
            if y > 0.0 && (block.starts_page || too_tall > room) {
                pages.push(Vec::new());
                y = 0.0;
                if let Some((height, ink)) = block.head.and_then(|head| self.heads.get(head)) {
                    put(&mut pages, ink, 0.0);
                    y += height;
                }
            }
            if y > 0.0 {
                y += block.before;
            }
            if let Some((level, text)) = &block.mark {
                bookmarks.push(Bookmark {
                    level: *level,
                    text: text.clone(),
                    page: pages.len() - 1,
                    y: TOP + y,
                });
            }
            if block.height <= self.height - y + 0.01 {
                put(&mut pages, &block.ink, y);
                y += block.height;
                continue;
            }
            for (n, (height, slice)) in slices(&block.ink, self.height).into_iter().enumerate() {
                if n > 0 {
                    pages.push(Vec::new());
                    y = 0.0;
                }
                put(&mut pages, &slice, y);
                y += height;
            }
        }
        Pages { pages, elements: self.elements, bookmarks }
    }
}

/// Puts ink on the last page.
fn put<'a>(pages: &mut [Vec<Ink<'a>>], ink: &[Ink<'a>], y: f64) {
    let Some(page) = pages.last_mut() else { return };
    page.extend(ink.iter().cloned().map(|ink| Ink { x: SIDE + ink.x, y: TOP + y + ink.y, ..ink }));
}

/// Cuts what is taller than a page between its lines.
fn slices<'a>(ink: &[Ink<'a>], height: f64) -> Vec<(f64, Vec<Ink<'a>>)> {
    let extent = |ink: &Ink<'_>| match &ink.shape {
        Shape::Text { size, .. } => (ink.y - size * RISE, ink.y + size * (LEADING - RISE)),
        Shape::Tick { side } => (ink.y, ink.y + side + 2.0),
        _ => (ink.y, ink.y),
    };
    let mut sorted: Vec<&Ink<'a>> = ink.iter().collect();
    sorted.sort_by(|a, b| extent(a).0.total_cmp(&extent(b).0));
    let mut all: Vec<(f64, Vec<Ink<'a>>)> = Vec::new();
    let mut top = 0.0;
    for ink in sorted {
        // The ground of a caution is left out where its text is cut.
        if matches!(ink.shape, Shape::Panel { .. }) {
            continue;
        }
        let (from, to) = extent(ink);
        if all.is_empty() || to - top > height {
            top = from;
            all.push((0.0, Vec::new()));
        }
        if let Some((tall, slice)) = all.last_mut() {
            *tall = tall.max(to - top);
            slice.push(Ink { y: ink.y - top, ..ink.clone() });
        }
    }
    all
}

/// What the picture shows, for who can't see it.
fn alternative(drawing: &Drawing) -> String {
    format!("{}. {}", drawing.title.trim_end_matches('.'), drawing.about)
}

/// Text in lines at a place; gives its height.
fn set<'a>(
    texts: &[(&str, Weight)],
    size: f64,
    width: f64,
    x: f64,
    y: f64,
    element: usize,
) -> (f64, Vec<Ink<'a>>) {
    let set = lines(texts, size, width);
    let step = size * LEADING;
    let mut ink = Vec::new();
    let last = set.len() - 1;
    for (i, line) in set.iter().enumerate() {
        let end = line.len().saturating_sub(1);
        for (j, words) in line.iter().enumerate() {
            let Words { x: along, text, weight } = words;
            // The blank at the line's end is there for who copies or listens.
            let blank = if i < last && j == end { " " } else { "" };
            let shape = Shape::Text { size, weight: *weight, text: format!("{text}{blank}") };
            let y = y + i as f64 * step + size * RISE;
            ink.push(Ink { x: x + along, y, shape, element: Some(element) });
        }
    }
    (set.len() as f64 * step, ink)
}

/// Cells beside each other, figures to the right of their columns, heads at the foot of theirs.
fn table_row<'a>(
    columns: &[(usize, f64, f64)],
    cells: &[(&str, usize)],
    head: bool,
) -> (f64, Vec<Ink<'a>>) {
    let mut all: Vec<(f64, Vec<Ink<'a>>)> = Vec::new();
    for (i, ((_, x, width), (text, element))) in columns.iter().zip(cells).enumerate() {
        let weight = if head || i == 0 { Weight::Bold } else { Weight::Regular };
        let (height, mut ink) = set(&[(text, weight)], TABLE, *width, *x, 0.0, *element);
        if i > 0 {
            for ink in &mut ink {
                if let Shape::Text { text, size, weight } = &ink.shape {
                    ink.x += (width - text_width(text.trim_end(), *size, *weight)).max(0.0);
                }
            }
        }
        all.push((height, ink));
    }
    let height = all.iter().map(|(height, _)| *height).fold(0.0, f64::max);
    let ink = all
        .into_iter()
        .flat_map(|(own, ink)| {
            let down = if head { height - own } else { 0.0 };
            ink.into_iter().map(move |ink| Ink { y: ink.y + down, ..ink })
        })
        .collect();
    (height, ink)
}

/// A row of boxes with the figures behind them, on as many lines as it takes.
fn ticks<'a>(row: &Ticks, x: f64, width: f64) -> (f64, Vec<Ink<'a>>) {
    const SIDE: f64 = 8.5;
    const GAP: f64 = 3.2;
    const FIGURES: f64 = 8.0;
    const LINE: f64 = 14.0;
    let mut ink = Vec::new();
    let (mut along, mut y) = (0.0, 2.0);
    let figure = |ink: &mut Vec<Ink<'a>>, along: &mut f64, y: f64, text: String| {
        let wide = text_width(&text, FIGURES, Weight::Regular);
        let shape = Shape::Text { size: FIGURES, weight: Weight::Regular, text };
        ink.push(Ink { x: x + *along, y: y + 7.2, shape, element: None });
        *along += wide + 5.0;
    };
    let mut before = row.label.clone();
    if row.each > 1 {
        let tens = format!("a box for each {} rounds", row.each);
        before = if before.is_empty() { tens } else { format!("{before}, {tens}") };
    }
    if !before.is_empty() {
        figure(&mut ink, &mut along, y, format!("{before}:"));
    }
    let indent = along;
    for group in row.groups() {
        // Boxes stay with the figure that counts them.
        let told = group.last().and_then(|tick| tick.done).map(|done| done.to_string());
        let told = told.unwrap_or_default();
        let needed =
            group.len() as f64 * (SIDE + GAP) + text_width(&told, FIGURES, Weight::Regular);
        if along > indent && along + needed > width {
            along = indent;
            y += LINE;
        }
        for _ in group {
            ink.push(Ink { x: x + along, y, shape: Shape::Tick { side: SIDE }, element: None });
            along += SIDE + GAP;
        }
        figure(&mut ink, &mut along, y, told);
    }
    (y + LINE, ink)
}
