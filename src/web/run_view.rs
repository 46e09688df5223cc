//! A graded run as pages show it: one size with its pictures, or several as tables.

use super::format::{PATTERN_SHEETS, RUN_SHEETS, one_size};
use super::page_parts::{FaultView, Link, TableView, links, views};
use super::problem::{Answer, Problem};
use super::state::{Graded, Shared};
use app::{Ask, Colouring, stripes_of};
use diag::Diagnostics;
use knit::colouring::Coloured;
use knit::round::Pose;
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::stash::Words;
use knit::thread::{ColourLine, Paint};
use report::Grid;
use report::drawing::{self, Drawing, LegendLine};
use serde_json::{Value, json};
use units::LengthUnit;

/// A graded run, or why there is none.
pub(super) struct RunView {
    pub title: String,
    /// One sentence for those who don't see the page change.
    pub summary: String,
    pub faults: Vec<FaultView>,
    pub refusals: Vec<FaultView>,
    /// One size, and the one beside it.
    pub ones: Vec<OneView>,
    /// Several sizes.
    pub tables: Vec<TableView>,
    pub notes: Vec<String>,
    pub machine_links: Vec<Link>,
    /// The pieces of several sizes, as SVG.
    pub schematic: Option<String>,
    pub downloads: Vec<Link>,
    pub patterns: Vec<Link>,
    /// The same in all sizes.
    pub all_sizes: String,
    pub share: String,
}

/// One size as people look at it: the picture first.
pub(super) struct OneView {
    /// Behind the ids of what comes twice where two stand side by side.
    pub mark: &'static str,
    pub title: String,
    /// The garment in its colours, as SVG.
    pub worn: String,
    pub legend: Vec<LegendView>,
    pub balls: Vec<String>,
    /// A figure after its name: finished sizes, yarn, hours.
    pub figures: Vec<FiguresView>,
    /// What matters at the machine, and less before.
    pub more: Vec<FiguresView>,
    pub notes: Vec<String>,
    pub knit: String,
    pub pattern: Vec<Link>,
    /// The pieces with their measures, as SVG.
    pub schematic: String,
    /// Where pictures are found as files: stripes, row chart.
    pub stripes_at: String,
    pub rows_at: String,
    pub rows_about: String,
    /// After how much yarn its colours come again; none where it has one colour, or each once.
    pub repeat_mm: Option<f64>,
    /// Each piece, to be looked at stitch by stitch.
    pub close: Vec<Link>,
    pub round: RoundView,
}

/// Where the garment in the round is found, and in which colours it is shown.
pub(super) struct RoundView {
    /// The packed shape. The same as long as the shape is: the yarn is no part of it.
    pub shape: String,
    /// A picture of it, for who can't turn it.
    pub still: String,
    /// What it shows, for who can't see it.
    pub words: String,
    /// The ways in which it can lie, as a request and as people say it; none where there is but one.
    pub poses: Vec<(&'static str, &'static str)>,
    /// By section of the run, stretches of the yarn as it is knitted: `[[[red, green, blue], mm], ...]`; no
    /// colour where it has run out.
    pub lines: String,
}

impl RoundView {
    fn of(
        ask: &Ask,
        run: &SizeRun,
        (size, made): (&SizeResult, &Made),
        coloured: &Coloured,
        unit: LengthUnit,
    ) -> RoundView {
        let own = alone(ask, size);
        let bare = Ask {
            garment: None,
            balls: Vec::new(),
            starts: Vec::new(),
            matched: false,
            ..own.clone()
        };
        let stretch = |(mm, paint): (f64, Paint)| {
            let shade = paint.map(|paint| coloured.palette.colours[usize::from(paint)].shade);
            json!([shade.map(|shade| [shade.red, shade.green, shade.blue]), mm.round()])
        };
        let line = |line: &ColourLine| line.stretches().map(stretch).collect::<Vec<_>>();
        let lines: Vec<Vec<Value>> = coloured.lines.iter().map(line).collect();
        let finished: Vec<String> = (made.graded.finished.iter().take(3))
            .map(|finished| format!("{} {}", finished.title.to_lowercase(), unit.show(finished.mm)))
            .collect();
        let mut poses: Vec<_> = app::poses(run, size, made).into_iter().map(pose_words).collect();
        if poses.len() < 2 {
            poses.clear();
        }
        RoundView {
            shape: format!("/api/v1/garments/{}/round?{}", run.garment.id, bare.query_of_work()),
            still: format!("/api/v1/pattern?{}&format=svg&picture=round", own.query()),
            words: format!(
                "{}, {}, in the round: {}.",
                run.garment.title,
                size.body.label,
                finished.join(", ")
            ),
            poses,
            lines: json!(lines).to_string(),
        }
    }
}

