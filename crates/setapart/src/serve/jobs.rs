//! Long work: a few threads, a short queue, progress that pages can hear, and an end when someone says so.

use super::refusal::Refusal;
use axum::http::StatusCode;
use serde::Serialize;
use shape::{Cancelled, Watch};
use std::collections::{BTreeMap, VecDeque};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::watch;

/// Jobs that wait at once; more are refused.
const MOST_WAITING: usize = 24;

/// Ended jobs that are remembered, so that a page that was reloaded still hears how they ended.
const MOST_ENDED: usize = 64;

/// Pages hear of progress no oftener than this.
const TELL_EVERY: Duration = Duration::from_millis(80);

/// Where a job stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub(crate) enum Stage {
    Waiting,
    Running,
    Done,
    Failed,
    Stopped,
}

impl Stage {
    fn ended(self) -> bool {
        matches!(self, Self::Done | Self::Failed | Self::Stopped)
    }
}

/// What pages hear of a job.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Report {
    pub(crate) id: u64,
    pub(crate) title: String,
    pub(crate) stage: Stage,
    /// What is being done, in plain words.
    pub(crate) what: String,
    /// How much of it is done, 0 to 1.
    pub(crate) share: f64,
    /// What is wrong and what to do, where it failed.
    pub(crate) problem: Option<[String; 2]>,
    /// What came of it: data for the page that asked.
    pub(crate) result: serde_json::Value,
}

impl Report {
    pub(crate) fn has_ended(&self) -> bool {
        self.stage.ended()
    }
}

/// What a job's work gives: data for the page, or why there are none.
pub(crate) type Outcome = Result<serde_json::Value, Refusal>;

type Work = Box<dyn FnOnce(&Progress) -> Outcome + Send>;

struct Job {
    work: Option<Work>,
    progress: Progress,
}

/// A job's watch: tells pages how far it is, and the work when to stop.
#[derive(Clone)]
pub(crate) struct Progress {
    reports: watch::Sender<Report>,
    stop: Arc<AtomicBool>,
    told: Arc<Mutex<Option<Instant>>>,
}

impl Progress {
    /// Whether someone asked for an end.
    pub(crate) fn stopped(&self) -> bool {
        self.stop.load(Ordering::Acquire)
    }
}

impl Watch for Progress {
    fn step(&self, what: &str, share: f64) -> Result<(), Cancelled> {
        if self.stopped() {
            return Err(Cancelled);
        }
        let mut told = locked(&self.told);
        if told.is_none_or(|t| t.elapsed() > TELL_EVERY) {
            *told = Some(Instant::now());
            self.reports.send_modify(|r| {
                r.what.clear();
                r.what.push_str(what);
                r.share = share.clamp(0.0, 1.0);
            });
        }
        Ok(())
    }
}

#[derive(Default)]
struct Inside {
    jobs: BTreeMap<u64, Job>,
    waiting: VecDeque<u64>,
    ended: VecDeque<u64>,
}

/// The pool.
pub(crate) struct Jobs {
    inside: Mutex<Inside>,
    bell: Condvar,
    next: AtomicU64,
}

impl Jobs {
    /// A pool with its threads, which live as long as the program.
    pub(crate) fn start(threads: usize) -> Arc<Self> {
        let jobs = Arc::new(Self {
            inside: Mutex::default(),
            bell: Condvar::new(),
            next: AtomicU64::new(1),
        });
        for _ in 0..threads.max(1) {
            let jobs = Arc::clone(&jobs);
            // A thread that the system will not give is one fewer; the others do its work.
            let _ = std::thread::Builder::new()
                .name("setapart-job".into())
                .spawn(move || jobs.serve());
        }
        jobs
    }

