//! How long a build takes, and what with.

use job::Machine;
use motion::LayerTime;
use serde::Serialize;

/// Time of a build, or of some of its layers, s; each second counts once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct BuildTime {
    /// Before the first layer.
    pub warm_up_s: f64,
    /// Spreading powder.
    pub recoat_s: f64,
    /// Light on.
    pub exposure_s: f64,
    /// From mark to mark, light off: jumps, turns, run-ins and run-outs.
    pub jumps_s: f64,
    /// Standing still until the mirrors have settled.
    pub settling_s: f64,
    /// Waiting because a layer must not be shorter.
    pub waiting_s: f64,
    /// After the last layer.
    pub cooling_s: f64,
}

impl BuildTime {
    /// Of a whole build with these layers; nothing where there is no layer.
    pub fn of(machine: &Machine, layers: impl IntoIterator<Item = LayerTime>) -> Self {
        let mut sum = Self::default();
        let mut is_empty = true;
        for layer in layers {
            is_empty = false;
            sum.add_layer(machine, layer);
        }
        if !is_empty {
            sum.add_ends(machine);
        }
        sum
    }

    /// Adds what a build takes before its first layer and after its last.
    pub(crate) fn add_ends(&mut self, machine: &Machine) {
        self.warm_up_s += machine.times.warm_up_s;
        self.cooling_s += machine.times.cooling_s;
    }

    /// Adds so many times another.
    pub(crate) fn add(&mut self, other: &Self, times: f64) {
        self.warm_up_s += times * other.warm_up_s;
        self.recoat_s += times * other.recoat_s;
        self.exposure_s += times * other.exposure_s;
        self.jumps_s += times * other.jumps_s;
        self.settling_s += times * other.settling_s;
        self.waiting_s += times * other.waiting_s;
        self.cooling_s += times * other.cooling_s;
    }

    /// Of one layer, spreading included.
    pub fn of_layer(machine: &Machine, layer: LayerTime) -> Self {
        let mut sum = Self::default();
        sum.add_layer(machine, layer);
        sum
    }

    fn add_layer(&mut self, machine: &Machine, layer: LayerTime) {
        let busy_s = machine.recoat_time_s + layer.total_s();
        self.recoat_s += machine.recoat_time_s;
        self.exposure_s += layer.lit_s;
        self.jumps_s += layer.jump_s + layer.run_s;
        self.settling_s += layer.wait_s;
        self.waiting_s += (machine.times.min_layer_s - busy_s).max(0.0);
    }

    /// What the time until the last layer is done goes into, s, each part with its name.
    pub fn parts(&self) -> [(&'static str, f64); 6] {
        [
            ("warm-up", self.warm_up_s),
            ("spreading", self.recoat_s),
            ("light on", self.exposure_s),
            ("jumps", self.jumps_s),
            ("settling", self.settling_s),
            ("waiting for a layer's time", self.waiting_s),
        ]
    }

    /// The beam alone, s.
    pub fn beam_s(&self) -> f64 {
        self.exposure_s + self.jumps_s + self.settling_s
    }

    /// Until the last layer is done, s: without cooling.
    pub fn until_done_s(&self) -> f64 {
        self.warm_up_s + self.recoat_s + self.beam_s() + self.waiting_s
    }

    /// All of it, s.
    pub fn total_s(&self) -> f64 {
        self.until_done_s() + self.cooling_s
    }
}
