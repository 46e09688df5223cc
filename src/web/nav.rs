//! The pages that are named on every page.

use super::gift_part::GiftPage;

/// Only what works has a place here.
pub(super) const NAV: [(&str, &str); 9] = [
    ("/start", "Begin"),
    ("/grade", "Grade"),
    ("/gifts", "Stash and gifts"),
    ("/learnt", "What was learnt"),
    ("/machine", "At the machine"),
    ("/swatch", "Swatch"),
    ("/chart", "Size charts"),
    ("/garments", "Garments"),
    ("/techniques", "How it is done"),
];

/// What stands below every page: the way to it holds the token, so that it is no page to keep.
pub(super) const FOOT: (&str, &str) = ("/phone", "On a phone");

/// Pages of the same part that are no list of its own: yarns, what people measure and like (whom there is, and how
/// a wish stands, is under People), settings.
pub(super) const KEPT: [(&str, &str); 3] =
    [("/yarns", "Yarns"), ("/people", "Measures and likes"), ("/settings", "Settings")];

/// Where the pages are that are named on every page.
pub(super) fn pages() -> impl Iterator<Item = &'static str> {
    let own = GiftPage::ALL.into_iter().map(|(_, path, _)| path);
    NAV.into_iter().chain(KEPT).map(|(path, _)| path).chain(own)
}
