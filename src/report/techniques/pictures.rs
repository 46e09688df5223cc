use super::bench::{Bench, EDGE, HEIGHT, Lies, WIDTH, Yarn};
use super::technique::Technique;
use crate::drawing::Drawing;

pub(super) fn of(technique: Technique) -> Drawing {
    let (bench, about) = match technique {
        Technique::NeedlePositions => needle_positions(),
        Technique::Weights => weights(),
        Technique::WasteCastOn => waste_cast_on(),
        Technique::RibCastOn => rib_cast_on(),
        Technique::WoundCastOn => wound_cast_on(),
        Technique::ShortRows => short_rows(),
        Technique::BackToWork => back_to_work(),
        Technique::Hang => hang(),
        Technique::TakeIn => take_in(),
        Technique::BringIn => bring_in(),
        Technique::Transfer => transfer(),
        Technique::LatchUp => latch_up(),
        Technique::ScrapOff => scrap_off(),
        Technique::Rehang => rehang(),
        Technique::PickUp => pick_up(),
        Technique::CastOff => cast_off(),
        Technique::Graft => graft(),
        Technique::Seam => seam(),
        Technique::Gather => gather(),
        Technique::Corner => corner(),
    };
    bench.finish(technique.title(), about)
}

/// A bed with needles that all knit, a stitch on each, over some fabric.
fn at_work(from: i32, to: i32) -> Bench {
    let mut bench = Bench::new(12.0, 6.0);
    bench.bed();
    for needle in from..=to {
        bench.needle(needle, Lies::Working);
        bench.stitch(needle, Lies::Working, Yarn::Good);
    }
    bench.fabric((from, to), EDGE + 13.0, 3);
    bench
}

fn needle_positions() -> (Bench, &'static str) {
    let mut bench = Bench::new(14.0, 22.5);
    bench.bed();
    let all = [
        (Lies::NonWorking, "non-working"),
        (Lies::Working, "working"),
        (Lies::UpperWorking, "upper working"),
        (Lies::Holding, "holding"),
    ];
    for (needle, (lies, name)) in (0..).zip(all) {
        bench.needle(needle, lies);
        let x = bench.x(needle);
        bench.say((x, 47.0), name);
    }
    // Where the stitch lies on those that carry one: narrow loops, for the needles stand far apart here.
    for (needle, y) in [(1, EDGE + 4.8), (2, EDGE + 4.2), (3, EDGE + 4.2)] {
        let x = bench.x(needle);
        bench.thread(
            &[
                (x - 2.6, y + 7.0),
                (x - 1.6, y + 2.0),
                (x, y - 0.6),
                (x + 1.6, y + 2.0),
                (x + 2.6, y + 7.0),
            ],
            Yarn::Good,
        );
    }
    (
        bench,
        "Four needles from left to right, each pushed out farther than the one before; the last three \
             carry a stitch, which lies in the hook of the working needle and behind the latch of the others.",
    )
}

fn weights() -> (Bench, &'static str) {
    let mut bench = at_work(1, 11);
    for needle in [1, 6, 11] {
        let x = bench.x(needle);
        bench.weight(x, EDGE + 21.0);
    }
    bench.say((bench.x(6), HEIGHT - 3.0), "one at each edge, one for 20 stitches between");
    (
        bench,
        "Fabric on the needles with three claw weights below it: one at each edge and one in the middle.",
    )
}

fn waste_cast_on() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 6.0);
    bench.bed();
    for needle in 1..=11 {
        bench.needle(needle, Lies::Working);
        bench.stitch(needle, Lies::Working, Yarn::Good);
    }
    bench.row((1, 11), EDGE + 13.0, Yarn::Good);
    bench.row((1, 11), EDGE + 17.0, Yarn::Now);
    for y in [21.0, 24.0, 27.0, 30.0] {
        bench.row((1, 11), EDGE + y, Yarn::Waste);
    }
    bench.say_from((4.0, EDGE + 14.5), "good");
    bench.say_from((4.0, EDGE + 18.5), "cord");
    bench.say_from((4.0, EDGE + 26.0), "waste");
    (
        bench,
        "Below the needles a row of good yarn, under it a row of ravel cord, under that rows of waste yarn.",
    )
}

