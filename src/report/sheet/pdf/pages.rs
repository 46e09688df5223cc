//! What was set, on pages: what stands together, and where a page is turned.

use super::ink::{Bookmark, Element, Ink, InkShape, LEADING, Pages, RISE, SIDE, TOP};

/// What is not split over pages, unless it is taller than one.
#[derive(Clone, Debug, Default)]
pub(super) struct Atom<'a> {
    pub before: f64,
    pub height: f64,
    pub ink: Vec<Ink<'a>>,
    /// Stands on the page of what follows.
    pub keep: bool,
    pub starts_page: bool,
    /// The table head to repeat when this comes to the top of a page.
    pub head: Option<usize>,
    pub mark: Option<(u8, String)>,
}

/// What is set, before it lies on pages.
pub(super) struct Setting<'a> {
    /// Height of what a page holds.
    pub height: f64,
    pub atoms: Vec<Atom<'a>>,
    /// Table heads to repeat, with their heights.
    pub heads: Vec<(f64, Vec<Ink<'a>>)>,
    pub elements: Vec<Element>,
}

impl<'a> Setting<'a> {
    pub fn paginate(self) -> Pages<'a> {
        let mut turned = Turned { pages: vec![Vec::new()], y: 0.0 };
        let mut bookmarks = Vec::new();
        for (i, atom) in self.atoms.iter().enumerate() {
            let room = self.height - turned.y - atom.before;
            if turned.y > 0.0 && (atom.starts_page || self.needed(i) > room) {
                turned.turn();
                if let Some((height, ink)) = atom.head.and_then(|head| self.heads.get(head)) {
                    turned.put(ink, *height);
                }
            }
            if turned.y > 0.0 {
                turned.y += atom.before;
            }
            if let Some((level, text)) = &atom.mark {
                bookmarks.push(Bookmark {
                    level: *level,
                    text: text.clone(),
                    page: turned.pages.len() - 1,
                    y: TOP + turned.y,
                });
            }
            if atom.height <= self.height - turned.y + 0.01 {
                turned.put(&atom.ink, atom.height);
                continue;
            }
            for (n, (height, slice)) in slices(&atom.ink, self.height).into_iter().enumerate() {
                if n > 0 {
                    turned.turn();
                }
                turned.put(&slice, height);
            }
        }
        Pages { pages: turned.pages, elements: self.elements, bookmarks }
    }

    /// The height of an atom with what has to stand together with it; its own, where no page holds
    /// all that.
    fn needed(&self, atom: usize) -> f64 {
        let alone = self.atoms[atom].height;
        let mut needed = alone;
        for pair in self.atoms[atom..].windows(2) {
            if !pair[0].keep || needed > self.height {
                break;
            }
            needed += pair[1].before + pair[1].height;
        }
        if needed <= self.height { needed } else { alone }
    }
}

/// The pages so far, and how far down the last one is filled.
struct Turned<'a> {
    pages: Vec<Vec<Ink<'a>>>,
    y: f64,
}

impl<'a> Turned<'a> {
    fn turn(&mut self) {
        self.pages.push(Vec::new());
        self.y = 0.0;
    }

    /// Puts ink of a height on the last page.
    fn put(&mut self, ink: &[Ink<'a>], height: f64) {
        let y = TOP + self.y;
        if let Some(page) = self.pages.last_mut() {
            page.extend(ink.iter().cloned().map(|ink| Ink {
                x: SIDE + ink.x,
                y: y + ink.y,
                ..ink
            }));
        }
        self.y += height;
    }
}

/// Cuts what is taller than a page between its lines.
fn slices<'a>(ink: &[Ink<'a>], height: f64) -> Vec<(f64, Vec<Ink<'a>>)> {
    let extent = |ink: &Ink<'_>| match &ink.shape {
        InkShape::Text { size, .. } => (ink.y - size * RISE, ink.y + size * (LEADING - RISE)),
        InkShape::Tick { side } => (ink.y, ink.y + side + 2.0),
        _ => (ink.y, ink.y),
    };
    let mut sorted: Vec<&Ink<'a>> = ink.iter().collect();
    sorted.sort_by(|a, b| extent(a).0.total_cmp(&extent(b).0));
    let mut all: Vec<(f64, Vec<Ink<'a>>)> = Vec::new();
    let mut top = 0.0;
    for ink in sorted {
        // The ground of a caution is left out where its text is cut.
        if matches!(ink.shape, InkShape::Panel { .. }) {
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
