#!/usr/bin/env bash
# Takes the pictures that the README shows: the real window under Xvfb, drawn in software, driven by
# keys. Needs: xvfb xdotool imagemagick mesa-vulkan-drivers libxkbcommon-x11-0 libx11-xcb1
# libxcursor1 libxi6. Usage: assets/take_pictures.sh, from the project's folder.
set -euo pipefail
cd "$(dirname "$0")/.."
cargo build --release --locked
display=:97
state=$(mktemp -d)
Xvfb $display -screen 0 1440x900x24 >/dev/null 2>&1 &
server=$!
trap 'kill $program $server 2>/dev/null || true; rm -rf "$state"' EXIT
export DISPLAY=$display XDG_DATA_HOME=$state XDG_RUNTIME_DIR=$state
sleep 2
target/release/hatchwright open demo-jobs/tide_gauge_kit.ron &
program=$!
window=$(timeout 60 xdotool search --sync --onlyvisible --name 'Hatchwright$' | head -n 1)
xdotool windowsize --sync "$window" 1440 900 windowmove "$window" 0 0 || true
xdotool windowfocus "$window" || true
sleep 30 # the whole demo is looked through
import -window root assets/pictures/window.png
xdotool key --window "$window" ctrl+b
sleep 6
import -window root assets/pictures/blueprint.png
