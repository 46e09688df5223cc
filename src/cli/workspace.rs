//! The commands that keep a workspace: init, stash, yarn, people, gifts, swatch, undo, schema.

use std::path::Path;

use super::Done;
use super::output::Output;
use super::shared_args::{PlainRowArgs, WorkspaceArgs, key_values, options};
use super::workspace_args::{
    GiftArgs, GiftIds, GiftsCommand, InitArgs, KnitterArgs, KnittersCommand, PeopleCommand,
    PersonArgs, RemnantArgs, ReservedArgs, SchemaArgs, StashCommand, SwatchAddArgs, SwatchCommand,
    SwatchDialArgs, UndoArgs, YarnArgs, YarnCommand,
};
use app::{
    Dependents, GiftDeed, Removed, Reserved, WorkbenchSources, Workspace, WorkspaceEdit, dial_for,
    gift_stem, init_workspace,
};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::program::Structure;
use knit::stash::{GarmentChoice, Reservation};
use report::{self, Format, Grid, gift_words};
use store::workspace::{
    ChangeMark, EntryKind, EntryName, Fields, Given, List, Named, PastChange, UndoAsk, schema,
    schema_names,
};
use units::{PerTen, UnitError, readings};

pub(super) fn init(args: &InitArgs, output: &mut Output) -> Done {
    init_workspace(&args.folder, args.demo)?;
    let shown = args.folder.display();
    let next = if args.demo { "stash list" } else { "people add NAME --size women-m" };
    output.result(
        None,
        &format!("{shown} is a workspace. Go on with\n\n  cd {shown}\n  oddments {next}\n"),
    )?;
    Ok(true)
}

pub(super) fn undo(args: &UndoArgs, output: &mut Output) -> Done {
    let mut edit = WorkspaceEdit::open(args.workspace.workspace.as_deref())?;
    if args.list {
        let history = edit.history();
        output.diagnostics(&edit.warnings);
        output.result(None, &changes(&history).write(Format::Table))?;
        return Ok(true);
    }
    let change = args.change.map(ChangeMark::from);
    let ask = UndoAsk { redo: args.redo, change, once: None };
    let undone = edit.undo(&ask)?;
    output.diagnostics(&edit.warnings);
    let what = if args.redo { "done again" } else { "taken back" };
    let files = undone.files.join(", ");
    output
        .result(None, &format!("`{}` of {} is {what}: {files}\n", undone.command, undone.time))?;
    Ok(true)
}

/// The changes that there were, the last one first.
fn changes(history: &[PastChange]) -> Grid {
    let headings = ["Change", "Of", "Command", "About", "Stands"].map(str::to_owned);
    let mut grid = Grid::new("", headings.to_vec());
    grid.wordy = true;
    for change in history.iter().rev() {
        grid.rows.push(vec![
            change.mark.number.to_string(),
            change.time.clone(),
            change.command.clone(),
            about(&change.entries),
            if change.taken_back { "taken back" } else { "yes" }.to_owned(),
        ]);
    }
    grid
}

/// What a change was about, in few words.
fn about(entries: &[EntryName]) -> String {
    const MOST: usize = 3;
    // Where yarn is set aside for a gift, the gift itself is named.
    let mut words: Vec<String> = entries
        .iter()
        .filter(|name| name.kind != EntryKind::SetAside)
        .map(ToString::to_string)
        .collect();
    words.dedup();
    let more = words.len().saturating_sub(MOST);
    words.truncate(MOST);
    match more {
        0 => words.join(", "),
        more => format!("{} and {more} more", words.join(", ")),
    }
}

/// Of what is read, not of what is written: the data of `pattern --format json`.
const PATTERN: &str = "pattern";

