//! The life of a gift in words: what is set aside for it, what becomes free, what stands in the way
//! of a change. The one place for each of these sentences.

use std::collections::BTreeMap;

use diag::{Code, Diagnostic};
use knit::stash::{Contents, GiftState, GiftWish, Remnant, Reservation};

/// A weight as it is said: `12.5 g`, `30 g`.
pub(super) fn said_grams(grams: f64) -> String {
    // What rounds to nothing has no sign.
    let text = format!("{:.1}", (grams * 10.0).round() / 10.0 + 0.0);
    format!("{} g", text.strip_suffix(".0").unwrap_or(&text))
}

/// Texts with commas between, and an "and" before the last.
pub(super) fn and(all: &[String]) -> String {
    match all {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// How much of which remnants: `42.4 g of slate-1 and 13 g of shoreline-1`.
pub fn yarn_of<'a>(reservations: impl IntoIterator<Item = &'a Reservation>) -> String {
    let mut order: Vec<&str> = Vec::new();
    let mut grams: BTreeMap<&str, f64> = BTreeMap::new();
    for reserved in reservations {
        if !order.contains(&reserved.remnant.as_str()) {
            order.push(&reserved.remnant);
        }
        *grams.entry(&reserved.remnant).or_default() += reserved.weight.grams();
    }
    let each: Vec<String> = order
        .into_iter()
        .map(|id| format!("{} of {id}", said_grams(grams.get(id).copied().unwrap_or(0.0))))
        .collect();
    and(&each)
}

/// For which gifts: `42.4 g for the hat of ruan-1`.
fn shares_of<'a>(reservations: impl IntoIterator<Item = &'a Reservation>) -> String {
    let each: Vec<String> = reservations
        .into_iter()
        .map(|r| format!("{} for the {} of {}", said_grams(r.weight.grams()), r.section, r.gift))
        .collect();
    and(&each)
}

/// What is free again; nothing where nothing is.
pub fn freed(reservations: &[Reservation]) -> Option<String> {
    (!reservations.is_empty()).then(|| format!("free again: {}", yarn_of(reservations)))
}

/// A change to a gift that would leave its yarn set aside for something else.
pub fn change_of_set_aside(gift: &GiftWish, contents: &Contents) -> Diagnostic {
    let yarn = yarn_of(contents.set_aside(&gift.id));
    Diagnostic::error(Code::InUse, format!("for `{}` {yarn} are set aside as it was", gift.id))
        .hint("`--free` frees the yarn, so that it can be planned anew; `--keep-yarn` leaves it set aside")
}

/// A gift that is to go while yarn is set aside for it.
pub fn removal_of_set_aside(gift: &GiftWish, contents: &Contents) -> Diagnostic {
    let yarn = yarn_of(contents.set_aside(&gift.id));
    Diagnostic::error(Code::InUse, format!("for `{}` {yarn} are set aside", gift.id)).hint(format!(
        "`--and-reservations` frees it in the same change; `oddments gifts free {}` before it",
        gift.id
    ))
}

/// A remnant that would become another yarn under what is set aside of it.
pub fn change_of_reserved(remnant: &Remnant, contents: &Contents) -> Diagnostic {
    let of_it = contents.reservations.iter().filter(|r| r.remnant == remnant.id);
    let told = format!("of `{}` some is set aside: {}", remnant.id, shares_of(of_it));
    Diagnostic::error(Code::InUse, told)
        .hint("`--free` frees it; `--keep-yarn` leaves it set aside")
}

/// What stands in the way when a remnant goes: yarn of it that is set aside, gifts that are to be
/// knitted from it. `ours` is a gift that is done with it.
pub fn remnant_in_use(
    id: &str,
    contents: &Contents,
    ours: Option<&str>,
    way: &str,
) -> Vec<Diagnostic> {
    let mut told = Vec::new();
    let others = |gift: &str| ours != Some(gift);
    let of_it: Vec<&Reservation> =
        contents.reservations.iter().filter(|r| r.remnant == id && others(&r.gift)).collect();
    if !of_it.is_empty() {
        let shares = shares_of(of_it.iter().copied());
        let mut gifts: Vec<&str> = of_it.iter().map(|r| r.gift.as_str()).collect();
        gifts.dedup();
        let free = format!("`oddments gifts free {}` frees it, to plan anew", gifts.join(" "));
        let fault =
            Diagnostic::error(Code::InUse, format!("of `{id}` some is set aside: {shares}"));
        told.push(fault.hint(format!("{way}{free}")));
    }
    for gift in contents.gifts.iter().filter(|gift| others(&gift.id) && !gift.stage.is_over()) {
        for (section, _) in gift.pinned.iter().filter(|(_, ids)| ids.iter().any(|own| own == id)) {
            let fault = format!("`{}` is to have its {section} from `{id}`", gift.id);
            told.push(Diagnostic::error(Code::InUse, fault).hint(format!(
                "{way}`oddments gifts change {} --pin {section}=` lets it have any",
                gift.id
            )));
        }
    }
    told
}

