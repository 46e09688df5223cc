//! The sheet as PDF: pages of ink to the file format. Tagged, with bookmarks, typeface embedded;
//! the same document gives the same bytes, since no date and no chance goes in.

mod flow;
mod ink;
mod lines;
mod pages;
mod setter;
mod setting;
mod steps;
mod table;

use std::num::NonZeroU16;
use std::sync::{Arc, LazyLock};

use krilla::Document as Pdf;
use krilla::SerializeSettings;
use krilla::color::luma;
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point, Rect, Size, Transform};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, ListNumbering, Node, SpanTag, TableHeaderScope,
    Tag, TagGroup, TagKind, TagTree,
};
use krilla::text::{Font, TextDirection};
use krilla_svg::{SurfaceExt, SvgSettings};
use usvg::fontdb::Database;

use self::flow::flow;
use self::ink::{BOTTOM, Bookmark, Element, Ink, InkShape, MM, Pages, Role, SIDE, SMALL, TOP};
use self::lines::cut;
use super::Document;
use crate::drawing::{BOLD, Drawing, FAMILY, REGULAR, Weight, text_width};
use diag::{Code, Diagnostic};

/// Pictures find their typeface here, and nowhere else: no font of the machine is looked at.
static FONTS: LazyLock<Arc<Database>> = LazyLock::new(|| {
    let mut fonts = Database::new();
    fonts.load_font_data(REGULAR.to_vec());
    fonts.load_font_data(BOLD.to_vec());
    fonts.set_sans_serif_family(FAMILY);
    Arc::new(fonts)
});

/// The sheet as a PDF file.
///
/// # Errors
/// When a picture is not sound SVG, or the file can't be made: both are bugs here.
pub fn sheet_pdf(document: &Document) -> Result<Vec<u8>, Diagnostic> {
    written(document, SerializeSettings::default())
}

fn broken(what: impl std::fmt::Display) -> Diagnostic {
    Diagnostic::error(Code::Pdf, format!("the PDF can't be made: {what}"))
        .hint("this is a bug; --format html gives the same sheet")
}

fn written(document: &Document, settings: SerializeSettings) -> Result<Vec<u8>, Diagnostic> {
    let (regular, bold) = (Font::new(REGULAR.into(), 0), Font::new(BOLD.into(), 0));
    let fonts = regular.zip(bold).ok_or_else(|| broken("the typeface can't be read"))?;
    let laid = flow(document);
    let (width, height) = document.paper.mm();
    let (width, height) = (width * MM, height * MM);
    let page_size = PageSettings::from_wh(width as f32, height as f32)
        .ok_or_else(|| broken("the paper has no size"))?;
    let mut pdf = Pdf::new_with(settings);
    let mut writer = InkWriter { fonts, marks: vec![Vec::new(); laid.elements.len()] };
    let count = laid.pages.len();
    for (i, ink) in laid.pages.iter().enumerate() {
        let mut page = pdf.start_page_with(page_size.clone());
        let mut surface = page.surface();
        writer.page(&mut surface, ink)?;
        let margin = Margin { document, width, height };
        writer.margin(&mut surface, &margin, i + 1, count);
        surface.finish();
        page.finish();
    }
    pdf.set_outline(outline(&laid.bookmarks));
    pdf.set_tag_tree(tree(&laid, writer.marks));
    pdf.set_metadata(
        Metadata::new()
            .title(lines::plain(&document.title))
            .language("en".to_owned())
            .creator("oddments".to_owned()),
    );
    pdf.finish().map_err(|error| broken(format!("{error:?}")))
}

struct Margin<'a> {
    document: &'a Document,
    width: f64,
    height: f64,
}

struct InkWriter {
    fonts: (Font, Font),
    /// The pieces of content of each element.
    marks: Vec<Vec<Identifier>>,
}

