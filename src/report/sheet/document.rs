use super::Paper;
use super::Ticks;
use crate::Grid;
use crate::drawing::Drawing;

/// What is printed, in reading order, before it is laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct Document {
    /// Also in the running head and the file's own title.
    pub title: String,
    pub paper: Paper,
    pub blocks: Vec<Block>,
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
