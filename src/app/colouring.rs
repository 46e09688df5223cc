use std::collections::BTreeMap;
use std::path::Path;

use super::{GradeRequest, Workbench};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::colouring::{Coloured, Feed, Unmatched, WoundOff, match_pair};
use knit::look::Look;
use knit::size_run::{Made, SizeResult, SizeRun};
use knit::stash::Yarn;
use knit::thread::{Ball, Supply, YarnPath};
use units::{Length, Mass, YarnCount};

/// The yarn that stands in where none is named.
const DEMO_YARN: &str = "shoreline";
/// Starts tried along a colour sequence.
const STARTS: usize = 48;
/// Values of an option tried.
const MOST_VALUES: usize = 24;
/// Pictures on a contact sheet.
pub const MOST_ALTERNATIVES: usize = 24;
/// Balls of a garment.
const MOST_BALLS: usize = 200;
/// A yarn this much thicker or thinner than the swatch's, as a share, changes the gauge (common
/// practice).
const OTHER_THICKNESS: f64 = 0.15;

/// What a knitter says of the yarn, as typed.
#[derive(Clone, Debug, Default)]
pub struct YarnRequest {
    /// `[SECTION=]YARN[@WEIGHT]`, in the order in which the balls are joined.
    pub yarns: Vec<String>,
    /// `[SECTION=]LENGTH`: where in its colours a first ball begins.
    pub starts: Vec<String>,
    /// Match the second of a pair to the first.
    pub matched: bool,
    /// Yarns of the workspace by id, looked in first.
    pub known: BTreeMap<String, Yarn>,
    /// Whether what is no known yarn may be the name of a file.
    pub files: bool,
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
    /// What to tell the knitter, a sentence each.
    pub notes: Vec<String>,
    pub wound_off: Vec<WoundOff>,
}

/// One of several ways to knit a garment in its colours.
#[derive(Clone, Debug)]
pub struct Alternative {
    /// Index of its run in [`Search::runs`].
    pub run: usize,
    /// The option's value, where one was varied.
    pub value: Option<String>,
    pub colouring: Colouring,
    /// Where the first ball begins, in mm.
    pub start_mm: f64,
    /// By the measure looked for; `None` where nothing was.
    pub score: Option<f64>,
}

/// The results of a search, best first, or in the order of their starts.
#[derive(Clone, Debug)]
pub struct Search {
    pub runs: Vec<SizeRun>,
    pub alternatives: Vec<Alternative>,
    /// How many ways were tried.
    pub tried: usize,
}

/// `NAME=LOW..HIGH` of an integer option.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Vary {
    pub name: String,
    pub low: i64,
    pub high: i64,
}

impl Vary {
    /// # Errors
    /// A text of another form, or too many values.
    pub fn parse(text: &str) -> Result<Vary, Diagnostic> {
        let wrong = || {
            Diagnostic::error(Code::Usage, format!("`--vary {text}` can't be read"))
                .hint("write an option and its least and greatest value: --vary wedges=4..9")
        };
        let (name, range) = text.split_once('=').ok_or_else(wrong)?;
        let (low, high) = range.split_once("..").ok_or_else(wrong)?;
        let low: i64 = low.trim().parse().map_err(|_| wrong())?;
        let high: i64 = high.trim().parse().map_err(|_| wrong())?;
        if low > high {
            return Err(wrong());
        }
        if high.abs_diff(low) >= MOST_VALUES as u64 {
            return Err(Diagnostic::error(
                Code::Usage,
                format!("`--vary {text}` has over {MOST_VALUES} values"),
            )
            .hint("try a narrower range"));
        }
        Ok(Vary { name: name.trim().to_owned(), low, high })
    }
}

/// Splits `SECTION=rest`, where there is a section.
fn sectioned<'t>(
    text: &'t str,
    flag: &str,
    sections: &[(String, String)],
) -> Result<(Option<&'t str>, &'t str), Diagnostic> {
    let Some((section, rest)) = text.split_once('=') else { return Ok((None, text.trim())) };
    let section = section.trim();
    // A path may hold an equals sign.
    if section.contains(['/', '\\', '.']) {
        return Ok((None, text.trim()));
    }
    if sections.iter().any(|(name, _)| name == section) {
        return Ok((Some(section), rest.trim()));
    }
    let names = || sections.iter().map(|(name, _)| name.as_str());
    Err(Diagnostic::error(
        Code::Usage,
        format!("`{flag} {text}`: the garment has no section `{section}`"),
    )
    .hint(match nearest(section, names()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("its sections are {}", names().collect::<Vec<_>>().join(", ")),
    }))
}