pub(super) fn schemas(args: &SchemaArgs, output: &mut Output) -> Done {
    let mut names = schema_names();
    names.push(PATTERN);
    let text = match &args.name {
        None => names.iter().map(|name| format!("{name}\n")).collect(),
        Some(name) if name == PATTERN => report::PATTERN_SCHEMA.to_owned(),
        Some(name) => schema(name).ok_or_else(|| {
            let hint = match nearest(name, names.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("the kinds are {}", names.join(", ")),
            };
            Diagnostic::error(Code::Usage, format!("`{name}` is no kind of file")).hint(hint)
        })?,
    };
    output.result(args.output.as_deref(), &text)?;
    Ok(true)
}

/// Runs a change and says what was done.
fn change(
    workspace: &WorkspaceArgs,
    output: &mut Output,
    make: impl FnOnce(&mut WorkspaceEdit) -> Result<String, Diagnostics>,
) -> Done {
    let mut edit = WorkspaceEdit::open(workspace.workspace.as_deref())?;
    let done = make(&mut edit);
    output.diagnostics(&edit.warnings);
    output.result(None, &format!("{}\n", done?))?;
    Ok(true)
}

fn list(
    workspace: &WorkspaceArgs,
    rows: &PlainRowArgs,
    output: &mut Output,
    grid: impl FnOnce(&Workspace) -> Result<Grid, Diagnostics>,
) -> Done {
    let workspace = Workspace::require(workspace.workspace.as_deref())?;
    output.diagnostics(&workspace.warnings);
    output.result(rows.output.as_deref(), &grid(&workspace)?.write(rows.format))?;
    Ok(true)
}

/// A key for every flag given; an empty text takes the key out.
#[derive(Default)]
struct Keys(Fields);

impl Keys {
    fn text(&mut self, key: &str, given: Option<&String>) {
        if let Some(text) = given {
            let given = if text.is_empty() { Given::Nothing } else { Given::text(text) };
            self.0.push((key.to_owned(), given));
        }
    }

    fn put(&mut self, key: &str, given: Option<Given>) {
        self.0.extend(given.map(|given| (key.to_owned(), given)));
    }

    /// For a change: something must be given.
    fn some(self) -> Result<Fields, Diagnostics> {
        self.some_or(false)
    }

    /// As [`some`](Self::some), where `other` says that something is to be done all the same.
    fn some_or(self, other: bool) -> Result<Fields, Diagnostics> {
        if self.0.is_empty() && !other {
            return Err(Diagnostic::error(Code::Usage, "nothing is to be changed")
                .hint("name what is to be changed; --help lists it")
                .into());
        }
        Ok(self.0)
    }
}

/// What was changed, and which yarn is free by it.
fn changed(id: &str, freed: &[Reservation]) -> String {
    let freed = gift_words::freed(freed).map_or_else(String::new, |freed| format!("; {freed}"));
    format!("changed {id}{freed}")
}

/// What was removed, and what that leaves.
fn gone(ids: &[String], removed: &Removed) -> String {
    let mut seen = std::collections::BTreeSet::new();
    let ids: Vec<&str> = ids.iter().map(String::as_str).filter(|id| seen.insert(*id)).collect();
    let mut text = format!("removed {}", ids.join(", "));
    if !removed.gifts.is_empty() {
        text.push_str(&format!("; with it went {}", removed.gifts.join(", ")));
    }
    if let Some(freed) = gift_words::freed(&removed.freed) {
        text.push_str(&format!("; {freed}"));
    }
    for (gift, section, remnant) in &removed.unpinned {
        text.push_str(&format!("; {gift} is no longer to have its {section} from {remnant}"));
    }
    text
}

impl ReservedArgs {
    fn given(&self) -> Reserved {
        match (self.free, self.keep_yarn) {
            (true, _) => Reserved::Free,
            (_, true) => Reserved::Keep,
            _ => Reserved::Refuse,
        }
    }
}

fn dependents(too: bool) -> Dependents {
    if too { Dependents::Remove } else { Dependents::Keep }
}