    /// Puts work in the queue.
    ///
    /// # Errors
    /// A [`Refusal`] where too much waits already.
    pub(crate) fn add(
        &self,
        title: impl Into<String>,
        work: impl FnOnce(&Progress) -> Outcome + Send + 'static,
    ) -> Result<u64, Refusal> {
        let mut inside = locked(&self.inside);
        if inside.waiting.len() >= MOST_WAITING {
            return Err(Refusal::new(
                StatusCode::SERVICE_UNAVAILABLE,
                "Too much work is waiting already.",
                "Wait until some of it is done, then try again.",
            ));
        }
        let id = self.next.fetch_add(1, Ordering::Relaxed);
        let report = Report {
            id,
            title: title.into(),
            stage: Stage::Waiting,
            what: "waiting for other work to end".into(),
            share: 0.0,
            problem: None,
            result: serde_json::Value::Null,
        };
        let progress = Progress {
            reports: watch::channel(report).0,
            stop: Arc::default(),
            told: Arc::default(),
        };
        let work: Option<Work> = Some(Box::new(work));
        inside.jobs.insert(id, Job { work, progress });
        inside.waiting.push_back(id);
        drop(inside);
        self.bell.notify_one();
        Ok(id)
    }

    /// Hears of a job from now on.
    pub(crate) fn hear(&self, id: u64) -> Option<watch::Receiver<Report>> {
        let inside = locked(&self.inside);
        inside.jobs.get(&id).map(|j| j.progress.reports.subscribe())
    }

    /// Asks a job to stop; `false` where there is none of that number.
    pub(crate) fn stop(&self, id: u64) -> bool {
        let mut inside = locked(&self.inside);
        let Some(job) = inside.jobs.get_mut(&id) else {
            return false;
        };
        job.progress.stop.store(true, Ordering::Release);
        // One that still waits has nothing to wait for.
        if job.work.take().is_some() {
            let progress = job.progress.clone();
            inside.waiting.retain(|w| *w != id);
            end(&mut inside, id, &progress, Err(stopped()));
        }
        true
    }

    fn serve(&self) {
        loop {
            let mut inside = locked(&self.inside);
            let (id, work, progress) = loop {
                let next = inside.waiting.pop_front();
                if let Some(id) = next
                    && let Some(job) = inside.jobs.get_mut(&id)
                    && let Some(work) = job.work.take()
                {
                    break (id, work, job.progress.clone());
                }
                if next.is_none() {
                    inside = self
                        .bell
                        .wait(inside)
                        .unwrap_or_else(PoisonError::into_inner);
                }
            };
            drop(inside);
            progress.reports.send_modify(|r| {
                r.stage = Stage::Running;
                r.what = "beginning".into();
            });
            // A fault in the work ends the work, not the app.
            let guarded = std::panic::AssertUnwindSafe(|| work(&progress));
            let outcome = std::panic::catch_unwind(guarded)
                .unwrap_or_else(|_| Err(Refusal::inside("the work ended in a fault")));
            let outcome = match outcome {
                Err(_) if progress.stopped() => Err(stopped()),
                other => other,
            };
            end(&mut locked(&self.inside), id, &progress, outcome);
        }
    }
}

fn stopped() -> Refusal {
    Refusal::new(
        StatusCode::CONFLICT,
        "Stopped, as you asked.",
        "Nothing was changed.",
    )
}

fn end(inside: &mut Inside, id: u64, progress: &Progress, outcome: Outcome) {
    progress.reports.send_modify(|r| match outcome {
        Ok(result) => {
            r.stage = Stage::Done;
            r.share = 1.0;
            r.what = "done".into();
            r.result = result;
        }
        Err(refusal) => {
            r.stage = if progress.stopped() {
                Stage::Stopped
            } else {
                Stage::Failed
            };
            r.what = "ended".into();
            r.problem = Some([refusal.problem, refusal.remedy]);
        }
    });
    inside.ended.push_back(id);
    while inside.ended.len() > MOST_ENDED {
        if let Some(old) = inside.ended.pop_front() {
            inside.jobs.remove(&old);
        }
    }
}

pub(crate) fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
