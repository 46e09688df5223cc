//! The search for a start, and for a value of an option, in whose colours a garment looks as wanted.

use super::{Colouring, GradeRequest, Workbench, only_size};
use diag::{Code, Diagnostic, Diagnostics};
use knit::look::Look;
use knit::size_run::{Made, SizeRun};

/// Starts tried along a colour sequence.
const STARTS: usize = 48;
/// Values of an option tried.
const MOST_VALUES: usize = 24;
/// Pictures on a contact sheet.
pub const MOST_ALTERNATIVES: usize = 24;

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

/// What is searched for and how.
#[derive(Clone, Debug, Default)]
pub struct SearchRequest {
    pub look: Option<Look>,
    pub vary: Option<Vary>,
    /// How many alternatives are wanted.
    pub wanted: usize,
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
        let mut search = Search { runs: Vec::new(), alternatives: Vec::new(), tried: 0 };
        let mut refused = Diagnostics::new();
        for value in request.values() {
            let run = match self.grade(&request.with_value(grade, value.as_deref())) {
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
            for start_mm in starts(colouring, made, request.look, wanted) {
                let begun = colouring.begun_at(start_mm);
                let score = request.look.map(|look| score(look, &begun, &run, made));
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
        match request.look {
            Some(look) => pick(&mut search.alternatives, look, wanted),
            None => spread(&mut search, wanted),
        }
        Ok(search)
    }
}

impl SearchRequest {
    /// The values of the option that is varied; one of none where none is.
    fn values(&self) -> Vec<Option<String>> {
        match &self.vary {
            Some(vary) => (vary.low..=vary.high).map(|value| Some(value.to_string())).collect(),
            None => vec![None],
        }
    }

    /// What to grade for one of the values.
    fn with_value<'a>(&self, grade: &GradeRequest<'a>, value: Option<&str>) -> GradeRequest<'a> {
        let mut grade = grade.clone();
        if let (Some(vary), Some(value)) = (&self.vary, value) {
            grade.options.retain(|(name, _)| *name != vary.name);
            grade.options.push((vary.name.clone(), value.to_owned()));
        }
        grade
    }
}

/// Where the first ball may begin, in mm along its colours; the given start is the first.
fn starts(colouring: &Colouring, made: &Made, look: Option<Look>, wanted: usize) -> Vec<f64> {
    let ball = colouring.main_ball();
    let lap = ball.map_or(0.0, |b| b.colours.length_mm());
    let begins = ball.map_or(0.0, |b| b.start_mm);
    let plain = ball.is_none_or(|b| b.colours.is_plain());
    let tried = match (plain, look) {
        (true, _) => 1,
        (false, Some(_)) => STARTS.max(wanted),
        (false, None) => wanted,
    };
    // A ball that doesn't repeat is only begun where all of it that is needed follows.
    let once = ball.is_some_and(|b| !b.colours.repeats());
    let need = made.graded.yarn.metres * 1000.0;
    let room = if once { (lap - need).max(0.0) } else { lap };
    let start = |nth: usize| {
        let off = room * nth as f64 / tried as f64;
        if once { off } else { (begins + off).rem_euclid(lap.max(1.0)) }
    };
    (0..tried).map(start).collect()
}

fn score(look: Look, colouring: &Colouring, run: &SizeRun, made: &Made) -> f64 {
    let size = colouring.apply(run, made);
    let cloths = size.coloured.cloths(&made.graded.run);
    look.measure(&made.graded.run, &cloths, (&size.coloured.palette, &run.swatches))
}

/// Every value in turn, as many starts of each as there is room for.
fn spread(search: &mut Search, wanted: usize) {
    let each = wanted.div_ceil(search.runs.len());
    let mut taken = vec![0; search.runs.len()];
    search.alternatives.retain(|a| {
        taken[a.run] += 1;
        taken[a.run] <= each
    });
    search.alternatives.truncate(wanted);
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