pub(super) fn stash(command: &StashCommand, output: &mut Output) -> Done {
    match command {
        StashCommand::Add { id, yarn, weight, more, workspace } => {
            let mut keys = Keys::default();
            keys.put("yarn", Some(Given::text(yarn)));
            keys.put("weight", Some(Given::text(weight)));
            remnant(&mut keys, more);
            change(workspace, output, |edit| {
                let id = edit.add("stash add", List::Stash, id.as_deref(), yarn, keys.0)?;
                Ok(format!("added {id}"))
            })
        }
        StashCommand::List { yarn, rows, workspace } => {
            list(workspace, rows, output, |workspace| {
                let yarn = yarn.as_deref();
                if let Some(id) = yarn.filter(|id| !workspace.contents.yarns.contains_key(*id)) {
                    let known = workspace.contents.yarns.keys().map(String::as_str);
                    return Err(no_such("yarn", id, known));
                }
                Ok(workspace
                    .tagged(EntryKind::Remnant, report::stash_list(&workspace.contents, yarn)))
            })
        }
        StashCommand::Change { id, new_id, yarn, weight, more, reserved, workspace } => {
            let mut keys = Keys::default();
            keys.put("id", new_id.as_ref().map(Given::text));
            keys.text("yarn", yarn.as_ref());
            keys.text("weight", weight.as_ref());
            remnant(&mut keys, more);
            let fields = keys.some_or(reserved.free)?;
            change(workspace, output, |edit| {
                let reserved = reserved.given();
                let freed = edit.change_entry("stash change", List::Stash, id, fields, reserved)?;
                Ok(changed(new_id.as_ref().unwrap_or(id), &freed))
            })
        }
        StashCommand::Remove { ids, and_reservations, workspace } => {
            let too = dependents(*and_reservations);
            change(workspace, output, |edit| {
                let removed = edit.remove("stash remove", List::Stash, ids, too)?;
                Ok(gone(ids, &removed))
            })
        }
    }
}

fn remnant(keys: &mut Keys, args: &RemnantArgs) {
    keys.text("lot", args.lot.as_ref());
    keys.text("start", args.start.as_ref());
    keys.text("where", args.place.as_ref());
    keys.text("keep_for", args.keep_for.as_ref());
    keys.text("note", args.note.as_ref());
}

fn no_such<'a>(what: &str, id: &str, known: impl Iterator<Item = &'a str>) -> Diagnostics {
    let near = nearest(id, known).map(|near| format!("did you mean `{near}`?"));
    Diagnostic::error(Code::Nothing, format!("there is no {what} `{id}`")).maybe_hint(near).into()
}

pub(super) fn yarn(command: &YarnCommand, output: &mut Output) -> Done {
    match command {
        YarnCommand::Add { id, yarn, workspace } => {
            if yarn.colours.is_empty() {
                let fault = "a yarn has a colour, and none is given";
                return Err(Diagnostic::error(Code::Usage, fault)
                    .hint(format!("add `--colour \"{id} #5b6770\"`: a name for it and its shade"))
                    .into());
            }
            let fields = yarn_keys(yarn)?.0;
            change(workspace, output, |edit| {
                edit.add_yarn(id, fields)?;
                Ok(format!("added {id}"))
            })
        }
        YarnCommand::List { rows, workspace } => list(workspace, rows, output, |workspace| {
            Ok(workspace.tagged(EntryKind::Yarn, report::yarn_list(&workspace.contents)))
        }),
        YarnCommand::Change { id, new_id, yarn, workspace } => {
            let mut keys = Keys::default();
            keys.put("id", new_id.as_ref().map(Given::text));
            keys.0.extend(yarn_keys(yarn)?.0);
            let fields = keys.some()?;
            change(workspace, output, |edit| {
                edit.change_yarn(id, fields)?;
                Ok(format!("changed {}", new_id.as_ref().unwrap_or(id)))
            })
        }
        YarnCommand::Remove { id, and_remnants, workspace } => {
            let too = dependents(*and_remnants);
            change(workspace, output, |edit| {
                let removed = edit.remove_yarn(id, too)?;
                Ok(gone(std::slice::from_ref(id), &removed))
            })
        }
    }
}

