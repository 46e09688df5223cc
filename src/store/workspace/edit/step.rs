use super::given::{Fields, Given};
use super::list::List;
use crate::workspace::named::Named;
use knit::operation::Operation;
use knit::stash::{FinishedPiece, Reservation, Sure};
use units::Mass;

/// One step of a change.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// A new entry at the end of a list.
    Add { list: List, fields: Fields },
    /// Sets keys of an entry; those not named stay.
    Change { list: List, key: String, fields: Fields },
    /// Takes an entry out, with the comment that stands on it.
    Remove { list: List, key: String },
    /// Takes out every entry whose key says one of these.
    RemoveWhere { list: List, key: &'static str, values: Vec<String> },
    /// Sets keys at the top of a file (`yarns/ID.toml`, the settings), which is made if need be.
    Set { path: String, fields: Fields },
    /// Adds tables to a list inside a file, such as `[[swatch]]`.
    Append { path: String, name: String, fields: Fields },
    /// Takes the file away.
    Delete { path: String },
    /// Gives a thing another name, in every file. All renamings of a change come before the rest
    /// of it, whose keys are the new ones.
    Rename { what: Named, old: String, new: String },
}

impl Edit {
    /// Files that may speak of what the edit is about, beside the one it is made to.
    pub(crate) fn minds(&self) -> &'static [&'static str] {
        match self {
            Edit::Add { list: List::Gifts, .. } => &["people.toml", "knitters.toml"],
            Edit::Add { list: List::Records, .. } => &["gifts.toml", "plan.toml"],
            Edit::Add { list: List::Plan, .. } => &["gifts.toml", "stash.toml"],
            Edit::Change { list: List::Gifts, .. } | Edit::Remove { list: List::Gifts, .. } => {
                &["plan.toml"]
            }
            Edit::Remove { list: List::Stash | List::People, .. } => &["gifts.toml", "plan.toml"],
            Edit::Remove { list: List::Knitters, .. } => &["gifts.toml", "plan.toml"],
            Edit::Delete { path } if path.starts_with("yarns/") => &["plan.toml", "stash.toml"],
            Edit::Delete { path } if path.starts_with("swatches/") => &["records.toml"],
            _ => &[],
        }
    }

    /// Notes a finished piece.
    pub fn record(piece: &FinishedPiece) -> Edit {
        let text = |text: &String| Given::text(text);
        let mut fields: Fields = vec![
            ("garment".into(), text(&piece.garment)),
            ("size".into(), text(&piece.size)),
            ("yarn".into(), text(&piece.yarn)),
        ];
        fields.extend(piece.machine.as_ref().map(|id| ("machine".into(), text(id))));
        fields.extend(piece.swatch.as_ref().map(|id| ("swatch".into(), text(id))));
        if !piece.options.is_empty() {
            fields.push(("options".into(), Given::Table(Given::choices(&piece.options))));
        }
        let sections = piece.sections.iter().map(|section| {
            let weights = vec![
                ("before".to_owned(), Given::text(section.before.to_string())),
                ("after".to_owned(), Given::text(section.after.to_string())),
            ];
            (section.name.clone(), Given::Table(weights))
        });
        fields.push(("sections".into(), Given::Table(sections.collect())));
        fields.extend(counted(piece));
        // To a tenth: no clock at a machine is nearer.
        fields.extend(piece.minutes.map(|minutes| {
            let tenths = (minutes * 10.0).round();
            let whole = (tenths % 10.0 == 0.0).then_some((tenths / 10.0) as i64);
            ("minutes".into(), whole.map_or(Given::Number(tenths / 10.0), Given::Whole))
        }));
        fields.extend(worked(piece));
        fields.extend(piece.date.map(|date| ("date".into(), Given::text(date.to_string()))));
        fields.extend(piece.note.as_ref().map(|note| ("note".into(), text(note))));
        fields.extend(piece.piece.as_ref().map(|piece| ("piece".into(), text(piece))));
        fields.extend(sure(piece.sure));
        Edit::Add { list: List::Records, fields }
    }

    /// A remnant that weighs something else now.
    pub fn reweigh(remnant: &str, weight: Mass) -> Edit {
        let fields = vec![("weight".to_owned(), Given::text(weight.to_string()))];
        Edit::Change { list: List::Stash, key: remnant.to_owned(), fields }
    }

    /// Takes what is set aside for these gifts out of the plan.
    pub fn free_gifts(gifts: impl IntoIterator<Item = String>) -> Edit {
        Edit::RemoveWhere { list: List::Plan, key: "gift", values: gifts.into_iter().collect() }
    }

    /// Takes what is set aside of these remnants out of the plan.
    pub fn free_remnants(remnants: impl IntoIterator<Item = String>) -> Edit {
        let values = remnants.into_iter().collect();
        Edit::RemoveWhere { list: List::Plan, key: "remnant", values }
    }

    /// Sets yarn aside beside what is set aside already.
    pub fn set_aside(reservations: &[Reservation]) -> Vec<Edit> {
        let adds = reservations.iter().map(|reserved| {
            let mut fields = vec![
                ("gift".into(), Given::text(&reserved.gift)),
                ("section".into(), Given::text(&reserved.section)),
                ("remnant".into(), Given::text(&reserved.remnant)),
                ("weight".into(), Given::text(reserved.weight.to_string())),
            ];
            if let Some(made) = &reserved.knitted_as {
                fields.push(("garment".into(), Given::text(&made.garment)));
                fields.push(("machine".into(), Given::text(&made.machine)));
                fields.extend(made.swatch.iter().map(|id| ("swatch".into(), Given::text(id))));
            }
            let knitter = reserved.knitter.as_ref();
            fields.extend(knitter.map(|name| ("knitter".to_owned(), Given::text(name))));
            Edit::Add { list: List::Plan, fields }
        });
        adds.collect()
    }
}