/// A way to lie, as a request has it and as people say it.
const fn pose_words(pose: Pose) -> (&'static str, &'static str) {
    match pose {
        Pose::Worn => ("worn", "Worn"),
        Pose::Blocked => ("plate", "On a plate"),
        Pose::Off => ("nothing", "Laid down"),
    }
}

pub(super) struct LegendView {
    /// As SVG takes it; none where yarn is missing.
    pub shade: Option<String>,
    pub name: String,
    pub figures: String,
}

pub(super) struct FiguresView {
    pub title: String,
    pub rows: Vec<(String, String)>,
}

impl From<LegendLine> for LegendView {
    fn from(line: LegendLine) -> Self {
        LegendView {
            shade: line.shade.map(|shade| shade.to_string()),
            name: line.name,
            figures: line.figures,
        }
    }
}

impl FiguresView {
    /// A table of one size, its columns one below the other.
    fn of(grid: &Grid) -> FiguresView {
        let cells = grid.rows.first().into_iter().flatten();
        let rows = grid.headings.iter().zip(cells).skip(1);
        FiguresView {
            title: grid.title.clone(),
            rows: rows.map(|(name, cell)| (name.clone(), cell.clone())).collect(),
        }
    }
}

impl RunView {
    /// What came of it; `beside` is what was asked for beside it.
    pub fn new(
        shared: &Shared,
        (ask, graded): (&Ask, Result<Graded, Problem>),
        beside: &Beside,
    ) -> RunView {
        match graded.and_then(|graded| RunView::of(shared, ask, &graded, beside)) {
            Ok(view) => view,
            Err(problem) => RunView::none(&problem),
        }
    }

    fn none(problem: &Problem) -> RunView {
        RunView {
            title: "Not graded".to_owned(),
            summary: "It can't be graded like this.".to_owned(),
            faults: views(&problem.faults),
            refusals: Vec::new(),
            ones: Vec::new(),
            tables: Vec::new(),
            notes: Vec::new(),
            machine_links: Vec::new(),
            schematic: None,
            downloads: Vec::new(),
            patterns: Vec::new(),
            all_sizes: String::new(),
            share: String::new(),
        }
    }

    fn of(shared: &Shared, ask: &Ask, graded: &Graded, beside: &Beside) -> Answer<RunView> {
        let run = &graded.run;
        let (unit, words) = (shared.unit(ask)?, shared.words(ask)?);
        let mut faults = graded.faults.clone();
        faults.extend(run.warnings.clone());
        let alone = run.sizes.len() == 1 && run.good().next().is_some();
        let mut ones = Vec::new();
        if alone {
            match OneView::of(shared, ask, run, "") {
                Ok(one) => ones.push(one),
                Err(found) => faults.extend(found),
            }
            if let Some(second) = beside.ask(ask) {
                match OneView::graded(shared, &second) {
                    Ok(one) => ones.push(one),
                    Err(problem) => faults.extend(problem.faults),
                }
            }
        }
        let good = run.good().count();
        let query = ask.query();
        let tables = if ones.is_empty() { report::grade_tables(run, unit) } else { Vec::new() };
        Ok(RunView {
            title: title_of(run, words),
            summary: summary(&ones, run),
            faults: views(&faults),
            refusals: views(&run.refusals()),
            tables: tables.into_iter().map(|grid| grid.in_words(words).into()).collect(),
            notes: if ones.is_empty() { notes(run, unit, words) } else { Vec::new() },
            machine_links: if alone { Vec::new() } else { machine_links(run, ask) },
            schematic: (!alone)
                .then(|| drawing::schematic(run, &[unit]))
                .flatten()
                .map(|d| d.svg()),
            ones,
            downloads: links("grade", RUN_SHEETS, &query),
            patterns: if good > 0 { links("pattern", PATTERN_SHEETS, &query) } else { Vec::new() },
            all_sizes: format!("/grade?{}", all_sizes(ask).query()),
            share: format!("/grade?{}", ask.query_with(&beside.pairs())),
        })
    }
}