/// A yarn of the workspace or of the demo by its id, or from a file where that is allowed.
fn yarn_of(name: &str, request: &YarnRequest) -> Result<Yarn, Diagnostics> {
    let own = &request.known;
    if let Some(yarn) = own.get(name) {
        return Ok(yarn.clone());
    }
    if let Some(yarn) = store::demo_yarn(name)? {
        return Ok(yarn);
    }
    if request.files {
        match store::read_text(Path::new(name)) {
            Ok(text) => return store::parse_yarn(name, &text),
            Err(fault) if name.contains(['/', '\\', '.']) => return Err(fault.into()),
            Err(_) => {}
        }
    }
    let mut ids: Vec<&str> = own.keys().map(String::as_str).collect();
    let shown = if own.is_empty() { "the demo yarns are" } else { "the yarns are" };
    if own.is_empty() {
        ids = store::demo_yarn_ids();
    }
    let or_file = if request.files { "; or name a yarn's file" } else { "" };
    Err(Diagnostic::error(Code::NoYarn, format!("there is no yarn `{name}`"))
        .hint(match nearest(name, ids.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("{shown} {}{or_file}", ids.join(", ")),
        })
        .into())
}

fn ball_of(
    text: &str,
    request: &YarnRequest,
    swatch: YarnCount,
    warnings: &mut Diagnostics,
) -> Result<Ball, Diagnostics> {
    let (name, weight) = match text.rsplit_once('@') {
        Some((name, weight)) if !weight.contains(['/', '\\']) => (name.trim(), Some(weight)),
        _ => (text, None),
    };
    let mut faults = Diagnostics::new();
    let mass = match weight.map(str::parse::<Mass>) {
        None => None,
        Some(Ok(mass)) => Some(mass),
        Some(Err(fault)) => {
            faults.push(fault.into_diagnostic().context(format!("--yarn {text}")));
            None
        }
    };
    let yarn = yarn_of(name, request).map_err(|found| faults.extend(found)).ok();
    let Some(yarn) = yarn.filter(|_| !faults.has_errors()) else { return Err(faults) };
    let ratio = yarn.count.tex() / swatch.tex();
    if (ratio - 1.0).abs() > OTHER_THICKNESS {
        warnings.push(
            Diagnostic::warning(
                Code::OtherThickness,
                format!(
                    "{} is {:.0} tex and the swatch was knitted in {:.0} tex",
                    yarn.name,
                    yarn.count.tex(),
                    swatch.tex()
                ),
            )
            .hint("knit a swatch in it: another thickness has another gauge, and its stripes fall elsewhere"),
        );
    }
    Ok(Ball {
        name: yarn.name,
        colours: yarn.colours,
        start_mm: 0.0,
        length_mm: mass.map(|mass| yarn.count.mm_in(mass.grams())),
    })
}

