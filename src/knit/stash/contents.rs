use std::collections::BTreeMap;

use super::{
    FinishedPiece, GiftStage, GiftState, GiftWish, Knitter, NamedSwatches, Person, Remnant,
    Reservation, Settings, Yarn,
};
use crate::body::{Measures, SizeGroup, SizeTable};
use crate::estimate::TimeTable;
use crate::machine::Machine;
use units::Mass;

/// Everything that is in a workspace, read and checked.
#[derive(Clone, Debug)]
pub struct Contents {
    /// How the knitter works.
    pub settings: Settings,
    /// By id.
    pub yarns: BTreeMap<String, Yarn>,
    /// In the order in which the knitter wrote them down, as are the lists below.
    pub remnants: Vec<Remnant>,
    /// Whom to knit for.
    pub people: Vec<Person>,
    /// Who knits; none where one does it all.
    pub knitters: Vec<Knitter>,
    /// What is wished for.
    pub gifts: Vec<GiftWish>,
    /// What was knitted and weighed.
    pub records: Vec<FinishedPiece>,
    /// For each of them the line of its file that it begins in, from 1.
    pub record_lines: Vec<u32>,
    /// What plans have set aside.
    pub reservations: Vec<Reservation>,
    /// By id.
    pub swatches: BTreeMap<String, NamedSwatches>,
    /// The built-in profiles with the workspace's own laid over them.
    pub machines: Vec<Machine>,
    /// The built-in sizes with the workspace's own laid over them.
    pub sizes: SizeTable,
    /// The built-in times of operations with the workspace's own laid over them.
    pub times: TimeTable,
    /// The body measures that people may have: those of the sizes, and those that the workspace's
    /// garments make known.
    pub measures: Measures,
}

impl Contents {
    /// The remnant of that id.
    pub fn remnant(&self, id: &str) -> Option<&Remnant> {
        self.remnants.iter().find(|remnant| remnant.id == id)
    }

    /// The person of that name.
    pub fn person(&self, name: &str) -> Option<&Person> {
        self.people.iter().find(|person| person.name == name)
    }

    /// The knitter of that name.
    pub fn knitter(&self, name: &str) -> Option<&Knitter> {
        self.knitters.iter().find(|knitter| knitter.name == name)
    }

    /// The gift of that id.
    pub fn gift(&self, id: &str) -> Option<&GiftWish> {
        self.gifts.iter().find(|gift| gift.id == id)
    }

    /// The pieces of an entry that wishes for many; none where there is no such entry.
    pub fn pieces<'a>(&'a self, entry: &'a str) -> impl Iterator<Item = &'a GiftWish> {
        let own = move |gift: &&GiftWish| gift.piece.as_ref().is_some_and(|p| p.entry == entry);
        self.gifts.iter().filter(own)
    }

    /// Who knits a gift: whom it names, or whom an accepted plan gave it to.
    pub fn knitter_of<'a>(&'a self, gift: &'a GiftWish) -> Option<&'a str> {
        let planned = || self.set_aside(&gift.id).find_map(|own| own.knitter.as_deref());
        gift.knitter.as_deref().or_else(planned)
    }

    /// What is set aside for a gift.
    pub fn set_aside<'a>(&'a self, gift: &'a str) -> impl Iterator<Item = &'a Reservation> {
        self.reservations.iter().filter(move |reservation| reservation.gift == gift)
    }

    /// How a gift stands, as far as the files know: a plan that nobody has accepted is in none.
    pub fn gift_state(&self, gift: &GiftWish) -> GiftState {
        match gift.stage {
            GiftStage::Wished if self.set_aside(&gift.id).next().is_some() => GiftState::SetAside,
            GiftStage::Wished => GiftState::Wished,
            GiftStage::OnMachine => GiftState::OnMachine,
            GiftStage::Done => GiftState::Done,
            GiftStage::GivenUp => GiftState::GivenUp,
        }
    }

    /// The group of a person's size; `None` for one known by measures alone.
    pub fn group_of(&self, person: &Person) -> Option<SizeGroup> {
        self.sizes.get(person.size.as_ref()?.as_str()).map(|size| size.group)
    }

    /// What plans have set aside, in grams, by remnant.
    pub fn reserved_g(&self) -> BTreeMap<&str, f64> {
        let mut reserved = BTreeMap::new();
        for reservation in &self.reservations {
            *reserved.entry(reservation.remnant.as_str()).or_default() +=
                reservation.weight.grams();
        }
        reserved
    }

    /// What is left of a remnant beside what is reserved; never below nothing.
    pub fn free(&self, remnant: &Remnant) -> Mass {
        let reserved: f64 = self
            .reservations
            .iter()
            .filter(|reservation| reservation.remnant == remnant.id)
            .map(|reservation| reservation.weight.grams())
            .sum();
        Mass::from_grams((remnant.weight.grams() - reserved).max(0.0)).unwrap_or_default()
    }
}
