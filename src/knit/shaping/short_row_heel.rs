use super::Move;
use super::moves::fold;
use crate::needle::Side;
use diag::{Code, Diagnostic};

/// Two triangles of short rows, out and back: a heel, a toe, a bust or seat pad.
///
/// On the way out one needle more is held at each row, on the side the carriage goes to; on the way
/// back one needle more knits at each row. Both ways take `stitches - to` rows, so the carriage
/// ends where it began, whatever the numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ShortRowHeel {
    stitches: u32,
    to: u32,
    /// Where the carriage is before it.
    carriage: Side,
    /// The side beyond which other needles wait in holding position.
    resting: Option<Side>,
}

/// Tally marks along the way, so that rows can be counted from the turn.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HeelMarks {
    /// Between the way out and the way back.
    pub turn: Option<String>,
    /// At each row out.
    pub out: Option<String>,
}

impl ShortRowHeel {
    /// # Errors
    /// When the heel would leave no needle at work, or hold none.
    pub fn new(
        stitches: u32,
        to: u32,
        carriage: Side,
        resting: Option<Side>,
    ) -> Result<ShortRowHeel, Diagnostic> {
        if to == 0 || to >= stitches {
            return Err(Diagnostic::error(
                Code::HeelBounds,
                format!("short rows over {stitches} stitches can't go down to {to}"),
            )
            .hint("leave at least one stitch at work and hold at least one; a third is usual"));
        }
        Ok(ShortRowHeel { stitches, to, carriage, resting })
    }

    /// The stitches left at the turn by custom: a third, with as many held on each side.
    pub const fn third(stitches: u32) -> u32 {
        stitches - 2 * ((2 * stitches + 3) / 6)
    }

    /// Passes of the carriage, out and back.
    pub const fn rows(self) -> u32 {
        2 * (self.stitches - self.to)
    }

    /// The moves, out and back: as many passes as [`rows`](Self::rows) says.
    pub fn moves(self, marks: &HeelMarks) -> Vec<Move> {
        let turns = self.stitches - self.to;
        let even = turns.is_multiple_of(2);
        let mut carriage = self.carriage;
        let mut held = [turns / 2, turns / 2];
        held[at(carriage.other())] += turns % 2;

        let mut out = Vec::new();
        for row in 1..=turns {
            carriage = carriage.other();
            let mut moves = vec![Move::Hold(carriage), Move::Knit(1)];
            // After an odd number the last needle held comes straight back: nothing to wrap yet.
            if even || row < turns {
                moves.push(Move::Wrap);
            }
            moves.extend(marks.out.clone().map(Move::Mark));
            out.push(moves);
        }

        let mut back = Vec::new();
        for _ in 0..turns {
            // With as many held on either side, the needle comes back on the side the carriage goes
            // to, and the next is wrapped on arrival. With one more on one side that side must have
            // the first and the last turn, so it comes back on the side the carriage is.
            let side = if even { carriage.other() } else { carriage };
            held[at(side)] -= 1;
            let wrap = held[at(side)] > 0 || self.resting == Some(side);
            // Under the yarn, then: that is said before it.
            let mut moves = if even { Vec::new() } else { vec![Move::CarriageAt(carriage)] };
            moves.push(Move::BringBack(side));
            if even {
                moves.push(Move::Knit(1));
            }
            if wrap {
                moves.push(Move::Wrap);
            }
            if !even {
                moves.push(Move::Knit(1));
            }
            back.push(moves);
            carriage = carriage.other();
        }

        // The needles that rest on the carriage's side are the first turn.
        let mut moves = Vec::new();
        if self.resting == Some(self.carriage) {
            moves.push(Move::Wrap);
        }
        moves.extend(fold(&out, 2));
        moves.extend(marks.turn.clone().map(Move::Mark));
        moves.extend(fold(&back, 2));
        moves
    }
}

