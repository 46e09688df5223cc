use std::borrow::Cow;
use std::sync::Arc;

use super::fitting::fitted;
use super::{
    Ask, CarryAsk, Garments, GradeRequest, Person, ReachAsk, Remnant, Workbench, Workspace,
    YarnRequest,
};
use diag::{Code, Diagnostic, Diagnostics, nearest};
use knit::by_hand::HandWork;
use knit::carry::CarriedOn;
use knit::estimate::OnScale;
use knit::machine::Machine;
use knit::size_run::SizeRun;
use knit::stash::{NamedSwatches, Words};
use knit::working_time::WorkingTime;
use script::Plugin;
use units::LengthUnit;

/// Where requests are met, whoever brings them: what they are met with.
#[derive(Clone, Copy, Debug)]
pub struct Desk<'b, 'w> {
    pub bench: &'b Workbench,
    pub workspace: Option<&'w Workspace>,
    pub names: Names<'w>,
}

/// What a name in a request may stand for.
#[derive(Clone, Copy, Debug)]
pub enum Names<'w> {
    /// Only what is known by its id, with the garments loaded so far. A file's name is no id.
    Ids(&'w Garments),
    /// A folder or a file of one's own too: on the command line alone.
    Files,
}

/// A run, and what is wrong with the garment as its author has it now.
#[derive(Clone, Debug)]
pub struct Asked {
    pub run: SizeRun,
    /// Faults of the files; the run is of the last good version.
    pub faults: Diagnostics,
}

/// A size of the table, and what was measured.
type Whom = (String, Option<Person>);

/// A request whose names have been looked up.
#[derive(Clone, Debug)]
pub struct Prepared<'b> {
    bench: &'b Workbench,
    plugin: Plugin,
    /// As the request has it: with its own needles.
    machine: Cow<'b, Machine>,
    swatch: NamedSwatches,
    options: Vec<(String, String)>,
    sizes: String,
    person: Option<Person>,
    /// As [`Asked::faults`].
    faults: Diagnostics,
    /// Of the workspace as it is now, which may have learnt since the workbench was opened.
    working: Option<Arc<WorkingTime>>,
}

impl Prepared<'_> {
    pub fn request(&self) -> GradeRequest<'_> {
        GradeRequest {
            plugin: &self.plugin,
            machine: &self.machine,
            swatch: &self.swatch,
            options: self.options.clone(),
            sizes: self.sizes.clone(),
            person: self.person.clone(),
        }
    }

    /// # Errors
    /// Wrong options, sizes or measures, all at once. A size that can't be made is none: it stays
    /// in the run with its reasons.
    pub fn grade(&self) -> Result<Asked, Diagnostics> {
        let mut run = self.bench.grade(&self.request())?;
        if let Some(working) = &self.working {
            run.retime(working);
        }
        Ok(Asked { run, faults: self.faults.clone() })
    }
}

