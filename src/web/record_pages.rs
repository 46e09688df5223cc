//! The page of the finished pieces: what was recorded, and the form that records one. What is sent is looked
//! at before it is written.

use askama::Template;

use super::gift_part::record_address;
use super::gift_top::{GiftPage, GiftTop, Told};
use super::page_form::{Choice, garment_choices};
use super::page_parts::{FaultView, Frame, TableView};
use super::posted::Posted;
use super::problem::{Answer, Problem};
use super::state::Shared;

#[derive(Template)]
#[template(path = "web/records.html")]
pub(super) struct RecordPage {
    frame: Frame,
    top: GiftTop,
    posted: Posted,
    /// What a finished piece would be noted as.
    look: Option<LookView>,
    gift_ids: Vec<(String, String)>,
    garments: Vec<Choice>,
    headings: Vec<String>,
    records: Vec<RecordRow>,
}

/// A finished piece, with the page on which it is put right.
struct RecordRow {
    href: String,
    cells: Vec<String>,
}

/// What a finished piece would be noted as, before it is.
pub(super) struct LookView {
    pub tables: [TableView; 2],
    pub lines: Vec<String>,
    /// Whether it is too far off to be learnt from unasked.
    pub odd: bool,
    /// Whether it is taken for the rest of a piece that was begun.
    pub joined: bool,
    pub warnings: Vec<FaultView>,
    /// Names and values of fields that say what it rests on.
    pub rests: Vec<(String, String)>,
}

pub(super) fn record_page(
    shared: &Shared,
    told: Told,
    look: Option<LookView>,
) -> Answer<RecordPage> {
    let now = shared.live().map_err(Problem::of_path)?.now();
    let contents = &now.workspace.contents;
    let open = contents.gifts.iter().filter(|gift| !gift.stage.is_over());
    let listed = report::record_list(contents);
    // The latest first, as the list has them.
    let rows = contents.records.iter().rev().zip(listed.rows);
    Ok(RecordPage {
        frame: GiftPage::Records.frame(),
        top: GiftTop::of(GiftPage::Records, shared, &now.workspace, &told, String::new())?,
        look,
        gift_ids: open.map(|gift| (gift.id.clone(), gift.person.clone())).collect(),
        garments: garment_choices(shared, told.posted.get("garment")),
        headings: listed.headings,
        records: rows
            .map(|(piece, cells)| RecordRow { href: record_address(piece), cells })
            .collect(),
        posted: told.posted,
    })
}
