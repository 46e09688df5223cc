use super::{Block, Document, SheetStep};
use crate::techniques::Technique;
use knit::stash::Words;

impl Document {
    /// The same with how these are done by hand, on pages of their own at the end.
    #[must_use]
    pub fn with_techniques(mut self, techniques: &[Technique], words: Words) -> Document {
        if techniques.is_empty() {
            return self;
        }
        let mut how = Document { blocks: Vec::new(), title: String::new(), ..self };
        let heading = |level: u8, text: &str| Block::Heading { level, text: text.to_owned() };
        how.blocks.extend([Block::PageBreak, heading(2, "How it is done")]);
        for technique in techniques {
            how.blocks.push(heading(3, technique.title()));
            how.blocks.push(Block::Paragraph(technique.when().to_owned()));
            how.blocks.push(Block::Picture(technique.picture()));
            let step = |(nth, text): (usize, &&str)| SheetStep {
                depth: 0,
                label: format!("{}.", nth + 1),
                only: String::new(),
                lead: String::new(),
                text: (*text).to_owned(),
                remarks: Vec::new(),
                once: false,
                ticks: Vec::new(),
            };
            how.blocks.push(Block::Steps(technique.steps().iter().enumerate().map(step).collect()));
            how.blocks.push(Block::Paragraph(technique.mind().to_owned()));
        }
        self.blocks.extend(how.printed(words).blocks);
        self
    }
}
