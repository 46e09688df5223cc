//! The form that asks for a run, made of what garments, machines and size tables say.

use super::state::Shared;
use app::{Ask, Pairs, STRUCTURES, usual_yarn};
use knit::body::SizeGroup;
use knit::garment::Decision;
use knit::size_run::SizeRun;
use knit::stash::Words;
use knit::swatch::SwatchSet;
use script::{FIX, IN_TURN, Manifest, OptionKind, OptionSpec};
use units::{Length, LengthUnit};

/// Something to choose.
pub struct Choice {
    pub value: String,
    pub label: String,
    pub chosen: bool,
}

pub struct ChoiceGroup {
    pub label: &'static str,
    pub choices: Vec<Choice>,
}

/// A range to slide along, beside the field it writes to.
pub struct Slider {
    /// The field it writes to, and what it is called.
    pub of: String,
    pub title: String,
    pub min: String,
    pub max: String,
    pub step: String,
    pub at: String,
    /// Written behind the number.
    pub unit: &'static str,
}

/// An option of a garment as a field.
pub struct OptionField {
    pub id: String,
    pub name: String,
    pub title: String,
    pub help: String,
    pub takes: String,
    pub default: String,
    pub value: String,
    /// Words to choose from; none where it is typed.
    pub choices: Vec<Choice>,
    pub slider: Option<Slider>,
    /// What a phone's keyboard shows.
    pub keyboard: &'static str,
}

/// A body measure as a field.
pub struct MeasureField {
    pub id: String,
    pub name: String,
    pub label: String,
    pub how: String,
    pub value: String,
}

/// A swatch's readings as fields.
pub struct SwatchFields {
    pub prefix: &'static str,
    pub structure: &'static str,
    pub open: bool,
    pub stitches: String,
    pub widths: String,
    pub rows: String,
    pub heights: String,
    pub dial: String,
    /// What was weighed of it, where it was.
    pub weight: String,
    pub weighed_stitches: String,
    pub weighed_rows: String,
    pub scale_step: String,
    pub states: Vec<Choice>,
}

/// A number that the garment chooses and a knitter may fix.
pub struct DecisionField {
    pub id: String,
    pub name: String,
    pub title: String,
    pub value: String,
    /// What it came to: `186`, or `140 to 200` over sizes.
    pub chosen: String,
    pub takes: String,
    pub slider: Option<Slider>,
}

/// A section that may be knitted from balls in turn.
pub struct TurnField {
    pub id: String,
    pub name: String,
    pub title: String,
    pub value: String,
}

fn turn_fields(ask: &Ask, manifest: Option<&Manifest>) -> Vec<TurnField> {
    let sections = manifest.into_iter().flat_map(|manifest| &manifest.sections);
    let field = |name: &str, title: &str| {
        let key = format!("{IN_TURN}{name}");
        let value = ask.options.iter().find(|(own, _)| *own == key);
        TurnField {
            id: format!("in-turn-{name}"),
            title: title.to_owned(),
            value: value.map_or_else(String::new, |(_, rows)| rows.clone()),
            name: key,
        }
    };
    sections.map(|section| field(&section.name, &section.title)).collect()
}

pub struct AskForm {
    pub garments: Vec<Choice>,
    pub garment: String,
    pub machines: Vec<Choice>,
    /// Needles of the bed, and those that don't knit, as typed.
    pub needles: String,
    pub out_of_work: String,
    /// Ribs on a pair of needles.
    pub by_hand: String,
    /// Sections that may be knitted from balls in turn.
    pub turns: Vec<TurnField>,
    pub turns_set: usize,
    pub size_all: bool,
    pub size_groups: Vec<ChoiceGroup>,
    /// Sizes as typed, where they are none of the list.
    pub range: String,
    pub unit: &'static str,
    /// Whose words of the trade, where they are asked for.
    pub words: Vec<Choice>,
    pub options: Vec<OptionField>,
    pub options_set: usize,
    pub decisions: Vec<DecisionField>,
    pub fixed_set: usize,
    pub measures: Vec<MeasureField>,
    pub name: String,
    pub made_to_measure: bool,
    pub yarn: String,
    pub own_swatch: bool,
    pub swatches: Vec<SwatchFields>,
    /// Swatches of the workspace.
    pub known_swatches: Vec<Choice>,
    /// Yarns to see the stripes in: of the workspace, else of the demo.
    pub balls: Vec<Choice>,
    /// The yarn that is shown where none is chosen.
    pub usual_ball: String,
    pub start: String,
    /// Along the colours of the yarn, as far as they come again.
    pub start_slider: Option<Slider>,
    pub matched: bool,
}

