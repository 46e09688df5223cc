use super::{Block, Document, Paper, SheetStep, Ticks};
use crate::Grid;
use crate::drawing::Drawing;
use crate::grade_tables::{body_grid, finished_grid, finished_title, machine_grid, yarn_grid};
use crate::grid::capital;
use crate::instructions::Telling;
use crate::print_look::PrintLook;
use crate::told::{
    AlikeSizes, BRACKETS, Figures, Front, MOST_IN_BRACKETS, ToldChapter, care, front, groups,
    groups_for_class, in_unit, only, spans, steps, title,
};
use crate::vocabulary::called_elsewhere;
use knit::body::Body;
use knit::estimate::Need;
use knit::size_run::{Made, SizeRun};
use units::LengthUnit;

const LETTERS: &str = "A letter in square brackets stands for a figure: look it up in the table above the steps, in \
    the column of your size, and write it in. A figure that is no letter is for all sizes.";

const ONLY: &str = "A step that begins with sizes, such as \"Size Women M only\", is for those sizes, with all that \
    stands in it; leave it out if yours is not among them. A dash in a table says the same: your size has no \
    such step.";

/// A picture and what stands over it.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetPicture {
    pub heading: String,
    pub drawing: Drawing,
}

impl SheetPicture {
    fn under(heading: impl Into<String>, drawing: Drawing) -> SheetPicture {
        SheetPicture { heading: heading.into(), drawing }
    }

    /// The pieces with their measures, part `nth` of `all`, counted from 0.
    pub fn schematic(nth: usize, all: usize, drawing: Drawing) -> SheetPicture {
        SheetPicture::under(part_of("Schematic", nth, all), drawing)
    }

    /// Part `nth` of `all`, counted from 0, of the row chart called `title`.
    pub fn row_chart(title: &str, nth: usize, all: usize, drawing: Drawing) -> SheetPicture {
        match all {
            1 => SheetPicture::under("Row chart", drawing),
            _ => SheetPicture::under(part_of(title, nth, all), drawing),
        }
    }

    /// The garment in the colours of its yarn.
    pub fn stripes(drawing: Drawing) -> SheetPicture {
        SheetPicture::under("Stripes", drawing)
    }

    /// The garment as it is worn.
    pub fn in_the_round(drawing: Drawing) -> SheetPicture {
        SheetPicture::under("In the round", drawing)
    }

    /// A chart of the finished sizes, part `nth` of `all`, counted from 0.
    pub fn finished_sizes(nth: usize, all: usize, drawing: Drawing) -> SheetPicture {
        SheetPicture::under(part_of("Finished sizes", nth, all), drawing)
    }
}

fn part_of(title: &str, nth: usize, all: usize) -> String {
    match all {
        1 => title.to_owned(),
        _ => format!("{title}, part {} of {all}", nth + 1),
    }
}

/// The sheet of a graded run, the pictures at its end: what is done is read first. Of many sizes the
/// words stand once, and the figures in tables with a column a size.
pub fn pattern_sheet(
    run: &SizeRun,
    look: &PrintLook,
    paper: Paper,
    pictures: Vec<SheetPicture>,
) -> Document {
    let mut document = plain_sheet(run, look.unit, paper);
    for picture in pictures {
        document.blocks.push(Block::Heading { level: 2, text: picture.heading });
        document.blocks.push(Block::Picture(picture.drawing));
    }
    let mut document = document.printed(look.words);
    if let Some(elsewhere) = called_elsewhere(look.words) {
        document.after_words_used(elsewhere);
    }
    document
}