fn yarn_keys(args: &YarnArgs) -> Result<Keys, Diagnostics> {
    let mut keys = Keys::default();
    keys.text("name", args.name.as_ref());
    keys.text("yarn", args.yarn.as_ref());
    keys.put("class", args.class.map(Given::Whole));
    keys.text("fibres", args.fibres.as_ref());
    keys.text("care", args.care.as_ref());
    keys.put("repeat", args.repeat.map(Given::Flag));
    keys.put("reserve_g", args.reserve_g.map(none_at_nought));
    keys.put("ball_g", args.ball_g.map(none_at_nought));
    keys.put("price", args.price.map(none_at_nought));
    keys.put("swatches", texts(&args.swatches));
    let colours: Vec<Fields> = args.colours.iter().map(|c| colour(c)).collect::<Result<_, _>>()?;
    keys.put("colour", Some(Given::Tables(colours)).filter(|_| !args.colours.is_empty()));
    Ok(keys)
}

/// `deep water #1d4a5e 7 m`: the name may have blanks, and the length too.
fn colour(text: &str) -> Result<Fields, Diagnostics> {
    let Some((name, rest)) = text.split_once('#') else {
        return Err(Diagnostic::error(Code::Usage, format!("`--colour {text}` has no shade"))
            .hint("write name, shade and length: --colour \"kelp #4f6b3a 4 m\"")
            .into());
    };
    let (shade, length) = rest.split_once(' ').unwrap_or((rest, ""));
    let mut fields = vec![
        ("name".to_owned(), Given::text(name.trim())),
        ("shade".to_owned(), Given::text(format!("#{shade}"))),
    ];
    if !length.trim().is_empty() {
        fields.push(("length".to_owned(), Given::text(length.trim())));
    }
    Ok(fields)
}

/// A list of texts, where some were given; a single empty one is an empty list.
fn texts(given: &[String]) -> Option<Given> {
    match given {
        [] => None,
        [empty] if empty.is_empty() => Some(Given::Nothing),
        all => Some(Given::Texts(all.to_vec())),
    }
}

pub(super) fn people(command: &PeopleCommand, output: &mut Output) -> Done {
    match command {
        PeopleCommand::Add { name, person, workspace } => change(workspace, output, |edit| {
            let fields = person_keys(person, edit)?.0;
            edit.add("people add", List::People, Some(name), "", fields)?;
            Ok(format!("added {name}"))
        }),
        PeopleCommand::List { rows, workspace } => list(workspace, rows, output, |workspace| {
            Ok(workspace.tagged(EntryKind::Person, report::people_list(&workspace.contents)))
        }),
        PeopleCommand::Change { name, new_name, person, workspace } => {
            change(workspace, output, |edit| {
                let mut keys = Keys::default();
                keys.put("name", new_name.as_ref().map(Given::text));
                keys.0.extend(person_keys(person, edit)?.0);
                let fields = keys.some()?;
                let reserved = Reserved::Refuse;
                edit.change_entry("people change", List::People, name, fields, reserved)?;
                Ok(format!("changed {}", new_name.as_ref().unwrap_or(name)))
            })
        }
        PeopleCommand::Remove { names, and_gifts, workspace } => {
            let too = dependents(*and_gifts);
            change(workspace, output, |edit| {
                let removed = edit.remove("people remove", List::People, names, too)?;
                Ok(gone(names, &removed))
            })
        }
    }
}