/// What may stand beside the size asked for.
pub struct BesideForm {
    pub sizes: Vec<ChoiceGroup>,
    pub balls: Vec<Choice>,
    pub set: bool,
}

impl BesideForm {
    pub fn new(shared: &Shared, size: Option<&str>, ball: Option<&str>) -> BesideForm {
        BesideForm {
            sizes: size_groups(shared, size.unwrap_or_default()).0,
            balls: ball_choices(shared, ball),
            set: size.is_some() || ball.is_some(),
        }
    }
}

fn word_choices(ask: &Ask) -> Vec<Choice> {
    let choice = |name: &&str| Choice {
        value: (*name).to_owned(),
        label: match *name {
            "american" => "American: bind off, gauge",
            "british" => "British: cast off, tension",
            _ => "The usual ones: cast off, gauge",
        }
        .to_owned(),
        chosen: ask.words.as_deref() == Some(*name),
    };
    Words::NAMES.iter().map(choice).collect()
}

impl AskForm {
    /// `manifest` is of the garment asked for, where it loads.
    pub fn new(shared: &Shared, ask: &Ask, manifest: Option<&Manifest>) -> AskForm {
        let garment = ask.garment.clone().unwrap_or_default();
        let found = shared.swatch(ask).ok();
        let usual = found.as_ref().map_or("standard", |(_, machine)| machine.id.as_str());
        let machine = ask.machine.as_deref().unwrap_or(usual);
        let sizes = ask.sizes.as_deref().unwrap_or("all");
        let unit = shared.unit(ask).unwrap_or(LengthUnit::Cm).symbol();
        let (size_groups, listed) = size_groups(shared, sizes);
        let options: Vec<OptionField> = manifest
            .map(|m| m.options.iter().map(|option| option_field(option, ask)).collect())
            .unwrap_or_default();
        let turns = turn_fields(ask, manifest);
        AskForm {
            by_hand: ask.by_hand.clone().unwrap_or_default(),
            turns_set: turns.iter().filter(|turn| !turn.value.is_empty()).count(),
            turns,
            garments: garment_choices(shared, &garment),
            machines: machine_choices(shared, machine),
            needles: ask.needles.clone().unwrap_or_default(),
            out_of_work: ask.out_of_work.clone().unwrap_or_default(),
            size_all: sizes == "all",
            size_groups,
            range: if listed { String::new() } else { sizes.to_owned() },
            unit,
            words: word_choices(ask),
            options_set: options.iter().filter(|option| !option.value.is_empty()).count(),
            options,
            decisions: Vec::new(),
            fixed_set: 0,
            measures: measure_fields(shared, ask, manifest),
            name: ask.name.clone().unwrap_or_default(),
            made_to_measure: !ask.measures.is_empty(),
            yarn: ask.swatch.as_ref().map_or_else(String::new, |swatch| swatch.yarn.clone()),
            own_swatch: ask.swatch.is_some(),
            swatches: swatch_fields(ask),
            known_swatches: known_swatches(shared, ask),
            balls: ball_choices(shared, ask.balls.first().map(String::as_str)),
            usual_ball: usual_ball(shared, found.as_ref().map(|(file, _)| &file.set)),
            start: ask.starts.first().cloned().unwrap_or_default(),
            start_slider: None,
            matched: ask.matched,
            garment,
        }
    }
}

impl AskForm {
    /// With a slider along the colours of a yarn that come again after so much of it.
    pub fn beginning(mut self, repeat_mm: Option<f64>) -> AskForm {
        let metres = |text: &str| text.trim().trim_end_matches('m').trim().parse::<f64>().ok();
        self.start_slider = repeat_mm.map(|mm| Slider {
            of: "start".to_owned(),
            title: "Begin so far along its colours".to_owned(),
            min: "0".to_owned(),
            max: format!("{:.2}", mm / 1000.0),
            step: "0.05".to_owned(),
            at: metres(&self.start).unwrap_or_default().to_string(),
            unit: "",
        });
        self
    }

