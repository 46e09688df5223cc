//! Going on in the middle of a garment: what is knitted stays, the numbers that are spent are fixed,
//! the others are chosen anew.

use std::collections::BTreeMap;

use super::carry_ask::{At, CarryAsk};
use super::{GradeRequest, Workbench, only_size};
use diag::{Code, Diagnostic, Diagnostics};
use knit::bed_place::place_from;
use knit::carry::{
    CarriedOn, CarriedSize, Drift, Gauged, PlaceFault, WorkPlace, cut, differs_so_far, knitted,
    rest, same_row_again, uneven_joins,
};
use knit::estimate::OnScale;
use knit::garment::{Decision, Garment};
use knit::grade::finished_sizes;
use knit::run::Run;
use knit::size_run::{Made, SizeRun};
use knit::stash::{NamedSwatches, Reserve};
use knit::swatch::SwatchSet;
use knit::yarn::{self, YarnNeed};
use script::FIX;

/// Gradings at the most in one search: a second or two, whatever the garment.
const MOST_TRIED: usize = 500;

impl Workbench {
    /// What becomes of a garment from a place on.
    ///
    /// # Errors
    /// More than one size asked for, or one that can't be knitted; no such piece or row; rows too
    /// many that no number of the garment takes up; nothing that the yarn is enough for.
    pub fn carry_on(
        &self,
        request: &GradeRequest<'_>,
        ask: &CarryAsk,
    ) -> Result<CarriedOn, Diagnostics> {
        let before = self.grade(request)?;
        only_size(&before)?;
        let Some((_, made)) = before.good().next() else { return Err(before.refusals()) };
        // As the choices have it: what is made by hand.
        let request = &GradeRequest { machine: &before.machine, ..request.clone() };
        let mut at = place(made, ask)?;
        let set = &request.swatch.set;
        let swatch =
            NamedSwatches { set: set.measured_anew(&ask.gauges(set)?), ..request.swatch.clone() };
        let work = Work { bench: self, request, swatch: &swatch, ask };
        let taken = if ask.extra_rows > 0 { Some(work.take_up(made, at)?) } else { None };
        at.rows += ask.extra_rows;
        let begun = taken.as_ref().and_then(|run| run.good().next()).map_or(made, |(_, made)| made);
        let hand = Hand { at, run: &begun.graded.run, garment: &begun.garment };
        let done = knitted(&begun.garment.program, request.machine, at);
        let mut search = Search {
            work: &work,
            hand: &hand,
            done: &done,
            old: request.swatch,
            aims: made,
            thought: Numbers::new(),
            tried: 0,
        };
        let spent = search.spent();
        let found = search.best(&spent)?;
        work.told(before.clone(), found, &hand, &done, spent)
    }
}

/// Numbers by the name of the decision.
type Numbers = BTreeMap<String, i64>;

/// The place that is meant.
fn place(made: &Made, ask: &CarryAsk) -> Result<WorkPlace, Diagnostic> {
    let pieces = &made.garment.program.pieces;
    let named = |piece: &&knit::program::Piece| {
        piece.name == ask.piece || piece.title.eq_ignore_ascii_case(&ask.piece)
    };
    let Some(index) = pieces.iter().position(|piece| named(&piece)) else {
        let names: Vec<&str> = pieces.iter().map(|piece| piece.name.as_str()).collect();
        return Err(Diagnostic::error(
            Code::NoPlace,
            format!("there is no piece `{}` in it", ask.piece),
        )
        .hint(format!("its pieces are {}", names.join(", "))));
    };
    let run = &made.graded.run;
    let rows = run.pieces.get(index).map_or(0, |piece| piece.rows.len() as u32);
    match ask.at {
        At::Rows(done) if done <= rows => Ok(WorkPlace { piece: index, rows: done }),
        At::Rows(_) => Err(Diagnostic::error(
            Code::NoPlace,
            format!("`{}` has {rows} rows", pieces[index].name),
        )
        .hint("say how many of them are done; rows too many are --extra-rows")),
        At::Counter(counter) => WorkPlace::at_counter(run, index, counter)
            .map_err(|fault| no_place(&pieces[index].name, counter, fault)),
    }
}

