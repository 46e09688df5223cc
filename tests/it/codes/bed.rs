//! What can't be knitted, or had better not be.

use super::example::Example;
use super::example::How::Bed;
use diag::Code;
use knit::edge::{EdgePlace, EdgeRange};
use knit::needle::{BedSpan, Side, Span};
use knit::program::{
    Action, Beds, CastOnMethod, Fashion, HangLoops, Inset, Joint, Piece, Pitch, Program, Step,
    Structure, Transfer, Which, WorkingEnds,
};

use Side::{Left, Right};
use Structure::{Plain, Rib1x1};

fn span(text: &str) -> Span {
    text.parse().expect("a span")
}

fn steps(actions: impl IntoIterator<Item = Action>) -> Vec<Step> {
    actions.into_iter().zip(1..).map(|(action, line)| Step { line, action }).collect()
}

fn piece(name: &str, actions: impl IntoIterator<Item = Action>) -> Piece {
    Piece { name: name.into(), title: name.into(), section: "yarn".into(), steps: steps(actions) }
}

/// One piece.
fn knitted(actions: impl IntoIterator<Item = Action>) -> Program {
    Program { pieces: vec![piece("p", actions)], ..Program::default() }
}

/// A piece of twenty stitches from edge `from` to edge `to`, another of one stitch more, and one of
/// two rows.
fn finished(finishing: Action) -> Program {
    let whole = |name: &str, on: &str, from: &str, to: &str| {
        piece(name, [waste_on(on, from), knit(40), scrap(to)])
    };
    Program {
        pieces: vec![
            whole("a", "L10-R10", "a1", "a2"),
            whole("b", "L10-R11", "b1", "b2"),
            piece("short", [on(), knit(2), off()]),
            piece("bare", [on(), off()]),
        ],
        finishing: steps([finishing]),
        ..Program::default()
    }
}

fn cast(on: &str, structure: Structure) -> Action {
    Action::CastOn { span: span(on), structure, method: CastOnMethod::Wound, edge: None }
}

/// Twenty stitches.
fn on() -> Action {
    cast("L10-R10", Plain)
}

fn waste(on: &str, edge: Option<&str>) -> Action {
    Action::CastOn {
        span: span(on),
        structure: Plain,
        method: CastOnMethod::Waste,
        edge: edge.map(str::to_owned),
    }
}

fn waste_on(on: &str, edge: &str) -> Action {
    waste(on, Some(edge))
}

fn knit(rows: u32) -> Action {
    Action::Knit { rows }
}

fn off() -> Action {
    Action::CastOff { which: Which::All }
}

fn scrap(edge: &str) -> Action {
    Action::ScrapOff { edge: edge.into(), which: Which::All }
}

fn hang(needle: &str, loops: HangLoops) -> Action {
    Action::Hang { edge: "top".into(), needle: needle.parse().expect("a needle"), loops }
}

fn hold(on: &str) -> Action {
    Action::Hold(Which::Span(span(on)))
}

fn again(times: u32, actions: impl IntoIterator<Item = Action>) -> Action {
    Action::Repeat { times, steps: steps(actions) }
}

fn rehang(on: &str) -> Action {
    Action::Rehang { edge: "top".into(), span: span(on), beds: Beds::Main }
}

fn seam(first: &str, second: &str) -> Action {
    Action::Seam { first: (first.into(), Left), second: (second.into(), Right) }
}

fn graft(first: &str, second: &str) -> Action {
    Action::Graft { first: first.into(), second: second.into() }
}

fn fashion(count: u32, inset: u32) -> Fashion {
    Fashion { ends: WorkingEnds::One(Left), count, inset: Inset::Stitches(inset) }
}

/// Loops moved on the main bed, the emptied needles left in work.
fn moved(from: &str, to: &str) -> Action {
    let on = |needles: &str| BedSpan { ribber: false, span: span(needles) };
    let (from, to) = (on(from), on(to));
    Action::Transfer(Transfer { from, to, eyelets: true, structure: Rib1x1 })
}

fn rows(piece: &str, to: u32) -> EdgeRange {
    EdgeRange { place: EdgePlace::Selvedge(piece.into(), Left), from: 0, to: Some(to) }
}

