//! The program unfolded: what a knitter does at the machine, stop by stop, in order. Nothing is
//! counted here: rows, needles and loops come from the run's rows and deeds, words from the same
//! place as the written pattern's.

use super::drawing::Holding;
use super::instructions::{
    Instruction, PieceWords, Remarks, SET_OUT, finishing_line, sets_out, sewing_ends,
};
use super::techniques::Technique;
use super::vocabulary::said;
use super::walk_changes::{Change, ChangeOf, Setting, carriage_taken, dials};
use knit::bed::step_size;
use knit::carry::WorkPlace;
use knit::needle::{Side, Span};
use knit::program::{Action, Fashion, Step, WorkingEnds};
use knit::run::{BallsTaken, BedSpan, Deed, Mind, Moment, NeedleEvent, PieceRun, StepTrace};
use knit::size_run::{Made, SizeRun};
use knit::stash::Words;
use units::LengthUnit;

/// Stops of a walk, and deeds of all its stops: beyond any garment a person would knit.
const MOST_STOPS: usize = 25_000;
const MOST_DEEDS: usize = 100_000;

/// A made size, one stop after the other.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    pub pieces: Vec<WalkPiece>,
    pub stops: Vec<Stop>,
    /// Rows of all pieces.
    pub rows: u32,
    /// False where the garment is longer than a walk may be, and the end is missing.
    pub whole: bool,
}

#[derive(Clone, Debug, PartialEq)]
pub struct WalkPiece {
    /// Its name in the program, which no other piece has.
    pub name: String,
    pub title: String,
    pub rows: u32,
    /// The outermost needles ever in work.
    pub needles: Option<Span>,
}

/// What is done in one go: hand moves and the pass that follows them, or a larger job by hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Stop {
    /// Index into [`Walk::pieces`]; `None` off the machine.
    pub piece: Option<u32>,
    /// Rows of all pieces done before and after.
    pub rows: (u32, u32),
    /// What the row counter shows before and after.
    pub counter: (u32, u32),
    pub carriage: (Side, Side),
    pub deeds: Vec<StopDeed>,
    pub pass: Option<Pass>,
    /// Needles in holding position once the deeds are done.
    pub held: Vec<Span>,
    /// What is otherwise than before, beside the row: nothing of it is to be missed.
    pub changes: Vec<Change>,
}

impl Stop {
    /// Whether it takes more than a pass of the carriage.
    pub fn needs_a_hand(&self) -> bool {
        !self.deeds.is_empty() || !self.changes.is_empty()
    }
}

/// One pass of the carriage.
#[derive(Clone, Debug, PartialEq)]
pub struct Pass {
    pub text: String,
    /// The needles it knits.
    pub spans: Vec<BedSpan>,
    /// Passes of the same kind left after it, with nothing to do between them.
    pub more: u32,
}

/// Something done by hand.
#[derive(Clone, Debug, PartialEq)]
pub struct StopDeed {
    /// `None` for what is done to no needle: a note, a change of yarn, sewing up.
    pub deed: Option<Deed>,
    pub text: String,
    pub needles: Option<Span>,
    /// Loops hung.
    pub loops: u32,
    /// How it is done, where it takes more than the carriage.
    pub how: Option<Technique>,
}

impl Walk {
    /// The same in these words of the trade.
    #[must_use]
    pub fn in_words(mut self, words: Words) -> Walk {
        let stops = self.stops.iter_mut();
        let texts = stops.flat_map(|stop| {
            let pass = stop.pass.iter_mut().map(|pass| &mut pass.text);
            let changes = stop.changes.iter_mut().map(|change| &mut change.text);
            stop.deeds.iter_mut().map(|deed| &mut deed.text).chain(pass).chain(changes)
        });
        let titles = self.pieces.iter_mut().map(|piece| &mut piece.title);
        for text in texts.chain(titles) {
            *text = said(words, text);
        }
        self
    }

