use std::sync::{Arc, Mutex, PoisonError};

use super::{Workbench, WorkbenchSources, Workspace, WorkspaceEdit};
use diag::Diagnostics;
use store::workspace::Stamp;

/// A workspace that people and other programs go on changing while this one runs: read again when
/// its files have changed. While they are faulty the last good state stands.
#[derive(Debug)]
pub struct LiveWorkspace {
    sources: WorkbenchSources,
    kept: Mutex<Kept>,
}

#[derive(Debug)]
struct Kept {
    stamp: Stamp,
    now: Now,
}

/// A workspace as it is, or as it last was without faults.
#[derive(Clone, Debug)]
pub struct Now {
    pub workspace: Arc<Workspace>,
    /// What is wrong with the files since.
    pub faults: Diagnostics,
}

impl LiveWorkspace {
    /// `sources` go before the workspace's own tables, machines and garments.
    pub fn new(workspace: Workspace, sources: WorkbenchSources) -> LiveWorkspace {
        let stamp = workspace.folder.stamp();
        let now = Now { workspace: Arc::new(workspace), faults: Diagnostics::new() };
        LiveWorkspace { sources, kept: Mutex::new(Kept { stamp, now }) }
    }

    pub fn now(&self) -> Now {
        // A panic while it was held leaves the last good state.
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        // Taken before the files are read: what changes meanwhile is read the next time.
        let stamp = kept.now.workspace.folder.stamp();
        if stamp != kept.stamp {
            let folder = kept.now.workspace.folder.clone();
            match Workspace::open(folder) {
                Ok(fresh) => {
                    kept.now = Now { workspace: Arc::new(fresh), faults: Diagnostics::new() };
                }
                Err(faults) => kept.now.faults = faults,
            }
            kept.stamp = stamp;
        }
        kept.now.clone()
    }

    /// A workbench with the sizes, machines and garments as they are in `now`.
    ///
    /// # Errors
    /// As [`Workbench::open`].
    pub fn bench(&self, now: &Now) -> Result<Workbench, Diagnostics> {
        now.workspace.bench(&self.sources)
    }

    pub fn edit(&self) -> WorkspaceEdit {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        WorkspaceEdit::of(kept.now.workspace.folder.clone())
    }
}
