//! Body measures of one's own: in a workspace's size table, in a garment, in people.toml, and
//! where they are shown.

use std::path::PathBuf;

use crate::support::{Ran, oddments_in};

/// A garment that is as wide as a ring finger is round, in no machine's way.
const RING: &str = r#"
id = "ring"
title = "Ring"
version = "1.0.0"
api = 1
summary = "A band for a finger."
measures = ["ring_girth", "hand_girth"]
structures = ["plain"]
[sections]
band = "Band"
[own_measures.ring_girth]
title = "ring girth"
meaning = "round the root of the ring finger"
source = "a guess of the keeper's, no source"
part = "hand"
fill = [{ from = "hand_girth", times = 0.33, plus = -1, spread = 4 }]
"#;

const RING_SCRIPT: &str = r#"
return function(input)
	local ring = input.body.ring_girth
	warn("ring " .. string.format("%.2f", ring))
	local side = 2 * input.body.hand_girth
	local sts = math.ceil(side / input.gauges.plain.stitch_mm)
	local across = needles.centred(sts)
	local sheet = piece{ name = "band", title = "Band", section = "band", steps = {
		step.cast_on{ needles = across, method = "wound" },
		step.knit{ rows = 10 },
		step.cast_off(),
	} }
	return {
		pieces = { sheet },
		finished = {
			{ name = "width", title = "Width", target = sts * input.gauges.plain.stitch_mm, measure = "ring_girth",
			  parts = { { piece = "band", width = true } } },
		},
	}
end
"#;

struct Place {
    _hold: tempfile::TempDir,
    folder: PathBuf,
}

impl Place {
    fn new() -> Place {
        let hold = tempfile::tempdir().expect("a folder");
        let folder = hold.path().join("light");
        let ran = oddments_in(hold.path(), &["init", "light"]);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        Place { _hold: hold, folder }
    }

    fn with(self, path: &str, text: &str) -> Place {
        let path = self.folder.join(path);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        std::fs::write(path, text).expect("written");
        self
    }

    fn with_ring(self, manifest: &str) -> Place {
        self.with("garments/ring/plugin.toml", manifest)
            .with("garments/ring/init.luau", RING_SCRIPT)
    }

    fn run(&self, arguments: &[&str]) -> Ran {
        oddments_in(&self.folder, arguments)
    }

    fn good(&self, arguments: &[&str]) -> String {
        let ran = self.run(arguments);
        assert_eq!(ran.code, Some(0), "{arguments:?}: {}", ran.err);
        ran.out
    }

    fn refused(&self, arguments: &[&str]) -> String {
        let ran = self.run(arguments);
        assert_ne!(ran.code, Some(0), "{arguments:?}: {}", ran.out);
        ran.err
    }
}

fn size_of(json: &str, at: usize) -> serde_json::Value {
    let run: serde_json::Value = serde_json::from_str(json).expect("json");
    run["sizes"][at].clone()
}

fn near(value: &serde_json::Value, expected: f64) {
    let value = value.as_f64().expect("a number");
    assert!((value - expected).abs() < 0.051, "{value}, expected {expected}");
}

#[test]
fn a_garment_s_measure_is_filled_for_sizes_and_flagged() {
    let place = Place::new().with_ring(RING);
    let json = place.good(&["grade", "ring", "--sizes", "y4,women-m", "--format", "json"]);
    let women = size_of(&json, 1);
    // 0.33 x 187 - 1.
    near(&women["body"]["ring_girth"], 60.71);
    let how = &women["estimated"]["ring_girth"];
    assert_eq!(how["from"], serde_json::json!(["hand_girth"]));
    near(&how["sd_mm"], 4.0);
    assert_eq!(how["source"], "a guess of the keeper's, no source");
    assert!(women["estimated"]["hand_girth"].is_null(), "a figure of the table is none");
    let warnings = women["warnings"].to_string();
    assert!(warnings.contains("the ring girth is estimated from the hand girth"), "{warnings}");
    assert!(warnings.contains("round the root of the ring finger"), "{warnings}");
    assert!(warnings.contains("ring 60.71"), "the script read it: {warnings}");
}