    /// Where the work stands when a stop is next, as `PIECE:+ROWS`; `None` off the machine.
    pub fn stands_at(&self, stop: usize) -> Option<String> {
        let piece = self.stops.get(stop)?.piece?;
        let mut of_piece = self.stops.iter().filter(|stop| stop.piece == Some(piece));
        let done = self.stops[stop].rows.0 - of_piece.next()?.rows.0;
        Some(format!("{}:+{done}", self.pieces.get(piece as usize)?.name))
    }

    /// The stop of the same piece before which the row counter shows that: the nearest to `from`.
    pub fn stop_shown(&self, from: usize, counter: u32) -> Option<usize> {
        let piece = self.stops.get(from)?.piece?;
        let fits = |stop: &Stop| stop.piece == Some(piece) && stop.counter.0 == counter;
        let all = self.stops.iter().enumerate().filter(|(_, stop)| fits(stop));
        all.map(|(at, _)| at).min_by_key(|at| at.abs_diff(from))
    }

    /// The stop that comes next at a place: what is done by hand behind the last row done is still to do.
    pub fn stop_at(&self, at: WorkPlace) -> usize {
        let piece = |stop: &&Stop| stop.piece.is_some_and(|piece| piece as usize == at.piece);
        let first = self.stops.iter().position(|stop| piece(&stop)).unwrap_or(self.stops.len());
        if at.rows == 0 {
            return first;
        }
        let before = self.stops.get(first).map_or(0, |stop| stop.rows.0);
        let done = |stop: &Stop| stop.pass.is_some() && stop.rows.1 <= before + at.rows;
        self.stops.iter().rposition(done).map_or(first, |last| last + 1)
    }
}

/// Unfolds the program of a size that can be knitted.
pub fn walk(run: &SizeRun, made: &Made, unit: LengthUnit) -> Walk {
    let program = &made.garment.program;
    let knitted = &made.graded.run;
    let mut walker = Walker {
        walk: Walk { pieces: Vec::new(), stops: Vec::new(), rows: 0, whole: true },
        deeds: 0,
        setting: Setting::default(),
    };
    let ends = sewing_ends(program, knitted, &run.gauges);
    for (index, (piece, piece_run)) in program.pieces.iter().zip(&knitted.pieces).enumerate() {
        let alike = program.pieces.iter().filter(|p| p.title == piece.title).count();
        let nth = program.pieces[..=index].iter().filter(|p| p.title == piece.title).count();
        walker.walk.pieces.push(WalkPiece {
            name: piece.name.clone(),
            title: match alike {
                1 => piece.title.clone(),
                _ => format!("{} ({nth} of {alike})", piece.title),
            },
            rows: piece_run.rows.len() as u32,
            needles: piece_run.needles,
        });
        let writer = PieceWords {
            program,
            run: knitted,
            knitted: piece_run,
            gauges: &run.gauges,
            unit,
            ends: &ends,
        };
        let remarks = writer.remarks(piece);
        let mut at = AtPiece {
            writer,
            piece: index as u32,
            knitted: piece_run,
            row: 0,
            event: 0,
            step: 0,
            counter: 0,
            carriage: Side::Right,
            in_work: 0,
            broken: false,
            held: Holding::default(),
            waiting: Vec::new(),
            remarks,
            sections: &run.garment.sections,
            section: &piece.section,
        };
        if index > 0 {
            let title = walker.walk.pieces.last().map_or(&*piece.title, |piece| &*piece.title);
            let text = format!("Next piece: {title}.");
            walker.setting.piece(text);
        }
        if sets_out(piece) {
            let text = SET_OUT.to_owned();
            at.wait(StopDeed { deed: None, text, needles: None, loops: 0, how: None });
        }
        walker.steps(&piece.steps, 0, &mut at);
        walker.stop(&mut at, None);
        walker.walk.rows += at.row as u32;
    }
    let rows = walker.walk.rows;
    for number in 0..program.finishing.len() {
        let text = finishing_line(number, program, knitted, &ends, unit).text();
        let how = Technique::of(&program.finishing[number].action);
        let deed = StopDeed { deed: None, text, needles: None, loops: 0, how };
        if number == 0 {
            walker.setting.piece("Off the machine: finishing.".to_owned());
        }
        walker.push(Stop {
            piece: None,
            rows: (rows, rows),
            counter: (0, 0),
            carriage: (Side::Right, Side::Right),
            deeds: vec![deed],
            pass: None,
            held: Vec::new(),
            changes: Vec::new(),
        });
    }
    walker.walk
}