pub const EXAMPLES: &[Example] = &[
    // Casting on and off.
    Example { code: Code::OffBed, how: Bed(|| knitted([cast("L101-R10", Plain)])) },
    Example { code: Code::NeedleTaken, how: Bed(|| knitted([on(), cast("R5-R15", Plain), off()])) },
    Example { code: Code::EdgeUnnamed, how: Bed(|| knitted([waste("L5-R5", None)])) },
    Example { code: Code::CastOnBeside, how: Bed(|| knitted([on(), cast("R11-R15", Rib1x1)])) },
    Example { code: Code::StitchesLeft, how: Bed(|| knitted([on(), knit(4)])) },
    Example { code: Code::LoopsLeft, how: Bed(|| knitted([waste_on("L5-R5", "top"), off()])) },
    Example { code: Code::NothingInWork, how: Bed(|| knitted([off()])) },
    Example {
        code: Code::TooManyNeedles,
        how: Bed(|| knitted([on(), Action::CastOff { which: Which::AtSide(Left, 21) }])),
    },
    Example {
        code: Code::NoLoop,
        how: Bed(|| {
            let gap = Which::Span(span("L4-L3"));
            let gap = Action::ScrapOff { edge: "gap".into(), which: gap };
            knitted([on(), knit(2), gap, off()])
        }),
    },
    // Passes.
    Example { code: Code::NothingToKnit, how: Bed(|| knitted([knit(2)])) },
    Example {
        code: Code::CarriageSide,
        how: Bed(|| knitted([on(), knit(1), Action::CarriageAt(Right), off()])),
    },
    Example {
        code: Code::Jam,
        how: Bed(|| knitted([waste_on("L5-R5", "top"), hang("R1", HangLoops::Each(9)), knit(1)])),
    },
    Example {
        code: Code::CrowdedNeedle,
        how: Bed(|| knitted([waste_on("L5-R5", "top"), hang("R1", HangLoops::Each(2)), knit(1)])),
    },
    Example {
        code: Code::LongFloat,
        how: Bed(|| knitted([cast("L20-R20", Plain), hold("R5-R20"), knit(2)])),
    },
    Example {
        code: Code::UnwrappedTurn,
        how: Bed(|| {
            let back = Action::Return(Which::AtSide(Left, 1));
            knitted([on(), knit(2), hold("L10-L1"), again(4, [knit(1), back, knit(1)])])
        }),
    },
    Example { code: Code::TooLong, how: Bed(|| knitted([on(), again(1000, [knit(1000)])])) },
    // Holding.
    Example {
        code: Code::HoldTooMany,
        how: Bed(|| knitted([on(), Action::Hold(Which::AtSide(Left, 21))])),
    },
    Example { code: Code::HoldEmpty, how: Bed(|| knitted([on(), hold("R10-R11")])) },
    Example { code: Code::HoldTwice, how: Bed(|| knitted([on(), hold("L10-L9"), hold("L10-L9")])) },
    Example {
        code: Code::ReturnTooMany,
        how: Bed(|| knitted([on(), Action::Return(Which::AtSide(Left, 1))])),
    },
    Example {
        code: Code::ReturnNotHeld,
        how: Bed(|| knitted([on(), Action::Return(Which::Span(span("L10-L9")))])),
    },
    Example { code: Code::WrapNothing, how: Bed(|| knitted([on(), Action::Wrap])) },
    // Open edges.
    Example {
        code: Code::NoSuchEdge,
        how: Bed(|| knitted([on(), hang("R10", HangLoops::Each(1))])),
    },
    Example {
        code: Code::HangOutOfWork,
        how: Bed(|| knitted([waste_on("L10-R10", "top"), hang("R50", HangLoops::Each(1))])),
    },
    Example {
        code: Code::EdgeEmpty,
        how: Bed(|| {
            let hung = [hang("R1", HangLoops::Each(1)), knit(1)];
            knitted([waste_on("L1-R1", "top"), again(3, hung)])
        }),
    },
    Example {
        code: Code::HangOver,
        how: Bed(|| {
            let hung = [hang("R1", HangLoops::SpreadOver(2)), knit(1)];
            knitted([waste_on("L1-R1", "top"), again(3, hung)])
        }),
    },
    Example {
        code: Code::RehangMismatch,
        how: Bed(|| knitted([waste_on("L5-R5", "top"), off(), rehang("L5-R4")])),
    },
    // The second bed.
    Example { code: Code::RibberEmpty, how: Bed(|| knitted([on(), Action::TransferToMain])) },
    Example {
        code: Code::BedPitch,
        how: Bed(|| {
            let apart = Action::Pitch(Pitch::Between);
            knitted([apart, cast("L9-R9", Rib1x1), knit(2), Action::TransferToMain])
        }),
    },
    Example { code: Code::RibberLoaded, how: Bed(|| knitted([cast("L9-R9", Rib1x1), off()])) },
    // Shaping.
    Example {
        code: Code::DecreaseTooMany,
        how: Bed(|| knitted([on(), Action::Decrease { side: Left, count: 20 }])),
    },
    Example {
        code: Code::DecreaseIntoGap,
        how: Bed(|| {
            let gap = Which::Span(span("L9-L8"));
            let gap = Action::ScrapOff { edge: "gap".into(), which: gap };
            knitted([on(), knit(2), gap, Action::Decrease { side: Left, count: 1 }])
        }),
    },
    Example {
        code: Code::IncreaseNone,
        how: Bed(|| knitted([on(), Action::Increase { side: Left, count: 0 }])),
    },
    Example {
        code: Code::IncreaseAway,
        how: Bed(|| knitted([on(), knit(2), Action::Increase { side: Left, count: 2 }])),
    },
    Example {
        code: Code::ShapeOutside,
        how: Bed(|| knitted([on(), knit(2), Action::Narrow(fashion(0, 0)), off()])),
    },
    Example {
        code: Code::IncreaseTooMany,
        how: Bed(|| knitted([on(), knit(2), Action::Widen(fashion(3, 2)), off()])),
    },
    Example { code: Code::TransferMismatch, how: Bed(|| knitted([on(), moved("L3-L2", "L1")])) },
    Example { code: Code::TransferFar, how: Bed(|| knitted([on(), moved("L9", "L1")])) },
    Example { code: Code::CrossedLoops, how: Bed(|| knitted([on(), moved("L5", "L3")])) },
    Example {
        code: Code::WideEyelet,
        how: Bed(|| knitted([on(), knit(2), moved("L5-L4", "L3-L2"), knit(1), off()])),
    },
    Example {
        code: Code::YarnBroken,
        how: Bed(|| knitted([on(), knit(2), Action::BreakYarn, knit(2), off()])),
    },
    Example {
        code: Code::YarnAcross,
        how: Bed(|| {
            let back = Action::Return(Which::AtSide(Left, 2));
            knitted([on(), Action::Hold(Which::AtSide(Left, 5)), knit(1), back, knit(1)])
        }),
    },
    Example { code: Code::YarnJoined, how: Bed(|| knitted([on(), Action::JoinYarn(None), off()])) },
    Example {
        code: Code::PickUpShort,
        how: Bed(|| {
            let edge = EdgeRange { place: EdgePlace::CastOn("p".into()), from: 0, to: Some(4) };
            knitted([on(), knit(2), Action::PickUp { edge, span: span("L20-L11") }, off()])
        }),
    },
    // The finishing.
    Example { code: Code::EdgeRange, how: Bed(|| finished(Action::Gather(rows("a", 41)))) },
    Example {
        code: Code::OffTheBed,
        how: Bed(|| knitted([on(), Action::GatherEdge { edge: "top".into() }])),
    },
    Example { code: Code::OnTheBed, how: Bed(|| finished(knit(2))) },
    Example { code: Code::GraftItself, how: Bed(|| finished(graft("a1", "a1"))) },
    Example {
        code: Code::GraftEased,
        how: Bed(|| {
            let edge = |name: &str, to: u32| EdgeRange {
                place: EdgePlace::Open(name.into()),
                from: 0,
                to: Some(to),
            };
            let (first, second) = (edge("a1", 3), edge("b1", 2));
            finished(Action::Join { how: Joint::Graft, first, second })
        }),
    },
    Example { code: Code::GraftMismatch, how: Bed(|| finished(graft("a1", "b1"))) },
    Example { code: Code::NoSuchPiece, how: Bed(|| finished(seam("a", "sleeve"))) },
    Example { code: Code::NoSelvedge, how: Bed(|| finished(seam("a", "bare"))) },
    Example { code: Code::SeamUneven, how: Bed(|| finished(seam("a", "short"))) },
    Example {
        code: Code::SewOnMismatch,
        how: Bed(|| {
            finished(Action::SewOn { edge: "a1".into(), piece: "short".into(), side: Left })
        }),
    },
    Example {
        code: Code::PieceTwice,
        how: Bed(|| Program {
            pieces: vec![piece("p", [on(), off()]), piece("p", [on(), off()])],
            ..Program::default()
        }),
    },
];
