//! Many requests in one go: JSON Lines in, JSON Lines out, in order. So many lines are in flight at
//! a time; no more is read until what is done has been taken.

use std::io::{self, BufRead, BufReader, BufWriter, Read, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};

use serde_json::Value;

use super::Done;
use super::args::{BatchArgs, Blank};
use super::opened::Opened;
use super::output::Output;
use app::{Desk, Garments, LONGEST_LINE, LineNumbers, LineSplitter, RawLine};
use diag::{Code, Diagnostic, Diagnostics};

/// Lines in flight for each thread: enough that a slow one holds nobody up.
const WAITING: usize = 8;

/// What is written for a line, and whether it could be met.
struct Answer {
    text: String,
    good: bool,
}

/// What was written so far.
#[derive(Default)]
struct Tally {
    answers: u64,
    errors: u64,
}

/// Gives whether all lines could be met. A fault means that not every line has its answer.
pub(super) fn batch(args: &BatchArgs, output: &mut Output) -> Done {
    let requests: Box<dyn Read> = match &args.file {
        Some(file) => Box::new(store::open_file(file)?),
        None => Box::new(io::stdin()),
    };
    let opened = Opened::of(&args.bench, output)?;
    let garments = Garments::default();
    let desk = opened.desk_of_ids(&garments);
    let lines = Lines::new(BufReader::new(requests), args.count_from, args.blank);
    let mut tally = Tally::default();
    let (read, written) = answer_all(desk, lines, args, &mut tally, output)?;
    match written {
        // A reader that went away (`| head`) is not a fault.
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => return Ok(true),
        Err(error) => {
            return Err(Diagnostic::error(Code::Write, format!("can't write the result: {error}"))
                .hint("is the disk full?")
                .hint("the batch broke off: not every line has its answer")
                .into());
        }
        Ok(()) => {}
    }
    if let Err(error) = read {
        let mut fault = Diagnostic::error(Code::Read, format!("can't read the requests: {error}"));
        fault.context.extend(args.file.iter().map(|file| format!("in {}", file.display())));
        let answers = tally.answers;
        return Err(fault.hint(format!("the batch broke off after {answers} answers")).into());
    }
    if tally.errors > 0 {
        output.note(&format!("{} of {} answers are an error", tally.errors, tally.answers));
    }
    Ok(tally.errors == 0)
}

/// Reads, works and writes until one of them ends it. Gives how the reading and the writing went.
fn answer_all(
    desk: Desk<'_, '_>,
    mut lines: Lines<impl BufRead>,
    args: &BatchArgs,
    tally: &mut Tally,
    output: &Output,
) -> Result<(io::Result<()>, io::Result<()>), Diagnostic> {
    let numbers = LineNumbers::from(args.lines);
    let workers = rayon::ThreadPoolBuilder::new()
        .num_threads(args.jobs.map_or(0, usize::from))
        .build()
        .map_err(|error| {
            Diagnostic::error(Code::Threads, format!("can't start to work: {error}"))
        })?;
    let window = workers.current_num_threads() * WAITING;
    let (begun, in_order) = sync_channel::<Receiver<Answer>>(window);
    let mut out = BufWriter::with_capacity(64 << 10, output.stream());
    Ok(std::thread::scope(|threads| {
        let writer = threads.spawn(|| write(in_order, &mut out, tally));
        let read = workers.in_place_scope(|scope| {
            while let Some(line) = lines.next_line()? {
                let (answered, answer) = sync_channel(1);
                // The writer has ended: its reader went away.
                if begun.send(answer).is_err() {
                    break;
                }
                scope.spawn(move |_| drop(answered.send(answer_to(desk, line, numbers))));
            }
            drop(begun);
            Ok(())
        });
        let written = writer.join().unwrap_or_else(|_| Err(io::Error::other("the writer broke")));
        (read, written)
    }))
}