struct Walker {
    walk: Walk,
    deeds: usize,
    setting: Setting,
}

/// Where the walk stands in a piece.
struct AtPiece<'a> {
    writer: PieceWords<'a>,
    piece: u32,
    knitted: &'a PieceRun,
    /// Rows and deeds of the run already walked.
    row: usize,
    event: usize,
    /// Number of the step among the traces.
    step: usize,
    counter: u32,
    carriage: Side,
    in_work: u32,
    broken: bool,
    held: Holding,
    /// Deeds that belong to the next stop.
    waiting: Vec<StopDeed>,
    remarks: Remarks,
    /// Yarn sections of the garment, name and title, and the one in hand.
    sections: &'a [(String, String)],
    section: &'a str,
}

impl<'a> AtPiece<'a> {
    /// The title of the section in hand. Balls in turn have names of their own.
    fn section_title(&self) -> &'a str {
        let known = self.sections.iter().find(|(name, _)| name == self.section);
        known.map_or(self.section, |(_, title)| title)
    }

    fn moment(&self) -> Moment {
        Moment { counter: self.counter, carriage: self.carriage }
    }

    /// What the run tells of a single visit to the step: what was alike in all of them.
    fn visit(&self) -> StepTrace {
        let Some(all) = self.knitted.traces.get(self.step) else {
            return StepTrace { visits: 1, ..StepTrace::default() };
        };
        let always = |times: u32| u32::from(times > 0 && times == all.visits);
        let balls =
            BallsTaken { carried: always(all.balls.carried), joined: always(all.balls.joined) };
        StepTrace { visits: 1, balls, by_hand: all.by_hand, ..StepTrace::default() }
    }

    fn wait(&mut self, deed: StopDeed) {
        self.waiting.push(deed);
    }

    /// What is to be minded from this step on, the first time it is reached.
    fn mind(&mut self, step: usize) {
        for text in self.remarks.take(step) {
            self.wait(StopDeed { deed: None, text, needles: None, loops: 0, how: None });
        }
    }

    /// The run's next deed, where it is of this kind.
    fn next_event(&mut self, deed: Deed) -> Option<NeedleEvent> {
        let event = self.knitted.events.get(self.event).copied()?;
        let here = event.deed == deed && event.after_rows as usize == self.row;
        here.then(|| {
            self.event += 1;
            event
        })
    }
}

impl Walker {
    fn full(&self) -> bool {
        self.walk.stops.len() >= MOST_STOPS || self.deeds >= MOST_DEEDS
    }

    fn push(&mut self, mut stop: Stop) {
        if self.full() {
            self.walk.whole = false;
            return;
        }
        stop.changes = self.setting.take();
        let before = self.walk.stops.last().filter(|_| stop.piece.is_some());
        if before.is_some_and(|before| before.carriage.1 != stop.carriage.0) {
            stop.changes.push(carriage_taken(stop.carriage.0));
        }
        self.deeds += stop.deeds.len();
        self.walk.stops.push(stop);
    }

    /// Ends a stop with what waits and the pass, if there is one.
    fn stop(&mut self, at: &mut AtPiece<'_>, pass: Option<Pass>) {
        if at.waiting.is_empty() && pass.is_none() {
            return;
        }
        let before = at.moment();
        let rows = self.walk.rows + at.row as u32;
        if pass.is_some()
            && let Some(row) = at.knitted.rows.get(at.row)
        {
            at.row += 1;
            at.counter = row.counter;
            at.carriage = row.from.other();
        }
        let stop = Stop {
            piece: Some(at.piece),
            rows: (rows, self.walk.rows + at.row as u32),
            counter: (before.counter, at.counter),
            carriage: (before.carriage, at.carriage),
            deeds: std::mem::take(&mut at.waiting),
            pass,
            held: at.held.spans().collect(),
            changes: Vec::new(),
        };
        self.push(stop);
    }