fn no_place(piece: &str, counter: u32, fault: PlaceFault) -> Diagnostic {
    match fault {
        PlaceFault::Never(most) => Diagnostic::error(
            Code::NoPlace,
            format!("the row counter never shows {counter:03} in `{piece}`"),
        )
        .hint(format!(
            "it goes to {most:03}; rows beyond what the pattern says are --extra-rows, counted from the last right row"
        )),
        PlaceFault::Often(rows) => {
            let rows: Vec<String> = rows.iter().map(|rows| format!("{piece}:+{rows}")).collect();
            Diagnostic::error(
                Code::NoPlace,
                format!("the row counter shows {counter:03} more than once in `{piece}`"),
            )
            .hint(format!("say how many of its rows are done: {}", rows.join(" or ")))
        }
    }
}

/// What is in hand: knitted to the place by this garment, which may go on otherwise.
struct Hand<'a> {
    at: WorkPlace,
    run: &'a Run,
    garment: &'a Garment,
}

struct Work<'a> {
    bench: &'a Workbench,
    request: &'a GradeRequest<'a>,
    /// From the place on.
    swatch: &'a NamedSwatches,
    ask: &'a CarryAsk,
}

/// A way to go on.
#[derive(Clone, Debug)]
struct Found<'a> {
    run: SizeRun,
    /// The gauge that the script chose by.
    by: &'a NamedSwatches,
    numbers: Numbers,
    cost: f64,
    to_come: YarnNeed,
}

