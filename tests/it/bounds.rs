//! Numbers out of all reason, in every argument that takes one and in the files that hold one: said to
//! be wrong and what would be right, never taken for another, never waited for.

use std::any::TypeId;

use axum::http::{Method, header};

use crate::demo::Demo;
use crate::server::{Answer, Server, problem, request};
use crate::support::Ran;

/// Numbers that are too much for some type or another, and texts that are nearly numbers.
const NUMBERS: [&str; 14] = [
    "18446744073709551615",
    "18446744073709551616",
    "18446744073709552",
    "9223372036854775807",
    "-9223372036854775808",
    "-1",
    "0",
    "-0",
    "1e400",
    "1e308",
    "NaN",
    "inf",
    "3.5",
    "0x10",
];

/// Of these, those that a text of a number and a unit may trip over.
const FEW: [&str; 6] = ["18446744073709551615", "-1", "0", "1e400", "1e308", "NaN"];

/// A command that reads a number where `#` stands, by the flag it is about.
const COMMANDS: [(&str, &str); 36] = [
    ("work", "plan --today=2026-09-01 --threads=1 --work=#"),
    ("threads", "plan --today=2026-09-01 --work=0 --threads=#"),
    ("seed", "plan --today=2026-09-01 --work=0 --seed=#"),
    ("jobs", "batch none.jsonl --jobs=#"),
    ("count-from", "batch none.jsonl --count-from=#"),
    (
        "contact",
        "pattern tam --size=women-m --format=svg --picture=stripes --yarn=slate --contact=#",
    ),
    ("class", "yarn add y1 --class=#"),
    ("class", "yarn change slate --class=#"),
    ("priority", "gifts add --person=Tamsin --garment=tam --priority=#"),
    ("priority", "gifts change tamsin-hat --priority=#"),
    ("stitches", "swatch dial --yarn=slate --stitches=#"),
    (
        "stitches",
        "swatch add s1 --state=washed --yarn=250~tex --widths=14~cm --heights=15~cm --rows=9 --stitches=#",
    ),
    (
        "rows",
        "swatch add s2 --state=washed --yarn=250~tex --widths=14~cm --heights=15~cm --stitches=9 --rows=#",
    ),
    (
        "dial",
        "swatch add s3 --state=washed --yarn=250~tex --widths=14~cm --heights=15~cm --stitches=9 --rows=9 --dial=#",
    ),
    (
        "weighed-stitches",
        "swatch add s4 --state=washed --yarn=250~tex --widths=14~cm --heights=15~cm --stitches=9 --rows=9 --weight=5~g --weighed-rows=9 --weighed-stitches=#",
    ),
    (
        "weighed-rows",
        "swatch add s5 --state=washed --yarn=250~tex --widths=14~cm --heights=15~cm --stitches=9 --rows=9 --weight=5~g --weighed-stitches=9 --weighed-rows=#",
    ),
    ("change", "undo --change=#"),
    ("extra-rows", "carry-on tam --size=women-m --at=hat:100 --extra-rows=#"),
    ("from-priority", "shop --today=2026-09-01 --work=0 --from-priority=#"),
    ("money", "shop --today=2026-09-01 --work=0 --money=#"),
    ("work", "shop --today=2026-09-01 --threads=1 --work=#"),
    ("threads", "shop --today=2026-09-01 --work=0 --threads=#"),
    ("seed", "shop --today=2026-09-01 --work=0 --seed=#"),
    ("hours-a-week", "knitters add Wenna --hours-a-week=#"),
    ("hours-a-week", "knitters change Wenna --hours-a-week=#"),
    ("reserve-g", "yarn add y2 --reserve-g=#"),
    ("reserve-g", "yarn change slate --reserve-g=#"),
    ("ball-g", "yarn add y3 --ball-g=#"),
    ("ball-g", "yarn change slate --ball-g=#"),
    ("price", "yarn add y4 --price=#"),
    ("price", "yarn change slate --price=#"),
    ("count", "gifts add --id=hats --garment=hat --sizes=children --count=#"),
    ("count", "gifts change tamsin-hat --count=#"),
    (
        "each-at-least",
        "gifts add --id=hats --garment=hat --sizes=children --count=9 --each-at-least=#",
    ),
    ("each-at-least", "gifts change tamsin-hat --each-at-least=#"),
    ("listen", "serve --workspace=nowhere --listen=127.0.0.1:#"),
];

