//! `pattern --format svg --picture stripes`: the garment in the colours of its yarn.

use clap::{Args as ClapArgs, ValueEnum};

use super::args::PatternArgs;
use super::output::Output;
use super::shared_args::Units;
use super::{Done, key_values, open_all, person, swatch_of, taken, usual_unit};
use app::{
    Colouring, GradeRequest, MOST_ALTERNATIVES, Search, SearchRequest, Vary, Workspace,
    YarnRequest, only_size, stripes_of,
};
use diag::{Code, Diagnostic, Diagnostics};
use knit::look::Look;
use knit::size_run::SizeRun;
use report::drawing::{contact_sheet, stripes};
use units::LengthUnit;

/// The yarn of the picture of the stripes.
#[derive(ClapArgs, Debug, Default)]
#[command(next_help_heading = "The picture of the stripes")]
pub(super) struct StripesArgs {
    /// A ball of yarn: a yarn of the workspace, a yarn file or a demo yarn, and how much there is
    /// of it (slate@12g). May be given several times: balls are joined in that order. Without a
    /// section it feeds all sections that have none of their own, in knitting order
    #[arg(long, value_name = "[SECTION=]YARN[@WEIGHT]")]
    pub yarn: Vec<String>,
    /// Where in its colours the first ball begins, along the yarn
    #[arg(long, value_name = "[SECTION=]LENGTH")]
    pub start: Vec<String>,
    /// Match the second of a pair to the first, and say what to wind off
    #[arg(long = "match")]
    pub matched: bool,
    /// Search for the start with the boldest bands or the most even mixture
    #[arg(long, value_enum, value_name = "LOOK")]
    pub look: Option<LookArg>,
    /// With --look or --contact: try these values of a whole-number option too
    #[arg(long, value_name = "NAME=LOW..HIGH")]
    pub vary: Option<String>,
    /// A contact sheet of so many alternatives, up to 24
    #[arg(long, value_name = "N")]
    pub contact: Option<usize>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum LookArg {
    Bold,
    Even,
}

impl StripesArgs {
    /// Whether anything of it was given.
    pub fn given(&self) -> bool {
        !self.yarn.is_empty()
            || !self.start.is_empty()
            || self.matched
            || self.look.is_some()
            || self.vary.is_some()
            || self.contact.is_some()
    }

    /// Whether a search or several pictures are asked for.
    pub fn searches(&self) -> bool {
        self.look.is_some() || self.vary.is_some() || self.contact.is_some()
    }

    pub fn yarn_request(&self, workspace: Option<&Workspace>) -> YarnRequest {
        YarnRequest {
            yarns: self.yarn.clone(),
            starts: self.start.clone(),
            matched: self.matched,
            known: workspace.map(|open| open.contents.yarns.clone()).unwrap_or_default(),
            files: true,
        }
    }

