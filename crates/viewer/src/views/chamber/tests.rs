//! Drives the view as a person does: by names and by the pointer.

use super::{ChamberView, View as _};
use crate::state::actions::{Action, Selecting};
use crate::state::arrangement::vec3;
use crate::state::document::{Content, Document};
use crate::state::model::Model;
use crate::state::results::{MeshState, Results, mesh_key};
use crate::widgets::theme::{Ink, Theme};
use crate::work::drag::DragWorker;
use crate::work::threads::Threads;
use base::{PlacementId, Progress};
use egui::{Event, Modifiers, PointerButton, Pos2, Vec2, vec2};
use egui_kittest::kittest::Queryable as _;
use egui_kittest::{Harness, SnapshotOptions};
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

/// The view alone on a sheet, with as much of the app as carries its actions out.
struct Sheet {
    model: Model,
    drag: DragWorker,
    view: ChamberView,
}

impl eframe::App for Sheet {
    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        let mut actions = Vec::new();
        self.drag.take_answers(&mut self.model);
        self.model.update_arrangement();
        egui::CentralPanel::no_frame().show(ui, |ui| self.view.show(ui, &self.model, &mut actions));
        let at_rest = ui.input(|input| !input.pointer.any_down());
        for action in actions {
            let selection = &mut self.model.selection;
            match action {
                Action::Edit(edit) => {
                    if let Some(document) = &mut self.model.document {
                        document.edit(edit);
                    }
                }
                Action::Select(how, placements) => {
                    let new: BTreeSet<PlacementId> = placements.into_iter().collect();
                    match how {
                        Selecting::Only => *selection = new,
                        Selecting::Also => selection.extend(new),
                        Selecting::Toggle => {
                            *selection = selection.symmetric_difference(&new).copied().collect();
                        }
                    }
                }
                Action::Drag(update) => self.drag.update(&mut self.model, update),
                _ => {}
            }
        }
        if at_rest
            && !self.model.drag.is_active()
            && let Some(document) = &mut self.model.document
        {
            document.end_gesture();
        }
    }
}

fn demo() -> (Content, Results) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let folder = root.join("demo-jobs");
    let mut job = pipeline::load_job_file(&folder.join("tide_gauge_kit.ron")).unwrap();
    let machine = pipeline::load_machine_file(&folder.join(&job.machine)).unwrap();
    let recipe = pipeline::load_recipe_file(&folder.join(&job.recipe)).unwrap();
    job.parts.retain(|part| part.recipe.is_none());
    let mut results = Results::default();
    for part in &job.parts {
        let mesh = pipeline::load_part_mesh(&folder, part, &Progress::default()).unwrap();
        results.meshes.insert(mesh_key(part), MeshState::Ready(Arc::new(mesh)));
    }
    let recipes = [(job.recipe.clone(), recipe)].into();
    (Content { job, machine, recipes }, results)
}