    /// `id`: the number of the first of them among the traces.
    fn steps<'a>(&mut self, steps: &'a [Step], mut id: usize, at: &mut AtPiece<'a>) {
        for step in steps {
            if !self.walk.whole {
                return;
            }
            at.step = id;
            at.mind(id);
            let inner = id + 1;
            if let Action::Section(name) = &step.action {
                at.section = name;
            }
            match &step.action {
                Action::Repeat { times, steps } => {
                    for _ in 0..*times {
                        if !self.walk.whole {
                            return;
                        }
                        self.steps(steps, inner, at);
                    }
                }
                Action::Knit { rows } => self.knit(*rows, at),
                Action::CarriageAt(_) | Action::Mark(_) => {}
                Action::Narrow(_) | Action::Widen(_) => {
                    for one in apart(&step.action) {
                        self.by_hand(&one, id, at);
                    }
                }
                action => self.by_hand(action, id, at),
            }
            id += step_size(step);
        }
    }

    fn knit(&mut self, rows: u32, at: &mut AtPiece<'_>) {
        for nth in 0..rows {
            let Some(row) = at.knitted.rows.get(at.row) else { return };
            let trace = at.visit();
            let before = Moment { counter: at.counter, carriage: row.from };
            let one = Action::Knit { rows: 1 };
            let line = at.writer.say(Instruction::new(0, true), &one, &trace, before, before, true);
            let pass = Pass {
                text: line.map_or_else(String::new, |line| line.text()),
                spans: at.knitted.spans_of(row).to_vec(),
                more: rows - nth - 1,
            };
            self.setting.good_yarn(at.section_title());
            self.stop(at, Some(pass));
            if !self.walk.whole {
                return;
            }
        }
    }

    /// What an action changes beside the row, told with the stop that it belongs to.
    fn set(&mut self, action: &Action, begins: bool, at: &AtPiece<'_>) {
        let by_hand = at.visit().by_hand;
        self.setting.act(action, by_hand, at.section_title());
        if let Action::Dial(dial) = action {
            self.setting.dial(&format!("Dial {dial}."));
        }
        if let Some(structure) = dials(action, by_hand, begins) {
            self.setting.dial(&at.writer.dial(structure));
        }
    }

    fn by_hand(&mut self, action: &Action, id: usize, at: &mut AtPiece<'_>) {
        let event = deeds_of(action).iter().find_map(|deed| at.next_event(*deed));
        let alone = is_job(action);
        if alone {
            self.stop(at, None);
        }
        let before = at.moment();
        let nothing_before = at.in_work == 0;
        let begins = matches!(action, Action::CastOn { .. }) && nothing_before;
        self.set(action, nothing_before, at);
        if begins || matches!(action, Action::ResetCounter) {
            at.counter = 0;
        }
        if begins {
            at.carriage = Side::Right;
        }
        if let Action::JoinYarn(Some(side)) = action {
            at.carriage = *side;
        }
        if let Some(event) = event {
            at.in_work = event.in_work;
            at.held.take(&event);
        }
        // Due by the spread, but none falls here: nothing is done.
        if event.is_some_and(|event| event.deed == Deed::Hang && event.loops == 0) {
            return;
        }
        let needles = event.map(|event| event.needles);
        let loops = event.filter(|e| e.deed == Deed::Hang).map_or(0, |event| event.loops);
        let line = match (action, event) {
            (Action::Hang { edge, needle, .. }, Some(event)) => {
                Some(at.writer.hung(edge, *needle, event.loops))
            }
            _ => {
                let trace = StepTrace {
                    first: Some(before),
                    last: Some(before),
                    after: Some(at.moment()),
                    first_needles: needles,
                    last_needles: needles,
                    broken: at.broken,
                    either_side: false,
                    first_in_work: at.in_work,
                    in_work: at.in_work,
                    loops: event.map_or(0, |event| event.loops),
                    over: event.map_or(0, |event| event.over),
                    mind: at.knitted.traces.get(id).map_or_else(Mind::default, |trace| trace.mind),
                    ..at.visit()
                };
                let line = Instruction::new(0, true);
                at.writer.say(line, action, &trace, before, at.moment(), true)
            }
        };
        at.broken = broken_after(action, at.broken, nothing_before);
        if let Some(line) = line {
            let (deed, how) = (event.map(|event| event.deed), Technique::of(action));
            at.wait(StopDeed { deed, text: line.text(), needles, loops, how });
            self.deeds_waiting(at);
        }
        if alone {
            let after = at.moment();
            (at.counter, at.carriage) = (before.counter, before.carriage);
            self.stop(at, None);
            (at.counter, at.carriage) = (after.counter, after.carriage);
            if let Some(stop) = self.walk.stops.last_mut() {
                if stop.carriage.1 != after.carriage {
                    stop.changes.retain(|change| change.of != ChangeOf::Carriage);
                    stop.changes.push(carriage_taken(after.carriage));
                }
                stop.counter.1 = after.counter;
                stop.carriage.1 = after.carriage;
            }
        }
    }

    /// A script may do things by hand without end between two passes.
    fn deeds_waiting(&mut self, at: &mut AtPiece<'_>) {
        if self.deeds + at.waiting.len() >= MOST_DEEDS {
            self.walk.whole = false;
            at.waiting.clear();
        }
    }
}