/// A number of so many decimals, bare where it is whole.
fn number(value: f64, decimals: u32) -> Given {
    let unit = 10f64.powi(decimals.cast_signed());
    let rounded = (value * unit).round() / unit;
    if rounded.fract() == 0.0 { Given::Whole(rounded as i64) } else { Given::Number(rounded) }
}

/// What was knitted, as it was counted.
fn counted(piece: &FinishedPiece) -> Fields {
    if piece.knitted.is_empty() {
        return Fields::new();
    }
    let stitches = piece.knitted.iter().map(|section| {
        let counts = section.stitches.iter();
        let counts = counts.map(|(fabric, n)| (fabric.name().to_owned(), number(*n as f64, 0)));
        (section.name.clone(), Given::Table(counts.collect()))
    });
    let sewing = piece.knitted.iter().map(|s| (s.name.clone(), number(s.sewing_m, 3)));
    let loops = piece.loop_mm.iter().map(|(s, mm)| (s.name().to_owned(), number(*mm, 3)));
    vec![
        ("stitches".into(), Given::Table(stitches.collect())),
        ("sewing_m".into(), Given::Table(sewing.collect())),
        ("loop_mm".into(), Given::Table(loops.collect())),
    ]
}

/// What its minutes are of.
fn worked(piece: &FinishedPiece) -> Option<(String, Given)> {
    let of_section = |(section, work): &(String, Vec<(Operation, f64)>)| {
        let times = work.iter().map(|(own, times)| (own.name().to_owned(), number(*times, 2)));
        (section.clone(), Given::Table(times.collect()))
    };
    let all: Fields = piece.work.iter().map(of_section).collect();
    (!all.is_empty()).then(|| ("work".into(), Given::Table(all)))
}

fn sure(sure: Sure) -> Option<(String, Given)> {
    let names: Vec<String> = sure.names().map(str::to_owned).collect();
    let given = if sure == Sure::ALL { Given::Flag(true) } else { Given::Texts(names) };
    (sure != Sure::default()).then(|| ("sure".into(), given))
}