fn sheet<'a>(content: Content, results: Results, theme: Theme) -> Harness<'a, Sheet> {
    let ink = Ink::of(theme);
    let mut harness = Harness::builder().with_size(vec2(760.0, 560.0)).wgpu().build_eframe(|cc| {
        crate::widgets::theme::apply(&cc.egui_ctx, &ink);
        let ctx = cc.egui_ctx.clone();
        let threads = Threads::new(move || ctx.request_repaint());
        let document = Some(Document::unsaved("".into(), content));
        Sheet {
            model: Model { document, results, ..Model::empty(ink) },
            drag: DragWorker::new(&threads),
            view: ChamberView::new(cc.wgpu_render_state.as_ref(), &threads),
        }
    });
    harness.step();
    for _ in 0..600 {
        if harness.state().view.meshes.pending() == 0 {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
        harness.step();
    }
    harness.run();
    harness
}

fn placement(harness: &Harness<'_, Sheet>, at: PlacementId) -> job::Placement {
    let document = harness.state().model.document.as_ref().unwrap();
    document.content().job.parts[at.part].placements[at.copy]
}

/// Where a point of the build space is on the screen.
fn pos(harness: &Harness<'_, Sheet>, at: [f64; 3]) -> Pos2 {
    let pixel = harness.state().view.camera.pixel(vec3(at)).unwrap();
    Pos2::new(pixel.x, pixel.y)
}

fn press(harness: &mut Harness<'_, Sheet>, at: Pos2, button: PointerButton, pressed: bool) {
    harness.event(Event::PointerMoved(at));
    let modifiers = Modifiers::NONE;
    harness.event(Event::PointerButton { pos: at, button, pressed, modifiers });
    harness.step();
}

fn drag(harness: &mut Harness<'_, Sheet>, from: Pos2, by: Vec2, button: PointerButton) {
    harness.event(Event::PointerMoved(from));
    harness.step();
    press(harness, from, button, true);
    for k in 1..=4 {
        harness.event(Event::PointerMoved(from + by * (k as f32 / 4.0)));
        harness.step();
    }
    press(harness, from + by, button, false);
    harness.run();
}

/// A part that stands alone in the corner of the demo's build space, and a point on its top.
fn lone(harness: &Harness<'_, Sheet>) -> (PlacementId, [f64; 3]) {
    let parts = &harness.state().model.content().unwrap().job.parts;
    let part = parts.iter().position(|part| part.name == "float lower half").unwrap();
    let at = PlacementId { part, copy: 0 };
    (at, placement(harness, at).location_mm)
}

#[test]
fn a_click_picks_a_drag_moves_and_one_undo_takes_it_back() {
    let (content, results) = demo();
    let mut harness = sheet(content, results, Theme::Paper);
    harness.get_by_label("Look from the front").click();
    harness.run();
    let (at, middle) = lone(&harness);
    let on = pos(&harness, middle);
    press(&mut harness, on, PointerButton::Primary, true);
    press(&mut harness, on, PointerButton::Primary, false);
    harness.run();
    assert_eq!(harness.state().model.selection, BTreeSet::from([at]));

    // The arrow along X: its far half lies right of the middle, free of the ring.
    let before = placement(&harness, at);
    let tip = pos(&harness, middle) + vec2(70.0, 0.0);
    drag(&mut harness, tip, vec2(40.0, 0.0), PointerButton::Primary);
    let after = placement(&harness, at);
    let by = after.location_mm[0] - before.location_mm[0];
    let mm = f64::from(harness.state().view.camera.mm_per_pixel(vec3(middle)));
    assert!((by - 40.0 * mm).abs() < 0.5, "moved by {by} mm, pixels are {mm} mm");
    assert_eq!(after.location_mm[1..], before.location_mm[1..]);
    let tenths = after.location_mm[0] * 10.0;
    assert!((tenths - tenths.round()).abs() < 1e-6, "on whole tenths: {}", after.location_mm[0]);

    let document = harness.state_mut().model.document.as_mut().unwrap();
    assert!(document.undo().is_some());
    harness.run();
    assert_eq!(placement(&harness, at), before, "a drag is one step");
}

#[test]
fn numbers_are_typed_by_name() {
    let (content, results) = demo();
    let mut harness = sheet(content, results, Theme::Paper);
    let (at, _) = lone(&harness);
    harness.state_mut().model.selection = BTreeSet::from([at]);
    harness.run();
    harness.get_by_label("Location Z").click();
    harness.run();
    harness.key_press_modifiers(Modifiers::COMMAND, egui::Key::A);
    harness.event(Event::Text("31.25".to_owned()));
    harness.key_press(egui::Key::Enter);
    harness.run();
    let height = placement(&harness, at).location_mm[2];
    assert!((height - 31.25).abs() < 1e-9, "{height}");
}

#[test]
fn a_frame_selects_what_it_holds_and_turning_the_view_changes_no_part() {
    let (content, results) = demo();
    let mut harness = sheet(content.clone(), results, Theme::Paper);
    harness.get_by_label("Look from above").click();
    harness.run();
    let yaw = harness.state().view.camera.yaw;
    drag(&mut harness, Pos2::new(380.0, 300.0), vec2(60.0, 20.0), PointerButton::Secondary);
    assert!((harness.state().view.camera.yaw - yaw).abs() > 0.1);
    harness.get_by_label("Look from above").click();
    harness.run();
    let camera = &mut harness.state_mut().view.camera;
    camera.zoom(1.3, camera.target); // room for a frame around everything
    drag(&mut harness, Pos2::new(12.0, 60.0), vec2(730.0, 470.0), PointerButton::Primary);
    let all = harness.state().model.placements().count();
    assert_eq!(harness.state().model.selection.len(), all);
    assert_eq!(**harness.state().model.content().unwrap(), content);
}

#[test]
fn the_menu_puts_the_picked_face_down() {
    let (content, results) = demo();
    let mut harness = sheet(content, results, Theme::Paper);
    harness.get_by_label("Look from the front").click();
    harness.run();
    let (at, middle) = lone(&harness);
    let on = pos(&harness, middle);
    press(&mut harness, on, PointerButton::Secondary, true);
    press(&mut harness, on, PointerButton::Secondary, false);
    harness.run();
    harness.get_by_label("Put this face down").click();
    harness.run();
    let angles = placement(&harness, at).rotation_deg;
    // The face looked at from the front leans to −Y; it is rotated down about X.
    assert!((angles[0].abs() - 90.0).abs() < 25.0, "{angles:?}");
}

#[test]
fn the_section_and_both_themes_look_as_they_did() {
    let (content, results) = demo();
    let mut harness = sheet(content, results, Theme::Paper);
    let thickness = harness.state().model.layer_thickness_mm();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a layer number")]
    let layer = (24.0 / thickness) as u32;
    harness.state_mut().model.cursor.layer = layer;
    harness.get_by_label("Cut at the layer shown").click();
    harness.run();
    // Rasters differ between versions of a driver along edges: allow some pixels, not a picture.
    let options = SnapshotOptions::new().threshold(2.0).max_failed_pixels(1500_usize);
    harness.snapshot_options("chamber_section_paper", &options);
    harness.state_mut().model.ink = Ink::of(Theme::Blueprint);
    crate::widgets::theme::apply(&harness.ctx, &Ink::of(Theme::Blueprint));
    harness.get_by_label("Cut at the layer shown").click();
    let (at, _) = lone(&harness);
    harness.state_mut().model.selection = BTreeSet::from([at]);
    harness.run();
    harness.snapshot_options("chamber_selected_blueprint", &options);
}

/// A proof of clearances says nothing of what has moved since: that is drawn faint, and nothing else.
#[test]
fn what_moved_since_the_proof_is_drawn_faint() {
    let (content, results) = demo();
    let mut harness = sheet(content.clone(), results, Theme::Paper);
    let faint = |harness: &Harness<'_, Sheet>| {
        let scene = harness.state().view.scene.clone().unwrap();
        scene.instances.iter().filter(|instance| instance.state.faint).count()
    };
    assert_eq!(faint(&harness), 0, "without a proof nothing is told apart");
    // A proof of the job as it stands; what it found does not matter here.
    let model = &mut harness.state_mut().model;
    let mesh_of =
        |part: &job::PartEntry| Ok(model.results.mesh(part).unwrap().ready().unwrap().clone());
    let recipe_of = |file: &str| Ok(content.recipes[file].clone());
    let (job, machine) = (content.job.clone(), content.machine.clone());
    let loaded = pipeline::Loaded::assemble(job, machine, recipe_of, mesh_of).unwrap();
    let build = pipeline::Build::after(None, loaded, &Progress::default()).unwrap();
    let clearance = pipeline::Clearance {
        space: nesting::Space { size_mm: [1.0; 3], wall_clearance_mm: 1.0, clearance_mm: 1.0 },
        proof: nesting::Proof::default(),
        removal: None,
        placements: Vec::new(),
        findings: Vec::new(),
    };
    let built = crate::state::results::Built { revision: model.revision(), build: Arc::new(build) };
    model.results.proven = Some(crate::state::results::Proven::new(&built, clearance));
    harness.run();
    assert_eq!(faint(&harness), 0);
    let (at, _) = lone(&harness);
    let document = harness.state_mut().model.document.as_mut().unwrap();
    document.edit(crate::state::actions::Edit::new("move", move |content| {
        content.job.parts[at.part].placements[at.copy].location_mm[2] += 3.0;
    }));
    harness.run();
    assert_eq!(faint(&harness), 1);
    harness.state_mut().model.document.as_mut().unwrap().undo();
    harness.run();
    assert_eq!(faint(&harness), 0, "back where it was proven");
}

