//! Where the yarn lands: the run's own order of use against its sums, the fabric against its
//! stitches, colours against lengths. Every shipped garment, several sizes.

use knit::cloth::Cloth;
use knit::colours::{Colour, ColourSequence};
use knit::run::{Laying, Run, SectionRun};
use knit::thread::{Ball, ColourLine, Palette, Supply, YarnPath};

use crate::support::{bench, demo, grade};

fn ball(parts: &[(&str, f64)], repeat: bool, start_mm: f64, length_mm: Option<f64>) -> Ball {
    let stretches = parts
        .iter()
        .enumerate()
        .map(|(i, (name, mm))| {
            let shade = format!("#{i:02x}{i:02x}{i:02x}").parse().expect("a shade");
            (Colour { name: (*name).into(), shade }, *mm)
        })
        .collect();
    Ball {
        name: "ball".into(),
        colours: ColourSequence::new(stretches, repeat).expect("sound"),
        start_mm,
        length_mm,
    }
}

/// A section's sums, added up again from the order of use.
fn sums_of(run: &Run, section: usize) -> SectionRun {
    let mut sums = SectionRun {
        name: run.sections[section].name.clone(),
        stitches: Default::default(),
        sewn_loops: 0,
        seam_rows: 0,
        seam_stitches: 0,
        float_needles: 0,
        tails: 0,
    };
    for laid in run.laid.iter().filter(|l| usize::from(l.section) == section) {
        match laid.what {
            Laying::Rows { first, end } => {
                let piece = &run.pieces[laid.piece.expect("rows are of a piece") as usize];
                for row in &piece.rows[first as usize..end as usize] {
                    *sums.stitches.entry(row.structure.gauged_as()).or_insert(0) +=
                        u64::from(row.stitches);
                }
            }
            Laying::Start { structure, stitches } => {
                *sums.stitches.entry(structure.gauged_as()).or_insert(0) += u64::from(stitches);
            }
            Laying::SewnLoops(n) => sums.sewn_loops += u64::from(n),
            Laying::Floats(n) => sums.float_needles += u64::from(n),
            Laying::SeamRows(n) => sums.seam_rows += u64::from(n),
            Laying::Tails(n) => sums.tails += n,
            Laying::SeamStitches(n) => sums.seam_stitches += u64::from(n),
        }
    }
    sums
}

#[test]
fn the_order_of_use_adds_up_to_the_sums_and_to_the_yarn_needed() {
    let mut seen = 0;
    for garment in bench().garment_ids() {
        let run = grade(&garment, "standard", &demo("standard"), "m3-6,y7-8,men-l", &[]);
        let run = run.expect("a sound request");
        for (size, made) in run.good() {
            let knit = &made.graded.run;
            for section in 0..knit.sections.len() {
                assert_eq!(sums_of(knit, section), knit.sections[section], "{garment}");
            }
            let path = YarnPath::of(knit, &run.swatches);
            let metres = path.used_mm.iter().sum::<f64>() / 1000.0;
            let need = made.graded.yarn.metres;
            assert!(
                (metres - need).abs() < 1e-6 * need,
                "{garment} {}: {metres} {need}",
                size.body.label
            );
            for (index, piece) in knit.pieces.iter().enumerate() {
                let cloth = Cloth::of(piece);
                let cells: usize = cloth.columns.iter().map(|c| c.rows.len()).sum();
                let rows: u32 = piece.rows.iter().map(|r| r.stitches).sum();
                assert_eq!(cells, rows as usize, "{garment} {}", piece.name);
                let starts = path.row_starts(knit, index);
                assert!(starts.windows(2).all(|w| w[0] < w[1]), "{garment} {}", piece.name);
            }
            seen += 1;
        }
    }
    assert!(seen > 25, "{seen} sizes were looked at");
}

#[test]
fn each_stitch_takes_the_colour_that_lies_at_its_place_in_the_yarn() {
    let run = grade("hat", "standard", &demo("standard"), "women-m", &[]).expect("sound");
    let (_, made) = run.good().next().expect("knittable");
    let knit = &made.graded.run;
    let path = YarnPath::of(knit, &run.swatches);
    let mut palette = Palette::default();
    let supply = Supply {
        balls: vec![ball(&[("a", 5000.0), ("b", 700.0)], true, 1234.0, None)],
        skips: Vec::new(),
    };
    let lines: Vec<ColourLine> =
        path.used_mm.iter().map(|mm| ColourLine::of(&supply, *mm, &mut palette)).collect();
    // Of each paint, the length of the stitches drawn in it, and the share the ball has of it.
    let mut drawn = [0.0, 0.0];
    for (index, piece) in knit.pieces.iter().enumerate() {
        let cloth = Cloth::painted(knit, index, &path, &lines);
        for column in &cloth.columns {
            for (row, paint) in column.rows.iter().zip(&column.paints) {
                let loop_mm = path.loop_mm(piece.rows[*row as usize].structure);
                drawn[usize::from(paint.expect("the ball repeats"))] += loop_mm;
            }
        }
    }
    let share = drawn[1] / (drawn[0] + drawn[1]);
    assert!((share - 700.0 / 5700.0).abs() < 0.01, "{share}");
}

#[test]
fn balls_joined_in_order_run_out_and_skips_leave_yarn_out() {
    let mut palette = Palette::default();
    let supply = Supply {
        balls: vec![
            ball(&[("a", 1000.0)], true, 0.0, Some(2500.0)),
            ball(&[("b", 600.0), ("c", 400.0)], false, 100.0, None),
        ],
        skips: Vec::new(),
    };
    let line = ColourLine::of(&supply, 4000.0, &mut palette);
    let names: Vec<_> = line
        .stretches()
        .map(|(mm, paint)| {
            (mm.round(), paint.map(|p| palette.colours[usize::from(p)].name.clone()))
        })
        .collect();
    let named = |name: &str| Some(name.to_owned());
    assert_eq!(
        names,
        [(2500.0, named("a")), (500.0, named("b")), (400.0, named("c")), (600.0, None)]
    );
    assert!(!line.reaches());
    // After 1.5 m of use, half a metre is wound off: b is met 0.5 m of use earlier.
    let supply = Supply {
        balls: vec![ball(&[("a", 2000.0), ("b", 2000.0)], true, 0.0, None)],
        skips: vec![(1500.0, 500.0)],
    };
    let line = ColourLine::of(&supply, 3000.0, &mut Palette::default());
    let lengths: Vec<_> = line.stretches().map(|(mm, paint)| (mm.round(), paint)).collect();
    assert_eq!(lengths, [(1500.0, Some(0)), (1500.0, Some(1))]);
    assert_eq!((line.at(1499.0), line.at(1501.0)), (Some(0), Some(1)));
}
