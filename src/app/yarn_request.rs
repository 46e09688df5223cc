//! The balls of yarn that a knitter names, as typed.

use std::collections::BTreeMap;
use std::path::Path;

use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::stash::Yarn;
use knit::thread::Ball;
use units::{Mass, YarnCount};

/// A yarn this much thicker or thinner than the swatch's, as a share, changes the gauge (common
/// practice).
const OTHER_THICKNESS: f64 = 0.15;

/// What a knitter says of the yarn, as typed.
#[derive(Clone, Debug, Default)]
pub struct YarnRequest {
    /// `[SECTION=]YARN[@WEIGHT]`, in the order in which the balls are joined.
    pub yarns: Vec<String>,
    /// `[SECTION=]LENGTH`: where in its colours a first ball begins.
    pub starts: Vec<String>,
    /// Match the second of a pair to the first.
    pub matched: bool,
    /// Yarns of the workspace by id, looked in first.
    pub known: BTreeMap<String, Yarn>,
    /// Whether what is no known yarn may be the name of a file.
    pub files: bool,
}

/// Splits `SECTION=rest`, where there is a section.
pub(super) fn sectioned<'t>(
    text: &'t str,
    flag: &str,
    sections: &[(String, String)],
) -> Result<(Option<&'t str>, &'t str), Diagnostic> {
    let Some((section, rest)) = text.split_once('=') else { return Ok((None, text.trim())) };
    let section = section.trim();
    // A path may hold an equals sign.
    if section.contains(['/', '\\', '.']) {
        return Ok((None, text.trim()));
    }
    if sections.iter().any(|(name, _)| name == section) {
        return Ok((Some(section), rest.trim()));
    }
    let names = || sections.iter().map(|(name, _)| name.as_str());
    Err(Diagnostic::error(
        Code::Usage,
        format!("`{flag} {text}`: the garment has no section `{section}`"),
    )
    .hint(match nearest(section, names()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("its sections are {}", names().collect::<Vec<_>>().join(", ")),
    }))
}

/// A yarn of the workspace or of the demo by its id, or from a file where that is allowed.
fn yarn_of(name: &str, request: &YarnRequest) -> Result<Yarn, Diagnostics> {
    let own = &request.known;
    if let Some(yarn) = own.get(name) {
        return Ok(yarn.clone());
    }
    if let Some(yarn) = store::demo_yarn(name)? {
        return Ok(yarn);
    }
    if request.files {
        match store::read_text(Path::new(name)) {
            Ok(text) => return store::parse_yarn(name, &text),
            Err(fault) if name.contains(['/', '\\', '.']) => return Err(fault.into()),
            Err(_) => {}
        }
    }
    let mut ids: Vec<&str> = own.keys().map(String::as_str).collect();
    let shown = if own.is_empty() { "the demo yarns are" } else { "the yarns are" };
    if own.is_empty() {
        ids = store::demo_yarn_ids();
    }
    let or_file = if request.files { "; or name a yarn's file" } else { "" };
    Err(Diagnostic::error(Code::NoYarn, format!("there is no yarn `{name}`"))
        .hint(match nearest(name, ids.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("{shown} {}{or_file}", ids.join(", ")),
        })
        .into())
}

pub(super) fn ball_of(
    text: &str,
    request: &YarnRequest,
    swatch: YarnCount,
    warnings: &mut Diagnostics,
) -> Result<Ball, Diagnostics> {
    let (name, weight) = match text.rsplit_once('@') {
        Some((name, weight)) if !weight.contains(['/', '\\']) => (name.trim(), Some(weight)),
        _ => (text, None),
    };
    let mut faults = Diagnostics::new();
    let mass = match weight.map(str::parse::<Mass>) {
        None => None,
        Some(Ok(mass)) => Some(mass),
        Some(Err(fault)) => {
            faults.push(fault.into_diagnostic().context(format!("--yarn {text}")));
            None
        }
    };
    let yarn = yarn_of(name, request).map_err(|found| faults.extend(found)).ok();
    let Some(yarn) = yarn.filter(|_| !faults.has_errors()) else { return Err(faults) };
    let ratio = yarn.count.tex() / swatch.tex();
    if (ratio - 1.0).abs() > OTHER_THICKNESS {
        warnings.push(
            Diagnostic::warning(
                Code::OtherThickness,
                format!(
                    "{} is {:.0} tex and the swatch was knitted in {:.0} tex",
                    yarn.name,
                    yarn.count.tex(),
                    swatch.tex()
                ),
            )
            .hint("knit a swatch in it: another thickness has another gauge, and its stripes fall elsewhere"),
        );
    }
    Ok(Ball {
        name: yarn.name,
        colours: yarn.colours,
        start_mm: 0.0,
        length_mm: mass.map(|mass| yarn.count.mm_in(mass.grams())),
    })
}