/// People who can't go, since something is to be knitted for them.
pub fn still_wished_for(person: &str, contents: &Contents) -> Option<Diagnostic> {
    let theirs: Vec<&GiftWish> = contents.gifts.iter().filter(|g| g.person == person).collect();
    if theirs.is_empty() {
        return None;
    }
    let mut reserved = false;
    let each: Vec<String> = theirs
        .iter()
        .map(|gift| {
            let yarn = yarn_of(contents.set_aside(&gift.id));
            reserved |= !yarn.is_empty();
            if yarn.is_empty() {
                gift.id.clone()
            } else {
                format!("{} ({yarn} set aside)", gift.id)
            }
        })
        .collect();
    if theirs.iter().all(|gift| gift.stage.is_over()) && !reserved {
        let each = theirs.iter().map(|gift| format!("{} ({})", gift.id, gift.stage.name()));
        let each: Vec<String> = each.collect();
        let fault = format!("gifts that are over name {person}: {}", and(&each));
        return Some(Diagnostic::error(Code::Unknown, fault).hint(
            "`--and-gifts` removes these entries too; the records of what was knitted stay",
        ));
    }
    let code = if reserved { Code::InUse } else { Code::Unknown };
    let fault = format!("{person} has gifts, which would be for nobody: {}", and(&each));
    Some(Diagnostic::error(code, fault).hint(format!(
        "`--and-gifts` removes them and frees their yarn; `oddments gifts change {} --person NAME` \
         gives one to someone else",
        theirs[0].id
    )))
}

/// Someone goes whose size finished pieces were knitted in.
pub fn learnt_no_more(person: &str, contents: &Contents) -> Option<Diagnostic> {
    if contents.person(person).is_none() || contents.sizes.get(person).is_some() {
        return None;
    }
    let of_theirs = contents.records.iter().filter(|piece| piece.size == person);
    let each: Vec<String> = of_theirs
        .map(|piece| {
            let day = piece.date.map_or_else(String::new, |date| format!(", {date}"));
            format!("{} ({}{day})", piece.garment, piece.yarn)
        })
        .collect();
    (!each.is_empty()).then(|| {
        let told =
            format!("nothing is learnt any more of what was recorded for {person}: {}", and(&each));
        Diagnostic::warning(Code::RecordUnused, told).hint(
            "give those records in records.toml a size of the table, or take them out; \
             `oddments undo` brings the person back",
        )
    })
}

/// A yarn that can't go, since remnants are of it.
pub fn yarn_in_stash(yarn: &str, contents: &Contents) -> Option<Diagnostic> {
    let mine: Vec<&Remnant> = contents.remnants.iter().filter(|r| r.yarn == yarn).collect();
    if mine.is_empty() {
        return None;
    }
    let is_mine = |r: &&Reservation| mine.iter().any(|remnant| remnant.id == r.remnant);
    let reserved: Vec<&Reservation> = contents.reservations.iter().filter(is_mine).collect();
    let each: Vec<String> = mine.iter().map(|r| format!("{} ({})", r.id, r.weight)).collect();
    let fault = format!("there is no yarn `{yarn}` any more then for {}", and(&each));
    let code = if reserved.is_empty() { Code::Unknown } else { Code::InUse };
    let fault = Diagnostic::error(code, fault)
        .hint("`--and-remnants` removes them and what is set aside of them");
    let shares = shares_of(reserved.iter().copied());
    Some(if shares.is_empty() { fault } else { fault.context(format!("set aside: {shares}")) })
}

/// Something is wanted of a gift that is done or given up.
pub fn gift_over(gift: &GiftWish) -> Diagnostic {
    Diagnostic::error(Code::GiftOver, format!("`{}` is {} already", gift.id, gift.stage.name()))
        .hint(format!("`oddments gifts wish {}` wishes for it again", gift.id))
}

/// A gift changed between plan and acceptance.
pub fn gift_changed(gift: &str, what: &str) -> Diagnostic {
    Diagnostic::error(Code::ChangedSince, format!("`{gift}` {what} since the plan was made"))
        .hint("plan again")
}

