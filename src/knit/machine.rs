//! Machine profiles: what a bed offers. No brands; a profile is a pitch, a width and whether
//! there is a ribber.

use super::hand_work::HandWork;
use super::needle::{Needle, Span};
use diag::{Code, Diagnostic};

/// A knitting machine as far as the engine minds.
#[derive(Clone, Debug, PartialEq)]
pub struct Machine {
    /// Short name, a key in files and JSON.
    pub id: String,
    /// What a page calls it.
    pub title: String,
    /// Distance from needle to needle.
    pub pitch_mm: f64,
    /// The needles of a bed, named as on its rail.
    pub rail: Span,
    /// Needles of it that don't knit: broken, bent or missing. In order, each once.
    pub out_of_work: Vec<Needle>,
    /// Whether it has a second bed.
    pub ribber: bool,
    /// What is made by hand, whatever beds there are.
    pub by_hand: HandWork,
    /// Where the figures come from.
    pub source: String,
}

/// Beds of fewer or more needles are not knitted on by hand.
pub const BED_NEEDLES: std::ops::RangeInclusive<u32> = 10..=1000;

impl Machine {
    /// A bed with that many needles about its centre.
    pub fn new(id: &str, title: &str, pitch_mm: f64, needles: u32, ribber: bool) -> Machine {
        Machine {
            id: id.to_owned(),
            title: title.to_owned(),
            pitch_mm,
            rail: Span::centred(needles),
            out_of_work: Vec::new(),
            ribber,
            by_hand: HandWork::default(),
            source: String::new(),
        }
    }

    /// The needles of a bed.
    pub fn needles(&self) -> u32 {
        self.rail.len()
    }

    /// The runs of needles side by side that all knit, from left to right.
    pub fn stretches(&self) -> Vec<Span> {
        let mut stretches = Vec::with_capacity(self.out_of_work.len() + 1);
        let mut left = self.rail.left.0;
        let ends = self.out_of_work.iter().map(|needle| needle.0).chain([self.rail.right.0 + 1]);
        for end in ends {
            if end > left {
                stretches.push(Span { left: Needle(left), right: Needle(end - 1) });
            }
            left = left.max(end + 1);
        }
        stretches
    }

    /// The most needles side by side that all knit: how wide a piece may be.
    pub fn widest(&self) -> u32 {
        self.stretches().iter().map(|stretch| stretch.len()).max().unwrap_or(0)
    }

    /// Whether a rib can be made: on two beds, or by hand.
    pub fn ribs(&self) -> bool {
        self.ribber || self.by_hand.rib
    }

    /// Whether a piece may lie about the centre as wide as it may be at all.
    pub fn is_centred(&self) -> bool {
        self.out_of_work.is_empty() && self.rail == Span::centred(self.rail.len())
    }

    /// A bed as wide as the widest piece may be, about the centre: where a garment is thought out
    /// before its pieces are put where the needles knit.
    #[must_use]
    pub fn centred(&self) -> Machine {
        let rail = Span::centred(self.widest());
        Machine { rail, out_of_work: Vec::new(), ..self.clone() }
    }

    /// The same machine with other needles: `180` about the centre, or `L90-R95` of the rail.
    ///
    /// # Errors
    /// Neither of these, or a bed that no hand machine has.
    pub fn with_needles(mut self, text: &str) -> Result<Machine, Diagnostic> {
        let fault = |what: String| {
            Diagnostic::error(Code::Needles, what)
                .hint("hand machines have 50 to 300 needles; write how many, 180, or the first and the last one, L90-R95")
        };
        self.rail = match text.trim().parse::<u32>() {
            Ok(count) if BED_NEEDLES.contains(&count) => Span::centred(count),
            Ok(count) => return Err(fault(format!("a bed of {count} needles"))),
            Err(_) => text.trim().parse().map_err(fault)?,
        };
        if !BED_NEEDLES.contains(&self.rail.len()) {
            return Err(fault(format!("a bed of {} needles", self.rail.len())));
        }
        self.keep_off()
    }

