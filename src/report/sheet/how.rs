use super::{Block, Document, SheetStep};
use crate::techniques::Technique;

impl Document {
    /// The same with how these are done by hand, on pages of their own at the end.
    #[must_use]
    pub fn with_techniques(mut self, techniques: &[Technique]) -> Document {
        if techniques.is_empty() {
            return self;
        }
        let heading = |level: u8, text: &str| Block::Heading { level, text: text.to_owned() };
        self.blocks.extend([Block::PageBreak, heading(2, "How it is done")]);
        for technique in techniques {
            self.blocks.push(heading(3, technique.title()));
            self.blocks.push(Block::Paragraph(technique.when().to_owned()));
            self.blocks.push(Block::Picture(technique.picture()));
            let step = |(nth, text): (usize, &&str)| SheetStep {
                depth: 0,
                label: format!("{}.", nth + 1),
                lead: String::new(),
                text: (*text).to_owned(),
                remarks: Vec::new(),
                once: false,
                ticks: Vec::new(),
            };
            self.blocks
                .push(Block::Steps(technique.steps().iter().enumerate().map(step).collect()));
            self.blocks.push(Block::Paragraph(technique.mind().to_owned()));
        }
        self
    }
}
