//! The sheet as one HTML file, for a screen and for print. It asks for nothing from outside and
//! runs no script. The template escapes all texts; a drawing escapes its own.

use askama::Template;

use super::{Block, Document, SheetStep};
use crate::Grid;
use crate::drawing::Drawing;

const STYLE: &str = include_str!("../templates/sheet.css");

/// The sheet as an HTML file.
pub fn sheet_html(document: &Document) -> String {
    let page = Page {
        title: &document.title,
        style: STYLE,
        paper: document.paper.css(),
        sections: sections(&document.blocks),
    };
    // Writing to a string fails only where a text's own `Display` does.
    page.render().expect("texts can be written")
}

#[derive(Template)]
#[template(path = "sheet.html")]
struct Page<'a> {
    title: &'a str,
    style: &'static str,
    paper: &'static str,
    sections: Vec<Section<'a>>,
}

/// A heading of level 2 and all up to the next.
#[derive(Default)]
struct Section<'a> {
    heading: Option<&'a str>,
    fresh: bool,
    parts: Vec<Part<'a>>,
}

enum Part<'a> {
    Heading(&'a str),
    Paragraph(&'a str),
    Bullets(&'a [String]),
    Cautions(&'a [String]),
    Picture(&'a Drawing),
    Table(&'a Grid),
    Steps(Vec<Turn<'a>>),
}

/// Nested lists, told flat.
enum Turn<'a> {
    Open,
    Item(&'a SheetStep),
    ItemEnd,
    Close,
}

fn sections(blocks: &[Block]) -> Vec<Section<'_>> {
    let mut sections: Vec<Section<'_>> = Vec::new();
    let mut fresh = false;
    for block in blocks {
        let part = match block {
            Block::PageBreak => {
                fresh = true;
                continue;
            }
            Block::Heading { level: ..=2, text } => {
                let fresh = std::mem::take(&mut fresh);
                sections.push(Section { heading: Some(text), fresh, parts: Vec::new() });
                continue;
            }
            Block::Heading { text, .. } => Part::Heading(text),
            Block::Paragraph(text) => Part::Paragraph(text),
            Block::Bullets(items) => Part::Bullets(items),
            Block::Cautions(items) => Part::Cautions(items),
            Block::Picture(drawing) => Part::Picture(drawing),
            Block::Table(grid) => Part::Table(grid),
            Block::Steps(steps) => Part::Steps(turns(steps)),
        };
        if sections.is_empty() {
            sections.push(Section::default());
        }
        if let Some(section) = sections.last_mut() {
            section.parts.push(part);
        }
    }
    sections
}

fn turns(steps: &[SheetStep]) -> Vec<Turn<'_>> {
    let mut turns = Vec::new();
    // Of each open list, whether an item in it is open.
    let mut open: Vec<bool> = Vec::new();
    let close = |turns: &mut Vec<Turn<'_>>, open: &mut Vec<bool>| {
        if open.pop() == Some(true) {
            turns.push(Turn::ItemEnd);
        }
        turns.push(Turn::Close);
    };
    for step in steps {
        while open.len() > step.depth + 1 {
            close(&mut turns, &mut open);
        }
        while open.len() <= step.depth {
            turns.push(Turn::Open);
            open.push(false);
        }
        if let Some(item) = open.last_mut()
            && std::mem::replace(item, true)
        {
            turns.push(Turn::ItemEnd);
        }
        turns.push(Turn::Item(step));
    }
    while !open.is_empty() {
        close(&mut turns, &mut open);
    }
    turns
}