fn title_of(run: &SizeRun, words: Words) -> String {
    let pair = if run.garment.pair { ", a pair" } else { "" };
    report::said(words, &format!("{}{pair}", run.garment.title))
}

/// What was found, in a sentence that is read out.
fn summary(ones: &[OneView], run: &SizeRun) -> String {
    if ones.is_empty() {
        return format!("{} of {} sizes can be knitted.", run.good().count(), run.sizes.len());
    }
    let told = ones.iter().map(|one| {
        let figures = one.figures.iter().take(2).filter_map(|figures| figures.rows.first());
        let figures: Vec<String> = figures.map(|(name, cell)| format!("{name} {cell}")).collect();
        format!("{}: {}", one.title, figures.join(", "))
    });
    format!("{}.", told.collect::<Vec<_>>().join("; "))
}

fn notes(run: &SizeRun, unit: LengthUnit, words: Words) -> Vec<String> {
    let all = report::fixed_of(run).into_iter().chain(report::grade_notes(run, unit));
    all.map(|note| report::said(words, &note)).collect()
}

/// A way to the machine for each size that can be knitted.
fn machine_links(run: &SizeRun, ask: &Ask) -> Vec<Link> {
    let link = |size: &SizeResult| Link {
        label: size.body.label.clone(),
        href: format!("/machine?{}", alone(ask, size).query()),
    };
    run.good().map(|(size, _)| link(size)).collect()
}

/// How to ask for this size alone; someone made to measure is asked for by measures.
fn alone(ask: &Ask, size: &SizeResult) -> Ask {
    let named = !size.is_person && !size.body.values.is_empty();
    Ask { sizes: named.then(|| size.body.id.to_string()), ..ask.clone() }
}

fn all_sizes(ask: &Ask) -> Ask {
    Ask { sizes: Some("all".to_owned()), measures: Vec::new(), name: None, ..ask.clone() }
}

impl OneView {
    fn graded(shared: &Shared, ask: &Ask) -> Answer<OneView> {
        let graded = shared.grade(ask)?;
        Ok(OneView::of(shared, ask, &graded.run, "-2")?)
    }

    /// # Errors
    /// More sizes than one, or why it can't be knitted; yarns that are not there.
    pub fn of(
        shared: &Shared,
        ask: &Ask,
        run: &SizeRun,
        mark: &'static str,
    ) -> Result<OneView, Diagnostics> {
        let (size, made) = one_size(run)?;
        let (unit, words) = (shared.unit(ask)?, shared.words(ask)?);
        let coloured = Colouring::read(&shared.yarns(ask), run)?.apply(run, made);
        let sheet = stripes_of(run, &coloured, Vec::new())?;
        let query = alone(ask, size).query();
        let picture = |name: &str| format!("/api/v1/pattern?{query}&format=svg&picture={name}");
        let grids = report::grade_tables(run, unit).into_iter().map(|grid| grid.in_words(words));
        let mut more: Vec<FiguresView> = grids.map(|grid| FiguresView::of(&grid)).collect();
        // Finished sizes come first and yarn last: both are what people look for.
        let yarn = more.pop();
        let figures = more.drain(..more.len().min(1)).chain(yarn).collect();
        Ok(OneView {
            mark,
            title: format!("{}, {}", title_of(run, words), size.body.label),
            worn: drawing::worn(&sheet).svg(),
            legend: sheet.legend().into_iter().map(LegendView::from).collect(),
            balls: sheet.ball_lines().into_iter().chain(sheet.notes.iter().cloned()).collect(),
            figures,
            more,
            notes: notes(run, unit, words),
            knit: format!("/machine?{query}"),
            pattern: links("pattern", PATTERN_SHEETS, &query),
            schematic: drawing::schematic(run, &[unit]).map(|d| d.svg()).unwrap_or_default(),
            stripes_at: picture("stripes"),
            rows_at: picture("rows"),
            rows_about: rows_about(made),
            repeat_mm: repeat_mm(&coloured.coloured),
            close: close_links(made, &query),
            round: RoundView::of(ask, run, (size, made), &coloured.coloured, unit),
        })
    }
}

