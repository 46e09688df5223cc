//! The shaping sums: published examples, and what must hold for any numbers, through scripts and
//! on the bed.

use std::collections::BTreeMap;

use knit::bed;
use knit::machine::Machine;
use knit::needle::{Needle, Side, Span};
use knit::run::Run;
use knit::shaping::{Ends, Follow, Outline, gaps, schedule};
use proptest::prelude::*;
use script::{
    GarmentInput, GaugeInput, Limits, MachineInput, Plugin, PluginSource, ScriptFailure, ScriptHost,
};

const MANIFEST: &str = r#"
id = "sample"
title = "Sample"
version = "1.0.0"
api = 1
summary = "Tries shaping."
measures = ["foot_girth"]
structures = ["plain", "circular"]

[sections]
body = "Body"
"#;

/// Runs a garment function's body, and what it returns on a bed of 200 with a ribber.
fn knitted(body: &str) -> Result<Run, ScriptFailure> {
    let script = format!("return function(input)\n{body}\nend");
    let files = BTreeMap::from([
        ("plugin.toml".to_owned(), MANIFEST.as_bytes().to_vec()),
        ("init.luau".to_owned(), script.into_bytes()),
    ]);
    let source = PluginSource { folder: "plugins/sample".to_owned(), files };
    let plugin = Plugin::load(source, &["foot_girth"]).map_err(ScriptFailure::Fault)?;
    let gauge = GaugeInput { stitch_mm: 3.5, row_mm: 2.5, stretch: 1.6 };
    let input = GarmentInput {
        body: BTreeMap::from([("foot_girth".to_owned(), 230.0)]),
        gauges: ["plain", "circular"].map(|name| (name.to_owned(), gauge)).into(),
        machine: MachineInput { needles: 200, ribber: true, ..MachineInput::default() },
        ..GarmentInput::default()
    };
    let garment = ScriptHost::new(Limits::default()).garment(&plugin, &input)?;
    let machine = Machine::new("test", "Test bed", 4.5, 200, true);
    Ok(bed::run(&garment.program, &machine))
}

fn clean(body: &str) -> Run {
    let run = knitted(body).unwrap_or_else(|failure| panic!("{}\n{body}", failure.diagnostics()));
    assert!(run.faults.is_empty(), "{:?}\n{body}", run.faults);
    run
}

/// What a script that must fail is told.
fn told(call: &str) -> String {
    match knitted(&format!("{call}\nreturn {{ pieces = {{}} }}")) {
        Err(failure) => failure.diagnostics().to_string(),
        Ok(_) => panic!("{call} passes"),
    }
}