impl Work<'_> {
    /// How one guards against the yarn giving out: as asked, else as the settings have it.
    fn reserve(&self) -> Reserve {
        self.ask.risk.map_or(self.bench.reserve, Reserve::Risk)
    }

    /// What is left of the yarn, on the scale it was weighed on.
    fn left(&self) -> Option<OnScale> {
        let step = self.ask.scale_step.unwrap_or(self.bench.scale_step).grams();
        self.ask.left.map(|mass| OnScale::weighed(mass.grams(), step))
    }

    /// The garment with these numbers, and those the knitter fixed. `None`: it can't be knitted.
    fn grade(&self, numbers: &Numbers, swatch: &NamedSwatches) -> Option<SizeRun> {
        let mut options = self.request.options.clone();
        options.retain(|(name, _)| {
            !name.strip_prefix(FIX).is_some_and(|fixed| numbers.contains_key(fixed))
        });
        options.extend(numbers.iter().map(|(name, n)| (format!("{FIX}{name}"), n.to_string())));
        let request = GradeRequest { options, swatch, ..self.request.clone() };
        let run = self.bench.grade(&request).ok()?;
        let made = run.good().next().is_some();
        made.then_some(run)
    }

    /// The garment whose rows go on so long as was knitted: the number that takes them up.
    fn take_up(&self, made: &Made, at: WorkPlace) -> Result<SizeRun, Diagnostic> {
        let extra = self.ask.extra_rows;
        let decisions = &made.garment.decisions;
        for by in 1..=i64::from(extra) {
            for (decision, value) in decisions.iter().flat_map(|d| neighbours(d, by)) {
                for numbers in settings(decisions, decision, value) {
                    let Some(run) = self.grade(&numbers, self.request.swatch) else { continue };
                    let takes_up = run.good().next().is_some_and(|(_, other)| {
                        let other = &other.graded.run;
                        differs_so_far(&made.graded.run, other, at).is_none()
                            && same_row_again(other, at, extra)
                    });
                    if takes_up {
                        return Ok(run);
                    }
                }
            }
        }
        Err(Diagnostic::error(
            Code::CannotCarryOn,
            format!("no number of this garment makes {extra} more such rows here"),
        )
        .hint("take them back, or say where the work stands once the rows are right"))
    }

    /// The garment from the place on, its pieces that are not begun where the needles still knit.
    fn on_the_bed(&self, new: &Made, at: WorkPlace) -> Result<Garment, Diagnostic> {
        let Some(broken) = &self.ask.broken else { return Ok(new.garment.clone()) };
        let machine = self.request.machine.clone().without(broken)?;
        let run = &new.graded.run;
        let in_hand = run.pieces.get(at.piece).filter(|_| at.rows > 0);
        if let Some((piece, needles)) = in_hand.and_then(|piece| Some((piece, piece.needles?)))
            && let Some(needle) = machine.out_of_work.iter().find(|n| needles.contains(**n))
        {
            return Err(Diagnostic::error(
                Code::CannotCarryOn,
                format!("{} is in hand and lies on {needle}", piece.title),
            )
            .hint("change the needle for one from the end of the bed; or take the piece off on waste yarn and hang it on other needles"));
        }
        let first = if at.rows > 0 { at.piece + 1 } else { at.piece };
        place_from(new.garment.clone(), run, &machine, first)
    }

    fn told(
        &self,
        before: SizeRun,
        found: Found<'_>,
        hand: &Hand<'_>,
        done: &Run,
        spent: Vec<String>,
    ) -> Result<CarriedOn, Diagnostics> {
        let mut after = found.run;
        let mut warnings = Diagnostics::new();
        let (Some((_, old)), Some((size, new))) = (before.good().next(), after.good().next())
        else {
            return Err(after.refusals());
        };
        let garment = self.on_the_bed(new, hand.at)?;
        let cut = cut(&garment.program, hand.at);
        let machine = self.request.machine;
        let run = knit::bed::run(&cut.program, machine);
        let drift = Drift { at: hand.at, before: &self.request.swatch.set, knitted: done };
        let gauged = Gauged::Changed(drift, &self.swatch.set);
        let body = body_mm(size);
        let finished = finished_sizes(&garment, &run, machine, gauged, &body, &mut warnings);
        let sizes = finished
            .iter()
            .filter_map(|after| {
                let before = old.graded.finished.iter().find(|f| f.name == after.name)?.clone();
                let spec = garment.finished.iter().find(|spec| spec.name == after.name)?;
                let mixed = match spec.parts.as_slice() {
                    [part] => gauged.mixed_width(part, &run, machine),
                    _ => None,
                };
                Some(CarriedSize { before, after: after.clone(), mixed })
            })
            .collect();
        let gauges = (Gauged::Throughout(&self.request.swatch.set), gauged);
        let uneven = uneven_joins(&garment, &run, machine, gauges);
        let changed = changed(&old.garment.decisions, &garment.decisions);
        if let Some(size) = after.sizes.iter_mut().find(|size| size.knittable())
            && let Ok(made) = &mut size.made
        {
            made.garment = Garment { program: cut.program, ..garment };
            made.graded.run = run;
            made.graded.finished = finished;
        }
        Ok(CarriedOn {
            before,
            after,
            at: hand.at,
            done: cut.done,
            spent,
            changed,
            sizes,
            uneven,
            to_come: found.to_come,
            warnings,
        })
    }
}

/// The numbers that are others now: as they were, and as they are.
fn changed(old: &[Decision], new: &[Decision]) -> Vec<(Decision, Decision)> {
    let pair = |was: &Decision| {
        let is = new.iter().find(|is| is.name == was.name)?;
        (is.value != was.value).then(|| (was.clone(), is.clone()))
    };
    old.iter().filter_map(pair).collect()
}

fn body_mm(size: &knit::size_run::SizeResult) -> BTreeMap<String, f64> {
    size.body.values.iter().map(|(measure, value)| (measure.name().to_owned(), value.mm)).collect()
}

