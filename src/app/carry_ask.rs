use super::accepted_chance;
use diag::{Code, Diagnostic, Diagnostics};
use knit::program::Structure;
use knit::swatch::SwatchSet;
use units::{Mass, PerTen, parse_number};

/// Where the work stands, as a knitter says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum At {
    /// What the row counter shows.
    Counter(u32),
    /// Rows of the piece that are done.
    Rows(u32),
}

/// What differs from what was planned, and where.
#[derive(Clone, Debug, PartialEq)]
pub struct CarryAsk {
    /// The piece in hand: its name in the program, or what the pattern calls it.
    pub piece: String,
    /// How far it is.
    pub at: At,
    /// What the work measures now.
    pub now: Vec<Now>,
    /// Rows knitted beyond the place, each like the last before it.
    pub extra_rows: u32,
    /// Needles that broke: pieces not yet begun are put where all knit.
    pub broken: Option<String>,
    /// All the yarn that is left for what is still to knit.
    pub left: Option<Mass>,
    /// The scale's smallest step; `None`: as the settings have it.
    pub scale_step: Option<Mass>,
    /// The chance that is accepted that it gives out, 0 to 1; `None`: as the settings have it.
    pub risk: Option<f64>,
}

/// What a fabric measures from here on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Now {
    /// The fabric.
    pub structure: Structure,
    /// Stitches.
    pub stitches: NowCount,
    /// Rows.
    pub rows: NowCount,
}

/// How many lie in 10 cm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NowCount {
    /// So many.
    PerTen(PerTen),
    /// So much more than on the swatch, as a share; negative: fewer.
    More(f64),
}

/// Rows that anyone knits by mistake.
pub const MOST_EXTRA_ROWS: u32 = 60;

/// Further off than any drift: then it is another fabric.
const MOST_DRIFT: f64 = 0.4;

/// What is said of a work in hand, as it is typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CarryKeys {
    /// `hat:120`.
    pub at: String,
    /// `plain=27x39`, for each fabric that measures something else now.
    pub now: Vec<String>,
    /// Rows too many.
    pub extra_rows: u32,
    /// `L17`: needles that broke.
    pub broken: Option<String>,
    /// What is left of the yarn.
    pub left: Option<String>,
    /// The scale's smallest step; `None`: as the settings have it.
    pub scale_step: Option<String>,
    /// The chance that is accepted; `None`: as the settings have it.
    pub risk: Option<String>,
}

impl CarryKeys {
    /// # Errors
    /// All that can't be read, at once.
    pub fn read(&self) -> Result<CarryAsk, Diagnostics> {
        let mut faults = Diagnostics::new();
        let at = CarryAsk::at(&self.at).map_err(|fault| faults.push(fault)).ok();
        let mut now = Vec::with_capacity(self.now.len());
        for text in &self.now {
            match Now::parse(text) {
                Ok(gauge) => now.push(gauge),
                Err(fault) => faults.push(fault),
            }
        }
        if self.extra_rows > MOST_EXTRA_ROWS {
            faults.push(
                Diagnostic::error(Code::Query, format!("{} rows too many", self.extra_rows))
                    .hint(format!("{MOST_EXTRA_ROWS} at most: take the others back")),
            );
        }
        let mut mass = |text: &Option<String>| {
            let mass = text.as_deref().map(str::parse::<Mass>).transpose();
            mass.map_err(|e| faults.push(e.into_diagnostic())).ok().flatten()
        };
        let (left, scale_step) = (mass(&self.left), mass(&self.scale_step));
        let risk = self.risk.as_deref().map(accepted_chance).transpose();
        match (at, risk.map_err(|fault| faults.push(fault))) {
            (Some(at), Ok(risk)) => faults.into_result(CarryAsk {
                now,
                extra_rows: self.extra_rows,
                broken: self.broken.clone(),
                left,
                scale_step,
                risk,
                ..at
            }),
            _ => Err(faults),
        }
    }
}

impl CarryAsk {
    /// A place alone: `hat:120` where the row counter shows 120, `hat:+48` after 48 rows of the piece.
    ///
    /// # Errors
    /// No such form.
    pub fn at(text: &str) -> Result<CarryAsk, Diagnostic> {
        let fault = || {
            Diagnostic::error(Code::NoPlace, format!("`{text}` is no place"))
                .hint("write the piece and what the row counter shows: hat:120; or rows of the piece that are done: hat:+120")
        };
        let (piece, rows) = text.rsplit_once(':').ok_or_else(fault)?;
        let number = |digits: &str| digits.trim().parse::<u32>().map_err(|_| fault());
        let at = match rows.trim().strip_prefix('+') {
            Some(done) => At::Rows(number(done)?),
            None => At::Counter(number(rows)?),
        };
        let piece = piece.trim();
        if piece.is_empty() {
            return Err(fault());
        }
        Ok(CarryAsk {
            piece: piece.to_owned(),
            at,
            now: Vec::new(),
            extra_rows: 0,
            broken: None,
            left: None,
            scale_step: None,
            risk: None,
        })
    }

