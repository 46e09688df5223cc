//! The pages that the stash and the gifts are made up of.

/// A page of the stash and the gifts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum GiftPage {
    All,
    Stash,
    People,
    Wishes,
    Plan,
    Records,
}

impl GiftPage {
    /// Each with its address and its title.
    pub const ALL: [(GiftPage, &'static str, &'static str); 6] = [
        (GiftPage::All, "/gifts", "Stash and gifts"),
        (GiftPage::Stash, "/gifts/stash", "Stash"),
        (GiftPage::People, "/gifts/people", "People"),
        (GiftPage::Wishes, "/gifts/wishes", "Wishes"),
        (GiftPage::Plan, "/gifts/plan", "Plan"),
        (GiftPage::Records, "/gifts/records", "Finished"),
    ];

    pub fn path(self) -> &'static str {
        GiftPage::ALL.iter().find(|(page, ..)| *page == self).map_or("/gifts", |(_, path, _)| path)
    }

    pub fn title(self) -> &'static str {
        GiftPage::ALL.iter().find(|(page, ..)| *page == self).map_or("", |(.., title)| title)
    }
}