fn person_keys(args: &PersonArgs, edit: &WorkspaceEdit) -> Result<Keys, Diagnostics> {
    let mut keys = Keys::default();
    keys.text("size", args.size.as_ref());
    let given = key_values(&args.measure, "--measure")?;
    if !given.is_empty() {
        let known = edit.measures()?;
        for (name, length) in given {
            keys.text(known.named(&name)?.name(), Some(&length));
        }
    }
    let both = |key: &str, a: (&str, &[String]), b: (&str, &[String])| {
        let inside: Fields = [a, b]
            .into_iter()
            .filter(|(_, given)| !given.is_empty())
            .map(|(key, given)| {
                let some: Vec<String> = given.iter().filter(|g| !g.is_empty()).cloned().collect();
                (key.to_owned(), Given::Texts(some))
            })
            .collect();
        (key.to_owned(), Given::Merge(inside))
    };
    let likes = both("likes", ("colours", &args.likes_colour), ("garments", &args.likes_garment));
    let avoid = both("avoid", ("fibres", &args.avoids_fibre), ("colours", &args.avoids_colour));
    keys.0.extend(
        [likes, avoid]
            .into_iter()
            .filter(|(_, given)| !matches!(given, Given::Merge(inside) if inside.is_empty())),
    );
    keys.text("wash", args.wash.as_ref());
    keys.text("note", args.note.as_ref());
    Ok(keys)
}

pub(super) fn knitters(command: &KnittersCommand, output: &mut Output) -> Done {
    match command {
        KnittersCommand::Add { name, knitter, workspace } => change(workspace, output, |edit| {
            let fields = knitter_keys(knitter).0;
            edit.add("knitters add", List::Knitters, Some(name), "", fields)?;
            Ok(format!("added {name}"))
        }),
        KnittersCommand::List { rows, workspace } => list(workspace, rows, output, |workspace| {
            Ok(workspace.tagged(EntryKind::Knitter, report::knitter_list(&workspace.contents)))
        }),
        KnittersCommand::Change { name, new_name, knitter, workspace } => {
            change(workspace, output, |edit| {
                let mut keys = Keys::default();
                keys.put("name", new_name.as_ref().map(Given::text));
                keys.0.extend(knitter_keys(knitter).0);
                let (list, reserved) = (List::Knitters, Reserved::Refuse);
                edit.change_entry("knitters change", list, name, keys.some()?, reserved)?;
                Ok(format!("changed {}", new_name.as_ref().unwrap_or(name)))
            })
        }
        KnittersCommand::Remove { names, workspace } => change(workspace, output, |edit| {
            let too = Dependents::Keep;
            let removed = edit.remove("knitters remove", List::Knitters, names, too)?;
            Ok(gone(names, &removed))
        }),
    }
}

fn knitter_keys(args: &KnitterArgs) -> Keys {
    let mut keys = Keys::default();
    keys.put("machines", texts(&args.machines));
    keys.put("hours_a_week", args.hours_a_week.map(|hours| Given::typed(&hours.to_string())));
    keys.text("where", args.place.as_ref());
    keys.text("note", args.note.as_ref());
    keys
}

/// Nothing kept back needs no key, nor does a ball of no weight or price.
fn none_at_nought(number: f64) -> Given {
    if number == 0.0 { Given::Nothing } else { Given::typed(&number.to_string()) }
}