fn rib_cast_on() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 8.0);
    bench.bed();
    bench.ribber();
    let mut zigzag = vec![(4.0, 31.0)];
    for needle in 0..9 {
        bench.needle(needle, Lies::Working);
        zigzag.push((bench.x(needle), EDGE + 5.0));
        if needle < 8 {
            bench.ribber_needle(needle);
            zigzag.push((bench.x(needle) + 4.0, HEIGHT - 17.0));
        }
    }
    zigzag.push((WIDTH - 4.0, 31.0));
    bench.thread(&zigzag, Yarn::Now);
    bench.say((WIDTH / 2.0, 3.6), "main bed");
    bench.say((WIDTH / 2.0, HEIGHT - 0.6), "ribber: each needle faces an empty one");
    (
        bench,
        "Two beds facing each other, the needles of one between those of the other; the yarn goes from a \
             needle of one bed to the next of the other, in zigzag.",
    )
}

fn wound_cast_on() -> (Bench, &'static str) {
    let mut bench = Bench::new(15.0, 12.0);
    bench.bed();
    let mut yarn = vec![(4.0, EDGE + 20.0)];
    for needle in 0..5 {
        bench.needle(needle, Lies::Holding);
        let (x, y) = (bench.x(needle), EDGE + 6.0);
        yarn.extend([
            (x - 3.0, y + 3.5),
            (x + 2.2, y + 1.6),
            (x, y - 1.4),
            (x - 2.4, y + 1.2),
            (x + 3.4, y + 5.0),
        ]);
    }
    bench.thread(&yarn, Yarn::Now);
    bench.arrow((66.0, EDGE + 22.0), (84.0, EDGE + 22.0));
    bench.say((WIDTH / 2.0, HEIGHT - 6.0), "under from behind, over, on to the next");
    (
        bench,
        "Needles in holding position with the yarn wound once round each of them, going from the left to \
             the right.",
    )
}

fn short_rows() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 6.0);
    bench.bed();
    for needle in 1..=11 {
        let lies = if needle <= 5 { Lies::Holding } else { Lies::Working };
        bench.needle(needle, lies);
        bench.stitch(needle, lies, Yarn::Good);
    }
    bench.fabric((1, 11), EDGE + 20.0, 3);
    let (held, last) = (bench.x(5), bench.x(6));
    // Under the held needle and up between it and its neighbour.
    bench.thread(
        &[
            (last + 12.0, EDGE + 9.0),
            (last, EDGE + 9.5),
            (held + 1.4, EDGE + 10.0),
            (held - 2.2, EDGE + 9.0),
            (held - 2.4, EDGE + 6.0),
            (held + 1.5, EDGE + 2.2),
            (last + 6.0, EDGE - 4.0),
        ],
        Yarn::Now,
    );
    bench.carriage(WIDTH - 22.0);
    bench.say((bench.x(3), HEIGHT - 5.0), "held");
    bench.say((bench.x(9), HEIGHT - 5.0), "knit");
    (
        bench,
        "Five needles on the left in holding position, the others at work. The yarn from the last stitch is \
             laid under the nearest held needle and comes up behind it, back to the carriage on the right.",
    )
}

fn back_to_work() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 6.0);
    bench.bed();
    for needle in 1..=11 {
        let lies = match needle {
            ..=4 => Lies::Holding,
            5 => Lies::UpperWorking,
            _ => Lies::Working,
        };
        bench.needle(needle, lies);
        bench.stitch(needle, lies, Yarn::Good);
    }
    bench.fabric((1, 11), EDGE + 20.0, 3);
    let x = bench.x(5);
    bench.arrow((x + 1.8, EDGE + 19.0), (x + 1.8, EDGE + 12.5));
    // The yarn hangs on the other side.
    bench.thread(
        &[(bench.x(11) + 2.0, EDGE + 7.0), (WIDTH - 8.0, EDGE + 2.0), (WIDTH - 14.0, 12.0)],
        Yarn::Now,
    );
    bench.carriage(WIDTH - 16.0);
    bench
        .say((WIDTH / 2.0, HEIGHT - 4.0), "the yarn hangs on the far side: nothing lies across it");
    (
        bench,
        "The held needle nearest to the work is pushed back to upper working position while the carriage and \
             its yarn stand on the other side.",
    )
}

