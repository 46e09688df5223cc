//! The document as ink on pages, part by part.

use super::ink::{BODY, BOTTOM, Ink, InkShape, MM, Pages, Role, SIDE, TOP};
use super::pages::{Atom, Setting};
use super::setter::PageSetter;
use super::setting::set;
use crate::drawing::{Drawing, Weight};
use crate::sheet::{Block, Document};

pub(super) fn flow(document: &Document) -> Pages<'_> {
    let (width, height) = document.paper.mm();
    let set = Setting {
        height: height * MM - TOP - BOTTOM,
        atoms: Vec::new(),
        heads: Vec::new(),
        elements: Vec::new(),
    };
    let mut setter = PageSetter { width: width * MM - 2.0 * SIDE, set };
    setter.heading(1, &document.title);
    let mut fresh = false;
    for block in &document.blocks {
        let first = setter.set.atoms.len();
        setter.block(block);
        if let Some(block) = setter.set.atoms.get_mut(first) {
            block.starts_page |= fresh;
            fresh = false;
        }
        fresh |= matches!(block, Block::PageBreak);
    }
    setter.set.paginate()
}

impl<'a> PageSetter<'a> {
    fn block(&mut self, block: &'a Block) {
        match block {
            Block::Heading { level, text } => self.heading(*level, text),
            Block::Paragraph(text) => {
                let element = self.element(Role::Paragraph, None);
                let (height, ink) =
                    set(&[(text, Weight::Regular)], BODY, self.width, 0.0, 0.0, element);
                self.set.atoms.push(Atom { before: 4.0, height, ink, ..Atom::default() });
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
            let shape = InkShape::Rule { length: self.width };
            ink.push(Ink { x: 0.0, y: height, shape, element: None });
            height += 3.0;
        }
        let mark = Some((level, text.to_owned()));
        self.set.atoms.push(Atom { before, height, ink, keep: true, mark, ..Atom::default() });
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
        self.set.atoms.push(Atom { before: 2.5, height, ink, ..Atom::default() });
    }

    fn cautions(&mut self, items: &[String]) {
        let list = self.element(Role::List(false), None);
        for (i, item) in items.iter().enumerate() {
            self.bullet(item, list, 8.0);
            let Some(block) = self.set.atoms.last_mut() else { continue };
            // The grounds of neighbours meet.
            block.before = if i == 0 { 4.0 } else { 0.0 };
            for ink in &mut block.ink {
                ink.y += 3.0;
            }
            block.height += 6.0;
            let shape = InkShape::Panel { width: self.width, height: block.height };
            block.ink.insert(0, Ink { x: 0.0, y: 0.0, shape, element: None });
        }
    }

    fn picture(&mut self, drawing: &'a Drawing) {
        let element = self.element(Role::Figure(alternative(drawing)), None);
        let (wide, tall) = (drawing.width_mm.max(0.1) * MM, drawing.height_mm.max(0.1) * MM);
        // Room for its heading above it.
        let room = self.set.height - 40.0;
        let scale = (self.width / wide).min(room / tall).min(1.0);
        let shape = InkShape::Picture { drawing, scale };
        let ink = vec![Ink { x: 0.0, y: 0.0, shape, element: Some(element) }];
        let height = tall * scale;
        self.set.atoms.push(Atom { before: 6.0, height, ink, ..Atom::default() });
    }
}

/// What the picture shows, for who can't see it.
fn alternative(drawing: &Drawing) -> String {
    format!("{}. {}", drawing.title.trim_end_matches('.'), drawing.about)
}