impl InkWriter {
    fn page(&mut self, surface: &mut Surface<'_>, ink: &[Ink<'_>]) -> Result<(), Diagnostic> {
        let mut rest = ink;
        while let Some(first) = rest.first() {
            let same = rest.iter().take_while(|ink| ink.element == first.element).count();
            let (now, later) = rest.split_at(same);
            rest = later;
            let identifier = surface.start_tagged(match first.element {
                Some(_) => ContentTag::Span(SpanTag::empty()),
                None => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
            });
            for ink in now {
                self.ink(surface, ink)?;
            }
            surface.end_tagged();
            if let Some(element) = first.element {
                self.marks[element].push(identifier);
            }
        }
        Ok(())
    }

    fn ink(&self, surface: &mut Surface<'_>, ink: &Ink<'_>) -> Result<(), Diagnostic> {
        let (x, y) = (ink.x, ink.y);
        match &ink.shape {
            InkShape::Text { size, weight, text } => {
                self.text(surface, (x, y), *size, *weight, 0, text);
            }
            InkShape::Tick { side } => {
                draw(surface, rect(x, y, *side, *side), None, Some((0, 0.8)))
            }
            InkShape::Rule { length } => draw(surface, rule(x, y, *length), None, Some((90, 0.6))),
            InkShape::Panel { width, height } => {
                draw(surface, rect(x, y, *width, *height), Some(238), None);
                draw(surface, rect(x, y, 2.5, *height), Some(0), None);
            }
            InkShape::Picture { drawing, scale } => picture(surface, drawing, (x, y), *scale)?,
        }
        Ok(())
    }

    fn text(
        &self,
        surface: &mut Surface<'_>,
        (x, y): (f64, f64),
        size: f64,
        weight: Weight,
        grey: u8,
        text: &str,
    ) {
        let font = match weight {
            Weight::Regular => &self.fonts.0,
            Weight::Bold => &self.fonts.1,
        };
        surface.set_stroke(None);
        surface.set_fill(Some(fill(grey)));
        let at = Point::from_xy(x as f32, y as f32);
        surface.draw_text(at, font.clone(), size as f32, text, false, TextDirection::LeftToRight);
    }

    /// The running head, from the second page on, and the page's number.
    fn margin(&self, surface: &mut Surface<'_>, margin: &Margin<'_>, page: usize, count: usize) {
        let &Margin { document, width, height } = margin;
        if page > 1 {
            let kind = ContentTag::Artifact(Artifact::with_kind(ArtifactType::Header));
            surface.start_tagged(kind);
            let title = cut(&document.title, SMALL, Weight::Regular, width - 2.0 * SIDE);
            self.text(surface, (SIDE, TOP - 14.0), SMALL, Weight::Regular, 60, &title);
            surface.end_tagged();
        }
        surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::PageNumber)));
        let number = format!("{page} of {count}");
        let x = width - SIDE - text_width(&number, SMALL, Weight::Regular);
        let y = height - BOTTOM + 22.0;
        self.text(surface, (x, y), SMALL, Weight::Regular, 60, &number);
        surface.end_tagged();
    }
}

fn fill(grey: u8) -> Fill {
    Fill { paint: luma::Color::new(grey).into(), opacity: NormalizedF32::ONE, ..Fill::default() }
}

fn draw(
    surface: &mut Surface<'_>,
    path: Option<Path>,
    ground: Option<u8>,
    edge: Option<(u8, f32)>,
) {
    let Some(path) = path else { return };
    surface.set_fill(ground.map(fill));
    surface.set_stroke(edge.map(|(grey, width)| Stroke {
        paint: luma::Color::new(grey).into(),
        width,
        ..Stroke::default()
    }));
    surface.draw_path(&path);
}

fn rect(x: f64, y: f64, width: f64, height: f64) -> Option<Path> {
    let mut path = PathBuilder::new();
    path.push_rect(Rect::from_xywh(x as f32, y as f32, width as f32, height as f32)?);
    path.finish()
}

