//! What a remnant reaches, against the graded runs themselves.

use app::{Reach, ReachRequest};
use knit::estimate::OnScale;
use knit::stash::Reserve;

use crate::support::{bench, demo, grade, oddments};

fn reach(have: Option<f64>, garments: &[&str], sizes: &str) -> Reach {
    let bench = bench();
    bench
        .reach(&ReachRequest {
            machine: bench.machine("standard").expect("a profile"),
            swatch: &demo("standard"),
            have: have.map(|grams| OnScale::weighed(grams, 1.0)),
            garments: garments.iter().map(|g| (*g).to_owned()).collect(),
            options: Vec::new(),
            sizes: sizes.to_owned(),
            reserve: Reserve::default(),
        })
        .expect("a sound request")
}

#[test]
fn what_is_covered_is_what_weighs_less_than_the_remnant() {
    let found = reach(Some(40.0), &[], "all");
    let covered = found.covered();
    assert!(covered.len() > 100 && covered.len() < found.rows.len());
    assert!(covered.windows(2).all(|w| w[0].grams >= w[1].grams), "largest first");
    for row in &found.rows {
        let fits = row.chance.expect("weighed") <= 0.05;
        // The scale's own error, 0.58 g, may decide in between.
        if row.to_have <= 39.0 {
            assert!(fits, "{row:?}");
        }
        if row.to_have >= 41.0 {
            assert!(!fits, "{row:?}");
        }
    }
}

#[test]
fn needs_are_the_graded_runs_own_and_parts_make_the_whole() {
    let found = reach(None, &["tam"], "y7-8,women-m");
    let run = grade("tam", "standard", &demo("standard"), "y7-8,women-m", &[]).expect("sound");
    for (size, made) in run.good() {
        let rows: Vec<_> = found.rows.iter().filter(|r| r.label == size.body.label).collect();
        let (whole, parts): (Vec<_>, Vec<_>) = rows.into_iter().partition(|r| r.part.is_none());
        assert_eq!((whole.len(), parts.len()), (1, 2));
        assert_eq!(whole[0].grams, made.graded.yarn.need.grams());
        let sum: f64 = parts.iter().map(|p| p.grams).sum();
        assert!((sum - whole[0].grams).abs() < 1e-9);
        assert!(whole[0].to_have > whole[0].grams);
    }
}

#[test]
fn the_command_answers_and_refuses_with_a_way_out() {
    let run = |args: &[&str]| {
        let ran = oddments(args);
        (ran.code, ran.out, ran.err)
    };
    let (code, out, _) = run(&["reach", "--weight", "34 g", "--garment", "mitten,cuff"]);
    assert_eq!(code, Some(0));
    assert!(out.contains("Mittens") && out.contains("Cuffs"), "{out}");
    let (code, out, err) = run(&["reach", "--weight", "1 g", "--garment", "mitten"]);
    assert_eq!((code, out.as_str()), (Some(1), ""));
    assert!(err.contains("the least is"), "{err}");
    for (args, told) in [
        (&["reach"][..], "needs a weight or a garment"),
        (&["reach", "--weight", "34"], "has no unit"),
        (&["reach", "--weight", "34 g", "--risk", "80 %"], "no chance to accept"),
        (&["reach", "--weight", "34 g", "--garment", "mittens"], "did you mean `mitten`?"),
    ] {
        let (code, _, err) = run(args);
        assert_ne!(code, Some(0), "{args:?}");
        assert!(err.contains(told), "{args:?}: {err}");
    }
}