/// A piece stitch by stitch, or where none is named the first; none where there is no such piece.
///
/// # Errors
/// As [`OneView::of`].
pub(super) fn close_picture(
    shared: &Shared,
    ask: &Ask,
    run: &SizeRun,
    piece: Option<&str>,
) -> Result<Option<Drawing>, Diagnostics> {
    let (_, made) = one_size(run)?;
    let coloured = Colouring::read(&shared.yarns(ask), run)?.apply(run, made);
    let sheet = stripes_of(run, &coloured, Vec::new())?;
    let first = made.graded.run.pieces.first().map(|piece| piece.name.as_str());
    Ok(piece.or(first).and_then(|piece| drawing::stitches(&sheet, piece)))
}

/// The garment as small as a stamp.
///
/// # Errors
/// As [`OneView::of`].
pub(super) fn stamp(shared: &Shared, ask: &Ask, run: &SizeRun) -> Result<Drawing, Diagnostics> {
    let (_, made) = one_size(run)?;
    let coloured = Colouring::read(&shared.yarns(ask), run)?.apply(run, made);
    Ok(drawing::stamp(&stripes_of(run, &coloured, Vec::new())?))
}

/// Of the ball that the page's slider begins elsewhere.
fn repeat_mm(coloured: &Coloured) -> Option<f64> {
    let colours = &coloured.feeds.last()?.supply.balls.first()?.colours;
    (colours.repeats() && !colours.is_plain()).then(|| colours.length_mm())
}

/// What the row chart says of each piece.
fn rows_about(made: &Made) -> String {
    let pieces = made.graded.run.pieces.iter().filter(|piece| !piece.rows.is_empty());
    let told = pieces.map(|piece| {
        format!(
            "{}: {} rows, {} stitches at the widest",
            piece.title,
            piece.rows.len(),
            piece.widest
        )
    });
    let mut told: Vec<String> = told.collect();
    told.dedup();
    format!("Row by row, oldest at the bottom. {}.", told.join("; "))
}

/// A link for each piece; of those of one title, the first.
fn close_links(made: &Made, query: &str) -> Vec<Link> {
    let mut seen: Vec<&str> = Vec::new();
    let mut links = Vec::new();
    for piece in made.graded.run.pieces.iter().filter(|piece| !piece.rows.is_empty()) {
        if !seen.contains(&piece.title.as_str()) {
            seen.push(&piece.title);
            let own = [("piece", piece.name.as_str())];
            let own = serde_urlencoded::to_string(own).unwrap_or_default();
            links.push(Link {
                label: piece.title.clone(),
                href: format!("/grade/close?{query}&{own}"),
            });
        }
    }
    links
}

/// What is to stand beside the size asked for.
#[derive(Debug, Default)]
pub(super) struct Beside {
    pub size: Option<String>,
    pub ball: Option<String>,
}

impl Beside {
    /// Takes its keys out of those of a query.
    pub fn taken(pairs: &mut Vec<(String, String)>) -> Beside {
        let mut take = |key: &str| {
            let found = pairs.iter().find(|(own, _)| own == key).map(|(_, value)| value.clone());
            pairs.retain(|(own, _)| own != key);
            found.filter(|value| !value.is_empty())
        };
        Beside { size: take("beside"), ball: take("beside_ball") }
    }

    fn pairs(&self) -> Vec<(&'static str, &str)> {
        let all = [("beside", &self.size), ("beside_ball", &self.ball)];
        all.into_iter().filter_map(|(key, value)| Some((key, value.as_deref()?))).collect()
    }

    /// The same in another size, in another yarn, or both.
    fn ask(&self, first: &Ask) -> Option<Ask> {
        if self.size.is_none() && self.ball.is_none() {
            return None;
        }
        let mut second = first.clone();
        if let Some(size) = &self.size {
            second.sizes = Some(size.clone());
            second.measures = Vec::new();
            second.name = None;
        }
        if let Some(ball) = &self.ball {
            second.balls = vec![ball.clone()];
            second.starts = Vec::new();
        }
        Some(second)
    }
}