/// What a gift has become, in one line.
pub fn turned(gift: &str, state: Option<GiftState>, keep: bool, free: &[Reservation]) -> String {
    let keep = if keep { ", kept fast" } else { "" };
    let done = state == Some(GiftState::Done);
    let state = state.map_or("there is no such gift any more", GiftState::name);
    let mut text = format!("{gift}: {state}{keep}");
    if let Some(freed) = freed(free) {
        text.push_str(&format!("; {freed}"));
        if done {
            text.push_str(" (weigh what it was knitted from: the stash has it as it was before)");
        }
    }
    text
}

/// A gift is begun, and no plan knows what it is knitted from.
pub fn begun_from_nothing(gift: &str) -> Diagnostic {
    Diagnostic::warning(Code::InUse, format!("nothing is set aside for `{gift}`")).hint(
        "a plan takes what it is knitted from to be free: weigh that yarn again when it is done",
    )
}

/// A gift is kept fast for which nothing is set aside.
pub fn kept_of_nothing(gift: &str) -> Diagnostic {
    Diagnostic::warning(
        Code::InUse,
        format!("nothing is set aside for `{gift}` that could be kept"),
    )
    .hint(format!(
        "it holds for what the next plan sets aside; `oddments gifts keep --off {gift}` takes it \
             back"
    ))
}

/// What was knitted is not what the gift asks for.
pub fn other_gift(gift: &GiftWish, what: &str) -> Diagnostic {
    Diagnostic::warning(Code::OtherGift, format!("`{}` {what}", gift.id))
        .hint("is it the right gift? `oddments undo` takes the record back")
}

/// A section whose yarn was set aside, and of which nothing was weighed.
pub fn not_weighed(reserved: &Reservation) -> Diagnostic {
    let Reservation { section, remnant, .. } = reserved;
    let fault =
        format!("nothing was weighed for the {section}: {remnant} weighs what it did before");
    Diagnostic::warning(Code::OtherGift, fault).hint(format!(
        "weigh it and record it with the others: --used \"{section}:{remnant}=12 g\"; `oddments stash \
         change {remnant} --weight` puts the stash right"
    ))
}

/// The body of someone changed for whom yarn is set aside.
pub fn measured_anew(person: &str, contents: &Contents) -> Option<Diagnostic> {
    planned_before(person, contents, |ids| {
        format!("yarn is set aside for {ids} in the size {person} had")
    })
}

/// What someone can have changed for whom yarn is set aside.
pub fn avoided_anew(person: &str, contents: &Contents) -> Option<Diagnostic> {
    planned_before(person, contents, |ids| {
        format!("yarn is set aside for {ids} by what {person} could have before")
    })
}

/// Yarn is set aside for a person's gifts, which are named in what is told.
fn planned_before(
    person: &str,
    contents: &Contents,
    told: impl FnOnce(&str) -> String,
) -> Option<Diagnostic> {
    let theirs = contents.gifts.iter().filter(|g| g.person == person && !g.stage.is_over());
    let ids: Vec<String> = theirs
        .filter(|g| contents.set_aside(&g.id).next().is_some())
        .map(|g| g.id.clone())
        .collect();
    (!ids.is_empty()).then(|| {
        Diagnostic::warning(Code::InUse, told(&and(&ids)))
            .hint(format!("`oddments gifts free {}` and plan again", ids.join(" ")))
    })
}

/// Yarn was to be freed, and none is set aside.
pub fn nothing_to_free(what: &str) -> Diagnostic {
    Diagnostic::warning(Code::InUse, format!("nothing is set aside for `{what}`, so none is freed"))
        .hint("`oddments gifts list` shows for which gifts yarn is set aside")
}

/// A yarn's count changed of which some is set aside.
pub fn counted_anew(yarn: &str, contents: &Contents) -> Option<Diagnostic> {
    set_aside_by(yarn, contents, "its old count")
}

/// What a yarn is made of, or how it is washed, changed of which some is set aside.
pub fn described_anew(yarn: &str, contents: &Contents) -> Option<Diagnostic> {
    set_aside_by(yarn, contents, "its old fibres and care")
}

fn set_aside_by(yarn: &str, contents: &Contents, what: &str) -> Option<Diagnostic> {
    let of_yarn = |r: &&Reservation| contents.remnant(&r.remnant).is_some_and(|it| it.yarn == yarn);
    let mut ids: Vec<String> =
        contents.reservations.iter().filter(of_yarn).map(|r| r.gift.clone()).collect();
    ids.dedup();
    (!ids.is_empty()).then(|| {
        let told = format!("of `{yarn}` some is set aside by {what}, for {}", and(&ids));
        Diagnostic::warning(Code::InUse, told)
            .hint(format!("`oddments gifts free {}` and plan again", ids.join(" ")))
    })
}