    /// With a field for each number that the run decided. `run` is what came of the request, or of the
    /// same with nothing fixed where that gave nothing.
    pub fn deciding(mut self, ask: &Ask, run: Option<&SizeRun>) -> AskForm {
        let of_sizes = || run.into_iter().flat_map(SizeRun::good).map(|(_, made)| made);
        let mut fields: Vec<DecisionField> = Vec::new();
        for decision in of_sizes().flat_map(|made| &made.garment.decisions) {
            if fields.iter().all(|field| field.name != format!("{FIX}{}", decision.name)) {
                let all = of_sizes().flat_map(|made| &made.garment.decisions);
                let all: Vec<&Decision> = all.filter(|d| d.name == decision.name).collect();
                fields.push(decision_field(&all, ask));
            }
        }
        self.fixed_set = fields.iter().filter(|field| !field.value.is_empty()).count();
        // Where an option is left alone its slider stands where the garment chose.
        for option in self.options.iter_mut().filter(|option| option.value.is_empty()) {
            let chosen = option.name.strip_prefix("o.").and_then(|name| {
                of_sizes().flat_map(|made| &made.garment.decisions).find(|own| own.name == name)
            });
            if let (Some(slider), Some(chosen)) = (&mut option.slider, chosen) {
                slider.at = chosen.value.to_string();
            }
        }
        // What is fixed and not decided stays in sight, so that it can be taken out.
        for (name, value) in &ask.options {
            let Some(name) = name.strip_prefix(FIX) else { continue };
            if fields.iter().all(|field| field.name != format!("{FIX}{name}")) {
                self.fixed_set += 1;
                fields.push(DecisionField {
                    id: format!("fix-{name}"),
                    name: format!("{FIX}{name}"),
                    title: spaced(name),
                    value: value.clone(),
                    chosen: "nothing".to_owned(),
                    takes: "not decided here".to_owned(),
                    slider: None,
                });
            }
        }
        self.decisions = fields;
        self
    }
}

impl AskForm {
    /// With the readings as they were typed, where they can't be read: nothing is lost.
    pub fn typed(&mut self, typed: &Pairs) {
        let text = |key: &str| {
            let found = typed.iter().find(|(own, _)| own == key);
            found.map_or_else(String::new, |(_, text)| text.clone())
        };
        self.yarn = text("yarn");
        for swatch in &mut self.swatches {
            let own = |key: &str| text(&format!("{}.{key}", swatch.prefix));
            swatch.stitches = own("stitches");
            swatch.widths = own("widths");
            swatch.rows = own("rows");
            swatch.heights = own("heights");
            swatch.dial = own("dial");
            swatch.weight = own("weight");
            swatch.weighed_stitches = own("weighed_stitches");
            swatch.weighed_rows = own("weighed_rows");
            swatch.scale_step = own("scale_step");
            let state = own("state");
            swatch.open |= !swatch.stitches.is_empty() || !swatch.widths.is_empty();
            if !state.is_empty() {
                swatch.states.iter_mut().for_each(|choice| choice.chosen = choice.value == state);
            }
        }
    }
}

/// One number over all sizes.
fn decision_field(all: &[&Decision], ask: &Ask) -> DecisionField {
    let first = all[0];
    let least = |of: fn(&Decision) -> i64| all.iter().map(|d| of(d)).min().unwrap_or_default();
    let most = |of: fn(&Decision) -> i64| all.iter().map(|d| of(d)).max().unwrap_or_default();
    let range = |from: i64, to: i64| {
        if from == to { from.to_string() } else { format!("{from} to {to}") }
    };
    let name = format!("{FIX}{}", first.name);
    let value = ask.options.iter().find(|(own, _)| *own == name);
    let steps =
        if first.step == 1 { String::new() } else { format!(" in steps of {}", first.step) };
    let id = format!("fix-{}", first.name);
    let slider = (all.len() == 1 && first.from < first.to).then(|| Slider {
        of: id.clone(),
        title: first.title.clone(),
        min: first.from.to_string(),
        max: first.to.to_string(),
        step: first.step.to_string(),
        at: value.map_or_else(|| first.value.to_string(), |(_, value)| value.clone()),
        unit: "",
    });
    DecisionField {
        slider,
        id,
        title: first.title.clone(),
        value: value.map_or_else(String::new, |(_, value)| value.clone()),
        chosen: range(least(|d| d.value), most(|d| d.value)),
        takes: format!("a whole number, {}{steps}", range(least(|d| d.from), most(|d| d.to))),
        name,
    }
}