fn at(side: Side) -> usize {
    match side {
        Side::Left => 0,
        Side::Right => 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bed;
    use crate::machine::Machine;
    use crate::needle::Span;
    use crate::program::{Action, CastOnMethod, Piece, Program, Step, Structure, Which};
    use crate::run::Run;

    fn marks() -> HeelMarks {
        HeelMarks { turn: Some("turn".into()), out: Some("out".into()) }
    }

    /// The heel between two plain rows over all needles, `rest` others held beside it.
    fn knitted(heel: ShortRowHeel, rest: u32) -> Run {
        let all = Span::centred(heel.stitches + rest);
        let mut actions = vec![
            Action::CastOn {
                span: all,
                structure: Structure::Plain,
                method: CastOnMethod::Wound,
                edge: None,
            },
            // The carriage begins on the right.
            Action::Knit { rows: if heel.carriage == Side::Right { 2 } else { 1 } },
        ];
        if let Some(side) = heel.resting {
            actions.push(Action::Hold(Which::AtSide(side, rest)));
        }
        let mut steps: Vec<Step> =
            actions.into_iter().map(|action| Step { line: 1, action }).collect();
        steps.extend(heel.moves(&marks()).into_iter().map(|each| each.into_step(2)));
        let mut end = vec![Action::CarriageAt(heel.carriage)];
        if heel.resting.is_some() {
            // Once more over the heel alone: the turns beside the resting needles are wrapped too. Those
            // that rest on the carriage's side come back under the yarn.
            end.extend([
                Action::Knit { rows: 2 },
                Action::CarriageAt(heel.carriage),
                Action::Return(Which::All),
            ]);
        }
        end.extend([Action::Knit { rows: 2 }, Action::CastOff { which: Which::All }]);
        steps.extend(end.into_iter().map(|action| Step { line: 3, action }));
        let piece = Piece { name: "p".into(), title: "p".into(), section: "p".into(), steps };
        let machine = Machine::new("test", "Test bed", 4.5, 200, false);
        bed::run(&Program { pieces: vec![piece], ..Program::default() }, &machine)
    }

    fn heel(stitches: u32, to: u32, carriage: Side) -> ShortRowHeel {
        ShortRowHeel::new(stitches, to, carriage, None).expect("sound")
    }

    /// Published: over 15 stitches to a third, 10 rows down, 5 stitches left, 10 rows back.
    #[test]
    fn fifteen_stitches_to_a_third() {
        assert_eq!(ShortRowHeel::third(15), 5);
        let run = knitted(heel(15, 5, Side::Right), 0);
        assert!(run.faults.is_empty(), "{:?}", run.faults);
        let rows = &run.piece("p").expect("piece").rows[2..22];
        let widths: Vec<u32> = rows.iter().map(|row| row.stitches).collect();
        let expected: Vec<u32> = (5..15).rev().chain(6..=15).collect();
        assert_eq!(widths, expected);
        // The middle knits every row; both edges are passed over alike.
        let rows_at = &run.piece("p").expect("piece").rows_at;
        assert_eq!(rows_at[7], 24);
        assert_eq!(rows_at[0], rows_at[14]);
        assert_eq!((run.marks["out"], run.marks["turn"]), (10, 1));
        let at_turn = &run.piece("p").expect("piece").rows_at_mark["turn"];
        assert_eq!(at_turn.iter().max(), Some(&12));
    }

    /// Every size a bed takes, odd and even, from either side: as many rows back as out, no slit,
    /// no float, nothing left held.
    #[test]
    fn every_heel_runs_clean() {
        for stitches in 2..=40 {
            for to in 1..stitches {
                for carriage in [Side::Left, Side::Right] {
                    let heel = heel(stitches, to, carriage);
                    let run = knitted(heel, 0);
                    assert!(run.faults.is_empty(), "{heel:?}: {:?}", run.faults);
                    let plain = if carriage == Side::Right { 4 } else { 3 };
                    let piece = run.piece("p").expect("piece");
                    assert_eq!(piece.rows.len() as u32, heel.rows() + plain);
                    assert_eq!(piece.tallest(), heel.rows() + plain);
                    // Both ways together: two triangles on a strip.
                    let narrow: u32 = (to..stitches).chain(to + 1..=stitches).sum();
                    assert_eq!(piece.stitches, u64::from(narrow + plain * stitches));
                }
            }
        }
    }

    #[test]
    fn beside_resting_needles_every_turn_is_wrapped() {
        for stitches in [9, 20, 31] {
            for to in 1..stitches {
                for carriage in [Side::Left, Side::Right] {
                    for resting in [Side::Left, Side::Right] {
                        let heel = ShortRowHeel::new(stitches, to, carriage, Some(resting))
                            .expect("sound");
                        let run = knitted(heel, 3);
                        assert!(run.faults.is_empty(), "{heel:?}: {:?}", run.faults);
                    }
                }
            }
        }
    }

    /// Written out: 6 stitches to 2, as many held on each side, and 4 to 1, one more on the left.
    #[test]
    fn the_moves_are_those_of_the_trade() {
        use Move::{Again, BringBack, CarriageAt, Hold, Knit, Wrap};
        use Side::{Left, Right};
        let plain = HeelMarks::default();
        let out = vec![Hold(Left), Knit(1), Wrap, Hold(Right), Knit(1), Wrap];
        let mut expected = vec![Again(2, out)];
        expected.extend([BringBack(Left), Knit(1), Wrap, BringBack(Right), Knit(1), Wrap]);
        expected.extend([BringBack(Left), Knit(1), BringBack(Right), Knit(1)]);
        assert_eq!(heel(6, 2, Right).moves(&plain), expected);

        let mut expected = vec![Hold(Left), Knit(1), Wrap, Hold(Right), Knit(1), Wrap];
        // Where they come back under the yarn, that is said.
        expected.extend([Hold(Left), Knit(1), CarriageAt(Left), BringBack(Left), Wrap, Knit(1)]);
        expected.extend([CarriageAt(Right), BringBack(Right), Knit(1)]);
        expected.extend([CarriageAt(Left), BringBack(Left), Knit(1)]);
        assert_eq!(heel(4, 1, Right).moves(&plain), expected);
    }

    #[test]
    fn a_third_leaves_as_many_on_each_side() {
        for stitches in 3..200 {
            let third = ShortRowHeel::third(stitches);
            assert!(third >= 1 && (stitches - third).is_multiple_of(2), "{stitches}: {third}");
            assert!((3 * third).abs_diff(stitches) <= 3, "{stitches}: {third}");
        }
    }

    #[test]
    fn the_pattern_stays_short() {
        // Out, back, and what differs at the turn and at the end.
        assert!(heel(100, 34, Side::Right).moves(&HeelMarks::default()).len() <= 8);
        // With the carriage's side before each of the three turns that are not in a repeat.
        assert!(heel(101, 34, Side::Right).moves(&HeelMarks::default()).len() <= 12 + 3);
    }

    #[test]
    fn a_heel_without_a_turn_is_refused() {
        for to in [0, 15, 16] {
            let refused = ShortRowHeel::new(15, to, Side::Right, None).expect_err("no heel");
            assert!(!refused.hints.is_empty());
        }
    }
}
