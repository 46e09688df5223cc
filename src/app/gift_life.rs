//! What becomes of a gift: begun, done, given up, wished for again; and what becomes then of the yarn
//! that is set aside for it. All in one change.

use super::gift_names::sets_in;
use diag::{Code, Diagnostic, nearest};
use knit::stash::{Contents, GarmentChoice, GiftStage, GiftState, GiftWish, Reservation, merged};
use report::gift_words;
use store::workspace::{Edit, Fields, Given, flat};

/// What a knitter says of a gift.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GiftDeed {
    /// It is on the machine.
    Begin,
    /// It is knitted: it needs no more yarn.
    Done,
    /// Its yarn is free, and it is wished for as if never planned.
    Free,
    /// It is not to be knitted; its yarn is free.
    GiveUp,
    /// New plans leave its yarn alone, or do so no longer.
    Keep(bool),
    /// It is wished for again; what is set aside for it stays so.
    Wish,
}

impl GiftDeed {
    /// The command that says it.
    pub const fn command(self) -> &'static str {
        match self {
            GiftDeed::Begin => "gifts begin",
            GiftDeed::Done => "gifts done",
            GiftDeed::Free => "gifts free",
            GiftDeed::GiveUp => "gifts give-up",
            GiftDeed::Keep(_) => "gifts keep",
            GiftDeed::Wish => "gifts wish",
        }
    }

    /// The deed that leads to a stage.
    pub const fn to(stage: GiftStage) -> GiftDeed {
        match stage {
            GiftStage::Wished => GiftDeed::Wish,
            GiftStage::OnMachine => GiftDeed::Begin,
            GiftStage::Done => GiftDeed::Done,
            GiftStage::GivenUp => GiftDeed::GiveUp,
        }
    }

    /// Whether the gift's yarn is free afterwards.
    pub const fn frees(self) -> bool {
        matches!(self, GiftDeed::Done | GiftDeed::Free | GiftDeed::GiveUp)
    }

    /// Whether it can be said of a gift that is done or given up.
    const fn of_any(self) -> bool {
        matches!(self, GiftDeed::Done | GiftDeed::GiveUp | GiftDeed::Wish)
    }

    /// The keys that a gift has then.
    pub(super) fn fields(self) -> Fields {
        let stage = match self {
            GiftDeed::Begin => Given::text(GiftStage::OnMachine.name()),
            GiftDeed::Done => Given::text(GiftStage::Done.name()),
            GiftDeed::GiveUp => Given::text(GiftStage::GivenUp.name()),
            GiftDeed::Free | GiftDeed::Wish => Given::Nothing,
            GiftDeed::Keep(keep) => {
                let keep = if keep { Given::Flag(true) } else { Given::Nothing };
                return vec![("keep".to_owned(), keep)];
            }
        };
        let mut fields = vec![("state".to_owned(), stage)];
        // Nothing is left to keep.
        fields.extend(self.frees().then(|| ("keep".to_owned(), Given::Nothing)));
        fields
    }
}

/// What to do with yarn that is set aside for what is changed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Reserved {
    /// It is a reason to refuse the change.
    #[default]
    Refuse,
    /// It is free again, whatever else is changed.
    Free,
    /// It stays set aside.
    Keep,
}

/// What a gift has become.
#[derive(Clone, Debug, PartialEq)]
pub struct GiftTurn {
    /// Id of the gift.
    pub gift: String,
    /// As a knitter is shown it; `None`: the gift itself is gone, and its yarn was left set aside.
    pub state: Option<GiftState>,
    pub keep: bool,
    /// What was set aside for it and is free now.
    pub freed: Vec<Reservation>,
}

/// Takes out of the plan what is set aside for gifts; nothing where there are none, so that no file
/// is made for it.
pub(super) fn free_gifts(gifts: Vec<String>) -> Option<Edit> {
    (!gifts.is_empty()).then(|| Edit::free_gifts(gifts))
}

