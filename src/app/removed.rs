use knit::stash::{Contents, Reservation};
use store::workspace::{Edit, Given, List};

/// What went beside the entries that were taken out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Removed {
    /// What was set aside and is so no longer.
    pub freed: Vec<Reservation>,
    /// Gift, section and remnant where a gift was to be knitted from what is gone.
    pub unpinned: Vec<(String, String, String)>,
    /// Gifts that went with the person they were for.
    pub gifts: Vec<String>,
}

impl Removed {
    /// The gifts go, and their yarn is free.
    pub(super) fn free_gifts(
        &mut self,
        contents: &Contents,
        gifts: &[String],
        edits: &mut Vec<Edit>,
    ) {
        let theirs = contents.reservations.iter().filter(|r| gifts.contains(&r.gift));
        self.freed.extend(theirs.cloned());
        if !self.freed.is_empty() {
            edits.push(Edit::free_gifts(gifts.iter().cloned()));
        }
    }

    /// The people's gifts go with them.
    pub(super) fn with_gifts_of(
        &mut self,
        contents: &Contents,
        people: &[String],
        edits: &mut Vec<Edit>,
    ) {
        let theirs = contents.gifts.iter().filter(|gift| people.contains(&gift.person));
        self.gifts = theirs.map(|gift| gift.id.clone()).collect();
        let gone = self.gifts.iter().cloned();
        edits.extend(gone.map(|key| Edit::Remove { list: List::Gifts, key }));
        let gifts = self.gifts.clone();
        self.free_gifts(contents, &gifts, edits);
    }

    /// Nothing is set aside of the remnants any more, and no gift waits for them.
    pub(super) fn forget_remnants(
        &mut self,
        contents: &Contents,
        remnants: &[String],
        edits: &mut Vec<Edit>,
    ) {
        let of_them = contents.reservations.iter().filter(|r| remnants.contains(&r.remnant));
        self.freed.extend(of_them.cloned());
        if !self.freed.is_empty() {
            edits.push(Edit::free_remnants(remnants.iter().cloned()));
        }
        for gift in contents.gifts.iter().map(|gift| gift.id.as_str()) {
            self.unpin(contents, gift, remnants, edits);
        }
    }

    /// Gifts that need no more yarn wait for none: nothing is asked of them.
    pub(super) fn unpin_over(
        &mut self,
        contents: &Contents,
        remnants: &[String],
        edits: &mut Vec<Edit>,
    ) {
        for gift in contents.gifts.iter().filter(|gift| gift.stage.is_over()) {
            self.unpin(contents, &gift.id, remnants, edits);
        }
    }

    /// A gift is no longer to be knitted from these remnants.
    pub(super) fn unpin(
        &mut self,
        contents: &Contents,
        gift: &str,
        remnants: &[String],
        edits: &mut Vec<Edit>,
    ) {
        let Some(wish) = contents.gift(gift) else { return };
        let mut pins = Vec::new();
        for (section, ids) in &wish.pinned {
            let (gone, kept): (Vec<&String>, Vec<&String>) =
                ids.iter().partition(|id| remnants.contains(id));
            if gone.is_empty() {
                continue;
            }
            let name = |id: &String| (gift.to_owned(), section.clone(), id.clone());
            self.unpinned.extend(gone.into_iter().map(name));
            pins.push((section.clone(), Given::Texts(kept.into_iter().cloned().collect())));
        }
        if !pins.is_empty() {
            let fields = vec![("pinned".to_owned(), Given::Merge(pins))];
            edits.push(Edit::Change { list: List::Gifts, key: gift.to_owned(), fields });
        }
    }
}