fn hang() -> (Bench, &'static str) {
    let mut bench = at_work(1, 9);
    let x = bench.x(9);
    bench.needle(9, Lies::UpperWorking);
    // The edge of the other piece, with its waste yarn.
    for nth in 0..5 {
        let y = EDGE + 6.0 + f64::from(nth) * 6.0;
        bench.thread(
            &[
                (x + 24.0, y - 1.6),
                (x + 19.0, y - 1.8),
                (x + 16.6, y),
                (x + 19.0, y + 1.8),
                (x + 24.0, y + 1.6),
            ],
            if nth == 0 { Yarn::Now } else { Yarn::Good },
        );
        if nth > 0 {
            bench.stroke((x + 15.0, y - 2.6), (x + 15.0, y + 2.6), Yarn::Waste);
        }
    }
    bench.tool((x + 16.0, EDGE + 6.0), (x + 8.0, EDGE + 24.0));
    bench.arrow((x + 14.0, EDGE + 3.6), (x + 2.6, EDGE + 3.6));
    bench.say((x + 18.0, HEIGHT - 3.0), "waste undone");
    bench.say((bench.x(4), HEIGHT - 3.0), "the piece that grows");
    (
        bench,
        "At the right end of the needles the first open loop of a finished edge is on a tool, to be put on the \
             end needle on top of its stitch; the loops below it still wait on waste yarn.",
    )
}

fn take_in() -> (Bench, &'static str) {
    let mut bench = at_work(3, 11);
    bench.needle(1, Lies::NonWorking);
    bench.needle(2, Lies::NonWorking);
    let (from, to) = (bench.x(2), bench.x(3));
    bench.loop_at((to - 0.8, EDGE + 3.4), Yarn::Now);
    bench.arrow((from - 1.0, EDGE + 9.0), (to - 2.6, EDGE + 6.0));
    bench.say((WIDTH / 2.0, HEIGHT - 4.0), "two on one needle, the end needle out of work");
    (
        bench,
        "The end stitch on the left has been put on its neighbour, which carries two; the needle it left lies \
             in non-working position.",
    )
}

fn bring_in() -> (Bench, &'static str) {
    let mut bench = at_work(3, 11);
    bench.needle(2, Lies::Working);
    let (new, next) = (bench.x(2), bench.x(3));
    bench.thread(
        &[
            (new - 2.0, EDGE + 9.0),
            (new - 1.4, EDGE + 5.4),
            (new, EDGE + 4.2),
            (new + 1.6, EDGE + 5.6),
            (next - 2.0, EDGE + 12.5),
        ],
        Yarn::Now,
    );
    bench.arrow((next - 1.0, EDGE + 20.0), (new + 0.6, EDGE + 9.4));
    bench.say((WIDTH / 2.0, HEIGHT - 4.0), "the bump of its neighbour on the new needle");
    (
        bench,
        "A needle beside the end one is brought to work, and the purl bump below its neighbour's stitch is \
             lifted onto it.",
    )
}

fn transfer() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 12.0);
    bench.bed();
    bench.ribber();
    for needle in 0..6 {
        bench.needle(needle, Lies::Working);
        bench.ribber_needle(needle);
        bench.stitch(needle, Lies::Working, if needle == 3 { Yarn::Now } else { Yarn::Good });
    }
    let from = (bench.x(2) + 6.0, HEIGHT - 17.0);
    bench.arrow(from, (bench.x(3) - 0.8, EDGE + 8.5));
    bench.say((WIDTH / 2.0, 3.6), "main bed");
    bench.say((WIDTH / 2.0, HEIGHT - 0.6), "ribber");
    (
        bench,
        "A loop goes from a needle of the ribber to a needle of the main bed that stands facing it.",
    )
}

fn latch_up() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 6.0);
    bench.bed();
    for needle in 1..=11 {
        bench.needle(needle, Lies::Working);
        if needle != 6 {
            bench.stitch(needle, Lies::Working, Yarn::Good);
        }
    }
    bench.fabric((1, 5), EDGE + 13.0, 5);
    bench.fabric((7, 11), EDGE + 13.0, 5);
    let x = bench.x(6);
    for rung in 0..5 {
        let y = EDGE + 12.0 + f64::from(rung) * 3.0;
        bench.stroke((x - 2.8, y), (x + 2.8, y), Yarn::Good);
    }
    bench.thread(
        &[
            (x - 2.0, HEIGHT - 8.0),
            (x - 1.2, HEIGHT - 12.0),
            (x, HEIGHT - 13.0),
            (x + 1.2, HEIGHT - 12.0),
            (x + 2.0, HEIGHT - 8.0),
        ],
        Yarn::Now,
    );
    bench.arrow((x + 34.0, HEIGHT - 10.0), (x + 34.0, EDGE + 6.0));
    bench.say((WIDTH / 2.0, HEIGHT - 1.5), "from the lowest rung up");
    (
        bench,
        "One column of stitches is dropped to a ladder; a loop at its foot is to be pulled through each rung in \
             turn, up to its needle.",
    )
}