/// Without pictures, in the usual words.
pub(crate) fn plain_sheet(run: &SizeRun, unit: LengthUnit, paper: Paper) -> Document {
    let mut sheet = Builder { blocks: Vec::new() };
    let count = run.good().count();
    let groups = if count > MOST_IN_BRACKETS {
        groups_for_class(run, unit)
    } else {
        groups(run, unit, Telling::Folded)
    };
    let Some(first) = groups.first() else {
        sheet.refused(run);
        return Document { title: run.garment.title.clone(), paper, blocks: sheet.blocks };
    };
    let fronts: Vec<Front> = groups.iter().map(|group| front(run, group, unit)).collect();
    sheet.sizes(run, unit);
    sheet.needs(run, first, &fronts[0], unit);
    sheet.care(run, unit);
    sheet.heading(2, "Words used");
    sheet.blocks.push(Block::Paragraph(fronts[0].words_used.clone()));
    if let [group] = groups.as_slice() {
        sheet.legend(2, group);
        sheet.chapters(2, group);
        return Document { title: title(run, group), paper, blocks: sheet.blocks };
    }
    let all: Vec<&Body> = run.good().map(|(size, _)| &size.body).collect();
    for group in &groups {
        let theirs = spans(&all, &group.sizes.bodies());
        sheet.heading(2, &format!("For {}", theirs.join(", ")));
        sheet.legend(3, group);
        sheet.chapters(3, group);
    }
    let pair = if run.garment.pair { " (a pair)" } else { "" };
    let title = format!("{}{pair}, {count} sizes", run.garment.title);
    Document { title, paper, blocks: sheet.blocks }
}

struct Builder {
    blocks: Vec<Block>,
}

impl Builder {
    fn heading(&mut self, level: u8, text: &str) {
        self.blocks.push(Block::Heading { level, text: text.to_owned() });
    }

    fn refused(&mut self, run: &SizeRun) {
        self.blocks.push(Block::Paragraph("No size can be knitted as asked.".to_owned()));
        let reasons = run.refusals().iter().map(|d| capital(&d.to_string())).collect();
        self.blocks.push(Block::Cautions(reasons));
    }

    fn sizes(&mut self, run: &SizeRun, unit: LengthUnit) {
        let finished = finished_grid(run, &[unit], &finished_title(run, unit));
        self.heading(2, "Sizes");
        self.blocks.push(Block::Table(upright(finished)));
        if let Some(body) = body_grid(run, unit) {
            self.blocks.push(Block::Table(upright(body)));
        }
    }

    fn needs(&mut self, run: &SizeRun, group: &AlikeSizes<'_>, front: &Front, unit: LengthUnit) {
        self.heading(2, "What you need");
        let mut items = vec![front.machine.clone()];
        items.extend(front.fixed.iter().cloned());
        items.extend(front.gauges.iter().cloned());
        if run.good().count() == 1 {
            let (_, made) = group.sizes.first();
            items.push(front.yarn_in_all.clone());
            items.extend(front.waste.clone());
            items.push(front.time.clone());
            self.blocks.push(Block::Bullets(items));
            self.blocks.push(Block::Table(section_grid(run, made, unit)));
        } else {
            self.blocks.push(Block::Bullets(items));
            self.blocks.push(Block::Table(yarn_grid(run, unit)));
            self.blocks.push(Block::Table(machine_grid(run)));
        }
    }

    fn care(&mut self, run: &SizeRun, unit: LengthUnit) {
        let mut cautions = care(run.good(), unit);
        let refused = run.refusals();
        cautions.extend(refused.iter().map(|d| {
            let sizes = d.context.join("; ");
            in_unit(&format!("Left out, {sizes}: {}", d.message), unit)
        }));
        if !cautions.is_empty() {
            self.heading(2, "Take care");
            self.blocks.push(Block::Cautions(cautions));
        }
    }