/// Jobs that take their time: a stop each. The others are done on the way to the next pass.
fn is_job(action: &Action) -> bool {
    matches!(
        action,
        Action::CastOn { .. }
            | Action::TransferToMain
            | Action::ToRib { .. }
            | Action::JoinYarn(Some(_))
            | Action::PickUp { .. }
            | Action::ScrapOff { .. }
            | Action::Rehang { .. }
            | Action::CastOff { .. }
    )
}

/// The deeds an action may come to; it comes to one of them.
fn deeds_of(action: &Action) -> &'static [Deed] {
    match action {
        Action::CastOn { .. } => &[Deed::CastOn],
        Action::Hold(_) => &[Deed::Hold],
        Action::Return(_) => &[Deed::Return],
        Action::Wrap => &[Deed::Wrap],
        Action::Hang { .. } => &[Deed::Hang],
        Action::Rehang { .. } => &[Deed::Rehang],
        Action::TransferToMain => &[Deed::TransferToMain, Deed::LatchUp],
        Action::Decrease { .. } | Action::Narrow(_) => &[Deed::Decrease],
        Action::Increase { .. } | Action::Widen(_) => &[Deed::Increase],
        Action::Transfer(_) => &[Deed::Transfer],
        Action::ToRib { .. } => &[Deed::ToRib],
        Action::PickUp { .. } => &[Deed::PickUp],
        Action::ScrapOff { .. } => &[Deed::ScrapOff],
        Action::CastOff { .. } => &[Deed::CastOff],
        _ => &[],
    }
}

/// Whether the yarn is broken when an action is done. What begins on an empty bed joins it.
fn broken_after(action: &Action, broken: bool, empty: bool) -> bool {
    match action {
        Action::BreakYarn => true,
        Action::JoinYarn(_) | Action::Section(_) => false,
        Action::CastOn { .. } | Action::Rehang { .. } | Action::PickUp { .. } => broken && !empty,
        _ => broken,
    }
}

/// An action as the deeds it comes to: what is done at both ends at once is a deed at each.
fn apart(action: &Action) -> Vec<Action> {
    let ends = |fashion: &Fashion| {
        let fashion = *fashion;
        fashion.ends.sides().map(move |side| Fashion { ends: WorkingEnds::One(side), ..fashion })
    };
    match action {
        Action::Narrow(fashion) => ends(fashion).map(Action::Narrow).collect(),
        Action::Widen(fashion) => ends(fashion).map(Action::Widen).collect(),
        _ => Vec::new(),
    }
}
