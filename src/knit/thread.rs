//! Where every centimetre of yarn lands: the lengths laid by the run in order, and the colours of
//! the balls they come from.

use super::colours::{Colour, ColourSequence};
use super::program::Structure;
use super::run::{Laid, Laying, Run};
use super::swatch::SwatchSet;
use super::yarn::{LoopLength, Sewing, loop_length};

/// One entry of [`Run::laid`] with the place it takes along its section's yarn, in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// What the yarn was used for.
    pub laid: Laid,
    /// Where it begins, in mm.
    pub from_mm: f64,
    /// Where it ends, in mm.
    pub to_mm: f64,
}

/// The yarn of a run from first to last centimetre, section by section.
#[derive(Clone, Debug)]
pub struct YarnPath {
    /// In the order of use, all sections together.
    pub stretches: Vec<Stretch>,
    /// Length used by section, in mm; the index is [`Run::sections`]'s.
    pub used_mm: Vec<f64>,
    loops: Vec<(Structure, LoopLength)>,
}

impl YarnPath {
    /// Lays the run's yarn out. The lengths add up to [`super::yarn::need`].
    pub fn of(run: &Run, swatches: &SwatchSet) -> YarnPath {
        let loops: Vec<(Structure, LoopLength)> =
            Structure::ALL.iter().map(|s| (*s, loop_length(swatches, s.gauged_as()))).collect();
        let mut path =
            YarnPath { stretches: Vec::new(), used_mm: vec![0.0; run.sections.len()], loops };
        let sewing = Sewing::of(swatches);
        for laid in &run.laid {
            let mm = match laid.what {
                Laying::Rows { first, end } => {
                    let rows = laid.piece.and_then(|p| run.pieces.get(p as usize));
                    rows.map_or(0.0, |piece| {
                        piece.rows[first as usize..end as usize]
                            .iter()
                            .map(|row| f64::from(row.stitches) * path.loop_mm(row.structure))
                            .sum()
                    })
                }
                Laying::Start { structure, stitches } => {
                    f64::from(stitches) * path.loop_mm(structure)
                }
                Laying::SewnLoops(loops) => f64::from(loops) * sewing.loop_mm,
                Laying::Floats(needles) => f64::from(needles) * sewing.float_mm,
                Laying::SeamRows(rows) => f64::from(rows) * sewing.seam_row_mm,
                Laying::SeamStitches(count) => f64::from(count) * sewing.seam_stitch_mm,
                Laying::Tails(tails) => f64::from(tails) * sewing.tail_mm,
            };
            let used = &mut path.used_mm[usize::from(laid.section)];
            path.stretches.push(Stretch { laid: *laid, from_mm: *used, to_mm: *used + mm });
            *used += mm;
        }
        path
    }

    /// Yarn in one stitch of a structure, in mm.
    pub fn loop_mm(&self, structure: Structure) -> f64 {
        self.loops.iter().find(|(s, _)| *s == structure).map_or(0.0, |(_, l)| l.mm)
    }

    /// Where each row of a piece begins in its section's yarn, in mm, in row order.
    pub fn row_starts(&self, run: &Run, piece: usize) -> Vec<f64> {
        let Some(rows) = run.pieces.get(piece).map(|p| &p.rows) else { return Vec::new() };
        let mut starts = vec![0.0; rows.len()];
        for stretch in self.stretches.iter().filter(|s| s.laid.piece == Some(piece as u32)) {
            if let Laying::Rows { first, end } = stretch.laid.what {
                let mut at = stretch.from_mm;
                for row in first..end {
                    starts[row as usize] = at;
                    let row = &rows[row as usize];
                    at += f64::from(row.stitches) * self.loop_mm(row.structure);
                }
            }
        }
        starts
    }
}

/// A ball, or what is left of one, as it is joined in.
#[derive(Clone, Debug, PartialEq)]
pub struct Ball {
    /// What the knitter calls it.
    pub name: String,
    /// Its colours, from the outer end inwards.
    pub colours: ColourSequence,
    /// Where in the sequence the knitting begins, in mm.
    pub start_mm: f64,
    /// How much there is, in mm; `None`: enough.
    pub length_mm: Option<f64>,
}

/// The balls of one section in the order in which they are knitted up.
#[derive(Clone, Debug, PartialEq)]
pub struct Supply {
    /// First knitted first.
    pub balls: Vec<Ball>,
    /// Lengths left out, at which places of the section's yarn (in mm of yarn used): what is
    /// wound off so that the second of a pair begins with the same colour.
    pub skips: Vec<(f64, f64)>,
}