/// Commands that read a number with its unit, or within a text.
const WORDED: [&str; 22] = [
    "record tam --size=women-m --used=band:lampglass-1=70~g --used=hat:lampglass-1=32~g --minutes=#",
    "grade tam --sizes=women-m --set=wedges=#",
    "grade tam --sizes=women-m --set=ease=#~%",
    "grade tam --sizes=women-m --set=disc=#~cm",
    "grade tam --measure=head_girth=#~cm",
    "reach --garment=hat --sizes=women-m --weight=#~kg",
    "reach --garment=hat --sizes=women-m --weight=34~g --scale-step=#~g",
    "reach --garment=hat --sizes=women-m --weight=34~g --risk=#~%",
    "pattern tam --size=women-m --format=svg --picture=stripes --yarn=slate@#g",
    "pattern tam --size=women-m --format=svg --picture=stripes --yarn=slate --start=#m",
    "pattern tam --size=women-m --format=svg --picture=stripes --yarn=slate --look=bold --vary=wedges=#..9223372036854775807",
    "pattern tam --size=women-m --format=svg --picture=stripes --yarn=slate --look=bold --vary=wedges=-9223372036854775808..#",
    "carry-on tam --size=women-m --at=hat:#",
    "carry-on tam --size=women-m --at=hat:+#",
    "carry-on tam --size=women-m --at=hat:100 --now=plain=#x39",
    "carry-on tam --size=women-m --at=hat:100 --now=plain=#%x0%",
    "carry-on tam --size=women-m --at=hat:100 --left=#~g",
    "grade tam --sizes=women-m --needles=#",
    "grade tam --sizes=women-m --out-of-work=L#",
    "stash add --yarn=slate --weight=#~g",
    "stash change slate-1 --weight=#~kg",
    "record tam --size=women-m --used=hat:shoreline-2=#~g",
];

/// The words of a command with a number in it; `~` is a space within a word.
fn words(command: &str, number: &str) -> Vec<String> {
    command.split(' ').map(|word| word.replace('~', " ").replace('#', number)).collect()
}

fn run(demo: &Demo, command: &str, number: &str) -> Ran {
    let words = words(command, number);
    demo.run(&words.iter().map(String::as_str).collect::<Vec<_>>())
}

/// Where such a command is run: where plans take no time, or where there is something to change.
fn place(command: &str) -> Demo {
    let demo = if command.starts_with("plan") || command.starts_with("shop") {
        Demo::empty()
    } else {
        Demo::new()
    };
    std::fs::write(demo.path.join("none.jsonl"), "\n\n").expect("written");
    demo
}

/// Done, refused or wrong usage; and where it is not done, something says what to do.
fn sound(command: &str, number: &str, ran: &Ran) {
    let told = format!("{command} with {number}: {:?}\n{}", ran.code, ran.err);
    assert!(matches!(ran.code, Some(0..=3)), "{told}");
    assert!(!ran.err.contains("panicked"), "{told}");
    if ran.code == Some(2) {
        let helps = ["--help", "hint"].iter().any(|word| ran.err.contains(word));
        assert!(helps, "no hint: {told}");
    }
}

/// What the program does with arguments that it can't read; `None`: it reads them.
fn refused(command: &str, number: &str) -> Option<Ran> {
    let words = std::iter::once("oddments".to_owned()).chain(words(command, number));
    let error = cli::command().try_get_matches_from(words).err()?;
    let code = Some(if error.use_stderr() { 2 } else { 0 });
    Some(Ran { code, out: String::new(), err: error.render().to_string() })
}

/// A command with each of the numbers: refused where it is read, else run.
fn bounded(command: &str, numbers: &[&str]) {
    let demo = place(command);
    for number in numbers {
        let done = refused(command, number).unwrap_or_else(|| run(&demo, command, number));
        sound(command, number, &done);
    }
}

#[test]
fn every_numeric_argument_has_bounds() {
    COMMANDS.iter().for_each(|(_, command)| bounded(command, &NUMBERS));
}

/// Where arguments are refused here they are refused there, in the same words.
#[test]
fn what_is_refused_here_is_refused_by_the_program() {
    let demo = Demo::empty();
    let mut seen = 0;
    for command in COMMANDS.iter().map(|(_, command)| command).chain(&WORDED) {
        let Some(number) = NUMBERS.iter().find(|number| refused(command, number).is_some()) else {
            continue;
        };
        seen += 1;
        assert_eq!(Some(run(&demo, command, number)), refused(command, number), "{command}");
    }
    assert!(seen > 30, "{seen} commands");
}

