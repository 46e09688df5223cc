//! The pages that the stash and the gifts are made up of.

use knit::stash::FinishedPiece;
use store::workspace::record_name;

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

/// Where the page of a finished piece is.
pub(super) fn record_address(piece: &FinishedPiece) -> String {
    format!("{}/{}", GiftPage::Records.path(), record_name(piece).key)
}

/// An address of an entry under that of its list: whatever its name holds.
pub(super) fn address_under(list: &str, key: &str) -> String {
    let coded = serde_urlencoded::to_string([("", key)]).unwrap_or_default();
    format!("{list}/{}", coded.trim_start_matches('=').replace('+', "%20"))
}
