use std::collections::BTreeMap;

use super::YarnRequest;
use super::yarn_request::{ball_of, sectioned};
use diag::{Code, Diagnostic, Diagnostics};
use knit::colouring::{Coloured, Feed, WoundOff, match_pair};
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::stash::Yarn;
use knit::swatch::SwatchSet;
use knit::thread::{Ball, Supply, YarnPath};
use report::ColourNote;
use units::{Length, UnitError, YarnCount};

/// The yarn that stands in where none is named.
const DEMO_YARN: &str = "shoreline";
/// Balls of a garment.
const MOST_BALLS: usize = 200;

/// The yarn of a workspace that is shown where none is named: that of the swatch, where no other is knitted at
/// it. `None`: the demo yarn stands in.
pub fn usual_yarn<'y>(known: &'y BTreeMap<String, Yarn>, set: &SwatchSet) -> Option<&'y Yarn> {
    let own = known.get(set.yarn_id().as_ref())?;
    let shares = |other: &&Yarn| other.swatches.iter().any(|id| own.swatches.contains(id));
    (known.values().filter(shares).count() == 1).then_some(own)
}

/// Which balls a garment is knitted from.
#[derive(Clone, Debug)]
pub struct Colouring {
    /// Sections with balls of their own, by name.
    own: Vec<(String, Vec<Ball>)>,
    /// The balls that feed all others, in the order in which the sections are knitted.
    common: Vec<Ball>,
    /// No yarn was named for `common`: the demo yarn stands in.
    stands_in: bool,
    matched: bool,
    yarn: YarnCount,
    pub warnings: Diagnostics,
}

/// A size in its colours, and what was found out on the way.
#[derive(Clone, Debug)]
pub struct ColouredSize {
    pub coloured: Coloured,
    /// What to tell the knitter.
    pub notes: Vec<ColourNote>,
    pub wound_off: Vec<WoundOff>,
}

impl Colouring {
    /// # Errors
    /// All faults of the request: unknown sections and yarns, weights and lengths without a unit.
    pub fn read(request: &YarnRequest, run: &SizeRun) -> Result<Colouring, Diagnostics> {
        if request.yarns.len() > MOST_BALLS {
            return Err(Diagnostic::error(Code::Usage, format!("over {MOST_BALLS} balls of yarn"))
                .hint("name fewer")
                .into());
        }
        let mut faults = Diagnostics::new();
        let mut colouring = Colouring {
            own: Vec::new(),
            common: Vec::new(),
            stands_in: false,
            matched: request.matched,
            yarn: run.swatches.yarn,
            warnings: Diagnostics::new(),
        };
        for text in &request.yarns {
            if let Err(found) = colouring.join(text, request, run) {
                faults.extend(found);
            }
        }
        if colouring.common.is_empty() {
            let own = usual_yarn(&request.known, &run.swatches);
            colouring.stands_in = own.is_none();
            let mut untold = Diagnostics::new();
            let demo = (DEMO_YARN, &YarnRequest::default());
            let (yarn, known) = own.map_or(demo, |yarn| (yarn.id.as_str(), request));
            colouring.common.push(ball_of(yarn, known, run.swatches.yarn, &mut untold)?);
        }
        for text in &request.starts {
            faults.extend(colouring.begin(text, run).err());
        }
        if faults.has_errors() { Err(faults) } else { Ok(colouring) }
    }

    /// Joins a ball to those before it: `[SECTION=]YARN[@WEIGHT]`.
    fn join(
        &mut self,
        text: &str,
        request: &YarnRequest,
        run: &SizeRun,
    ) -> Result<(), Diagnostics> {
        let (section, yarn) = sectioned(text, "--yarn", &run.garment.sections)?;
        let ball = ball_of(yarn, request, run.swatches.yarn, &mut self.warnings)?;
        self.balls_of(section).push(ball);
        Ok(())
    }

    /// Begins a first ball in the middle of its colours: `[SECTION=]LENGTH`.
    fn begin(&mut self, text: &str, run: &SizeRun) -> Result<(), Diagnostic> {
        let (section, length) = sectioned(text, "--start", &run.garment.sections)?;
        let length: Length = length.parse().map_err(|fault: UnitError| {
            fault.into_diagnostic().context(format!("--start {text}"))
        })?;
        if section.is_some_and(|s| self.own.iter().all(|(name, _)| name != s)) {
            return Err(Diagnostic::error(
                Code::Usage,
                format!("`--start {text}`: that section has no yarn of its own"),
            )
            .hint("name one with --yarn SECTION=YARN, or leave the section out of --start"));
        }
        if let Some(ball) = self.balls_of(section).first_mut() {
            ball.start_mm = length.mm();
        }
        Ok(())
    }

    fn balls_of(&mut self, section: Option<&str>) -> &mut Vec<Ball> {
        let Some(section) = section else { return &mut self.common };
        let at = match self.own.iter().position(|(name, _)| name == section) {
            Some(at) => at,
            None => {
                self.own.push((section.to_owned(), Vec::new()));
                self.own.len() - 1
            }
        };
        &mut self.own[at].1
    }

