use super::{Date, GiftPiece, GiftStage, KnittedIn, SectionSets};

/// Something to knit for someone.
#[derive(Clone, Debug, PartialEq)]
pub struct GiftWish {
    /// Short name, unique in the workspace.
    pub id: String,
    /// Name of the person; empty where it is one of many and for nobody by name.
    pub person: String,
    /// What it may be.
    pub garment: GarmentChoice,
    /// Name of the knitter who is to make it; `None`: any.
    pub knitter: Option<String>,
    /// From 1 (if there is yarn left) to 5 (before all else).
    pub priority: u8,
    /// The day it must be there.
    pub due: Option<Date>,
    /// Options of the garment, as they would be typed.
    pub options: Vec<(String, String)>,
    /// What an accepted plan wrote into `options`: as large as the yarn went. Nobody asked for it, and the
    /// next plan may choose it anew.
    pub scaled: Vec<(String, String)>,
    /// A plan without it is no plan.
    pub must: bool,
    /// Sections with the ids of the remnants they are to be knitted from.
    pub pinned: Vec<(String, Vec<String>)>,
    /// Sections that are to be of one yarn and lot.
    pub same: SectionSets,
    /// Sections of which each is to be of another yarn.
    pub contrast: SectionSets,
    /// Ids of gifts, or of entries for many, that are to be of one yarn and lot with it.
    pub matches: Vec<String>,
    /// Sections of one yarn may be of several dye lots.
    pub any_lot: bool,
    /// How far it has come.
    pub stage: GiftStage,
    /// Of one that is done, what its sections were knitted in, as far as it is known; that which took most first.
    pub knitted_in: Vec<KnittedIn>,
    /// A new plan leaves alone what is set aside for it.
    pub keep: bool,
    /// Which piece it is of an entry that wishes for many.
    pub piece: Option<GiftPiece>,
    /// In the knitter's words.
    pub note: Option<String>,
}

impl GiftWish {
    /// Whether what is set aside for it stays so where all is planned again: it is kept fast, or
    /// has been begun.
    pub fn holds(&self) -> bool {
        !self.stage.is_over() && (self.keep || self.stage == GiftStage::OnMachine)
    }

    /// The options that the knitter asked for: all but what a plan wrote, as long as that stands.
    pub fn asked(&self) -> impl Iterator<Item = &(String, String)> {
        self.options.iter().filter(|option| !self.scaled.contains(option))
    }

    /// The id of its entry in the file: its own, but for one of many.
    pub fn entry(&self) -> &str {
        self.piece.as_ref().map_or(&self.id, |piece| &piece.entry)
    }

    /// Where the knitter says nothing.
    pub const MIDDLE_PRIORITY: u8 = 3;
}

/// What may be knitted for a gift.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GarmentChoice {
    /// Any garment at hand: "anything warm".
    Any,
    /// One of these garments, by id.
    OneOf(Vec<String>),
}

impl GarmentChoice {
    /// What a knitter writes for any garment.
    pub const ANY: &'static str = "anything warm";

    /// Whether the garment of that id will do.
    pub fn allows(&self, garment: &str) -> bool {
        match self {
            GarmentChoice::Any => true,
            GarmentChoice::OneOf(ids) => ids.iter().any(|id| id == garment),
        }
    }

    /// How many garments are named before that one.
    pub fn place(&self, garment: &str) -> u32 {
        let before = match self {
            GarmentChoice::Any => 0,
            GarmentChoice::OneOf(ids) => ids.iter().position(|id| id == garment).unwrap_or(0),
        };
        u32::try_from(before).unwrap_or(u32::MAX)
    }
}
