//! The predicted outline: where the layer melts, and how far that lies from the section. Made in the
//! background, after the picture.

use super::curves::Curves;
use super::exposed::Exposed;
use crate::state::results::ShownLayer;
use crate::work::latest::Latest;
use crate::work::threads::{Priority, Threads};
use base::Progress;
use estimate::outline::Deviation;
use estimate::{EstimateError, Ring, compare, melted};
use region::Region;
use std::sync::Arc;

/// Work on an earlier layer goes on for so long after it began, s, so that something is shown while a
/// number is dragged.
const YOUNG_S: f64 = 0.25;
/// Distance of the places along the outline at which it is compared, mm.
const EVERY_MM: f64 = 0.1;
/// Bins of the histogram, and their width, mm; what lies beyond counts in the outermost.
pub(super) const BINS: u8 = 21;
pub(super) const BIN_MM: f64 = 0.01;

/// How far an outline lies from the section.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Summary {
    /// Mean of the distances, positive outside, mm; `None` if nothing melts.
    pub(super) mean_mm: Option<f64>,
    /// What 95 % of the distances do not exceed, mm.
    pub(super) p95_mm: Option<f64>,
    pub(super) vanished: usize,
    pub(super) filled: usize,
    pub(super) merged: usize,
    /// Places by distance, from too small to too large.
    pub(super) bins: Vec<usize>,
}

impl Summary {
    fn of(deviation: &Deviation) -> Self {
        Self {
            mean_mm: deviation.mean_mm(),
            p95_mm: deviation.p95_mm(),
            vanished: deviation.vanished.len(),
            filled: deviation.filled.len(),
            merged: deviation.merged.len(),
            bins: deviation.histogram(&edges_mm()),
        }
    }
}

/// Edges of the bins of the histogram, the middle bin about 0, mm.
pub(super) fn edges_mm() -> Vec<f64> {
    (0..=BINS).map(|edge| (f64::from(edge) - 0.5 * f64::from(BINS)) * BIN_MM).collect()
}

/// The outline of the melt of one layer, by the nominal depth of the powder.
#[derive(Clone)]
pub(crate) struct Predicted {
    exposed: Arc<Exposed>,
    /// All that is to be fused in the layer.
    section: Arc<Region>,
    pub(crate) curves: Curves,
    pub(super) nominal: Summary,
    /// The same by the depth that it tends to; made afterwards.
    pub(super) steady: Option<Summary>,
}

impl Predicted {
    pub(crate) fn is_of(&self, shown: &Arc<ShownLayer>) -> bool {
        Arc::ptr_eq(&self.exposed.shown, shown)
    }
}

/// An outline that is being worked out.
struct UnderWay {
    exposed: Arc<Exposed>,
    is_steady: bool,
    since_s: f64,
    progress: Progress,
}

/// What was made of a wish: the outline, or why there is none.
struct Answer {
    exposed: Arc<Exposed>,
    is_steady: bool,
    predicted: Result<Predicted, String>,
}

/// See the module.
pub(crate) struct Predicting {
    latest: Latest<Answer>,
    newest: Option<Predicted>,
    under_way: Option<UnderWay>,
    /// Of which layer there is no outline, and why.
    failure: Option<(Arc<Exposed>, String)>,
}

impl Drop for Predicting {
    fn drop(&mut self) {
        if let Some(work) = &self.under_way {
            work.progress.cancel();
        }
    }
}

impl Predicting {
    pub(crate) fn new(threads: &Threads) -> Self {
        let latest = Latest::new(threads, "Predicting the outline", Priority::Normal);
        Self { latest, newest: None, under_way: None, failure: None }
    }

    /// Whether nothing is being made.
    pub(crate) fn is_idle(&self) -> bool {
        !self.latest.is_busy()
    }

    /// The newest outline that there is.
    pub(crate) fn newest(&self) -> Option<&Predicted> {
        self.newest.as_ref()
    }

