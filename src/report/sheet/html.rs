//! The sheet as one HTML file, for a screen and for print. It asks for nothing from outside and
//! runs no script. The template escapes all texts; a drawing escapes its own.

use askama::Template;

use super::{Block, Document, SheetStep};
use crate::Grid;
use crate::drawing::Drawing;

const STYLE: &str = include_str!("../templates/sheet.css");

/// The sheet as an HTML file.
pub fn sheet_html(document: &Document) -> String {
    let page = HtmlPage {
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
struct HtmlPage<'a> {
    title: &'a str,
    style: &'static str,
    paper: &'static str,
    sections: Vec<SheetSection<'a>>,
}

/// A heading of level 2 and all up to the next.
#[derive(Default)]
struct SheetSection<'a> {
    heading: Option<&'a str>,
    fresh: bool,
    parts: Vec<SheetPart<'a>>,
}

enum SheetPart<'a> {
    Heading(&'a str),
    Paragraph(&'a str),
    Bullets(&'a [String]),
    Cautions(&'a [String]),
    Picture(&'a Drawing),
    Table(&'a Grid),
    Steps(Vec<ListMark<'a>>),
}

/// Nested lists, told flat.
enum ListMark<'a> {
    Open,
    Item(&'a SheetStep),
    ItemEnd,
    Close,
}

fn sections(blocks: &[Block]) -> Vec<SheetSection<'_>> {
    let mut sections: Vec<SheetSection<'_>> = Vec::new();
    let mut fresh = false;
    for block in blocks {
        let part = match block {
            Block::PageBreak => {
                fresh = true;
                continue;
            }
            Block::Heading { level: ..=2, text } => {
                let fresh = std::mem::take(&mut fresh);
                sections.push(SheetSection { heading: Some(text), fresh, parts: Vec::new() });
                continue;
            }
            Block::Heading { text, .. } => SheetPart::Heading(text),
            Block::Paragraph(text) => SheetPart::Paragraph(text),
            Block::Bullets(items) => SheetPart::Bullets(items),
            Block::Cautions(items) => SheetPart::Cautions(items),
            Block::Picture(drawing) => SheetPart::Picture(drawing),
            Block::Table(grid) => SheetPart::Table(grid),
            Block::Steps(steps) => SheetPart::Steps(turns(steps)),
        };
        if sections.is_empty() {
            sections.push(SheetSection::default());
        }
        if let Some(section) = sections.last_mut() {
            section.parts.push(part);
        }
    }
    sections
}

fn turns(steps: &[SheetStep]) -> Vec<ListMark<'_>> {
    let mut turns = Vec::new();
    // Of each open list, whether an item in it is open.
    let mut open: Vec<bool> = Vec::new();
    let close = |turns: &mut Vec<ListMark<'_>>, open: &mut Vec<bool>| {
        if open.pop() == Some(true) {
            turns.push(ListMark::ItemEnd);
        }
        turns.push(ListMark::Close);
    };
    for step in steps {
        while open.len() > step.depth + 1 {
            close(&mut turns, &mut open);
        }
        while open.len() <= step.depth {
            turns.push(ListMark::Open);
            open.push(false);
        }
        if let Some(item) = open.last_mut()
            && std::mem::replace(item, true)
        {
            turns.push(ListMark::ItemEnd);
        }
        turns.push(ListMark::Item(step));
    }
    while !open.is_empty() {
        close(&mut turns, &mut open);
    }
    turns
}
