//! A run in the colours of its yarn: which balls feed which sections, what colour lies where, and
//! where the second of a pair has to begin to look like the first.

use super::cloth::Cloth;
use super::colours::Colour;
use super::run::Run;
use super::swatch::SwatchSet;
use super::thread::{ColourLine, Paint, Palette, Supply, YarnPath};

/// Balls that feed one section, or several in the order in which they are knitted.
#[derive(Clone, Debug, PartialEq)]
pub struct Feed {
    /// Indices into [`Run::sections`].
    pub sections: Vec<usize>,
    /// What feeds them.
    pub supply: Supply,
}

/// The colours of a whole run.
#[derive(Clone, Debug)]
pub struct Coloured {
    /// How the yarn lies along the run.
    pub path: YarnPath,
    /// The colours met, to which paints point.
    pub palette: Palette,
    /// The balls, by the sections they feed.
    pub feeds: Vec<Feed>,
    /// By feed: its colours as they are used.
    pub fed: Vec<ColourLine>,
    /// By section of the run.
    pub lines: Vec<ColourLine>,
}

impl Coloured {
    /// A section that no feed names has no yarn.
    pub fn of(run: &Run, swatches: &SwatchSet, feeds: Vec<Feed>) -> Coloured {
        let path = YarnPath::of(run, swatches);
        let mut palette = Palette::default();
        let none = Supply { balls: Vec::new(), skips: Vec::new() };
        let mut lines: Vec<ColourLine> =
            path.used_mm.iter().map(|mm| ColourLine::of(&none, *mm, &mut palette)).collect();
        let mut fed = Vec::with_capacity(feeds.len());
        for feed in &feeds {
            let used: f64 = feed.sections.iter().map(|s| path.used_mm[*s]).sum();
            let line = ColourLine::of(&feed.supply, used, &mut palette);
            let shared = line.shared(&path, &feed.sections);
            for (section, line) in shared.into_iter().enumerate() {
                if feed.sections.contains(&section) {
                    lines[section] = line;
                }
            }
            fed.push(line);
        }
        Coloured { path, palette, feeds, fed, lines }
    }

    /// The fabric of every piece, painted.
    pub fn cloths(&self, run: &Run) -> Vec<Cloth> {
        (0..run.pieces.len()).map(|p| Cloth::painted(run, p, &self.path, &self.lines)).collect()
    }

    /// The length of each paint in mm, tails, sewing and skips of the machine counted, in the
    /// order in which the run first uses it. Adds up to the yarn used.
    pub fn lengths(&self) -> Vec<(Paint, f64)> {
        let mut all: Vec<(Paint, f64)> = Vec::new();
        let mut seen = vec![0.0; self.lines.len()];
        // In the order of use over all sections.
        for stretch in &self.path.stretches {
            let section = usize::from(stretch.laid.section);
            let mut from = 0.0;
            for (mm, paint) in self.lines[section].stretches() {
                let to: f64 = from + mm;
                let own = to.min(stretch.to_mm) - from.max(seen[section]);
                from = to;
                if own <= 0.0 {
                    continue;
                }
                match all.iter_mut().find(|(known, _)| *known == paint) {
                    Some((_, sum)) => *sum += own,
                    None => all.push((paint, own)),
                }
            }
            seen[section] = stretch.to_mm;
        }
        all
    }

    /// How much is missing, in mm.
    pub fn short_mm(&self) -> f64 {
        self.lengths().iter().filter(|(paint, _)| paint.is_none()).map(|(_, mm)| mm).sum()
    }
}

/// Where a piece of the second of a pair begins, and what is wound off before it.
#[derive(Clone, Debug, PartialEq)]
pub struct WoundOff {
    /// Index into [`Run::pieces`].
    pub piece: usize,
    /// Its counterpart of the first.
    pub partner: Option<usize>,
    /// Index of its feed.
    pub feed: usize,
    /// What is left out before it, in mm; nought where it matches by itself.
    pub off_mm: f64,
    /// The colour it begins with, and how far into its stretch.
    pub colour: Colour,
    /// How far into the stretch of that colour, in mm.
    pub into_mm: f64,
}

/// Why a pair can't be matched from a feed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unmatched {
    /// The garment does not say which pieces belong to the second.
    NoMates,
    /// Its colours don't come again.
    OneOff,
    /// More than one ball: the joins fall where they fall.
    SeveralBalls,
}

/// Where each piece's first yarn lies in the yarn of a feed, in mm; `None` for a piece that takes
/// none of it.
pub fn piece_starts(run: &Run, path: &YarnPath, sections: &[usize]) -> Vec<Option<f64>> {
    let mut starts = vec![None; run.pieces.len()];
    let mut at = 0.0;
    for stretch in &path.stretches {
        if sections.contains(&usize::from(stretch.laid.section)) {
            if let Some(start) = stretch.laid.piece.and_then(|p| starts.get_mut(p as usize)) {
                start.get_or_insert(at);
            }
            at += stretch.to_mm - stretch.from_mm;
        }
    }
    starts
}

/// Sets the skips of a feed so that each piece of the second of a pair begins at the place in the
/// colour sequence at which its counterpart of the first began.
///
/// # Errors
/// Why that can't be.
pub fn match_pair(
    run: &Run,
    path: &YarnPath,
    mates: &[Option<u32>],
    (index, feed): (usize, &mut Feed),
) -> Result<Vec<WoundOff>, Unmatched> {
    let of = |mate: u32| -> Vec<usize> {
        (0..run.pieces.len()).filter(|p| mates.get(*p) == Some(&Some(mate))).collect()
    };
    let (first, second) = (of(1), of(2));
    if first.is_empty() || first.len() != second.len() {
        return Err(Unmatched::NoMates);
    }
    let [ball] = feed.supply.balls.as_slice() else { return Err(Unmatched::SeveralBalls) };
    if !ball.colours.repeats() {
        return Err(Unmatched::OneOff);
    }
    let lap = ball.colours.length_mm();
    let starts = piece_starts(run, path, &feed.sections);
    let mut order: Vec<(f64, usize)> = starts
        .iter()
        .enumerate()
        .filter_map(|(piece, at)| Some((at.as_ref().copied()?, piece)))
        .collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut places = vec![None; run.pieces.len()];
    let (mut skips, mut all) = (Vec::new(), Vec::new());
    let mut skipped = 0.0;
    for (at, piece) in order {
        let mut place = ball.start_mm + at + skipped;
        let partner = second.iter().position(|p| *p == piece).map(|nth| first[nth]);
        let wanted: Option<f64> = partner.and_then(|p| places[p]);
        if let Some(wanted) = wanted {
            let mut off = (wanted - place).rem_euclid(lap);
            // A place that is met but for rounding is met.
            if off > lap - 0.5 || off < 0.5 || ball.colours.is_plain() {
                off = 0.0;
            } else {
                skips.push((at, off));
            }
            skipped += off;
            place += off;
            let mut begins = place.rem_euclid(lap);
            for (colour, mm) in ball.colours.stretches() {
                if begins < *mm {
                    let (colour, into_mm) = (colour.clone(), begins);
                    let feed = index;
                    all.push(WoundOff { piece, partner, feed, off_mm: off, colour, into_mm });
                    break;
                }
                begins -= mm;
            }
        }
        places[piece] = Some(place);
    }
    feed.supply.skips = skips;
    Ok(all)
}
