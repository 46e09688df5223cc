use super::{Block, Document, Paper, SheetStep, Ticks};
use crate::Grid;
use crate::drawing::Drawing;
use crate::grade_tables::{finished_grid, machine_grid, yarn_grid};
use crate::grid::capital;
use crate::instructions::Telling;
use crate::told::{AlikeSizes, Front, ToldChapter, front, groups, steps, title};
use knit::body::Measure;
use knit::estimate::Need;
use knit::size_run::{Made, SizeRun};
use units::LengthUnit;

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

    /// The pieces with their measures.
    pub fn schematic(drawing: Drawing) -> SheetPicture {
        SheetPicture::under("Schematic", drawing)
    }

    /// Part `nth` of `all`, counted from 0, of the row chart called `title`.
    pub fn row_chart(title: &str, nth: usize, all: usize, drawing: Drawing) -> SheetPicture {
        match all {
            1 => SheetPicture::under("Row chart", drawing),
            _ => SheetPicture::under(format!("{title}, part {} of {all}", nth + 1), drawing),
        }
    }

    /// The garment in the colours of its yarn.
    pub fn stripes(drawing: Drawing) -> SheetPicture {
        SheetPicture::under("Stripes", drawing)
    }

    /// A chart of the finished sizes.
    pub fn finished_sizes(drawing: Drawing) -> SheetPicture {
        SheetPicture::under("Finished sizes", drawing)
    }
}

/// The sheet of a graded run. The pictures stand between the pieces and the finishing, or at the
/// end where sizes have patterns of their own.
pub fn pattern_sheet(
    run: &SizeRun,
    unit: LengthUnit,
    paper: Paper,
    pictures: Vec<SheetPicture>,
) -> Document {
    let groups = groups(run, unit, Telling::Folded);
    let mut sheet = Builder { blocks: Vec::new() };
    let Some(first) = groups.first() else {
        sheet.refused(run);
        return Document { title: run.garment.title.clone(), paper, blocks: sheet.blocks };
    };
    let fronts: Vec<Front> = groups.iter().map(|group| front(run, group, unit)).collect();
    sheet.sizes(run, unit);
    sheet.needs(run, first, &fronts[0], unit);
    sheet.care(run, &fronts);
    sheet.heading(2, "Words used");
    sheet.blocks.push(Block::Paragraph(fronts[0].words_used.to_owned()));
    if let [group] = groups.as_slice() {
        if let Some(brackets) = fronts[0].brackets {
            sheet.heading(2, "How to read the figures");
            sheet.legend(brackets, group);
        }
        let (finishing, pieces) = group.chapters.split_last().expect("the finishing is there");
        for chapter in pieces {
            sheet.chapter(2, chapter);
        }
        sheet.pictures(pictures);
        sheet.chapter(2, finishing);
        return Document { title: title(run, group), paper, blocks: sheet.blocks };
    }
    for (group, front) in groups.iter().zip(&fronts) {
        sheet.blocks.push(Block::PageBreak);
        sheet.heading(2, &title(run, group));
        if let Some(brackets) = front.brackets {
            sheet.legend(brackets, group);
        }
        for chapter in &group.chapters {
            sheet.chapter(3, chapter);
        }
    }
    sheet.pictures(pictures);
    let all: Vec<&str> = run.good().map(|(size, _)| size.body.label.as_str()).collect();
    let pair = if run.garment.pair { " (a pair)" } else { "" };
    let title = format!(
        "{}{pair}, {} sizes, {} to {}",
        run.garment.title,
        all.len(),
        all[0],
        all[all.len() - 1]
    );
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
        let pair = if run.garment.pair { ", each of the pair" } else { "" };
        let finished =
            finished_grid(run, &[unit], &format!("Finished sizes, {}{pair}", unit.symbol()));
        self.heading(2, "Sizes");
        self.blocks.push(Block::Table(upright(finished)));
        let body = body_grid(run, unit);
        // Of one size with one measure the table above has told it.
        let told = run.sizes.len() == 1 && run.garment.measure.is_some();
        if body.headings.len() > if told { 2 } else { 1 } {
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
            items.extend([front.yarn_in_all.clone(), front.waste.clone(), front.time.clone()]);
            self.blocks.push(Block::Bullets(items));
            self.blocks.push(Block::Table(section_grid(run, made, unit)));
        } else {
            self.blocks.push(Block::Bullets(items));
            self.blocks.push(Block::Table(yarn_grid(run, unit)));
            self.blocks.push(Block::Table(machine_grid(run)));
        }
    }

    fn care(&mut self, run: &SizeRun, fronts: &[Front]) {
        let mut cautions: Vec<String> = Vec::new();
        for caution in fronts.iter().flat_map(|front| &front.care) {
            if !cautions.contains(caution) {
                cautions.push(caution.clone());
            }
        }
        let refused = run.refusals();
        cautions.extend(refused.iter().map(|d| {
            let sizes = d.context.join("; ");
            format!("Left out, {sizes}: {}", d.message)
        }));
        if !cautions.is_empty() {
            self.heading(2, "Take care");
            self.blocks.push(Block::Cautions(cautions));
        }
    }

    /// How brackets are read, and which figure is whose.
    fn legend(&mut self, brackets: &str, group: &AlikeSizes<'_>) {
        self.blocks.push(Block::Paragraph(brackets.to_owned()));
        let all: Vec<&str> = group.labels().values().copied().collect();
        let order = format!("The sizes, in order: {} ({}).", all[0], all[1..].join(", "));
        self.blocks.push(Block::Paragraph(order));
    }

    fn chapter(&mut self, level: u8, chapter: &ToldChapter<'_>) {
        self.heading(level, &chapter.title);
        // The repeats that a step stands in: depth and the most rounds of each.
        let mut around: Vec<(usize, u32)> = Vec::new();
        let mut all = Vec::new();
        for step in steps(chapter) {
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
                lead: step.lead,
                text: step.text,
                remarks: step.lists,
                ticks,
            });
        }
        self.blocks.push(Block::Steps(all));
    }

    fn pictures(&mut self, pictures: Vec<SheetPicture>) {
        for picture in pictures {
            self.heading(2, &picture.heading);
            self.blocks.push(Block::Picture(picture.drawing));
        }
    }
}

/// A table of one size reads better from top to bottom.
fn upright(grid: Grid) -> Grid {
    let [row] = grid.rows.as_slice() else { return grid };
    let mut turned = Grid::new(grid.title, vec!["Measure".to_owned(), row[0].clone()]);
    let cells = grid.headings.iter().zip(row).skip(1);
    turned.rows = cells.map(|(heading, cell)| vec![heading.clone(), cell.clone()]).collect();
    turned
}

/// The body measures that some finished measure answers to.
fn body_grid(run: &SizeRun, unit: LengthUnit) -> Grid {
    let mut measures: Vec<&Measure> = run.garment.measure.iter().collect();
    for (size, made) in run.good() {
        for name in made.graded.finished.iter().filter_map(|f| f.measure.as_deref()) {
            let measure = size.body.measure(name);
            measures.extend(measure.filter(|measure| !measures.contains(measure)));
        }
    }
    let mut headings = vec!["Size".to_owned()];
    headings.extend(measures.iter().map(|measure| capital(measure.label())));
    let mut grid = Grid::new(format!("Body measures used, {}", unit.symbol()), headings);
    for size in &run.sizes {
        let mut row = vec![size.body.label.clone()];
        row.extend(measures.iter().map(|measure| {
            size.body.mm(measure.name()).map_or_else(|| "-".to_owned(), |mm| unit.cell(mm))
        }));
        grid.rows.push(row);
    }
    grid
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