fn scrap_off() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 6.0);
    bench.bed();
    for needle in 1..=11 {
        bench.needle(needle, Lies::Working);
        bench.stitch(needle, Lies::Working, Yarn::Waste);
    }
    for y in [13.0, 16.0, 19.0] {
        bench.row((1, 11), EDGE + y, Yarn::Waste);
    }
    bench.fabric((1, 11), EDGE + 24.0, 3);
    bench.thread(
        &[
            (bench.x(11) + 2.6, EDGE + 25.0),
            (bench.x(11) + 9.0, EDGE + 27.0),
            (bench.x(11) + 10.0, EDGE + 35.0),
        ],
        Yarn::Now,
    );
    bench.say_from((4.0, EDGE + 17.0), "waste");
    bench.say_from((4.0, EDGE + 28.0), "good");
    bench.say((bench.x(9), HEIGHT - 2.0), "the end that is left");
    (
        bench,
        "Rows of waste yarn between the needles and the good fabric, whose end hangs at the right edge.",
    )
}

fn rehang() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 7.0);
    bench.bed();
    for needle in 1..=10 {
        bench.needle(needle, Lies::Holding);
        let x = bench.x(needle);
        if needle <= 4 {
            bench.stitch(needle, Lies::Holding, Yarn::Good);
        } else {
            bench.loop_at((x, EDGE + 21.0), if needle == 5 { Yarn::Now } else { Yarn::Good });
        }
    }
    bench.fabric((1, 10), EDGE + 28.0, 1);
    let x = bench.x(5);
    bench.arrow((x - 1.6, EDGE + 19.0), (x - 1.6, EDGE + 9.0));
    bench.say((WIDTH / 2.0, HEIGHT - 3.0), "loop by loop, none twisted");
    (
        bench,
        "Open loops of a piece are put on needles in holding position one after the other; four are on, the \
             fifth is on its way.",
    )
}

fn pick_up() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 7.0);
    bench.bed();
    for needle in 1..=10 {
        bench.needle(needle, Lies::Holding);
    }
    // The edge of a piece that hangs below, with its marks.
    let edge: Vec<(f64, f64)> = (0..=20)
        .map(|n| {
            let t = f64::from(n) / 20.0;
            (14.0 + 70.0 * t, EDGE + 27.0 + 5.0 * (std::f64::consts::PI * t).sin())
        })
        .collect();
    bench.thread(&edge, Yarn::Good);
    for needle in [1, 4, 7, 10] {
        let x = bench.x(needle);
        bench.arrow((x, EDGE + 26.0), (x, EDGE + 18.5));
        bench.stroke((x, EDGE + 27.0), (x, EDGE + 33.0), Yarn::Now);
    }
    bench.say((WIDTH / 2.0, HEIGHT - 1.0), "marks first, then what lies between");
    (
        bench,
        "A curved edge below the needles with four marks on it, each led to its needle; what lies between is \
             spread evenly.",
    )
}

fn cast_off() -> (Bench, &'static str) {
    let mut bench = at_work(1, 8);
    let (last, next) = (bench.x(9), bench.x(8));
    bench.needle(9, Lies::NonWorking);
    bench.needle(10, Lies::NonWorking);
    bench.loop_at((next + 0.8, EDGE + 3.0), Yarn::Now);
    // What is cast off lies along the edge as a chain.
    for nth in 0..3 {
        let x = last + f64::from(nth) * 6.0;
        bench.thread(
            &[
                (x - 3.0, EDGE + 13.0),
                (x, EDGE + 11.0),
                (x + 3.0, EDGE + 13.0),
                (x, EDGE + 14.6),
                (x - 3.0, EDGE + 13.0),
            ],
            Yarn::Good,
        );
    }
    bench.thread(
        &[(last + 14.0, EDGE + 2.0), (last + 4.0, EDGE + 4.0), (next + 1.2, EDGE + 6.4)],
        Yarn::Now,
    );
    bench.arrow((last + 2.0, EDGE + 20.0), (next - 4.0, EDGE + 20.0));
    bench.say((WIDTH / 2.0, HEIGHT - 4.0), "two on the needle, the yarn drawn through both");
    (
        bench,
        "At the right the stitches are closed to a chain; the next needle carries two loops, and the yarn is \
             drawn through both of them.",
    )
}