/// Writes answers in the order in which their lines came, each as soon as it is there.
fn write(
    in_order: Receiver<Receiver<Answer>>,
    out: &mut impl Write,
    tally: &mut Tally,
) -> io::Result<()> {
    loop {
        // Whoever waits for an answer before asking on gets it before we wait.
        let next = match in_order.try_recv() {
            Err(TryRecvError::Empty) => {
                out.flush()?;
                in_order.recv().ok()
            }
            next => next.ok(),
        };
        let Some(next) = next else { break };
        let answer = match next.try_recv() {
            Err(TryRecvError::Empty) => {
                out.flush()?;
                next.recv().ok()
            }
            answer => answer.ok(),
        };
        let answer = answer.ok_or_else(|| io::Error::other("a line was lost"))?;
        out.write_all(answer.text.as_bytes())?;
        tally.answers += 1;
        tally.errors += u64::from(!answer.good);
    }
    out.flush()
}

fn answer_to(desk: Desk<'_, '_>, line: RawLine, numbers: LineNumbers) -> Answer {
    let mut number = (numbers == LineNumbers::Counted).then_some(line.number);
    let mut id = Value::Null;
    // A line that breaks us must not take the others with it.
    let answered = catch_unwind(AssertUnwindSafe(|| {
        let read = line.read(numbers);
        (number, id) = (read.line, read.id);
        match read.ask.map_err(Diagnostics::from).and_then(|ask| desk.grade(&ask)) {
            Ok(graded) => {
                let text = report::batch_answer(number, &id, Ok(&graded.run));
                Answer { text, good: true }
            }
            Err(faults) => failed(number, &id, &faults),
        }
    }));
    answered.unwrap_or_else(|_| {
        let fault = Diagnostic::error(Code::Internal, "something broke while working on this")
            .hint("what was asked for is not at fault: please report it");
        failed(number, &id, &fault.into())
    })
}

fn failed(number: Option<u64>, id: &Value, faults: &Diagnostics) -> Answer {
    Answer { text: report::batch_answer(number, id, Err(faults)), good: false }
}

/// The lines of a stream that have an answer; those that have none are counted too.
struct Lines<R> {
    input: R,
    splitter: LineSplitter,
    blank: Blank,
}

impl<R: BufRead> Lines<R> {
    fn new(input: R, first: u64, blank: Blank) -> Self {
        Lines { input, splitter: LineSplitter::new(LONGEST_LINE, first), blank }
    }

    fn next_line(&mut self) -> io::Result<Option<RawLine>> {
        loop {
            let part = match self.input.fill_buf() {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                part => part?,
            };
            if part.is_empty() {
                let rest = self.splitter.rest();
                return Ok(rest.and_then(|line| self.answered(line)));
            }
            let (taken, line) = self.splitter.take(part);
            self.input.consume(taken);
            if let Some(line) = line.and_then(|line| self.answered(line)) {
                return Ok(Some(line));
            }
        }
    }

    fn answered(&self, line: RawLine) -> Option<RawLine> {
        match self.blank {
            Blank::Skip => (!line.is_blank()).then_some(line),
            Blank::Answer => Some(line.refuse_blank()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_counted_bounded_and_never_lost() {
        let longest = "x".repeat(LONGEST_LINE);
        let too_long = "y".repeat(LONGEST_LINE + 1);
        let far_too_long = "z".repeat(5 * LONGEST_LINE);
        let text = format!("a\n\n{longest}\n{too_long}\n{far_too_long}\nb\r\n  \nlast");
        // A buffer smaller than a line, so that lines come in parts.
        let seen = |blank| {
            let input = BufReader::with_capacity(1000, text.as_bytes());
            let mut lines = Lines::new(input, 7, blank);
            let mut seen = Vec::new();
            while let Some(line) = lines.next_line().expect("reads") {
                seen.push((
                    line.number,
                    line.text.map(|text| text.len()).map_err(|f| f.code.as_str()),
                ));
            }
            seen
        };
        let long = || Err("line-too-long");
        let expected = [
            (7, Ok(1)),
            (9, Ok(LONGEST_LINE)),
            (10, long()),
            (11, long()),
            (12, Ok(2)),
            (14, Ok(4)),
        ];
        assert_eq!(seen(Blank::Skip), expected);
        let mut all = expected.to_vec();
        all.insert(1, (8, Err("blank-line")));
        all.insert(6, (13, Err("blank-line")));
        assert_eq!(seen(Blank::Answer), all);
    }
}
