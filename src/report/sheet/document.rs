use super::Paper;
use super::Ticks;
use crate::Grid;
use crate::drawing::Drawing;
use crate::vocabulary::said;
use knit::stash::Words;
use units::set_fractions;

/// What is printed, in reading order, before it is laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct Document {
    /// Also in the running head and the file's own title.
    pub title: String,
    pub paper: Paper,
    pub blocks: Vec<Block>,
}

fn print(words: Words, text: &str) -> String {
    set_fractions(&said(words, text))
}

#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// Level 2 begins a section, level 3 a part of one. The title is the only heading of level 1.
    Heading {
        level: u8,
        text: String,
    },
    Paragraph(String),
    Bullets(Vec<String>),
    /// Set apart so that it is not overlooked.
    Cautions(Vec<String>),
    Steps(Vec<SheetStep>),
    Table(Grid),
    Picture(Drawing),
    /// What follows begins a page.
    PageBreak,
}

/// An instruction, or a remark on the one before it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SheetStep {
    pub depth: usize,
    /// "1.", "a."; empty for a remark.
    pub label: String,
    /// Whose it is, where not all sizes have it: "Size Women M only: ".
    pub only: String,
    /// Where row counter and carriage should be, or nothing.
    pub lead: String,
    pub text: String,
    pub remarks: Vec<String>,
    /// Done once: it has a box of its own.
    pub once: bool,
    /// Rows of boxes of a repeat.
    pub ticks: Vec<Ticks>,
}

impl Document {
    /// The same as it is printed: in these words of the trade, fractions of inches as one sign each.
    #[must_use]
    pub(crate) fn printed(self, words: Words) -> Document {
        let texts = |texts: Vec<String>| texts.iter().map(|text| print(words, text)).collect();
        let block = |block: Block| match block {
            Block::Heading { level, text } => Block::Heading { level, text: print(words, &text) },
            Block::Paragraph(text) => Block::Paragraph(print(words, &text)),
            Block::Bullets(items) => Block::Bullets(texts(items)),
            Block::Cautions(items) => Block::Cautions(texts(items)),
            Block::Steps(steps) => {
                let step = |step: SheetStep| SheetStep {
                    only: print(words, &step.only),
                    lead: print(words, &step.lead),
                    text: print(words, &step.text),
                    remarks: texts(step.remarks),
                    ..step
                };
                Block::Steps(steps.into_iter().map(step).collect())
            }
            Block::Table(grid) => Block::Table(grid.map_texts(|text| print(words, text))),
            Block::Picture(drawing) => Block::Picture(drawing.map_texts(|text| print(words, text))),
            Block::PageBreak => Block::PageBreak,
        };
        let title = print(words, &self.title);
        Document { title, blocks: self.blocks.into_iter().map(block).collect(), ..self }
    }

    /// Adds to what is told of the words, in its own words.
    pub(crate) fn after_words_used(&mut self, text: &str) {
        let is_head =
            |block: &Block| matches!(block, Block::Heading { text, .. } if text == "Words used");
        if let Some(at) = self.blocks.iter().position(is_head) {
            let at = (at + 2).min(self.blocks.len());
            self.blocks.insert(at, Block::Paragraph(text.to_owned()));
        }
    }

    /// Sheets one after another in one file, each from a page of its own on.
    ///
    /// One sheet alone stays as it is.
    #[must_use]
    pub fn bound(title: String, mut sheets: Vec<Document>) -> Document {
        if sheets.len() == 1 {
            return sheets.remove(0);
        }
        let paper = sheets.first().map_or(Paper::A4, |sheet| sheet.paper);
        let mut blocks = Vec::new();
        for (nth, sheet) in sheets.into_iter().enumerate() {
            if nth > 0 {
                blocks.push(Block::PageBreak);
            }
            blocks.push(Block::Heading { level: 2, text: sheet.title });
            blocks.extend(sheet.blocks.into_iter().map(|block| match block {
                Block::Heading { text, .. } => Block::Heading { level: 3, text },
                other => other,
            }));
        }
        Document { title, paper, blocks }
    }

    /// How many boxes there are to tick.
    pub fn boxes(&self) -> usize {
        let of = |step: &SheetStep| {
            usize::from(step.once) + step.ticks.iter().map(|row| row.boxes.len()).sum::<usize>()
        };
        let steps = self.blocks.iter().map(|block| match block {
            Block::Steps(steps) => steps.iter().map(of).sum(),
            _ => 0,
        });
        steps.sum()
    }
}
