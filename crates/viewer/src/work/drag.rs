//! Moving placements by hand, its background part: how far clearances let what is held. The newest
//! request wins.

use crate::state::contact::OnContact;
use crate::state::drag::DragUpdate;
use crate::state::model::Model;
use crate::state::moves::{DragRequest, DragStart, label};
use crate::state::nearby::Nearby;
use crate::work::drag_solver::{DragSolver, Member, Question, Scene};
use crate::work::latest::Latest;
use crate::work::threads::{Priority, Threads};
use base::{PlacementId, Progress};
use job::Placement;
use nesting::Space;
use std::sync::{Arc, Mutex, PoisonError};

/// What came of a request.
struct Answer {
    /// Key of the gesture, and number of the request in it.
    of: (u64, u64),
    placements: Vec<(PlacementId, Placement)>,
    around: Nearby,
}

/// The solver of the last gesture, with the key of that: it knows the arrangement.
type LastSolver = Arc<Mutex<Option<(u64, DragSolver)>>>;

/// A gesture as the background is told of it.
#[derive(Clone)]
struct CurrentDrag {
    key: u64,
    scene: Arc<Scene>,
    progress: Progress,
}

/// See the module.
pub(crate) struct DragWorker {
    latest: Latest<Answer>,
    solver: LastSolver,
    current: Option<CurrentDrag>,
}

impl DragWorker {
    /// Nothing is held yet.
    pub(crate) fn new(threads: &Threads) -> Self {
        let latest = Latest::new(threads, "Moving parts by hand", Priority::Urgent);
        Self { latest, solver: LastSolver::default(), current: None }
    }

    /// Does what a view asks of a drag.
    pub(crate) fn update(&mut self, model: &mut Model, update: DragUpdate) {
        match update {
            DragUpdate::Begin(verb, before) => self.begin(model, verb, before),
            DragUpdate::Aim(meant, free) => self.aim(model, meant, free),
            DragUpdate::End => model.drag.release(model.document.as_mut()),
        }
    }

    /// Lets what is selected down until clearances hold it: each by itself, the lowest first.
    pub(crate) fn lower(&mut self, model: &mut Model) {
        let selected: Vec<_> = model.arrangement.selected(&model.selection).collect();
        let Some(before) = DragStart::of(&selected) else { return };
        self.begin(model, "lower", before);
        if let Some(gesture) = model.drag.gesture() {
            gesture.contact = OnContact::Stop;
            self.ask(gesture.ask(), Some(Question::Lower));
        }
        model.drag.release(model.document.as_mut());
    }

    fn begin(&mut self, model: &mut Model, verb: &str, before: DragStart) {
        model.let_go();
        let Some(scene) = scene(model, &before) else { return };
        let label = match before.placements[..] {
            [(at, _)] => format!("{verb} {}", model.placement_name(at)),
            ref several => label(verb, several.len()),
        };
        let gesture = model.drag.begin(label, before);
        let (key, progress) = (gesture.key, gesture.progress.clone());
        self.current = Some(CurrentDrag { key, scene: Arc::new(scene), progress });
        self.ask(0, None); // so that it knows the arrangement when the first request comes
    }

    fn aim(&mut self, model: &mut Model, meant: DragRequest, free: bool) {
        let Some(gesture) = model.drag.gesture() else { return };
        let Some(meant) = gesture.aim(meant, free) else { return };
        let number = gesture.ask();
        if gesture.contact != OnContact::Pass {
            return self.ask(number, Some(Question::Reach(meant)));
        }
        let placements = gesture.before.after(meant);
        self.ask(number, Some(Question::Nearby(placements.clone())));
        model.drag.put(model.document.as_mut(), placements);
    }

    fn ask(&self, number: u64, question: Option<Question>) {
        let Some(drag) = self.current.clone() else { return };
        let solver = Arc::clone(&self.solver);
        self.latest.ask(move |_| answer(&solver, &drag, number, question));
    }

    /// Takes the answers that have come.
    pub(crate) fn take_answers(&self, model: &mut Model) {
        while let Some(answer) = self.latest.take() {
            match answer {
                Ok(Answer { of, placements, around }) => {
                    model.drag.answer(of, placements, around, model.document.as_mut());
                }
                Err(_) => model.drag.pass_through(),
            }
        }
        model.drag.come_to_rest(model.document.as_mut());
    }
}

/// Everything in the build space as a gesture finds it.
fn scene(model: &Model, before: &DragStart) -> Option<Scene> {
    let content = model.content()?;
    let job::Clearances { parts_mm, walls_mm } = content.job.clearances;
    let is_locked = |at: PlacementId| {
        content.job.parts.get(at.part).is_some_and(|part| part.is_locked(at.copy))
    };
    let members = model.arrangement.placed.iter().map(|placed| Member {
        at: placed.at,
        placement: placed.placement,
        loaded: Arc::clone(&placed.loaded),
        scale: placed.scale,
        pose: placed.pose,
        is_locked: is_locked(placed.at),
    });
    Some(Scene {
        members: members.collect(),
        space: Space {
            size_mm: content.machine.build_space_mm,
            wall_clearance_mm: walls_mm,
            clearance_mm: parts_mm,
        },
        before: before.clone(),
        pushes: model.drag.contact == OnContact::Push,
    })
}

/// `None` if there is nothing to tell: no question, or a gesture that was cancelled.
fn answer(
    last: &LastSolver,
    drag: &CurrentDrag,
    number: u64,
    question: Option<Question>,
) -> Option<Answer> {
    let mut last = last.lock().unwrap_or_else(PoisonError::into_inner);
    // Taken out, and put back when all went well: a crash must not take the next gesture with it.
    let mut solver = match last.take() {
        Some((key, solver)) if key == drag.key => solver,
        earlier => DragSolver::new(Arc::clone(&drag.scene), earlier.map(|(_, solver)| solver)),
    };
    let found = question.map(|question| solver.answer(question, &drag.progress));
    *last = Some((drag.key, solver));
    let (placements, around) = found?.ok()?;
    Some(Answer { of: (drag.key, number), placements, around })
}
