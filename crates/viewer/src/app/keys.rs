//! Shortcuts: which commands were asked for at the keyboard.

use crate::state::commands::{COMMANDS, Command};
use egui::{Event, Key, KeyboardShortcut, Popup};

/// The commands whose keys were pressed, taken out of the input; Esc has an order of its own
/// (`escape.rs`). Keys that a text field needs are left to it while someone types, and all keys to an open
/// menu or a question that is `asked`.
pub(crate) fn pressed(ctx: &egui::Context, asked: bool) -> Vec<Command> {
    if asked || Popup::is_any_open(ctx) {
        return Vec::new();
    }
    let typing = ctx.egui_wants_keyboard_input();
    // Longer combinations first: a shorter one would also match them.
    let mut keyed: Vec<(Command, KeyboardShortcut)> =
        COMMANDS.iter().filter_map(|command| Some((*command, command.info().key?))).collect();
    keyed.sort_by_key(|(_, key)| std::cmp::Reverse(key.modifiers.shift));
    ctx.input_mut(|input| {
        let mut pressed = Vec::new();
        for (command, key) in keyed {
            if command == Command::Stop {
                continue;
            }
            // A field keeps its plain keys, and marking, undo and redo of what is typed in it.
            let of_the_field = matches!(key.logical_key, Key::A | Key::Z);
            if typing && (!key.modifiers.command || of_the_field) {
                continue;
            }
            let mut times = input.count_and_consume_key(key.modifiers, key.logical_key);
            if command == Command::ZoomIn {
                // where + is the upper sign of a key, its lower one will do
                times += input.count_and_consume_key(key.modifiers, Key::Equals);
            }
            pressed.extend(std::iter::repeat_n(command, times));
        }
        pressed
    })
}

/// What the clipboard's keys ask for, unless someone types.
pub(crate) fn of_clipboard(ctx: &egui::Context, asked: bool) -> (Vec<Command>, Option<String>) {
    if asked || ctx.egui_wants_keyboard_input() {
        return (Vec::new(), None);
    }
    ctx.input(|input| {
        let command = |event: &Event| match event {
            Event::Copy => Some(Command::Copy),
            Event::Cut => Some(Command::Cut),
            _ => None,
        };
        let pasted = |event: &Event| match event {
            Event::Paste(text) => Some(text.clone()),
            _ => None,
        };
        (input.events.iter().filter_map(command).collect(), input.events.iter().find_map(pasted))
    })
}
