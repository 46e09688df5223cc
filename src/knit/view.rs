//! How a finished garment looks from one side, as its script says: which fabric shows, and how it
//! lies. Words and shares only; what is drawn of it comes off the run.

use std::ops::Range;

use super::cloth::{Cloth, Column};
use super::needle::Span;
use super::run::{PieceRun, Run};
use diag::{Code, Diagnostic};

/// One picture of the garment: what is seen from one side.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// What is written under the picture.
    pub title: String,
    /// Left and right change places.
    pub mirror: bool,
    /// In the order in which they are laid.
    pub parts: Vec<ViewPart>,
    /// The script line that made it, 0 when unknown.
    pub line: u32,
}

/// Some fabric of one piece, and how it lies.
#[derive(Clone, Debug, PartialEq)]
pub struct ViewPart {
    /// The fabric.
    pub patch: Patch,
    /// How it lies.
    pub form: Form,
}

/// Stitches of a piece: some needles, some rows.
#[derive(Clone, Debug, PartialEq)]
pub struct Patch {
    /// Name of the piece.
    pub piece: String,
    /// All needles of the piece, where `None`.
    pub strand: Strand,
    /// Rows between the first time one mark and the first time another were passed.
    pub from: Option<String>,
    /// The mark that ends them; `None`: the last row of the piece.
    pub to: Option<String>,
    /// Of those rows, the share between two shares from 0 to 1.
    pub share: (f64, f64),
}

/// Needles side by side, in the order in which they are seen.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Strand {
    /// `None`: all of the piece.
    pub needles: Option<Span>,
    /// `None`: whichever bed has the needle.
    pub ribber: Option<bool>,
    /// From right to left.
    pub flip: bool,
}

/// How a patch lies.
#[derive(Clone, Debug, PartialEq)]
pub enum Form {
    /// As it lies on a table: needles across, rows upwards, turned and set where it belongs.
    Flat(Lie),
    /// Rows run round, needles downwards: the half of each round that is seen.
    Side(Lie),
    /// Rows run round: each needle is a ring, the first one outermost.
    Rings(Round),
    /// Needles run round: each row is a ring, the first one outermost.
    Band(Round),
    /// A tube seen from the side, going on from the tube before it. The patch's needles are its
    /// back half, from the outer edge to the middle; these its front half, from the middle to the
    /// outer edge.
    Tube {
        /// The needles of the front half, from the middle to the outer edge.
        front: Strand,
        /// Degrees by which it turns to the front about its middle: a heel 90, a toe 180.
        turn: f64,
    },
}

/// How flat fabric lies.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lie {
    /// Quarter turns clockwise.
    pub quarters: u8,
    /// Degrees clockwise it leans over, about the middle of its lower edge.
    pub lean: f64,
    /// Where the middle of its lower edge goes, in mm to the right of and above the middle of the
    /// lower edge of the first part that has no place; `None`: hung from the part before.
    pub at: Option<(f64, f64)>,
}

/// Which part of a round fabric fills.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Round {
    /// Degrees clockwise from twelve o'clock; anticlockwise where the second is the smaller.
    pub arc: (f64, f64),
    /// At the same distance from the centre as the ring before, not inside it.
    pub beside: bool,
    /// From the centre to its outer edge, in mm; `None`: inside the ring before, or so that the
    /// last ring ends at the centre.
    pub radius_mm: Option<f64>,
    /// The last row of a band outermost, not the first.
    pub turned: bool,
}

impl Round {
    /// The angle so many degrees along the arc.
    pub fn at(&self, along: f64) -> f64 {
        if self.arc.0 <= self.arc.1 { self.arc.0 + along } else { self.arc.0 - along }
    }
}

impl Patch {
    /// The rows of its piece it takes. Empty for a mark that was never passed.
    pub fn rows(&self, piece: &PieceRun) -> Range<u32> {
        let all = piece.rows.len() as u32;
        let at = |mark: &Option<String>, otherwise: u32| match mark {
            Some(mark) => piece.mark_rows.get(mark).copied(),
            None => Some(otherwise),
        };
        let (Some(from), Some(to)) = (at(&self.from, 0), at(&self.to, all)) else { return 0..0 };
        from..to.max(from)
    }
}

impl Strand {
    /// Its columns in a cloth, in the order in which they are seen.
    pub fn columns<'c>(&self, cloth: &'c Cloth) -> Vec<&'c Column> {
        let mut all: Vec<&Column> = cloth
            .columns
            .iter()
            .filter(|c| self.ribber.is_none_or(|ribber| c.ribber == ribber))
            .filter(|c| self.needles.is_none_or(|span| span.contains(c.needle)))
            .collect();
        all.sort_by_key(|c| (c.needle, c.ribber));
        if self.flip {
            all.reverse();
        }
        all
    }
}

/// What a script's views ask for that the run does not have.
///
/// Faults carry the line of their view as the first of the pair.
pub fn check(views: &[View], run: &Run) -> Vec<(u32, Diagnostic)> {
    let mut faults = Vec::new();
    for view in views {
        for part in &view.parts {
            let Some(piece) = run.piece(&part.patch.piece) else { continue };
            let mut fault = |message: String, hint: String| {
                let fault = Diagnostic::error(Code::View, message)
                    .hint(hint)
                    .context(format!("view `{}`, piece `{}`", view.title, piece.name));
                faults.push((view.line, fault));
            };
            for mark in [&part.patch.from, &part.patch.to].into_iter().flatten() {
                if !piece.mark_rows.contains_key(mark) {
                    let known: Vec<&str> = piece.mark_rows.keys().map(String::as_str).collect();
                    let hint = match known.as_slice() {
                        [] => "the piece has no marks: set one with step.mark".to_owned(),
                        known => format!("the piece passes {}", known.join(", ")),
                    };
                    fault(format!("the mark `{mark}` is never passed"), hint);
                }
            }
            let front = match &part.form {
                Form::Tube { front, .. } => front.needles,
                _ => None,
            };
            for span in [part.patch.strand.needles, front].into_iter().flatten() {
                let own = piece.needles;
                if !own.is_some_and(|own| own.contains(span.left) && own.contains(span.right)) {
                    fault(
                        format!("the needles {span} are not all in work in the piece"),
                        match own {
                            Some(own) => format!("it uses {own}"),
                            None => "it uses none".to_owned(),
                        },
                    );
                }
            }
        }
    }
    faults
}

/// All of a garment's pieces as they lie, for a script that says nothing of how it is worn.
pub fn plain_views(run: &Run) -> Vec<View> {
    let drawn = run.pieces.iter().filter(|p| !p.rows.is_empty());
    drawn
        .map(|piece| View {
            title: piece.title.clone(),
            mirror: false,
            parts: vec![ViewPart {
                patch: Patch {
                    piece: piece.name.clone(),
                    strand: Strand::default(),
                    from: None,
                    to: None,
                    share: (0.0, 1.0),
                },
                form: Form::Flat(Lie::default()),
            }],
            line: 0,
        })
        .collect()
}