/// A number that a flag can't be is wrong usage, and its bounds are named.
#[test]
fn flags_of_plan_and_batch_name_their_bounds() {
    for (flag, bounds) in [
        ("work", "from 0 to 10000000"),
        ("threads", "from 0 to 256"),
        ("seed", "from 0 to 18446744073709551615"),
        ("jobs", "from 1 to 1024"),
        ("count-from", "from 1 to 9007199254740991"),
    ] {
        let (_, command) = COMMANDS.iter().find(|(about, _)| *about == flag).expect("a command");
        let demo = place(command);
        for number in ["18446744073709551616", "-1", "1e400", "NaN", "0.5", "4 "] {
            let ran = run(&demo, command, number);
            assert_eq!(ran.code, Some(2), "--{flag}={number}: {}", ran.err);
            let expected = format!("write a whole number {bounds}");
            assert!(ran.err.contains(&expected), "--{flag}={number}: {}", ran.err);
        }
    }
    // Multiplied by a thousand it went past 64 bits and was 448 units.
    let [(_, work), (_, threads), ..] = COMMANDS;
    let demo = place(work);
    assert_eq!(run(&demo, work, "18446744073709552").code, Some(2));
    assert_eq!(run(&demo, threads, "4000").code, Some(2));
    assert_eq!(run(&demo, threads, "256"), run(&demo, threads, "1"));
}

/// The table above is whole: no argument of a number's type is left out of it.
#[test]
fn no_numeric_argument_is_forgotten() {
    fn flags(command: &clap::Command, path: &str, all: &mut Vec<(String, String)>) {
        let numeric = [
            TypeId::of::<u8>(),
            TypeId::of::<u16>(),
            TypeId::of::<u32>(),
            TypeId::of::<u64>(),
            TypeId::of::<usize>(),
            TypeId::of::<i64>(),
            TypeId::of::<f64>(),
            TypeId::of::<(std::net::IpAddr, u16)>(),
        ];
        for argument in command.get_arguments() {
            if numeric.iter().any(|number| argument.get_value_parser().type_id() == *number) {
                let flag = argument.get_long().unwrap_or("no flag");
                all.push((path.to_owned(), flag.to_owned()));
            }
        }
        for inner in command.get_subcommands() {
            flags(inner, &format!("{path}{} ", inner.get_name()), all);
        }
    }
    let mut all = Vec::new();
    flags(&cli::command(), "", &mut all);
    assert_eq!(all.len(), COMMANDS.len(), "{all:?}");
    for (path, flag) in all {
        let tried = |(about, line): &(&str, &str)| *about == flag && line.starts_with(&path);
        assert!(COMMANDS.iter().any(tried), "{path}--{flag} is not tried");
    }
}

#[test]
fn numbers_within_texts_have_bounds() {
    WORDED.iter().for_each(|command| bounded(command, &FEW));
}

#[test]
fn settings_have_bounds() {
    let demo = Demo::empty();
    let file = demo.path.join("oddments.toml");
    for key in [
        "hours_a_week",
        "most_joins",
        "weights.priority",
        "weights.preference",
        "weights.join",
        "weights.drib",
    ] {
        for number in [
            "18446744073709551615",
            "9223372036854775807",
            "-1",
            "1e400",
            "nan",
            "inf",
            "-inf",
            "1e308",
        ] {
            std::fs::write(&file, format!("{key} = {number}\n")).expect("written");
            let ran = run(&demo, "plan --today=2026-09-01 --work=0", "");
            let told = format!("{key} = {number}: {:?}\n{}", ran.code, ran.err);
            assert_eq!(ran.code, Some(1), "{told}");
            assert!(ran.err.contains("oddments.toml:1:") && ran.err.contains("hint"), "{told}");
            assert!(!ran.err.contains("panicked"), "{told}");
        }
    }
    for key in ["least_useful", "drib_limit", "scale_step", "reserve", "risk"] {
        for number in ["18446744073709551615", "-1", "1e400", "nan", "inf", "1e308"] {
            let unit = if matches!(key, "reserve" | "risk") { "%" } else { "kg" };
            std::fs::write(&file, format!("{key} = \"{number} {unit}\"\n")).expect("written");
            let ran = run(&demo, "plan --today=2026-09-01 --work=0", "");
            let told = format!("{key} = {number}: {:?}\n{}", ran.code, ran.err);
            assert_eq!(ran.code, Some(1), "{told}");
            assert!(ran.err.contains("oddments.toml:1:") && ran.err.contains("hint"), "{told}");
        }
    }
}

