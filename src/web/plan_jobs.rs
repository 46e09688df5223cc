use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use app::{LiveWorkspace, Places, PlanRequest, Workspace, plan_gifts};
use diag::{Code, Diagnostic, Diagnostics};
use knit::gift_plan::GiftPlan;
use knit::stash::{Aim, Date};
use plan::{Progress, SolveSettings, StopFlag};
use store::workspace::same_key;

/// Plans kept to be looked at and accepted.
const KEPT: usize = 6;

/// The plans being made and made lately, newest first.
#[derive(Debug, Default)]
pub struct PlanJobs(Mutex<VecDeque<Arc<PlanJob>>>);

/// One plan, being made or made.
#[derive(Debug)]
pub struct PlanJob {
    pub id: String,
    pub order: PlanOrder,
    /// The one-time key that it was asked for with.
    once: Option<String>,
    stop: StopFlag,
    progress: Mutex<Option<Progress>>,
    stage: Mutex<Stage>,
}

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct PlanOrder {
    pub today: Date,
    /// In the solver's units.
    pub work: u64,
    pub seed: u64,
    pub again: bool,
    pub aim: Option<Aim>,
    pub explain: bool,
}

/// A plan, and what it was made from.
#[derive(Debug)]
pub struct Planned {
    pub plan: GiftPlan,
    pub seen: Arc<Workspace>,
}

#[derive(Clone, Debug)]
pub enum Stage {
    Running,
    Done(Arc<Planned>),
    Failed(Diagnostics),
}

impl PlanJobs {
    /// Takes a plan on; one at a time, since one takes all cores. Tells whether it is new: what is
    /// asked for twice, with the same one-time key, is one plan.
    ///
    /// # Errors
    /// Another is being made.
    pub fn begin(
        &self,
        id: String,
        order: PlanOrder,
        once: Option<String>,
    ) -> Result<(Arc<PlanJob>, bool), Diagnostic> {
        let mut jobs = lock(&self.0);
        let same = |job: &&Arc<PlanJob>| match (&job.once, &once) {
            (Some(own), Some(key)) => same_key(own, key),
            _ => false,
        };
        if let Some(same) = jobs.iter().find(same) {
            if same.once == once {
                return Ok((Arc::clone(same), false));
            }
            return Err(Diagnostic::error(Code::Rests, "the key was used for another plan")
                .hint("a key is good for one request: send this one with a new key"));
        }
        if let Some(other) = jobs.iter().find(|job| job.is_running()) {
            return Err(Diagnostic::error(Code::Planning, "a plan is being made already")
                .hint(format!("wait for it or stop it: /api/v1/plans/{}", other.id)));
        }
        let job = Arc::new(PlanJob {
            id,
            order,
            once,
            stop: StopFlag::new(),
            progress: Mutex::new(None),
            stage: Mutex::new(Stage::Running),
        });
        jobs.push_front(Arc::clone(&job));
        jobs.truncate(KEPT);
        Ok((job, true))
    }

    pub fn get(&self, id: &str) -> Option<Arc<PlanJob>> {
        lock(&self.0).iter().find(|job| job.id == id).cloned()
    }

    pub fn all(&self) -> Vec<Arc<PlanJob>> {
        lock(&self.0).iter().cloned().collect()
    }

    pub fn stop_all(&self) {
        lock(&self.0).iter().for_each(|job| job.stop.set());
    }
}

impl PlanJob {
    /// Makes the plan; takes as long as it takes.
    pub fn run(&self, live: Option<&LiveWorkspace>, places: &Places) {
        // Whatever goes wrong, nobody waits for this plan for ever.
        let unfinished = Unfinished(self);
        let Some(live) = live else { return };
        let stage = match self.make(live, places) {
            Ok(planned) => Stage::Done(Arc::new(planned)),
            Err(faults) => Stage::Failed(faults),
        };
        *lock(&self.stage) = stage;
        drop(unfinished);
    }

    fn make(&self, live: &LiveWorkspace, places: &Places) -> Result<Planned, Diagnostics> {
        let now = live.now();
        if now.faults.has_errors() {
            return Err(now.faults);
        }
        let bench = live.bench(&now)?;
        let request = PlanRequest {
            bench: &bench,
            contents: &now.workspace.contents,
            learning: now.workspace.learning(&bench),
            places,
            number: now.workspace.state.number,
            today: self.order.today,
            again: self.order.again,
            aim: self.order.aim,
            explain: self.order.explain,
        };
        let settings = SolveSettings {
            seed: self.order.seed,
            work_limit: self.order.work,
            threads: 0,
            stop: self.stop.clone(),
        };
        let mut told = |progress| *lock(&self.progress) = Some(progress);
        let plan = plan_gifts(&request, &settings, &mut told)?;
        Ok(Planned { plan, seen: Arc::clone(&now.workspace) })
    }

    /// Ends the search; the best plan so far is kept.
    pub fn stop(&self) {
        self.stop.set();
    }

    pub fn stage(&self) -> Stage {
        lock(&self.stage).clone()
    }

    fn is_running(&self) -> bool {
        matches!(*lock(&self.stage), Stage::Running)
    }

    pub fn progress(&self) -> Option<Progress> {
        *lock(&self.progress)
    }

    /// How far it is, 0 to 1.
    pub fn share(&self) -> f64 {
        let done = self.progress().map_or(0, |progress| progress.work);
        (done as f64 / self.order.work.max(1) as f64).min(1.0)
    }
}

/// Marks a plan as failed where its thread ended without one.
struct Unfinished<'a>(&'a PlanJob);

impl Drop for Unfinished<'_> {
    fn drop(&mut self) {
        if self.0.is_running() {
            let fault = Diagnostic::error(Code::Internal, "something broke while planning")
                .hint("what was asked for is not at fault: please report it");
            *lock(&self.0.stage) = Stage::Failed(fault.into());
        }
    }
}

/// A panic while it was held leaves a whole value: each is put in one step.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