/// The numbers so many steps beside what was chosen, where they may be.
fn neighbours(decision: &Decision, by: i64) -> impl Iterator<Item = (&Decision, i64)> {
    let by = by * decision.step;
    let may = decision.from..=decision.to;
    [decision.value + by, decision.value - by]
        .into_iter()
        .filter(move |value| may.contains(value))
        .map(move |value| (decision, value))
}

/// One number changed: with the others as they are, and with the others left to the script.
fn settings(decisions: &[Decision], changed: &Decision, value: i64) -> [Numbers; 2] {
    let alone: Numbers = [(changed.name.clone(), value)].into();
    let mut others = numbers_of(decisions);
    others.extend(alone.clone());
    [others, alone]
}

fn numbers_of(decisions: &[Decision]) -> Numbers {
    decisions.iter().map(|decision| (decision.name.clone(), decision.value)).collect()
}

/// Looks for the numbers by which the garment comes out most as it was promised.
struct Search<'a> {
    work: &'a Work<'a>,
    hand: &'a Hand<'a>,
    /// What is knitted, run by itself.
    done: &'a Run,
    /// The gauge as it was.
    old: &'a NamedSwatches,
    /// What was promised.
    aims: &'a Made,
    /// What the script would choose at the gauge as it is, where that can be.
    thought: Numbers,
    tried: usize,
}

impl<'a> Search<'a> {
    /// The numbers that can't be others any more: either neighbour would have begun otherwise.
    fn spent(&mut self) -> Vec<String> {
        let decisions = &self.hand.garment.decisions;
        let new = self.work.swatch;
        let mut free = |decision: &&Decision| {
            neighbours(decision, 1)
                .flat_map(|(decision, value)| settings(decisions, decision, value))
                .any(|numbers| self.try_numbers(&numbers, new).is_some())
        };
        let spent = decisions.iter().filter(|decision| !free(decision));
        spent.map(|decision| decision.name.clone()).collect()
    }

    /// A way to go on by these numbers, the others chosen by the script at that gauge: `None` where that
    /// can't be knitted, or would have begun otherwise. Sizes and grams are those of the gauges as they
    /// are, whatever it was chosen by.
    fn try_numbers(&mut self, numbers: &Numbers, by: &'a NamedSwatches) -> Option<Found<'a>> {
        self.tried += 1;
        let (work, hand) = (self.work, self.hand);
        let run = work.grade(numbers, by)?;
        let (size, made) = run.good().next()?;
        let graded = &made.graded;
        if differs_so_far(hand.run, &graded.run, hand.at).is_some() {
            return None;
        }
        let set: &SwatchSet = &work.swatch.set;
        let drift = Drift { at: hand.at, before: &work.request.swatch.set, knitted: self.done };
        let sizes = finished_sizes(
            &made.garment,
            &graded.run,
            work.request.machine,
            Gauged::Changed(drift, set),
            &body_mm(size),
            &mut Diagnostics::new(),
        );
        let aimed = &self.aims.graded.finished;
        let missed: f64 = sizes
            .iter()
            .filter_map(|is| {
                let aim = aimed.iter().find(|aim| aim.name == is.name)?.mm;
                (aim > 0.0).then(|| (is.mm / aim - 1.0).powi(2))
            })
            .sum();
        let to_come = yarn::need(&rest(&graded.run, self.done), set);
        let moved: f64 = made
            .garment
            .decisions
            .iter()
            .filter_map(|is| {
                let thought = *self.thought.get(&is.name)?;
                Some(((is.value - thought) as f64 / (thought.abs().max(1) as f64)).powi(2))
            })
            .sum();
        let short = work.left().map_or(0.0, |left| over(&to_come, left, work.reserve()));
        let numbers = numbers_of(&made.garment.decisions);
        // A ball that gives out outweighs any size; by how much is told, so that less is better.
        Some(Found {
            cost: missed + OUT_OF_SHAPE * moved + OUT_OF_YARN * short,
            run,
            numbers,
            to_come,
            by,
        })
    }

    /// The best numbers, those that are spent left as they are.
    fn best(&mut self, spent: &[String]) -> Result<Found<'a>, Diagnostics> {
        let begun = numbers_of(&self.hand.garment.decisions);
        let kept: Numbers = begun
            .iter()
            .filter(|(name, _)| spent.contains(name))
            .map(|(name, n)| (name.clone(), *n))
            .collect();
        let begun_again = self.try_numbers(&kept, self.work.swatch);
        self.thought = begun_again.map_or_else(|| begun.clone(), |found| found.numbers);
        // As it was begun it can always go on, whatever the script makes of another gauge.
        let (old, new) = (self.old, self.work.swatch);
        let starts = [(kept, new), (begun.clone(), new), (begun, old)];
        let mut best = starts
            .iter()
            .filter_map(|(numbers, by)| self.try_numbers(numbers, by))
            .min_by(|a, b| a.cost.total_cmp(&b.cost))
            .ok_or_else(|| {
                Diagnostic::error(
                    Code::CannotCarryOn,
                    "the garment can't be made again as it was begun",
                )
                .hint("say the numbers it was begun by, and its swatch as it was")
            })?;
        self.descend(spent, &mut best);
        match self.work.left() {
            Some(left) if over(&best.to_come, left, self.work.reserve()) > 0.0 => {
                Err(gives_out(&best, left, self.work.reserve()).into())
            }
            _ => Ok(best),
        }
    }

