use app::Ask;
use app::{Colouring, RoundSizes, YarnRequest, run_sheet, stripes_of};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::round::{Detail, Pose};
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::stash::Words;
use report::PrintLook;
use report::drawing::{self, Drawing, Shown, Side};
use report::sheet::{self, Document, Paper};
use report::{self, Format};
use units::LengthUnit;

/// How a result is written out. A new one is an arm in `name`, `mime`, `ending` and the function
/// that writes what it is of; links and the interface take it up from there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheet {
    Text,
    Markdown,
    Json,
    Csv,
    Svg,
    Html,
    #[cfg(feature = "pdf")]
    Pdf,
}

impl Sheet {
    pub const fn name(self) -> &'static str {
        match self {
            Sheet::Text => "text",
            Sheet::Markdown => "markdown",
            Sheet::Json => "json",
            Sheet::Csv => "csv",
            Sheet::Svg => "svg",
            Sheet::Html => "html",
            #[cfg(feature = "pdf")]
            Sheet::Pdf => "pdf",
        }
    }

    /// On a link.
    pub const fn label(self) -> &'static str {
        match self {
            Sheet::Text => "Text",
            Sheet::Markdown => "Markdown",
            Sheet::Json => "JSON",
            Sheet::Csv => "CSV",
            Sheet::Svg => "SVG",
            Sheet::Html => "HTML",
            #[cfg(feature = "pdf")]
            Sheet::Pdf => "PDF",
        }
    }

    pub const fn mime(self) -> &'static str {
        match self {
            Sheet::Text => "text/plain; charset=utf-8",
            Sheet::Markdown => "text/markdown; charset=utf-8",
            Sheet::Json => "application/json",
            Sheet::Csv => "text/csv; charset=utf-8",
            Sheet::Svg => "image/svg+xml",
            Sheet::Html => "text/html; charset=utf-8",
            #[cfg(feature = "pdf")]
            Sheet::Pdf => "application/pdf",
        }
    }

    /// How a file of it ends.
    pub const fn ending(self) -> &'static str {
        match self {
            Sheet::Text => "txt",
            Sheet::Markdown => "md",
            other => other.name(),
        }
    }

    /// Whether it carries its own style: a page to keep, which runs nothing.
    pub const fn is_styled(self) -> bool {
        matches!(self, Sheet::Html | Sheet::Svg)
    }

    /// Reads a name among those on offer.
    ///
    /// # Errors
    /// Another word.
    pub fn parse(text: &str, offered: &[Sheet]) -> Result<Sheet, Diagnostic> {
        offered.iter().copied().find(|sheet| sheet.name() == text).ok_or_else(|| {
            let names: Vec<&str> = offered.iter().map(|sheet| sheet.name()).collect();
            Diagnostic::error(Code::Format, format!("`{text}` is no format to be had here")).hint(
                match nearest(text, names.iter().copied()) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("there are {}", names.join(", ")),
                },
            )
        })
    }
}

/// What a graded run can be had as.
pub const RUN_SHEETS: &[Sheet] = &[Sheet::Json, Sheet::Csv, Sheet::Text, Sheet::Markdown];
/// What a pattern can be had as.
pub const PATTERN_SHEETS: &[Sheet] = &[
    #[cfg(feature = "pdf")]
    Sheet::Pdf,
    Sheet::Html,
    Sheet::Text,
    Sheet::Markdown,
    Sheet::Json,
    Sheet::Svg,
];
/// What a chart can be had as.
pub const CHART_SHEETS: &[Sheet] =
    &[Sheet::Json, Sheet::Csv, Sheet::Text, Sheet::Markdown, Sheet::Svg];

/// The graded run, as `grade --format` writes it.
pub fn write_run(run: &SizeRun, unit: LengthUnit, words: Words, sheet: Sheet) -> Vec<u8> {
    clean(report::grade_page(run, unit, words, table_format(sheet)))
}