fn graft() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 12.0);
    let (above, below) = (18.0, 36.0);
    for nth in 0..6 {
        let x = bench.x(nth) + 6.0;
        // Loops that point down, of the upper edge; loops that point up, of the lower one.
        bench.thread(
            &[
                (x - 5.0, above - 8.0),
                (x - 3.0, above - 3.0),
                (x - 2.6, above),
                (x, above + 2.0),
                (x + 2.6, above),
                (x + 3.0, above - 3.0),
                (x + 5.0, above - 8.0),
            ],
            Yarn::Good,
        );
        bench.thread(
            &[
                (x - 5.0, below + 8.0),
                (x - 3.0, below + 3.0),
                (x - 2.6, below),
                (x, below - 2.0),
                (x + 2.6, below),
                (x + 3.0, below + 3.0),
                (x + 5.0, below + 8.0),
            ],
            Yarn::Good,
        );
    }
    let mut sewn = vec![(6.0, 27.0)];
    for nth in 0..4 {
        let x = bench.x(nth) + 6.0;
        sewn.extend([
            (x - 1.2, below),
            (x, 27.0),
            (x + 1.4, above),
            (x + 6.0, above - 0.5),
            (x + 6.0, 27.0),
        ]);
        sewn.extend([(x + 4.6, below), (x + 10.0, below + 0.5)].into_iter().filter(|_| nth < 3));
    }
    bench.thread(&sewn, Yarn::Now);
    bench.arrow((62.0, 27.0), (84.0, 27.0));
    bench.say((WIDTH / 2.0, HEIGHT - 3.0), "every loop is passed twice");
    (
        bench,
        "Two rows of open loops face each other; a thread goes in turn through two loops of the lower and two \
             of the upper edge, so that it makes a new row between them.",
    )
}

fn seam() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 6.0);
    let (left, right) = (36.0, 60.0);
    for nth in 0..8 {
        let y = 7.0 + f64::from(nth) * 5.0;
        for side in [-1.0, 1.0] {
            let x = if side < 0.0 { left } else { right };
            // A column of stitches, and the rung between it and the edge.
            bench.stroke((x - 3.0, y), (x, y + 3.0), Yarn::Good);
            bench.stroke((x + 3.0, y), (x, y + 3.0), Yarn::Good);
            bench.stroke((x - side * 3.0, y + 2.5), (x - side * 8.0, y + 2.5), Yarn::Good);
        }
    }
    let mut sewn = Vec::new();
    for nth in 0..4 {
        let y = 8.0 + f64::from(nth) * 10.0;
        sewn.extend([
            (left + 5.5, y),
            (left + 5.5, y + 6.0),
            (right - 5.5, y + 4.0),
            (right - 5.5, y + 10.0),
        ]);
    }
    bench.thread(&sewn, Yarn::Now);
    bench.say((WIDTH / 2.0, HEIGHT - 1.5), "two rungs here, two rungs there");
    (
        bench,
        "Two edges side by side with the rungs between the edge stitch and the next; a thread takes up two \
             rungs on one side and two on the other in turn.",
    )
}

fn gather() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 6.0);
    let centre = (WIDTH / 2.0, 24.0);
    let at = |nth: i32, radius: f64| {
        let (sin, cos) = (f64::from(nth) * std::f64::consts::TAU / 14.0).sin_cos();
        (centre.0 + radius * sin, centre.1 - radius * cos)
    };
    for nth in 0..14 {
        bench.thread(&[at(nth, 20.0), at(nth, 12.0), at(nth, 7.0)], Yarn::Good);
    }
    let mut round: Vec<(f64, f64)> =
        (0..=17).map(|nth| at(nth, if nth % 2 == 0 { 6.0 } else { 8.0 })).collect();
    round.push((centre.0 + 34.0, centre.1 + 14.0));
    bench.thread(&round, Yarn::Now);
    bench.say((WIDTH / 2.0, HEIGHT - 2.0), "round once, a stitch or two more, and pull");
    (
        bench,
        "Loops in a ring with a thread run through all of them, once round and a little farther, its end free \
             to be pulled.",
    )
}

fn corner() -> (Bench, &'static str) {
    let mut bench = Bench::new(12.0, 6.0);
    bench.fabric((1, 5), 10.0, 11);
    bench.fabric((9, 12), 10.0, 11);
    bench.fabric((6, 8), 10.0, 3);
    bench.fabric((6, 8), 34.0, 3);
    let (x, y) = (bench.x(7), 26.0);
    bench.thread(
        &[
            (x + 22.0, y + 20.0),
            (x + 9.0, y + 5.0),
            (x + 8.0, y - 4.0),
            (x, y - 8.0),
            (x - 8.0, y - 3.0),
            (x - 7.0, y + 5.0),
            (x, y + 8.5),
            (x + 7.0, y + 6.0),
            (x + 24.0, y + 12.0),
        ],
        Yarn::Now,
    );
    bench.say((WIDTH / 2.0, HEIGHT - 1.5), "a ring round the gap, drawn together");
    (bench, "A gap in the fabric with a thread taken round it through the stitches at its rim.")
}
