//! Time worked that was counted at the machine, for a piece that is finished.

use super::record::read_minutes;
use super::{Ask, Places, pairs};
use diag::{Code, Diagnostic};
use store::workspace::Contents;

/// What stands for the time that was counted at the machine.
pub const COUNTED: &str = "counted";

/// A finished piece whose time is asked for.
#[derive(Clone, Copy, Debug)]
pub struct CountedPiece<'a> {
    pub garment: &'a str,
    /// A size of the table or a person's name.
    pub size: &'a str,
    /// Where there are none, any will do.
    pub options: &'a [(String, String)],
}

impl CountedPiece<'_> {
    /// Minutes of work as they are typed: a number, or `counted` for what the page at the machine counted.
    ///
    /// # Errors
    /// A number that can't be so; nothing counted for the piece, or several that it could be.
    pub fn minutes(
        self,
        text: &str,
        contents: &Contents,
        places: &Places,
    ) -> Result<f64, Diagnostic> {
        if text.trim() != COUNTED {
            return read_minutes(text);
        }
        let found = self.found(contents, places);
        match found.as_slice() {
            [(_, minutes)] => Ok(*minutes),
            [] => Err(Diagnostic::error(
                Code::NoTimeCounted,
                format!("no time was counted at the machine for {} in {}", self.garment, self.size),
            )
            .hint(
                "it is counted while steps are ticked on the page at the machine of this workspace",
            )
            .hint("or give the minutes as a number, finishing included")),
            several => {
                let all: Vec<String> = several
                    .iter()
                    .map(|(title, minutes)| format!("{title}: {minutes:.0} min"))
                    .collect();
                Err(Diagnostic::error(
                    Code::NoTimeCounted,
                    format!("it could be any of {} pieces at the machine", several.len()),
                )
                .context(all.join(", "))
                .hint("name the options as it was knitted, or give the minutes as a number"))
            }
        }
    }

    /// The share of its steps that are not ticked at the machine yet; all of them where nothing is known of
    /// the piece, or several could be it.
    pub(super) fn share_left(self, contents: &Contents, places: &Places) -> f64 {
        let of_place = |(_, place): (String, store::Place)| {
            let ask = Ask::from_pairs(&pairs(&place.query).ok()?).ok()?;
            let done = f64::from(place.stop) / f64::from(place.of.max(1));
            self.is_of(&ask, contents).then_some(1.0 - done.clamp(0.0, 1.0))
        };
        let shares: Vec<f64> = places.all().into_iter().filter_map(of_place).collect();
        match shares.as_slice() {
            [only] => *only,
            _ => 1.0,
        }
    }

    /// The pieces at the machine that it may be, with the minutes counted.
    fn found(self, contents: &Contents, places: &Places) -> Vec<(String, f64)> {
        let of_place = |(id, place): (String, store::Place)| {
            let ask = Ask::from_pairs(&pairs(&place.query).ok()?).ok()?;
            let minutes = places.worked(&id).minutes()?;
            self.is_of(&ask, contents).then_some((place.title, minutes))
        };
        places.all().into_iter().filter_map(of_place).collect()
    }

    fn is_of(self, ask: &Ask, contents: &Contents) -> bool {
        let person = contents.person(self.size);
        let size_of_person = person.and_then(|person| person.size.as_ref());
        let sizes = ask.sizes.as_deref();
        let fits = ask.name.as_deref() == Some(self.size)
            || sizes == Some(self.size)
            || size_of_person.is_some_and(|size| sizes == Some(size.as_str()));
        let mut options = self.options.iter();
        ask.garment.as_deref() == Some(self.garment)
            && fits
            && options.all(|own| ask.options.contains(own))
    }
}