#[test]
fn someone_gives_a_garment_s_measure_in_people_toml_and_by_hand() {
    let place = Place::new().with_ring(RING).with(
        "people.toml",
        "[[person]]\nname = \"Ruan\"\nsize = \"men-l\"\nring_girth = \"7 cm\"\n",
    );
    assert!(place.good(&["people", "list"]).contains("ring girth 7.0 cm"));
    place.good(&["people", "add", "Tamsin", "--measure", "ring_girth=5.5 cm"]);
    place.good(&["people", "change", "Tamsin", "--measure", "arm_length=52 cm"]);
    let people = std::fs::read_to_string(place.folder.join("people.toml")).expect("read");
    assert!(
        people.contains("ring_girth = \"5.5 cm\"") && people.contains("arm_length = \"52 cm\"")
    );
    let taken = ["--measure", "ring_girth=7 cm", "--measure", "hand_girth=21 cm"];
    let grade = |taken: &[&'static str]| [&["grade", "ring", "--format", "json"], taken].concat();
    let made = size_of(&place.good(&grade(&taken)), 0);
    near(&made["body"]["ring_girth"], 70.0);
    assert!(made["estimated"]["ring_girth"].is_null(), "it was taken");
    near(&size_of(&place.good(&grade(&taken[2..])), 0)["body"]["ring_girth"], 0.33 * 210.0 - 1.0);
    // A ring alone tells nothing of the hand: no line is read backwards without a sample.
    let told = place.refused(&grade(&taken[..2]));
    assert!(
        told.contains("the hand girth was not measured, and nothing that was tells it"),
        "{told}"
    );
    assert!(told.contains("measure it: round the knuckles"), "{told}");
    // What is none is told, by a command and in the file.
    let told = place.refused(&["people", "add", "Jory", "--measure", "ring_grith=5 cm"]);
    assert!(told.contains("did you mean `ring_girth`?"), "{told}");
    let told = place.refused(&["people", "add", "Jory", "--measure", "note=5 cm"]);
    assert!(told.contains("`note` is not a body measure"), "{told}");
    let place = place.with("people.toml", "[[person]]\nname = \"Jory\"\nrign_girth = \"7 cm\"\n");
    let told = place.refused(&["people", "list"]);
    assert!(told.contains("people.toml:3:1") && told.contains("`ring_girth`?"), "{told}");
}

#[test]
fn a_workspace_s_table_adds_a_measure_with_figures_and_lines() {
    let table = r#"
unit = "cm"
[measures.ring_girth]
title = "ring girth"
meaning = "round the root of the ring finger"
source = "the jeweller"
part = "hand"
[[fill]]
for = ["adults"]
source = "the jeweller's guess"
lines = [{ of = "ring_girth", from = "hand_girth", times = 0.3, plus = 0.5, spread = 0.3 }]
[[size]]
id = "y4"
group = "children"
body = { ring_girth = 4.4 }
"#;
    let place = Place::new().with("size-tables/own.toml", table).with_ring(RING);
    let chart =
        place.good(&["chart", "--measures", "ring_girth", "--sizes", "y4", "--format", "csv"]);
    assert_eq!(chart, "Size,Ring girth cm\ny4,4.4\n");
    assert!(
        place.good(&["chart", "--measures", "hand", "--format", "csv"]).contains("Ring girth cm")
    );
    let main = place.good(&["chart", "--format", "csv"]);
    assert!(main.starts_with(
        "Size,Head girth cm,Hand girth cm,Hand length cm,Wrist girth cm,Foot length cm,\
         Foot girth cm,Ankle girth cm,Calf girth cm\n"
    ));
    // The same measure in the garment is the table's: its figures and its lines.
    let json = place.good(&["grade", "ring", "--sizes", "y4,women-m", "--format", "json"]);
    near(&size_of(&json, 0)["body"]["ring_girth"], 44.0);
    assert!(size_of(&json, 0)["estimated"]["ring_girth"].is_null());
    near(&size_of(&json, 1)["body"]["ring_girth"], 0.3 * 187.0 + 5.0);
    assert_eq!(size_of(&json, 1)["estimated"]["ring_girth"]["source"], "the jeweller's guess");
    // No line for children: y7-8 has no ring.
    let told = place.refused(&["grade", "ring", "--sizes", "y7-8,women-m"]);
    assert!(told.contains("size `y7-8` has no ring_girth"), "{told}");
    assert!(told.contains("add it to the size table: round the root"), "{told}");
}

#[test]
fn what_can_t_be_is_told_at_its_place() {
    let clash = RING.replace("round the root of the ring finger", "round a bell");
    let place = Place::new().with_ring(&clash).with(
        "size-tables/own.toml",
        "[measures.ring_girth]\ntitle = \"ring girth\"\nmeaning = \"round the finger\"\nsource = \"x\"\n\
         [[size]]\nid = \"y4\"\ngroup = \"children\"\nbody = { ring_girth = \"44 mm\" }\n",
    );
    let told = place.refused(&["garment", "show", "ring"]);
    assert!(told.contains("measure-clash") && told.contains("round the finger"), "{told}");
    assert!(told.contains("plugin.toml:11:"), "{told}");
    for (from, to, words) in [
        ("ring_girth\", \"hand", "rign_girth\", \"hand", "did you mean `ring_girth`?"),
        ("[own_measures.ring_girth]", "[own_measures.Ring]", "takes small letters"),
        ("[own_measures.ring_girth]", "[own_measures.size]", "means something else beside"),
        ("from = \"hand_girth\"", "from = \"hand_grith\"", "did you mean `hand_girth`?"),
        ("from = \"hand_girth\"", "from = \"ring_girth\"", "would be filled from itself"),
        ("spread = 4", "spread = 0", "`spread` must be more than nought"),
        ("times = 0.33", "times = \"0.33\"", "`times` must be a number"),
        ("spread = 4 }", "spread = 4, r2 = 0.5 }", "this line has no `mean`"),
        (
            "spread = 4 }",
            "spread = 4, for = [\"kids\"] }",
            "a line is for babies, children, adults",
        ),
        ("part = \"hand\"", "part = \"arm\"", "is no part of a body"),
        ("source = \"a guess of the keeper's, no source\"\n", "", "has no `source`"),
        ("title = \"ring girth\"", "tilte = \"ring girth\"", "did you mean `title`?"),
        ("structures =", "sized_by = \"chest_girth\"\nstructures =", "is not among `measures`"),
    ] {
        assert!(RING.contains(from), "{from}");
        let place = Place::new().with_ring(&RING.replace(from, to));
        let told = place.refused(&["garment", "show", "ring"]);
        assert!(told.contains(words) && told.contains("plugin.toml:"), "{to}: {told}");
    }
    // Two of a garment's own that wait for each other.
    let circle = RING.replace("from = \"hand_girth\"", "from = \"bell_girth\"")
        + "[own_measures.bell_girth]\ntitle = \"bell\"\nmeaning = \"round a bell\"\nsource = \"x\"\n\
           fill = [{ from = \"ring_girth\", times = 2, spread = 1 }]\n";
    let told = Place::new().with_ring(&circle).refused(&["garment", "show", "ring"]);
    assert!(told.contains("bell_girth from ring_girth from bell_girth"), "{told}");
    // So many that to look for circles would take long.
    let many: String = (0..41).map(|n| format!("[own_measures.x{n}]\n")).collect();
    let told =
        Place::new().with_ring(&format!("{RING}{many}")).refused(&["garment", "show", "ring"]);
    assert!(told.contains("more than 40 body measures"), "{told}");
    let lines = "{ from = \"hand_girth\", times = 0.3, spread = 4 }, ".repeat(13);
    let many = RING.replace("fill = [", &format!("fill = [{lines}"));
    let told = Place::new().with_ring(&many).refused(&["garment", "show", "ring"]);
    assert!(told.contains("`fill` must be a list of lines, 12 at most"), "{told}");
    // Declared twice is a slip of TOML, told at its line.
    let twice = format!("{RING}[own_measures.ring_girth]\ntitle = \"again\"\n");
    let told = Place::new().with_ring(&twice).refused(&["garment", "show", "ring"]);
    assert!(told.contains("duplicate key"), "{told}");
}

#[test]
fn a_faulty_table_of_one_s_own_is_told_where_it_is_wrong() {
    let good = "unit = \"mm\"\n[measures.ring_girth]\ntitle = \"ring girth\"\nmeaning = \"round it\"\n\
                source = \"x\"\nfill = [{ from = \"hand_girth\", times = 0.3, spread = 4 }]\n\
                [[size]]\nid = \"y4\"\ngroup = \"children\"\nbody = { ring_girth = 44 }\n";
    assert!(store::parse_size_table("t.toml", good).is_ok());
    for (from, to, place, words) in [
        ("meaning = \"round it\"\n", "", "t.toml:3:", "only half declared"),
        ("\"round it\"", "\"  \"", "t.toml:4:", "the meaning of `ring_girth` can't be so"),
        ("measures.ring_girth", "measures.Ring", "t.toml:2:", "takes small letters"),
        ("measures.ring_girth", "measures.wash", "t.toml:2:", "means something else beside"),
        ("measures.ring_girth", "measures.hand_girth", "t.toml:2:", "means something else"),
        ("from = \"hand_girth\"", "from = \"ring_girth\"", "t.toml:6:", "filled from itself"),
        ("from = \"hand_girth\"", "from = \"hand\"", "t.toml:6:", "`hand` is not a body measure"),
        ("spread = 4", "spread = -4", "t.toml:6:", "`spread` must be more"),
        ("times = 0.3", "times = nan", "t.toml:6:", "`times` must be a number"),
        ("times = 0.3", "times = 0.3, mean = 9", "t.toml:6:", "`r2` and `mean` go together"),
        (
            "from = ",
            "of = \"stature\", from = ",
            "t.toml:6:",
            "a line of the column ring_girth fills `stature`",
        ),
    ] {
        assert!(good.contains(from), "{from}");
        let text = good.replace(from, to);
        let told = store::parse_size_table("t.toml", &text).expect_err(to).to_string();
        assert!(told.contains(place) && told.contains(words), "{to}: {told}");
    }
    let stature = format!(
        "{good}[[fill]]\nsource = \"x\"\nlines = [{{ of = \"stature\", from = \"hand_length\", times = 9, spread = 70 }}]\n"
    );
    let told = store::parse_size_table("t.toml", &stature).expect_err("a circle").to_string();
    assert!(told.contains("stature from hand_length from stature"), "{told}");
}

#[test]
fn two_garments_with_one_name_for_two_things_are_told_apart() {
    let bell = RING
        .replace("id = \"ring\"", "id = \"zither\"")
        .replace("round the root of the ring finger", "round a bell");
    let place = Place::new()
        .with_ring(RING)
        .with("garments/zither/plugin.toml", &bell)
        .with("garments/zither/init.luau", RING_SCRIPT)
        .with(
            "people.toml",
            "[[person]]\nname = \"Ruan\"\nsize = \"men-l\"\nring_girth = \"7 cm\"\n",
        );
    // Each stands for itself; what Ruan gave is the first one's alone.
    place.good(&["grade", "zither", "--sizes", "women-m"]);
    let contents = store::workspace::Folder::find(Some(&place.folder)).expect("one").expect("one");
    let seen = contents.read().expect("sound");
    let bench = app::Workspace::require(Some(&place.folder))
        .and_then(|workspace| workspace.bench(&app::WorkbenchSources::default()))
        .expect("sound");
    let given = &seen.contents.people[0].measures;
    for (garment, clash) in [("ring", false), ("zither", true)] {
        let plugin = bench.garment(garment).expect("sound");
        let table = bench.sizes_for(&plugin.manifest);
        let made = knit::body::made_to_measure(&table, given, "Ruan");
        let told = made.err().map_or_else(String::new, |faults| faults.to_string());
        assert_eq!(told.contains("ring_girth means two things"), clash, "{garment}: {told}");
    }
}

/// The same garment as if it went by the chest.
fn sleeve(more: &str) -> String {
    let measures = "measures = [\"chest_girth\", \"arm_length\", \"ring_girth\", \"hand_girth\"]";
    RING.replace("measures = [\"ring_girth\", \"hand_girth\"]", &format!("{measures}\n{more}"))
}

#[test]
fn a_garment_by_the_chest_takes_what_goes_with_it() {
    let arm = |place: &Place, size: &str| {
        let json = place.good(&["grade", "ring", "--sizes", size, "--format", "json"]);
        size_of(&json, 0)["body"]["arm_length"].as_f64().expect("an arm")
    };
    // ANSUR II 2012, men: arm on chest, 518.3 + 0.0706 x 1233; women: 462.2 + 0.0859 x 863.
    let by_chest = Place::new().with_ring(&sleeve(""));
    assert_eq!((arm(&by_chest, "men-xl"), arm(&by_chest, "women-s")), (605.0, 536.0));
    // By another measure each stands for itself: percentiles 97 and 15.
    let by_hand = Place::new().with_ring(&sleeve("sized_by = \"hand_girth\""));
    assert_eq!((arm(&by_hand, "men-xl"), arm(&by_hand, "women-s")), (653.0, 514.0));
    // One's own figures stand: a chest moves what goes with it, an arm stays as it is.
    let own = "unit = \"mm\"\n[measures.chest_girth]\nsource = \"x\"\n[measures.arm_length]\nsource = \"x\"\n\
               [[size]]\nid = \"men-xl\"\ngroup = \"men\"\nbody = { chest_girth = 1333 }\n\
               [[size]]\nid = \"men-l\"\ngroup = \"men\"\nbody = { arm_length = 700 }\n";
    let place = by_chest.with("size-tables/own.toml", own);
    assert_eq!((arm(&place, "men-xl"), arm(&place, "men-l")), (612.0, 700.0));
    // So do the figures of someone's size, by the chest that was measured.
    let told = place.refused(&["chart", "--sized-by", "hand_girth"]);
    assert!(told.contains("it does for chest_girth"), "{told}");
    let told = place.refused(&["chart", "--measures", "torsi"]);
    assert!(told.contains("did you mean `torso`?"), "{told}");
    let told = place.refused(&["chart", "tam", "--sized-by", "chest_girth"]);
    assert!(told.contains("--sized-by is for body charts"), "{told}");
}