fn rule(x: f64, y: f64, length: f64) -> Option<Path> {
    let mut path = PathBuilder::new();
    path.move_to(x as f32, y as f32);
    path.line_to((x + length) as f32, y as f32);
    path.finish()
}

fn picture(
    surface: &mut Surface<'_>,
    drawing: &Drawing,
    (x, y): (f64, f64),
    scale: f64,
) -> Result<(), Diagnostic> {
    let options = usvg::Options { fontdb: FONTS.clone(), ..usvg::Options::default() };
    let tree = usvg::Tree::from_str(&drawing.svg(), &options)
        .map_err(|error| broken(format!("the picture {}: {error}", drawing.title)))?;
    let (wide, tall) = (drawing.width_mm * MM * scale, drawing.height_mm * MM * scale);
    let Some(size) = Size::from_wh(wide as f32, tall as f32) else { return Ok(()) };
    surface.push_transform(&Transform::from_translate(x as f32, y as f32));
    let drawn = surface.draw_svg(&tree, size, SvgSettings::default());
    surface.pop();
    drawn.ok_or_else(|| broken(format!("the picture {}", drawing.title)))
}

/// Bookmarks of sections, with their parts below them.
fn outline(bookmarks: &[Bookmark]) -> Outline {
    let node = |mark: &Bookmark| {
        let at = XyzDestination::new(mark.page, Point::from_xy(0.0, mark.y as f32));
        OutlineNode::new(lines::plain(&mark.text), at)
    };
    let mut outline = Outline::new();
    let mut section: Option<OutlineNode> = None;
    for mark in bookmarks {
        match (&mut section, mark.level) {
            (Some(section), 3..) => section.push_child(node(mark)),
            (section, _) => {
                if let Some(done) = section.replace(node(mark)) {
                    outline.push_child(done);
                }
            }
        }
    }
    if let Some(done) = section {
        outline.push_child(done);
    }
    outline
}

/// The tags, for who has the sheet read out.
fn tree(laid: &Pages<'_>, mut marks: Vec<Vec<Identifier>>) -> TagTree {
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); laid.elements.len()];
    let mut tops = Vec::new();
    for (i, element) in laid.elements.iter().enumerate() {
        match element.parent {
            Some(parent) => children[parent].push(i),
            None => tops.push(i),
        }
    }
    let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
    for top in tops {
        tree.push(Node::Group(group(top, &laid.elements, &children, &mut marks)));
    }
    tree
}

fn group(
    element: usize,
    elements: &[Element],
    children: &[Vec<usize>],
    marks: &mut [Vec<Identifier>],
) -> TagGroup {
    let mut all: Vec<Node> =
        std::mem::take(&mut marks[element]).into_iter().map(Node::Leaf).collect();
    for child in &children[element] {
        all.push(Node::Group(group(*child, elements, children, marks)));
    }
    TagGroup::with_children(tag(&elements[element].role), all)
}

fn tag(role: &Role) -> TagKind {
    match role {
        Role::Heading(level, text) => {
            let level = NonZeroU16::new(u16::from(*level)).unwrap_or(NonZeroU16::MIN);
            Tag::Hn(level, Some(lines::plain(text))).into()
        }
        Role::Paragraph => Tag::P.into(),
        Role::List(true) => Tag::L(ListNumbering::Decimal).into(),
        Role::List(false) => Tag::L(ListNumbering::Disc).into(),
        Role::Item => Tag::LI.into(),
        Role::Label => Tag::Lbl.into(),
        Role::Body => Tag::LBody.into(),
        Role::Table => Tag::Table.into(),
        Role::Caption => Tag::Caption.into(),
        Role::Row => Tag::TR.into(),
        Role::ColumnHead => Tag::TH(TableHeaderScope::Column).into(),
        Role::RowHead => Tag::TH(TableHeaderScope::Row).into(),
        Role::Cell => Tag::TD.into(),
        Role::Figure(about) => Tag::Figure(Some(lines::plain(about))).into(),
    }
}