impl<'b> Desk<'b, '_> {
    /// A garment, and what is wrong with its files where an older version is given.
    ///
    /// # Errors
    /// As [`Garments::get`], or of a folder as [`Workbench::garment`].
    pub fn garment(&self, name: &str) -> Result<(Plugin, Diagnostics), Diagnostics> {
        match self.names {
            Names::Ids(garments) => garments.get(self.bench, name),
            Names::Files => Ok((self.bench.garment(name)?, Diagnostics::new())),
        }
    }

    fn garment_of(&self, ask: &Ask) -> Result<(Plugin, Diagnostics), Diagnostics> {
        match (self.names, &ask.garment) {
            (Names::Files, Some(name)) => self.garment(name),
            _ => self.garment(ask.garment()?),
        }
    }

    /// The swatch and the machine asked for.
    ///
    /// # Errors
    /// Faults of the swatch, an unknown machine, a machine without a demo swatch.
    pub fn swatch(&self, ask: &Ask) -> Result<(NamedSwatches, &'b Machine), Diagnostics> {
        let machine = ask.machine.as_deref();
        match (&ask.swatch, &ask.swatch_id) {
            (Some(own), _) => {
                let text = own.weighed_on(self.bench.scale_step).text()?;
                let (mut file, machine) =
                    self.bench.swatch_of_text("swatch", &text, machine).map_err(unplaced)?;
                if own.name.is_none() {
                    file.set.yarn_name = "your yarn".to_owned();
                }
                Ok((file, machine))
            }
            (None, Some(name)) => self.named_swatch(name, machine),
            (None, None) => match self.workspace {
                Some(workspace) => workspace.swatch_and_machine(self.bench, None, machine),
                None => self.bench.swatch_and_machine(None, machine),
            },
        }
    }

    /// A swatch of the workspace, or where files are allowed one of a file.
    fn named_swatch(
        &self,
        name: &str,
        machine: Option<&str>,
    ) -> Result<(NamedSwatches, &'b Machine), Diagnostics> {
        match (self.names, self.workspace) {
            (Names::Files, Some(workspace)) => {
                workspace.swatch_and_machine(self.bench, Some(name), machine)
            }
            (Names::Files, None) => self.bench.swatch_and_machine(Some(name.as_ref()), machine),
            (Names::Ids(_), Some(workspace)) => {
                self.bench.with_swatch(workspace.taught_swatch(self.bench, name)?, machine)
            }
            (Names::Ids(_), None) => Err(Diagnostic::error(
                Code::NoWorkspace,
                "there is no workspace to take a swatch from",
            )
            .hint("start in one, or with --workspace FOLDER; `oddments init FOLDER` makes one")
            .into()),
        }
    }

    /// Looks up what is asked for.
    ///
    /// # Errors
    /// Faults of the request itself, all at once.
    pub fn prepare(&self, ask: &Ask) -> Result<Prepared<'b>, Diagnostics> {
        let (plugin, faults) = self.garment_of(ask)?;
        let sizes = self.bench.sizes_for(&plugin.manifest);
        let mut wrong = Diagnostics::new();
        wrong.extend(ask.unit().err());
        let person = ask.person(sizes.known()).unwrap_or_else(|found| {
            wrong.extend(found);
            None
        });
        let whom = self.whom(ask, &plugin).unwrap_or_else(|fault| {
            wrong.push(fault);
            None
        });
        let (swatch, machine) = match self.swatch(ask) {
            Ok(found) => found,
            Err(found) => {
                wrong.extend(found);
                return Err(wrong);
            }
        };
        let machine = own_needles(machine, ask).unwrap_or_else(|fault| {
            wrong.push(fault);
            Cow::Borrowed(machine)
        });
        let (sizes, whom) = whom.map_or((None, None), |(sizes, whom)| (Some(sizes), whom));
        let prepared = Prepared {
            bench: self.bench,
            plugin,
            machine,
            swatch,
            options: ask.options.clone(),
            sizes: ask.sizes.clone().or(sizes).unwrap_or_else(|| "all".to_owned()),
            person: person.or(whom),
            faults,
            working: self.workspace.map(|open| Arc::clone(&open.working_time(self.bench).0)),
        };
        if wrong.has_errors() {
            wrong.extend(self.bench.read(&prepared.request()).err().into_iter().flatten());
            return Err(wrong);
        }
        Ok(prepared)
    }

    /// The size and the measures of the person of the workspace that is asked for; nothing where sizes or
    /// measures are asked for beside them.
    fn whom(&self, ask: &Ask, plugin: &Plugin) -> Result<Option<Whom>, Diagnostic> {
        let Some(name) = &ask.person else { return Ok(None) };
        let workspace = self.workspace.ok_or_else(|| {
            Diagnostic::error(Code::NoWorkspace, "a person is known to a workspace only")
                .hint("give their measures, or start in a workspace that knows them")
        })?;
        let known = || workspace.contents.people.iter().map(|person| person.name.as_str());
        let person = workspace.contents.person(name).ok_or_else(|| {
            let hint = match nearest(name, known()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => "the list of people says who there is".to_owned(),
            };
            Diagnostic::error(Code::Nothing, format!("there is no person `{name}`")).hint(hint)
        })?;
        let said = ask.sizes.is_some() || !ask.measures.is_empty();
        Ok((!said).then(|| fitted(&workspace.contents, person, plugin)))
    }

    /// Grades what is asked for.
    ///
    /// # Errors
    /// Faults of the request itself, all at once. A size that can't be made is none: it stays in
    /// the run with its reasons.
    pub fn grade(&self, ask: &Ask) -> Result<Asked, Diagnostics> {
        self.prepare(ask)?.grade()
    }

    /// What becomes of a garment that is half knitted.
    ///
    /// # Errors
    /// As [`grade`](Self::grade), and as [`Workbench::carry_on`].
    pub fn carry_on(&self, ask: &Ask, carry: &CarryAsk) -> Result<CarriedOn, Diagnostics> {
        let prepared = self.prepare(ask)?;
        self.bench.carry_on(&prepared.request(), carry)
    }

    /// The unit that lengths are printed in: the one asked for, or the workspace's.
    ///
    /// # Errors
    /// As [`Ask::unit`].
    pub fn unit(&self, ask: &Ask) -> Result<LengthUnit, Diagnostic> {
        match self.workspace {
            Some(workspace) if ask.units.is_none() => Ok(workspace.contents.settings.units),
            _ => ask.unit(),
        }
    }

    /// Whose words of the trade are printed: those asked for, or the workspace's.
    ///
    /// # Errors
    /// As [`Ask::words`].
    pub fn words(&self, ask: &Ask) -> Result<Words, Diagnostic> {
        match self.workspace {
            Some(workspace) if ask.words.is_none() => Ok(workspace.contents.settings.words),
            _ => ask.words(),
        }
    }

    /// The balls asked for, among the workspace's yarns and the demo's, and where files are allowed
    /// those.
    pub fn yarns(&self, ask: &Ask) -> YarnRequest {
        YarnRequest {
            yarns: ask.balls.clone(),
            starts: ask.starts.clone(),
            matched: ask.matched,
            known: self.workspace.map(|open| open.contents.yarns.clone()).unwrap_or_default(),
            files: matches!(self.names, Names::Files),
        }
    }

    /// The remnant whose reach is asked for, and how its yarn is knitted.
    ///
    /// # Errors
    /// A remnant that is not known, or without a workspace; as [`swatch`](Self::swatch).
    pub fn remnant(&self, ask: &ReachAsk) -> Result<Remnant, Diagnostics> {
        if let Some(id) = &ask.remnant {
            let workspace = self.workspace.ok_or_else(|| {
                Diagnostic::error(Code::NoWorkspace, "a remnant is known to a workspace only")
                    .hint("give its weight, or name the workspace with --workspace FOLDER")
            })?;
            return Remnant::of(workspace, self.bench, id);
        }
        let (swatch, machine) = self.swatch(&Ask {
            machine: ask.machine.clone(),
            swatch_id: ask.swatch_id.clone(),
            ..Ask::default()
        })?;
        let step = ask.scale_step.unwrap_or(self.bench.scale_step).grams();
        let have = ask.weight.map(|mass| OnScale::weighed(mass.grams(), step));
        Ok(Remnant { have, machine: machine.clone(), swatch })
    }
}

/// The machine with the needles that the request names.
fn own_needles<'m>(machine: &'m Machine, ask: &Ask) -> Result<Cow<'m, Machine>, Diagnostic> {
    let mut own = Cow::Borrowed(machine);
    if let Some(needles) = &ask.needles {
        own = Cow::Owned(own.into_owned().with_needles(needles)?);
    }
    if let Some(out) = &ask.out_of_work {
        own = Cow::Owned(own.into_owned().without(out)?);
    }
    if let Some(work) = ask.by_hand.as_deref() {
        own.to_mut().by_hand = HandWork::parse(work)?.asked();
    }
    Ok(own)
}

/// Faults of a swatch that came in no file: the line is told, not where it would stand.
fn unplaced(faults: Diagnostics) -> Diagnostics {
    let mut told = Diagnostics::new();
    told.extend(faults.into_iter().map(|mut fault| {
        fault.context.retain(|context| context != "swatch");
        if let Some(place) = fault.place.take() {
            fault.context.push(place.line_text);
        }
        fault
    }));
    told
}