pub(super) fn gifts(command: &GiftsCommand, output: &mut Output) -> Done {
    match command {
        GiftsCommand::Add { id, gift, workspace } => {
            let many = gift.count.and(gift.garment.as_ref());
            let (Some(whom), Some(_)) = (gift.person.as_ref().or(many), &gift.garment) else {
                return Err(Diagnostic::error(Code::Usage, "a gift is something for someone")
                    .hint("give --person NAME and --garment ID (or \"anything warm\")")
                    .hint("many for nobody by name: --garment ID, --count NUMBER and --sizes SIZES")
                    .into());
            };
            let fields = gift_keys(gift)?.0;
            change(workspace, output, |edit| {
                let id =
                    edit.add("gifts add", List::Gifts, id.as_deref(), &gift_stem(whom), fields)?;
                Ok(format!("added {id}"))
            })
        }
        GiftsCommand::List { person, state, rows, workspace } => {
            list(workspace, rows, output, |workspace| {
                let contents = &workspace.contents;
                if let Some(name) = person.as_ref().filter(|name| contents.person(name).is_none()) {
                    let known = contents.people.iter().map(|p| p.name.as_str());
                    return Err(no_such("person", name, known));
                }
                let list = report::gift_list(contents, person.as_deref(), *state);
                Ok(workspace.tagged(EntryKind::Gift, list))
            })
        }
        GiftsCommand::Change { id, new_id, gift, reserved, workspace } => {
            let mut keys = Keys::default();
            keys.put("id", new_id.as_ref().map(Given::text));
            keys.0.extend(gift_keys(gift)?.0);
            let fields = keys.some_or(reserved.free)?;
            change(workspace, output, |edit| {
                let reserved = reserved.given();
                let freed = edit.change_entry("gifts change", List::Gifts, id, fields, reserved)?;
                Ok(changed(new_id.as_ref().unwrap_or(id), &freed))
            })
        }
        GiftsCommand::Remove { ids, and_reservations, workspace } => {
            let too = dependents(*and_reservations);
            change(workspace, output, |edit| {
                let removed = edit.remove("gifts remove", List::Gifts, ids, too)?;
                Ok(gone(ids, &removed))
            })
        }
        GiftsCommand::Begin(gifts) => turn(gifts, GiftDeed::Begin, output),
        GiftsCommand::Done(gifts) => turn(gifts, GiftDeed::Done, output),
        GiftsCommand::Free(gifts) => turn(gifts, GiftDeed::Free, output),
        GiftsCommand::GiveUp(gifts) => turn(gifts, GiftDeed::GiveUp, output),
        GiftsCommand::Keep { gifts, off } => turn(gifts, GiftDeed::Keep(!off), output),
        GiftsCommand::Wish(gifts) => turn(gifts, GiftDeed::Wish, output),
    }
}

/// Turns gifts, and says what each has become and which yarn is free by it.
fn turn(gifts: &GiftIds, deed: GiftDeed, output: &mut Output) -> Done {
    change(&gifts.workspace, output, |edit| {
        let turned = edit.turn_gifts(&gifts.ids, deed)?;
        let lines = turned
            .iter()
            .map(|turn| gift_words::turned(&turn.gift, turn.state, turn.keep, &turn.freed));
        Ok(lines.collect::<Vec<_>>().join("\n"))
    })
}

fn gift_keys(args: &GiftArgs) -> Result<Keys, Diagnostics> {
    let mut keys = Keys::default();
    keys.text("person", args.person.as_ref());
    keys.put(
        "garment",
        args.garment.as_ref().map(|text| {
            let ids: Vec<String> = text.split(',').map(|id| id.trim().to_owned()).collect();
            if ids.len() == 1 || text == GarmentChoice::ANY {
                Given::text(text.trim())
            } else {
                Given::Texts(ids)
            }
        }),
    );
    keys.put("count", args.count.map(Given::Whole));
    keys.text("sizes", args.sizes.as_ref());
    keys.put("each_at_least", args.each_at_least.map(Given::Whole));
    keys.text("knitter", args.knitter.as_ref());
    keys.put("priority", args.priority.map(Given::Whole));
    keys.text("due", args.due.as_ref());
    let options = Given::choices(&options(&args.set, &args.fix, &args.in_turn)?);
    keys.put("options", Some(Given::Merge(options.clone())).filter(|_| !options.is_empty()));
    keys.put("must", args.must.map(Given::Flag));
    let pins: Fields = key_values(&args.pin, "--pin")?
        .into_iter()
        .map(|(section, ids)| (section, Given::listed(&ids)))
        .collect();
    keys.put("pinned", Some(Given::Merge(pins)).filter(|_| !args.pin.is_empty()));
    let lists = [("same", &args.same), ("contrast", &args.contrast), ("match", &args.matches)];
    for (key, given) in lists {
        keys.put(key, given.as_ref().map(|text| Given::listed(text)));
    }
    keys.put("any_lot", args.any_lot.map(Given::Flag));
    keys.text("note", args.note.as_ref());
    Ok(keys)
}