fn of_gift<'c>(contents: &'c Contents, id: &str) -> Result<&'c GiftWish, Diagnostic> {
    contents.gift(id).ok_or_else(|| {
        let known = contents.gifts.iter().map(|gift| gift.id.as_str());
        let fault = Diagnostic::error(Code::Nothing, format!("there is no gift `{id}`"))
            .maybe_hint(nearest(id, known).map(|near| format!("did you mean `{near}`?")));
        match contents.set_aside(id).next() {
            Some(_) => fault.hint(format!("`oddments gifts free {id}` frees what is left for it")),
            None => fault.hint("`oddments gifts list` shows them"),
        }
    })
}

/// What is set aside for a gift that was taken out by hand is freed all the same: the keys that the
/// gift gets, where there is one, and what it has become.
pub(super) fn turn_named(
    contents: &Contents,
    id: &str,
    deed: GiftDeed,
) -> Result<(Option<Fields>, GiftTurn), Diagnostic> {
    let freed: Vec<Reservation> = contents.set_aside(id).cloned().collect();
    if deed == GiftDeed::Free && contents.gift(id).is_none() && !freed.is_empty() {
        return Ok((None, GiftTurn { gift: id.to_owned(), state: None, keep: false, freed }));
    }
    let (fields, turn) = turn(contents, of_gift(contents, id)?, deed)?;
    Ok((Some(fields), turn))
}

pub(super) fn turn(
    contents: &Contents,
    gift: &GiftWish,
    deed: GiftDeed,
) -> Result<(Fields, GiftTurn), Diagnostic> {
    if gift.stage.is_over() && !deed.of_any() {
        return Err(gift_words::gift_over(gift));
    }
    let freed = if deed.frees() { contents.set_aside(&gift.id).cloned().collect() } else { vec![] };
    let state = match deed {
        GiftDeed::Begin => GiftState::OnMachine,
        GiftDeed::Done => GiftState::Done,
        GiftDeed::GiveUp => GiftState::GivenUp,
        GiftDeed::Free => GiftState::Wished,
        GiftDeed::Keep(_) => contents.gift_state(gift),
        GiftDeed::Wish => {
            contents.gift_state(&GiftWish { stage: GiftStage::Wished, ..gift.clone() })
        }
    };
    let bare = contents.set_aside(&gift.id).next().is_none();
    let keep = match deed {
        GiftDeed::Keep(keep) => keep,
        // Where nothing is set aside there is nothing to keep.
        GiftDeed::Wish => gift.keep && !bare,
        other => gift.keep && !other.frees(),
    };
    let mut fields = deed.fields();
    let aside = contents.set_aside(&gift.id);
    let parts = aside.map(|own| (own.section.as_str(), own.remnant.as_str(), own.weight.grams()));
    fields.extend(knitted_in(contents, gift, deed, parts));
    if deed == GiftDeed::Wish && bare {
        fields.push(("keep".to_owned(), Given::Nothing));
    }
    Ok((fields, GiftTurn { gift: gift.id.clone(), state: Some(state), keep, freed }))
}

/// The key that says what a gift was knitted in, from what went into it: section, remnant and grams. It goes
/// with a gift that is wished for again or given up; of one that is done it stays where nothing is known anew.
pub(super) fn knitted_in<'a>(
    contents: &Contents,
    gift: &GiftWish,
    deed: GiftDeed,
    parts: impl Iterator<Item = (&'a str, &'a str, f64)>,
) -> Option<(String, Given)> {
    let key = "knitted_in".to_owned();
    if deed != GiftDeed::Done {
        let goes = matches!(deed, GiftDeed::GiveUp | GiftDeed::Wish | GiftDeed::Free);
        return (goes && !gift.knitted_in.is_empty()).then_some((key, Given::Nothing));
    }
    // By section: grams in all, and the remnant that most of them are of.
    let mut sections: Vec<(&str, f64, (f64, &str))> = Vec::new();
    for (section, remnant, grams) in parts {
        match sections.iter_mut().find(|(own, ..)| *own == section) {
            Some((_, all, most)) => {
                *all += grams;
                if grams > most.0 {
                    *most = (grams, remnant);
                }
            }
            None => sections.push((section, grams, (grams, remnant))),
        }
    }
    sections.sort_by(|a, b| b.1.total_cmp(&a.1));
    let told = sections.into_iter().filter_map(|(section, _, (_, remnant))| {
        let remnant = contents.remnant(remnant)?;
        let texts = [Some(remnant.yarn.clone()), remnant.lot.clone()].into_iter().flatten();
        Some((section.to_owned(), Given::Texts(texts.collect())))
    });
    let told: Vec<(String, Given)> = told.collect();
    (!told.is_empty()).then_some((key, Given::Table(told)))
}

