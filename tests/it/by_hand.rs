//! Rib by hand, on a pair of needles: what needs a second bed for its rib alone is made on one.

use knit::by_hand::HandWork;
use knit::machine::Machine;
use knit::operation::Operation;
use knit::size_run::SizeRun;

use app::GradeRequest;

use crate::demo::Demo;
use crate::server::{Server, command};
use crate::support::{bench, demo, oddments};

fn graded(id: &str, change: impl Fn(&mut Machine)) -> SizeRun {
    let bench = bench();
    let plugin = bench.garment(id).expect("it is shipped");
    let swatch = demo("mid");
    let mut machine = bench.machine("mid").expect("it is shipped").clone();
    assert!(!machine.ribber, "the mid-gauge bed has no ribber");
    change(&mut machine);
    let request = GradeRequest {
        plugin: &plugin,
        machine: &machine,
        swatch: &swatch,
        options: Vec::new(),
        sizes: "m3-6,y5-6,women-m".to_owned(),
        person: None,
    };
    bench.grade(&request).expect("it can be asked for")
}

#[test]
fn on_one_bed_all_is_made_as_on_two_but_what_goes_round_both() {
    let mut by_hand = 0;
    for id in store::shipped_plugin_ids() {
        let hands = graded(id, |machine| machine.by_hand = HandWork::ALL);
        if id == "sock" {
            for size in &hands.sizes {
                let refused = format!("{:?}", size.made.as_ref().err());
                assert!(refused.contains("sock-flat"), "{refused}");
            }
            continue;
        }
        let beds = graded(id, |machine| machine.ribber = true);
        for (a, b) in hands.sizes.iter().zip(&beds.sizes) {
            let (Some(a), Some(b)) = (a.good(), b.good()) else {
                assert_eq!(a.knittable(), b.knittable(), "{id} {}", a.body.label);
                continue;
            };
            let (a, b) = (&a.graded, &b.graded);
            assert_eq!(a.finished, b.finished, "{id}");
            assert_eq!(a.counts, b.counts, "{id}");
            let rows =
                |run: &knit::run::Run| run.pieces.iter().map(|p| p.rows.len()).sum::<usize>();
            assert_eq!(rows(&a.run), rows(&b.run), "{id}");
            let times = |operation| a.run.work.operations.of(operation);
            assert_eq!(times(Operation::RibSetUp), 0, "{id}");
            assert_eq!(times(Operation::StitchLatched), 0, "{id}");
            let ribbed = a.run.pieces.iter().flat_map(|piece| &piece.rows);
            let ribbed: u32 =
                ribbed.filter(|row| row.structure.needs_ribber()).map(|r| r.stitches).sum();
            let cast_on = b.run.work.operations.of(Operation::RibSetUp);
            let hand = times(Operation::StitchByHand);
            assert!(hand >= ribbed && (hand > ribbed) == (cast_on > 0), "{id}: {hand} of {ribbed}");
            if ribbed > 0 {
                assert!(a.run.work.passes < b.run.work.passes, "{id}");
                by_hand += 1;
            }
        }
    }
    assert!(by_hand > 20, "only {by_hand} had a rib");
}

#[test]
fn the_pattern_says_what_is_done_on_needles_and_what_in_place_of_a_graft() {
    let ask = |garment: &str| {
        oddments(&["pattern", garment, "--size", "women-m", "--machine", "mid", "--by-hand"])
    };
    let mitten = ask("mitten").out;
    for says in ["ribs by hand", "By hand: on a pair of knitting needles", "In place of grafting"] {
        assert!(mitten.contains(says), "{says}: {mitten}");
    }
    let words = mitten.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("By hand, knit 18 rows of rib 1x1."), "{mitten}");
    assert!(
        words.contains("Hang the 36 stitches from the knitting needle onto L18-R18"),
        "{mitten}"
    );
    let tam = ask("tam").out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(tam.contains("stitches off the knitting needle on a strand of waste yarn"), "{tam}");
    for never in ["ribber needles", "zigzag", "Drop the ribber"] {
        assert!(!tam.contains(never) && !words.contains(never), "{never}");
    }
    // On needles no row counter is spoken of.
    let turned = ["--machine", "mid", "--by-hand", "--in-turn", "main=2,2"];
    let turned =
        oddments(&[["pattern", "mitten", "--size", "women-m"].as_slice(), &turned].concat());
    let (hand, _) = turned.out.split_once("Hang the 36").expect("the hand is hung");
    let (_, hand) = hand.split_once("By hand: on").expect("it is cast on");
    assert!(hand.contains("Do this 4 times:") && !hand.contains("RC "), "{hand}");
    assert!(!hand.contains("row counter"), "{hand}");
    let scarf = ask("scarf");
    assert!(scarf.out.contains("nothing on the machine"), "{}", scarf.out);
    assert!(scarf.out.contains("stitches by hand, loosely, in rib"), "{}", scarf.out);
    let sock = ask("sock");
    assert_eq!(sock.code, Some(1));
    assert!(sock.err.contains("sock-flat"), "{}", sock.err);
}

