//! Which piece a record is of: one of its own, or what is still missing of one that was begun.

use super::RecordRequest;
use super::chain::Chain;
use diag::{Code, Diagnostic, nearest};
use knit::record::{Apart, Joined};
use knit::stash::{Contents, FinishedPiece};

/// Which piece a record is said to be of.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum PieceAsk {
    /// The rest of the same garment in the same size and options where one was left without these sections;
    /// else a piece of its own.
    #[default]
    Found,
    /// A piece of its own.
    New,
    /// The piece of that name in the records.
    Named(String),
}

impl PieceAsk {
    /// The word for a piece of its own.
    pub const NEW: &str = "new";

    /// As it is typed.
    pub fn typed(text: &str) -> PieceAsk {
        match text.trim() {
            "" => PieceAsk::Found,
            PieceAsk::NEW => PieceAsk::New,
            name => PieceAsk::Named(name.to_owned()),
        }
    }

    /// The piece of the records that it goes on with.
    ///
    /// # Errors
    /// None of that name, or one of another garment.
    pub(super) fn joined(
        &self,
        contents: &Contents,
        request: &RecordRequest,
        chain: &Chain,
    ) -> Result<Option<Joined>, Diagnostic> {
        match self {
            PieceAsk::New => Ok(None),
            PieceAsk::Named(name) => named(contents, request, name).map(Some),
            PieceAsk::Found => Ok(found(contents, request, chain)),
        }
    }
}

/// A number that no piece has yet: what was removed may have been the highest.
pub(super) fn unused(contents: &Contents) -> String {
    let taken = contents.records.iter().filter_map(|record| record.piece.as_deref());
    let highest = taken.filter_map(|piece| piece.parse::<u64>().ok()).max().unwrap_or(0);
    highest.max(contents.records.len() as u64).saturating_add(1).to_string()
}

fn of_piece<'c>(
    contents: &'c Contents,
    piece: &'c str,
) -> impl Iterator<Item = &'c FinishedPiece> + Clone {
    contents.records.iter().filter(move |record| record.piece.as_deref() == Some(piece))
}

fn named(contents: &Contents, request: &RecordRequest, name: &str) -> Result<Joined, Diagnostic> {
    let own = of_piece(contents, name);
    let Some(first) = own.clone().next() else {
        let known = contents.records.iter().filter_map(|record| record.piece.as_deref());
        let hint = match nearest(name, known) {
            Some(near) => format!("did you mean `{near}`? `new` begins one"),
            None => "records.toml names the pieces, `new` begins one".to_owned(),
        };
        let fault = format!("there is no piece `{name}` in the records");
        return Err(Diagnostic::error(Code::NoPieceNoted, fault).hint(hint));
    };
    if first.garment != request.garment {
        let fault = format!("piece `{name}` is a {}, not a {}", first.garment, request.garment);
        return Err(Diagnostic::error(Code::NoPieceNoted, fault)
            .hint("leave --piece out, or name the piece that this is a part of"));
    }
    Ok(joined(name, own))
}

/// The latest piece that lacks what was weighed now, where the one before it that lacks it is not as likely.
fn found(contents: &Contents, request: &RecordRequest, chain: &Chain) -> Option<Joined> {
    let weighed = |name: &str| chain.links.iter().any(|link| link.section == name);
    let alike = |record: &&FinishedPiece| is_alike(record, request);
    let latest = contents.records.iter().rev().find(alike)?.piece.as_deref()?;
    let mut own = of_piece(contents, latest);
    let lacks = |record: &FinishedPiece| record.sections.iter().all(|s| !weighed(&s.name));
    (own.clone().all(|record| alike(&record)) && own.all(lacks))
        .then(|| joined(latest, of_piece(contents, latest)))
}

/// The latest record alike, where it names no piece and lacks what was weighed now: it may have been the
/// beginning of this one, and only the knitter knows.
pub(super) fn apart(contents: &Contents, request: &RecordRequest, chain: &Chain) -> Option<Apart> {
    let (entry, latest) =
        contents.records.iter().enumerate().rev().find(|(_, own)| is_alike(own, request))?;
    let lacks = latest.sections.iter().all(|s| chain.links.iter().all(|l| l.section != s.name));
    (latest.piece.is_none() && lacks).then(|| Apart {
        piece: unused(contents),
        line: contents.record_lines.get(entry).map_or(0, |line| *line),
        sections: latest.sections.iter().map(|section| section.name.clone()).collect(),
        date: latest.date,
    })
}

fn is_alike(record: &FinishedPiece, request: &RecordRequest) -> bool {
    record.garment == request.garment
        && record.size == request.size
        && in_order(&record.options) == in_order(&request.options)
}

/// Options in an order of their own: a file and a command may give them in others.
fn in_order(options: &[(String, String)]) -> Vec<&(String, String)> {
    let mut options: Vec<_> = options.iter().collect();
    options.sort_unstable();
    options
}

fn joined<'r>(name: &str, records: impl Iterator<Item = &'r FinishedPiece> + Clone) -> Joined {
    let mut sections: Vec<String> =
        records.clone().flat_map(|own| &own.sections).map(|s| s.name.clone()).collect();
    sections.sort_unstable();
    sections.dedup();
    let date = records.filter_map(|own| own.date).max();
    Joined { piece: name.to_owned(), sections, date }
}