/// What a change of a gift's keys comes to, beside the keys.
#[derive(Debug, Default)]
pub(super) struct GiftChange {
    /// In the place of those given.
    pub fields: Fields,
    /// What is free by it.
    pub freed: Vec<Reservation>,
}

/// A gift's keys are changed: one that says how far it has come does what the command does, and one
/// that alters what it is knitted as doesn't leave its yarn set aside unasked.
///
/// # Errors
/// Yarn is set aside for the gift as it was, and nothing is said of it.
pub(super) fn changed(
    contents: &Contents,
    gift: &GiftWish,
    mut fields: Fields,
    reserved: Reserved,
) -> Result<GiftChange, Diagnostic> {
    let said = fields.iter().position(|(key, _)| key == "state");
    let stage = said.and_then(|at| match &fields[at].1 {
        Given::Text(text) => GiftStage::parse(text.trim()),
        given => given.is_nothing().then_some(GiftStage::Wished),
    });
    let mut freed = Vec::new();
    if let (Some(at), Some(stage)) = (said, stage) {
        let (own, turn) = turn(contents, gift, GiftDeed::to(stage))?;
        fields.remove(at);
        fields.retain(|(key, _)| own.iter().all(|(other, _)| key != other));
        fields.extend(own);
        freed = turn.freed;
    }
    let there = freed.is_empty() && contents.set_aside(&gift.id).next().is_some();
    match reserved {
        // Whatever else is changed: whoever says so wants the yarn.
        Reserved::Free if there => freed = contents.set_aside(&gift.id).cloned().collect(),
        Reserved::Refuse if there && fields.iter().any(|(key, given)| alters(gift, key, given)) => {
            return Err(gift_words::change_of_set_aside(gift, contents));
        }
        Reserved::Free | Reserved::Refuse | Reserved::Keep => {}
    }
    Ok(GiftChange { fields, freed })
}

/// Whether a key makes another garment of the gift.
fn alters(gift: &GiftWish, key: &str, given: &Given) -> bool {
    match (key, given) {
        ("person", Given::Text(name)) => name.trim() != gift.person,
        ("garment", Given::Text(one)) => match &gift.garment {
            GarmentChoice::Any => one.trim() != GarmentChoice::ANY,
            GarmentChoice::OneOf(ids) => *ids != [one.trim()],
        },
        ("garment", Given::Texts(all)) => gift.garment != GarmentChoice::OneOf(all.clone()),
        ("options", Given::Merge(inside)) => flat(inside).into_iter().any(|(name, given)| {
            let old = gift.options.iter().find(|(own, _)| *own == name).map(|(_, value)| value);
            old.map(String::as_str) != typed(given).as_deref()
        }),
        ("pinned", Given::Merge(inside)) => inside.iter().any(|(name, given)| {
            let old = gift.pinned.iter().find(|(own, _)| own == name).map(|(_, ids)| ids);
            match given {
                Given::Texts(ids) => old.map_or(!ids.is_empty(), |old| old != ids),
                other => old.is_some() || !other.is_nothing(),
            }
        }),
        ("same", given) => sets_in(given).map(merged).as_ref() != Some(&gift.same),
        ("contrast", given) => sets_in(given).as_ref() != Some(&gift.contrast),
        // Less is to match: what is set aside stays right.
        ("match", Given::Text(id)) => !id.is_empty() && !gift.matches.contains(id),
        ("match", Given::Texts(ids)) => ids.iter().any(|id| !gift.matches.contains(id)),
        // More lots are allowed: what is set aside stays right.
        ("any_lot", given) => gift.any_lot && *given != Given::Flag(true),
        ("person" | "garment" | "options" | "pinned", _) => true,
        _ => false,
    }
}

/// A value as it would be typed after `--set NAME=`; `None` takes it out.
fn typed(given: &Given) -> Option<String> {
    given.as_typed().filter(|text| !text.is_empty())
}