    /// Why there is none of the layer wanted last.
    pub(crate) fn failure(&self) -> Option<&str> {
        self.failure.as_ref().map(|(_, sentence)| sentence.as_str())
    }

    /// Sees to it that there will be an outline of a layer; at a time of the window, s.
    pub(crate) fn want(&mut self, exposed: &Arc<Exposed>, now_s: f64) {
        self.collect();
        let is_it = |other: &Arc<Exposed>| Arc::ptr_eq(other, exposed);
        if self.failure.as_ref().is_some_and(|(failed, _)| is_it(failed)) {
            return;
        }
        self.failure = None;
        let there = self.newest.as_ref().filter(|newest| is_it(&newest.exposed)).cloned();
        if there.as_ref().is_some_and(|there| there.steady.is_some()) {
            return;
        }
        let is_steady = there.is_some();
        if let Some(work) = &self.under_way {
            if is_it(&work.exposed) && work.is_steady == is_steady {
                return;
            }
            if now_s - work.since_s < YOUNG_S {
                return; // asked again when it is done, or older
            }
            work.progress.cancel();
        }
        let progress = Progress::default();
        let work = UnderWay {
            exposed: Arc::clone(exposed),
            is_steady,
            since_s: now_s,
            progress: progress.clone(),
        };
        self.under_way = Some(work);
        let exposed = Arc::clone(exposed);
        self.latest.ask(move |_| {
            let predicted = match predicted(&exposed, there, &progress) {
                Err(EstimateError::Cancelled(_)) => return None,
                other => other.map_err(|error| error.to_string()),
            };
            Some(Answer { exposed, is_steady, predicted })
        });
    }

    /// Whether stale work keeps a newer wish waiting.
    pub(crate) fn holds_back(&self, exposed: &Arc<Exposed>) -> bool {
        self.under_way.as_ref().is_some_and(|work| !Arc::ptr_eq(&work.exposed, exposed))
    }

    fn collect(&mut self) {
        while let Some(answer) = self.latest.take() {
            let Ok(Answer { exposed, is_steady, predicted }) = answer else {
                let failed = self.under_way.take();
                let crashed = || "Working it out crashed.".to_owned();
                self.failure = failed.map(|work| (work.exposed, crashed()));
                continue;
            };
            let is_answered = |work: &UnderWay| {
                Arc::ptr_eq(&work.exposed, &exposed) && work.is_steady == is_steady
            };
            if self.under_way.as_ref().is_some_and(is_answered) {
                self.under_way = None;
            }
            match predicted {
                Ok(predicted) => self.newest = Some(predicted),
                Err(sentence) => self.failure = Some((exposed, sentence)),
            }
        }
    }
}

/// The outline of a layer; where that is there, with what another depth of the powder would give.
fn predicted(
    exposed: &Arc<Exposed>,
    there: Option<Predicted>,
    progress: &Progress,
) -> Result<Predicted, EstimateError> {
    let levels = exposed.levels;
    if let Some(there) = there {
        let (_, steady) = outline(exposed, levels.steady, &there.section, progress)?;
        return Ok(Predicted { steady: Some(steady), ..there });
    }
    let section = Arc::new(region::union_all(&exposed.shown.regions));
    let (rings, nominal) = outline(exposed, levels.nominal, &section, progress)?;
    let curves = Curves::new(&rings);
    Ok(Predicted { exposed: Arc::clone(exposed), section, curves, nominal, steady: None })
}

fn outline(
    exposed: &Exposed,
    threshold_j_mm2: f64,
    section: &Region,
    progress: &Progress,
) -> Result<(Vec<Ring>, Summary), EstimateError> {
    let rings = match exposed.field.bounds() {
        Some(bounds) => melted(&exposed.field, threshold_j_mm2, bounds, progress)?,
        None => Vec::new(),
    };
    let deviation = compare(&rings, section, EVERY_MM, progress)?;
    Ok((rings, Summary::of(&deviation)))
}
