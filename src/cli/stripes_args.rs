//! The arguments of the picture of the stripes.

use clap::{Args as ClapArgs, ValueEnum};

use app::{Ask, MOST_ALTERNATIVES, SearchRequest, Vary};
use diag::{Code, Diagnostic, Diagnostics};
use knit::look::Look;

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

    /// Adds it to what is asked for.
    pub fn add_to(&self, ask: Ask) -> Ask {
        Ask { balls: self.yarn.clone(), starts: self.start.clone(), matched: self.matched, ..ask }
    }

    /// What is to be searched for, if anything is.
    pub fn search(&self) -> Result<Option<SearchRequest>, Diagnostics> {
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
