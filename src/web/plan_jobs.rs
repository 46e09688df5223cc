use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use app::{LiveWorkspace, Places, PlanRequest, ShopRequest, Workspace, plan_gifts, shop};
use diag::{Code, Diagnostic, Diagnostics};
use knit::gift_plan::{GiftPlan, ShoppingFor, ShoppingList, Sparing};
use knit::stash::{Aim, Date};
use plan::{Progress, SolveSettings, StopFlag};
use store::workspace::same_key;

/// Plans kept to be looked at and accepted, and as many lists of what to buy.
const KEPT: usize = 6;

/// The plans and the lists of what to buy being made and made lately, newest first.
#[derive(Debug, Default)]
pub struct PlanJobs(Mutex<VecDeque<Arc<PlanJob>>>);

/// One plan, or one list of what to buy, being made or made.
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
    /// Where it is a list of what to buy that is asked for.
    pub shop: Option<ShopOrder>,
}

/// What is to be bought for.
#[derive(Clone, Copy, Debug)]
pub struct ShopOrder {
    pub wanted: ShoppingFor,
    pub sparing: Sparing,
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
    /// The list of what to buy is made.
    Listed(Arc<ShoppingList>),
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
            return Err(Diagnostic::error(
                Code::Rests,
                "the key was used for another plan or list",
            )
            .hint("a key is good for one request: send this one with a new key"));
        }
        if let Some(other) = jobs.iter().find(|job| job.is_running()) {
            let (what, at) = match other.is_list() {
                false => ("a plan", "plans"),
                true => ("a list of what to buy", "shopping-lists"),
            };
            return Err(Diagnostic::error(Code::Planning, format!("{what} is being made already"))
                .hint(format!("wait for it or stop it: /api/v1/{at}/{}", other.id)));
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
        let (mut plans, mut lists) = (0, 0);
        jobs.retain(|job| {
            let of_kind = if job.is_list() { &mut lists } else { &mut plans };
            *of_kind += 1;
            *of_kind <= KEPT
        });
        Ok((job, true))
    }

    /// A plan.
    pub fn get(&self, id: &str) -> Option<Arc<PlanJob>> {
        self.all().into_iter().find(|job| job.id == id)
    }

    /// A list of what to buy.
    pub fn list(&self, id: &str) -> Option<Arc<PlanJob>> {
        self.lists().into_iter().find(|job| job.id == id)
    }

    /// The plans.
    pub fn all(&self) -> Vec<Arc<PlanJob>> {
        lock(&self.0).iter().filter(|job| !job.is_list()).cloned().collect()
    }

    /// The lists of what to buy.
    pub fn lists(&self) -> Vec<Arc<PlanJob>> {
        lock(&self.0).iter().filter(|job| job.is_list()).cloned().collect()
    }

    pub fn stop_all(&self) {
        lock(&self.0).iter().for_each(|job| job.stop.set());
    }
}

impl PlanJob {
    /// Makes the plan or the list; takes as long as it takes.
    pub fn run(&self, live: Option<&LiveWorkspace>, places: &Places) {
        // Whatever goes wrong, nobody waits for this plan for ever.
        let unfinished = Unfinished(self);
        let Some(live) = live else { return };
        let stage = self.make(live, places).unwrap_or_else(Stage::Failed);
        *lock(&self.stage) = stage;
        drop(unfinished);
    }

    fn make(&self, live: &LiveWorkspace, places: &Places) -> Result<Stage, Diagnostics> {
        let now = live.now();
        if now.faults.has_errors() {
            return Err(now.faults);
        }
        let bench = live.bench(&now)?;
        let plan = PlanRequest {
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
        let Some(ShopOrder { wanted, sparing }) = self.order.shop else {
            let mut told = |progress| *lock(&self.progress) = Some(progress);
            let plan = plan_gifts(&plan, &settings, &mut told)?;
            return Ok(Stage::Done(Arc::new(Planned { plan, seen: Arc::clone(&now.workspace) })));
        };
        // Several searches, one after the other, each of which counts its own work.
        let (mut before, mut last) = (0, 0);
        let mut told = |progress: Progress| {
            if progress.work < last {
                before += last;
            }
            last = progress.work;
            *lock(&self.progress) = Some(Progress { work: before + last, ..progress });
        };
        let request = ShopRequest { plan, wanted, sparing };
        Ok(Stage::Listed(Arc::new(shop(&request, &settings, &mut told)?)))
    }

    /// Ends the search; the best plan so far is kept.
    pub fn stop(&self) {
        self.stop.set();
    }

    pub fn stage(&self) -> Stage {
        lock(&self.stage).clone()
    }

    fn is_list(&self) -> bool {
        self.order.shop.is_some()
    }

    fn is_running(&self) -> bool {
        matches!(*lock(&self.stage), Stage::Running)
    }

    pub fn progress(&self) -> Option<Progress> {
        *lock(&self.progress)
    }

    /// How far it is, 0 to 1. All searches for a list have twice the work of one for a plan at most,
    /// or near it.
    pub fn share(&self) -> f64 {
        let done = self.progress().map_or(0, |progress| progress.work);
        let most = self.order.work.saturating_mul(if self.is_list() { 2 } else { 1 });
        (done as f64 / most.max(1) as f64).min(1.0)
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