/// Published: 36 shapings over 140 rows are 4 times every 3rd and 32 times every 4th row; 7
/// increases in 100 stitches are 5 groups of 14 and 2 of 15, spread.
#[test]
fn published_spacings_come_out_in_a_script() {
    clean(
        r#"
        local list, plain = shape.schedule{ shapings = 36, rows = 140 }
        assert(#list == 2 and plain == 0)
        assert(list[1].every == 3 and list[1].times == 4)
        assert(list[2].every == 4 and list[2].times == 32)
        local count = { [14] = 0, [15] = 0 }
        local last = 14
        for _, gap in shape.gaps(100, 7) do
            count[gap] += 1
            assert(gap == 14 or last == 14, "two long gaps side by side")
            last = gap
        end
        assert(count[14] == 5 and count[15] == 2)
        -- On even rows only: 21 pairs of rows over 10 shapings, and one row over.
        local even, rest = shape.schedule{ shapings = 10, rows = 43, multiple = 2 }
        assert(even[1].every == 4 and even[1].times == 9)
        assert(even[2].every == 6 and even[2].times == 1 and rest == 1)
        return { pieces = {} }
        "#,
    );
}

/// Published: 9.5 in at 7 stitches to the inch with 10 % less are 60 stitches; 8.5 in at 4.75 with
/// 10 % less to a multiple of 4 are 36.
#[test]
fn published_cast_ons_come_out_in_a_script() {
    clean(
        r#"
        assert(fit.round(9.5 * 7 * 0.9) == 60)
        assert(fit.to_multiple(8.5 * 4.75 * 0.9, 4) == 36)
        -- With an edge stitch on both sides.
        assert(fit.to_multiple(8.5 * 4.75 * 0.9, 4, 2) == 38)
        return { pieces = {} }
        "#,
    );
}

/// A published wedge recipe (row gauge twice the stitch gauge, one needle: 6), and by the geometry
/// 30 x 42 per 10 cm with three needles every two rows: 13.
#[test]
fn published_wedges_come_out_in_a_script() {
    clean(
        r#"
        local exact, whole = shape.wedges{ step = 1, stitch_mm = 5, row_mm = 2.5 }
        assert(math.abs(exact - 6.28) < 0.005 and whole == 6)
        exact, whole = shape.wedges{ step = 3, stitch_mm = 100 / 30, row_mm = 100 / 42 }
        assert(whole == 13)
        local full = shape.wedges{ step = 3, stitch_mm = 100 / 30, row_mm = 100 / 42, fullness = 1.2 }
        assert(math.abs(full / exact - 1.2) < 1e-9)
        return { pieces = {} }
        "#,
    );
}

fn heel(stitches: u32, arguments: &str) -> String {
    format!(
        r#"
        local steps = {{
            step.cast_on{{ needles = needles.centred({stitches}), method = "wound" }},
            step.knit{{ rows = 4 }},
        }}
        for _, each in shape.short_row_heel{{ stitches = {stitches}, {arguments} }} do
            table.insert(steps, each)
        end
        table.insert(steps, step.carriage_at{{ side = "right" }})
        table.insert(steps, step.knit{{ rows = 4 }})
        table.insert(steps, step.cast_off())
        return {{ pieces = {{ piece{{ name = "body", steps = steps }} }} }}
        "#
    )
}

/// Published: a heel over 15 stitches to a third is 10 rows down, 5 stitches left, 10 rows back.
#[test]
fn the_published_heel_is_knitted() {
    for arguments in ["to = 5,", "", "turn = 'turn', tally = 'out',"] {
        let run = clean(&heel(15, arguments));
        let rows = &run.piece("body").expect("body").rows;
        let widths: Vec<u32> = rows.iter().map(|row| row.stitches).collect();
        assert_eq!(widths[..4], [15; 4]);
        assert_eq!(widths[4..14], [14, 13, 12, 11, 10, 9, 8, 7, 6, 5]);
        assert_eq!(widths[14..24], [6, 7, 8, 9, 10, 11, 12, 13, 14, 15]);
        assert_eq!(widths[24..], [15; 4]);
        if arguments.contains("turn") {
            assert_eq!((run.marks["turn"], run.marks["out"]), (1, 10));
            let piece = run.piece("body").expect("body");
            assert_eq!(piece.rows_on(Span::centred(200), Needle(0), Some("turn"), None), Some(14));
        }
    }
}

/// Half of a tube makes the heel while the ribber rests, then all is knitted round again.
#[test]
fn a_heel_is_knitted_on_half_of_a_tube() {
    for stitches in [14, 15, 31] {
        clean(&format!(
            r#"
            local steps = {{
                step.cast_on{{ needles = needles.centred({stitches}), structure = "circular", method = "rib" }},
                step.knit{{ rows = 20 }},
                step.rest_ribber(),
            }}
            for _, each in shape.short_row_heel{{ stitches = {stitches} }} do
                table.insert(steps, each)
            end
            for _, each in {{ step.both_beds(), step.knit{{ rows = 20 }}, step.transfer_to_main(), step.cast_off() }} do
                table.insert(steps, each)
            end
            return {{ pieces = {{ piece{{ name = "body", steps = steps }} }} }}
            "#
        ));
    }
}

/// A flat sock: the instep's needles rest beside the heel's, away from the carriage.
#[test]
fn a_heel_is_knitted_beside_resting_needles() {
    for (rests, carriage, stitches, to) in
        [("left", "right", 20, 6), ("left", "right", 21, 6), ("right", "left", 20, 7)]
    {
        let rows = if carriage == "right" { 2 } else { 3 };
        clean(&format!(
            r#"
            local steps = {{
                step.cast_on{{ needles = needles.centred({stitches} + 20), method = "wound" }},
                step.knit{{ rows = {rows} }},
                step.hold{{ side = "{rests}", count = 20 }},
            }}
            for _, each in shape.short_row_heel{{ stitches = {stitches}, to = {to}, carriage = "{carriage}", resting = "{rests}" }} do
                table.insert(steps, each)
            end
            for _, each in {{ step.knit{{ rows = 2 }}, step.bring_back{{ all = true }}, step.knit{{ rows = 2 }}, step.cast_off() }} do
                table.insert(steps, each)
            end
            return {{ pieces = {{ piece{{ name = "body", steps = steps }} }} }}
            "#
        ));
    }
}

/// The wrist of a sleeve and its sides, knitted: stitches and rows are those the list says.
#[test]
fn an_outline_is_knitted_as_listed() {
    for (symmetric, side, points) in [
        (true, None, "{ { 0, 150 }, { 280, 200 } }"),
        (true, None, "{ { 0, 200 }, { 60, 200 }, { 170, 90 } }"),
        (false, Some("left"), "{ { 0, 200 }, { 60, 200 }, { 260, 90 } }"),
        (false, Some("right"), "{ { 10, 100 }, { 90, 130 }, { 200, 90 } }"),
    ] {
        let side_argument = side.map_or_else(String::new, |s| format!(", side = '{s}'"));
        let run = clean(&format!(
            r#"
            local gauge = {{ points = {points}, stitch_mm = 2.5, row_mm = 2, symmetric = {symmetric} }}
            local cast_on, list = shape.along(gauge)
            local same, shaped = shape.steps_along{{ points = {points}, stitch_mm = 2.5, row_mm = 2, symmetric = {symmetric}{side_argument} }}
            assert(cast_on == same)
            local steps = {{ step.cast_on{{ needles = needles.centred(cast_on), method = "wound" }} }}
            for _, each in shaped do
                table.insert(steps, each)
            end
            table.insert(steps, step.cast_off())
            -- What the bed should find, told through marks.
            local stitches, rows = cast_on, 0
            for _, each in list do
                rows += each.rows
                stitches += {sides} * each.change
            end
            local function tell(name, count)
                table.insert(steps, 1, step.again{{ times = count, steps = {{ step.mark{{ name = name }} }} }})
            end
            tell("rows", rows)
            tell("last", stitches)
            return {{ pieces = {{ piece{{ name = "body", steps = steps }} }} }}
            "#,
            sides = if symmetric { 2 } else { 1 },
        ));
        let rows = &run.piece("body").expect("body").rows;
        assert_eq!(rows.len() as u32, run.marks["rows"]);
        assert_eq!(rows.last().map(|row| row.stitches), Some(run.marks["last"]));
        if let Some(side) = side {
            // The other edge runs straight.
            let piece = run.piece("body").expect("body");
            let straight = if side == "left" { Side::Right } else { Side::Left };
            assert_eq!(piece.rows_at_side(straight), rows.len() as u32);
        }
    }
}

/// As the reference says: two stitches decreased at once crowd a needle, and a smaller `every` helps.
#[test]
fn a_steep_outline_takes_a_smaller_every() {
    let steep = |every: u32| {
        knitted(&format!(
            r#"
            local cast_on, steps = shape.steps_along{{
                points = {{ {{ 0, 200 }}, {{ 70, 90 }} }}, stitch_mm = 2.5, row_mm = 2, every = {every},
            }}
            table.insert(steps, 1, step.cast_on{{ needles = needles.centred(cast_on), method = "wound" }})
            table.insert(steps, step.cast_off())
            return {{ pieces = {{ piece{{ name = "body", steps = steps }} }} }}
            "#
        ))
        .unwrap_or_else(|failure| panic!("{}", failure.diagnostics()))
    };
    let codes: Vec<&str> = steep(2).faults.iter().map(|f| f.diagnostic.code.as_str()).collect();
    assert!(!codes.is_empty() && codes.iter().all(|code| *code == "crowded-needle"), "{codes:?}");
    assert!(steep(1).faults.is_empty());
}

#[test]
fn what_makes_no_sense_is_refused_with_a_hint() {
    for (call, message) in [
        ("shape.short_row_heel{ stitches = 15, to = 15 }", "can't go down to 15"),
        ("shape.schedule{ shapings = 9, rows = 8 }", "9 shapings don't fit in 8 rows"),
        (
            "shape.schedule{ shapings = 5, rows = 8, multiple = 2 }",
            "5 shapings 2 rows apart don't fit in 8 rows",
        ),
        ("shape.gaps(10, 2, 'none')", "can't be `none`"),
        ("shape.along{ points = { { 0, 10 } }, stitch_mm = 2, row_mm = 2 }", "two points or more"),
        (
            "shape.along{ points = { { 10, 10 }, { 10, 20 } }, stitch_mm = 2, row_mm = 2 }",
            "from 10 mm up to 10 mm",
        ),
        (
            "shape.along{ points = { { 10, 10 }, { 20 } }, stitch_mm = 2, row_mm = 2 }",
            "a list of points { height, width } in mm",
        ),
        (
            "shape.along{ points = { { 0, 10 }, { 100000, 10 } }, stitch_mm = 2, row_mm = 0.1 }",
            "1000000 rows",
        ),
        (
            "shape.steps_along{ points = { { 0, 10 }, { 9, 9 } }, stitch_mm = 2, row_mm = 2, symmetric = false }",
            "`symmetric = false` and `side` together",
        ),
    ] {
        let told = told(call);
        assert!(told.contains(message) && told.contains("init.luau:2"), "{call}: {told}");
    }
}

proptest! {
    #[test]
    fn gaps_sum_to_the_whole_and_differ_by_one_at_most(
        total in 0..1_000_000u32,
        shapings in 1..10_000u32,
        both in any::<bool>(),
    ) {
        let ends = if both { Ends::Both } else { Ends::One };
        let gaps = gaps(total, shapings, ends);
        prop_assert_eq!(gaps.len() as u32, shapings + u32::from(both));
        prop_assert_eq!(gaps.iter().sum::<u32>(), total);
        let (least, most) = (gaps.iter().min(), gaps.iter().max());
        prop_assert!(most.zip(least).is_some_and(|(most, least)| most - least <= 1));
        // Spread: up to any gap the sum is within one of an even share.
        let mut sum = 0.0;
        let share = f64::from(total) / gaps.len() as f64;
        for (nth, gap) in gaps.iter().enumerate() {
            sum += f64::from(*gap);
            prop_assert!((sum - share * (nth + 1) as f64).abs() <= 0.5 + 1e-6);
        }
    }

    #[test]
    fn a_schedule_spends_all_rows(
        shapings in 0..300u32,
        rows in 0..2_000u32,
        multiple in 1..5u32,
        both in any::<bool>(),
    ) {
        let parts = shapings + u32::from(both);
        match schedule(shapings, rows, multiple, if both { Ends::Both } else { Ends::One }) {
            Err(_) => prop_assert!(parts > rows / multiple),
            Ok(made) => {
                let spent: u32 = made.intervals.iter().map(|i| i.every * i.times).sum();
                prop_assert_eq!(spent + made.plain, rows);
                prop_assert_eq!(made.intervals.iter().map(|i| i.times).sum::<u32>(), shapings);
                prop_assert!(made.intervals.iter().all(|i| i.every > 0 && i.every % multiple == 0));
            }
        }
    }

    /// Half a stitch on each shaped side, somewhere in every block of rows; both ends as given.
    #[test]
    fn an_outline_is_followed_within_half_a_stitch(
        rises in prop::collection::vec((4.0..150.0f64, 20.0..400.0f64), 2..7),
        stitch_mm in 2.0..8.0f64,
        ratio in 1.2..1.6f64,
        every in 1..6u32,
        symmetric in any::<bool>(),
    ) {
        let row_mm = stitch_mm / ratio;
        let mut height = 0.0;
        let points: Vec<(f64, f64)> = rises
            .iter()
            .map(|(rise, width)| {
                height += rise;
                (height, *width)
            })
            .collect();
        let tall = height - points[0].0;
        let outline = Outline::new(points.clone()).expect("heights rise");
        let follow = Follow { stitch_mm, row_mm, every, symmetric };
        let (cast_on, stretches) = outline.follow(follow).expect("small");
        let sides = if symmetric { 2 } else { 1 };
        let most = 0.5 * f64::from(sides) + 1e-6;

        let rows: u32 = stretches.iter().map(|s| s.rows).sum();
        prop_assert_eq!(rows % every, 0);
        let off = (f64::from(rows) * row_mm - tall).abs();
        prop_assert!(off <= 0.5 * f64::from(every) * row_mm + 1e-6 || rows == every, "{off} mm");
        prop_assert_eq!(stretches.last().map(|s| s.change), Some(0));

        let last = cast_on as i32 + sides * stretches.iter().map(|s| s.change).sum::<i32>();
        if rows > every {
            let (from, to) = (points[0].1 / stitch_mm, points[points.len() - 1].1 / stitch_mm);
            prop_assert!((f64::from(cast_on) - from).abs() < 1.0, "{cast_on} for {from}");
            prop_assert!((f64::from(last) - to).abs() <= most, "{last} for {to}");
        }

        // Block by block: the outline comes within the bound of the stitches on the bed.
        let blocks = rows / every;
        let mut stitches = cast_on as i32;
        let mut at = 0;
        for stretch in &stretches {
            for _ in 0..stretch.rows / every {
                let ends = [at, at + 1].map(|n| f64::from(n) / f64::from(blocks));
                // Fine enough for widths that turn inside the block.
                let nearest = (0..=200)
                    .map(|n| ends[0] + (ends[1] - ends[0]) * f64::from(n) / 200.0)
                    .map(|share| (outline.width_mm(share) / stitch_mm - f64::from(stitches)).abs())
                    .fold(f64::INFINITY, f64::min);
                let steepest = 400.0 / stitch_mm / 200.0;
                prop_assert!(nearest <= most + steepest, "block {at}: {nearest}");
                at += 1;
            }
            stitches += sides * stretch.change;
        }
        prop_assert_eq!(at, blocks);
    }
}

proptest! {
    #![proptest_config(crate::support::tries(64))]

    /// Through a script and on the bed, odd and even: no slit, no float, nothing left over, and the
    /// carriage back where it was.
    #[test]
    fn any_heel_runs_clean((stitches, to) in (6..=120u32).prop_flat_map(|n| (Just(n), 1..n))) {
        let run = clean(&heel(stitches, &format!("to = {to},")));
        let rows = &run.piece("body").expect("body").rows;
        prop_assert_eq!(rows.len() as u32, 8 + 2 * (stitches - to));
        prop_assert_eq!(rows.iter().map(|row| row.stitches).min(), Some(to));
    }
}