#[test]
fn without_it_ribs_are_refused_as_before() {
    let ran = oddments(&[
        "pattern",
        "tam",
        "--size",
        "women-m",
        "--machine",
        "mid",
        "--set",
        "band_structure=rib 1x1",
    ]);
    assert_eq!(ran.code, Some(1), "{ran:?}");
    assert!(ran.err.contains("needs a ribber"), "{}", ran.err);
}

/// Said once of the machine, or of a gift, it need not be said each time.
#[test]
fn the_machines_entry_says_it_and_a_choice_says_otherwise() {
    let demo = Demo::empty();
    let entry =
        "[[machine]]\nid = \"loft\"\npitch = \"4.5 mm\"\nneedles = 200\nribber = false\nby_hand = ";
    let write = |flag: &str| {
        std::fs::write(demo.path.join("machines.toml"), format!("{entry}{flag}\n"))
            .expect("written");
    };
    let rib = "band_structure=rib 1x1";
    let ask = ["pattern", "tam", "--size", "women-m", "--machine", "loft", "--set", rib];
    write("true");
    let ran = demo.run(&ask);
    assert!(ran.out.contains("By hand, knit") && ran.out.contains("ribs by hand"), "{ran:?}");
    let ran = demo.run(&[&ask[..], &["--set", "by_hand=no"]].concat());
    assert!(ran.code == Some(1) && ran.err.contains("needs a ribber"), "{ran:?}");
    let ran = demo.run(&[&ask[..], &["--set", "by_hand=perhaps"]].concat());
    assert!(ran.err.contains("option `by_hand`") && ran.err.contains("hint:"), "{ran:?}");
    write("false");
    let ran = demo.run(&ask);
    assert!(ran.err.contains("needs a ribber"), "{ran:?}");
    let ran = demo.run(&[&ask[..], &["--set", "by_hand=yes"]].concat());
    assert!(ran.out.contains("By hand, knit"), "{ran:?}");
    write("\"perhaps\"");
    let ran = demo.run(&ask);
    assert!(ran.err.contains("machines.toml:6") && ran.err.contains("rib, toe or"), "{ran:?}");
    // Of a machine's entry what a garment has nothing of is no mistake.
    write("\"rib, toe\"");
    let ran = demo.run(&ask);
    assert!(ran.out.contains("By hand, knit") && !ran.out.contains("In place of"), "{ran:?}");
}