impl Colouring {
    /// # Errors
    /// All faults of the request: unknown sections and yarns, weights and lengths without a unit.
    pub fn read(request: &YarnRequest, run: &SizeRun) -> Result<Colouring, Diagnostics> {
        let sections = &run.garment.sections;
        let mut faults = Diagnostics::new();
        let mut colouring = Colouring {
            own: Vec::new(),
            common: Vec::new(),
            stands_in: false,
            matched: request.matched,
            yarn: run.swatches.yarn,
            warnings: Diagnostics::new(),
        };
        if request.yarns.len() > MOST_BALLS {
            return Err(Diagnostic::error(Code::Usage, format!("over {MOST_BALLS} balls of yarn"))
                .hint("name fewer")
                .into());
        }
        for text in &request.yarns {
            let (section, yarn) = match sectioned(text, "--yarn", sections) {
                Ok(split) => split,
                Err(fault) => {
                    faults.push(fault);
                    continue;
                }
            };
            match ball_of(yarn, request, run.swatches.yarn, &mut colouring.warnings) {
                Ok(ball) => colouring.balls_of(section).push(ball),
                Err(found) => faults.extend(found),
            }
        }
        if colouring.common.is_empty() {
            colouring.stands_in = true;
            let mut about_demo = Diagnostics::new();
            let demo =
                ball_of(DEMO_YARN, &YarnRequest::default(), run.swatches.yarn, &mut about_demo)?;
            colouring.common.push(demo);
        }
        for text in &request.starts {
            let (section, length) = match sectioned(text, "--start", sections) {
                Ok(split) => split,
                Err(fault) => {
                    faults.push(fault);
                    continue;
                }
            };
            let mm = match length.parse::<Length>() {
                Ok(length) => length.mm(),
                Err(fault) => {
                    faults.push(fault.into_diagnostic().context(format!("--start {text}")));
                    continue;
                }
            };
            if section.is_some_and(|s| colouring.own.iter().all(|(name, _)| name != s)) {
                faults.push(
                    Diagnostic::error(
                        Code::Usage,
                        format!("`--start {text}`: that section has no yarn of its own"),
                    )
                    .hint("name one with --yarn SECTION=YARN, or leave the section out of --start"),
                );
            } else if let Some(ball) = colouring.balls_of(section).first_mut() {
                ball.start_mm = mm;
            }
        }
        if faults.has_errors() { Err(faults) } else { Ok(colouring) }
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
    fn begun_at(&self, mm: f64) -> Colouring {
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

    fn main_ball(&self) -> Option<&Ball> {
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
            notes.push(if self.own.is_empty() {
                "No yarn was named: the demo self-striping yarn stands in.".to_owned()
            } else {
                "Sections without a yarn of their own are shown in the demo self-striping yarn."
                    .to_owned()
            });
        }
        let mut wound_off = Vec::new();
        if self.matched {
            let path = YarnPath::of(knit, &run.swatches);
            for (index, feed) in feeds.iter_mut().enumerate() {
                let name = feed.supply.balls.first().map_or(String::new(), |b| b.name.clone());
                match match_pair(knit, &path, &made.garment.mates, (index, feed)) {
                    Ok(found) => wound_off.extend(found),
                    Err(why) => notes.push(unmatched(why, &name)),
                }
            }
            notes.extend(self.told(made, &wound_off));
        }
        let coloured = Coloured::of(knit, &run.swatches, feeds);
        let short = coloured.short_mm();
        if short > 0.5 {
            notes.push(format!(
                "The yarn runs out: {:.2} m ({:.1} g) are missing. The hatched part has no yarn left.",
                short / 1000.0,
                self.yarn.grams_of(short)
            ));
        }
        ColouredSize { coloured, notes, wound_off }
    }

    /// What to wind off before each piece of the second of a pair.
    fn told(&self, made: &Made, wound_off: &[WoundOff]) -> Vec<String> {
        let mut lines = Vec::new();
        let pieces = &made.graded.run.pieces;
        for wound in wound_off {
            let into = if wound.into_mm < 5.0 {
                String::new()
            } else {
                format!(", {:.1} m into it", wound.into_mm / 1000.0)
            };
            let place = format!("it begins with {} again{into}", wound.colour.name);
            let title = pieces[wound.piece].title.to_lowercase();
            lines.push(if wound.off_mm > 0.0 {
                format!(
                    "Second, {title}: wind off {:.1} m ({:.1} g) so that {place}.",
                    wound.off_mm / 1000.0,
                    self.yarn.grams_of(wound.off_mm)
                )
            } else {
                format!("Second, {title}: nothing to wind off, {place}.")
            });
        }
        for wound in wound_off {
            let Some(first) = wound.partner.and_then(|p| pieces.get(p)) else { continue };
            let (one, other) = (first.stitches, pieces[wound.piece].stitches);
            if one != other {
                lines.push(format!(
                    "The {} has {} stitches {} than the {}: from there on its stripes lie so much further along.",
                    pieces[wound.piece].title.to_lowercase(),
                    one.abs_diff(other),
                    if other < one { "fewer" } else { "more" },
                    first.title.to_lowercase()
                ));
            }
        }
        let lost: f64 = wound_off.iter().map(|w| w.off_mm).sum();
        if wound_off.iter().filter(|w| w.off_mm > 0.0).count() > 1 {
            lines.push(format!(
                "Wound off in all: {:.1} m ({:.1} g).",
                lost / 1000.0,
                self.yarn.grams_of(lost)
            ));
        }
        lines
    }
}

fn unmatched(why: Unmatched, yarn: &str) -> String {
    match why {
        Unmatched::NoMates => {
            "The garment does not say which pieces are the second of a pair: nothing is matched."
                .to_owned()
        }
        Unmatched::OneOff => format!(
            "{yarn} does not repeat its colours, so the second can't match from the same ball: halve the ball by weight, or start from the same end of a second ball."
        ),
        Unmatched::SeveralBalls => {
            "Several balls are joined, so the second can't be matched: match remnants by eye, or knit both from one repeating ball."
                .to_owned()
        }
    }
}

/// What is searched for and how.
#[derive(Clone, Debug, Default)]
pub struct SearchRequest {
    pub look: Option<Look>,
    pub vary: Option<Vary>,
    /// How many alternatives are wanted.
    pub wanted: usize,
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

impl Workbench {
    /// Tries starts along the colours of the first ball and, where asked, values of an option, in
    /// a fixed order. Without a look, so many starts evenly spread.
    ///
    /// # Errors
    /// Faults of the request; no value of the option that can be knitted.
    pub fn search_colours(
        &self,
        grade: &GradeRequest<'_>,
        colouring: &Colouring,
        request: &SearchRequest,
    ) -> Result<Search, Diagnostics> {
        let wanted = request.wanted.clamp(1, MOST_ALTERNATIVES);
        let values: Vec<Option<String>> = match &request.vary {
            Some(vary) => (vary.low..=vary.high).map(|v| Some(v.to_string())).collect(),
            None => vec![None],
        };
        let mut search = Search { runs: Vec::new(), alternatives: Vec::new(), tried: 0 };
        let mut refused = Diagnostics::new();
        for value in values {
            let mut grade = grade.clone();
            if let (Some(vary), Some(value)) = (&request.vary, &value) {
                grade.options.retain(|(name, _)| *name != vary.name);
                grade.options.push((vary.name.clone(), value.clone()));
            }
            let run = match self.grade(&grade) {
                Ok(run) => run,
                // An option may go in steps, or have an end: what it can't be is passed over.
                Err(faults) if request.vary.is_some() => {
                    refused = faults;
                    continue;
                }
                Err(faults) => return Err(faults),
            };
            if run.sizes.len() != 1 {
                only_size(&run)?;
            }
            let Some((_, made)) = run.good().next() else {
                refused = run.refusals();
                continue;
            };
            let lap = colouring.main_ball().map_or(0.0, |b| b.colours.length_mm());
            let plain = colouring.main_ball().is_none_or(|b| b.colours.is_plain());
            let begins = colouring.main_ball().map_or(0.0, |b| b.start_mm);
            // The given start is the first that is tried.
            let starts = match (plain, request.look) {
                (true, _) => 1,
                (false, Some(_)) => STARTS.max(wanted),
                (false, None) => wanted,
            };
            // A ball that doesn't repeat is only begun where all of it that is needed follows.
            let once = colouring.main_ball().is_some_and(|b| !b.colours.repeats());
            let need = made.graded.yarn.metres * 1000.0;
            let room = if once { (lap - need).max(0.0) } else { lap };
            for nth in 0..starts {
                let off = room * nth as f64 / starts as f64;
                let start_mm = if once { off } else { (begins + off).rem_euclid(lap.max(1.0)) };
                let begun = colouring.begun_at(start_mm);
                let score = request.look.map(|look| {
                    let size = begun.apply(&run, made);
                    let cloths = size.coloured.cloths(&made.graded.run);
                    look.measure(&made.graded.run, &cloths, (&size.coloured.palette, &run.swatches))
                });
                search.tried += 1;
                search.alternatives.push(Alternative {
                    run: search.runs.len(),
                    value: value.clone(),
                    colouring: begun,
                    start_mm,
                    score,
                });
            }
            search.runs.push(run);
        }
        if search.alternatives.is_empty() {
            return Err(refused);
        }
        if let Some(look) = request.look {
            pick(&mut search.alternatives, look, wanted);
        } else {
            // Every value in turn, as many starts of each as there is room for.
            let each = wanted.div_ceil(search.runs.len());
            let mut taken = vec![0; search.runs.len()];
            search.alternatives.retain(|a| {
                taken[a.run] += 1;
                taken[a.run] <= each
            });
            search.alternatives.truncate(wanted);
        }
        Ok(search)
    }
}

/// The best so many, best first. Neighbours look alike, so of the starts of one run no two nearer
/// than half their fair distance are taken while there are others.
fn pick(alternatives: &mut Vec<Alternative>, look: Look, wanted: usize) {
    let better = |a: &Alternative, b: &Alternative| match (a.score, b.score) {
        (Some(one), Some(other)) if look.prefers(one, other) => std::cmp::Ordering::Less,
        (Some(one), Some(other)) if look.prefers(other, one) => std::cmp::Ordering::Greater,
        _ => std::cmp::Ordering::Equal,
    };
    // Stable: among equals the earlier start.
    alternatives.sort_by(better);
    let lap = alternatives
        .iter()
        .filter_map(|a| a.colouring.main_ball())
        .map(|b| b.colours.length_mm())
        .fold(0.0, f64::max);
    let apart = lap / wanted as f64 / 2.0;
    let mut taken: Vec<Alternative> = Vec::new();
    let mut rest = Vec::new();
    for alternative in alternatives.drain(..) {
        let near = |other: &Alternative| {
            let gap = (other.start_mm - alternative.start_mm).abs();
            other.run == alternative.run && gap.min((lap - gap).abs()) < apart
        };
        if taken.len() < wanted && !taken.iter().any(near) {
            taken.push(alternative);
        } else {
            rest.push(alternative);
        }
    }
    let missing = wanted - taken.len();
    taken.extend(rest.into_iter().take(missing));
    taken.sort_by(better);
    *alternatives = taken;
}