impl Supply {
    /// Calls `each` with every length taken, in order: the ball, and from where to where in it.
    /// Ends when `used_mm` are taken or the balls are used up.
    pub fn draw(&self, used_mm: f64, mut each: impl FnMut(usize, f64, f64)) {
        let mut at = 0.0;
        let mut skips = self.skips.iter().peekable();
        for (index, ball) in self.balls.iter().enumerate() {
            let mut place = ball.start_mm;
            let end = ball.end_mm();
            while at < used_mm && place < end {
                // Up to the next skip, or to the end of what is needed or there.
                let stop = skips.peek().map_or(f64::INFINITY, |(skip_at, _)| *skip_at);
                let take = (used_mm - at).min(end - place).min((stop - at).max(0.0));
                if take > 0.0 {
                    each(index, place, place + take);
                }
                at += take;
                place += take;
                if stop <= at + 1e-9 {
                    if let Some((_, mm)) = skips.next() {
                        place += mm;
                    }
                } else if take <= 0.0 {
                    break;
                }
            }
        }
    }
}

impl Ball {
    /// Where in the sequence it ends: by its own length, or because its colours end.
    pub fn end_mm(&self) -> f64 {
        let by_length = self.length_mm.map_or(f64::INFINITY, |mm| self.start_mm + mm);
        if self.colours.repeats() { by_length } else { by_length.min(self.colours.length_mm()) }
    }
}

/// Every colour of a picture, each once, and what stands for yarn that there is not.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Palette {
    /// In the order in which they were met.
    pub colours: Vec<Colour>,
}

/// Index into [`Palette::colours`]; `None`: the yarn has run out.
pub type Paint = Option<u16>;

impl Palette {
    fn index(&mut self, colour: &Colour) -> u16 {
        let found = self.colours.iter().position(|c| c == colour);
        found.unwrap_or_else(|| {
            self.colours.push(colour.clone());
            self.colours.len() - 1
        }) as u16
    }
}

/// The colours of one section's yarn as it is used: stretches of one paint, end to end.
#[derive(Clone, Debug, PartialEq)]
pub struct ColourLine {
    /// Where each stretch ends, in mm, ascending; and its paint.
    ends: Vec<(f64, Paint)>,
}

impl ColourLine {
    /// The colours of the first `used_mm` of a supply.
    pub fn of(supply: &Supply, used_mm: f64, palette: &mut Palette) -> ColourLine {
        let mut line = ColourLine { ends: Vec::new() };
        // Every colour of a ball first, in its order, whether or not it is met.
        let paints: Vec<Vec<u16>> = supply
            .balls
            .iter()
            .map(|b| b.colours.stretches().iter().map(|(c, _)| palette.index(c)).collect())
            .collect();
        let mut at = 0.0;
        supply.draw(used_mm, |ball, from, to| {
            supply.balls[ball].colours.walk(from, to, |index, mm| {
                at += mm;
                line.push(at, index.map(|i| paints[ball][i]));
            });
        });
        if at < used_mm - 1e-9 {
            line.push(used_mm, None);
        }
        line
    }

    /// The colours between two places, added behind `other`.
    fn append_to(&self, other: &mut ColourLine, from_mm: f64, to_mm: f64) {
        let mut at = from_mm;
        let first = self.ends.partition_point(|(end, _)| *end <= from_mm);
        for (end, paint) in &self.ends[first..] {
            if at >= to_mm {
                return;
            }
            let upto = end.min(to_mm);
            let length = other.length_mm();
            other.push(length + upto - at, *paint);
            at = upto;
        }
    }

    /// How long it is, in mm.
    pub fn length_mm(&self) -> f64 {
        self.ends.last().map_or(0.0, |(end, _)| *end)
    }

    /// The line of each of several sections that are knitted from one line in the order of use.
    /// As many as the run has sections; those that are not named stay empty.
    pub fn shared(&self, path: &YarnPath, sections: &[usize]) -> Vec<ColourLine> {
        let mut lines = vec![ColourLine { ends: Vec::new() }; path.used_mm.len()];
        let mut at = 0.0;
        for stretch in &path.stretches {
            let section = usize::from(stretch.laid.section);
            if sections.contains(&section) {
                let mm = stretch.to_mm - stretch.from_mm;
                self.append_to(&mut lines[section], at, at + mm);
                at += mm;
            }
        }
        lines
    }

    fn push(&mut self, end: f64, paint: Paint) {
        match self.ends.last_mut() {
            Some((last, same)) if *same == paint => *last = end,
            _ => self.ends.push((end, paint)),
        }
    }

    /// The colour at a place along the yarn used, in mm.
    pub fn at(&self, mm: f64) -> Paint {
        let next = self.ends.partition_point(|(end, _)| *end <= mm);
        self.ends.get(next).or(self.ends.last()).and_then(|(_, paint)| *paint)
    }

    /// The stretches of one colour, in order: length in mm and paint.
    pub fn stretches(&self) -> impl Iterator<Item = (f64, Paint)> + '_ {
        let starts = std::iter::once(0.0).chain(self.ends.iter().map(|(end, _)| *end));
        self.ends.iter().zip(starts).map(|((end, paint), start)| (end - start, *paint))
    }

    /// Whether the supply reaches to the end.
    pub fn reaches(&self) -> bool {
        self.ends.iter().all(|(_, paint)| paint.is_some())
    }
}