pub(super) fn swatch(command: &SwatchCommand, output: &mut Output) -> Done {
    match command {
        SwatchCommand::Add(args) => swatch_add(args, output),
        SwatchCommand::List { rows, workspace } => list(workspace, rows, output, |workspace| {
            Ok(workspace.tagged(EntryKind::Swatch, report::swatch_list(&workspace.contents)))
        }),
        SwatchCommand::Show { id, rows, workspace } => list(workspace, rows, output, |workspace| {
            Ok(report::swatch_page(workspace.swatch(id)?, workspace.contents.settings.units))
        }),
        SwatchCommand::Dial(args) => swatch_dial(args, output),
        SwatchCommand::Rename { id, new_id, workspace } => change(workspace, output, |edit| {
            edit.rename("swatch rename", Named::Swatch, id, new_id)?;
            Ok(format!("renamed {id} to {new_id}"))
        }),
        SwatchCommand::Remove { id, workspace } => change(workspace, output, |edit| {
            edit.remove_swatch(id)?;
            Ok(format!("removed {id}"))
        }),
    }
}

fn swatch_dial(args: &SwatchDialArgs, output: &mut Output) -> Done {
    let workspace = Workspace::require(args.workspace.workspace.as_deref())?;
    output.diagnostics(&workspace.warnings);
    let wished = PerTen::new(args.stitches).map_err(UnitError::into_diagnostic)?;
    let structure = Structure::parse(&args.structure).ok_or_else(|| {
        let known = Structure::ALL.map(Structure::name);
        let hint = match nearest(&args.structure, known) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("use one of: {}", known.join(", ")),
        };
        Diagnostic::error(Code::Usage, format!("`{}` is not a structure", args.structure))
            .hint(hint)
    })?;
    let settings = &workspace.contents.settings;
    let machine = args.machine.as_deref().or(settings.machine.as_deref()).unwrap_or("standard");
    let bench = workspace.bench(&WorkbenchSources::default())?;
    let machine = bench.machine(machine)?.id.as_str();
    let advice = dial_for(&workspace.contents, &args.yarn, machine, structure, wished)?;
    output.result(None, &report::dial_page(&advice, structure))?;
    Ok(true)
}

fn swatch_add(args: &SwatchAddArgs, output: &mut Output) -> Done {
    let mut top = Keys::default();
    top.text("name", args.name.as_ref());
    top.text("machine", args.machine.as_ref());
    top.text("yarn", args.yarn.as_ref());
    let read = |flag: &str, texts: &[String]| {
        readings(&texts.join("; ")).map(|all| Some(Given::Texts(all))).map_err(|fault| {
            Diagnostics::from(fault.into_diagnostic().context(format!("--{flag}")))
        })
    };
    let mut keys = Keys::default();
    keys.text("structure", Some(&args.structure));
    keys.text("state", args.state.as_ref());
    keys.put("dial", args.dial.map(Given::Number));
    keys.put("stitches", Some(Given::Whole(args.stitches)));
    keys.put("widths", read("widths", &args.widths)?);
    keys.put("rows", Some(Given::Whole(args.rows)));
    keys.put("heights", read("heights", &args.heights)?);
    keys.text("weight", args.weight.as_ref());
    keys.put("weighed_stitches", args.weighed_stitches.map(Given::Whole));
    keys.put("weighed_rows", args.weighed_rows.map(Given::Whole));
    keys.text("scale_step", args.scale_step.as_ref());
    let id = &args.id;
    change(&args.workspace, output, |edit| {
        edit.add_swatch(id, top.0, keys.0)?;
        Ok(format!("added {id}, {}", args.structure))
    })
}

/// The workspace a command works in, if any.
pub(super) fn find(
    named: Option<&Path>,
    output: &Output,
) -> Result<Option<Workspace>, Diagnostics> {
    let found = Workspace::find(named)?;
    if let Some(workspace) = &found {
        output.diagnostics(&workspace.warnings);
    }
    Ok(found)
}