    /// The same balls, the first of them all begun elsewhere.
    pub(super) fn begun_at(&self, mm: f64) -> Colouring {
        let mut other = self.clone();
        if let Some(ball) = other.main_ball_mut() {
            ball.start_mm = mm;
        }
        other
    }

    /// The ball whose start is searched for: the common one, or the first section's own.
    fn main_ball_mut(&mut self) -> Option<&mut Ball> {
        if self.stands_in
            && let Some((_, balls)) = self.own.first_mut()
        {
            return balls.first_mut();
        }
        self.common.first_mut()
    }

    pub(super) fn main_ball(&self) -> Option<&Ball> {
        if self.stands_in
            && let Some((_, balls)) = self.own.first()
        {
            return balls.first();
        }
        self.common.first()
    }

    fn feeds(&self, made: &Made) -> Vec<Feed> {
        let sections = &made.graded.run.sections;
        let mut feeds: Vec<Feed> = self
            .own
            .iter()
            .filter_map(|(name, balls)| {
                let section = sections.iter().position(|s| s.name == *name)?;
                let supply = Supply { balls: balls.clone(), skips: Vec::new() };
                Some(Feed { sections: vec![section], supply })
            })
            .collect();
        let rest: Vec<usize> =
            (0..sections.len()).filter(|i| feeds.iter().all(|f| !f.sections.contains(i))).collect();
        if !rest.is_empty() {
            let supply = Supply { balls: self.common.clone(), skips: Vec::new() };
            feeds.push(Feed { sections: rest, supply });
        }
        feeds
    }

    /// A size in these colours.
    pub fn apply(&self, run: &SizeRun, made: &Made) -> ColouredSize {
        let knit = &made.graded.run;
        let mut feeds = self.feeds(made);
        let mut notes = Vec::new();
        let common = feeds.iter().any(|f| f.supply.balls == self.common);
        if self.stands_in && common {
            notes.push(ColourNote::StandsIn { everywhere: self.own.is_empty() });
        }
        let mut wound_off = Vec::new();
        if self.matched {
            let path = YarnPath::of(knit, &run.swatches);
            for (index, feed) in feeds.iter_mut().enumerate() {
                let yarn = feed.supply.balls.first().map_or(String::new(), |b| b.name.clone());
                match match_pair(knit, &path, &made.garment.mates, (index, feed)) {
                    Ok(found) => wound_off.extend(found),
                    Err(why) => notes.push(ColourNote::Unmatched { why, yarn }),
                }
            }
            notes.extend(self.told(made, &wound_off));
        }
        let coloured = Coloured::of(knit, &run.swatches, feeds);
        let mm = coloured.short_mm();
        if mm > 0.5 {
            notes.push(ColourNote::Short { mm, grams: self.yarn.grams_of(mm) });
        }
        ColouredSize { coloured, notes, wound_off }
    }

    /// What to wind off before each piece of the second of a pair.
    fn told(&self, made: &Made, wound_off: &[WoundOff]) -> Vec<ColourNote> {
        let pieces = &made.graded.run.pieces;
        let title = |piece: usize| pieces[piece].title.to_lowercase();
        let wind_off = |wound: &WoundOff| ColourNote::WindOff {
            piece: title(wound.piece),
            mm: wound.off_mm,
            grams: self.yarn.grams_of(wound.off_mm),
            colour: wound.colour.name.clone(),
            into_mm: wound.into_mm,
        };
        let shifted = |wound: &WoundOff| {
            let first = wound.partner.filter(|partner| *partner < pieces.len())?;
            let (one, other) = (pieces[first].stitches, pieces[wound.piece].stitches);
            (one != other).then(|| ColourNote::Shifted {
                piece: title(wound.piece),
                first: title(first),
                stitches: one.abs_diff(other),
                fewer: other < one,
            })
        };
        let mut notes: Vec<ColourNote> = wound_off.iter().map(wind_off).collect();
        notes.extend(wound_off.iter().filter_map(shifted));
        if wound_off.iter().filter(|wound| wound.off_mm > 0.0).count() > 1 {
            let mm: f64 = wound_off.iter().map(|wound| wound.off_mm).sum();
            notes.push(ColourNote::WoundOff { mm, grams: self.yarn.grams_of(mm) });
        }
        notes
    }
}

/// The one size a picture is of.
///
/// # Errors
/// None, or more than one.
pub fn only_size(run: &SizeRun) -> Result<(&SizeResult, &Made), Diagnostics> {
    let mut good = run.good();
    match (good.next(), run.sizes.len()) {
        (Some(found), 1) => Ok(found),
        (None, 1) => Err(run.refusals()),
        _ => Err(Diagnostic::error(Code::Usage, "the stripes are drawn for one size at a time")
            .hint("name one: --size women-m")
            .into()),
    }
}