    /// The same machine with these needles out of work besides: `L17, R3-R4`.
    ///
    /// # Errors
    /// What is no needle of the bed, or a bed with nothing left to knit on.
    pub fn without(mut self, text: &str) -> Result<Machine, Diagnostic> {
        for part in text.split([',', ' ', ';']).filter(|part| !part.is_empty()) {
            let span: Span = part.parse().map_err(|fault: String| {
                Diagnostic::error(Code::Needles, fault)
                    .hint("name the needles that don't knit: L17, R3-R4")
            })?;
            if !self.rail.contains(span.left) || !self.rail.contains(span.right) {
                return Err(Diagnostic::error(
                    Code::Needles,
                    format!("{span} is not on the bed, which runs {}", self.rail),
                )
                .hint("name needles of the bed: L17, R3-R4"));
            }
            self.out_of_work.extend((span.left.0..=span.right.0).map(Needle));
        }
        self.keep_off()
    }

    /// What is out of work is in order, each once, and on the bed; and something knits.
    fn keep_off(mut self) -> Result<Machine, Diagnostic> {
        let rail = self.rail;
        self.out_of_work.retain(|needle| rail.contains(*needle));
        self.out_of_work.sort_unstable();
        self.out_of_work.dedup();
        if self.widest() < *BED_NEEDLES.start() {
            return Err(Diagnostic::error(
                Code::Needles,
                format!("nowhere on the bed do {} needles side by side knit", BED_NEEDLES.start()),
            )
            .hint("a broken needle can be changed for one from the end of the bed"));
        }
        Ok(self)
    }

    /// `200 needles`, or which where they are not about the centre, and those that don't knit.
    pub fn needles_told(&self) -> String {
        let mut told = match self.rail == Span::centred(self.rail.len()) {
            true => format!("{} needles", self.needles()),
            false => format!("{} needles, {}", self.needles(), self.rail),
        };
        if !self.out_of_work.is_empty() {
            let names: Vec<String> = self.out_of_work.iter().map(Needle::to_string).collect();
            told.push_str(&format!(", out of work {}", names.join(" ")));
        }
        told
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn machine() -> Machine {
        Machine::new("test", "Test bed", 4.5, 200, false)
    }

    fn told(machine: &Machine) -> Vec<String> {
        machine.stretches().iter().map(Span::to_string).collect()
    }

    #[test]
    fn stretches_lie_between_the_needles_that_do_not_knit() {
        assert_eq!(told(&machine()), ["L100-R100"]);
        let broken = machine().without("R3-R4, L17").expect("on the bed");
        assert_eq!(told(&broken), ["L100-L18", "L16-R2", "R5-R100"]);
        assert_eq!(broken.widest(), 96);
        assert_eq!(broken.needles_told(), "200 needles, out of work L17 R3 R4");
        assert!(!broken.is_centred() && broken.centred().is_centred());
        let ends = machine().without("L100 R100 R99").expect("on the bed");
        assert_eq!(told(&ends), ["L99-R98"]);
    }

    #[test]
    fn a_bed_is_told_by_its_count_or_by_its_ends() {
        let bed = machine().with_needles("L90-R95").expect("a bed");
        assert_eq!((bed.needles(), bed.widest()), (185, 185));
        assert_eq!(bed.needles_told(), "185 needles, L90-R95");
        assert_eq!(machine().with_needles("180").expect("a bed").rail.to_string(), "L90-R90");
        for bad in ["0", "9", "1001", "R5-L5", "many", "L600-R600"] {
            assert!(machine().with_needles(bad).is_err(), "{bad}");
        }
        for bad in ["L101", "17", "L1-R300"] {
            assert!(machine().without(bad).is_err(), "{bad}");
        }
        let all = machine().without("L100-R100").expect_err("nothing knits");
        assert!(all.message.contains("nowhere"), "{}", all.message);
    }
}
