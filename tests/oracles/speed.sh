#!/usr/bin/env bash
# Speed beside general-purpose libraries, in one run on this machine. About 5 minutes on 2 cores.
set -euo pipefail
cd "$(dirname "$0")/../.."
folder=target/speed; mkdir -p $folder
venv=$folder/venv
[ -x $venv/bin/python ] || python3 -m venv $venv
$venv/bin/pip install --quiet --disable-pip-version-check -r tests/oracles/requirements.txt \
  stl-reader==0.2.3 vtk==9.7.2 scikit-image==0.26.0
cargo build --release --locked -p hatchwright
cargo build --release --locked -p pipeline --example speed
taskset -c 0,1 $venv/bin/python tests/oracles/speed.py $folder target/release/examples/speed \
  target/release/hatchwright