#[test]
fn faults_of_a_broken_mesh_are_marked_and_a_missing_one_is_named() {
    let folder = tempfile::tempdir().unwrap();
    // A box without its lid: four open edges.
    let mut stl = String::from("solid box\n");
    let corner = |i: usize| [i & 1, i >> 1 & 1, i >> 2 & 1].map(|bit| (bit * 30).to_string());
    let quads = [[0, 2, 3, 1], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    for [a, b, c, d] in quads {
        for triangle in [[a, b, c], [a, c, d]] {
            stl += "facet normal 0 0 0\nouter loop\n";
            for i in triangle {
                stl += "vertex ";
                stl += &corner(i).join(" ");
                stl += "\n";
            }
            stl += "endloop\nendfacet\n";
        }
    }
    std::fs::write(folder.path().join("box.stl"), stl + "endsolid box\n").unwrap();
    let (mut content, mut results) = demo();
    content.job.parts.truncate(2);
    let broken = PlacementId { part: 0, copy: 0 };
    content.job.parts[0].mesh = "box.stl".to_owned();
    content.job.parts[0].placements.truncate(1);
    content.job.parts[1].mesh = "gone.stl".to_owned();
    let part = &content.job.parts[0];
    let mesh = pipeline::load_part_mesh(folder.path(), part, &Progress::default()).unwrap();
    results.meshes.insert(mesh_key(part), MeshState::Ready(Arc::new(mesh)));
    let gone = mesh_key(&content.job.parts[1]);
    results.meshes.insert(gone, MeshState::Failed("There is no such file.".to_owned()));

    let mut harness = sheet(content, results, Theme::Paper);
    let stop = crate::widgets::scene_colours::rgba(harness.state().model.ink.stop, 1.0);
    let scene = harness.state().view.scene.clone().unwrap();
    let top = placement(&harness, broken).location_mm[2] + 15.0;
    let marks = scene.lines.iter().filter(|line| line.colour == stop);
    let on_rim =
        marks.clone().filter(|line| (f64::from(line.a[2].min(line.b[2])) - top).abs() < 0.5);
    assert_eq!(on_rim.count(), 4, "the open edges are marked where they are");
    assert_eq!(marks.count(), 4 + 3, "and a cross stands for the missing mesh");
    assert!(scene.instances.iter().all(|instance| instance.state.faulty));
    harness.state_mut().model.selection = BTreeSet::from([broken]);
    harness.run();
    if let Ok(folder) = std::env::var("CHAMBER_PICTURES") {
        harness.render().unwrap().save(Path::new(&folder).join("broken.png")).unwrap();
    }
}