    /// The gauges from here on, beside those of the swatches.
    ///
    /// # Errors
    /// A fabric named twice, or a count no fabric has.
    pub(super) fn gauges(
        &self,
        set: &SwatchSet,
    ) -> Result<Vec<(Structure, PerTen, PerTen)>, Diagnostics> {
        let mut faults = Diagnostics::new();
        let mut gauges: Vec<(Structure, PerTen, PerTen)> = Vec::new();
        for now in &self.now {
            if gauges.iter().any(|(known, ..)| known.gauged_as() == now.structure.gauged_as()) {
                faults.push(
                    Diagnostic::error(
                        Code::GaugeNow,
                        format!("the gauge of {} is told twice", now.structure),
                    )
                    .hint("a tube is gauged as plain fabric; keep one"),
                );
            }
            let old = set.gauge(now.structure);
            let read = |count: NowCount, old: PerTen| match count {
                NowCount::PerTen(per_ten) => Ok(per_ten),
                NowCount::More(share) => PerTen::new(old.per_10_cm() * (1.0 + share)),
            };
            let stitches = read(now.stitches, old.stitches.per_ten);
            let rows = read(now.rows, old.rows.per_ten);
            match (stitches, rows) {
                (Ok(stitches), Ok(rows)) => {
                    let both = [(stitches, old.stitches.per_ten), (rows, old.rows.per_ten)];
                    faults.extend(drifted(now.structure, both));
                    gauges.push((now.structure, stitches, rows));
                }
                (stitches, rows) => {
                    faults.extend(stitches.err().map(units::UnitError::into_diagnostic));
                    faults.extend(rows.err().map(units::UnitError::into_diagnostic));
                }
            }
        }
        faults.into_result(gauges)
    }
}

/// Refuses counts that no work in hand drifts to: one that is counted and one that is told as a share alike.
fn drifted(
    structure: Structure,
    [(stitches, old_stitches), (rows, old_rows)]: [(PerTen, PerTen); 2],
) -> Option<Diagnostic> {
    let drift = |now: PerTen, old: PerTen| (now.per_10_cm() / old.per_10_cm() - 1.0).abs();
    let most = drift(stitches, old_stitches).max(drift(rows, old_rows));
    // What is told as a share comes out beside it by rounding.
    (most > MOST_DRIFT + 1e-9).then(|| {
        let counts = |stitches: PerTen, rows: PerTen| {
            format!("{:.1} x {:.1}", stitches.per_10_cm(), rows.per_10_cm())
        };
        let fault = format!(
            "{structure} at {} to 10 cm is {:.0} % off the swatch's {}",
            counts(stitches, rows),
            100.0 * most,
            counts(old_stitches, old_rows)
        );
        Diagnostic::error(Code::GaugeNow, fault).hint(
            "count again over 10 cm; in another yarn or at another dial begin anew, with a swatch of it",
        )
    })
}

impl Now {
    /// `plain=27x39`: stitches and rows to 10 cm; or `plain=+3%x-2%`: so much more or less than before.
    ///
    /// # Errors
    /// No such form, a fabric that is none, a drift of more than 40 %.
    pub fn parse(text: &str) -> Result<Now, Diagnostic> {
        let fault = |what: String| {
            Diagnostic::error(Code::GaugeNow, what).hint(
                "write stitches and rows to 10 cm: plain=27x39; or how they differ from the swatch: plain=+3%x-2%",
            )
        };
        let (name, counts) = text
            .split_once('=')
            .ok_or_else(|| fault(format!("`{text}` is no gauge of a fabric")))?;
        let structure = Structure::parse(name.trim()).ok_or_else(|| {
            let known: Vec<&str> = Structure::ALL.iter().map(|s| s.name()).collect();
            fault(format!("there is no fabric `{}`: {}", name.trim(), known.join(", ")))
        })?;
        let counts = counts.to_lowercase();
        let count = |text: &str| {
            let text = text.trim();
            let more = text.strip_suffix('%').map(|share| parse_number(share.trim()));
            let count = match more {
                Some(share) => share
                    .map(|share| share / 100.0)
                    .filter(|share| share.abs() <= MOST_DRIFT)
                    .map(NowCount::More),
                None => parse_number(text)
                    .and_then(|count| PerTen::new(count).ok())
                    .map(NowCount::PerTen),
            };
            count.ok_or_else(|| fault(format!("`{text}` is no count that the work may have now")))
        };
        let (stitches, rows) = counts
            .split_once(['x', '\u{d7}'])
            .ok_or_else(|| fault(format!("`{text}` lacks stitches or rows")))?;
        Ok(Now { structure, stitches: count(stitches)?, rows: count(rows)? })
    }
}