fn known_swatches(shared: &Shared, ask: &Ask) -> Vec<Choice> {
    let Some(live) = &shared.workspace else { return Vec::new() };
    let now = live.now();
    let of = |(id, file): (&String, &knit::stash::NamedSwatches)| Choice {
        value: id.clone(),
        label: file.name.clone(),
        chosen: ask.swatch_id.as_ref() == Some(id),
    };
    now.workspace.contents.swatches.iter().map(of).collect()
}

/// What is shown where no yarn is chosen.
fn usual_ball(shared: &Shared, set: Option<&SwatchSet>) -> String {
    let now = shared.workspace.as_ref().map(|live| live.now());
    let own = now.as_ref().zip(set);
    let own = own.and_then(|(now, set)| usual_yarn(&now.workspace.contents.yarns, set));
    own.map_or_else(|| "Shoreline of the demo".to_owned(), |yarn| yarn.name.clone())
}

/// One ball is chosen from the list; what else is asked for stays in the address.
fn ball_choices(shared: &Shared, chosen: Option<&str>) -> Vec<Choice> {
    let choice = |value: &str, label: &str| Choice {
        value: value.to_owned(),
        label: label.to_owned(),
        chosen: chosen == Some(value),
    };
    match &shared.workspace {
        Some(live) => {
            let now = live.now();
            let yarns = now.workspace.contents.yarns.iter();
            yarns.map(|(id, yarn)| choice(id, &yarn.name)).collect()
        }
        None => store::demo_yarn_ids().into_iter().map(|id| choice(id, &spaced(id))).collect(),
    }
}

/// All garments by their titles.
pub fn garment_choices(shared: &Shared, chosen: &str) -> Vec<Choice> {
    shared
        .bench
        .garment_ids()
        .into_iter()
        .map(|id| {
            let label = shared.garment(&id).map_or_else(
                |_| format!("{id} (faulty)"),
                |(plugin, _)| plugin.manifest.title.clone(),
            );
            Choice { chosen: id == chosen, value: id, label }
        })
        .collect()
}

pub fn machine_choices(shared: &Shared, chosen: &str) -> Vec<Choice> {
    shared
        .bench
        .machines
        .iter()
        .map(|machine| Choice {
            value: machine.id.clone(),
            label: machine.title.clone(),
            chosen: machine.id == chosen,
        })
        .collect()
}

/// The sizes by group, each group as a choice of its own; and whether the chosen one is listed.
pub fn size_groups(shared: &Shared, chosen: &str) -> (Vec<ChoiceGroup>, bool) {
    let mut listed = chosen == "all";
    let groups = SizeGroup::ALL
        .into_iter()
        .map(|group| {
            let name = group.name();
            let mut choices = vec![Choice {
                value: name.to_owned(),
                label: format!("All {name}"),
                chosen: chosen == name,
            }];
            let own = shared.bench.sizes.sizes().iter().filter(|size| size.group == group);
            choices.extend(own.map(|size| Choice {
                value: size.id.to_string(),
                label: size.label.clone(),
                chosen: size.id.as_str() == chosen,
            }));
            listed |= choices.iter().any(|choice| choice.chosen);
            ChoiceGroup { label: group_label(group), choices }
        })
        .collect();
    (groups, listed)
}

const fn group_label(group: SizeGroup) -> &'static str {
    match group {
        SizeGroup::Babies => "Babies",
        SizeGroup::Children => "Children",
        SizeGroup::Women => "Women",
        SizeGroup::Men => "Men",
    }
}

fn option_field(option: &OptionSpec, ask: &Ask) -> OptionField {
    let value = ask.options.iter().find(|(name, _)| *name == option.name);
    let value = value.map_or_else(String::new, |(_, value)| value.clone());
    let words: Vec<String> = match &option.kind {
        OptionKind::Choice { of } => of.clone(),
        OptionKind::Flag => vec!["yes".to_owned(), "no".to_owned()],
        _ => Vec::new(),
    };
    let choices = words
        .into_iter()
        .map(|word| Choice { chosen: word == value, label: word.replace('-', " "), value: word })
        .collect();
    let id = format!("o-{}", option.name);
    OptionField {
        slider: slider(option, &id, &value, ask),
        id,
        name: format!("o.{}", option.name),
        title: option.title.clone(),
        help: option.help.clone(),
        takes: option.kind.describe(),
        default: option.default.as_ref().map_or("automatic".into(), |v| option.kind.show(v)),
        value,
        choices,
        keyboard: match option.kind {
            OptionKind::Integer { min, .. } if min >= 0 => "numeric",
            _ => "text",
        },
    }
}

