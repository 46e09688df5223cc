//! The use cases, shared by every way in: grade a garment, chart sizes, list garments, and the
//! workshop of a garment's author: make one, check it, run its cases, reload it; and the workspace:
//! open it, change what is in it, take a change back. Knows neither a
//! terminal nor a browser; gives values, not text.

mod ask;
mod ask_query;
mod batch;
mod carry_ask;
mod carry_on;
mod colour_search;
mod colouring;
mod counted;
mod desk;
mod dial;
mod entry_places;
mod fitting;
mod garment_check;
mod garment_new;
mod garment_shelf;
mod garment_test;
mod garments;
mod gift_life;
mod gift_many;
mod gift_names;
mod gift_plan;
mod grade;
mod in_the_round;
mod in_use;
mod key_words;
mod learning;
mod live_workspace;
mod pace;
mod part_shelves;
mod places;
mod reach;
mod reach_ask;
mod record;
mod records;
mod removed;
mod request_keys;
mod round_sizes;
mod round_told;
mod scaling;
mod serving;
mod sheet;
mod swatch_keys;
mod taught;
mod told_by_record;
mod workbench;
mod workspace;
mod workspace_edit;
mod yarn_gauge;
mod yarn_request;

pub use ask_query::{Pairs, pairs};
pub use batch::{BatchLine, LONGEST_LINE, LineNumbers, LineSplitter, RawLine};
pub use carry_ask::{At, CarryAsk, CarryKeys, MOST_EXTRA_ROWS, Now as GaugeNow, NowCount};
pub use colour_search::{Alternative, MOST_ALTERNATIVES, Search, SearchRequest, Vary};
pub use colouring::{ColouredSize, Colouring, only_size, usual_yarn};
pub use counted::{COUNTED, CountedPiece};
pub use desk::{Asked, Desk, Names, Prepared};
pub use dial::dial_for;
pub use garment_check::GarmentCheck;
pub use garment_shelf::{GarmentShelf, Shelved};
pub use garment_test::{CaseOutcome, GarmentTest};
pub use garments::Garments;
pub use gift_life::{GiftDeed, GiftTurn, Reserved};
use gift_names::GiftNames;
pub use gift_plan::{PlanRequest, ShopRequest, accept, money_to_spend, plan_gifts, shop};
pub use grade::{GradeRequest, Person};
pub use in_the_round::{InTheRound, in_the_round, poses};
pub use key_words::Named;
pub use knit::record::Recorded;
pub use learning::Learning;
pub use live_workspace::{LiveWorkspace, Now};
pub use places::{Places, Put};
pub use reach::{Reach, ReachRequest, Reached, Remnant, accepted_chance};
pub use reach_ask::ReachAsk;
pub use record::{PieceAsk, RecordRequest, record, record_as_told, record_look, weighing};
pub use removed::Removed;
pub use request_keys::{Ask, RequestKey};
pub use round_sizes::RoundSizes;
pub use serving::{Listening, Serving};
pub use sheet::{run_sheet, sheet_pictures, stripes_of};
pub use swatch_keys::{STRUCTURES, SwatchAsk, SwatchEntry};
pub use workbench::{GarmentHome, Workbench, WorkbenchSources};
pub use workspace::Workspace;
pub use workspace_edit::{Dependents, WorkspaceEdit, gift_stem, init_workspace, record_at};
pub use yarn_request::YarnRequest;

use diag::{Code, Diagnostic, Severity, nearest};

/// The code of an honest "this size can't be made".
const REFUSED: Code = Code::ScriptRefused;

/// Whether the script itself failed, other than by refusing the size.
fn is_script_fault(fault: &Diagnostic) -> bool {
    fault.severity == Severity::Error && fault.code.of_script() && fault.code != REFUSED
}

/// A name that stands for nothing in the workspace; `oddments COMMAND list` shows those that do.
fn unknown<'a>(
    what: &str,
    id: &str,
    known: impl Iterator<Item = &'a str>,
    command: &str,
) -> Diagnostic {
    Diagnostic::error(Code::Unknown, format!("there is no {what} `{id}`"))
        .maybe_hint(nearest(id, known).map(|near| format!("did you mean `{near}`?")))
        .hint(format!("`oddments {command} list` shows them"))
}
