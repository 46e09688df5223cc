use super::given::{Fields, Given};
use super::list::List;
use crate::workspace::named::Named;
use knit::stash::{FinishedPiece, Reservation};
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
            Edit::Add { list: List::Gifts, .. } => &["people.toml"],
            Edit::Add { list: List::Records, .. } => &["gifts.toml", "plan.toml"],
            Edit::Add { list: List::Plan, .. } => &["gifts.toml", "stash.toml"],
            Edit::Change { list: List::Gifts, .. } | Edit::Remove { list: List::Gifts, .. } => {
                &["plan.toml"]
            }
            Edit::Remove { list: List::Stash | List::People, .. } => &["gifts.toml", "plan.toml"],
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
        // To a tenth: no clock at a machine is nearer.
        fields.extend(piece.minutes.map(|minutes| {
            let tenths = (minutes * 10.0).round();
            let whole = (tenths % 10.0 == 0.0).then_some((tenths / 10.0) as i64);
            ("minutes".into(), whole.map_or(Given::Number(tenths / 10.0), Given::Whole))
        }));
        fields.extend(piece.date.map(|date| ("date".into(), Given::text(date.to_string()))));
        fields.extend(piece.note.as_ref().map(|note| ("note".into(), text(note))));
        fields.extend(piece.piece.as_ref().map(|piece| ("piece".into(), text(piece))));
        fields.extend(piece.sure.then(|| ("sure".into(), Given::Flag(true))));
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
        let adds = reservations.iter().map(|reserved| Edit::Add {
            list: List::Plan,
            fields: vec![
                ("gift".into(), Given::text(&reserved.gift)),
                ("section".into(), Given::text(&reserved.section)),
                ("remnant".into(), Given::text(&reserved.remnant)),
                ("weight".into(), Given::text(reserved.weight.to_string())),
            ],
        });
        adds.collect()
    }
}