    fn search(&self) -> Result<Option<SearchRequest>, Diagnostics> {
        if self.look.is_none() && self.contact.is_none() {
            return match &self.vary {
                Some(_) => Err(Diagnostic::error(Code::Usage, "--vary needs --look or --contact")
                    .hint("say what to look for: --look bold")
                    .into()),
                None => Ok(None),
            };
        }
        let wanted = self.contact.unwrap_or(1);
        if !(1..=MOST_ALTERNATIVES).contains(&wanted) {
            return Err(Diagnostic::error(
                Code::Usage,
                format!("--contact {wanted}: a sheet has 1 to {MOST_ALTERNATIVES} alternatives"),
            )
            .hint("try --contact 9")
            .into());
        }
        let look = self.look.map(|look| match look {
            LookArg::Bold => Look::Bold,
            LookArg::Even => Look::Even,
        });
        let vary = self.vary.as_deref().map(Vary::parse).transpose()?;
        Ok(Some(SearchRequest { look, vary, wanted }))
    }
}

/// The picture as SVG, and what is told beside it.
pub(super) fn picture(args: &PatternArgs, output: &mut Output) -> Done {
    let own = &args.stripes;
    let search = own.search()?;
    let work = &args.work;
    let sizes = args.size.as_deref().unwrap_or(&work.sizes);
    let (bench, workspace) = open_all(&work.bench, output)?;
    let unit = Units::one(args.units, usual_unit(workspace.as_ref()))?;
    taken(&bench, &work.garment, output);
    let plugin = bench.garment(&work.garment)?;
    let (swatch, machine) =
        swatch_of(&bench, workspace.as_ref(), work.swatch.as_deref(), work.machine.as_deref())?;
    let request = GradeRequest {
        plugin: &plugin,
        machine,
        swatch: &swatch,
        options: key_values(&work.set, "--set")?,
        sizes: sizes.to_owned(),
        person: person(work)?,
    };
    let run = bench.grade(&request)?;
    output.diagnostics(&run.warnings);
    only_size(&run)?;
    let colouring = Colouring::read(&own.yarn_request(workspace.as_ref()), &run)?;
    output.diagnostics(&colouring.warnings);
    let (svg, lines) = match search {
        None => one(&run, &colouring, Vec::new(), unit)?,
        Some(request_search) => {
            let found = output.busy("knitting it from every start", || {
                bench.search_colours(&request, &colouring, &request_search)
            })?;
            if own.contact.is_some() {
                contact(&found, &request_search)?
            } else {
                let best = &found.alternatives[0];
                let notes = vec![format!(
                    "Of {} ways tried, this is the {}: it {}{}.",
                    found.tried,
                    match request_search.look {
                        Some(Look::Even) => "most even",
                        _ => "boldest",
                    },
                    caption(best, request_search.vary.as_ref().map(|v| v.name.as_str())),
                    score(best.score, request_search.look),
                )];
                one(&found.runs[best.run], &best.colouring, notes, unit)?
            }
        }
    };
    output.result(args.output.as_deref(), &svg)?;
    // With the picture in a file, the terminal is free for its words.
    if args.output.is_some() {
        output.result(None, &lines)?;
    }
    Ok(true)
}

fn caption(alternative: &app::Alternative, option: Option<&str>) -> String {
    let value = alternative
        .value
        .as_deref()
        .map_or(String::new(), |value| format!(" with {}={value}", option.unwrap_or("the option")));
    format!("begins {:.1} m into its colours{value}", alternative.start_mm / 1000.0)
}

fn score(score: Option<f64>, look: Option<Look>) -> String {
    match (score, look) {
        (Some(score), Some(look)) => format!(" ({}: {score:.1} {})", look.name(), look.unit()),
        _ => String::new(),
    }
}

fn one(
    run: &SizeRun,
    colouring: &Colouring,
    notes: Vec<String>,
    unit: LengthUnit,
) -> Result<(String, String), Diagnostics> {
    let (_, made) = only_size(run)?;
    let coloured = colouring.apply(run, made);
    let sheet = stripes_of(run, &coloured, notes)?;
    Ok((stripes(&sheet, unit).svg(), sheet.lines().join("\n") + "\n"))
}

fn contact(found: &Search, request: &SearchRequest) -> Result<(String, String), Diagnostics> {
    let look = request.look;
    let option = request.vary.as_ref().map_or("", |vary| &vary.name);
    let mut coloured = Vec::new();
    for alternative in &found.alternatives {
        let (_, made) = only_size(&found.runs[alternative.run])?;
        coloured.push(alternative.colouring.apply(&found.runs[alternative.run], made));
    }
    let mut all = Vec::new();
    let mut lines = String::new();
    for (nth, (alternative, coloured)) in found.alternatives.iter().zip(&coloured).enumerate() {
        let mut words = vec![format!(
            "{}. start {:.1} m{}",
            nth + 1,
            alternative.start_mm / 1000.0,
            alternative.value.as_deref().map_or(String::new(), |v| format!(", {option} {v}"))
        )];
        if let (Some(score), Some(look)) = (alternative.score, look) {
            words.push(format!("{} {score:.1} {}", look.name(), look.unit()));
        }
        lines.push_str(&words.join(": "));
        lines.push('\n');
        all.push((stripes_of(&found.runs[alternative.run], coloured, Vec::new())?, words));
    }
    let title = all.first().map_or(String::new(), |(sheet, _)| sheet.title.clone());
    let title = format!("{title}: {} of {} ways tried", all.len(), found.tried);
    Ok((contact_sheet(&title, &all).svg(), lines))
}