/// A gift's own choice goes with it into what a remnant is asked for, and where it is carried on.
#[test]
fn a_gift_may_be_made_by_hand() {
    let demo = Demo::new();
    let add = ["gifts", "add", "--person", "Ruan", "--garment", "tam", "--id", "by-lamplight"];
    let ran = demo.run(&[&add[..], &["--set", "by_hand=yes"]].concat());
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert!(demo.text("gifts.toml").contains("by_hand"), "{}", demo.text("gifts.toml"));
    let wrong = demo.run(&[&add[..7], &["another", "--set", "by_hand=perhaps"]].concat());
    assert!(wrong.code == Some(1) && wrong.err.contains("by_hand"), "{wrong:?}");
    let plan = demo.plan(&[]);
    assert!(plan.to_string().contains("by-lamplight"), "{plan}");
    let reach = |more: &[&str]| {
        let ask = ["reach", "--garment", "tam", "--sizes", "women-m", "--machine", "mid"];
        demo.run(&[&ask[..], &["--set", "band_structure=rib 1x1"], more].concat())
    };
    assert!(!reach(&[]).out.contains("band"), "{:?}", reach(&[]));
    let by_hand = reach(&["--set", "by_hand=yes"]);
    assert!(by_hand.out.contains("band"), "{by_hand:?}");
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

const RIB: &str = "By hand, knit";
const GRAFT: &str = "In place of grafting: put the loops of the two edges";
const OR_DRAWN_UP: &str = "an end drawn twice through all their loops";
const DRAWN_UP: &str = "In place of grafting this end: draw an end twice";

#[test]
fn what_is_made_by_hand_is_chosen() {
    let says = |garment: &str, machine: &str, more: &[&str], told: [bool; 4]| {
        let ask = ["pattern", garment, "--size", "women-m", "--machine", machine];
        let ran = oddments(&[&ask[..], more].concat());
        assert_eq!(ran.code, Some(0), "{garment} {more:?}: {ran:?}");
        let text = one_line(&ran.out);
        for (words, told) in [RIB, GRAFT, OR_DRAWN_UP, DRAWN_UP].iter().zip(told) {
            assert_eq!(text.contains(words), told, "{garment} {more:?}: {words}");
        }
        ran.out
    };
    says("mitten", "standard", &[], [false; 4]);
    let all = says("mitten", "standard", &["--by-hand"], [true, true, true, false]);
    assert_eq!(all, says("mitten", "standard", &["--by-hand=yes"], [true, true, true, false]));
    let three = ["--by-hand", "rib,grafting,toe"];
    assert_eq!(all, says("mitten", "standard", &three, [true, true, true, false]));
    let rib = says("mitten", "standard", &["--by-hand", "rib"], [true, false, false, false]);
    assert!(rib.contains("with ribber; ribs by hand"), "{rib}");
    let toe = says("mitten", "standard", &["--by-hand", "toe"], [false, false, false, true]);
    assert!(toe.contains(", with ribber)"), "{toe}");
    says("mitten", "standard", &["--by-hand", "grafting"], [false, true, false, false]);
    says("mitten", "standard", &["--by-hand", "toe,grafting"], [false, true, true, false]);
    says("sock-flat", "standard", &["--by-hand", "toe"], [false, false, false, true]);
    says("mitten", "mid", &["--set", "by_hand=rib,toe"], [true, false, false, true]);
    // Alone it may stand before the garment.
    let before = oddments(&["pattern", "--by-hand", "mitten", "--size", "women-m"]);
    let behind = oddments(&["pattern", "mitten", "--size", "women-m", "--by-hand"]);
    assert!(before.code == Some(0) && before.out == behind.out, "{before:?}");
}

#[test]
fn what_a_garment_has_nothing_of_is_not_made_by_hand() {
    let refused = |garment: &str, what: &str, says: &str, hint: &str| {
        let more = format!("--by-hand={what}");
        let ran =
            oddments(&["pattern", garment, "--size", "women-m", "--machine", "standard", &more]);
        assert_eq!(ran.code, Some(1), "{garment} {what}: {ran:?}");
        let text = one_line(&ran.err);
        assert!(text.contains(says) && text.contains(hint), "{garment} {what}: {text}");
    };
    refused("hat", "toe", "`hat` has no toe or tip that is grafted", "as it is it has grafting");
    refused("shawl", "rib,toe", "`shawl` has no rib and no toe", "hint:");
    refused("mitten", "toes", "`toes` is no work that is done by hand", "did you mean `toe`?");
    // All of it means all that there is.
    let ran = oddments(&["pattern", "shawl", "--size", "women-m", "--by-hand"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    // Of many garments those that have it are told.
    let ask = ["reach", "--garment", "hat,mitten", "--sizes", "women-m", "--format", "json"];
    let reach = oddments(&[&ask[..], &["--set", "by_hand=toe"]].concat());
    assert!(reach.out.contains("Mittens") && !reach.out.contains("Close hat"), "{reach:?}");
    assert!(oddments(&ask).out.contains("Close hat"));
}

#[test]
fn the_interface_takes_the_choice_as_the_command_does() {
    let server = Server::new();
    let path = "/api/v1/pattern?garment=mitten&sizes=women-m&machine=mid&format=text&by_hand=";
    let ask = ["pattern", "mitten", "--size", "women-m", "--machine", "mid"];
    for (typed, flag) in
        [("yes", "--by-hand"), ("rib", "--by-hand=rib"), ("rib,toe", "--by-hand=rib,toe")]
    {
        let got = server.get(&format!("{path}{typed}"));
        assert_eq!(got.text(), command(&[&ask[..], &[flag]].concat()), "{typed}");
    }
    let wrong = server.get(&format!("{path}perhaps"));
    assert_eq!(wrong.status.as_u16(), 422, "{}", wrong.text());
    assert!(wrong.text().contains("rib, toe or grafting"), "{}", wrong.text());
    let read = |value: &str| -> app::Ask {
        serde_json::from_str(&format!("{{\"garment\":\"tam\",\"by_hand\":{value}}}")).expect(value)
    };
    let said = |value: &str| read(value).by_hand;
    assert_eq!((said("true"), said("false"), said("null")), (Some("yes".into()), None, None));
    assert_eq!(said("\"toe,rib\""), Some("toe,rib".into()));
    assert!(read("\"toe\"").query().contains("by_hand=toe"), "{}", read("\"toe\"").query());
    let graded = |typed: &str| {
        let path =
            format!("/api/v1/grade?garment=mitten&sizes=women-m&machine=mid&by_hand={typed}");
        server.get(&path).json()["machine"].clone()
    };
    assert_eq!(graded("rib")["by_hand"], true);
    assert_eq!(graded("rib")["hand_work"], serde_json::json!(["rib"]));
    assert_eq!(graded("yes")["hand_work"], serde_json::json!(["rib", "toe", "grafting"]));
}