/// The pattern, as `pattern --format` writes it.
///
/// # Errors
/// No size can be knitted: why. A picture or a paper there is none of.
pub fn write_pattern(
    run: &SizeRun,
    ask: &Ask,
    yarns: &YarnRequest,
    look: &PrintLook,
    sheet: Sheet,
) -> Result<Vec<u8>, Diagnostics> {
    if run.good().next().is_none() {
        return Err(run.refusals());
    }
    Ok(match sheet {
        Sheet::Text | Sheet::Csv => clean(report::pattern_text(run, look, false)),
        Sheet::Markdown => clean(report::pattern_text(run, look, true)),
        Sheet::Json => clean(report::pattern_json(run, look.unit)),
        Sheet::Svg => clean(picture(run, ask, yarns, look.unit)?.svg()),
        Sheet::Html => clean(sheet::sheet_html(&document(run, ask, yarns, look)?)),
        #[cfg(feature = "pdf")]
        Sheet::Pdf => sheet::sheet_pdf(&document(run, ask, yarns, look)?)?,
    })
}

/// The pictures of a run: name, title, and whether it is of one size alone.
pub const PICTURES: [(&str, &str, bool); 3] =
    [("schematic", "Schematic", false), ("stripes", "Stripes", true), ("rows", "Row chart", true)];

/// The picture in the round: not among those that a page shows at once, since it takes longer.
const ROUND: &str = "round";

/// Whether it takes long to write: the garment in the round, and the sheets that show it.
pub(super) fn is_long(ask: &Ask, sheet: Sheet) -> bool {
    ["html", "pdf"].contains(&sheet.name()) || ask.picture.as_deref() == Some(ROUND)
}

/// The picture asked for, or the schematic.
fn picture(
    run: &SizeRun,
    ask: &Ask,
    yarns: &YarnRequest,
    unit: LengthUnit,
) -> Result<Drawing, Diagnostics> {
    let drawing = match ask.picture.as_deref().unwrap_or("schematic") {
        "schematic" => drawing::schematic(run, &[unit]),
        "stripes" => {
            let (_, made) = one_size(run)?;
            let coloured = Colouring::read(yarns, run)?.apply(run, made);
            Some(drawing::stripes(&stripes_of(run, &coloured, Vec::new())?, unit))
        }
        "rows" => {
            let (size, made) = one_size(run)?;
            let heading = format!("{}, {}", run.garment.title, size.body.label);
            Some(drawing::stacked(&heading, &drawing::row_charts(made, &heading)))
        }
        ROUND => {
            one_size(run)?;
            let look = (Pose::Worn, Detail::Coarse);
            let sizes = RoundSizes::of(run, &Colouring::read(yarns, run)?, look)?;
            Some(sizes.sheet((Side::ThreeQuarters, Shown::Yarn), unit).drawing())
        }
        _ => {
            let shown = PICTURES.iter().map(|(name, _, _)| *name);
            let names: Vec<&str> = shown.chain([ROUND]).collect();
            return Err(Diagnostic::error(Code::Picture, "there is no such picture")
                .hint(format!("there are {}", names.join(", ")))
                .into());
        }
    };
    drawing.ok_or_else(|| run.refusals())
}

fn document(
    run: &SizeRun,
    ask: &Ask,
    yarns: &YarnRequest,
    look: &PrintLook,
) -> Result<Document, Diagnostics> {
    let paper = match (ask.paper.as_deref(), look.unit) {
        (Some("a4"), _) | (None, LengthUnit::Cm) => Paper::A4,
        (Some("letter"), _) | (None, LengthUnit::In) => Paper::Letter,
        _ => {
            return Err(Diagnostic::error(Code::Paper, "there is no such paper")
                .hint("papers are a4 and letter")
                .into());
        }
    };
    run_sheet(run, look, paper, &Colouring::read(yarns, run)?)
}

/// The one size of a run, where it can be knitted.
///
/// # Errors
/// Several sizes, or why it can't.
pub fn one_size(run: &SizeRun) -> Result<(&SizeResult, &Made), Diagnostics> {
    if run.sizes.len() != 1 {
        return Err(Diagnostic::error(Code::OneSize, "one size is knitted at a time")
            .hint("name one: sizes=women-m")
            .into());
    }
    run.good().next().ok_or_else(|| run.refusals())
}

/// The rows of a table in the words the command line uses for formats.
pub const fn table_format(sheet: Sheet) -> Format {
    match sheet {
        Sheet::Json => Format::Json,
        Sheet::Csv => Format::Csv,
        Sheet::Markdown => Format::Markdown,
        _ => Format::Table,
    }
}

/// As the command line prints it: nothing in it drives a terminal.
pub fn clean(text: String) -> Vec<u8> {
    match diag::harmless(&text) {
        std::borrow::Cow::Borrowed(_) => text.into_bytes(),
        std::borrow::Cow::Owned(cleaned) => cleaned.into_bytes(),
    }
}