/// A slider over what may be typed; none where words are chosen.
fn slider(option: &OptionSpec, id: &str, typed: &str, ask: &Ask) -> Option<Slider> {
    let unit = ask.unit().unwrap_or(LengthUnit::Cm);
    let shown = option.default.as_ref().map(|value| option.kind.show(value)).unwrap_or_default();
    let text = if typed.is_empty() { shown.as_str() } else { typed };
    // From, to, step, what follows the number, and where it stands.
    let (min, max, step, behind, at) = match option.kind {
        OptionKind::Integer { min, max, step } => {
            (min as f64, max as f64, step as f64, "", text.trim().parse().ok())
        }
        OptionKind::Number { min, max } => (min, max, 0.05, "", text.trim().parse().ok()),
        OptionKind::Percent { min, max } => {
            (min, max, 1.0, "%", text.trim().trim_end_matches('%').trim().parse().ok())
        }
        OptionKind::Length { min_mm, max_mm } => {
            let (of, step) = (unit.mm(), if unit == LengthUnit::Cm { 0.5 } else { 0.25 });
            let at = text.parse::<Length>().ok().map(|length| length.mm() / of);
            // Whole steps within the bounds, so that none of them is refused.
            let least = (min_mm / of / step).ceil() * step;
            let most = (max_mm / of / step).floor() * step;
            (least, most, step, unit.symbol(), at)
        }
        OptionKind::Choice { .. } | OptionKind::Flag => return None,
    };
    let number = |n: f64| format!("{}", (n * 1000.0).round() / 1000.0);
    let middle = min + ((max - min) / 2.0 / step).round() * step;
    Some(Slider {
        of: id.to_owned(),
        title: option.title.clone(),
        min: number(min),
        max: number(max),
        step: number(step),
        at: number(at.unwrap_or(middle)),
        unit: behind,
    })
}

/// `top_style` as people read it: "Top style".
fn spaced(name: &str) -> String {
    let words = name.replace(['_', '-'], " ");
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn measure_fields(shared: &Shared, ask: &Ask, manifest: Option<&Manifest>) -> Vec<MeasureField> {
    let Some(manifest) = manifest else { return Vec::new() };
    let sizes = shared.bench.sizes_for(manifest);
    manifest
        .measures
        .iter()
        .filter_map(|name| sizes.known().get(name))
        .map(|measure| MeasureField {
            id: format!("m-{}", measure.name()),
            name: measure.name().to_owned(),
            label: capital(measure.label()),
            how: measure.how().to_owned(),
            value: ask.measure(measure.name()).unwrap_or_default().to_owned(),
        })
        .collect()
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn swatch_fields(ask: &Ask) -> Vec<SwatchFields> {
    let known = ask.swatch.iter().flat_map(|swatch| &swatch.swatches);
    STRUCTURES
        .iter()
        .map(|(prefix, structure)| {
            let own = known.clone().find(|entry| entry.structure == *structure);
            let text = |of: &dyn Fn(&app::SwatchEntry) -> String| own.map_or_else(String::new, of);
            let count = |n: u32| if n == 0 { String::new() } else { n.to_string() };
            // Readings without a state are taken as rested ones.
            let unsaid = if own.is_some() { "rested" } else { "washed" };
            let state = own.and_then(|entry| entry.state.as_deref()).unwrap_or(unsaid);
            SwatchFields {
                prefix,
                structure,
                open: own.is_some() || *prefix == "plain",
                stitches: text(&|entry| count(entry.stitches)),
                widths: text(&|entry| entry.widths.join("; ")),
                rows: text(&|entry| count(entry.rows)),
                heights: text(&|entry| entry.heights.join("; ")),
                weight: text(&|entry| entry.weight.clone().unwrap_or_default()),
                weighed_stitches: text(&|entry| {
                    entry.weighed_stitches.map_or_else(String::new, count)
                }),
                weighed_rows: text(&|entry| entry.weighed_rows.map_or_else(String::new, count)),
                scale_step: text(&|entry| entry.scale_step.clone().unwrap_or_default()),
                dial: text(&|entry| entry.dial.map_or_else(String::new, |dial| dial.to_string())),
                states: ["washed", "rested", "as knitted"]
                    .map(|word| Choice {
                        value: word.to_owned(),
                        label: word.to_owned(),
                        chosen: word == state,
                    })
                    .into(),
            }
        })
        .collect()
}