/// Over HTTP: whatever stands where a number belongs, the answer is one, and never that something broke.
#[test]
fn numbers_in_requests_have_bounds() {
    let demo = Demo::new();
    let server = Server::of(&demo);
    let ask = "/api/v1/grade?garment=tam&sizes=women-m";
    let swatch = "yarn=400+m/100+g&plain.width=10+cm&plain.height=10+cm";
    let queries = [
        format!("{ask}&o.wedges=#"),
        format!("{ask}&o.ease=#+%25"),
        format!("{ask}&o.disc=#+cm"),
        "/api/v1/grade?garment=tam&m.head_girth=#+cm".to_owned(),
        format!("{ask}&{swatch}&plain.stitches=#&plain.rows=40"),
        format!("{ask}&{swatch}&plain.stitches=30&plain.rows=#"),
        format!("{ask}&{swatch}&plain.stitches=30&plain.rows=40&plain.dial=#"),
        "/machine?garment=tam&sizes=women-m&at=#".to_owned(),
        "/api/v1/reach?garment=hat&sizes=women-m&weight=#+kg".to_owned(),
        "/api/v1/reach?garment=hat&sizes=women-m&weight=34+g&scale_step=#+g".to_owned(),
        "/api/v1/reach?garment=hat&sizes=women-m&weight=34+g&risk=#+%25".to_owned(),
        "/api/v1/pattern?garment=tam&sizes=women-m&format=svg&picture=stripes&ball=slate@#g"
            .to_owned(),
    ];
    let bodies = [
        ("/api/v1/plans", r#"{"today":"2026-09-01","work":#}"#),
        ("/api/v1/plans", r#"{"today":"2026-09-01","work":1,"seed":#}"#),
        ("/api/v1/shopping-lists", r#"{"today":"2026-09-01","work":#}"#),
        ("/api/v1/shopping-lists", r#"{"today":"2026-09-01","work":1,"seed":#}"#),
        ("/api/v1/shopping-lists", r#"{"today":"2026-09-01","work":1,"money":#}"#),
        ("/api/v1/shopping-lists", r#"{"today":"2026-09-01","work":1,"from_priority":#}"#),
        ("/api/v1/grade", r#"{"garment":"tam","sizes":"women-m","options":{"wedges":#}}"#),
        ("/api/v1/grade", r##"{"garment":"tam","measures":{"head_girth":"# cm"}}"##),
        ("/api/v1/batch", r#"{"line":#,"garment":"tam","sizes":"women-m"}"#),
        ("/api/v1/lists/gifts", r#"{"person":"Tamsin","garment":"tam","priority":#}"#),
        ("/api/v1/lists/yarns", r##"{"id":"y1","name":"Y","yarn":"250 tex","class":#}"##),
        ("/api/v1/lists/stash", r##"{"id":"s1","yarn":"tide","weight":"# kg"}"##),
    ];
    let sound = |told: String, answer: &Answer| {
        let status = answer.status;
        assert!(
            status.is_success() || status.is_client_error() || status.is_redirection(),
            "{told}: {status}"
        );
        assert!(!answer.text().contains("something broke"), "{told}: {}", answer.text());
    };
    for number in NUMBERS {
        for query in &queries {
            let path = query.replace('#', number);
            sound(path.clone(), &server.get(&path));
        }
        for (path, body) in bodies {
            let body = body.replace('#', number);
            let sent = request(Method::POST, path).header(header::CONTENT_TYPE, "application/json");
            sound(body.clone(), &server.send(sent.body(body.into()).expect("a request")));
        }
    }
    for work in ["0", "2001", "18446744073709551615", "18446744073709552"] {
        let body = format!("{{\"work\":{work}}}");
        let sent =
            request(Method::POST, "/api/v1/plans").header(header::CONTENT_TYPE, "application/json");
        problem(&server.send(sent.body(body.into()).expect("a request")), "work");
    }
}
