//! Energies of a layer and the tiles of what is seen, made in the background.

use super::exposed::Exposed;
use crate::state::results::ShownLayer;
use crate::work::latest::Latest;
use crate::work::threads::{Priority, Threads};
use render::dose::{DoseFrame, DoseTiles};
use render::plan::PlanView;
use std::sync::Arc;

/// The dose of a layer, ready to be drawn.
#[derive(Clone)]
pub(crate) struct Dose {
    pub(crate) exposed: Arc<Exposed>,
    pub(crate) tiles: Arc<DoseTiles>,
}

/// What is wanted: a layer, and where it is seen.
#[derive(Clone)]
struct Wanted {
    shown: Arc<ShownLayer>,
    view: PlanView,
    size_px: [u32; 2],
}

impl Wanted {
    fn is(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.shown, &other.shown)
            && self.view == other.view
            && self.size_px == other.size_px
    }
}

/// What was made of a wish: the dose, or why there is none.
struct Answer {
    wanted: Wanted,
    dose: Result<Dose, String>,
}

/// See the module.
pub(crate) struct Dosing {
    latest: Latest<Answer>,
    newest: Option<Dose>,
    /// What was last asked for; asked again only if it changes.
    asked: Option<Wanted>,
    failure: Option<String>,
}

impl Dosing {
    pub(crate) fn new(threads: &Threads) -> Self {
        let latest = Latest::new(threads, "Working out the dose", Priority::Urgent);
        Self { latest, newest: None, asked: None, failure: None }
    }

    /// Whether nothing is being made.
    pub(crate) fn is_idle(&self) -> bool {
        !self.latest.is_busy()
    }

    /// Why there is no dose of what was asked for last.
    pub(crate) fn failure(&self) -> Option<&str> {
        self.failure.as_deref()
    }

    /// The newest dose that there is; `None` once what was asked for last failed.
    pub(crate) fn newest(&self) -> Option<&Dose> {
        self.newest.as_ref().filter(|_| self.failure.is_none())
    }

    /// Takes what has come.
    pub(crate) fn collect(&mut self) {
        while let Some(answer) = self.latest.take() {
            match answer {
                Ok(Answer { wanted, dose: Err(sentence) }) => {
                    let is_last = self.asked.as_ref().is_some_and(|asked| asked.is(&wanted));
                    self.failure = is_last.then_some(sentence);
                }
                Ok(Answer { dose: Ok(dose), .. }) => {
                    (self.newest, self.failure) = (Some(dose), None);
                }
                Err(_) => self.failure = Some("Working it out crashed.".to_owned()),
            }
        }
    }

    /// Asks for a layer where it is seen, unless it is there or under way.
    pub(crate) fn want(&mut self, shown: &Arc<ShownLayer>, view: PlanView, size_px: [u32; 2]) {
        let wanted = Wanted { shown: Arc::clone(shown), view, size_px };
        if self.asked.as_ref().is_some_and(|asked| asked.is(&wanted)) {
            return;
        }
        self.asked = Some(wanted.clone());
        let of_layer = |dose: &&Dose| Arc::ptr_eq(&dose.exposed.shown, shown);
        let known = self.newest.as_ref().filter(of_layer).map(|dose| Arc::clone(&dose.exposed));
        self.latest.ask(move |_| {
            let dose = dose_of(known, &wanted);
            Some(Answer { wanted, dose })
        });
    }
}

fn dose_of(known: Option<Arc<Exposed>>, wanted: &Wanted) -> Result<Dose, String> {
    let exposed = match known {
        Some(exposed) => exposed,
        None => Exposed::new(Arc::clone(&wanted.shown)).map(Arc::new).map_err(|e| e.to_string())?,
    };
    let Wanted { view, size_px, .. } = *wanted;
    let beam_radius_mm = exposed.field.beam().radius_mm();
    let frame = DoseFrame { view, size_px, beam_radius_mm };
    let tiles = DoseTiles::new(&exposed.strokes, frame).map_err(|error| error.to_string())?;
    Ok(Dose { exposed, tiles: Arc::new(tiles) })
}