    /// Moves one number at a time while that brings the garment nearer to what was promised.
    fn descend(&mut self, spent: &[String], best: &mut Found<'a>) {
        if best.cost <= LEAST_GAIN {
            return;
        }
        let fixed = |decision: &Decision| {
            let key = format!("{FIX}{}", decision.name);
            spent.contains(&decision.name)
                || self.work.request.options.iter().any(|(name, _)| *name == key)
        };
        let free: Vec<Decision> =
            self.aims.garment.decisions.iter().filter(|d| !fixed(d)).cloned().collect();
        for stride in [16, 8, 4, 2, 1] {
            let mut moved = true;
            while moved && self.tried < MOST_TRIED {
                moved = false;
                for decision in &free {
                    for by in [stride, -stride] {
                        let mut numbers = best.numbers.clone();
                        let Some(n) = numbers.get_mut(&decision.name) else { continue };
                        *n += by * decision.step;
                        if !(decision.from..=decision.to).contains(n) || self.tried >= MOST_TRIED {
                            continue;
                        }
                        if let Some(found) = self.try_numbers(&numbers, best.by)
                            && found.cost < best.cost - LEAST_GAIN
                        {
                            *best = found;
                            moved = true;
                        }
                    }
                }
            }
        }
    }
}

/// What a number costs that is not what the script chose for the gauge, by the squared share it is off:
/// shapes that no finished size tells of stay as they were thought out.
const OUT_OF_SHAPE: f64 = 0.02;
/// What a gram too few costs, beside the squared share by which a size is missed.
const OUT_OF_YARN: f64 = 10.0;
/// A gain not worth another number.
const LEAST_GAIN: f64 = 1e-7;

/// Grams that are missing so as to be safe.
fn over(to_come: &YarnNeed, left: OnScale, reserve: Reserve) -> f64 {
    (reserve.to_have(&to_come.need, left.sd) - left.grams).max(0.0)
}

fn gives_out(best: &Found<'_>, left: OnScale, reserve: Reserve) -> Diagnostic {
    Diagnostic::error(
        Code::CannotCarryOn,
        format!(
            "the yarn gives out: the least that is still to knit wants {:.0} g, and {:.0} g are left",
            reserve.to_have(&best.to_come.need, left.sd).ceil(),
            left.grams
        ),
    )
    .hint("take another ball for the end, or a higher chance with --risk")
}