    /// How the figures of several sizes are read, and which is whose.
    fn legend(&mut self, level: u8, group: &AlikeSizes<'_>) {
        let all: Vec<&str> = group.labels().values().copied().collect();
        if let [_] = all.as_slice() {
            return;
        }
        self.heading(level, "How to read the figures");
        if all.len() > MOST_IN_BRACKETS {
            self.blocks.push(Block::Paragraph(LETTERS.to_owned()));
            let some = group.chapters.iter().any(|chapter| {
                let lines = chapter.lines.iter().map(|line| line.sizes.bodies().len());
                lines.chain([chapter.pieces.bodies().len()]).any(|own| own < all.len())
            });
            if some {
                self.blocks.push(Block::Paragraph(ONLY.to_owned()));
            }
            return;
        }
        self.blocks.push(Block::Paragraph(BRACKETS.to_owned()));
        let order = format!("The sizes, in order: {} ({}).", all[0], all[1..].join(", "));
        self.blocks.push(Block::Paragraph(order));
    }

    fn chapters(&mut self, level: u8, group: &AlikeSizes<'_>) {
        let all = group.sizes.bodies();
        let mut figures = Figures::for_sizes(all.clone());
        for chapter in &group.chapters {
            let only = only(&all, &chapter.pieces.bodies());
            self.chapter(level, &format!("{only}{}", chapter.title), chapter, &mut figures);
        }
    }

    fn chapter<'a>(
        &mut self,
        level: u8,
        title: &str,
        chapter: &ToldChapter<'a>,
        figures: &mut Figures<'a>,
    ) {
        self.heading(level, title);
        // The repeats that a step stands in: depth and the most rounds of each.
        let mut around: Vec<(usize, u32)> = Vec::new();
        let mut all = Vec::new();
        for step in steps(chapter, figures) {
            around.retain(|(depth, _)| *depth < step.depth);
            let outer = around.iter().fold(1u32, |all, (_, times)| all.saturating_mul(*times));
            let ticks = match step.times.iter().copied().max() {
                Some(most) => {
                    around.push((step.depth, most));
                    Ticks::within(&step.times, outer)
                }
                None => Vec::new(),
            };
            all.push(SheetStep {
                depth: step.depth,
                // What is done in each round is ticked with the round.
                once: step.times.is_empty() && outer == 1 && !step.label.is_empty(),
                label: step.label,
                only: step.only,
                lead: step.lead,
                text: step.text,
                remarks: step.lists,
                ticks,
            });
        }
        self.blocks.extend(figures.take_tables().into_iter().map(Block::Table));
        self.blocks.push(Block::Steps(all));
    }
}

/// A table of one size reads better from top to bottom.
fn upright(grid: Grid) -> Grid {
    let [row] = grid.rows.as_slice() else { return grid };
    let mut turned = Grid::new(grid.title, vec!["Measure".to_owned(), row[0].clone()]);
    let cells = grid.headings.iter().zip(row).skip(1);
    if !grid.inches.is_empty() {
        turned.inches = vec![1];
    }
    turned.rows = cells.map(|(heading, cell)| vec![heading.clone(), cell.clone()]).collect();
    turned
}

/// The yarn of one size, a row for each section.
fn section_grid(run: &SizeRun, made: &Made, unit: LengthUnit) -> Grid {
    let yarn = &made.graded.yarn;
    let headings = ["Yarn", "g", "95 % from", "to g", unit.long_symbol()];
    let title = if run.garment.pair { "Yarn by section, for the pair" } else { "Yarn by section" };
    let mut grid = Grid::new(title, headings.map(str::to_owned).to_vec());
    let row = |name: &str, need: &Need, metres: f64| {
        let within = need.next_within();
        vec![
            name.to_owned(),
            format!("{:.1}", need.grams()),
            format!("{:.0}", within.low),
            format!("{:.0}", within.high),
            format!("{:.0}", unit.long(metres)),
        ]
    };
    for section in &yarn.sections {
        let title = run.garment.section_title(&section.name);
        grid.rows.push(row(title, &section.need, section.metres));
    }
    // One section alone would only repeat the sum.
    if yarn.sections.len() > 1 {
        grid.rows.push(row("All", &yarn.need, yarn.metres));
    }
    grid
}
